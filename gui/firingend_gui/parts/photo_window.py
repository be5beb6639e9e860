"""The whole photograph in a window of its own, with the firing end outlined."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import (
    QCloseEvent,
    QColor,
    QImage,
    QKeySequence,
    QPainter,
    QPainterPath,
    QPen,
    QPixmap,
    QResizeEvent,
    QShortcut,
    QTransform,
)
from PySide6.QtWidgets import QGraphicsPathItem, QGraphicsScene, QGraphicsView, QHBoxLayout, QVBoxLayout, QWidget

from firingend.reading.reading import Box
from firingend_gui.keys import PHOTO_KEYS
from firingend_gui.parts.outlines import OutlineLegend, path_of, pens
from firingend_gui.parts.picture import PictureStore, around
from firingend_gui.parts.plain import BigButton, Words
from firingend_gui.parts.swatch import SwatchRow
from firingend_gui.states import PartState, PictureRef, SwatchState

LONGEST: Final = 4000
"""Longest side in pixels that is loaded: a 12-megapixel photo at full size."""

CLOSER: Final = 1.5
HEAVIER: Final = 1.4
"""Lines here have more room than on a card."""

ROOM: Final = 1.6
"""Side of what is shown at first, as a multiple of the longer side of the firing end's box."""

# Drawn over photographs of every colour: a bright line on a dark one shows on soot, ceramic and skin alike.
_BRIGHT: Final = QColor("#ffd21f")
_DARK: Final = QColor("#000000")


class PhotoView(QGraphicsView):
    """A photograph that fits the window until one goes closer."""

    def __init__(self) -> None:
        super().__init__()
        self._scene = QGraphicsScene(self)
        self.setScene(self._scene)
        self.setRenderHints(QPainter.RenderHint.SmoothPixmapTransform | QPainter.RenderHint.Antialiasing)
        self.setBackgroundBrush(QColor("#3b3b3b"))
        self.setDragMode(QGraphicsView.DragMode.ScrollHandDrag)
        self._in_sight: QRectF | None = QRectF()
        self.outlines = 0
        self._parts: list[QGraphicsPathItem] = []

    def show_image(self, image: QImage, box: Box | None, others: tuple[Box, ...], full_width: int) -> None:
        """Show the photograph with boxes given in pixels of the photograph at full size."""
        self._scene.clear()
        self._parts = []
        self._scene.addPixmap(QPixmap.fromImage(image))
        self._scene.setSceneRect(QRectF(image.rect()))
        scale = image.width() / full_width if full_width else 1.0
        for other in others:
            self._outline(other, scale, dashed=True)
        if box is not None:
            self._outline(box, scale, dashed=False)
        self.fit()

    def _outline(self, box: Box, scale: float, *, dashed: bool) -> None:
        x0, y0, x1, y1 = (v * scale for v in box)
        style = Qt.PenStyle.DashLine if dashed else Qt.PenStyle.SolidLine
        for colour, width in ((_DARK, 4.5 if not dashed else 4.0), (_BRIGHT, 2.5 if not dashed else 2.0)):
            pen = QPen(colour, width, style if colour is _BRIGHT else Qt.PenStyle.SolidLine)
            pen.setCosmetic(True)
            self._scene.addRect(QRectF(x0, y0, x1 - x0, y1 - y0), pen)
        self.outlines += 1

    def show_parts(self, parts: tuple[PartState, ...], scale: float, shown: bool) -> None:
        """Outline parts of a firing end; ``scale`` leads from pixels of the photograph to those loaded."""
        photo = QPainterPath()
        photo.addRect(self._scene.sceneRect())
        for under in (True, False):
            for part in parts:
                halo, line = pens(part.part, HEAVIER)
                path = QTransform.fromScale(scale, scale).map(path_of(part.outlines))
                item = self._scene.addPath(path.intersected(photo))
                item.setPen(halo if under else line)
                self._parts.append(item)
        self.outline_parts(shown)

    def outline_parts(self, shown: bool) -> None:
        """Show or hide the outlines of the parts."""
        for item in self._parts:
            item.setVisible(shown)

    @property
    def parts_outlined(self) -> int:
        """How many parts are outlined at the moment."""
        return sum(item.isVisible() for item in self._parts) // 2

    def look_at(self, box: Box, scale: float) -> None:
        """Go as close as shows a firing end with some room round it."""
        x0, y0, x1, y1 = (v * scale for v in around(box, 0, 0, ROOM))
        self._show_part(QRectF(x0, y0, x1 - x0, y1 - y0).intersected(self._scene.sceneRect()))

    def _show_part(self, part: QRectF) -> None:
        self._in_sight = part
        self.fitInView(part, Qt.AspectRatioMode.KeepAspectRatio)

    def fit(self) -> None:
        """Show the whole photograph."""
        self._show_part(self._scene.sceneRect())

    def go(self, factor: float) -> None:
        """Go closer (above 1) or further away."""
        self._in_sight = None
        self.scale(factor, factor)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep in sight what was, until somebody goes closer or further away."""
        super().resizeEvent(event)
        if self._in_sight is not None:
            self._show_part(self._in_sight)


class PhotoWindow(QWidget):
    """Opens at once and fills when the photograph has been loaded."""

    def __init__(
        self,
        parent: QWidget,
        store: PictureStore,
        ref: PictureRef,
        title: str,
        spoken: str,
        swatch: SwatchState | None = None,
    ) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(f"{title} · {ref.file.name}")
        self.setAccessibleName(f"Photo of {title}")
        self._ref = ref
        self._open = True
        self._switch = store.outlines
        column = QVBoxLayout(self)
        self._words = Words(spoken, scale=1.15, bold=True)
        column.addWidget(self._words)
        self.view = PhotoView()
        self.view.setAccessibleName(f"Whole photo with the firing end of {title} outlined")
        self.view.setAccessibleDescription(spoken)
        column.addWidget(self.view, 1)
        below = QHBoxLayout()
        self.swatch = SwatchRow(f"Colour of the nose of {title}")
        self.swatch.show_state(swatch)
        self.legend = OutlineLegend(tuple(part.part for part in ref.parts))
        below.setSpacing(28)
        below.addWidget(self.swatch)
        below.addWidget(self.legend, 1)
        column.addLayout(below)
        self._switch.changed.connect(self._outline)
        column.addLayout(self._buttons())
        self.resize(1000, 720)
        store.fetch(ref_whole(ref), LONGEST, self._show, self._fail)

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        acts = (
            ("+", lambda: self.view.go(CLOSER)),
            ("-", lambda: self.view.go(1 / CLOSER)),
            ("0", self.view.fit),
            ("O", self._switch.turn),
            ("Escape", self.close),
        )
        for key, act in acts:
            button = BigButton(PHOTO_KEYS[key])
            button.clicked.connect(lambda _=False, act=act: act())
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.activated.connect(lambda act=act: act())
            row.addWidget(button)
        plus = QShortcut(QKeySequence("="), self)
        plus.activated.connect(lambda: self.view.go(CLOSER))
        return row

    def _show(self, image: QImage) -> None:
        if self._open:
            ref = self._ref
            self.view.show_image(image, ref.box, ref.others, ref.full_width)
            scale = image.width() / ref.full_width if ref.full_width else 1.0
            self.view.show_parts(ref.parts, scale, self._switch.on)
            self._outline()
            if ref.box is not None and ref.parts:
                self.view.look_at(ref.box, scale)

    def _outline(self) -> None:
        self.view.outline_parts(self._switch.on)
        self.legend.setVisible(self._switch.on and bool(self._ref.parts))

    def _fail(self, error: Exception) -> None:
        if self._open:
            self._words.say(str(error))

    def closeEvent(self, event: QCloseEvent) -> None:
        """Drop the photograph if it is still on its way."""
        self._open = False
        super().closeEvent(event)


def ref_whole(ref: PictureRef) -> PictureRef:
    """The same photograph, whole."""
    return PictureRef(ref.file, None, full_width=ref.full_width)
