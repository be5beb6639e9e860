"""Pieces of photographs: loaded away from the window, kept for a while, shown large."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QImage, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import QSizePolicy, QStyle, QStyleOptionFocusRect, QWidget

from firingend.reading.reading import Box
from firingend_gui.parts.outlines import OutlineSwitch, draw_parts
from firingend_gui.running import Runner
from firingend_gui.states import PictureRef

CROP_SIDE: Final = 1200
"""Longest side in pixels of what is loaded for a card: enough for a large card on a dense screen."""

CROP_ROOM: Final = 2.0
FOCUS_ROOM: Final = 1.2
"""Sides of what is loaded and of what is always in sight, as multiples of the longer side of the firing end's box;
what lies between them fills cards that are not square."""

SMALL: Final = 260.0
LIGHTER: Final = 0.75
"""On pictures lower than this many pixels, outlines are thinner by this factor, to leave the plug in sight."""

MOST_KEPT: Final = 40


class GivesPixels(Protocol):
    """The one service this needs."""

    def pixels(self, file: Path, box: Box | None, longest: int) -> NDArray[np.uint8]:
        """Upright sRGB pixels of a photograph or of a box in it."""
        ...


def to_image(pixels: NDArray[np.uint8]) -> QImage:
    """Copy uint8 pixels (height, width, 3) into an image that owns its memory."""
    tight = np.ascontiguousarray(pixels)
    height, width, _ = tight.shape
    return QImage(tight.tobytes(), width, height, 3 * width, QImage.Format.Format_RGB888).copy()


def around(box: Box, width: float, height: float, room: float = CROP_ROOM) -> Box:
    """Square round a box, moved into the photograph and no larger than it.

    Parameters
    ----------
    box
        Round the firing end, in pixels.
    width, height
        Size of the photograph in the same pixels; 0 when not known.
    room
        Side of the square as a multiple of the longer side of the box.

    Examples
    --------
    >>> around((10, 20, 30, 30), 100, 100, room=2.0)
    (0.0, 5.0, 40.0, 45.0)
    >>> around((0, 0, 30, 30), 100, 50, room=2.0)
    (0.0, 0.0, 60.0, 50.0)
    """
    x0, y0, x1, y1 = box
    side = max(x1 - x0, y1 - y0) * room
    left, right = _inside((x0 + x1) / 2, side, width)
    top, bottom = _inside((y0 + y1) / 2, side, height)
    return (left, top, right, bottom)


def _inside(middle: float, length: float, limit: float) -> tuple[float, float]:
    """Interval of this length round a middle, moved into 0..limit or cut down to it."""
    if limit and length >= limit:
        return 0.0, float(limit)
    start = middle - length / 2
    if limit:
        start = min(max(start, 0.0), limit - length)
    return start, start + length


def crop_of(ref: PictureRef) -> Box | None:
    """The piece of the photograph that is loaded for a card; None for all of it."""
    return None if ref.box is None else around(ref.box, ref.full_width, ref.full_height)


class PictureStore:
    """Loads pieces of photographs away from the GUI thread and keeps the newest ones.

    Parameters
    ----------
    services, runner
        What decodes, and what runs it elsewhere.
    outlines
        Whether the parts of the plugs are outlined on the pictures.
    """

    def __init__(self, services: GivesPixels, runner: Runner, outlines: OutlineSwitch | None = None) -> None:
        self.outlines = outlines or OutlineSwitch()
        self._services = services
        self._runner = runner
        self._kept: OrderedDict[tuple[Path, Box | None, int], QImage] = OrderedDict()
        self.loading = 0

    def fetch(
        self, ref: PictureRef, longest: int, show: Callable[[QImage], None], fail: Callable[[Exception], None]
    ) -> None:
        """Hand over the picture, at once when it is kept."""
        box = crop_of(ref)
        key = (ref.file, box, longest)
        if key in self._kept:
            self._kept.move_to_end(key)
            show(self._kept[key])
            return

        def keep(pixels: NDArray[np.uint8]) -> None:
            self.loading -= 1
            self._kept[key] = to_image(pixels)
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
            show(self._kept[key])

        def failed(error: Exception) -> None:
            self.loading -= 1
            fail(error)

        self.loading += 1
        self._runner.submit(lambda: self._services.pixels(ref.file, box, longest), keep, failed)


class PictureButton(QWidget):
    """A large picture that can be pressed; without a picture it says in words what to do.

    Signals: ``pressed_open`` when it is clicked or Return or Space is pressed on it, ``key`` with any other key.
    """

    pressed_open = Signal()

    def __init__(self, store: PictureStore) -> None:
        super().__init__()
        self._store = store
        self._ref: PictureRef | None = None
        self._image: QImage | None = None
        self._words = ""
        self._keys: dict[int, Callable[[], None]] = {}
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFixedHeight(240)
        store.outlines.changed.connect(self.update)

    @property
    def has_picture(self) -> bool:
        """Whether a picture has been loaded and is shown."""
        return self._image is not None

    def on_key(self, key: Qt.Key, act: Callable[[], None]) -> None:
        """Do this when the key is pressed while the picture has the focus."""
        self._keys[key.value] = act

    def show_ref(self, ref: PictureRef | None, words: str) -> None:
        """Show this piece of a photograph, or words when there is none."""
        self._words = words
        shape = Qt.CursorShape.ArrowCursor if ref is None else Qt.CursorShape.PointingHandCursor
        self.setCursor(shape)
        if ref is None or self._ref is None or (ref.file, ref.box) != (self._ref.file, self._ref.box):
            self._image = None
            self._ref = ref
            if ref is not None:
                self._fetch(ref)
        elif ref.parts != self._ref.parts:
            self._ref = replace(self._ref, parts=ref.parts)
        self.update()

    def _fetch(self, ref: PictureRef) -> None:
        def show(image: QImage) -> None:
            if self._wants(ref):  # an answer for a picture no longer wanted is dropped
                self._image = image
                self.update()

        def fail(error: Exception) -> None:
            if self._wants(ref):
                self._words = str(error)
                self.update()

        self._store.fetch(ref, CROP_SIDE, show, fail)

    def _wants(self, ref: PictureRef) -> bool:
        return self._ref is not None and (self._ref.file, self._ref.box) == (ref.file, ref.box)

    def sizeHint(self) -> QSize:
        """As high as it is set to be, and square."""
        return QSize(self.height(), self.height())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw picture or words, and the focus frame."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        palette = self.palette()
        area = QRectF(self.rect())
        if self._image is None:
            painter.fillRect(area, palette.color(QPalette.ColorRole.AlternateBase))
            painter.setPen(QPen(palette.color(QPalette.ColorRole.Mid), 2, Qt.PenStyle.DashLine))
            painter.drawRect(area.adjusted(2, 2, -2, -2))
            painter.setPen(palette.color(QPalette.ColorRole.WindowText))
            flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
            painter.drawText(area.adjusted(14, 14, -14, -14), int(flags), self._words)
        else:
            painter.fillRect(area, palette.color(QPalette.ColorRole.AlternateBase))
            target, image, source = _placed(area, self._image, self._ref)
            painter.drawImage(target, image, source)
            if self._ref is not None and self._ref.parts and self._store.outlines.on:
                self._draw_outlines(painter, target, source)
        if self.hasFocus():
            option = QStyleOptionFocusRect()
            option.initFrom(self)
            self.style().drawPrimitive(QStyle.PrimitiveElement.PE_FrameFocusRect, option, painter, self)
            painter.setPen(QPen(palette.color(QPalette.ColorRole.Highlight), 5))
            painter.drawRect(area.adjusted(2, 2, -2, -2))
        painter.end()

    def _draw_outlines(self, painter: QPainter, target: QRectF, source: QRectF) -> None:
        assert self._ref is not None and self._image is not None
        crop = crop_of(self._ref) or (0.0, 0.0, float(self._ref.full_width or self._image.width()), 0.0)
        loaded = self._image.width() / (crop[2] - crop[0])
        shown = target.width() / source.width()
        shift = target.topLeft() - (source.topLeft() + QPointF(crop[0], crop[1]) * loaded) * shown
        painter.save()
        painter.setClipRect(target)
        heavier = LIGHTER if target.height() < SMALL else 1.0
        draw_parts(painter, self._ref.parts, loaded * shown, shift, heavier)
        painter.restore()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Open on a click that ends on the picture."""
        if event.button() == Qt.MouseButton.LeftButton and self.rect().contains(event.position().toPoint()):
            self.pressed_open.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Open on Return, Enter and Space; run what else was set for a key."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.pressed_open.emit()
        elif event.key() in self._keys and not event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self._keys[event.key()]()
        else:
            super().keyPressEvent(event)


def _placed(area: QRectF, image: QImage, ref: PictureRef | None) -> tuple[QRectF, QImage, QRectF]:
    """Where to draw which part of a picture.

    A whole photograph fits inside. Of a crop, the firing end with a little room fits inside, and the area round it
    is filled with what lies beside it, as far as the crop goes.
    """
    loaded = QRectF(0, 0, image.width(), image.height())
    crop = crop_of(ref) if ref is not None else None
    if ref is None or ref.box is None or crop is None:
        scale = min(area.width() / loaded.width(), area.height() / loaded.height())
        source = loaded
    else:
        per_pixel = image.width() / (crop[2] - crop[0])
        x0, y0, x1, y1 = around(ref.box, 0, 0, FOCUS_ROOM)
        scale = min(area.width(), area.height()) / ((x1 - x0) * per_pixel)
        # Where the photo ends near the firing end, the room round it goes before the card shows a border.
        fills = max(area.width() / loaded.width(), area.height() / loaded.height())
        scale = min(max(scale, fills), scale * FOCUS_ROOM)
        source = QRectF(0, 0, area.width() / scale, area.height() / scale)
        source.moveCenter(QPointF(((x0 + x1) / 2 - crop[0]) * per_pixel, ((y0 + y1) / 2 - crop[1]) * per_pixel))
        source = _shifted_into(source, loaded)
    target = QRectF(0, 0, source.width() * scale, source.height() * scale)
    target.moveCenter(area.center())
    return target, image, source


def _shifted_into(part: QRectF, whole: QRectF) -> QRectF:
    """Move a rectangle into another, and cut off what still reaches over."""
    part.moveLeft(min(max(part.left(), 0.0), max(0.0, whole.width() - part.width())))
    part.moveTop(min(max(part.top(), 0.0), max(0.0, whole.height() - part.height())))
    return part.intersected(whole)
