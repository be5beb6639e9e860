"""The row of plugs side by side; it scrolls sideways when there are more than fit."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QSizePolicy, QWidget

from firingend_gui.parts.card import CylinderCard
from firingend_gui.parts.picture import PictureStore
from firingend_gui.parts.plain import empty
from firingend_gui.states import CardState


class PlugRow(QScrollArea):
    """Cylinder cards in physical order."""

    open_photo = Signal(int)
    choose_photo = Signal(int)
    drop_photos = Signal(int, list)
    mark = Signal(int, object)
    remove = Signal(int)

    def __init__(self, store: PictureStore) -> None:
        super().__init__()
        self.setAccessibleName("Plugs side by side")
        self._store = store
        self._picture_height = 260
        self.cards: dict[int, CylinderCard] = {}
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._inside = QWidget()
        self._inside.installEventFilter(self)
        self._line = QHBoxLayout(self._inside)
        self._line.setContentsMargins(0, 0, 0, 0)
        self._line.setSpacing(10)
        self.setWidget(self._inside)

    def show_cards(self, states: tuple[CardState, ...]) -> None:
        """Show these cards; they are built anew only when the cylinders are others."""
        if tuple(self.cards) != tuple(s.cylinder for s in states):
            self._build(states)
        for state in states:
            self.cards[state.cylinder].show_state(state)
        self._fit_height()

    def _build(self, states: tuple[CardState, ...]) -> None:
        empty(self._line)
        self.cards = {}
        for position, state in enumerate(states):
            card = CylinderCard(state.cylinder, position, self._store)
            card.picture.setFixedHeight(self._picture_height)
            card.open_photo.connect(self.open_photo)
            card.choose_photo.connect(self.choose_photo)
            card.drop_photos.connect(self.drop_photos)
            card.mark.connect(self.mark)
            card.remove.connect(self.remove)
            card.step_focus.connect(self._step_focus)
            self.cards[state.cylinder] = card
            self._line.addWidget(card, 100)
        # On a wide screen the cards stop growing; what is left stays free on the right.
        self._line.addStretch(1)

    def set_picture_height(self, height: int) -> None:
        """Give every picture this height in device-independent pixels."""
        self._picture_height = height
        for card in self.cards.values():
            card.picture.setFixedHeight(height)
        self._fit_height()

    def focus_card(self, position: int) -> None:
        """Move the focus to the card at this position, 0 first."""
        cards = list(self.cards.values())
        if 0 <= position < len(cards):
            cards[position].picture.setFocus(Qt.FocusReason.ShortcutFocusReason)
            self.ensureWidgetVisible(cards[position], 0, 0)

    def _step_focus(self, cylinder: int, by: int) -> None:
        self.focus_card(list(self.cards).index(cylinder) + by)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the cards when they want more or less height."""
        if watched is self._inside and event.type() == QEvent.Type.LayoutRequest:
            self._fit_height()
        return super().eventFilter(watched, event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Follow the width: words wrap differently."""
        super().resizeEvent(event)
        self._fit_height()

    def _fit_height(self) -> None:
        width = max(self.viewport().width(), self._line.minimumSize().width())
        height = self._line.heightForWidth(width) if self._line.hasHeightForWidth() else -1
        height = max(height, self._line.minimumSize().height())
        if self._line.minimumSize().width() > self.viewport().width():
            height += self.horizontalScrollBar().sizeHint().height() + 4
        if self.height() != height:
            self.setFixedHeight(max(height, 1))
