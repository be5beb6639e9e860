"""Photographs on their way to cylinders: read in any order, placed in the order they were put in.

A photograph may show several firing ends, and only its reading says how many; so those that were not put on a
particular cylinder wait for the ones before them.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from firingend.reading.reading import PhotoReading, Reading


@dataclass(slots=True)
class Arrival:
    """One photograph on its way.

    Attributes
    ----------
    number
        Generation number; an answer whose number is no longer waiting is dropped.
    file
        The photograph.
    cylinder
        The cylinder it was put on; None for the next free ones.
    placed
        Cylinders a case file gives its firing ends to, in row order; empty when nobody said.
    answer, failure
        What came back; both None while it is being read.
    """

    number: int
    file: Path
    cylinder: int | None = None
    placed: tuple[int, ...] = ()
    answer: PhotoReading | None = None
    failure: Exception | None = None

    @property
    def ready(self) -> bool:
        """Whether something came back."""
        return self.answer is not None or self.failure is not None


class Arrivals:
    """The queue of photographs on their way."""

    def __init__(self) -> None:
        self._queue: list[Arrival] = []
        self._last_number = 0

    def unread(self) -> int:
        """How many have not come back yet."""
        return sum(1 for a in self._queue if not a.ready)

    def under_way(self) -> int:
        """How many are on their way, read or not."""
        return len(self._queue)

    def add(self, file: Path, cylinder: int | None = None, placed: tuple[int, ...] = ()) -> Arrival:
        """Put a photograph in; one that was on its way to the same cylinder is superseded."""
        if cylinder is not None:
            self.forget_cylinder(cylinder)
        self._last_number += 1
        arrival = Arrival(self._last_number, file, cylinder, placed)
        self._queue.append(arrival)
        return arrival

    def forget_cylinder(self, cylinder: int) -> None:
        """Drop what is on its way to this cylinder alone."""
        self._queue = [a for a in self._queue if a.cylinder != cylinder]

    def clear(self) -> None:
        """Drop everything on its way."""
        self._queue.clear()

    def find(self, number: int) -> Arrival | None:
        """The photograph with this generation number, or None when it was superseded."""
        return next((a for a in self._queue if a.number == number), None)

    def placeable(self, asked: Arrival | None = None) -> tuple[Arrival, ...]:
        """Photographs that may be placed now, oldest first.

        Those for the next free cylinders keep their order, so only the first of them may, and none while a
        question is open. Failures and photographs whose cylinder is known wait for nobody.
        """
        loose = next((a for a in self._queue if a.cylinder is None and not a.placed and not a.failure), None)
        return tuple(
            a
            for a in self._queue
            if a.ready
            and a is not asked
            and (a.failure or a.placed or a.cylinder is not None or (a is loose and asked is None))
        )

    def take(self, arrival: Arrival) -> None:
        """Remove a photograph that has been placed."""
        self._queue.remove(arrival)

    def waiting_cylinders(self, free: tuple[int, ...]) -> tuple[int, ...]:
        """Cylinders a photograph is on its way to, as far as that is known before it is placed."""
        claimed = [n for a in self._queue for n in (a.placed or ((a.cylinder,) if a.cylinder else ()))]
        unclaimed = [n for n in free if n not in claimed]
        loose = sum(1 for a in self._queue if not a.placed and a.cylinder is None)
        return tuple(dict.fromkeys([*claimed, *unclaimed[:loose]]))


def lies_across(readings: tuple[Reading, ...]) -> bool:
    """Whether the firing ends lie side by side (True) or one above the other (False)."""
    boxes = [r.firing_end.box for r in readings if r.firing_end is not None]
    if len(boxes) < 2:
        return True
    across = [(b[0] + b[2]) / 2 for b in boxes]
    down = [(b[1] + b[3]) / 2 for b in boxes]
    return max(across) - min(across) >= max(down) - min(down)


def largest(readings: tuple[Reading, ...]) -> int:
    """Index of the firing end with the largest box."""

    def area(index: int) -> float:
        end = readings[index].firing_end
        return 0.0 if end is None else (end.box[2] - end.box[0]) * (end.box[3] - end.box[1])

    return max(range(len(readings)), key=area)
