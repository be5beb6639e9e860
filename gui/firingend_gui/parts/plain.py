"""Plain building blocks: words of a size, buttons for gloved hands, a row that wraps."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetrics, QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import (
    QApplication,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLayout,
    QLayoutItem,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from firingend_gui.appearance import TOUCH, TYPE_SIZE


class Words(QLabel):
    """Text that wraps, of a size relative to the application's, and follows it when it changes."""

    def __init__(self, text: str = "", *, scale: float = 1.0, bold: bool = False) -> None:
        super().__init__(text)
        self._scale = scale
        self._bold = bold
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.NoTextInteraction)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
        TYPE_SIZE.changed.connect(self._resize_type)
        self._resize_type()

    def say(self, text: str) -> None:
        """Show this text; nothing at all when it is empty."""
        self.setText(text)
        self.setVisible(bool(text))

    def _resize_type(self) -> None:
        font = QFont(QApplication.font())
        font.setPointSizeF(font.pointSizeF() * self._scale)
        font.setBold(self._bold)
        self.setFont(font)


class BigButton(QPushButton):
    """A button that a gloved finger can hit; ``name`` is what a screen reader says."""

    def __init__(self, text: str, name: str = "", *, strong: bool = False) -> None:
        super().__init__(text)
        self.setAccessibleName(name or text.replace("&", ""))
        self.setAutoDefault(False)
        if strong:
            font = QFont()  # only the weight is its own; the size stays the application's
            font.setBold(True)
            self.setFont(font)
        TYPE_SIZE.changed.connect(self._resize)
        self._resize()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the button, and a frame that shows from arm's length that it has the focus."""
        super().paintEvent(event)
        _focus_frame(self)

    def _resize(self) -> None:
        height = max(TOUCH, round(QFontMetrics(QApplication.font()).height() * 2.1))
        self.setMinimumHeight(height)


class MenuButton(QToolButton):
    """A button of the same size that opens a menu."""

    def __init__(self, text: str, name: str) -> None:
        super().__init__()
        self.setText(text)
        self.setAccessibleName(name)
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
        self.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.setMinimumHeight(TOUCH)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.MinimumExpanding, QSizePolicy.Policy.Fixed)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the button and its focus."""
        super().paintEvent(event)
        _focus_frame(self)


def _focus_frame(widget: QWidget) -> None:
    if widget.hasFocus():
        painter = QPainter(widget)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(widget.palette().color(QPalette.ColorRole.Highlight), 3))
        painter.drawRoundedRect(QRectF(widget.rect()).adjusted(1.5, 1.5, -1.5, -1.5), 4, 4)
        painter.end()


class Panel(QFrame):
    """A framed piece of the window with a column of things in it."""

    def __init__(self, name: str, *, margin: int = 12, spacing: int = 8, heavy: bool = False) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self._heavy = heavy
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(margin, margin, margin, margin)
        self.column.setSpacing(spacing)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw ground and frame in the palette's colours."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        palette = self.palette()
        role = QPalette.ColorRole.WindowText if self._heavy else QPalette.ColorRole.Mid
        width = 2.0 if self._heavy else 1.0
        painter.setPen(QPen(palette.color(role), width))
        painter.setBrush(palette.color(QPalette.ColorRole.Base))
        inset = width / 2
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(inset, inset, -inset, -inset), 6, 6)
        painter.end()


class WrappingRow(QLayout):
    """Lays widgets side by side and goes on in the next line when one does not fit."""

    def __init__(self, spacing: int = 8) -> None:
        super().__init__()
        self._items: list[QLayoutItem] = []
        self.setSpacing(spacing)
        self.setContentsMargins(0, 0, 0, 0)

    def addItem(self, item: QLayoutItem) -> None:
        """Take one more item (called by Qt)."""
        self._items.append(item)

    def count(self) -> int:
        """How many items there are."""
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:
        """Item at an index, None past the end, as Qt asks for it."""
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:
        """Remove an item and hand it over."""
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def hasHeightForWidth(self) -> bool:
        """Narrower means higher."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Height all lines need at this width."""
        return self._lay(QRect(0, 0, width, 0), move=False)

    def sizeHint(self) -> QSize:
        """Smallest useful size."""
        return self.minimumSize()

    def minimumSize(self) -> QSize:
        """Size of the largest item."""
        size = QSize()
        for item in self._items:
            size = size.expandedTo(item.minimumSize())
        return size

    def setGeometry(self, rect: QRect) -> None:
        """Place the items (called by Qt)."""
        super().setGeometry(rect)
        self._lay(rect, move=True)

    def _lay(self, rect: QRect, *, move: bool) -> int:
        x, y, line = rect.x(), rect.y(), 0
        for item in self._items:
            hint = item.sizeHint()
            if x > rect.x() and x + hint.width() > rect.right() + 1:
                x, y, line = rect.x(), y + line + self.spacing(), 0
            if move:
                item.setGeometry(QRect(QPoint(x, y), hint))
            x += hint.width() + self.spacing()
            line = max(line, hint.height())
        return y + line - rect.y()


def empty(layout: QLayout) -> None:
    """Take every widget out of a layout and let Qt delete it once it is safe."""
    while (item := layout.takeAt(0)) is not None:
        widget: QWidget | None = item.widget()
        if widget is not None:
            # Hidden first: a widget that keeps the focus while it waits for deletion would swallow keys.
            widget.hide()
            widget.setParent(None)
            widget.deleteLater()


def closing_row(done: BigButton, back: BigButton, dialog: QWidget) -> QHBoxLayout:
    """The last row of a window that asks: what writes it down, and what (also by Escape) leaves all as it was."""
    back.setShortcut("Escape")
    back.clicked.connect(dialog.close)
    row = QHBoxLayout()
    row.addWidget(done, 1)
    row.addWidget(back, 1)
    return row
