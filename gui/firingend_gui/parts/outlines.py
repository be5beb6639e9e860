"""Outlines of the parts of a firing end, drawn over photographs; one switch for all of them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from PySide6.QtCore import QObject, QPointF, QRectF, QSettings, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPainterPath, QPaintEvent, QPalette, QPen, QPolygonF
from PySide6.QtWidgets import QApplication, QSizePolicy, QWidget

from firingend.comparison.plug_words import PART_WORDS
from firingend.reading.reading import Outline
from firingend_gui.states import PartState

# A bright line on a dark one shows on soot, ceramic and steel alike.
_BRIGHT: Final = {"nose": QColor("#ffd21f")}
_OTHER: Final = QColor("#ffffff")
_HALO: Final = QColor(0, 0, 0, 130)

_DASHES: Final[dict[str, tuple[float, ...]]] = {
    "nose": (),
    "centre-electrode": (1.5, 2.5),
    "strap": (5.0, 3.0),
    "rim": (9.0, 3.0),
    "threads": (9.0, 3.0, 1.5, 3.0),
}
"""Dashes and gaps in widths of the line; the nose, which counts most, has a whole line."""
assert set(_DASHES) == set(PART_WORDS)

WIDTH: Final = {"nose": 1.8}
OTHER_WIDTH: Final = 1.1
HALO: Final = 1.4
"""Widths in device-independent pixels; the halo's is what it has more than its line."""


class OutlineSwitch(QObject):
    """Whether outlines are drawn; remembered.

    Parameters
    ----------
    settings
        Where it is remembered; None to forget.
    """

    changed = Signal()

    def __init__(self, settings: QSettings | None = None) -> None:
        super().__init__()
        self._settings = settings
        stored = settings.value("look/outlines", True, bool) if settings is not None else True
        self.on = bool(stored)

    def turn(self) -> None:
        """On to off, off to on."""
        self.on = not self.on
        if self._settings is not None:
            self._settings.setValue("look/outlines", self.on)
        self.changed.emit()


def path_of(outlines: Iterable[Outline]) -> QPainterPath:
    """Closed polygons, in pixels of the photograph at full size."""
    path = QPainterPath()
    for outline in outlines:
        if len(outline) >= 3:
            path.addPolygon(QPolygonF([QPointF(x, y) for x, y in outline]))
            path.closeSubpath()
    return path


def pens(part: str, heavier: float = 1.0) -> tuple[QPen, QPen]:
    """Halo and line of a part, ``heavier`` by a factor; their width does not grow with the picture."""
    width = WIDTH.get(part, OTHER_WIDTH) * heavier
    halo = QPen(_HALO, width + HALO * heavier)
    line = QPen(_BRIGHT.get(part, _OTHER), width)
    if _DASHES[part]:
        line.setDashPattern(list(_DASHES[part]))
    for pen in (halo, line):
        pen.setCosmetic(True)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return halo, line


def draw_parts(
    painter: QPainter, parts: Iterable[PartState], scale: float, shift: QPointF, heavier: float = 1.0
) -> None:
    """Draw outlines; ``scale`` and ``shift`` lead from pixels of the photograph to those of the painter."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.translate(shift)
    painter.scale(scale, scale)
    drawn = [(pens(part.part, heavier), path_of(part.outlines)) for part in parts]
    # Every halo under every line: where two parts meet, neither hides the other.
    for (halo, _), path in drawn:
        painter.setPen(halo)
        painter.drawPath(path)
    for (_, line), path in drawn:
        painter.setPen(line)
        painter.drawPath(path)
    painter.restore()


class OutlineLegend(QWidget):
    """Says which line goes round which part."""

    _SAMPLE: Final = 44

    def __init__(self, parts: tuple[str, ...]) -> None:
        super().__init__()
        self._parts = tuple(part for part in PART_WORDS if part in parts)
        self.setAccessibleName("Outlined: " + ", ".join(PART_WORDS[part] for part in self._parts))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """One line of type, and as wide as all samples."""
        metrics = QFontMetrics(QApplication.font())
        words = sum(metrics.horizontalAdvance(PART_WORDS[part]) + self._SAMPLE + 32 for part in self._parts)
        return QSize(words, metrics.height() + 10)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw a sample of each line on grey, with its part beside it."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        metrics = painter.fontMetrics()
        middle, x = self.height() / 2, 0.0
        for part in self._parts:
            box = QRectF(x, 2, self._SAMPLE, self.height() - 4)
            painter.fillRect(box, QColor("#77736c"))
            for pen in pens(part):
                painter.setPen(pen)
                painter.drawLine(QPointF(x + 5, middle), QPointF(x + self._SAMPLE - 5, middle))
            x += self._SAMPLE + 8
            painter.setPen(self.palette().color(QPalette.ColorRole.WindowText))
            words = PART_WORDS[part]
            width = metrics.horizontalAdvance(words)
            painter.drawText(QRectF(x, 0, width + 2, self.height()), Qt.AlignmentFlag.AlignVCenter, words)
            x += width + 24
        painter.end()
