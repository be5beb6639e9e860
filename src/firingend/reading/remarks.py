"""What to mind about a photograph as a whole, beside what each firing end in it shows.

Apart from `abstention`, which brings what reading itself needs: whoever only prints readings should start at once.
"""

from __future__ import annotations

from firingend.reading.reading import PhotoReading, Reason
from firingend.reading.row_order import rows_of


def remarks(photo: PhotoReading) -> tuple[Reason, ...]:
    """What whoever gives the firing ends of a photograph to cylinders has to know, each with what to do about it."""
    return tuple(reason for reason in (_left_out(photo), _lines(photo)) if reason)


def in_lines(photo: PhotoReading) -> bool:
    """Whether the firing ends lie in more than one line, and are counted as the lines of a text are read."""
    return len(rows_of([r.firing_end.box for r in photo.readings if r.firing_end is not None])) > 1


def _left_out(photo: PhotoReading) -> Reason | None:
    """A dark or blurred plug may be among what was left out, and the ones after it would count a place too few."""
    if not photo.readings or not photo.left_out:
        return None
    more = len(photo.left_out)
    return Reason(
        "left-out",
        f"{more} more {'thing was' if more == 1 else 'things were'} taken for no firing end and left out",
        "count the plugs; one that is missing needs a photograph of its own, from close by",
    )


def _lines(photo: PhotoReading) -> Reason | None:
    """Four in a square that stands on a corner can be read in two ways, and nobody can tell which was meant."""
    if not in_lines(photo):
        return None
    return Reason(
        "lines",
        "the firing ends lie in more than one line and are counted line by line, from the top left",
        "check this order against the plugs, or photograph them in one row",
    )
