"""The colour of a nose: a patch of it, its numbers, and what was taken for neutral."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from firingend_gui.parts.plain import Words
from firingend_gui.states import SwatchState

SIDE: Final = 38
_FIXED: Final = QSizePolicy.Policy.Fixed


class Patch(QWidget):
    """A square of one colour; crossed out when the colour is not known."""

    def __init__(self) -> None:
        super().__init__()
        self.rgb: tuple[int, int, int] | None = None
        self.setFixedSize(SIDE, SIDE)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the square."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        square = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        # The same frame on a light and on a dark window: colours beside one another change each other.
        painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Mid), 1.5))
        if self.rgb is not None:
            painter.setBrush(QColor(*self.rgb))
        painter.drawRoundedRect(square, 3, 3)
        if self.rgb is None:
            painter.drawLine(square.topLeft(), square.bottomRight())
        painter.end()


class SwatchRow(QWidget):
    """Shows a `SwatchState`."""

    def __init__(self, name: str, *, short: bool = False) -> None:
        super().__init__()
        self._short = short
        self.setAccessibleName(name)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(8)
        self.patch = Patch()
        line.addWidget(self.patch, 0, Qt.AlignmentFlag.AlignTop)
        words = QVBoxLayout()
        words.setSpacing(0)
        self._lab, self._neutral = Words(), Words(scale=0.85)
        for label in (self._lab, self._neutral):
            # Words that may wrap ask for more height than they need.
            label.setWordWrap(False)
            label.setSizePolicy(QSizePolicy.Policy.Ignored if short else QSizePolicy.Policy.Preferred, _FIXED)
        words.addWidget(self._lab)
        words.addWidget(self._neutral)
        line.addLayout(words, 1)
        self.hide()

    def show_state(self, state: SwatchState | None) -> None:
        """Show this colour, or nothing."""
        self.setVisible(state is not None)
        if state is None:
            return
        self.patch.rgb = state.rgb
        self.patch.update()
        self._lab.say(state.lab_words)
        self._neutral.say(state.neutral_short if self._short else state.neutral_words)
        self.setToolTip(state.neutral_words)
        self.setAccessibleDescription(". ".join(w for w in (state.lab_words, state.neutral_words) if w))
