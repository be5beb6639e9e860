"""Which firing end of a photograph goes to which cylinder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from firingend.reading.reading import PhotoReading
from firingend.reading.remarks import in_lines, remarks
from firingend_gui.arrivals import Arrival, largest, lies_across
from firingend_gui.presenting import whole_photo
from firingend_gui.session import Plug, Session
from firingend_gui.states import QuestionState
from firingend_gui.wording import sentence

FORWARD: Final = "forward"
BACKWARD: Final = "backward"
LARGEST: Final = "largest"
LEAVE_OUT: Final = "leave-out"


@dataclass(frozen=True, slots=True)
class Placement:
    """Cylinder and index of its firing end (None when none was found), and how many found no cylinder."""

    ends: tuple[tuple[int, int | None], ...]
    left_over: int = 0


def targets(session: Session, arrival: Arrival) -> tuple[int, ...]:
    """Cylinders a photograph's firing ends may go to, in the order they are filled."""
    if arrival.placed:
        return arrival.placed
    if arrival.cylinder is None:
        return session.free_cylinders()
    order = session.engine.cylinders
    return order[order.index(arrival.cylinder) :]


def needs_asking(photo: PhotoReading, arrival: Arrival, cylinders: tuple[int, ...]) -> bool:
    """Whether only the person can know which firing end belongs where."""
    return len(photo.readings) > 1 and not arrival.placed and len(cylinders) > 1


def question(photo: PhotoReading, first_cylinder: int) -> QuestionState:
    """Ask which end of the row, or of the lines, the first cylinder is."""
    first, last = _ends(photo)
    return QuestionState(
        text=f"{photo.file.name} shows {len(photo.readings)} firing ends. {_to_mind(photo)}"
        f"Which one is cylinder {first_cylinder}?",
        picture=whole_photo(photo),
        answers=(
            (FORWARD, first),
            (BACKWARD, last),
            (LARGEST, "Only the largest counts"),
            (LEAVE_OUT, "Leave this photo out"),
        ),
    )


def _ends(photo: PhotoReading) -> tuple[str, str]:
    """The first and the last of the firing ends, by where they lie."""
    if in_lines(photo):
        return "The left one of the top line", "The right one of the bottom line"
    if lies_across(photo.readings):
        return "The one on the left", "The one on the right"
    return "The one at the top", "The one at the bottom"


def _to_mind(photo: PhotoReading) -> str:
    """Sentences on what whoever numbers the firing ends must know of."""
    return "".join(sentence(f"{reason.text}: {reason.remedy}") + " " for reason in remarks(photo))


def placement(photo: PhotoReading, cylinders: tuple[int, ...], answer: str = FORWARD) -> Placement:
    """Give firing ends to cylinders, in row order or as the person answered."""
    if not cylinders:
        return Placement((), max(1, len(photo.readings)))
    if not photo.readings:
        return Placement(((cylinders[0], None),))
    if answer == LARGEST:
        return Placement(((cylinders[0], largest(photo.readings)),))
    indices = list(range(len(photo.readings)))
    if answer == BACKWARD:
        indices.reverse()
    pairs: list[tuple[int, int | None]] = list(zip(cylinders, indices, strict=False))
    return Placement(tuple(pairs), len(indices) - len(pairs))


def place(session: Session, photo: PhotoReading, placed: Placement, *, keep_marks: bool = False) -> Session:
    """Return the session with the photograph's firing ends on their cylinders."""
    for cylinder, index in placed.ends:
        old = session.plugs.get(cylinder)
        mark = old.mark if keep_marks and old is not None else None
        session = session.with_plug(cylinder, Plug(photo, index, mark))
    return session
