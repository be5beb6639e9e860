"""Ties the window's parts for jobs to the keeper and the desk, and looks again every so often."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final, cast

from PySide6.QtCore import QObject, QTimer

from firingend_gui.controller import Controller
from firingend_gui.jobwork.shelf import Opening
from firingend_gui.parts.keep_job import KeepJobWindow
from firingend_gui.parts.write_down import WriteDownWindow

if TYPE_CHECKING:
    from firingend.jobs.card import Stage, Status
    from firingend_gui.window import MainWindow

LOOK_MS: Final = 2000
"""How often the store and the watched folder are looked at."""


class JobLinks(QObject):
    """What the window does about jobs.

    Parameters
    ----------
    window, controller
        The window with its parts, and the controller, which has a keeper and a desk.
    """

    def __init__(self, window: MainWindow, controller: Controller) -> None:
        super().__init__(window)
        assert controller.keeper is not None and controller.desk is not None
        self._window = window
        self._controller = controller
        self._keeper, self._desk = controller.keeper, controller.desk
        self._keeper.who = window.jobs_page.initials.text().strip()
        self._closing = False
        self._connect()
        self._timer = QTimer(self)
        self._timer.setInterval(LOOK_MS)
        self._timer.timeout.connect(self._desk.look)
        self._timer.start()

    def _connect(self) -> None:
        window, page, header = self._window, self._window.jobs_page, self._window.header
        header.keep_as_job.connect(self.keep_as_job)
        header.show_jobs.connect(self.show_jobs)
        header.show_over_time.connect(self.show_over_time)
        header.write_down.connect(self.write_down)
        header.status_chosen.connect(lambda status: self._desk.set_status(cast("Status", status)))
        header.stage_chosen.connect(lambda stage: self._controller.choose_stage(cast("Stage", stage)))
        window.start_page.show_jobs.connect(self.show_jobs)
        page.searched.connect(
            lambda words, status: self._desk.list.search(words, cast("Status", status) if status else None)
        )
        page.older.connect(self._desk.list.older)
        page.open_job.connect(self.open_job)
        page.back.connect(window.show_last_page)
        page.initials_changed.connect(self._take_initials)
        window.over_time.back.connect(window.show_last_page)
        window.over_time.open_job.connect(self.open_job)
        window.choice.answered.connect(self._keeper.answer)
        window.offer.accepted.connect(self._desk.watcher.accept)
        window.offer.declined.connect(self._desk.watcher.decline)

    @property
    def watching(self) -> bool:
        """Whether a folder is watched."""
        return self._desk.watcher.folder is not None

    def show_jobs(self) -> None:
        """Go to the list of jobs."""
        self._window.jobs_page.words.clear()
        self._desk.show_list()

    def open_job(self, number: int) -> None:
        """Open a job, after asking where something would be lost."""
        self.when_kept(lambda: self._controller.open_job(number) if self._window.may_leave() else None)

    def when_kept(self, act: Callable[[], None]) -> None:
        """Do something at once, or as soon as what is being written has been written."""
        if self._keeper.writing:
            self._keeper.when_settled(lambda: QTimer.singleShot(0, self._window, act))
        else:
            act()

    def keep_as_job(self) -> None:
        """Ask what the new card shall say."""
        session = self._controller.session
        if session is None or self._keeper.job is not None:
            return
        asked = KeepJobWindow(self._window, session, self._keeper.who)
        asked.settled.connect(self._keep)
        asked.show()

    def _keep(self, opening: Opening, initials: str) -> None:
        self._window.jobs_page.initials.setText(initials)
        self._controller.keep_as_job(opening)

    def _take_initials(self, initials: str) -> None:
        self._keeper.who = initials

    def write_down(self) -> None:
        """Open the window for writing on the card."""
        job = self._keeper.job
        if job is None:
            return
        asked = WriteDownWindow(self._window, job.card, self._controller.likely_causes())

        def done() -> None:
            asked.close()

        asked.settled.connect(lambda entries: self._desk.write_down(entries, done, asked.show_problem))
        asked.show()

    def show_over_time(self) -> None:
        """Go to before beside after, and the engine's history."""
        self._desk.show_over_time()

    def watch(self) -> None:
        """Begin to watch a folder, or stop."""
        if self.watching:
            self._desk.watcher.watch(None)
            self._controller.notices.note("The folder is not watched any more")
        elif (folder := self._window.ask.folder_to_watch()) is not None:
            self._desk.watcher.watch(folder)
            self._controller.notices.note(f"Watching {folder}: photos that come in are offered to the open job")

    def closes_later(self) -> bool:
        """Whether the window must stay until what is being written has been written; it closes by itself then."""
        if not self._keeper.writing:
            return False
        if not self._closing:
            self._closing = True
            self._keeper.when_settled(self._close)
        return True

    def _close(self) -> None:
        self._closing = False
        QTimer.singleShot(0, self._window, self._window.close)
