"""The list of jobs: searched as one types, opened by one press."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QSettings, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QHeaderView,
    QLineEdit,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from firingend_gui.appearance import TOUCH, TYPE_SIZE
from firingend_gui.jobwork.shelf import usual_initials
from firingend_gui.parts.plain import BigButton, Words
from firingend_gui.states import JobLineState, JobListState
from firingend_gui.wording import STATUS_WORDS, capital

COLUMNS: Final = ("Job", "Opened", "Status", "Name", "Engine", "Customer", "Photos")
PAUSE_MS: Final = 150
"""Typing goes on this long before it is searched for."""


class JobTable(QTableWidget):
    """One line a job; Return or a double click opens it."""

    opened = Signal(int)

    def __init__(self) -> None:
        super().__init__(0, len(COLUMNS))
        self.setAccessibleName("Jobs")
        self.setHorizontalHeaderLabels(list(COLUMNS))
        self.verticalHeader().hide()
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setAlternatingRowColors(True)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        heads = self.horizontalHeader()
        heads.setHighlightSections(False)
        for column in range(len(COLUMNS)):
            stretches = COLUMNS[column] in ("Name", "Engine", "Customer")
            mode = QHeaderView.ResizeMode.Stretch if stretches else QHeaderView.ResizeMode.ResizeToContents
            heads.setSectionResizeMode(column, mode)
        heads.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self.cellDoubleClicked.connect(lambda row, _: self._open(row))
        self._lines: tuple[JobLineState, ...] = ()
        TYPE_SIZE.changed.connect(self._size_rows)
        self._size_rows()

    def _size_rows(self) -> None:
        self.verticalHeader().setDefaultSectionSize(max(TOUCH, round(self.fontMetrics().height() * 2.1)))

    @property
    def marked(self) -> int | None:
        """Number of the job under the mark."""
        row = self.currentRow()
        return self._lines[row].number if 0 <= row < len(self._lines) else None

    def show_lines(self, lines: tuple[JobLineState, ...]) -> None:
        """Show these jobs; the mark stays on its job where that is still there."""
        marked = self.marked
        self._lines = lines
        self.setRowCount(len(lines))
        for row, line in enumerate(lines):
            cells = (str(line.number), line.opened, line.status, line.name, line.engine, line.customer, line.photos)
            for column, text in enumerate(cells):
                item = QTableWidgetItem(text)
                item.setToolTip(text)
                item.setData(Qt.ItemDataRole.AccessibleTextRole, line.spoken if column == 0 else text)
                self.setItem(row, column, item)
        again = next((row for row, line in enumerate(lines) if line.number == marked), 0)
        if lines:
            self.selectRow(again)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Open the job under the mark."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._open(self.currentRow())
        else:
            super().keyPressEvent(event)

    def _open(self, row: int) -> None:
        if 0 <= row < len(self._lines):
            self.opened.emit(self._lines[row].number)


class JobsPage(QWidget):
    """Shows a `JobListState`; ``searched`` carries words and a status, empty for any."""

    searched = Signal(str, str)
    older = Signal()
    open_job = Signal(int)
    back = Signal()
    initials_changed = Signal(str)

    def __init__(self, settings: QSettings) -> None:
        super().__init__()
        self.setAccessibleName("List of jobs")
        self._settings = settings
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(10)
        column.addLayout(self._head())
        column.addLayout(self._search_row())
        self._hint = Words(scale=1.15)
        column.addWidget(self._hint)
        self.table = JobTable()
        self.table.opened.connect(self.open_job)
        column.addWidget(self.table, 1)
        column.addLayout(self._foot())
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(PAUSE_MS)
        self._pause.timeout.connect(self.search_now)

    def _head(self) -> QHBoxLayout:
        row = QHBoxLayout()
        title = Words("Jobs", scale=1.6, bold=True)
        title.setWordWrap(False)
        row.addWidget(title, 1)
        label = Words("Your initials")
        label.setWordWrap(False)
        row.addWidget(label)
        self.initials = QLineEdit(str(self._settings.value("jobs/initials", usual_initials())))
        self.initials.setAccessibleName("Your initials, written beside every change")
        self.initials.setMaxLength(20)
        self.initials.setFixedWidth(120)
        self.initials.setTextMargins(8, 0, 8, 0)
        self.initials.setMinimumHeight(TOUCH)
        self.initials.textChanged.connect(self._remember_initials)
        row.addWidget(self.initials)
        self.back_button = BigButton("Back")
        self.back_button.clicked.connect(self.back)
        row.addWidget(self.back_button)
        return row

    def _search_row(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.words = QLineEdit()
        self.words.setPlaceholderText("Search: name, customer, engine, mark or complaint")
        self.words.setAccessibleName("Search jobs")
        self.words.setMinimumHeight(TOUCH)
        self.words.setTextMargins(8, 0, 8, 0)
        self.words.textChanged.connect(lambda: self._pause.start())
        self.words.returnPressed.connect(self._open_marked)
        self.status = QComboBox()
        self.status.setAccessibleName("Status of the jobs listed")
        self.status.setMinimumHeight(TOUCH)
        self.status.addItem("Any status", "")
        for key, text in STATUS_WORDS.items():
            self.status.addItem(capital(text), key)
        self.status.currentIndexChanged.connect(lambda: self.search_now())
        row.addWidget(self.words, 1)
        row.addWidget(self.status)
        return row

    def _foot(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self._open_button = BigButton("Open job", strong=True)
        self._open_button.clicked.connect(self._open_marked)
        self._older = BigButton("Older jobs")
        self._older.clicked.connect(self.older)
        row.addWidget(self._open_button, 2)
        row.addWidget(self._older, 1)
        return row

    def show_state(self, state: JobListState) -> None:
        """Show this list."""
        self._hint.say(state.hint)
        self.table.show_lines(state.lines)
        self._open_button.setEnabled(bool(state.lines))
        self._older.setEnabled(state.more)

    def search_now(self) -> None:
        """Search without waiting for more letters."""
        self._pause.stop()
        self.searched.emit(self.words.text(), self.status.currentData())

    def _open_marked(self) -> None:
        if self._pause.isActive():
            self.search_now()
        elif self.table.marked is not None:
            self.open_job.emit(self.table.marked)

    def _remember_initials(self, text: str) -> None:
        self._settings.setValue("jobs/initials", text.strip())
        self.initials_changed.emit(text.strip())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go back on Escape."""
        if event.key() == Qt.Key.Key_Escape:
            self.back.emit()
        else:
            super().keyPressEvent(event)
