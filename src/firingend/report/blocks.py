"""What a page is built of: headings, rows of tables, framed cautions, columns side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from firingend.report.sheet import INK, RULE, SMALL, SOFT, Line, Sheet

HEADING_HEIGHT = 18.0
"""Height in mm of a section's heading with the space around it."""

_CELL_PAD = 1.6


def heading(sheet: Sheet, text: str, with_next: float) -> None:
    """Print a section's heading, kept together with the ``with_next`` mm that follow it."""
    sheet.set_y(sheet.y + 6)
    sheet.keep(12 + min(with_next, sheet.tall - 12))
    sheet.start_section(text)
    sheet.rule(0.7, INK)
    sheet.set_y(sheet.y + 2)
    sheet.column([Line(text, 13, bold=True, after=2.5)], sheet.l_margin, sheet.epw)


def bullets(texts: Sequence[str]) -> list[Line]:
    """Texts as the points of a list."""
    return [Line(text, mark="•") for text in texts]


Cells = Sequence[Sequence[Line]]
"""One row of a table: the paragraphs of each column."""


def table(
    sheet: Sheet,
    names: Sequence[str],
    widths: Sequence[float],
    rows: Sequence[Cells],
    draw: Callable[[int, float], None] | None = None,
) -> None:
    """Print a table; its column names are repeated at the top of every page it runs on to.

    Parameters
    ----------
    names, widths
        Name and width in mm of each column.
    rows
        What stands in them; a row taller than a page is printed as running text instead.
    draw
        Called with the number of each row and its upper edge in mm, to draw into it.
    """
    head = [[Line(name, SMALL, ink=SOFT, after=0)] for name in names]
    _row(sheet, head, widths, _row_height(sheet, head, widths), 0.5, INK)
    for number, cells in enumerate(rows):
        tall = _row_height(sheet, cells, widths)
        if tall + 12 > sheet.tall:
            for lines in cells:
                sheet.column(lines, sheet.l_margin, sheet.epw)
            sheet.rule()
            continue
        if sheet.will_page_break(tall):
            sheet.add_page()
            _row(sheet, head, widths, _row_height(sheet, head, widths), 0.5, INK)
        top = sheet.y + _CELL_PAD
        _row(sheet, cells, widths, tall, 0.25, RULE)
        if draw is not None:
            bottom = sheet.y
            draw(number, top)
            sheet.set_y(bottom)


def _row_height(sheet: Sheet, cells: Cells, widths: Sequence[float]) -> float:
    tallest = max(sheet.height(lines, width - 3) for lines, width in zip(cells, widths, strict=True))
    return tallest + 2 * _CELL_PAD


def _row(
    sheet: Sheet, cells: Cells, widths: Sequence[float], tall: float, weight: float, ink: tuple[int, int, int]
) -> None:
    sheet.set_y(sheet.y + _CELL_PAD)
    places = [sheet.l_margin + sum(widths[:i]) for i in range(len(widths))]
    columns = [(lines, x, width - 3) for lines, x, width in zip(cells, places, widths, strict=True)]
    side_by_side(sheet, columns, tall - 2 * _CELL_PAD)
    sheet.set_y(sheet.y + _CELL_PAD)
    sheet.rule(weight, ink)


def side_by_side(sheet: Sheet, cells: Sequence[tuple[Sequence[Line], float, float]], tall: float) -> None:
    """Print columns beside each other: (lines, x, width) each, ``tall`` mm high together."""
    sheet.keep(tall)
    top = sheet.y
    for lines, x, width in cells:
        sheet.set_y(top)
        sheet.column(lines, x, width)
    sheet.set_y(top + tall)


def box_height(sheet: Sheet, lines: Sequence[Line], width: float, lead: float = 5.5) -> float:
    """Height in mm of a framed caution that is ``width`` mm wide."""
    return 2.2 + lead + sheet.height(lines, width - 9) + 1.6


def boxed(
    sheet: Sheet,
    title: str,
    lines: Sequence[Line],
    x: float,
    width: float,
    *,
    fill: tuple[int, int, int] | None,
    size: float = 12.5,
    lead: float = 5.5,
) -> None:
    """Print a caution in a frame with a triangle; one taller than a page runs on without its frame.

    Parameters
    ----------
    title, lines
        What it says.
    x, width
        Left edge and width in mm.
    fill
        Colour of the ground, or None for white.
    size, lead
        Size of the title in points, and height in mm kept for it.
    """
    tall = box_height(sheet, lines, width, lead)
    framed = tall <= sheet.tall
    sheet.keep(tall if framed else 30)
    top = sheet.y
    if framed:
        _frame(sheet, x, top, width, tall, fill)
    sheet.triangle(x + 4.5, top + 2.4, 4.2)
    sheet.set_y(top + 2.2)
    sheet.column([Line(title, size, bold=True, after=0)], x + 10, width - 14)
    sheet.set_y(top + 2.2 + lead)
    sheet.column(lines, x + 4.5, width - 9)
    if framed:
        sheet.set_y(top + tall)


def _frame(sheet: Sheet, x: float, y: float, width: float, tall: float, fill: tuple[int, int, int] | None) -> None:
    sheet.set_draw_color(*INK)
    sheet.set_line_width(0.6)
    if fill is not None:
        sheet.set_fill_color(*fill)
        sheet.rect(x, y, width, tall, style="DF")
        sheet.set_fill_color(*INK)
        sheet.rect(x, y, 2.4, tall, style="F")
    else:
        sheet.rect(x, y, width, tall)


def text_width(sheet: Sheet, text: str, size: float) -> float:
    """Width in mm of a bold text."""
    sheet.set_font("text", "B", size)
    return float(sheet.get_string_width(text))


def right(sheet: Sheet, text: str, x: float, y: float, width: float, size: float) -> None:
    """Print a bold text on one line against the right edge of ``width`` mm from ``x`` on."""
    sheet.set_font("text", "B", size)
    sheet.set_text_color(*INK)
    sheet.set_xy(x, y)
    sheet.cell(width, size * 0.48, sheet.one_line(text, width), align="R")
