"""Hold what was read in a photograph against what is in it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from firingend.evaluation.photo_set import NOT_A_PLUG, Nuisance, TruePicture, TruePlug
from firingend.labels import LABELS, UNREADABLE
from firingend.reading.finder import overlap
from firingend.reading.keeping import with_left_out
from firingend.reading.reading import Box, PhotoReading, Reading, longer_side
from firingend.reading.row_order import is_one_row

NOT_FOUND: Final = "not-found"
"""What is said of a plug that the finder missed."""

LEAST_OVERLAP: Final = 0.4
"""Intersection over union from which a found box is that of a true one; its centre inside the true box will also do."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What was said of one plug, or of a photograph without any.

    Attributes
    ----------
    file, group
        The photograph and its engine or scene.
    truth
        One of ``photo_set.TRUTHS``.
    said
        A label, ``unreadable``, or ``not-found``.
    readable
        Whether anybody could have read it.
    reading
        What it rests on; None when nothing was found.
    box
        True box, else the found one, else None; px of the photograph.
    nuisance
        What is known of plug and photograph, given or measured.
    """

    file: Path
    group: str
    truth: str
    said: str
    readable: bool
    reading: Reading | None
    box: Box | None
    nuisance: Nuisance = field(default_factory=dict)

    @property
    def answered(self) -> bool:
        """Whether a label was given."""
        return self.said in LABELS

    @property
    def confidence(self) -> float:
        """Probability of the likeliest label, 0 where nothing was found."""
        return max(self.reading.probabilities.values()) if self.reading else 0.0


@dataclass(frozen=True, slots=True)
class Finds:
    """What the finder made of one photograph.

    Attributes
    ----------
    group
        Engine or scene.
    plugs
        True plugs whose box is known.
    found
        How many of them were found.
    extra, extra_labelled
        Firing ends found where none is; those of them that were even given a label.
    in_order
        Whether the found plugs come in row order.
    one_row
        Whether the true plugs lie in one row: the truth of several says little about their order.
    visible, found_visible
        True plugs that a person could make out; how many of them were found.
    """

    group: str
    plugs: int
    found: int
    extra: int
    extra_labelled: int
    in_order: bool
    one_row: bool
    visible: int
    found_visible: int


@dataclass(frozen=True, slots=True)
class Judged:
    """One photograph, judged.

    Attributes
    ----------
    answers
        One a plug, or one for a photograph without any.
    finds
        What was found, as it is read; None when the set does not say where the plugs are.
    before_keeping
        The same with everything that was left out of the readings: what the finder alone would have said.
    """

    answers: tuple[Answer, ...]
    finds: Finds | None
    before_keeping: Finds | None = None


def judge(truth: TruePicture, photo: PhotoReading | None) -> Judged:
    """Judge one photograph.

    With boxes, every true plug is paired with the found one that overlaps it. Without, the best-scored firing end
    answers for a single plug; for several, the found ones answer in row order if they are as many.

    Parameters
    ----------
    photo
        What was read; None when the file could not be read, which counts as nothing found.
    """
    readings = photo.readings if photo else ()
    everything = with_left_out(readings, photo.left_out) if photo else ()
    if not truth.boxes_known:
        pairs = _pairs_without_boxes(len(truth.plugs), readings)
        return Judged(_answers(truth, readings, pairs), None)
    pairs = _pairs(truth, readings)
    answers = _answers(truth, readings, pairs) or (_answer(truth, None, _most_plug_like(readings)),)
    finds, before = _finds(truth, readings, pairs), _finds(truth, everything, _pairs(truth, everything))
    return Judged(answers, finds, before)


def match(found: Sequence[Box], true: Sequence[Box]) -> dict[int, int]:
    """Pair found boxes with true ones, the closest first, each at most once.

    Returns
    -------
    dict
        Index of the found box by index of the true one.

    Examples
    --------
    >>> match([(0, 0, 10, 10), (50, 50, 60, 60)], [(51, 51, 61, 61), (200, 0, 210, 10)])
    {0: 1}
    """
    candidates = []
    for i, mine in enumerate(found):
        for j, theirs in enumerate(true):
            iou, apart = overlap(mine, theirs), math.dist(_centre(mine), _centre(theirs))
            if iou >= LEAST_OVERLAP or _inside(_centre(mine), theirs):
                candidates.append((-iou, apart, i, j))
    pairs: dict[int, int] = {}
    for _, _, i, j in sorted(candidates):
        if j not in pairs and i not in pairs.values():
            pairs[j] = i
    return pairs


def _pairs(truth: TruePicture, readings: Sequence[Reading]) -> dict[int, int]:
    return match([_box(reading) for reading in readings], [plug.box for plug in truth.plugs if plug.box is not None])


def _pairs_without_boxes(plugs: int, readings: Sequence[Reading]) -> dict[int, int]:
    if plugs == 1 and readings:
        return {0: max(range(len(readings)), key=lambda i: _score(readings[i]))}
    return {i: i for i in range(plugs)} if plugs == len(readings) else {}


def _answers(truth: TruePicture, readings: Sequence[Reading], pairs: Mapping[int, int]) -> tuple[Answer, ...]:
    return tuple(_answer(truth, plug, readings[pairs[j]] if j in pairs else None) for j, plug in enumerate(truth.plugs))


def _answer(picture: TruePicture, plug: TruePlug | None, reading: Reading | None) -> Answer:
    found_box = _box(reading) if reading else None
    box = (plug.box if plug else None) or found_box
    nuisance = {**picture.nuisance, **(plug.nuisance if plug else {}), **_measured(box, reading)}
    nothing = NOT_FOUND if plug else UNREADABLE
    return Answer(
        file=picture.file,
        group=picture.group,
        truth=plug.label if plug else NOT_A_PLUG,
        said=reading.label if reading else nothing,
        readable=plug.readable if plug else True,
        reading=reading,
        box=box,
        nuisance=nuisance,
    )


def _measured(box: Box | None, reading: Reading | None) -> dict[str, float]:
    """Nuisances no set needs to give: they are measured on the photograph."""
    measured = {}
    if box:
        measured["box_px"] = longer_side(box)
    if reading and reading.quality:
        measured["measured focus"] = reading.quality.focus
        measured["measured brightness"] = reading.quality.mean_luma
        measured["measured cast degrees"] = reading.quality.cast_degrees
    return measured


def _finds(truth: TruePicture, readings: Sequence[Reading], pairs: Mapping[int, int]) -> Finds:
    order = [pairs[j] for j in sorted(pairs)]
    extra = [reading for i, reading in enumerate(readings) if i not in order]
    return Finds(
        group=truth.group,
        plugs=len(truth.plugs),
        found=len(order),
        extra=len(extra),
        extra_labelled=sum(reading.label in LABELS for reading in extra),
        in_order=order == sorted(order),
        one_row=is_one_row([plug.box for plug in truth.plugs if plug.box is not None]),
        visible=sum(plug.visible for plug in truth.plugs),
        found_visible=sum(truth.plugs[j].visible for j in pairs),
    )


def _most_plug_like(readings: Sequence[Reading]) -> Reading | None:
    """The reading that does most harm on a photograph without a plug: one with a label before one refused."""
    return max(readings, key=lambda r: (r.label in LABELS, _score(r)), default=None)


def _score(reading: Reading) -> float:
    return reading.firing_end.score if reading.firing_end else 0.0


def _box(reading: Reading) -> Box:
    return reading.firing_end.box if reading.firing_end else (0.0, 0.0, 0.0, 0.0)


def _centre(box: Box) -> tuple[float, float]:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def _inside(point: tuple[float, float], box: Box) -> bool:
    return box[0] <= point[0] <= box[2] and box[1] <= point[1] <= box[3]
