"""Which finds a photograph's reading keeps: finder and reader together say what is a firing end.

The finder is told to bring too much rather than too little. What it is unsure of stays only where the reader holds it
for a plug; the rest is left out of the readings, where it would shift the row and take the place of a cylinder.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, inf
from statistics import median
from typing import Final

from firingend.labels import UNREADABLE
from firingend.reading.networks import Keeping
from firingend.reading.reading import Reading, longer_side
from firingend.reading.row_order import fits_row, row_order

_NEAREST: Final = 0.95
"""Distance of two firing ends in boxes of the larger below which their hexagons would not fit beside each other."""

_RATHER_A_PLUG: Final = 0.5
"""Probability of being no plug up to which a find counts among those that others are measured against."""


def kept_and_left_out(readings: Sequence[Reading], rules: Keeping) -> tuple[tuple[Reading, ...], tuple[Reading, ...]]:
    """Part the readings of one photograph into those that stay and those that are left out.

    1. Where a plug was read, whatever is surely none is left out: coils and bolts beside it.
    2. Where nothing was read, every find is surely no plug and the finder is sure of none either, all are left out:
       the photograph shows other parts.
    3. A weak find is left out unless the reader is sure that it is a plug, or it has the size of three or more others
       in a row and lies where one more of them would.
    4. A find that is somewhat weak is left out where its size is out of keeping with the plugs beside it.
    5. Of two finds nearer to each other than two plugs can lie the likelier plug stays; the other is left out if it is
       rather none and the finder is not sure of it.

    A find that was given a label stays, but for rule 1.

    Parameters
    ----------
    readings
        One for each find.
    rules
        What is weak, sure and out of keeping.

    Returns
    -------
    Those that stay, in row order, and those left out, the one the finder is surest of first.
    """
    if any(reading.label != UNREADABLE for reading in readings):
        staying = [reading for reading in readings if reading.not_a_plug <= rules.surely_no_plug]
    elif all(_surely_nothing(reading, rules) for reading in readings):
        staying = []
    else:
        staying = list(readings)
    staying = [reading for reading in staying if not _crowds(reading, staying, rules)]
    usual = _usual_size(staying, rules)
    possible = [r for r in staying if r.label != UNREADABLE or not _odd_size(r, usual, rules)]
    staying = [r for r in possible if r.label != UNREADABLE or not _doubtful(r, rules)]
    staying += _of_the_row([r for r in possible if not any(r is other for other in staying)], staying, rules)
    left_out = [reading for reading in readings if not any(reading is other for other in staying)]
    return _in_row_order(staying), tuple(sorted(left_out, key=_score, reverse=True))


def with_left_out(kept: Sequence[Reading], left_out: Sequence[Reading]) -> tuple[Reading, ...]:
    """Every find of a photograph, in row order: what the finder alone would have said."""
    return _in_row_order((*kept, *left_out))


def _surely_nothing(reading: Reading, rules: Keeping) -> bool:
    return reading.not_a_plug > rules.surely_no_plug and _score(reading) < rules.sure_score


def _crowds(reading: Reading, others: Sequence[Reading], rules: Keeping) -> bool:
    """Whether this is rather no plug and another find, a likelier one, lies nearer than two plugs can lie."""
    if reading.label != UNREADABLE or reading.not_a_plug <= _RATHER_A_PLUG or _score(reading) >= rules.sure_score:
        return False
    return any(
        _apart(reading, other) < _NEAREST * max(_size(reading), _size(other))
        for other in others
        if other is not reading and _likelier(other, reading)
    )


def _likelier(one: Reading, other: Reading) -> bool:
    return (round(one.not_a_plug, 2), -_score(one)) < (round(other.not_a_plug, 2), -_score(other))


def _apart(one: Reading, other: Reading) -> float:
    """Distance of the centres of two finds, px; infinite for readings without a box."""
    if not one.firing_end or not other.firing_end:
        return inf
    (ax0, ay0, ax1, ay1), (bx0, by0, bx1, by1) = one.firing_end.box, other.firing_end.box
    return hypot(ax0 + ax1 - bx0 - bx1, ay0 + ay1 - by0 - by1) / 2


def _doubtful(reading: Reading, rules: Keeping) -> bool:
    return _score(reading) < rules.weak_score and reading.not_a_plug > rules.weak_no_plug


def _odd_size(reading: Reading, usual: float | None, rules: Keeping) -> bool:
    if usual is None or _score(reading) >= rules.odd_score:
        return False
    return not _alike(_size(reading), usual, rules)


def _alike(size: float, other: float, rules: Keeping) -> bool:
    return other > 0 and 1 / rules.odd_size <= size / other <= rules.odd_size


def _of_the_row(weak: Sequence[Reading], staying: Sequence[Reading], rules: Keeping) -> list[Reading]:
    """Those weak finds that lie in the row of the staying ones and are as large: dark or blurred ends of it."""
    row = [reading.firing_end.box for reading in staying if reading.firing_end]
    return [
        reading
        for reading in weak
        if reading.firing_end
        and fits_row(reading.firing_end.box, row)
        and _alike(_size(reading), median(_size(other) for other in staying), rules)
    ]


def _usual_size(readings: Sequence[Reading], rules: Keeping) -> float | None:
    """Longer side, px, of the plugs nobody doubts; None where there are none."""
    sizes = [_size(r) for r in readings if _score(r) >= rules.odd_score and r.not_a_plug <= _RATHER_A_PLUG]
    return median(sizes) if sizes else None


def _in_row_order(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    boxes = [reading.firing_end.box for reading in readings if reading.firing_end]
    if len(boxes) < len(readings):
        return tuple(readings)
    return tuple(readings[i] for i in row_order(boxes))


def _score(reading: Reading) -> float:
    return reading.firing_end.score if reading.firing_end else 1.0


def _size(reading: Reading) -> float:
    return longer_side(reading.firing_end.box) if reading.firing_end else 0.0
