"""What a new card says beside the engine."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFormLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from firingend_gui.appearance import TOUCH
from firingend_gui.jobwork.shelf import Opening
from firingend_gui.parts.plain import BigButton, Words, closing_row
from firingend_gui.session import Session


class KeepJobWindow(QWidget):
    """A window beside the main one; ``settled`` carries an `Opening` and the initials."""

    settled = Signal(object, str)

    def __init__(self, parent: QWidget, session: Session, initials: str) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Keep as a job")
        self.setAccessibleName("Keep as a job")
        column = QVBoxLayout(self)
        column.setSpacing(12)
        column.addWidget(Words("Keep this engine as a job", scale=1.4, bold=True))
        column.addWidget(
            Words("From then on photos, readings and everything written down are kept as they come; nothing to save.")
        )
        form = QFormLayout()
        form.setVerticalSpacing(10)
        self.name = self._row(form, "&Name", session.name or session.engine.name, "what you call the job")
        self.customer = self._row(form, "&Customer", "", "reference, free text; may stay empty")
        self.mark = self._row(form, "&Mark", "", "what tells the engine from others of its kind")
        self.initials = self._row(form, "Your &initials", initials, "written beside every change")
        column.addLayout(form)
        done = BigButton("Keep as a job", strong=True)
        done.clicked.connect(self._settle)
        column.addLayout(closing_row(done, BigButton("Not now"), self))
        self.resize(640, 420)
        self.customer.setFocus()

    def _row(self, form: QFormLayout, text: str, value: str, hint: str) -> QLineEdit:
        field = QLineEdit(value)
        field.setPlaceholderText(hint)
        field.setMaxLength(500)
        field.setMinimumHeight(TOUCH)
        field.setAccessibleName(text.replace("&", ""))
        field.returnPressed.connect(self._settle)
        label = QLabel(text)
        label.setBuddy(field)
        label.setMinimumHeight(TOUCH)
        form.addRow(label, field)
        return field

    def _settle(self) -> None:
        name, customer, mark = (field.text().strip() for field in (self.name, self.customer, self.mark))
        self.settled.emit(Opening(name, customer, mark), self.initials.text().strip())
        self.close()
