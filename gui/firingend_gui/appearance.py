"""How the window looks: Fusion style, palette of the system or light or dark, size of type."""

from __future__ import annotations

from enum import Enum
from typing import Final

from PySide6.QtCore import QObject, QSettings, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QPalette
from PySide6.QtWidgets import QApplication, QProxyStyle, QStyle, QStyleOption, QWidget

TEXT_SIZES: Final = (10.0, 11.5, 13.0, 15.0, 18.0, 22.0)
"""Point sizes one can step through."""

USUAL_TEXT: Final = 1
USUAL_TEXT_LARGE_SCREEN: Final = 2
LARGE_SCREEN: Final = 1200
"""Height in device-independent pixels from which a screen is seen from further away."""

LEAST_LINE: Final = 12
"""Lines of a menu lower than this in pixels are separators."""

MENU_BAR: Final = 34
"""Height of the menu bar: everything done often has a button as well, so it may be lower than those."""

TOUCH: Final = 44
"""Least height of anything to press, in device-independent pixels: wide enough for a glove."""


class Appearance(Enum):
    """Which palette to use."""

    SYSTEM = "As the system"
    LIGHT = "Light"
    DARK = "Dark"


_SCHEMES: Final = {
    Appearance.SYSTEM: Qt.ColorScheme.Unknown,
    Appearance.LIGHT: Qt.ColorScheme.Light,
    Appearance.DARK: Qt.ColorScheme.Dark,
}


_Role = QPalette.ColorRole
_ROLES: Final = (
    _Role.Window,
    _Role.Base,
    _Role.AlternateBase,
    _Role.Button,
    _Role.WindowText,
    _Role.Mid,
    _Role.Highlight,
    _Role.HighlightedText,
    _Role.Link,
)
_HAND_MADE: Final = {
    Qt.ColorScheme.Light: (
        "#f1f1ef",
        "#ffffff",
        "#e7e7e4",
        "#e4e4e1",
        "#161616",
        "#8b8b88",
        "#1f5f99",
        "#ffffff",
        "#1f5f99",
    ),
    Qt.ColorScheme.Dark: (
        "#26282a",
        "#1b1d1f",
        "#303335",
        "#3a3d40",
        "#f0f0ee",
        "#7d8184",
        "#6cb2ee",
        "#101112",
        "#8cc4f5",
    ),
}


def _palette(colours: tuple[str, ...]) -> QPalette:
    """Palette from the nine colours of ``_ROLES``; text is alike on window, field, button and tooltip."""
    roles = dict(zip(_ROLES, (QColor(c) for c in colours), strict=True))
    palette = QPalette(roles[_Role.Button], roles[_Role.Window])
    for role, colour in roles.items():
        palette.setColor(role, colour)
    for role in (_Role.Text, _Role.ButtonText, _Role.ToolTipText, _Role.BrightText):
        palette.setColor(role, roles[_Role.WindowText])
    palette.setColor(_Role.ToolTipBase, roles[_Role.AlternateBase])
    palette.setColor(_Role.PlaceholderText, roles[_Role.Mid])
    for role in (_Role.Text, _Role.ButtonText, _Role.WindowText):
        palette.setColor(QPalette.ColorGroup.Disabled, role, roles[_Role.Mid])
    return palette


class WorkshopStyle(QProxyStyle):
    """Fusion with scroll bars and tick boxes that a gloved finger can hit."""

    _WIDE: Final = {
        QStyle.PixelMetric.PM_ScrollBarExtent: 24,
        QStyle.PixelMetric.PM_ScrollBarSliderMin: 64,
        QStyle.PixelMetric.PM_IndicatorWidth: 24,
        QStyle.PixelMetric.PM_IndicatorHeight: 24,
        # Room beside the words in lists, tables and their heads.
        QStyle.PixelMetric.PM_FocusFrameHMargin: 8,
        QStyle.PixelMetric.PM_HeaderMargin: 9,
    }

    _HIGH: Final = (QStyle.ContentsType.CT_MenuItem, QStyle.ContentsType.CT_ItemViewItem)

    def __init__(self) -> None:
        super().__init__("Fusion")

    def pixelMetric(
        self,
        metric: QStyle.PixelMetric,
        option: QStyleOption | None = None,
        widget: QWidget | None = None,
    ) -> int:
        """Width in pixels of the things that must be wide, everything else as Fusion has it."""
        wide = self._WIDE.get(metric)
        return wide if wide is not None else super().pixelMetric(metric, option, widget)

    def sizeFromContents(
        self,
        kind: QStyle.ContentsType,
        option: QStyleOption,
        size: QSize,
        widget: QWidget | None = None,
    ) -> QSize:
        """Lines of menus and lists high enough for a finger, everything else as Fusion has it."""
        fusion = super().sizeFromContents(kind, option, size, widget)  # type: ignore[arg-type]
        if kind == QStyle.ContentsType.CT_MenuBarItem:
            fusion.setHeight(max(fusion.height(), MENU_BAR))
        elif kind in self._HIGH and fusion.height() > LEAST_LINE:
            fusion.setHeight(max(fusion.height(), TOUCH))
        return fusion


class TypeSize(QObject):
    """Tells widgets with a type size of their own that the application's has changed; Qt tells only the others."""

    changed = Signal()


TYPE_SIZE: Final = TypeSize()


class Look:
    """Applies appearance and text size to the application and remembers them.

    Parameters
    ----------
    app, settings
        The application, and where choices are kept.
    """

    def __init__(self, app: QApplication, settings: QSettings) -> None:
        self._app = app
        self._settings = settings
        self.appearance = _remembered(settings)
        large = app.primaryScreen().availableGeometry().height() >= LARGE_SCREEN
        usual = USUAL_TEXT_LARGE_SCREEN if large else USUAL_TEXT
        stored = settings.value("look/text-size", usual, int)
        size = stored if isinstance(stored, int) else usual
        self._size = min(max(size, 0), len(TEXT_SIZES) - 1)

    def apply(self) -> None:
        """Set style, palette and type."""
        self._app.setStyle(WorkshopStyle())
        self._apply_palette()
        self._apply_size()

    def choose(self, appearance: Appearance) -> None:
        """Change the palette at once and remember it."""
        self.appearance = appearance
        self._settings.setValue("look/appearance", appearance.name)
        self._apply_palette()

    def step_text(self, by: int) -> None:
        """Make type larger (1) or smaller (-1) and remember it."""
        self._size = min(max(self._size + by, 0), len(TEXT_SIZES) - 1)
        self._settings.setValue("look/text-size", self._size)
        self._apply_size()

    def _apply_palette(self) -> None:
        wanted = _SCHEMES[self.appearance]
        hints = self._app.styleHints()
        hints.setColorScheme(wanted)
        # Desktops without a theme of their own ignore the request; then the palette is set by hand.
        ignored = wanted != Qt.ColorScheme.Unknown and hints.colorScheme() != wanted
        self._app.setPalette(_palette(_HAND_MADE[wanted]) if ignored else QPalette())

    def _apply_size(self) -> None:
        font = QFont(self._app.font())
        font.setPointSizeF(TEXT_SIZES[self._size])
        self._app.setFont(font)
        TYPE_SIZE.changed.emit()


def _remembered(settings: QSettings) -> Appearance:
    name = str(settings.value("look/appearance", Appearance.SYSTEM.name))
    return Appearance[name] if name in Appearance.__members__ else Appearance.SYSTEM
