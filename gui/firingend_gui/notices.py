"""Messages in the window: they stay until they are put away and never stop anyone from working."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from firingend.errors import UserError
from firingend_gui.states import NoticeState

MOST_NOTICES = 4
"""Older ones make way, so that messages never push the plugs off the screen."""


class Notices:
    """The messages shown at the moment.

    Parameters
    ----------
    show
        Called with all of them, oldest first, whenever they change.
    """

    def __init__(self, show: Callable[[tuple[NoticeState, ...]], None]) -> None:
        self._show = show
        self._notices: tuple[NoticeState, ...] = ()
        self._last = 0

    def note(self, text: str, remedy: str = "") -> None:
        """Say that something was done."""
        self._add("note", text, remedy)

    def problem(self, text: str, remedy: str) -> None:
        """Say that something could not be done, and what to do about it."""
        self._add("error", text, remedy)

    def tell(self, error: Exception) -> None:
        """Say what an exception means."""
        if isinstance(error, UserError):
            self.problem(error.problem, error.remedy)
            return
        words = f"{type(error).__name__}: {error}"
        self.problem(
            f"The viewer made a mistake of its own ({words})",
            "Save the case, open it again, and report the words in brackets",
        )

    def put_away(self, number: int) -> None:
        """Take a message off the window."""
        self._notices = tuple(n for n in self._notices if n.number != number)
        self._show(self._notices)

    def clear(self) -> None:
        """Take every message off the window."""
        self._notices = ()
        self._show(())

    def _add(self, kind: Literal["error", "note"], text: str, remedy: str) -> None:
        self._last += 1
        kept = tuple(n for n in self._notices if (n.text, n.remedy) != (text, remedy) and n.kind == "error")
        self._notices = (*kept, NoticeState(self._last, kind, text, remedy))[-MOST_NOTICES:]
        self._show(self._notices)
