"""Outlines for readings that come from a card, which does not hold any: taken from reading the photograph again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Final

from firingend.reading.reading import Box, PhotoReading, Reading, Zone
from firingend_gui.session import Session

SAME_PLUG: Final = 0.5
"""Intersection over union of two boxes from which they are round the same firing end; common practice, no source."""


def files_without_outlines(session: Session) -> tuple[Path, ...]:
    """Photographs that are there and have parts without outlines."""
    files = (
        plug.photo.file
        for plug in session.plugs.values()
        if plug.photo is not None and not plug.trouble and plug.seen is not None and _lacks(plug.seen)
    )
    return tuple(dict.fromkeys(files))


def _lacks(reading: Reading) -> bool:
    return bool(reading.zones) and not any(zone.outlines for zone in reading.zones)


def with_outlines(session: Session, file: Path, fresh: PhotoReading) -> Session:
    """The session with outlines of a photograph read again; labels, colours and all else stay as they were."""
    for cylinder, plug in session.plugs.items():
        if plug.photo is not None and plug.photo.file == file:
            readings = tuple(_outlined(reading, fresh.readings) for reading in plug.photo.readings)
            session = session.with_plug(cylinder, replace(plug, photo=replace(plug.photo, readings=readings)))
    return session


def _outlined(reading: Reading, fresh: tuple[Reading, ...]) -> Reading:
    box = reading.firing_end.box if reading.firing_end is not None else None
    found = [(overlap(box, r.firing_end.box), r) for r in fresh if box and r.firing_end is not None]
    share, again = max(found, key=lambda item: item[0], default=(0.0, reading))
    if share < SAME_PLUG:
        return reading
    return replace(reading, zones=tuple(_zones(reading, again)))


def _zones(reading: Reading, again: Reading) -> Iterator[Zone]:
    outlines = {zone.part: zone.outlines for zone in again.zones}
    for zone in reading.zones:
        yield replace(zone, outlines=outlines.get(zone.part, ()))


def overlap(one: Box, other: Box) -> float:
    """Intersection over union of two boxes.

    Examples
    --------
    >>> overlap((0, 0, 2, 2), (0, 0, 2, 2)), overlap((0, 0, 2, 2), (1, 0, 3, 2))
    (1.0, 0.3333333333333333)
    """
    width = max(0.0, min(one[2], other[2]) - max(one[0], other[0]))
    height = max(0.0, min(one[3], other[3]) - max(one[1], other[1]))
    inside = width * height
    union = (one[2] - one[0]) * (one[3] - one[1]) + (other[2] - other[0]) * (other[3] - other[1]) - inside
    return inside / union if union > 0 else 0.0
