"""Small drawings that go with words: a mark for each label, a bar for a probability, a warning triangle.

Marks differ in shape as well as in colour, and always stand beside the words they belong to.
"""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPainterPath, QPaintEvent, QPalette, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

# Colours of deposits are data: the same on a light and on a dark window.
_CERAMIC: Final = {"lean-white": QColor("#f7f5ef"), "normal-tan": QColor("#c39a6b"), "wet": QColor("#e9dcc3")}
_BLACK: Final = QColor("#1c1b1a")
_FILM: Final = QColor("#3f7fb5")
_EDGE: Final = QColor("#6f6f6f")


class LabelMark(QWidget):
    """Mark of one label: pale ring, tan disc with a tick, speckled black, glossy black, drop, question mark."""

    def __init__(self, side: int = 36) -> None:
        super().__init__()
        self._label = ""
        self._side = side
        self.setFixedSize(side, side)

    def show_label(self, label: str) -> None:
        """Draw the mark of this label; nothing for an empty one."""
        self._label = label
        self.setVisible(bool(label))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the mark."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.scale(self._side / 36, self._side / 36)
        disc = QRectF(3, 3, 30, 30)
        painter.setPen(QPen(_EDGE, 2))
        if self._label in ("rich-carbon", "oil-fouled"):
            painter.setBrush(_BLACK)
            painter.drawEllipse(disc)
            (_speckles if self._label == "rich-carbon" else _gloss)(painter)
        elif self._label == "wet":
            painter.setBrush(_CERAMIC["wet"])
            painter.drawEllipse(disc)
            _drop(painter)
        elif self._label in _CERAMIC:
            painter.setBrush(_CERAMIC[self._label])
            painter.drawEllipse(disc)
            (_tick if self._label == "normal-tan" else _ring)(painter)
        elif self._label:
            _question(painter, self.palette())
        painter.end()


def _speckles(painter: QPainter) -> None:
    painter.setPen(QPen(QColor("#8d8a86"), 2.4, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    for x, y in ((12, 11), (20, 9), (26, 15), (10, 19), (18, 18), (25, 23), (14, 26), (20, 28)):
        painter.drawPoint(QPointF(x, y))


def _gloss(painter: QPainter) -> None:
    painter.setPen(QPen(QColor("#ffffff"), 3, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    painter.drawArc(QRectF(9, 9, 18, 18), 95 * 16, 80 * 16)
    painter.drawPoint(QPointF(25, 24))


def _tick(painter: QPainter) -> None:
    painter.setPen(QPen(_BLACK, 3, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    painter.drawPolyline(QPolygonF([QPointF(11, 18), QPointF(16, 24), QPointF(26, 12)]))


def _ring(painter: QPainter) -> None:
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(_EDGE, 1.5))
    painter.drawEllipse(QRectF(12, 12, 12, 12))


def _drop(painter: QPainter) -> None:
    path = QPainterPath(QPointF(18, 7))
    path.cubicTo(QPointF(24, 15), QPointF(26, 18), QPointF(26, 21))
    path.cubicTo(QPointF(26, 31), QPointF(10, 31), QPointF(10, 21))
    path.cubicTo(QPointF(10, 18), QPointF(12, 15), QPointF(18, 7))
    painter.setPen(QPen(QColor("#ffffff"), 1.5))
    painter.setBrush(_FILM)
    painter.drawPath(path)


def _question(painter: QPainter, palette: QPalette) -> None:
    painter.setPen(QPen(palette.color(QPalette.ColorRole.WindowText), 2, Qt.PenStyle.DashLine))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRoundedRect(QRectF(4, 4, 28, 28), 5, 5)
    font = QFont(painter.font())
    font.setPixelSize(21)
    font.setBold(True)
    painter.setFont(font)
    painter.drawText(QRectF(4, 4, 28, 28), Qt.AlignmentFlag.AlignCenter, "?")


class ProbabilityBar(QWidget):
    """A probability as a length; the number always stands in words beside it."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self._value = 0.0
        self.setAccessibleName(name)
        self.setFixedHeight(16)
        self.setMinimumWidth(60)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def show_value(self, value: float, words: str) -> None:
        """Show a probability in 0..1."""
        self._value = min(max(value, 0.0), 1.0)
        self.setAccessibleDescription(words)
        self.update()

    def sizeHint(self) -> QSize:
        """Wide enough to compare lengths."""
        return QSize(140, 16)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw track and length."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        palette = self.palette()
        track = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        painter.setPen(palette.color(QPalette.ColorRole.Mid))
        painter.setBrush(palette.color(QPalette.ColorRole.Base))
        painter.drawRoundedRect(track, 4, 4)
        length = QRectF(track)
        length.setWidth(max(track.width() * self._value, 3.0 if self._value > 0 else 0.0))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(palette.color(QPalette.ColorRole.Highlight))
        painter.drawRoundedRect(length, 4, 4)
        painter.end()


class Triangle(QWidget):
    """A warning triangle, for beside the word "Caution"."""

    def __init__(self, side: int = 26) -> None:
        super().__init__()
        self.setFixedSize(side, side)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it in the window's own text colour."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.scale(self.width() / 24, self.height() / 24)
        ink = self.palette().color(QPalette.ColorRole.WindowText)
        painter.setPen(QPen(ink, 2.2, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin))
        painter.drawPolygon(QPolygonF([QPointF(12, 2.5), QPointF(22, 21), QPointF(2, 21)]))
        painter.drawLine(QPointF(12, 9), QPointF(12, 14))
        painter.drawPoint(QPointF(12, 17.6))
        painter.end()
