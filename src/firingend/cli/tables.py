"""Results as tables on the terminal; without colour and frames when the output is not one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from firingend.cases.case import CaseResult
from firingend.diagnosis.diagnosis import Diagnosis, RankedStep
from firingend.labels import UNREADABLE
from firingend.reading.reading import PhotoReading, Reading
from firingend.reading.remarks import remarks
from firingend.report.figures import chance, minutes, money
from firingend.report.words import SIGN_WORDS, label_words

PLAIN_WIDTH = 110
"""Characters a line where the output is not a terminal."""

HEAD_WIDTH = 15
NARROWEST_COLUMN = 16
"""Characters the first column takes; those any plug's column needs for its words not to break."""

SHOWN_CAUSES = 6
SHOWN_STEPS = 5
WORTH_NAMING = 0.1
SIGN_SEEN = 0.5


def make_console() -> Console:
    """A console on the standard output; user's own text is printed as it is, never taken for markup."""
    console = Console(highlight=False, markup=False, emoji=False)
    if not console.is_terminal:
        console.width = PLAIN_WIDTH
    return console


def print_photo(photo: PhotoReading, console: Console | None = None) -> None:
    """Print what one photograph shows."""
    console = console or make_console()
    flags = f", {', '.join(photo.quality.flags)}" if photo.quality.flags else ""
    console.print(Text(f"{photo.file}  ({photo.width} × {photo.height} pixels{flags})", style="bold"))
    for reason in (*photo.reasons, *remarks(photo)):
        console.print(f"  {reason.text}: {reason.remedy}")
    if photo.readings:
        heads = [f"plug {i}" if len(photo.readings) > 1 else "plug" for i in range(1, len(photo.readings) + 1)]
        _print_side_by_side(console, dict(zip(heads, photo.readings, strict=True)), ())
    console.print()


def print_result(result: CaseResult, console: Console | None = None) -> None:
    """Print a case: its plugs side by side, what they say together, causes, next checks."""
    console = console or make_console()
    case = result.case
    console.print(Text(f"{case.name}: {case.engine.name}", style="bold"))
    if case.complaint:
        console.print(f"Complaint: {case.complaint}")
    cylinders = {f"cylinder {c}": reading for c, reading in result.readings.items()}
    if cylinders:
        odd = [f"cylinder {c}" for c in result.comparison.cylinders] if _some_stand_out(result) else []
        _print_side_by_side(console, cylinders, odd)
    console.print(Text(result.comparison.sentence, style="bold"))
    console.print()
    _print_causes(console, result.diagnosis)
    _print_steps(console, result.diagnosis)
    for note in result.diagnosis.notes:
        console.print(f"Note: {note}")
    console.print(
        "The engine's service manual, local rules and a licensed technician's judgement come first.",
        style="italic",
    )


def _some_stand_out(result: CaseResult) -> bool:
    return result.comparison.pattern not in ("all-alike", "scattered", "too-few-readable")


def _print_side_by_side(console: Console, readings: Mapping[str, Reading], odd: Sequence[str]) -> None:
    """Print one column a plug, in as many tables of equal width as the line needs."""
    most = max(1, (console.width - HEAD_WIDTH) // NARROWEST_COLUMN)
    tables = -(-len(readings) // most)
    share = -(-len(readings) // tables)
    names = list(readings)
    for start in range(0, len(names), share):
        some = {name: readings[name] for name in names[start : start + share]}
        console.print(_side_by_side(console, some, odd))


def _side_by_side(console: Console, readings: Mapping[str, Reading], odd: Sequence[str]) -> Table:
    """One column a plug; a plug that stands out is marked with an arrow as well as by weight."""
    table = Table(box=_frame(console), show_lines=console.is_terminal, pad_edge=console.is_terminal)
    table.add_column("", no_wrap=True)
    for head in readings:
        table.add_column(Text(f"{head} ◀" if head in odd else head, style="bold" if head in odd else ""))
    table.add_row("label", *(_label(reading) for reading in readings.values()))
    table.add_row("probability", *(_probability(reading) for reading in readings.values()))
    table.add_row("why", *(Text("\n".join(_why(reading))) for reading in readings.values()))
    return table


def _frame(console: Console) -> box.Box:
    return box.ROUNDED if console.is_terminal else box.SIMPLE


def _label(reading: Reading) -> Text:
    return Text(label_words(reading.label), style="dim" if reading.label == UNREADABLE else "bold")


def _probability(reading: Reading) -> Text:
    return Text("" if reading.label == UNREADABLE else chance(reading.probabilities[reading.label]).text)


def _why(reading: Reading) -> list[str]:
    """What speaks for the label and against it, one line each."""
    lines = []
    if reading.firing_end is None and not reading.reasons:
        lines.append("typed in")
    if reading.label != UNREADABLE:
        for name, facts in (("ceramic", reading.ceramic), ("surface", reading.surface)):
            if facts:
                best = max(facts, key=facts.__getitem__)
                lines.append(f"{name} {best}, {chance(facts[best]).text}")
        others = {label: p for label, p in reading.probabilities.items() if label != reading.label}
        second = max(others, key=others.__getitem__, default="")
        if second and others[second] >= WORTH_NAMING:
            lines.append(f"or {label_words(second).lower()}, {chance(others[second]).text}")
    lines += [SIGN_WORDS.get(sign, sign) for sign, p in reading.signs.items() if p >= SIGN_SEEN]
    lines += [f"{reason.text}: {reason.remedy}" for reason in reading.reasons]
    return lines


def _print_causes(console: Console, diagnosis: Diagnosis) -> None:
    if not diagnosis.causes:
        return
    table = Table(box=_frame(console), pad_edge=console.is_terminal, title="Causes", title_justify="left")
    table.add_column("chance", justify="right")
    table.add_column("cause")
    table.add_column("where")
    for cause in diagnosis.causes[:SHOWN_CAUSES]:
        table.add_row(chance(cause.probability).text, Text(cause.name), Text(cause.where))
    console.print(table)
    if (more := len(diagnosis.causes) - SHOWN_CAUSES) > 0:
        console.print(f"and {more} less likely; --json lists all of them")
    console.print()


def _print_steps(console: Console, diagnosis: Diagnosis) -> None:
    if not diagnosis.next:
        return
    console.print(Text("Next checks, the most worth its money first", style="bold"))
    for number, step in enumerate(diagnosis.next[:SHOWN_STEPS], start=1):
        _print_step(console, number, step, diagnosis.currency)
    console.print()


def _print_step(console: Console, number: int, step: RankedStep, currency: str) -> None:
    where = "" if step.where == "engine" else f", {step.where}"
    console.print(Text(f"{number}. {step.name}{where}", style="bold"))
    costs = f"{minutes(step.minutes)}, parts {money(step.parts_cost, currency)}"
    costs += f"; expected cost to a repaired engine {money(step.expected_cost, currency)}"
    for line in (step.why, costs):
        console.print(Padding(Text(line), (0, 0, 0, 3)))
    for caution in step.cautions:
        console.print(Padding(Text(f"CAUTION: {caution}", style="bold yellow"), (0, 0, 0, 3)))
