"""Each cylinder's plug before the repair beside the one after it, and the history of the engine."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from firingend_gui.parts.marks import LabelMark
from firingend_gui.parts.picture import PictureButton, PictureStore
from firingend_gui.parts.plain import BigButton, Panel, Words, empty
from firingend_gui.parts.swatch import SwatchRow
from firingend_gui.states import CylinderTimeState, OverTimeState, StagePlugState, VisitState

PAIR_WIDTH: Final = 560
"""Least width in pixels of one cylinder's plugs side by side."""

LEAST_PICTURE: Final = 180
MOST_PICTURE: Final = 380
WINDOW_SHARE: Final = 0.25
"""Height of a picture in pixels, and as a share of the window's: two rows of cylinders fit a small screen."""


class OverTimePage(QWidget):
    """Shows an `OverTimeState`."""

    back = Signal()
    open_job = Signal(int)

    def __init__(self, store: PictureStore) -> None:
        super().__init__()
        self.setAccessibleName("Over time")
        self._store = store
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 6, 0)
        column.setSpacing(12)
        head = QHBoxLayout()
        self._title = Words(scale=1.6, bold=True)
        head.addWidget(self._title, 1)
        self.back_button = BigButton("Back to the plugs")
        self.back_button.clicked.connect(self.back)
        head.addWidget(self.back_button)
        column.addLayout(head)
        self._none = Words("No plug has been looked at on this job yet.", scale=1.15)
        column.addWidget(self._none)
        self._grid = QGridLayout()
        self._grid.setSpacing(10)
        column.addLayout(self._grid)
        self._history = Panel("The engine's jobs")
        column.addWidget(self._history)
        self._changes = Panel("Changes of this card")
        column.addWidget(self._changes)
        column.addStretch(1)
        self.pairs: list[Panel] = []
        self._pictures: list[PictureButton] = []

    def show_state(self, state: OverTimeState) -> None:
        """Show this."""
        self._title.say(state.title)
        self._none.setVisible(not state.cylinders)
        empty(self._grid)
        self._pictures = []
        self.pairs = [self._pair(cylinder) for cylinder in state.cylinders]
        self._lay()
        empty(self._history.column)
        self._history.column.addWidget(Words("This engine's jobs", scale=1.25, bold=True))
        for visit in state.visits:
            self._history.column.addWidget(self._visit(visit))
        empty(self._changes.column)
        self._changes.column.addWidget(Words("Every change of this card, newest first", scale=1.25, bold=True))
        for change in state.changes:
            self._changes.column.addWidget(Words(change))

    def _pair(self, state: CylinderTimeState) -> Panel:
        panel = Panel(state.title, margin=10, spacing=6)
        panel.setAccessibleDescription(state.spoken)
        panel.column.addWidget(Words(state.title, scale=1.25, bold=True))
        row = QHBoxLayout()
        row.setSpacing(10)
        for plug in state.plugs:
            row.addWidget(self._plug(state.title, plug), 1)
        panel.column.addLayout(row)
        return panel

    def _plug(self, title: str, state: StagePlugState) -> QWidget:
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(5)
        column.addWidget(Words(state.stage_words, bold=True))
        picture = PictureButton(self._store)
        self._pictures.append(picture)
        picture.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        picture.setAccessibleName(f"{title}, {state.stage_words}")
        picture.show_ref(state.picture, state.words)
        column.addWidget(picture)
        line = QHBoxLayout()
        mark = LabelMark(28)
        mark.show_label(state.label)
        line.addWidget(mark)
        line.addWidget(Words(state.label_words, scale=1.2, bold=True), 1)
        percent = Words(state.probability_words, scale=1.2, bold=True)
        percent.setWordWrap(False)
        line.addWidget(percent)
        column.addLayout(line)
        swatch = SwatchRow(f"Colour of the nose, {title}, {state.stage_words}", short=True)
        column.addWidget(swatch)
        swatch.show_state(state.swatch)
        change = Words()
        column.addWidget(change)
        change.say(state.change)
        column.addStretch(1)
        return holder

    def _visit(self, state: VisitState) -> QWidget:
        holder = QWidget()
        holder.setAccessibleName(f"{state.head}. {' '.join(state.lines)}")
        line = QHBoxLayout(holder)
        line.setContentsMargins(0, 4, 0, 4)
        column = QVBoxLayout()
        column.setSpacing(1)
        column.addWidget(Words(state.head + (" (this job)" if state.here else ""), bold=True))
        for text in state.lines:
            column.addWidget(Words(text))
        line.addLayout(column, 1)
        if not state.here:
            button = BigButton("Open", f"Open job {state.number}")
            button.clicked.connect(lambda: self.open_job.emit(state.number))
            line.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
        return holder

    def _lay(self) -> None:
        """Put as many cylinders side by side as there is room for."""
        columns = max(1, min(len(self.pairs), self.width() // PAIR_WIDTH))
        height = round(self.window().height() * WINDOW_SHARE)
        for picture in self._pictures:
            picture.setFixedHeight(min(max(height, LEAST_PICTURE), MOST_PICTURE))
        for position, pair in enumerate(self.pairs):
            self._grid.addWidget(pair, position // columns, position % columns)
        for column in range(self._grid.columnCount()):
            self._grid.setColumnStretch(column, 1 if column < columns else 0)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Follow the width."""
        super().resizeEvent(event)
        if self.pairs:
            self._lay()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go back on Escape."""
        if event.key() == Qt.Key.Key_Escape:
            self.back.emit()
        else:
            super().keyPressEvent(event)
