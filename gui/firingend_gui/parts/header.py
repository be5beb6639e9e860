"""Top of the window: engine, complaint, job, and the things one does most."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import Signal
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QHBoxLayout, QMenu, QVBoxLayout, QWidget

from firingend_gui.parts.plain import BigButton, MenuButton, Words
from firingend_gui.states import HeaderState, JobState
from firingend_gui.wording import STAGE_WORDS, STATUS_WORDS, capital


class Header(QWidget):
    """Shows a `HeaderState`.

    Parameters
    ----------
    jobs
        Whether there is a store of job cards.
    """

    add_photos = Signal()
    edit_complaint = Signal()
    save_report = Signal()
    undo = Signal()
    turn_outlines = Signal()
    keep_as_job = Signal()
    show_jobs = Signal()
    show_over_time = Signal()
    write_down = Signal()
    status_chosen = Signal(str)
    stage_chosen = Signal(str)

    def __init__(self, *, jobs: bool = False) -> None:
        super().__init__()
        self.setAccessibleName("Engine and complaint")
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(8)
        words = QVBoxLayout()
        words.setSpacing(1)
        self._title = Words(scale=1.4, bold=True)
        self._engine = Words()
        self._complaint = Words()
        for label in (self._title, self._engine, self._complaint):
            words.addWidget(label)
        words.addStretch(1)
        line.addLayout(words, 1)
        self._progress = Words(bold=True)
        self._progress.setWordWrap(False)
        line.addWidget(self._progress)
        rows = QVBoxLayout()
        rows.setSpacing(6)
        rows.addLayout(self._engine_row())
        self._job_line = self._job_row()
        self._job_line.setVisible(jobs)
        rows.addWidget(self._job_line)
        rows.addStretch(1)
        line.addLayout(rows)

    def _engine_row(self) -> QHBoxLayout:
        self._photos = BigButton("Add photos…", "Add photos of plugs", strong=True)
        self._edit = BigButton("Complaint…", "Complaint and symptoms")
        self._report = BigButton("Save report…", "Save the report as HTML or PDF")
        self._undo = BigButton("Undo", "Undo the last change")
        self._outlines = BigButton("Outlines", "Outlines of the parts on the pictures")
        self._outlines.setCheckable(True)
        row = QHBoxLayout()
        row.setSpacing(8)
        row.addStretch(1)
        for button, signal in (
            (self._photos, self.add_photos),
            (self._edit, self.edit_complaint),
            (self._report, self.save_report),
            (self._outlines, self.turn_outlines),
            (self._undo, self.undo),
        ):
            button.clicked.connect(signal)
            row.addWidget(button)
        return row

    def _job_row(self) -> QWidget:
        self._keep = BigButton("Keep as job…", "Keep this engine as a job", strong=True)
        self._keep.clicked.connect(self.keep_as_job)
        self._status, self._status_actions = _choices("Status of the job", STATUS_WORDS, self.status_chosen.emit)
        self._stage, self._stage_actions = _choices("Which plugs are shown", STAGE_WORDS, self.stage_chosen.emit)
        self._over_time = BigButton("Over time", "Before and after side by side, and history")
        self._over_time.clicked.connect(self.show_over_time)
        self._write = BigButton("Write down…", "Write on the job card")
        self._write.clicked.connect(self.write_down)
        self._jobs = BigButton("Jobs…", "List of jobs")
        self._jobs.clicked.connect(self.show_jobs)
        row = QWidget()
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(8)
        line.addStretch(1)
        for button in (self._keep, self._status, self._stage, self._over_time, self._write, self._jobs):
            line.addWidget(button)
        return row

    @property
    def first(self) -> QWidget:
        """What takes the focus when one comes here by key."""
        return self._photos

    def show_outlines(self, on: bool) -> None:
        """Show whether parts are outlined."""
        self._outlines.setChecked(on)

    def show_state(self, state: HeaderState) -> None:
        """Show this state."""
        self._title.say(state.title)
        self._engine.say(" · ".join(part for part in (state.job.head if state.job else "", state.engine) if part))
        complaint = "Complaint: " + (state.complaint or "none written down") if state.can_save else ""
        self._complaint.say(complaint + (f" · {state.symptoms}" if state.symptoms else ""))
        not_kept = state.job.kept if state.job is not None and state.job.not_kept else ""
        self._progress.say(state.progress or not_kept)
        self._edit.setEnabled(state.can_save)
        self._report.setEnabled(state.can_save)
        self._undo.setEnabled(bool(state.undo_words))
        told = f"Undo: {state.undo_words}" if state.undo_words else "Nothing to undo"
        self._undo.setAccessibleDescription(told)
        self._undo.setToolTip(told)
        self._show_job(state.job, state.can_save)

    def _show_job(self, job: JobState | None, engine: bool) -> None:
        self._keep.setVisible(job is None)
        self._keep.setEnabled(engine)
        for widget in (self._status, self._stage, self._over_time, self._write):
            widget.setVisible(job is not None)
        if job is None:
            return
        self._status.setText(f"Status: {STATUS_WORDS[job.status]}")
        self._stage.setText(f"Plugs: {STAGE_WORDS[job.stage]}")
        for key, action in self._status_actions.items():
            action.setChecked(key == job.status)
        for key, action in self._stage_actions.items():
            action.setChecked(key == job.stage)
        self._status.setAccessibleDescription(f"{STATUS_WORDS[job.status]}. {job.kept}")
        self._stage.setAccessibleDescription(STAGE_WORDS[job.stage])


def _choices(
    name: str, words: Mapping[str, str], chosen: Callable[[str], None]
) -> tuple[MenuButton, dict[str, QAction]]:
    """A button with a menu of which one is ticked."""
    button = MenuButton("", name)
    menu = QMenu(button)
    menu.setAccessibleName(name)
    actions = {}
    for number, (key, text) in enumerate(words.items(), 1):
        action = menu.addAction(f"&{number}  {capital(text)}")
        action.setCheckable(True)
        action.triggered.connect(lambda _=False, key=key: chosen(key))
        actions[key] = action
    button.setMenu(menu)
    return button, actions
