"""Read what firing ends show, and read a whole photograph from the file to the labels."""

from __future__ import annotations

import os
import threading
from collections.abc import Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass, fields, replace
from functools import cache, cached_property
from os import PathLike
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firingend.errors import UserError
from firingend.labels import CERAMIC, COVERED_PARTS, LABELS, SIGNS, SURFACE, UNREADABLE
from firingend.photo.load import load_finer, load_unmeasured, reduction_for, rows_to_decode
from firingend.photo.picture import Picture, Quality
from firingend.photo.quality import measure
from firingend.reading.abstention import (
    doubtful_find,
    doubts_of_crop,
    no_end_reasons,
    status_reasons,
    too_small,
    unsure,
)
from firingend.reading.conformal import label_set
from firingend.reading.crop import crop_reach, crop_side, upright_crop
from firingend.reading.finder import Finder, Fitted
from firingend.reading.keeping import kept_and_left_out
from firingend.reading.networks import ColourSay, Network, ReaderCard, normalise, read_card
from firingend.reading.nose_colour import ceramic_by_colour, with_colour
from firingend.reading.parts import zones_of
from firingend.reading.probabilities import Floats, combine, sigmoid, softmax
from firingend.reading.reading import Box, FiringEnd, PhotoReading, Reading, Zone
from firingend.reading.zone_colour import Neutral, estimated_neutral, part_lab, patch_neutral
from firingend.shipped import models_dir

STATUS: Final = ("used", "unused", "not-a-plug")
"""Order of the reader's ``status`` output."""

_ENLARGE: Final = 1.1
"""How much a decoded picture may be enlarged, for the finder or for a crop, before a finer decode is worth it:
an eighth of a usual 12-megapixel photograph is 500 px long, a hair short of what the finder wants."""

_FINEST_SIDE: Final = 6000
"""Long side, px, beyond which no finer decode is asked for: a speck taken for a firing end in a 200-megapixel
photograph must not cost a gigabyte of memory."""

_GUESS: Final = 1.05
"""How much larger than the glance shows them firing ends are taken to be. Set when a guess a step too fine cost a
second decode, as one too coarse still does."""

_AT_A_TIME: Final = 4
"""Crops the network looks at together: two take it 8 % less time each than one, four 10 %."""

_ROOM: Final = 1.5
"""How much more than the crops at the glance's firing ends is decoded, in case the look finds them elsewhere. Of 251
rendered rows whose ends the glance shows, 5.6 % then need a second decode, and 4.4 % at 2.0, where the first takes
longer than the look beside it."""

SET_MISS: Final = 0.02
"""Share of label sets that may miss the right label unless another is asked for: the error stated for labels too."""


@dataclass(frozen=True, slots=True)
class ReaderOutput:
    """What the reader network says about n crops, as probabilities.

    ``labels`` (n, 5), ``ceramic`` (n, 3), ``surface`` (n, 3) and ``status`` (n, 3) have rows that sum to 1;
    ``signs`` (n, 7) stand each for itself; ``severity`` (n,) and ``cover`` (n, 5) in 0..1; ``parts`` (n, 7, S/4, S/4)
    are raw logits.
    """

    labels: Floats
    ceramic: Floats
    surface: Floats
    status: Floats
    signs: Floats
    severity: Floats
    cover: Floats
    parts: NDArray[np.float32]

    def singly(self) -> list[ReaderOutput]:
        """What it says about each of the crops alone."""
        arrays = [getattr(self, field.name) for field in fields(self)]
        return [ReaderOutput(*(array[i : i + 1] for array in arrays)) for i in range(len(self.labels))]


class Reader:
    """The reader network; opened on first use.

    Parameters
    ----------
    folder
        Where ``reader.onnx`` and ``reader.json`` lie; the shipped ones by default.
    threads
        CPU threads; None takes ``FIRINGEND_THREADS``, or 1.
    set_miss
        Share of the label sets that may miss the right label; one that ``reader.json`` states a limit for. None takes
        0.02, or the smallest stated.
    """

    def __init__(self, folder: Path | None = None, threads: int | None = None, set_miss: float | None = None) -> None:
        self._folder = folder or models_dir()
        self._threads = threads
        self._set_miss = set_miss

    @cached_property
    def card(self) -> ReaderCard:
        """Settings from ``reader.json``."""
        return read_card(self._folder / "reader.json", ReaderCard)

    @cached_property
    def set_limit(self) -> float | None:
        """Limit of the label sets (`conformal.label_set`); None where the networks state none at all.

        Raises
        ------
        UserError
            When it is asked for a share they state no limit for.
        """
        stated = {float(miss): limit for miss, limit in self.card.conformal.items()}
        if self._set_miss is None:
            return stated.get(SET_MISS if SET_MISS in stated else min(stated, default=SET_MISS))
        if self._set_miss not in stated:
            known = ", ".join(f"{miss:g}" for miss in sorted(stated))
            raise UserError(
                f"the networks state no limit for label sets of which {self._set_miss:g} miss the right label",
                f"choose one of {known}" if known else "take networks that do, such as the shipped ones",
            )
        return stated[self._set_miss]

    @cached_property
    def _network(self) -> Network:
        return Network(self._folder / "reader.onnx", self.card.sha256, self._threads)

    def open(self) -> None:
        """Open the network now: two threads that read at once would each open it."""
        _ = self._network

    def crop(self, picture: Picture, end: FiringEnd) -> NDArray[np.uint8]:
        """The upright crop (S, S, 3) of a firing end, as the network wants it."""
        x0, y0, x1, y1 = (side * picture.scale for side in end.box)
        return upright_crop(picture.decoded, (x0, y0, x1, y1), end.axis, self.card.input_size, self.card.crop_margin)

    def scale_for(self, ends: Sequence[FiringEnd]) -> float:
        """Scale of the photograph, up to 1, at which no crop of these ends need be enlarged."""
        smallest = min(crop_side(end.box, self.card.crop_margin) for end in ends)
        return min(1.0, self.card.input_size / smallest)

    def reach(self, ends: Sequence[FiringEnd], larger: float = 1.0) -> Box:
        """The part of the full-scale photograph that the crops of these ends, made ``larger``, are cut from."""
        margin = self.card.crop_margin * larger
        reaches = np.array([crop_reach(end.box, end.axis, self.card.input_size, margin) for end in ends])
        (x0, y0), (x1, y1) = reaches[:, :2].min(axis=0).tolist(), reaches[:, 2:].max(axis=0).tolist()
        return x0, y0, x1, y1

    def read(self, crops: NDArray[np.uint8]) -> ReaderOutput:
        """Probabilities for crops (n, S, S, 3) uint8."""
        settings = self.card.calibration()
        raw = self._network.run(crops=normalise(crops))
        return ReaderOutput(
            labels=combine(raw["five"], raw["ceramic"], raw["surface"], settings),
            ceramic=softmax(raw["ceramic"], settings.temperature("ceramic")),
            surface=softmax(raw["surface"], settings.temperature("surface")),
            status=softmax(raw["status"], settings.temperature("status")),
            signs=sigmoid(raw["signs"], settings.temperature("signs")),
            severity=sigmoid(raw["severity"], settings.temperature("severity"))[:, 0],
            cover=sigmoid(raw["cover"], settings.temperature("cover")),
            parts=raw["parts"],
        )


def read_photo(
    path: str | PathLike[str],
    *,
    finder: Finder | None = None,
    reader: Reader | None = None,
    grey: Box | None = None,
) -> PhotoReading:
    """Read every firing end in a photograph.

    Parameters
    ----------
    path
        A photograph; see `photo.load.load_picture` for what may be in it.
    finder, reader
        The networks; the shipped ones by default, opened once and kept.
    grey
        Where something grey lies, in pixels of the upright photograph at full scale: the colours of the parts are
        balanced by it. Without one the neutral is estimated from the picture.

    Returns
    -------
    PhotoReading
        Readings in row order. A firing end that cannot be trusted is ``unreadable`` and says why; a photograph
        without any has no readings and says why itself.

    Raises
    ------
    PhotoError
        When the file is no photograph that can be read.
    UserError
        When a network is missing or damaged.
    """
    finder, reader = finder or shipped_finder(), reader or shipped_reader()
    picture = load_unmeasured(path, min_side=int(finder.card.long_side / _ENLARGE))
    fitted = finder.fitted_to_glance(picture)  # before another thread wants the interpreter as well
    # Decoding and measuring go on in one other thread beside the finder; of several firing ends it reads half.
    beside = _beside()
    light = beside.submit(_light_of, picture, grey)
    ends, picture = _found(picture, fitted, finder, reader, beside)
    quality, neutral = light.result()
    picture = replace(picture, quality=quality)
    readings = _read_ends(picture, ends, reader, neutral, beside)
    return _photo_reading(picture, *kept_and_left_out(readings, finder.card.keeping))


_others = threading.local()


def _beside() -> Executor:
    """The other thread of the one that asks; kept from photograph to photograph, since starting one delays reading."""
    if getattr(_others, "process", None) != os.getpid():  # a forked process has the executor, but not its thread
        _others.process, _others.executor = os.getpid(), ThreadPoolExecutor(max_workers=1)
    executor: Executor = _others.executor
    return executor


def _light_of(picture: Picture, grey: Box | None) -> tuple[Quality, Neutral]:
    """Measures of a photograph, and its neutral."""
    return measure(picture.decoded), _neutral_of(picture, grey)


def _neutral_of(picture: Picture, grey: Box | None) -> Neutral:
    """The neutral by what is grey; estimated without."""
    if grey is None:
        return estimated_neutral(picture.pixels)
    (left, top), (right, bottom) = (
        np.floor(np.multiply(grey[:2], picture.scale)),
        np.ceil(np.multiply(grey[2:], picture.scale)),
    )
    return patch_neutral(picture.pixels, (int(left), int(top), int(right), int(bottom)))


def _found(
    picture: Picture, fitted: Fitted | None, finder: Finder, reader: Reader, beside: Executor
) -> tuple[list[FiringEnd], Picture]:
    """The firing ends in a photograph, and the picture of it as fine as their crops need.

    Where a glance does not do, the finer decode that its finds call for begins beside the proper look. It serves
    where it is as fine as that look calls for, or a step finer: crops shrink what they are cut from, and a second
    decode would take longer than the rest of the first. Otherwise it is left alone.
    """
    full_size = (picture.full_width, picture.full_height)
    ends, enough = finder.glance(picture, fitted)
    expected = None if enough else _finer_side(picture, finder.firm(ends), reader, _GUESS)
    room = reader.reach(finder.firm(ends), _ROOM) if expected else None
    begun = beside.submit(load_finer, picture, expected, room) if expected else None
    if not enough:
        ends = finder.look(picture)
    needed = _finer_side(picture, finder.firm(ends) or ends, reader)
    if not needed:
        return ends, picture
    within = reader.reach(ends)
    begun_by, needed_by = reduction_for(full_size, expected), reduction_for(full_size, needed)
    serves = begun_by in (needed_by, needed_by / 2)
    if begun and room and serves and rows_to_decode(picture, within) <= rows_to_decode(picture, room):
        return ends, begun.result()
    return ends, load_finer(picture, needed, within)


def _finer_side(picture: Picture, ends: Sequence[FiringEnd], reader: Reader, larger: float = 1.0) -> int | None:
    """Long side, px, of the decode that the crops of these ends need; None when this one will do.

    ``larger`` is how many times larger the ends may prove to be.
    """
    scale = reader.scale_for(ends) / larger if ends else 0.0
    if scale <= picture.scale * _ENLARGE:
        return None
    return min(int(scale / _ENLARGE * max(picture.full_width, picture.full_height)), _FINEST_SIDE)


def _read_ends(
    picture: Picture, ends: Sequence[FiringEnd], reader: Reader, neutral: Neutral, beside: Executor
) -> list[Reading]:
    """Readings of some firing ends; of several, half are read in the second thread and come behind the others.

    Two threads that are both in Python wait for each other. So this one has the network look at all its ends first,
    at several at a time, and judges them while the network looks in the other.
    """
    if len(ends) < 2:
        return [_read_end(picture, end, reader, neutral, beside) for end in ends]
    reader.open()
    others = [beside.submit(_read_end, picture, end, reader, neutral) for end in ends[1::2]]
    crops = [reader.crop(picture, end) for end in ends[::2]]
    portions = [np.stack(crops[i : i + _AT_A_TIME]) for i in range(0, len(crops), _AT_A_TIME)]
    outputs = [output for portion in portions for output in reader.read(portion).singly()]
    readings = [
        _reading(end, crop, _measured(crop, picture), output, picture.quality, reader, neutral)
        for end, crop, output in zip(ends[::2], crops, outputs, strict=True)
    ]
    return readings + [other.result() for other in others]


def _read_end(
    picture: Picture, end: FiringEnd, reader: Reader, neutral: Neutral, beside: Executor | None = None
) -> Reading:
    """The reading of one firing end; its crop is measured ``beside`` the network, where there is a thread to spare."""
    crop = reader.crop(picture, end)
    measured = beside.submit(_measured, crop, picture) if beside else None
    output = reader.read(crop[None])
    quality = measured.result() if measured else _measured(crop, picture)
    return _reading(end, crop, quality, output, picture.quality, reader, neutral)


def _measured(crop: NDArray[np.uint8], picture: Picture) -> Quality:
    """Measures of a crop, which lies in the light of its photograph."""
    return measure(crop, cast=picture.quality.cast_degrees)


def _reading(
    end: FiringEnd,
    crop: NDArray[np.uint8],
    quality: Quality,
    output: ReaderOutput,
    photo_quality: Quality,
    reader: Reader,
    neutral: Neutral,
) -> Reading:
    """What the network said about one crop as a reading, refused with reasons where it cannot be trusted."""
    card, thresholds = reader.card, reader.card.thresholds
    parts = output.parts[0].argmax(axis=0)
    zones = zones_of(crop, parts, end, card.crop_margin, neutral)
    by_colour = _ceramic_by_colour(zones, card.colour)
    weighed = with_colour(output.labels[0], by_colour, card.colour.weight) if card.colour else output.labels[0]
    probabilities = _named(LABELS, weighed)
    _, unused, not_a_plug = (float(p) for p in output.status[0])
    reasons = (
        *status_reasons(unused, not_a_plug, thresholds),
        *doubtful_find(end, not_a_plug, thresholds),
        *too_small(end, max(probabilities.values()), thresholds),
        *doubts_of_crop(crop, parts, quality, photo_quality, thresholds),
    )
    reasons = reasons or unsure(probabilities, thresholds, _named(CERAMIC, by_colour))
    return Reading(
        firing_end=end,
        label=UNREADABLE if reasons else max(LABELS, key=lambda label: probabilities[label]),
        probabilities=probabilities,
        reasons=reasons,
        prior=dict(card.prior),
        ceramic=_named(CERAMIC, output.ceramic[0]),
        surface=_named(SURFACE, output.surface[0]),
        unused=unused,
        not_a_plug=not_a_plug,
        signs=_named(SIGNS, output.signs[0]),
        quality=quality,
        zones=zones,
        severity=float(output.severity[0]),
        cover=_named(COVERED_PARTS, output.cover[0]),
        label_set=label_set(probabilities, reader.set_limit) if reader.set_limit is not None else (),
    )


def _ceramic_by_colour(zones: Sequence[Zone], say: ColourSay | None) -> Floats:
    """What the nose's measured colour says the ceramic carries (3,); even where none was measured."""
    lab = part_lab(zones)
    if say is None or lab is None:
        return np.full(len(CERAMIC), 1 / len(CERAMIC))
    return ceramic_by_colour(lab, say.coefficients)


def _named(names: Sequence[str], values: Floats) -> dict[str, float]:
    return {name: float(value) for name, value in zip(names, values, strict=True)}


def _photo_reading(picture: Picture, readings: tuple[Reading, ...], left_out: tuple[Reading, ...]) -> PhotoReading:
    return PhotoReading(
        file=picture.file,
        width=picture.full_width,
        height=picture.full_height,
        quality=picture.quality,
        readings=readings,
        reasons=() if readings else no_end_reasons(picture.quality, left_out),
        left_out=left_out,
    )


@cache
def shipped_finder() -> Finder:
    """The finder that ships with the program, kept between photographs."""
    return Finder()


@cache
def shipped_reader() -> Reader:
    """The reader that ships with the program, kept between photographs."""
    return Reader()
