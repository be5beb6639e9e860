"""One cylinder's card: the plug's picture, what it shows in words, and what can be done with it."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import (
    QAction,
    QDragEnterEvent,
    QDragLeaveEvent,
    QDropEvent,
    QPainter,
    QPaintEvent,
    QPalette,
    QPen,
)
from PySide6.QtWidgets import QHBoxLayout, QMenu, QProgressBar, QSizePolicy, QWidget

from firingend.labels import LABELS
from firingend.report.words import label_words
from firingend_gui.keys import cylinder_key
from firingend_gui.parts.dropping import dropped_files, offers_files
from firingend_gui.parts.marks import LabelMark, ProbabilityBar, Triangle
from firingend_gui.parts.picture import PictureButton, PictureStore
from firingend_gui.parts.plain import BigButton, MenuButton, Panel, Words
from firingend_gui.parts.swatch import SwatchRow
from firingend_gui.states import CardState

LEAST_WIDTH: Final = 292
MOST_WIDTH: Final = 620


class CylinderCard(Panel):
    """Shows a `CardState`; every signal carries the cylinder's number first."""

    open_photo = Signal(int)
    choose_photo = Signal(int)
    drop_photos = Signal(int, list)
    mark = Signal(int, object)
    remove = Signal(int)
    step_focus = Signal(int, int)

    def __init__(self, cylinder: int, position: int, store: PictureStore) -> None:
        super().__init__(f"Cylinder {cylinder}", margin=10, spacing=6)
        self.cylinder = cylinder
        self.state: CardState | None = None
        self._aimed = False
        self.setAcceptDrops(True)
        self.setMinimumWidth(LEAST_WIDTH)
        self.setMaximumWidth(MOST_WIDTH)
        self._build_head()
        self._build_picture(store, position)
        self._build_label()
        self._build_doubts()
        self.column.addStretch(1)
        self._build_buttons()

    # Building

    def _build_head(self) -> None:
        row = QHBoxLayout()
        self._title = Words(scale=1.25, bold=True)
        self._title.setWordWrap(False)
        self._odd = Words("▲ Stands out", bold=True)
        self._odd.setWordWrap(False)
        row.addWidget(self._title, 1)
        row.addWidget(self._odd)
        self.column.addLayout(row)
        # On a line of its own: beside the tag it would wrap, and the pictures of a row would start at odd heights.
        self._shares = Words()
        self._shares.setWordWrap(False)
        self._shares.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.column.addWidget(self._shares)

    def _build_picture(self, store: PictureStore, position: int) -> None:
        self.picture = PictureButton(store)
        self.picture.pressed_open.connect(self._pressed)
        self.picture.on_key(Qt.Key.Key_P, lambda: self.choose_photo.emit(self.cylinder))
        self.picture.on_key(Qt.Key.Key_L, lambda: self._label_button.showMenu())
        self.picture.on_key(Qt.Key.Key_Delete, lambda: self.remove.emit(self.cylinder))
        self.picture.on_key(Qt.Key.Key_Left, lambda: self.step_focus.emit(self.cylinder, -1))
        self.picture.on_key(Qt.Key.Key_Right, lambda: self.step_focus.emit(self.cylinder, 1))
        self._key = cylinder_key(position)
        self.column.addWidget(self.picture)
        self._progress = QProgressBar()
        self._progress.setRange(0, 0)
        self._progress.setTextVisible(False)
        self._progress.setFixedHeight(12)
        self._progress.setAccessibleName(f"Reading the photo of cylinder {self.cylinder}")
        self.column.addWidget(self._progress)

    def _build_label(self) -> None:
        row = QHBoxLayout()
        self._mark = LabelMark()
        self._label = Words(scale=1.4, bold=True)
        self._percent = Words(scale=1.4, bold=True)
        self._percent.setWordWrap(False)
        row.addWidget(self._mark)
        row.addWidget(self._label, 1)
        row.addWidget(self._percent)
        self.column.addLayout(row)
        self._bar = ProbabilityBar(f"Probability of the label of cylinder {self.cylinder}")
        self._seen, self._second, self._signs, self._flags = Words(), Words(), Words(bold=True), Words(bold=True)
        self._swatch = SwatchRow(f"Colour of the nose of cylinder {self.cylinder}", short=True)
        for widget in (self._bar, self._seen, self._second, self._swatch, self._signs, self._flags):
            self.column.addWidget(widget)

    def _build_doubts(self) -> None:
        self._doubts = Panel(f"Why cylinder {self.cylinder} is doubted", margin=8, spacing=4)
        row = QHBoxLayout()
        row.addWidget(Triangle(), 0, Qt.AlignmentFlag.AlignTop)
        self._doubt_words = Words()
        row.addWidget(self._doubt_words, 1)
        self._doubts.column.addLayout(row)
        self.column.addWidget(self._doubts)

    def _build_buttons(self) -> None:
        row = QHBoxLayout()
        row.setSpacing(6)
        self._photo_button = BigButton("Photo…", f"Add or replace the photo of cylinder {self.cylinder}")
        self._photo_button.clicked.connect(lambda: self.choose_photo.emit(self.cylinder))
        self._label_button = MenuButton("Label", f"Label cylinder {self.cylinder} by hand")
        self._label_button.setMenu(self._label_menu())
        self._remove_button = BigButton("Remove", f"Remove photo and label of cylinder {self.cylinder}")
        self._remove_button.clicked.connect(lambda: self.remove.emit(self.cylinder))
        buttons: tuple[QWidget, ...] = (self._photo_button, self._label_button, self._remove_button)
        for button in buttons:
            row.addWidget(button, 1)
        self.column.addLayout(row)

    def _label_menu(self) -> QMenu:
        menu = QMenu(self)
        menu.setAccessibleName(f"Label of cylinder {self.cylinder}")
        self._label_actions: dict[str | None, QAction] = {}
        for number, label in enumerate(LABELS, 1):
            self._add_label(menu, f"&{number}  {label_words(label)}", label)
        menu.addSeparator()
        self._add_label(menu, "&0  What the photo says", None)
        return menu

    def _add_label(self, menu: QMenu, text: str, label: str | None) -> None:
        action = menu.addAction(text)
        action.setCheckable(True)
        action.triggered.connect(lambda: self.mark.emit(self.cylinder, label))
        self._label_actions[label] = action

    # Showing

    def show_state(self, state: CardState) -> None:
        """Show this state."""
        if state == self.state:
            return
        self.state = state
        self.setAccessibleDescription(state.spoken)
        self._title.say(state.title)
        self._shares.setText(state.shares)
        self._shares.setVisible(bool(state.shares))
        self._odd.setVisible(state.stands_out)
        self._show_picture(state)
        self._mark.show_label(state.label)
        self._label.say(state.label_words)
        self._show_probability(state)
        self._seen.say("; ".join(w for w in (state.seen_words, state.severity_words) if w))
        self._swatch.show_state(state.swatch)
        self._second.say(state.second_words)
        self._signs.say(state.signs_words)
        self._flags.say("Photo: " + ", ".join(state.flags) if state.flags else "")
        self._doubts.setVisible(bool(state.doubts))
        self._doubt_words.setText("\n".join(f"{d.text} {d.remedy}" for d in state.doubts))
        self._remove_button.setEnabled(state.status != "empty")
        self._photo_button.setText("Photo…" if state.picture is None else "Replace…")
        for label, action in self._label_actions.items():
            marked = state.label if state.status == "marked" else None
            action.setChecked(label == marked and state.status != "empty")
        self.update()

    def _show_picture(self, state: CardState) -> None:
        waiting = state.status == "waiting"
        self._progress.setVisible(waiting)
        words = "Reading the photo…" if waiting else "Drop a photo here,\nor press to choose one"
        if state.status == "asked":
            words = "The question above\nmust be answered first"
        if state.status == "marked":
            words = "Label given by hand.\nDrop a photo here to add one"
        elif state.status == "refused":
            words = "This photo cannot be shown.\nPress to choose another"
        self.picture.show_ref(state.picture, state.picture_words or words)
        act = "open the whole photo" if state.picture is not None else "choose a photo"
        self.picture.setAccessibleName(f"Picture of cylinder {self.cylinder}: press to {act}")
        key = f" Key: {self._key}." if self._key else ""
        self.picture.setAccessibleDescription(state.spoken + key)

    def _show_probability(self, state: CardState) -> None:
        known = state.probability is not None
        self._bar.setVisible(known)
        if state.probability is not None:
            self._bar.show_value(state.probability, state.probability_words)
        self._percent.say("by hand" if state.status == "marked" else state.probability_words)

    def _pressed(self) -> None:
        if self.state is not None and self.state.picture is not None:
            self.open_photo.emit(self.cylinder)
        else:
            self.choose_photo.emit(self.cylinder)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw a heavier frame round the one that stands out, and round the one photos are held over."""
        super().paintEvent(event)
        odd = self.state is not None and self.state.stands_out
        if not (odd or self._aimed):
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        style = Qt.PenStyle.DashLine if self._aimed else Qt.PenStyle.SolidLine
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Highlight), 4, style))
        painter.drawRoundedRect(self.rect().adjusted(2, 2, -2, -2), 6, 6)
        painter.end()

    # Dropping

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files."""
        if offers_files(event.mimeData()):
            self._aim(True)
            event.acceptProposedAction()

    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:
        """Stop showing where the photo would go."""
        self._aim(False)

    def dropEvent(self, event: QDropEvent) -> None:
        """Put the dropped photos on this cylinder."""
        self._aim(False)
        files: list[Path] = dropped_files(event.mimeData())
        if files:
            event.acceptProposedAction()
            self.drop_photos.emit(self.cylinder, files)

    def _aim(self, aimed: bool) -> None:
        self._aimed = aimed
        self.update()
