"""Top of the window: engine, complaint, and the four things one does most."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from firingend_gui.parts.plain import BigButton, Words
from firingend_gui.states import HeaderState


class Header(QWidget):
    """Shows a `HeaderState`."""

    add_photos = Signal()
    edit_complaint = Signal()
    save_report = Signal()
    undo = Signal()

    def __init__(self) -> None:
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
        line.addLayout(words, 1)
        self._progress = Words(bold=True)
        self._progress.setWordWrap(False)
        line.addWidget(self._progress)
        self._photos = BigButton("Add photos…", "Add photos of plugs", strong=True)
        self._edit = BigButton("Complaint…", "Complaint and symptoms")
        self._report = BigButton("Save report…", "Save the report as HTML or PDF")
        self._undo = BigButton("Undo", "Undo the last change")
        for button, signal in (
            (self._photos, self.add_photos),
            (self._edit, self.edit_complaint),
            (self._report, self.save_report),
            (self._undo, self.undo),
        ):
            button.clicked.connect(signal)
            line.addWidget(button)

    @property
    def first(self) -> QWidget:
        """What takes the focus when one comes here by key."""
        return self._photos

    def show_state(self, state: HeaderState) -> None:
        """Show this state."""
        self._title.say(state.title)
        self._engine.say(state.engine)
        complaint = "Complaint: " + (state.complaint or "none written down") if state.can_save else ""
        self._complaint.say(complaint + (f" · {state.symptoms}" if state.symptoms else ""))
        self._progress.say(state.progress)
        self._edit.setEnabled(state.can_save)
        self._report.setEnabled(state.can_save)
        self._undo.setEnabled(bool(state.undo_words))
        told = f"Undo: {state.undo_words}" if state.undo_words else "Nothing to undo"
        self._undo.setAccessibleDescription(told)
        self._undo.setToolTip(told)
