"""Writing on the job card: a note, a measurement, what was found and repaired, time and parts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDoubleSpinBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from firingend.engine.engine import Engine
from firingend_gui.appearance import TOUCH
from firingend_gui.parts.plain import BigButton, Panel, Words, closing_row
from firingend_gui.wording import capital

if TYPE_CHECKING:
    from firingend.jobs.card import JobCard

UNITS: Final = {
    "resistance": ("ohm", "kohm"),
    "length": ("mm", "inch"),
    "pressure": ("kPa", "bar", "psi"),
    "flow": ("ml/min", "l/h"),
    "voltage": ("V",),
    "share": ("percent",),
}
"""Units offered for each quantity; another one may be typed."""

LABEL_WIDTH: Final = 15
"""Of the labels of a panel, in letters, so that its fields stand in line."""

NOT_MEASURED: Final = "nothing"


def places(engine: Engine) -> tuple[str, ...]:
    """Where something can be on an engine.

    Examples
    --------
    >>> from firingend.engine.build import build_engine
    >>> places(build_engine(2, ignition="wasted-spark"))[:3]
    ('engine', 'cylinder 1', 'cylinder 2')
    """
    banks = (f"{bank.name}" for bank in engine.banks if bank.name)
    shared = (part.name for part in engine.shared)
    return tuple(dict.fromkeys(("engine", *(f"cylinder {n}" for n in engine.cylinders), *banks, *shared)))


class WriteDownWindow(QWidget):
    """A window beside the main one; ``settled`` carries an `Entries`."""

    settled = Signal(object)

    def __init__(self, parent: QWidget, card: JobCard, causes: Sequence[tuple[str, str, str]]) -> None:
        """Show the card's fields; ``causes`` are id, words and place, likeliest first."""
        super().__init__(parent, Qt.WindowType.Window)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Write on the job card")
        self.setAccessibleName("Write on the job card")
        self._card = card
        self._places = places(card.engine) if card.engine is not None else ("engine",)
        self._causes = causes
        column = QVBoxLayout(self)
        inside = QWidget()
        self._grid = QGridLayout(inside)
        self._grid.setSpacing(10)
        panels = (self._note_panel(), self._measure_panel(), self._cause_panel(), self._effort_panel())
        for position, panel in enumerate(panels):
            self._grid.addWidget(panel, position // 2, position % 2)
            self._grid.setColumnStretch(position % 2, 1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setAccessibleName("Fields of the card")
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setWidget(inside)
        column.addWidget(area, 1)
        self._problem = Words(bold=True)
        self._problem.hide()
        column.addWidget(self._problem)
        self.done = BigButton("Write it down", strong=True)
        self.done.clicked.connect(self._settle)
        column.addLayout(closing_row(self.done, BigButton("Leave it as it was"), self))
        self.resize(1120, 640)
        self.note.setFocus()

    def _note_panel(self) -> Panel:
        panel = Panel("Note")
        panel.column.addWidget(Words("Note", scale=1.25, bold=True))
        self.note = QPlainTextEdit()
        self.note.setAccessibleName("Note")
        self.note.setTabChangesFocus(True)
        self.note.setMinimumHeight(2 * TOUCH)
        self.note.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        panel.column.addWidget(self.note, 1)
        self.customer = _line(panel, "&Customer", self._card.customer)
        self.mark = _line(panel, "Mar&k", self._card.mark)
        return panel

    def _measure_panel(self) -> Panel:
        from firingend.bench.kinds import KINDS

        self._quantities = {kind.id: kind.quantity for kind in KINDS.values()}
        panel = Panel("Measurement")
        panel.column.addWidget(Words("Measured", scale=1.25, bold=True))
        self.what = QComboBox()
        self.what.addItem("Nothing", NOT_MEASURED)
        for kind in KINDS:
            self.what.addItem(capital(kind.replace("-", " ")), kind)
        self.what.currentIndexChanged.connect(self._kind_chosen)
        _labelled(panel, "&What", self.what)
        self.where = QComboBox()
        self.where.addItems([capital(place) for place in self._places])
        _labelled(panel, "Wh&ere", self.where)
        row = QHBoxLayout()
        self.value, self.unit = QLineEdit(), QComboBox()
        self.unit.setEditable(True)
        for text, field in (("&Value", self.value), ("&Unit", self.unit)):
            side = QVBoxLayout()
            _labelled(side, text, field)
            row.addLayout(side, 1)
        panel.column.addLayout(row)
        self.condition = _line(panel, "Con&ditions", "", "such as: spec 0.7 to 0.8, at 35 degC")
        panel.column.addStretch(1)
        return panel

    def _cause_panel(self) -> Panel:
        panel = Panel("Cause and repair")
        panel.column.addWidget(Words("Found and repaired", scale=1.25, bold=True))
        self.verdict = QComboBox()
        for key, words in (("", "Nothing new"), ("found", "This was it"), ("ruled_out", "This was ruled out")):
            self.verdict.addItem(words, key)
        _labelled(panel, "Cau&se", self.verdict)
        self.cause = QComboBox()
        self.cause.setEditable(True)
        if (typed := self.cause.lineEdit()) is not None:
            typed.setPlaceholderText("choose one, or say it in your words")
        self.cause.setCurrentText("")
        for identity, words, place in self._causes:
            self.cause.addItem(words if place in ("", "engine") else f"{words}, {place}", (identity, place))
        self.cause.setCurrentIndex(-1)
        self.cause.activated.connect(self._cause_picked)
        _labelled(panel, "W&hich", self.cause)
        self.fixed = _line(panel, "Re&paired", self._card.fixed, "what was done about it")
        panel.column.addStretch(1)
        return panel

    def _cause_picked(self) -> None:
        """Who picks a cause has most likely found it."""
        if not self.verdict.currentData():
            self.verdict.setCurrentIndex(1)

    def _effort_panel(self) -> Panel:
        panel = Panel("Time and parts")
        panel.column.addWidget(Words("Time and parts", scale=1.25, bold=True))
        row = QHBoxLayout()
        self.minutes, self.work = _number(" min", 10_000), QLineEdit()
        self.cost, self.part = _number(f" {self._card.rates.currency}", 1_000_000), QLineEdit()
        for text, field in (("&Minutes", self.minutes), ("&On what", self.work)):
            side = QVBoxLayout()
            _labelled(side, text, field)
            row.addLayout(side, 1)
        panel.column.addLayout(row)
        row = QHBoxLayout()
        for text, field in (("P&art used", self.part), ("What it c&ost", self.cost)):
            side = QVBoxLayout()
            _labelled(side, text, field)
            row.addLayout(side, 1)
        panel.column.addLayout(row)
        panel.column.addStretch(1)
        return panel

    def _kind_chosen(self) -> None:
        self.unit.clear()
        self.unit.addItems(list(UNITS.get(self._quantities.get(self.what.currentData(), ""), ())))

    def _settle(self) -> None:
        from firingend_gui.jobwork.written_down import Entries

        measured = self.what.currentData() != NOT_MEASURED
        cause, place = self._cause_chosen()
        verdict = self.verdict.currentData()
        if measured and not self.value.text().strip():
            self.show_problem("the measurement has no value: type one, or choose “Nothing”")
            return
        entries = Entries(
            note=self.note.toPlainText(),
            what=self.what.currentData() if measured else "",
            where=self._places[self.where.currentIndex()],
            value=self.value.text() if measured else "",
            unit=self.unit.currentText(),
            condition=self.condition.text(),
            found=cause if verdict == "found" else "",
            ruled_out=cause if verdict == "ruled_out" else "",
            cause_where=place,
            fixed=self.fixed.text(),
            minutes=self.minutes.value(),
            work=self.work.text(),
            part=self.part.text(),
            cost=self.cost.value(),
            customer=self.customer.text(),
            mark=self.mark.text(),
        )
        self.settled.emit(entries)

    def _cause_chosen(self) -> tuple[str, str]:
        index = self.cause.currentIndex()
        if index >= 0 and self.cause.itemText(index) == self.cause.currentText():
            identity, place = self.cause.itemData(index)
            return str(identity), str(place or "engine")
        return self.cause.currentText(), "engine"

    def show_problem(self, problem: str) -> None:
        """Say what is wrong; everything typed stays."""
        self._problem.say(f"Not yet: {problem}.")


def _line(panel: Panel, text: str, value: str, hint: str = "") -> QLineEdit:
    field = QLineEdit(value)
    field.setPlaceholderText(hint)
    _labelled(panel, text, field)
    return field


def _number(suffix: str, most: float) -> QDoubleSpinBox:
    field = QDoubleSpinBox()
    field.setRange(0, most)
    field.setDecimals(2 if suffix != " min" else 0)
    field.setSuffix(suffix)
    field.setButtonSymbols(QDoubleSpinBox.ButtonSymbols.NoButtons)
    return field


def _labelled(holder: Panel | QVBoxLayout, text: str, field: QWidget) -> None:
    """Put a field beside its label, and let the label's key lead to it."""
    column = holder.column if isinstance(holder, Panel) else holder
    label = QLabel(text)
    label.setBuddy(field)
    if isinstance(holder, Panel):
        label.setMinimumWidth(label.fontMetrics().averageCharWidth() * LABEL_WIDTH)
    field.setMinimumHeight(TOUCH)
    field.setAccessibleName(text.replace("&", ""))
    if isinstance(field, QComboBox) and (typed := field.lineEdit()) is not None:
        typed.setAccessibleName(field.accessibleName())
    field.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
    row = QHBoxLayout()
    row.addWidget(label)
    row.addWidget(field, 1)
    column.addLayout(row)
