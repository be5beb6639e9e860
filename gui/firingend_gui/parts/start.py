"""First page: describe the engine, or open what there is already."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QSpinBox,
    QWidget,
)

from firingend.engine.engine import FuelSystem, Ignition, Layout
from firingend_gui.appearance import TOUCH
from firingend_gui.parts.plain import BigButton, Panel, Words
from firingend_gui.services import EngineEntry
from firingend_gui.wording import FUEL_WORDS, IGNITION_WORDS, LAYOUT_WORDS

MOST_CYLINDERS = 16


class StartPage(QWidget):
    """Asks for an engine; ``described`` carries an `EngineEntry`."""

    described = Signal(object)
    open_case = Signal()
    open_demo = Signal(object)
    choose_photos = Signal()
    show_jobs = Signal()

    def __init__(self, demos: tuple[tuple[str, object], ...], *, jobs: bool = False) -> None:
        super().__init__()
        self.setAccessibleName("Start")
        line = QHBoxLayout(self)
        line.setSpacing(16)
        line.addWidget(self._form_panel(), 3)
        line.addWidget(self._open_panel(demos, jobs), 2, Qt.AlignmentFlag.AlignTop)

    def _form_panel(self) -> Panel:
        panel = Panel("Describe the engine", margin=20, spacing=12)
        panel.column.addWidget(Words("Describe the engine", scale=1.6, bold=True))
        panel.column.addWidget(Words("Then put the photos of its plugs in, in cylinder order."))
        self._form = QFormLayout()
        self._form.setVerticalSpacing(10)
        self._form.setHorizontalSpacing(16)
        self._form.setLabelAlignment(Qt.AlignmentFlag.AlignLeft)
        self._form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.DontWrapRows)
        self._build_fields()
        panel.column.addLayout(self._form)
        self._problem = Words(bold=True)
        self._problem.hide()
        panel.column.addWidget(self._problem)
        self._waiting = Words()
        self._waiting.hide()
        panel.column.addWidget(self._waiting)
        go = BigButton("Go on to the plugs", strong=True)
        go.setDefault(True)
        go.clicked.connect(self._describe)
        panel.column.addWidget(go)
        panel.column.addStretch(1)
        return panel

    def _build_fields(self) -> None:
        self.name = QLineEdit()
        self.name.setPlaceholderText("what you call it")
        self.complaint = QLineEdit()
        self.complaint.setPlaceholderText("what it does wrong, and when")
        self.cylinders = QSpinBox()
        self.cylinders.setRange(1, MOST_CYLINDERS)
        self.cylinders.setValue(4)
        self.cylinders.valueChanged.connect(self._cylinders_changed)
        self.layout_kind = _choice(LAYOUT_WORDS, get_args(Layout), "inline")
        self.strokes = _choice({4: "four-stroke", 2: "two-stroke"}, (4, 2), 4)
        self.fuel = _choice(FUEL_WORDS, get_args(FuelSystem), "port-injection")
        self.ignition = _choice(IGNITION_WORDS, get_args(Ignition), "coil-per-plug")
        self.order = QLineEdit()
        self.order.setPlaceholderText("such as 1-3-4-2; leave empty if not known")
        self._row("&Name", self.name)
        self._row("C&omplaint", self.complaint)
        self._row("&Cylinders", self.cylinders, _stepped(self.cylinders))
        self._row("&Layout", self.layout_kind)
        self._row("S&trokes", self.strokes)
        self._row("&Fuel", self.fuel)
        self._row("&Ignition", self.ignition)
        self._row("Firing or&der", self.order)
        for field in (self.name, self.complaint, self.order):
            field.returnPressed.connect(self._describe)

    def _row(self, text: str, field: QWidget, holder: QWidget | None = None) -> None:
        field.setMinimumHeight(TOUCH)
        field.setAccessibleName(text.replace("&", ""))
        label = QLabel(text)
        label.setBuddy(field)
        label.setMinimumHeight(TOUCH)
        self._form.addRow(label, holder or field)

    def _open_panel(self, demos: tuple[tuple[str, object], ...], jobs: bool) -> Panel:
        panel = Panel("Open", margin=20, spacing=12)
        panel.column.addWidget(Words("Or open a job or case" if jobs else "Or open a case", scale=1.6, bold=True))
        if jobs:
            listed = BigButton("Jobs…", "List of jobs", strong=True)
            listed.clicked.connect(self.show_jobs)
            panel.column.addWidget(listed)
        case = BigButton("Open a case file…")
        case.clicked.connect(self.open_case)
        panel.column.addWidget(case)
        for words, demo in demos:
            button = BigButton(words, f"Open the example: {words}")
            button.clicked.connect(lambda _=False, demo=demo: self.open_demo.emit(demo))
            panel.column.addWidget(button)
        panel.column.addWidget(
            Words("Photos and case files can also be dropped anywhere on this window. F1 shows the keys.")
        )
        photos = BigButton("Choose photos first…")
        photos.clicked.connect(self.choose_photos)
        panel.column.addWidget(photos)
        return panel

    def show_start(self, waiting: int, problem: str) -> None:
        """Say how many photographs wait and what is wrong with the form."""
        photos = "1 photo waits" if waiting == 1 else f"{waiting} photos wait"
        self._waiting.say(f"{photos} for this engine." if waiting else "")
        self._problem.say(f"Not yet: {problem}." if problem else "")

    def _cylinders_changed(self, count: int) -> None:
        wanted = "single" if count == 1 else "inline"
        if (self.layout_kind.currentData() == "single") != (count == 1):
            self.layout_kind.setCurrentIndex(self.layout_kind.findData(wanted))

    def _describe(self) -> None:
        self.described.emit(
            EngineEntry(
                name=self.name.text().strip(),
                cylinders=self.cylinders.value(),
                layout=self.layout_kind.currentData(),
                strokes=self.strokes.currentData(),
                fuel_system=self.fuel.currentData(),
                ignition=self.ignition.currentData(),
                firing_order=self.order.text().strip(),
                complaint=self.complaint.text().strip(),
            )
        )


def _stepped(spin: QSpinBox) -> QWidget:
    """A number between two buttons that a gloved finger can hit."""
    spin.setButtonSymbols(QSpinBox.ButtonSymbols.NoButtons)
    spin.setAlignment(Qt.AlignmentFlag.AlignCenter)
    holder = QWidget()
    line = QHBoxLayout(holder)
    line.setContentsMargins(0, 0, 0, 0)
    fewer, more = BigButton("−", "Fewer cylinders"), BigButton("+", "More cylinders")
    fewer.clicked.connect(spin.stepDown)
    more.clicked.connect(spin.stepUp)
    line.addWidget(fewer, 1)
    line.addWidget(spin, 1)
    line.addWidget(more, 1)
    return holder


def _choice(words: Mapping[Any, str], keys: tuple[object, ...], chosen: object) -> QComboBox:
    box = QComboBox()
    for key in keys:
        text = words[key]
        box.addItem(text[0].upper() + text[1:], key)
    box.setCurrentIndex(box.findData(chosen))
    return box
