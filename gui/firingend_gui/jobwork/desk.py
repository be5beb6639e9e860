"""What a person does with jobs beside the plugs: lists them, writes on them, looks at them over time. Knows no Qt."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from firingend.errors import UserError
from firingend_gui.jobwork import presenting
from firingend_gui.jobwork.keeper import Keeper
from firingend_gui.jobwork.listing import JobList
from firingend_gui.jobwork.shelf import OverTime, Shelf
from firingend_gui.jobwork.watching import Watcher
from firingend_gui.notices import Notices
from firingend_gui.running import Runner
from firingend_gui.view import View

if TYPE_CHECKING:
    from firingend.jobs.card import Status
    from firingend_gui.jobwork.wants import Want
    from firingend_gui.jobwork.written_down import Entries


class JobDesk:
    """Turns intentions about jobs into calls of the store, and what comes back into what the view shows.

    Parameters
    ----------
    view, shelf, runner
        The window, the store, and what runs it elsewhere.
    keeper, notices
        The open job, and where messages go.
    add_photos
        Takes photographs for the next free cylinders.
    """

    def __init__(
        self,
        view: View,
        shelf: Shelf,
        runner: Runner,
        keeper: Keeper,
        notices: Notices,
        add_photos: Callable[[Sequence[Path]], None],
    ) -> None:
        self._view = view
        self._shelf = shelf
        self._runner = runner
        self._keeper = keeper
        self._notices = notices
        self._under_way = 0
        self.list = JobList(shelf, runner, view.show_jobs, notices.tell)
        self.watcher = Watcher(shelf, runner, keeper, view.show_offer, add_photos, notices.tell)

    @property
    def busy(self) -> bool:
        """Whether anything slow is on its way that a person waits for."""
        return self._keeper.busy or self.list.working or self._under_way > 0

    def look(self) -> None:
        """See what others have changed, and what has come into the watched folder."""
        self._keeper.look()
        self.watcher.look()

    def show_list(self) -> None:
        """Go to the list of jobs."""
        self._view.show_page("jobs")
        self.list.search("")

    def show_over_time(self) -> None:
        """Go to before beside after, and the engine's history."""
        self._keeper.when_settled(self._fetch_over_time)

    def _fetch_over_time(self) -> None:
        job = self._keeper.job
        if job is None:
            return
        job_id = job.id
        self._under_way += 1

        def told(found: OverTime) -> None:
            self._under_way -= 1
            if self._keeper.job is not None and self._keeper.job.id == job_id:
                self._view.show_over_time(presenting.over_time(found))
                self._view.show_page("over-time")

        def failed(error: Exception) -> None:
            self._under_way -= 1
            self._notices.tell(error)

        self._runner.submit(lambda: self._shelf.over_time(job_id), told, failed)

    def set_status(self, status: Status) -> None:
        """Write down the state of the job."""
        from firingend_gui.jobwork.wants import SetField

        job = self._keeper.job
        if job is not None and job.fields.get("status") != status:
            self._keeper.write((SetField("status", status),), f"status: {status}")

    def write_down(self, entries: Entries, done: Callable[[], None], refused: Callable[[str], None]) -> None:
        """Write on the card what was typed; ``refused`` is called with what is wrong with it."""
        job = self._keeper.job
        if job is None:
            return
        card = job.card
        self._under_way += 1

        def work() -> tuple[tuple[Want, ...], str]:
            from firingend_gui.jobwork.written_down import wants_of

            return wants_of(entries, card)

        def checked(found: tuple[tuple[Want, ...], str]) -> None:
            self._under_way -= 1
            self._keeper.write(found[0], f"written down: {found[1]}")
            done()

        def failed(error: Exception) -> None:
            self._under_way -= 1
            if isinstance(error, UserError):
                refused(str(error))
            else:
                self._notices.tell(error)

        self._runner.submit(work, checked, failed)
