"""The parts of a firing end as a report shows them: outlines on the cut-out, swatches with their colour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from firingend.comparison.plug_words import PART_WORDS
from firingend.photo.colour import linear_to_srgb
from firingend.reading.reading import Lab, Outline, Reading, Zone
from firingend.report.content import ColourRow, Outlined, Plug, Swatch
from firingend.report.figures import NBSP

LETTERS: Final = {"nose": "N", "centre-electrode": "C", "strap": "S", "rim": "R", "threads": "T"}
"""What stands for each part on a picture; the legend says it in words."""

FAIR: Final = 0.4
SURE: Final = 0.8
"""How sure the neutral is, from which it is called fairly sure and sure; common practice, no source."""

_EDGE: Final = 0.055
"""Distance of a letter's middle from the border of the picture, as a share of its side."""

_APART: Final = 0.1
_LEAST: Final = 0.0004
"""Patches of a part smaller than this share of the picture are not drawn: they would be a blot."""

_D65: Final = (0.95047, 1.0, 1.08883)
_LINEAR_FROM_XYZ: Final = np.linalg.inv(
    np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]])
)  # IEC 61966-2-1


def outlined(reading: Reading, square: tuple[float, float, float]) -> tuple[Outlined, ...]:
    """Outlines of every part on the cut-out, each with the place of its letter beside it.

    Parameters
    ----------
    reading
        The plug; without zones there is nothing to draw.
    square
        Left edge, top edge and side of the cut-out in pixels of the photograph.
    """
    loops = {zone.part: _loops(zone, square) for zone in reading.zones if zone.part in LETTERS}
    anchors = {part: _inside(each[0]) for part, each in loops.items() if each}
    places = _letter_places(anchors)
    return tuple(
        Outlined(LETTERS[part], PART_WORDS[part], loops[part], anchors[part], places[part])
        for part in LETTERS
        if part in anchors
    )


def swatches(reading: Reading) -> tuple[Swatch, ...]:
    """Colour of every part that shows one, the nose first."""
    labs = {zone.part: zone.lab for zone in reading.zones if zone.lab is not None}
    return tuple(
        Swatch(PART_WORDS[part], lab_words(labs[part], "Lab"), lab_words(labs[part]), srgb(labs[part]))
        for part in LETTERS
        if part in labs
    )


def colour_rows(plugs: Sequence[Plug]) -> tuple[ColourRow, ...]:
    """The colours of every part besides the nose, plug by plug."""
    by_part = [{swatch.name: swatch for swatch in plug.swatches} for plug in plugs]
    names = [PART_WORDS[part] for part in LETTERS if part != "nose"]
    rows = (ColourRow(name, tuple(each.get(name) for each in by_part)) for name in names)
    return tuple(row for row in rows if any(row.swatches))


def lab_words(lab: Lab, names: str = "") -> str:
    """A colour as three whole numbers, with a name before each where names are given.

    Examples
    --------
    >>> lab_words((51.4, -0.3, -12.6)).replace(NBSP, " ")
    '51 0 −13'
    >>> lab_words((51.4, -0.3, 12.6), "Lab").replace(NBSP, " ")
    'L* 51 a* 0 b* 13'
    """
    numbers = [f"{round(value) or 0}".replace("-", "−") for value in lab]
    if names:
        numbers = [f"{name}*{NBSP}{number}" for name, number in zip(names, numbers, strict=True)]
    return NBSP.join(numbers)


def srgb(lab: Lab) -> tuple[int, int, int]:
    """A colour as sRGB bytes; what lies outside sRGB is drawn as near to it as each channel goes.

    Examples
    --------
    >>> srgb((100, 0, 0)), srgb((0, 0, 0)), srgb((53.24, 80.09, 67.2))
    ((255, 255, 255), (0, 0, 0), (255, 0, 0))
    """
    middle = (lab[0] + 16) / 116
    roots = (middle + lab[1] / 500, middle, middle - lab[2] / 200)
    xyz = [
        white * (root**3 if root > 6 / 29 else 3 * (6 / 29) ** 2 * (root - 4 / 29))
        for white, root in zip(_D65, roots, strict=True)
    ]
    encoded = linear_to_srgb(np.clip(_LINEAR_FROM_XYZ @ np.array(xyz), 0.0, 1.0))
    red, green, blue = (int(value) for value in np.rint(np.clip(encoded, 0.0, 1.0) * 255))
    return red, green, blue


def neutral_words(readings: Sequence[Reading]) -> str:
    """What was taken for neutral behind the swatches and how sure that is, as sentences; empty without swatches."""
    zones = [zone for reading in readings for zone in reading.zones if zone.lab is not None]
    if not zones:
        return ""
    sources = " and ".join(dict.fromkeys(zone.neutral for zone in zones if zone.neutral)) or "not known"
    low, high = (round(100 * pick(zone.neutral_sure for zone in zones)) for pick in (min, max))
    share = f"{low}{NBSP}%" if low == high else f"{low} to {high}{NBSP}%"
    said = f"Colours are CIELAB (D65) after the colour of the light was taken out. Taken for neutral: {sources};"
    if low >= 100 * SURE:
        return f"{said} {share} sure."
    if low >= 100 * FAIR:
        return (
            f"{said} {share} sure. Set the plugs of one photograph against each other rather than trust a number alone."
        )
    return (
        f"{said} only {share} sure. Set the plugs of one photograph against each other; the numbers themselves may be"
        " off. A grey card in the picture helps."
    )


# -- geometry -----------------------------------------------------------------------------------------------


def _loops(zone: Zone, square: tuple[float, float, float]) -> tuple[Outline, ...]:
    left, top, side = square
    placed = [tuple(((x - left) / side, (y - top) / side) for x, y in loop) for loop in zone.outlines]
    seen = [loop for loop in placed if len(loop) >= 3 and _area(loop) >= _LEAST and _finite(loop)]
    return tuple(sorted(seen, key=_area, reverse=True))


def _finite(loop: Outline) -> bool:
    return all(math.isfinite(x) and math.isfinite(y) and abs(x) < 10 and abs(y) < 10 for x, y in loop)


def _area(loop: Outline) -> float:
    rolled = (*loop[1:], loop[0])
    return abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(loop, rolled, strict=True))) / 2


def _inside(loop: Outline) -> tuple[float, float]:
    """A point well inside a polygon: in the middle of its longest level cut through some height."""
    ys = [y for _, y in loop]
    low, high = min(ys), max(ys)
    best = (0.0, loop[0])
    for step in range(1, 12):
        y = low + (high - low) * step / 12
        cuts = _cuts(loop, y)
        for left, right in zip(cuts[::2], cuts[1::2], strict=False):
            # Cuts near the middle are worth more: the ends of a part are where its neighbours begin.
            worth = (right - left) * (1 - abs(step - 6) / 12)
            if worth > best[0]:
                best = (worth, ((left + right) / 2, y))
    return best[1]


def _cuts(loop: Outline, y: float) -> list[float]:
    """Where a level line crosses the polygon, from left to right."""
    rolled = (*loop[1:], loop[0])
    return sorted(
        x0 + (y - y0) * (x1 - x0) / (y1 - y0)
        for (x0, y0), (x1, y1) in zip(loop, rolled, strict=True)
        if (y0 <= y) != (y1 <= y)
    )


def _letter_places(anchors: dict[str, tuple[float, float]]) -> dict[str, tuple[float, float]]:
    """Places for the letters along both borders of the picture, so that they hide nothing and do not collide.

    Parts go to the border they are nearer to, at most three to one; lines to them do not cross.
    """
    order = sorted(anchors, key=lambda part: anchors[part][0])
    half = sum(anchors[part][0] < 0.5 for part in order)
    half = min(max(half, len(order) - 3), 3)
    places = {}
    for parts, x in ((order[:half], _EDGE), (order[half:], 1 - _EDGE)):
        ranked = sorted(parts, key=lambda part: anchors[part][1])
        heights = _spread([anchors[part][1] for part in ranked])
        places.update({part: (x, y) for part, y in zip(ranked, heights, strict=True)})
    return places


def _spread(heights: list[float]) -> list[float]:
    """Heights in order, moved as little as keeps them apart and inside."""
    placed: list[float] = []
    for height in heights:
        placed.append(max(height, placed[-1] + _APART if placed else _EDGE))
    limit = 1 - _EDGE
    for i in range(len(placed) - 1, -1, -1):
        placed[i] = min(placed[i], limit)
        limit = placed[i] - _APART
    return placed
