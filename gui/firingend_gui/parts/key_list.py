"""A window that lists the keys."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

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
        self._group(column, "Anywhere", {k: i.value for i, k in KEYS.items()} | {"Alt+1 … Alt+9": "To that cylinder"})
        self._group(column, "On a cylinder's picture", CARD_KEYS)
        self._group(column, "On a whole photo", PHOTO_KEYS)
        self._group(column, "In the list of jobs, and over time", PAGE_KEYS)
        close = BigButton("Close")
        close.setShortcut("Escape")
        close.clicked.connect(self.close)
        column.addWidget(close)
        self.setMinimumWidth(520)

    def _group(self, column: QVBoxLayout, title: str, keys: dict[str, str]) -> None:
        column.addWidget(Words(title, scale=1.2, bold=True))
        grid = QGridLayout()
        grid.setColumnStretch(1, 1)
        for line, (key, words) in enumerate(keys.items()):
            grid.addWidget(Words(key, bold=True), line, 0)
            grid.addWidget(Words(words), line, 1)
        column.addLayout(grid)
