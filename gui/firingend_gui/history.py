"""Sessions one after another, so that every change can be undone."""

from __future__ import annotations

from collections.abc import Callable

from firingend_gui.session import Session


class History:
    """The session in hand and the ones before it, each with the words for the change that left it behind."""

    def __init__(self) -> None:
        self._now: Session | None = None
        self._past: list[tuple[Session, str]] = []
        self._saved: Session | None = None

    @property
    def now(self) -> Session | None:
        """The session in hand."""
        return self._now

    @property
    def undo_words(self) -> str:
        """What undoing would take back, empty when there is nothing to take back."""
        return self._past[-1][1] if self._past else ""

    @property
    def unsaved(self) -> bool:
        """Whether something would be lost by leaving."""
        return self._now is not None and self._now is not self._saved

    def begin(self, session: Session | None, *, saved: bool = False) -> None:
        """Start over with this session."""
        self._now = session
        self._past.clear()
        self._saved = session if saved else None

    def change(self, session: Session, words: str) -> None:
        """Go on with a changed session that can be undone."""
        if self._now is not None:
            self._past.append((self._now, words))
        self._now = session

    def amend(self, change: Callable[[Session], Session]) -> None:
        """Add something that belonged to every session from the beginning, such as a case file's photographs."""
        clean = not self.unsaved
        self._past = [(change(s), words) for s, words in self._past]
        if self._now is not None:
            self._now = change(self._now)
        if clean:
            self._saved = self._now

    def undo(self) -> str:
        """Take back the last change; returns its words, empty when there was none."""
        if not self._past:
            return ""
        self._now, words = self._past.pop()
        return words

    def mark_saved(self, session: Session) -> None:
        """Remember that this session is on disk."""
        self._saved = session
