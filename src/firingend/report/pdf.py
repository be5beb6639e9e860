"""A report on paper: A4 or Letter, readable in black and white."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from pathlib import Path

from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.report.blocks import box_height, boxed, bullets, heading, right, side_by_side, table, text_width
from firingend.report.content import Cause, Content, Fact, Measured, Step
from firingend.report.files import write_whole
from firingend.report.gather import gather
from firingend.report.job_facts import JobFacts
from firingend.report.plug_cards import print_plugs
from firingend.report.repair_on_paper import print_repair
from firingend.report.sheet import BODY, INK, SMALL, SOFT, WARN, WASH, Line, Paper, Sheet

_LONGEST_FACT = 75.0
_COST_WIDTH = 32.0
_NUMBER_WIDTH = 11.0
_SIGNATURES = 36.0


def write_pdf(
    result: CaseResult,
    path: Path,
    paper: Paper = "A4",
    *,
    made_on: date | None = None,
    knowledge: Knowledge | None = None,
    job: JobFacts | None = None,
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
    job
        What was found and done, for a case that is a job.

    Raises
    ------
    UserError
        The file cannot be written.
    """
    made_at = datetime.combine(made_on, time(12), UTC) if made_on else None
    write_whole(path, render_pdf(gather(result, made_on, knowledge, job), paper, made_at))


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
    _head(sheet, content)
    if content.repair is not None:
        print_repair(sheet, content.repair)
    _together(sheet, content)
    print_plugs(sheet, content)
    _notes(sheet, content.notes)
    _safety(sheet, content.safety)
    _steps(sheet, content)
    _causes(sheet, content)
    _done(sheet, content)
    _measured(sheet, content)
    _standing(sheet, content)
    _signatures(sheet, content.signatures)
    _made(sheet, content.made)
    return sheet.finished(content.title, made_at)


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
        if tall > _LONGEST_FACT:
            for lines in pair:
                sheet.column(lines, left, width)
            continue
        side_by_side(sheet, [(lines, left + i * (half + 8), half) for i, lines in enumerate(pair)], tall)


def _fact(fact: Fact) -> list[Line]:
    return [Line(fact.name, SMALL, ink=SOFT, after=0), Line(fact.value, 9.5, after=1.4)]


def _together(sheet: Sheet, content: Content) -> None:
    lines = [Line(content.sentence, 16, bold=True, after=1.5)]
    if content.sentence_more:
        lines.append(Line(content.sentence_more, 11, after=1.5))
    if content.colours:
        lines.append(Line(content.colours, after=1.5))
    lines.append(Line(content.pattern, ink=SOFT, after=0))
    heading(
        sheet,
        f"What the plugs {'said before the repair' if content.repair else 'say together'}",
        sheet.height(lines, sheet.epw),
    )
    sheet.column(lines, sheet.l_margin, sheet.epw)


# -- checks -------------------------------------------------------------------------------------------------


def _safety(sheet: Sheet, lines: Sequence[str]) -> None:
    points = [Line(text, 9.5, mark="•", after=0.8) for text in lines]
    sheet.set_y(sheet.y + 6)
    boxed(sheet, "Before you start", points, sheet.l_margin, sheet.epw, fill=None, lead=7.2)


def _steps(sheet: Sheet, content: Content) -> None:
    words = content.order_words if content.steps else content.no_steps
    lead = [Line(words, ink=SOFT, after=3)]
    first = _step_height(sheet, content.steps[0]) if content.steps else 0.0
    heading(sheet, "Next checks, in order", sheet.height(lead, sheet.epw) + first)
    sheet.column(lead, sheet.l_margin, sheet.epw)
    for step in content.steps:
        _step(sheet, step)
    if content.more_steps:
        sheet.column([Line(content.more_steps, ink=SOFT)], sheet.l_margin, sheet.epw)


def _step_width(sheet: Sheet) -> float:
    return sheet.epw - _NUMBER_WIDTH - _COST_WIDTH - 5


def _reason_lines(step: Step) -> list[Line]:
    title = f"{step.name} – {step.where}" if step.where else step.name
    lines = [Line(title, 12.5, bold=True, after=1.2)]
    return [*lines, Line(step.why)] if step.why else lines


def _how_lines(step: Step) -> list[Line]:
    return [Line(text, mark=f"{chr(ord('a') + i % 26)}.", after=0.6) for i, text in enumerate(step.how)]


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
    text = sheet.height([*_reason_lines(step), *_how_lines(step)], width) + 11
    if step.cautions:
        text += box_height(sheet, _caution_lines(step), width) + 2.8
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
    sheet.column(_reason_lines(step), left, width)
    if step.cautions:
        # Before the work it warns of, not after it.
        sheet.set_y(sheet.y + 0.8)
        boxed(sheet, "CAUTION", _caution_lines(step), left, width, fill=WARN, size=BODY)
        sheet.set_y(sheet.y + 2)
    sheet.column(_how_lines(step), left, width)
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


# -- tables and the rest ------------------------------------------------------------------------------------


def _causes(sheet: Sheet, content: Content) -> None:
    if not content.causes:
        return
    widths = (sheet.epw * 0.50, sheet.epw * 0.20, sheet.epw * 0.30)
    left = sheet.l_margin + widths[0] + widths[1]

    def draw_chance(number: int, top: float) -> None:
        chance = content.causes[number].chance
        figure = max(20.0, text_width(sheet, chance.text, BODY) + 2)
        sheet.bar(left, top + 0.9, widths[2] - figure - 2, chance.share)
        right(sheet, chance.text, left + widths[2] - figure, top, figure, BODY)

    heading(sheet, "Likely causes", 24)
    rows = [_cause_cells(cause) for cause in content.causes]
    table(sheet, ("Cause", "Where", "Probability"), widths, rows, draw_chance)
    if content.more_causes:
        sheet.set_y(sheet.y + 1.5)
        sheet.column([Line(content.more_causes, ink=SOFT)], sheet.l_margin, sheet.epw)


def _cause_cells(cause: Cause) -> list[list[Line]]:
    name = [Line(cause.name, bold=True, after=0.3)]
    if cause.repair:
        name.append(Line(cause.repair, 9, ink=SOFT, after=0))
    return [name, [Line(cause.where, after=0)], []]


def _done(sheet: Sheet, content: Content) -> None:
    heading(sheet, "Already checked and ruled out", 20)
    if content.done:
        rows = [_cells(done.name, done.where, done.outcome) for done in content.done]
        table(sheet, ("Check", "Where", "Outcome"), _three_columns(sheet), rows)
    else:
        sheet.column([Line("No check has been recorded yet.")], sheet.l_margin, sheet.epw)
    if content.ruled_out_by_hand:
        sheet.set_y(sheet.y + 3)
        lines = [Line("Ruled out by the technician", 11, bold=True, after=1.5), Line(content.ruled_out_by_hand)]
        sheet.keep(sheet.height(lines, sheet.epw))
        sheet.column(lines, sheet.l_margin, sheet.epw)
    if content.ruled_out:
        sheet.set_y(sheet.y + 3)
        title = Line("Hardly possible any more, by what was seen and checked", 11, bold=True, after=1.5)
        lines = [title, Line(content.ruled_out)]
        sheet.keep(sheet.height(lines, sheet.epw))
        sheet.column(lines, sheet.l_margin, sheet.epw)


def _measured(sheet: Sheet, content: Content) -> None:
    if content.measured:
        heading(sheet, "Measurements against what is asked for", 20)
        rows = [[*_cells(each.name, each.where, each.value), *_verdict(each)] for each in content.measured]
        widths = tuple(sheet.epw * share for share in (0.28, 0.14, 0.16, 0.15, 0.27))
        table(sheet, ("What", "Where", "Value", "Asked for", "Verdict"), widths, rows)


def _verdict(line: Measured) -> list[list[Line]]:
    verdict = [Line(line.verdict, bold=True, after=0)] if line.verdict else []
    reason = [Line(line.reason, SMALL, ink=SOFT, after=0)] if line.reason else []
    return [[Line(line.limits or "–", after=0)], [*verdict, *reason]]


def _three_columns(sheet: Sheet) -> tuple[float, float, float]:
    return sheet.epw * 0.42, sheet.epw * 0.22, sheet.epw * 0.36


def _cells(name: str, where: str, value: str) -> list[list[Line]]:
    return [[Line(name, bold=True, after=0)], [Line(where, after=0)], [Line(value, after=0)]]


def _notes(sheet: Sheet, notes: Sequence[str]) -> None:
    if notes:
        points = bullets(notes)
        heading(sheet, "Notes on the evidence", min(sheet.height(points, sheet.epw), 40))
        sheet.column(points, sheet.l_margin, sheet.epw)


def _standing(sheet: Sheet, content: Content) -> None:
    lines = [Line("How far to trust this report", 12.5, bold=True, after=2)]
    lines += [Line(text, 9.5, after=1.4) for text in content.standing]
    if sheet.lacks_glyphs:
        lines.append(Line("Some characters have no shape in this file's type; the HTML report shows them.", 9.5))
    tall = sheet.height(lines, sheet.epw - 10) + 7
    sheet.set_y(sheet.y + 7)
    sheet.keep(tall + _SIGNATURES)  # a page with nothing but a line to sign on would be signed unread
    sheet.set_fill_color(*WASH)
    sheet.rect(sheet.l_margin, sheet.y, sheet.epw, tall, style="F")
    sheet.set_y(sheet.y + 4)
    sheet.column(lines, sheet.l_margin + 5, sheet.epw - 10)


def _signatures(sheet: Sheet, lines: Sequence[str]) -> None:
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
    side_by_side(sheet, cells, 5)


def _made(sheet: Sheet, made: str) -> None:
    sheet.set_y(sheet.y + 3)
    sheet.column([Line(made, SMALL, ink=SOFT)], sheet.l_margin, sheet.epw)
