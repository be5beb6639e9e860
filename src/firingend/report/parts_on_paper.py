"""Outlines and swatches of a firing end's parts on paper."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from firingend.report.content import Content, Outlined, Swatch
from firingend.report.figures import NBSP
from firingend.report.sheet import INK, SMALL, SOFT, Line, Sheet

_CASING: Final = 0.45
_CORE: Final = 0.18
"""Widths in mm of the dark casing and the light line in it: together readable on light and on dark."""

SWATCH_HEIGHT: Final = 8.5
"""Height in mm that a plug's colour takes on its card."""

_ROW: Final = 4.8
_WHITE: Final = (255, 255, 255)


def draw_outlines(sheet: Sheet, parts: Sequence[Outlined], x: float, y: float, side: float) -> None:
    """Draw the parts over a picture that lies at ``x``, ``y`` and is ``side`` mm wide."""
    if not parts:
        return
    loops = [[(x + a * side, y + b * side) for a, b in loop] for part in parts for loop in part.loops]
    leaders = [[(x + a * side, y + b * side) for a, b in (part.place, part.anchor)] for part in parts]
    with sheet.rect_clip(x, y, side, side):
        for width, ink in ((_CASING, INK), (_CORE, _WHITE)):
            sheet.set_draw_color(*ink)
            sheet.set_line_width(width)
            for loop in loops:
                sheet.polygon(loop)
            for leader in leaders:
                sheet.polyline(leader)
    for part in parts:
        _letter(sheet, part, x, y, side)


def _letter(sheet: Sheet, part: Outlined, x: float, y: float, side: float) -> None:
    radius = min(1.9, 0.05 * side)
    (at, down), (middle, level) = ((x + a * side, y + b * side) for a, b in (part.anchor, part.place))
    sheet.set_fill_color(*_WHITE)
    sheet.set_draw_color(*INK)
    sheet.set_line_width(0.15)
    sheet.ellipse(at - 0.45, down - 0.45, 0.9, 0.9, style="DF")
    sheet.ellipse(middle - radius, level - radius, 2 * radius, 2 * radius, style="DF")
    sheet.set_font("text", "B", 3.6 * radius)
    sheet.set_text_color(*INK)
    sheet.set_xy(middle - radius, level - radius)
    sheet.cell(2 * radius, 2 * radius, part.letter, align="C")


def print_swatch(sheet: Sheet, swatch: Swatch, x: float, y: float, width: float) -> None:
    """Print a colour with its name and numbers beside it."""
    _patch(sheet, swatch, x, y, 6.5, SWATCH_HEIGHT - 1.5)
    lines = [Line(swatch.name, 8, bold=True, after=0), Line(swatch.lab, 8, bold=True, after=0)]
    sheet.set_y(y - 0.1)
    sheet.column(lines, x + 8, width - 8)


def print_colours(sheet: Sheet, content: Content) -> None:
    """Print the colours of the parts besides the nose, a column for each plug, and what was taken for neutral."""
    name_width = 30.0
    width = (sheet.epw - name_width) / max(1, len(content.plugs))
    neutral = [Line(content.neutral, SMALL, ink=SOFT, after=2)] if content.neutral else []
    if content.colour_rows:
        sheet.keep(8 + _ROW * len(content.colour_rows) + sheet.height(neutral, sheet.epw))
        names = [plug.cylinder if width > 24 else plug.cylinder.split(NBSP)[-1] for plug in content.plugs]
        _cells(sheet, ["Colours, L* a* b*", *names], name_width, width, SOFT)
    for row in content.colour_rows:
        sheet.rule(0.15)
        top = sheet.y
        numbers = [swatch.numbers if swatch else "" for swatch in row.swatches]
        _cells(sheet, [row.name, *numbers], name_width, width, INK, indent=6.0)
        for i, swatch in enumerate(row.swatches):
            if swatch:
                _patch(sheet, swatch, sheet.l_margin + name_width + i * width, top + 0.6, 4.5, _ROW - 1.2)
        sheet.set_y(top + _ROW)
    sheet.set_y(sheet.y + 1)
    sheet.column(neutral, sheet.l_margin, sheet.epw)


def _cells(
    sheet: Sheet, texts: Sequence[str], first: float, width: float, ink: tuple[int, int, int], indent: float = 0.0
) -> None:
    sheet.set_font("text", "", 8)
    sheet.set_text_color(*ink)
    top = sheet.y
    sheet.set_xy(sheet.l_margin, top)
    sheet.cell(first, _ROW, texts[0])
    for i, text in enumerate(texts[1:]):
        sheet.set_xy(sheet.l_margin + first + i * width + indent, top)
        sheet.cell(width - indent, _ROW, text)
    sheet.set_y(top + _ROW)


def _patch(sheet: Sheet, swatch: Swatch, x: float, y: float, width: float, tall: float) -> None:
    sheet.set_fill_color(*swatch.rgb)
    sheet.set_draw_color(*INK)
    sheet.set_line_width(0.15)
    sheet.rect(x, y, width, tall, style="DF")
