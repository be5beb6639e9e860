"""What the customer says, and which symptoms there are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from firingend_gui.appearance import TOUCH
from firingend_gui.parts.plain import BigButton, Words
from firingend_gui.services import Choice

COLUMNS = 2


class ComplaintWindow(QWidget):
    """A window beside the main one; ``settled`` carries the words and the ids of the symptoms present."""

    settled = Signal(str, list)

    def __init__(
        self, parent: QWidget, complaint: str, symptoms: Mapping[str, bool], choices: Sequence[Choice]
    ) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Complaint and symptoms")
        self.setAccessibleName("Complaint and symptoms")
        column = QVBoxLayout(self)
        label = QLabel("&What the customer says")
        self.complaint = QLineEdit(complaint)
        self.complaint.setMinimumHeight(TOUCH)
        self.complaint.setAccessibleName("What the customer says")
        self.complaint.returnPressed.connect(self._settle)
        label.setBuddy(self.complaint)
        column.addWidget(label)
        column.addWidget(self.complaint)
        column.addWidget(Words("Tick what the engine does", bold=True))
        column.addWidget(self._boxes(symptoms, choices), 1)
        row = QHBoxLayout()
        done = BigButton("Write it down", strong=True)
        done.clicked.connect(self._settle)
        back = BigButton("Leave it as it was")
        back.setShortcut("Escape")
        back.clicked.connect(self.close)
        row.addWidget(done, 1)
        row.addWidget(back, 1)
        column.addLayout(row)
        self.resize(860, 660)
        self.complaint.setFocus()

    def _boxes(self, symptoms: Mapping[str, bool], choices: Sequence[Choice]) -> QScrollArea:
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setAccessibleName("Symptoms")
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        inside = QWidget()
        grid = QGridLayout(inside)
        self.boxes: dict[str, QCheckBox] = {}
        rows = (len(choices) + COLUMNS - 1) // COLUMNS
        for position, choice in enumerate(choices):
            box = QCheckBox(choice.words[:1].upper() + choice.words[1:])
            box.setMinimumHeight(TOUCH)
            box.setAccessibleName(choice.words)
            box.setChecked(symptoms.get(choice.id, False))
            self.boxes[choice.id] = box
            grid.addWidget(box, position % max(rows, 1), position // max(rows, 1))
        area.setWidget(inside)
        return area

    def _settle(self) -> None:
        self.settled.emit(self.complaint.text(), [i for i, box in self.boxes.items() if box.isChecked()])
        self.close()
