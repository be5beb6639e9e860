"""Plugs side by side on paper: a picture each, with what was read off it below."""

from __future__ import annotations

import io
from collections.abc import Sequence

from firingend.report.blocks import HEADING_HEIGHT, heading, right, side_by_side, text_width
from firingend.report.content import Content, Plug
from firingend.report.parts_on_paper import SWATCH_HEIGHT, draw_outlines, print_colours, print_swatch
from firingend.report.sheet import INK, RULE, SMALL, SOFT, Line, Sheet

_GAP = 4.0
_PAD = 3.0
_HEAD = 9.0
_LONGEST = 75.0
_SMALLEST = 26.0


def print_plugs(sheet: Sheet, content: Content) -> None:
    """Print every plug in the engine's order, as many in a row as the content says."""
    columns = max(1, content.columns)
    width = min(78.0, (sheet.epw - _GAP * (columns - 1)) / columns)
    rows = [content.plugs[i : i + columns] for i in range(0, len(content.plugs), columns)]
    side = _picture_side(sheet, rows, width)
    heading(sheet, "Plug by plug", _row_height(sheet, rows[0], width, side) if rows else 0.0)
    for row in rows:
        tall = _row_height(sheet, row, width, side)
        sheet.keep(tall)
        top = sheet.y
        for i, plug in enumerate(row):
            _card(sheet, plug, (sheet.l_margin + i * (width + _GAP), top, width, tall), side)
        sheet.set_y(top + tall + _GAP)
        for plug in row:
            _overlong(sheet, plug, width)
    if content.legend:
        sheet.column([Line(content.legend, SMALL, ink=SOFT, after=1.5)], sheet.l_margin, sheet.epw)
    print_colours(sheet, content)
    for fact in content.meanings:
        name, value = [Line(fact.name, 9, bold=True, after=0)], [Line(fact.value, 9, after=0)]
        tall = max(sheet.height(name, 34), sheet.height(value, sheet.epw - 36))
        side_by_side(sheet, [(name, sheet.l_margin, 34), (value, sheet.l_margin + 36, sheet.epw - 36)], tall)


def _picture_side(sheet: Sheet, rows: Sequence[Sequence[Plug]], width: float) -> float:
    """Side of the pictures: smaller than their card where that keeps all plugs on one page."""
    room = sheet.tall + sheet.t_margin - sheet.y - HEADING_HEIGHT - _GAP * len(rows)
    over = sum(_row_height(sheet, row, width, width) for row in rows) - room
    if over <= 0 or not rows:
        return width
    fitting = width - over / len(rows)
    return fitting if fitting >= min(0.6 * width, _SMALLEST) else width


def _row_height(sheet: Sheet, row: Sequence[Plug], width: float, side: float) -> float:
    inner = width - 2 * _PAD
    texts = max(sheet.height(_card_lines(sheet, plug, width), inner) for plug in row)
    labels = max(sheet.height([_label(plug)], inner) for plug in row)
    colours = SWATCH_HEIGHT if any(plug.swatches for plug in row) else 0.0
    return _HEAD + side + 2.5 + labels + 5.5 + texts + colours + _PAD - 1


def _label(plug: Plug) -> Line:
    return Line(plug.label, 12.5, bold=True, after=0.8)


def _card_lines(sheet: Sheet, plug: Plug, width: float) -> list[Line]:
    """Lines under a plug's label; only a pointer when they are too long to stand beside the others."""
    lines = _plug_lines(plug)
    if sheet.height(lines, width - 2 * _PAD) > _LONGEST:
        return [Line("Remarks below.", 9)]
    return lines


def _plug_lines(plug: Plug) -> list[Line]:
    lines = [Line(text, 9) for text in (plug.reach, plug.could_be, plug.runner_up) if text]
    if plug.signs:
        lines.append(Line(f"Also seen: {', '.join(plug.signs)}.", 9))
    for doubt in plug.doubts:
        lines.append(Line(doubt.text, 9, bold=True, after=0.4))
        if doubt.remedy:
            lines.append(Line(doubt.remedy, 9))
    return lines


def _overlong(sheet: Sheet, plug: Plug, width: float) -> None:
    lines = _plug_lines(plug)
    if sheet.height(lines, width - 2 * _PAD) > _LONGEST:
        sheet.column([Line(plug.cylinder, bold=True), *lines], sheet.l_margin, sheet.epw)


def _card(sheet: Sheet, plug: Plug, place: tuple[float, float, float, float], side: float) -> None:
    """Print one plug into ``place``: left, top, width and height in mm."""
    x, top, width, tall = place
    inner, left = width - 2 * _PAD, x + _PAD
    _picture(sheet, plug, x + (width - side) / 2, top + _HEAD, side)
    sheet.set_draw_color(*(INK if plug.stands_out else RULE))
    sheet.set_line_width(1.1 if plug.stands_out else 0.25)
    sheet.rect(x, top, width, tall)
    _card_heading(sheet, plug, left, top + 2, inner)
    sheet.set_y(top + _HEAD + side + 2.5)
    sheet.column([_label(plug)], left, inner)
    if plug.chance is not None:
        number = max(11.0, text_width(sheet, plug.chance.text, 9.5) + 2)
        sheet.bar(left, sheet.y + 0.9, inner - number, plug.chance.share)
        right(sheet, plug.chance.text, left + inner - number, sheet.y, number, 9.5)
        sheet.set_y(sheet.y + 5.5)
    elif plug.chance_words:
        sheet.column([Line(plug.chance_words, 9, ink=SOFT)], left, inner)
    sheet.column(_card_lines(sheet, plug, width), left, inner)
    if plug.swatches:
        print_swatch(sheet, plug.swatches[0], left, top + tall - SWATCH_HEIGHT - _PAD + 1.5, inner)


def _card_heading(sheet: Sheet, plug: Plug, x: float, y: float, width: float) -> None:
    sheet.set_font("text", "B", 10.5)
    sheet.set_text_color(*INK)
    sheet.set_xy(x, y)
    sheet.cell(width, 5.5, sheet.one_line(plug.cylinder, width))
    if plug.stands_out:
        # White on black reads on any printer; it sits on the frame, where nothing else is.
        sheet.set_font("text", "B", 8)
        tag = sheet.get_string_width("stands out") + 3
        sheet.set_fill_color(*INK)
        sheet.set_text_color(255, 255, 255)
        sheet.set_xy(x + width - tag, y - 4.2)
        sheet.cell(tag, 4.4, "stands out", align="C", fill=True)


def _picture(sheet: Sheet, plug: Plug, x: float, y: float, side: float) -> None:
    if plug.picture is not None:
        sheet.image(io.BytesIO(plug.picture), x, y, side, side, alt_text=plug.picture_words)
        draw_outlines(sheet, plug.outlines, x, y, side)
        return
    sheet.set_draw_color(*SOFT)
    sheet.set_line_width(0.25)
    sheet.set_dash_pattern(dash=1.5, gap=1.2)
    sheet.rect(x, y, side, side)
    sheet.set_dash_pattern()
    words = Line(plug.picture_words, 9, ink=SOFT, after=0)
    while sheet.height([words], side - 6) > side - 6:
        words = Line(words.text[: len(words.text) * 3 // 4] + "…", 9, ink=SOFT, after=0)
    sheet.set_y(y + (side - sheet.height([words], side - 6)) / 2)
    sheet.column([words], x + 3, side - 6)
