"""Read what firing ends show, and read a whole photograph from the file to the labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from os import PathLike
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firingend.labels import CERAMIC, LABELS, SIGNS, SURFACE, UNREADABLE
from firingend.photo.load import load_finer, load_picture
from firingend.photo.picture import Picture, Quality
from firingend.photo.quality import measure
from firingend.reading.abstention import doubts_of_crop, no_end_reasons, status_reasons, too_small, unsure
from firingend.reading.conformal import label_set
from firingend.reading.crop import crop_side, upright_crop
from firingend.reading.finder import Finder
from firingend.reading.networks import Network, ReaderCard, Thresholds, normalise, read_card
from firingend.reading.parts import zones_of
from firingend.reading.probabilities import Floats, combine, sigmoid, softmax
from firingend.reading.reading import FiringEnd, PhotoReading, Reading
from firingend.reading.zone_colour import Neutral, estimated_neutral
from firingend.shipped import models_dir

STATUS: Final = ("used", "unused", "not-a-plug")
"""Order of the reader's ``status`` output."""

_ENLARGE: Final = 1.1
"""How much a decoded picture may be enlarged, for the finder or for a crop, before a finer decode is worth it:
an eighth of a usual 12-megapixel photograph is 500 px long, a hair short of what the finder wants."""

_FINEST_SIDE: Final = 6000
"""Long side, px, beyond which no finer decode is asked for: a speck taken for a firing end in a 200-megapixel
photograph must not cost a gigabyte of memory."""

SET_MISS: Final = "0.1"
"""Share of label sets that may miss the right label."""

_SURELY_NO_PLUG: Final = 0.95
"""Probability from which a thing beside plugs is left out of the readings."""

_AT_ONCE: Final = 8
"""Crops read in one go; bounds memory on a photograph full of plugs."""


@dataclass(frozen=True, slots=True)
class ReaderOutput:
    """What the reader network says about n crops, as probabilities.

    ``labels`` (n, 5), ``ceramic`` (n, 3), ``surface`` (n, 3) and ``status`` (n, 3) have rows that sum to 1;
    ``signs`` (n, 7) stand each for itself; ``severity`` (n,) in 0..1; ``parts`` (n, 7, S/4, S/4) are raw logits.
    """

    labels: Floats
    ceramic: Floats
    surface: Floats
    status: Floats
    signs: Floats
    severity: Floats
    parts: NDArray[np.float32]


class Reader:
    """The reader network; opened on first use.

    Parameters
    ----------
    folder
        Where ``reader.onnx`` and ``reader.json`` lie; the shipped ones by default.
    threads
        CPU threads; None takes ``FIRINGEND_THREADS``, or 1.
    """

    def __init__(self, folder: Path | None = None, threads: int | None = None) -> None:
        self._folder = folder or models_dir()
        self._threads = threads

    @cached_property
    def card(self) -> ReaderCard:
        """Settings from ``reader.json``."""
        return read_card(self._folder / "reader.json", ReaderCard)

    @cached_property
    def _network(self) -> Network:
        return Network(self._folder / "reader.onnx", self.card.sha256, self._threads)

    def crop(self, picture: Picture, end: FiringEnd) -> NDArray[np.uint8]:
        """The upright crop (S, S, 3) of a firing end, as the network wants it."""
        x0, y0, x1, y1 = (side * picture.scale for side in end.box)
        return upright_crop(picture.pixels, (x0, y0, x1, y1), end.axis, self.card.input_size, self.card.crop_margin)

    def scale_for(self, ends: Sequence[FiringEnd]) -> float:
        """Scale of the photograph, up to 1, at which no crop of these ends need be enlarged."""
        smallest = min(crop_side(end.box, self.card.crop_margin) for end in ends)
        return min(1.0, self.card.input_size / smallest)

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
            parts=raw["parts"],
        )


def read_photo(
    path: str | PathLike[str], *, finder: Finder | None = None, reader: Reader | None = None
) -> PhotoReading:
    """Read every firing end in a photograph.

    Parameters
    ----------
    path
        A photograph; see `photo.load.load_picture` for what may be in it.
    finder, reader
        The networks; the shipped ones by default, opened once and kept.

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
    picture = load_picture(path, min_side=int(finder.card.long_side / _ENLARGE))
    ends = finder.find(picture)
    if not ends:
        return _photo_reading(picture, ())
    scale = reader.scale_for(ends)
    if scale > picture.scale * _ENLARGE:
        needed = int(scale / _ENLARGE * max(picture.full_width, picture.full_height))
        picture = load_finer(picture, min(needed, _FINEST_SIDE))
    readings: list[Reading] = []
    neutral = estimated_neutral(picture.pixels)
    for start in range(0, len(ends), _AT_ONCE):
        some = ends[start : start + _AT_ONCE]
        crops = np.stack([reader.crop(picture, end) for end in some])
        readings += readings_of(some, crops, reader.read(crops), picture.quality, reader.card, neutral)
    return _photo_reading(picture, plausible(readings))


def plausible(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Leave out what is surely no plug, where a plug in the same photograph was read."""
    if all(reading.label == UNREADABLE for reading in readings):
        return tuple(readings)
    return tuple(reading for reading in readings if reading.not_a_plug <= _SURELY_NO_PLUG)


def readings_of(
    ends: Sequence[FiringEnd],
    crops: NDArray[np.uint8],
    output: ReaderOutput,
    photo_quality: Quality,
    card: ReaderCard,
    neutral: Neutral | None = None,
) -> list[Reading]:
    """Turn the network's output on the crops of some firing ends into readings, refused ones with reasons.

    Without a ``neutral`` the readings have no zones.
    """
    return [_reading(end, crops[i], output, i, photo_quality, card, neutral) for i, end in enumerate(ends)]


def _reading(
    end: FiringEnd,
    crop: NDArray[np.uint8],
    output: ReaderOutput,
    index: int,
    photo_quality: Quality,
    card: ReaderCard,
    neutral: Neutral | None,
) -> Reading:
    thresholds: Thresholds = card.thresholds
    quality = measure(crop)
    probabilities = _named(LABELS, output.labels[index])
    _, unused, not_a_plug = (float(p) for p in output.status[index])
    reasons = (
        *status_reasons(unused, not_a_plug, thresholds),
        *too_small(end.box, thresholds),
        *doubts_of_crop(crop, output.parts[index], quality, photo_quality, thresholds),
    )
    reasons = reasons or unsure(probabilities, thresholds)
    return Reading(
        firing_end=end,
        label=UNREADABLE if reasons else max(LABELS, key=lambda label: probabilities[label]),
        probabilities=probabilities,
        reasons=reasons,
        prior=dict(card.prior),
        ceramic=_named(CERAMIC, output.ceramic[index]),
        surface=_named(SURFACE, output.surface[index]),
        unused=unused,
        not_a_plug=not_a_plug,
        signs=_named(SIGNS, output.signs[index]),
        quality=quality,
        zones=zones_of(crop, output.parts[index], end, card.crop_margin, neutral) if neutral else (),
        severity=float(output.severity[index]),
        label_set=label_set(probabilities, card.conformal[SET_MISS]) if SET_MISS in card.conformal else (),
    )


def _named(names: Sequence[str], values: Floats) -> dict[str, float]:
    return {name: float(value) for name, value in zip(names, values, strict=True)}


def _photo_reading(picture: Picture, readings: tuple[Reading, ...]) -> PhotoReading:
    return PhotoReading(
        file=picture.file,
        width=picture.full_width,
        height=picture.full_height,
        quality=picture.quality,
        readings=readings,
        reasons=() if readings else no_end_reasons(picture.quality),
    )


@cache
def shipped_finder() -> Finder:
    """The finder that ships with the program, kept between photographs."""
    return Finder()


@cache
def shipped_reader() -> Reader:
    """The reader that ships with the program, kept between photographs."""
    return Reader()
