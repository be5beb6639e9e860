"""What is read off one firing end, and off one photograph."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from firingend.photo.picture import Quality

Box = tuple[float, float, float, float]
"""(x0, y0, x1, y1) in pixels of the upright photograph at full scale."""


def longer_side(box: Box) -> float:
    """Longer side of a box, which is what the size of a firing end is stated by; in the box's pixels."""
    return max(box[2] - box[0], box[3] - box[1])


@dataclass(frozen=True, slots=True)
class FiringEnd:
    """Where a firing end was found.

    Attributes
    ----------
    box
        Around strap, electrode, nose, rim and about 3.5 mm of thread.
    axis
        (dx, dy): the direction, in the picture, from the shell out past the strap; x right, y down. Its length
        is the sine of the angle between plug axis and line of sight: 0 looking straight at the end, 1 side on.
    score
        The finder's own confidence in 0..1.
    """

    box: Box
    axis: tuple[float, float]
    score: float


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a reading was refused or should be doubted, and what to do about it."""

    code: str
    text: str
    remedy: str


Lab = tuple[float, float, float]
"""CIELAB (D65) L*, a*, b*."""

Outline = tuple[tuple[float, float], ...]
"""Corners (x, y) of a polygon in pixels of the upright photograph at full scale; the last joins the first."""


@dataclass(frozen=True, slots=True)
class Zone:
    """One part of a firing end: where it is and what colour.

    Attributes
    ----------
    part
        One of ``labels.PARTS``.
    outlines
        A polygon for every patch of it that shows, largest first.
    share
        Share of the plug's visible area in the crop that is this part, 0..1.
    lab
        Median colour after neutral balance; None when glare hides it.
    neutral, neutral_sure
        What was taken for neutral, in words, and how sure that is in 0..1.
    """

    part: str
    outlines: tuple[Outline, ...]
    share: float
    lab: Lab | None
    neutral: str
    neutral_sure: float


@dataclass(frozen=True, slots=True)
class Reading:
    """What one firing end shows.

    Attributes
    ----------
    firing_end
        Where it is; None for a label typed in by hand.
    label
        One of ``labels.LABELS`` or ``labels.UNREADABLE``.
    probabilities
        Calibrated probability of each of the five labels, summing to 1, also when ``label`` is unreadable.
    prior
        How common each label was taken to be behind ``probabilities``; whoever uses them as evidence divides
        it out again. Empty means five equal fifths.
    reasons
        Why it is unreadable or doubtful; empty for a plain reading.
    ceramic, surface
        Probabilities of the two facts behind the label (``labels.CERAMIC``, ``labels.SURFACE``); may be empty.
    unused, not_a_plug
        Probability that the plug never ran; that the thing in the box is no firing end.
    signs
        Probability of each sign in ``labels.SIGNS``; may be empty.
    quality
        Measures of the crop the reading was made on; None for a label typed in by hand.
    zones
        Parts that can be made out; empty for a label typed in by hand.
    severity
        How far soot or deposit climbs, 0..1, from the nose over the rim to the threads; None when not judged.
    cover
        Share of each of ``labels.COVERED_PARTS`` that a deposit covers, 0..1; empty when not judged.
    label_set
        Labels it could be, likeliest first, that together hold the right one 98 times in 100 (or as often as the
        reader was asked for) on pictures like those calibrated on; empty when the reader's file states no limit.
    """

    firing_end: FiringEnd | None
    label: str
    probabilities: Mapping[str, float]
    reasons: tuple[Reason, ...] = ()
    prior: Mapping[str, float] = field(default_factory=dict)
    ceramic: Mapping[str, float] = field(default_factory=dict)
    surface: Mapping[str, float] = field(default_factory=dict)
    unused: float = 0.0
    not_a_plug: float = 0.0
    signs: Mapping[str, float] = field(default_factory=dict)
    quality: Quality | None = None
    zones: tuple[Zone, ...] = ()
    severity: float | None = None
    cover: Mapping[str, float] = field(default_factory=dict)
    label_set: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PhotoReading:
    """Every firing end found in one photograph, in row order (left to right, or top to bottom).

    Attributes
    ----------
    file
        The photograph.
    width, height
        Of the photograph upright and at full scale, px.
    quality
        Measures of the whole photograph.
    readings
        One for each firing end.
    reasons
        Why there are no readings; empty where there are any.
    left_out
        Readings of what was found but taken for no firing end, the one the finder is surest of first.
    """

    file: Path
    width: int
    height: int
    quality: Quality
    readings: tuple[Reading, ...]
    reasons: tuple[Reason, ...] = ()
    left_out: tuple[Reading, ...] = ()
