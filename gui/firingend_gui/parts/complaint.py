"""What the customer says, which symptoms there are, and how the engine ran before the plugs came out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import get_args

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QScrollArea,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from firingend.diagnosis.evidence import HowRun
from firingend_gui.appearance import TOUCH
from firingend_gui.parts.plain import BigButton, Words, closing_row
from firingend_gui.services import Choice
from firingend_gui.session import Session
from firingend_gui.wording import RUN_WORDS

COLUMNS = 2
NOT_KNOWN = -1
LONGEST_RUN_MIN = 100_000


class ComplaintWindow(QWidget):
    """A window beside the main one; ``settled`` carries the words, the symptoms present, and how it was run."""

    settled = Signal(str, list, object)

    def __init__(self, parent: QWidget, session: Session, choices: Sequence[Choice]) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Complaint and symptoms")
        self.setAccessibleName("Complaint and symptoms")
        self._session = session
        column = QVBoxLayout(self)
        self.complaint = QLineEdit(session.complaint)
        self.complaint.returnPressed.connect(self._settle)
        _labelled(column, "&What the customer says", self.complaint)
        column.addWidget(Words("Tick what the engine does", bold=True))
        column.addWidget(self._boxes(choices), 1)
        column.addLayout(self._run_row())
        done = BigButton("Write it down", strong=True)
        done.clicked.connect(self._settle)
        column.addLayout(closing_row(done, BigButton("Leave it as it was"), self))
        self.resize(880, 700)
        self.complaint.setFocus()

    def _boxes(self, choices: Sequence[Choice]) -> QScrollArea:
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setAccessibleName("Symptoms")
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        inside = QWidget()
        grid = QGridLayout(inside)
        self.boxes: dict[str, QCheckBox] = {}
        rows = max(1, (len(choices) + COLUMNS - 1) // COLUMNS)
        for position, choice in enumerate(choices):
            box = QCheckBox(choice.words[:1].upper() + choice.words[1:])
            box.setMinimumHeight(TOUCH)
            box.setAccessibleName(choice.words)
            box.setChecked(self._session.symptoms.get(choice.id, False))
            self.boxes[choice.id] = box
            grid.addWidget(box, position % rows, position // rows)
        area.setWidget(inside)
        return area

    def _run_row(self) -> QHBoxLayout:
        run = self._session.run
        self.how = QComboBox()
        for how in get_args(HowRun):
            self.how.addItem(RUN_WORDS[how][:1].upper() + RUN_WORDS[how][1:], how)
        self.how.setCurrentIndex(self.how.findData(run.how))
        self.minutes = QSpinBox()
        self.minutes.setRange(NOT_KNOWN, LONGEST_RUN_MIN)
        self.minutes.setSpecialValueText("not known")
        self.minutes.setSuffix(" min")
        self.minutes.setButtonSymbols(QSpinBox.ButtonSymbols.NoButtons)
        self.minutes.setValue(NOT_KNOWN if run.minutes_on_plugs is None else round(run.minutes_on_plugs))
        self._minutes_shown = self.minutes.value()
        row = QHBoxLayout()
        for text, field in (("&Before the plugs came out it was", self.how), ("&Run on these plugs", self.minutes)):
            column = QVBoxLayout()
            _labelled(column, text, field)
            row.addLayout(column, 1)
        return row

    def _settle(self) -> None:
        run = replace(self._session.run, how=self.how.currentData())
        if self.minutes.value() != self._minutes_shown:  # a fraction of a minute in the case is not rounded away
            known = self.minutes.value() != NOT_KNOWN
            run = replace(run, minutes_on_plugs=float(self.minutes.value()) if known else None)
        self.settled.emit(self.complaint.text(), [i for i, box in self.boxes.items() if box.isChecked()], run)
        self.close()


def _labelled(column: QVBoxLayout, text: str, field: QWidget) -> None:
    """Put a field under its label, and let the label's key lead to it."""
    label = QLabel(text)
    label.setBuddy(field)
    field.setMinimumHeight(TOUCH)
    field.setAccessibleName(text.replace("&", ""))
    column.addWidget(label)
    column.addWidget(field)
