"""A window that lists the keys."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from firingend_gui.keys import CARD_KEYS, KEYS, PAGE_KEYS, PHOTO_KEYS
from firingend_gui.parts.plain import BigButton, Words


class KeyList(QWidget):
    """Lists what every key does."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Keys")
        self.setAccessibleName("Keys")
        column = QVBoxLayout(self)
        sides = QHBoxLayout()
        sides.setSpacing(36)
        left, right = QVBoxLayout(), QVBoxLayout()
        for side in (left, right):
            side.setSpacing(6)  # else that between the two sides counts within them as well
        self._group(left, "Anywhere", {k: i.value for i, k in KEYS.items()} | {"Alt+1 … Alt+9": "To that cylinder"})
        self._group(right, "On a cylinder's picture", CARD_KEYS)
        self._group(right, "On a whole photo", PHOTO_KEYS)
        self._group(right, "In the list of jobs, and over time", PAGE_KEYS)
        for side in (left, right):
            side.addStretch(1)
            sides.addLayout(side, 1)
        column.addLayout(sides)
        close = BigButton("Close")
        close.setShortcut("Escape")
        close.clicked.connect(self.close)
        column.addWidget(close)
        self.setMinimumWidth(820)

    def _group(self, column: QVBoxLayout, title: str, keys: dict[str, str]) -> None:
        head = Words(title, scale=1.2, bold=True)
        head.setWordWrap(False)
        column.addWidget(head)
        grid = QGridLayout()
        grid.setColumnStretch(1, 1)
        for line, (key, words) in enumerate(keys.items()):
            for place, label in enumerate((Words(key, bold=True), Words(words))):
                label.setWordWrap(False)  # wrapping words would ask for lines that they do not need
                grid.addWidget(label, line, place)
        column.addLayout(grid)
