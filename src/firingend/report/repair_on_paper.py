"""What was found and done, and plugs before and after, on paper."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Final

from firingend.report.blocks import heading, table
from firingend.report.content import Pair, Repair, Shot
from firingend.report.sheet import RULE, SOFT, Line, Sheet

_GAP: Final = 4.0
_LARGEST: Final = 46.0


def print_repair(sheet: Sheet, repair: Repair) -> None:
    """Print causes, repair, costs, and the plugs before and after."""
    _found(sheet, repair)
    _after(sheet, repair)


def _found(sheet: Sheet, repair: Repair) -> None:
    lines = [
        Line(cause.name if cause.value == "whole engine" else f"{cause.name} – {cause.value}", 14, bold=True, after=1.5)
        for cause in repair.causes
    ] or [Line("No cause has been written down yet.")]
    if repair.done:
        lines.append(Line(repair.done, 11, after=2))
    heading(sheet, "What was found and done", min(60, sheet.height(lines, sheet.epw)))
    sheet.column(lines, sheet.l_margin, sheet.epw)
    if repair.costs:
        widths = (sheet.epw * 0.6, sheet.epw * 0.18, sheet.epw * 0.22)
        rows = [
            [[Line(cost.what, after=0)], [Line(cost.how_much, after=0)], [Line(cost.amount, after=0)]]
            for cost in repair.costs
        ]
        total = [Line("Together", bold=True, after=0)], [Line("", after=0)], [Line(repair.total, bold=True, after=0)]
        table(sheet, ("Work and parts", "How much", "Cost"), widths, [*rows, total])
        sheet.set_y(sheet.y + 2)
    sheet.column([Line(f"Note: {note}", after=1.2) for note in repair.notes], sheet.l_margin, sheet.epw)


def _after(sheet: Sheet, repair: Repair) -> None:
    lines = [Line(f"{fact.name}: {fact.value}", after=1.5) for fact in repair.after]
    lines.append(Line(repair.proof, 11, bold=True, after=3))
    columns = 2 if any(len(pair.shots) <= 2 for pair in repair.pairs) else 1
    columns = min(columns, max(1, len(repair.pairs)))
    most = max((len(pair.shots) for pair in repair.pairs), default=1)
    width = (sheet.epw - 8 * (columns - 1)) / columns
    side = min(_LARGEST, (width - _GAP * (most - 1)) / most)
    first = _pair_height(sheet, repair.pairs[:columns], side) if repair.pairs else 0.0
    heading(sheet, "Before and after", sheet.height(lines, sheet.epw) + first)
    sheet.column(lines, sheet.l_margin, sheet.epw)
    for i in range(0, len(repair.pairs), columns):
        row = repair.pairs[i : i + columns]
        tall = _pair_height(sheet, row, side)
        sheet.keep(tall)
        top = sheet.y
        for k, pair in enumerate(row):
            _pair(sheet, pair, sheet.l_margin + k * (width + 8), top, side)
        sheet.set_y(top + tall)


def _caption(shot: Shot) -> list[Line]:
    return [Line(shot.when, 8.5, ink=SOFT, after=0), Line(shot.label, 10, bold=True, after=0)]


def _pair_height(sheet: Sheet, row: Sequence[Pair], side: float) -> float:
    return 6.5 + side + max(sheet.height(_caption(shot), side) for pair in row for shot in pair.shots) + 4


def _pair(sheet: Sheet, pair: Pair, x: float, top: float, side: float) -> None:
    sheet.set_y(top)
    sheet.column([Line(pair.cylinder, 10.5, bold=True, after=0)], x, 2 * side)
    for i, shot in enumerate(pair.shots):
        print_shot(sheet, shot, x + i * (side + _GAP), top + 6, side)
        sheet.set_y(top + 6 + side + 0.8)
        sheet.column(_caption(shot), x + i * (side + _GAP), side)


def print_shot(sheet: Sheet, shot: Shot, x: float, y: float, side: float) -> None:
    """Print a plug's picture, or a frame that says why there is none."""
    if shot.picture is not None:
        sheet.image(io.BytesIO(shot.picture), x, y, side, side, alt_text=shot.picture_words)
        return
    sheet.set_draw_color(*RULE)
    sheet.set_line_width(0.25)
    sheet.rect(x, y, side, side)
    words = Line(shot.picture_words, 7.5, ink=SOFT, after=0)
    while sheet.height([words], side - 3) > side - 3 and len(words.text) > 4:
        words = Line(words.text[: len(words.text) * 3 // 4] + "…", 7.5, ink=SOFT, after=0)
    sheet.set_y(y + max(0.0, side - sheet.height([words], side - 3)) / 2)
    sheet.column([words], x + 1.5, side - 3)
