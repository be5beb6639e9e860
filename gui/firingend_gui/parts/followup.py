"""Checks in the order worth doing, the causes behind them, and what was done already."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QVBoxLayout, QWidget

from firingend.report.words import STANDING
from firingend_gui.parts.marks import ProbabilityBar
from firingend_gui.parts.plain import BigButton, Panel, Words, empty
from firingend_gui.parts.step import StepCard
from firingend_gui.states import CauseState, FollowUpState, OutcomeState, StepState
from firingend_gui.wording import capital

FIRST_SHOWN: Final = 5
NARROW: Final = 1060
"""Below this width in pixels the causes stand under the checks instead of beside them."""


class FollowUpPanel(QWidget):
    """Shows a `FollowUpState`."""

    outcome_chosen = Signal(object, object)
    undo_wanted = Signal()
    ranked_anew = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Follow-up")
        self._state: FollowUpState | None = None
        self._all = False
        self.step_cards: list[StepCard] = []
        self._sides = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._sides.setContentsMargins(0, 0, 0, 0)
        self._sides.setSpacing(14)
        left = QVBoxLayout()
        left.setSpacing(10)
        self._title = Words("Check next", scale=1.5, bold=True)
        self._steps = QVBoxLayout()
        self._steps.setSpacing(10)
        left.addWidget(self._title)
        left.addLayout(self._steps, 1)
        self._causes = QVBoxLayout()
        self._causes.setSpacing(10)
        self._sides.addLayout(left, 7)
        self._sides.addLayout(self._causes, 4)

    def show_state(self, state: FollowUpState) -> None:
        """Show this state; what has not changed is left alone, so that nothing jumps under a finger."""
        if state == self._state:
            return
        focused = self._has_focus(self._steps)
        before = self._state
        self._state = state
        again = " · being worked out again" if state.working and state.steps else ""
        self._title.setText("Check next" + again)
        new_steps = before is None or (before.steps, before.hint) != (state.steps, state.hint)
        if new_steps:
            self._build_steps(state)
        if before is None or replace(before, working=state.working) != state:
            self._build_causes(state)
        if new_steps and focused and self.step_cards:
            self.step_cards[0].toggle.setFocus(Qt.FocusReason.OtherFocusReason)
            self.ranked_anew.emit(self.step_cards[0])

    def _has_focus(self, column: QVBoxLayout) -> bool:
        widget = self.focusWidget()
        return any(
            item is not None and (w := item.widget()) is not None and widget is not None and w.isAncestorOf(widget)
            for item in (column.itemAt(i) for i in range(column.count()))
        )

    def _build_steps(self, state: FollowUpState) -> None:
        empty(self._steps)
        self.step_cards = []
        if state.hint:
            self._steps.addWidget(Words(state.hint))
        shown = state.steps if self._all else state.steps[:FIRST_SHOWN]
        for step in shown:
            card = StepCard(step, opened=step.rank == 1)
            card.outcome_chosen.connect(self._chosen)
            self.step_cards.append(card)
            self._steps.addWidget(card)
        hidden = len(state.steps) - len(shown)
        if hidden:
            more = BigButton(f"Show {hidden} more checks")
            more.clicked.connect(self._show_all)
            self._steps.addWidget(more)
        if state.steps:
            self._steps.addWidget(Words(STANDING[0]))
        self._steps.addStretch(1)

    def _chosen(self, step: StepState, outcome: OutcomeState) -> None:
        self.outcome_chosen.emit(step, outcome)

    def _show_all(self) -> None:
        self._all = True
        if self._state is not None:
            self._build_steps(self._state)
            self.step_cards[FIRST_SHOWN].toggle.setFocus(Qt.FocusReason.OtherFocusReason)

    def _build_causes(self, state: FollowUpState) -> None:
        empty(self._causes)
        if state.done:
            self._causes.addWidget(self._done_panel(state))
        if state.card:
            panel = Panel("On the job card")
            panel.column.addWidget(Words("On the job card", scale=1.25, bold=True))
            for line in state.card:
                panel.column.addWidget(Words(line.words))
            self._causes.addWidget(panel)
        if state.causes:
            self._causes.addWidget(self._cause_panel("Likely causes", state.causes))
        if state.ruled_out:
            self._causes.addWidget(self._cause_panel("Ruled out", state.ruled_out))
        if state.notes:
            panel = Panel("Notes")
            panel.column.addWidget(Words("To bear in mind", scale=1.25, bold=True))
            for note in state.notes:
                panel.column.addWidget(Words(note))
            self._causes.addWidget(panel)
        self._causes.addStretch(1)

    def _done_panel(self, state: FollowUpState) -> Panel:
        panel = Panel("Checked so far")
        panel.column.addWidget(Words("Checked so far", scale=1.25, bold=True))
        for done in state.done:
            panel.column.addWidget(Words(done.words))
        undo = BigButton("Undo the last change")
        undo.clicked.connect(self.undo_wanted)
        panel.column.addWidget(undo)
        return panel

    def _cause_panel(self, title: str, causes: tuple[CauseState, ...]) -> Panel:
        panel = Panel(title)
        panel.column.addWidget(Words(title, scale=1.25, bold=True))
        for cause in causes:
            panel.column.addWidget(_cause_row(cause))
        return panel

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the causes beside or under the checks, as the width allows."""
        wide = self.width() >= NARROW
        direction = QBoxLayout.Direction.LeftToRight if wide else QBoxLayout.Direction.TopToBottom
        if self._sides.direction() != direction:
            self._sides.setDirection(direction)
        super().resizeEvent(event)


def _cause_row(cause: CauseState) -> QWidget:
    row = QWidget()
    where = "" if cause.where in ("", "engine") else cause.where
    row.setAccessibleName(f"{cause.name}, {where or 'whole engine'}: {cause.probability_words}. {cause.repair}")
    column = QVBoxLayout(row)
    column.setContentsMargins(0, 4, 0, 4)
    column.setSpacing(2)
    head = QHBoxLayout()
    head.addWidget(Words(cause.name, bold=True), 1)
    percent = Words(cause.probability_words, bold=True)
    percent.setWordWrap(False)
    head.addWidget(percent, 0, Qt.AlignmentFlag.AlignTop)
    column.addLayout(head)
    bar = ProbabilityBar(f"Probability of {cause.name}")
    bar.show_value(cause.probability, cause.probability_words)
    column.addWidget(bar)
    column.addWidget(Words(f"{capital(where)}: {cause.repair}" if where else cause.repair))
    return row
