"""A report on paper: A4 or Letter, readable in black and white."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from pathlib import Path

from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.report.content import Cause, Content, Fact, Plug, Step
from firingend.report.files import write_whole
from firingend.report.gather import gather
from firingend.report.sheet import BODY, INK, RULE, SMALL, SOFT, WARN, WASH, Line, Paper, Sheet

_GAP = 4.0
_PAD = 3.0
_CARD_HEAD = 9.0
_HEADING = 18.0
_LONGEST_CARD = 75.0
_COST_WIDTH = 32.0
_NUMBER_WIDTH = 11.0


def write_pdf(
    result: CaseResult,
    path: Path,
    paper: Paper = "A4",
    *,
    made_on: date | None = None,
    knowledge: Knowledge | None = None,
) -> None:
    """Write the report of a case as a PDF.

    Parameters
    ----------
    result
        The finished case.
    path
        The file to write; an existing one is replaced only once the new one is complete.
    paper
        ``A4`` or ``Letter``.
    made_on
        Date of the report; today when None.
    knowledge
        Names of symptoms, checks and outcomes; the shipped ones when None.

    Raises
    ------
    UserError
        The file cannot be written.
    """
    made_at = datetime.combine(made_on, time(12), UTC) if made_on else None
    write_whole(path, render_pdf(gather(result, made_on, knowledge), paper, made_at))


def render_pdf(content: Content, paper: Paper = "A4", made_at: datetime | None = None) -> bytes:
    """Lay a report's content out on paper.

    Parameters
    ----------
    content
        What to say.
    paper
        ``A4`` or ``Letter``.
    made_at
        Creation time in the file's properties; now when None.
    """
    sheet = Sheet(paper, content.title)
    sheet.set_title(content.title)
    sheet.set_lang("en")
    sheet.set_creator("firingend")
    sheet.set_creation_date(made_at or datetime.now(UTC))
    _head(sheet, content)
    _together(sheet, content)
    _plugs(sheet, content)
    _notes(sheet, content.notes)
    _safety(sheet, content.safety)
    _steps(sheet, content)
    _causes(sheet, content)
    _done(sheet, content)
    _measured(sheet, content)
    _standing(sheet, content)
    _signatures(sheet, content.signatures)
    _made(sheet, content.made)
    return bytes(sheet.output())


def _head(sheet: Sheet, content: Content) -> None:
    left, width = sheet.l_margin, sheet.epw
    sheet.column(
        [Line("FIRING-END REPORT", SMALL, ink=SOFT, after=0.8), Line(content.title, 20, bold=True, after=3)],
        left,
        width,
    )
    half = (width - 8) / 2
    for first in range(0, len(content.facts), 2):
        pair = [_fact(fact) for fact in content.facts[first : first + 2]]
        tall = max(sheet.height(lines, half) for lines in pair)
        if tall > _LONGEST_CARD:
            for lines in pair:
                sheet.column(lines, left, width)
            continue
        _side_by_side(sheet, [(lines, left + i * (half + 8), half) for i, lines in enumerate(pair)], tall)


def _fact(fact: Fact) -> list[Line]:
    return [Line(fact.name, SMALL, ink=SOFT, after=0), Line(fact.value, after=2)]


def _together(sheet: Sheet, content: Content) -> None:
    lines = [Line(content.sentence, 16, bold=True, after=1.5)]
    if content.sentence_more:
        lines.append(Line(content.sentence_more, 11, after=1.5))
    lines.append(Line(content.pattern, ink=SOFT, after=0))
    _heading(sheet, "What the plugs say together", sheet.height(lines, sheet.epw))
    sheet.column(lines, sheet.l_margin, sheet.epw)


# -- plugs --------------------------------------------------------------------------------------------------


def _plugs(sheet: Sheet, content: Content) -> None:
    columns = max(1, content.columns)
    width = min(78.0, (sheet.epw - _GAP * (columns - 1)) / columns)
    rows = [content.plugs[i : i + columns] for i in range(0, len(content.plugs), columns)]
    side = _picture_side(sheet, rows, width)
    _heading(sheet, "Plug by plug", _row_height(sheet, rows[0], width, side) if rows else 0.0)
    for row in rows:
        tall = _row_height(sheet, row, width, side)
        sheet.keep(tall)
        top = sheet.y
        for i, plug in enumerate(row):
            _card(sheet, plug, (sheet.l_margin + i * (width + _GAP), top, width, tall), side)
        sheet.set_y(top + tall + _GAP)
        for plug in row:
            _overlong(sheet, plug, width)
    for fact in content.meanings:
        name, value = [Line(fact.name, 9, bold=True, after=0)], [Line(fact.value, 9, after=0)]
        tall = sheet.height(value, sheet.epw - 36)
        _side_by_side(sheet, [(name, sheet.l_margin, 34), (value, sheet.l_margin + 36, sheet.epw - 36)], tall)


def _picture_side(sheet: Sheet, rows: Sequence[Sequence[Plug]], width: float) -> float:
    """Side of the pictures: smaller than their card where that keeps all plugs on one page."""
    room = sheet.tall + sheet.t_margin - sheet.y - _HEADING - _GAP * len(rows)
    over = sum(_row_height(sheet, row, width, width) for row in rows) - room
    if over <= 0 or not rows:
        return width
    fitting = width - over / len(rows)
    return fitting if fitting >= 0.62 * width else width


def _row_height(sheet: Sheet, row: Sequence[Plug], width: float, side: float) -> float:
    inner = width - 2 * _PAD
    texts = max(sheet.height(_card_lines(sheet, plug, width), inner) for plug in row)
    labels = max(sheet.height([_label(plug)], inner) for plug in row)
    return _CARD_HEAD + side + 2.5 + labels + 5.5 + texts + _PAD - 1


def _label(plug: Plug) -> Line:
    return Line(plug.label, 12.5, bold=True, after=0.8)


def _card_lines(sheet: Sheet, plug: Plug, width: float) -> list[Line]:
    """Lines under a plug's label; only a pointer when they are too long to stand beside the others."""
    lines = _plug_lines(plug)
    if sheet.height(lines, width - 2 * _PAD) > _LONGEST_CARD:
        return [Line("Remarks below.", 9)]
    return lines


def _plug_lines(plug: Plug) -> list[Line]:
    lines = [Line(text, 9) for text in (plug.runner_up,) if text]
    if plug.signs:
        lines.append(Line(f"Also seen: {', '.join(plug.signs)}.", 9))
    for doubt in plug.doubts:
        lines.append(Line(doubt.text, 9, bold=True, after=0.4))
        if doubt.remedy:
            lines.append(Line(doubt.remedy, 9))
    return lines


def _overlong(sheet: Sheet, plug: Plug, width: float) -> None:
    lines = _plug_lines(plug)
    if sheet.height(lines, width - 2 * _PAD) > _LONGEST_CARD:
        sheet.column([Line(plug.cylinder, bold=True), *lines], sheet.l_margin, sheet.epw)


def _card(sheet: Sheet, plug: Plug, place: tuple[float, float, float, float], side: float) -> None:
    """Print one plug into ``place``: left, top, width and height in mm."""
    x, top, width, tall = place
    inner, left = width - 2 * _PAD, x + _PAD
    _picture(sheet, plug, x + (width - side) / 2, top + _CARD_HEAD, side)
    sheet.set_draw_color(*(INK if plug.stands_out else RULE))
    sheet.set_line_width(1.1 if plug.stands_out else 0.25)
    sheet.rect(x, top, width, tall)
    _card_heading(sheet, plug, left, top + 2, inner)
    sheet.set_y(top + _CARD_HEAD + side + 2.5)
    sheet.column([_label(plug)], left, inner)
    if plug.chance is not None:
        number = max(11.0, _text_width(sheet, plug.chance.text, 9.5) + 2)
        sheet.bar(left, sheet.y + 0.9, inner - number, plug.chance.share)
        _right(sheet, plug.chance.text, left + inner - number, sheet.y, number, 9.5)
        sheet.set_y(sheet.y + 5.5)
    elif plug.chance_words:
        sheet.column([Line(plug.chance_words, 9, ink=SOFT)], left, inner)
    sheet.column(_card_lines(sheet, plug, width), left, inner)


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


# -- checks -------------------------------------------------------------------------------------------------


def _safety(sheet: Sheet, lines: Sequence[str]) -> None:
    bullets = [Line(text, 9.5, mark="•", after=0.8) for text in lines]
    sheet.set_y(sheet.y + 6)
    _boxed(sheet, "Before you start", bullets, sheet.l_margin, sheet.epw, fill=None, lead=7.2)


def _steps(sheet: Sheet, content: Content) -> None:
    words = content.order_words if content.steps else content.no_steps
    lead = [Line(words, ink=SOFT, after=3)]
    first = _step_height(sheet, content.steps[0]) if content.steps else 0.0
    _heading(sheet, "Next checks, in order", sheet.height(lead, sheet.epw) + first)
    sheet.column(lead, sheet.l_margin, sheet.epw)
    for step in content.steps:
        _step(sheet, step)
    if content.more_steps:
        sheet.column([Line(content.more_steps, ink=SOFT)], sheet.l_margin, sheet.epw)


def _step_width(sheet: Sheet) -> float:
    return sheet.epw - _NUMBER_WIDTH - _COST_WIDTH - 5


def _step_lines(step: Step) -> list[Line]:
    title = f"{step.name} – {step.where}" if step.where else step.name
    lines = [Line(title, 12.5, bold=True, after=1.2)]
    if step.why:
        lines.append(Line(step.why))
    lines += [Line(text, mark=f"{chr(ord('a') + i % 26)}.", after=0.6) for i, text in enumerate(step.how)]
    return lines


def _caution_lines(step: Step) -> list[Line]:
    return [Line(text, mark="•", after=0.6) for text in step.cautions]


def _cost_lines(step: Step) -> list[Line]:
    lines: list[Line] = []
    for name, value in (("Time", step.minutes), ("Parts", step.parts), ("Expected to the repair", step.expected)):
        lines += [Line(name, SMALL, ink=SOFT, after=0), Line(value, 11, bold=True, after=1.5)]
    if step.source:
        lines += [Line("Figures from", SMALL, ink=SOFT, after=0), Line(step.source, SMALL, after=0)]
    return lines


def _step_height(sheet: Sheet, step: Step) -> float:
    width = _step_width(sheet)
    text = sheet.height(_step_lines(step), width) + 11
    if step.cautions:
        text += _box_height(sheet, _caution_lines(step), width) + 1.5
    return 4 + max(text, sheet.height(_cost_lines(step), _COST_WIDTH)) + 2


def _step(sheet: Sheet, step: Step) -> None:
    sheet.keep(_step_height(sheet, step))
    sheet.rule()
    top, page = sheet.y + 4, sheet.page
    left, width = sheet.l_margin + _NUMBER_WIDTH, _step_width(sheet)
    cost_left = sheet.l_margin + sheet.epw - _COST_WIDTH
    sheet.set_y(top)
    sheet.column(_cost_lines(step), cost_left, _COST_WIDTH)
    bottom = sheet.y
    if sheet.page == page:
        sheet.line(cost_left - 3, top, cost_left - 3, bottom)
        sheet.set_y(top - 0.8)
        sheet.column([Line(str(step.number), 18, bold=True)], sheet.l_margin, _NUMBER_WIDTH)
        sheet.set_y(top)
    sheet.column(_step_lines(step), left, width)
    if step.cautions:
        sheet.set_y(sheet.y + 0.8)
        _boxed(sheet, "CAUTION", _caution_lines(step), left, width, fill=WARN, size=BODY)
    _outcome(sheet, left, width)
    sheet.set_y((max(sheet.y, bottom) if sheet.page == page else sheet.y) + 3)


def _outcome(sheet: Sheet, x: float, width: float) -> None:
    """Draw a line to write on with a pen."""
    sheet.keep(9)
    sheet.set_y(sheet.y + 4)
    sheet.column([Line("Outcome", SMALL, ink=SOFT, after=0)], x, width)
    sheet.set_draw_color(*INK)
    sheet.set_line_width(0.2)
    sheet.line(x, sheet.y, x + width, sheet.y)


def _box_height(sheet: Sheet, lines: Sequence[Line], width: float, lead: float = 5.5) -> float:
    return 2.2 + lead + sheet.height(lines, width - 9) + 1.6


def _boxed(
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
    """Print a caution in a frame with a triangle; one taller than a page runs on without its frame."""
    tall = _box_height(sheet, lines, width, lead)
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


# -- tables and the rest ------------------------------------------------------------------------------------


def _causes(sheet: Sheet, content: Content) -> None:
    if not content.causes:
        return
    widths = (sheet.epw * 0.50, sheet.epw * 0.20, sheet.epw * 0.30)
    _heading(sheet, "Likely causes", 24)
    _columns_heading(sheet, ("Cause", "Where", "Probability"), widths)
    for cause in content.causes:
        top = _row(sheet, _cause_cells(cause), widths)
        if top is not None:
            left = sheet.l_margin + widths[0] + widths[1]
            number = max(20.0, _text_width(sheet, cause.chance.text, BODY) + 2)
            sheet.bar(left, top + 0.9, widths[2] - number - 2, cause.chance.share)
            bottom = sheet.y
            _right(sheet, cause.chance.text, left + widths[2] - number, top, number, BODY)
            sheet.set_y(bottom)
    if content.more_causes:
        sheet.column([Line(content.more_causes, ink=SOFT)], sheet.l_margin, sheet.epw)


def _cause_cells(cause: Cause) -> list[list[Line]]:
    name = [Line(cause.name, bold=True, after=0.3)]
    if cause.repair:
        name.append(Line(cause.repair, 9, ink=SOFT, after=0))
    return [name, [Line(cause.where, after=0)], []]


def _done(sheet: Sheet, content: Content) -> None:
    _heading(sheet, "Already checked and ruled out", 20)
    if content.done:
        widths = (sheet.epw * 0.42, sheet.epw * 0.22, sheet.epw * 0.36)
        _columns_heading(sheet, ("Check", "Where", "Outcome"), widths)
        for done in content.done:
            _row(sheet, _cells(done.name, done.where, done.outcome), widths)
    else:
        sheet.column([Line("No check has been recorded yet.")], sheet.l_margin, sheet.epw)
    if content.ruled_out:
        title = Line("Ruled out by these outcomes", 11, bold=True, after=1.5)
        sheet.keep(15)
        sheet.set_y(sheet.y + 3)
        sheet.column([title, *_bullets(content.ruled_out)], sheet.l_margin, sheet.epw)


def _measured(sheet: Sheet, content: Content) -> None:
    if not content.measured:
        return
    widths = (sheet.epw * 0.42, sheet.epw * 0.22, sheet.epw * 0.36)
    _heading(sheet, "Measurements", 20)
    _columns_heading(sheet, ("What", "Where", "Value"), widths)
    for line in content.measured:
        _row(sheet, _cells(line.name, line.where, line.value), widths)


def _notes(sheet: Sheet, notes: Sequence[str]) -> None:
    if notes:
        bullets = _bullets(notes)
        _heading(sheet, "Notes on the evidence", min(sheet.height(bullets, sheet.epw), 40))
        sheet.column(bullets, sheet.l_margin, sheet.epw)


def _standing(sheet: Sheet, content: Content) -> None:
    lines = [Line("How far to trust this report", 12.5, bold=True, after=2)]
    lines += [Line(text, 9.5, after=1.4) for text in content.standing]
    if sheet.lacks_glyphs:
        lines.append(Line("Some characters have no shape in this file's type; the HTML report shows them.", 9.5))
    tall = sheet.height(lines, sheet.epw - 10) + 7
    sheet.set_y(sheet.y + 7)
    sheet.keep(tall)
    sheet.set_fill_color(*WASH)
    sheet.rect(sheet.l_margin, sheet.y, sheet.epw, tall, style="F")
    sheet.set_y(sheet.y + 4)
    sheet.column(lines, sheet.l_margin + 5, sheet.epw - 10)


def _signatures(sheet: Sheet, lines: Sequence[str]) -> None:
    sheet.keep(26)
    sheet.set_y(sheet.y + 18)
    width = (sheet.epw - 8 * (len(lines) - 1)) / max(1, len(lines))
    sheet.set_draw_color(*INK)
    sheet.set_line_width(0.25)
    cells = []
    for i, text in enumerate(lines):
        x = sheet.l_margin + i * (width + 8)
        sheet.line(x, sheet.y, x + width, sheet.y)
        cells.append(([Line(text, SMALL, ink=SOFT, after=0)], x, width))
    sheet.set_y(sheet.y + 0.8)
    _side_by_side(sheet, cells, 5)


def _made(sheet: Sheet, made: str) -> None:
    sheet.set_y(sheet.y + 3)
    sheet.column([Line(made, SMALL, ink=SOFT)], sheet.l_margin, sheet.epw)


def _heading(sheet: Sheet, text: str, with_next: float) -> None:
    """Print a section's heading, kept together with the ``with_next`` mm that follow it."""
    sheet.set_y(sheet.y + 6)
    sheet.keep(12 + min(with_next, sheet.tall - 12))
    sheet.start_section(text)
    sheet.rule(0.7, INK)
    sheet.set_y(sheet.y + 2)
    sheet.column([Line(text, 13, bold=True, after=2.5)], sheet.l_margin, sheet.epw)


def _bullets(texts: Sequence[str]) -> list[Line]:
    return [Line(text, mark="•") for text in texts]


def _cells(name: str, where: str, value: str) -> list[list[Line]]:
    return [[Line(name, bold=True, after=0)], [Line(where, after=0)], [Line(value, after=0)]]


def _columns_heading(sheet: Sheet, names: Sequence[str], widths: Sequence[float]) -> None:
    cells = [[Line(name, SMALL, ink=SOFT, after=0)] for name in names]
    _row(sheet, cells, widths, weight=0.5, ink=INK)


def _row(
    sheet: Sheet,
    cells: Sequence[Sequence[Line]],
    widths: Sequence[float],
    weight: float = 0.25,
    ink: tuple[int, int, int] = RULE,
) -> float | None:
    """Print one row of a table and the line under it.

    Returns its upper edge in mm, or None when it was taller than a page and ran on below itself instead.
    """
    tall = max(sheet.height(lines, width - 3) for lines, width in zip(cells, widths, strict=True))
    if tall + 4 > sheet.tall:
        for lines in cells:
            sheet.column(lines, sheet.l_margin, sheet.epw)
        sheet.rule(weight, ink)
        return None
    sheet.keep(tall + 4)
    top = sheet.y + 1.6
    sheet.set_y(top)
    places = [sheet.l_margin + sum(widths[:i]) for i in range(len(widths))]
    triples = [(lines, x, width - 3) for lines, x, width in zip(cells, places, widths, strict=True)]
    _side_by_side(sheet, triples, tall)
    sheet.set_y(top + tall + 1.6)
    sheet.rule(weight, ink)
    return top


def _side_by_side(sheet: Sheet, cells: Sequence[tuple[Sequence[Line], float, float]], tall: float) -> None:
    """Print columns beside each other: (lines, x, width) each, ``tall`` mm high together."""
    sheet.keep(tall)
    top = sheet.y
    for lines, x, width in cells:
        sheet.set_y(top)
        sheet.column(lines, x, width)
    sheet.set_y(top + tall)


def _text_width(sheet: Sheet, text: str, size: float) -> float:
    sheet.set_font("text", "B", size)
    return float(sheet.get_string_width(text))


def _right(sheet: Sheet, text: str, x: float, y: float, width: float, size: float) -> None:
    sheet.set_font("text", "B", size)
    sheet.set_text_color(*INK)
    sheet.set_xy(x, y)
    sheet.cell(width, size * 0.48, sheet.one_line(text, width), align="R")
