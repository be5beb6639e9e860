"""The list of jobs: searched away from the window, one page after the other. Knows no Qt."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from firingend_gui.jobwork.presenting import job_list
from firingend_gui.jobwork.shelf import Shelf
from firingend_gui.running import Runner
from firingend_gui.states import JobListState

if TYPE_CHECKING:
    from firingend.jobs.card import Status
    from firingend.jobs.job import JobLine

PAGE = 50


class JobList:
    """What is searched for and what was found.

    Parameters
    ----------
    shelf, runner
        The store, and what runs it elsewhere.
    show, tell
        Called with the list, and with an exception that came back instead.
    """

    def __init__(
        self,
        shelf: Shelf,
        runner: Runner,
        show: Callable[[JobListState], None],
        tell: Callable[[Exception], None],
    ) -> None:
        self._shelf = shelf
        self._runner = runner
        self._show = show
        self._tell = tell
        self._words = ""
        self._status: Status | None = None
        self._lines: tuple[JobLine, ...] = ()
        self._generation = 0
        self.working = False

    def search(self, words: str, status: Status | None = None) -> None:
        """List jobs with words that begin so, in this state; the last search counts."""
        self._words, self._status = words.strip(), status
        self._find(())

    def older(self) -> None:
        """Go on where the list ends."""
        if self._lines and not self.working:
            self._find(self._lines)

    def _find(self, so_far: tuple[JobLine, ...]) -> None:
        self._generation += 1
        generation, words, status = self._generation, self._words, self._status
        before = so_far[-1].number if so_far else None
        self.working = True

        def work() -> tuple[JobLine, ...]:
            from firingend.jobs.job import Query

            return self._shelf.lines(Query(words=words, status=status, before_number=before, most=PAGE))

        def found(lines: tuple[JobLine, ...]) -> None:
            if generation == self._generation:
                self.working = False
                self._lines = (*so_far, *lines)
                self._show(job_list(self._lines, len(lines) == PAGE, bool(words or status)))

        def failed(error: Exception) -> None:
            if generation == self._generation:
                self.working = False
                self._tell(error)

        self._runner.submit(work, found, failed)
