"""One ranked check: what, where, what it costs, why, how, and the cautions beside it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QVBoxLayout, QWidget

from firingend_gui.parts.marks import Triangle
from firingend_gui.parts.plain import BigButton, Panel, Words, WrappingRow
from firingend_gui.states import OutcomeState, StepState

NARROW = 720
"""Below this width in pixels the cautions stand above how the check is done instead of beside it."""


class StepCard(Panel):
    """Shows a `StepState`; cautions are always in sight, how and outcomes once it is opened."""

    outcome_chosen = Signal(object, object)

    def __init__(self, state: StepState, *, opened: bool) -> None:
        super().__init__(f"Check {state.rank}: {state.name}, {state.where}", margin=14, spacing=8)
        self.state = state
        self._opened = opened
        self._build_head()
        self._sides = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._sides.setSpacing(16)
        self._sides.addLayout(self._build_reason(), 3)
        if state.cautions:
            self._sides.addWidget(self._build_cautions(), 2, Qt.AlignmentFlag.AlignTop)
        self.column.addLayout(self._sides)
        self._outcomes = self._build_outcomes()
        self.column.addWidget(self._outcomes)
        self.open(opened)

    def _build_head(self) -> None:
        state = self.state
        row = QHBoxLayout()
        row.setSpacing(14)
        rank = Words(f"{state.rank}", scale=2.0, bold=True)
        rank.setWordWrap(False)
        row.addWidget(rank, 0, Qt.AlignmentFlag.AlignTop)
        names = QVBoxLayout()
        names.setSpacing(2)
        names.addWidget(Words(state.name, scale=1.3, bold=True))
        where = "whole engine" if state.where in ("", "engine") else state.where
        costs = f"{state.minutes} · parts: {state.parts} · from here to a repaired engine about {state.expected}"
        names.addWidget(Words(f"{where} · {costs}"))
        row.addLayout(names, 1)
        self.toggle = BigButton("")
        self.toggle.clicked.connect(lambda: self.open(not self._opened))
        row.addWidget(self.toggle, 0, Qt.AlignmentFlag.AlignTop)
        self.column.addLayout(row)

    def _build_reason(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(6)
        column.addWidget(Words(self.state.why))
        self._how = QWidget()
        lines = QVBoxLayout(self._how)
        lines.setContentsMargins(0, 4, 0, 0)
        lines.setSpacing(6)
        lines.addWidget(Words("How", bold=True))
        for number, line in enumerate(self.state.how, 1):
            row = QHBoxLayout()
            row.setSpacing(8)
            row.addWidget(Words(f"{number}."), 0, Qt.AlignmentFlag.AlignTop)
            row.addWidget(Words(line), 1)
            lines.addLayout(row)
        lines.addWidget(Words(f"Numbers: {self.state.source}", scale=0.85))
        column.addWidget(self._how)
        column.addStretch(1)
        return column

    def _build_cautions(self) -> Panel:
        panel = Panel(f"Cautions for {self.state.name}", margin=10, spacing=6, heavy=True)
        row = QHBoxLayout()
        row.addWidget(Triangle())
        row.addWidget(Words("Caution", bold=True), 1)
        panel.column.addLayout(row)
        for caution in self.state.cautions:
            panel.column.addWidget(Words(caution))
        panel.setAccessibleDescription(" ".join(self.state.cautions))
        return panel

    def _build_outcomes(self) -> QWidget:
        box = QWidget()
        column = QVBoxLayout(box)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(Words("What came out of it?", bold=True))
        row = WrappingRow()
        self.outcome_buttons: list[BigButton] = []
        for outcome in self.state.outcomes:
            button = BigButton(outcome.words, f"{self.state.name}: {outcome.words}")
            button.clicked.connect(self._chooser(outcome))
            self.outcome_buttons.append(button)
            row.addWidget(button)
        column.addLayout(row)
        return box

    def _chooser(self, outcome: OutcomeState) -> Callable[[], None]:
        return lambda: self.outcome_chosen.emit(self.state, outcome)

    def open(self, opened: bool) -> None:
        """Show or hide how it is done and what can come out of it."""
        self._opened = opened
        self._how.setVisible(opened and bool(self.state.how))
        self._outcomes.setVisible(opened and bool(self.state.outcomes))
        self.toggle.setText("Show less" if opened else "How, and outcome")
        self.toggle.setAccessibleName(f"{self.toggle.text()}: {self.state.name}, {self.state.where}")

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put cautions beside or above the rest, as the width allows."""
        wide = self.width() >= NARROW
        direction = QBoxLayout.Direction.LeftToRight if wide else QBoxLayout.Direction.BottomToTop
        if self._sides.direction() != direction:
            self._sides.setDirection(direction)
        super().resizeEvent(event)
