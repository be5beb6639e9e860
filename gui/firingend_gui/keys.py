"""Keys of the viewer: one table from intention to key, readable without Qt."""

from __future__ import annotations

from enum import Enum
from typing import Final


class Intention(Enum):
    """What a person means to do, in the words that menus and the key list show."""

    NEW_ENGINE = "New engine"
    OPEN_CASE = "Open case"
    SAVE_CASE = "Save case"
    SAVE_REPORT = "Save report"
    QUIT = "Quit"
    ADD_PHOTOS = "Add photos"
    COMPLAINT = "Complaint and symptoms"
    UNDO = "Undo"
    KEEP_AS_JOB = "Keep as a job"
    JOBS = "Jobs"
    WRITE_DOWN = "Write on the job card"
    OVER_TIME = "Before and after, and history"
    WATCH = "Watch a folder for photos"
    OUTLINES = "Outlines of the parts"
    LARGER_TEXT = "Larger text"
    SMALLER_TEXT = "Smaller text"
    NEXT_REGION = "Next part of the window"
    PREVIOUS_REGION = "Previous part of the window"
    SHOW_KEYS = "Keys"


KEYS: Final[dict[Intention, str]] = {
    Intention.NEW_ENGINE: "Ctrl+N",
    Intention.OPEN_CASE: "Ctrl+O",
    Intention.SAVE_CASE: "Ctrl+S",
    Intention.SAVE_REPORT: "Ctrl+R",
    Intention.QUIT: "Ctrl+Q",
    Intention.ADD_PHOTOS: "Ctrl+P",
    Intention.COMPLAINT: "Ctrl+E",
    Intention.UNDO: "Ctrl+Z",
    Intention.KEEP_AS_JOB: "Ctrl+K",
    Intention.JOBS: "Ctrl+J",
    Intention.WRITE_DOWN: "Ctrl+D",
    Intention.OVER_TIME: "Ctrl+H",
    Intention.WATCH: "Ctrl+F",
    Intention.OUTLINES: "F2",
    Intention.LARGER_TEXT: "Ctrl++",
    Intention.SMALLER_TEXT: "Ctrl+-",
    Intention.NEXT_REGION: "F6",
    Intention.PREVIOUS_REGION: "Shift+F6",
    Intention.SHOW_KEYS: "F1",
}

CARD_KEYS: Final[dict[str, str]] = {
    "Return": "Open the whole photo",
    "P": "Add or replace the photo",
    "L": "Label by hand",
    "Delete": "Remove the plug's photo",
    "Left / Right": "Previous or next cylinder",
}
"""Keys that work while a cylinder's picture has the focus."""

PAGE_KEYS: Final[dict[str, str]] = {
    "Return": "Open the job under the mark",
    "Escape": "Back to the plugs",
}
"""Keys of the list of jobs and of the page that sets plugs side by side."""

PHOTO_KEYS: Final[dict[str, str]] = {
    "+": "Closer",
    "-": "Further away",
    "0": "The whole photo",
    "O": "Outlines of the parts",
    "Escape": "Back to the plugs",
}
"""Keys of the window that shows a whole photo."""


def cylinder_key(position: int) -> str | None:
    """Key that moves the focus to the card at this position (0 first), or None beyond the ninth.

    Examples
    --------
    >>> cylinder_key(0), cylinder_key(9)
    ('Alt+1', None)
    """
    return f"Alt+{position + 1}" if position < 9 else None
