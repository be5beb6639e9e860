"""The customer's page on paper: always one sheet, A4 or Letter."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Final

from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.report.blocks import right, side_by_side
from firingend.report.content import Pair, Shot
from firingend.report.customer import CustomerContent, gather_customer
from firingend.report.files import write_whole
from firingend.report.job_facts import JobFacts
from firingend.report.repair_on_paper import print_shot
from firingend.report.sheet import INK, RULE, SOFT, WASH, Line, Paper, Sheet

_GAP: Final = 8.0
_SCALES: Final = (1.05, 1.0, 0.95, 0.9, 0.85, 0.8, 0.72, 0.64)
"""Scales of the type, tried in turn until the page holds everything."""

_SMALLEST: Final = {1: 42.0, 2: 42.0, 3: 32.0}
_SMALLEST_OF_MANY: Final = 27.0
_LARGEST: Final = 56.0
"""Side of a picture in mm; what room is left on the page goes to the pictures."""

_SIGNATURES: Final = 26.0


def write_customer_pdf(
    result: CaseResult,
    path: Path,
    paper: Paper = "A4",
    *,
    made_on: date | None = None,
    knowledge: Knowledge | None = None,
    job: JobFacts | None = None,
) -> None:
    """Write the customer's page of a case as a PDF; arguments and errors as in `pdf.write_pdf`."""
    made_at = datetime.combine(made_on, time(12), UTC) if made_on else None
    write_whole(path, render_customer_pdf(gather_customer(result, made_on, knowledge, job), paper, made_at))


def render_customer_pdf(content: CustomerContent, paper: Paper = "A4", made_at: datetime | None = None) -> bytes:
    """Lay the customer's page out on one sheet, in type as large as it holds.

    Parameters
    ----------
    content
        What to say.
    paper
        ``A4`` or ``Letter``.
    made_at
        Creation time in the file's properties; now when None.
    """
    return _fitting(paper, content).finished(content.title, made_at)


def _fitting(paper: Paper, content: CustomerContent) -> Sheet:
    """The page in the largest type that holds everything, with pictures as large as the room that is left."""
    smallest = _SMALLEST.get(len(content.plugs), _SMALLEST_OF_MANY)
    page = _Page(paper, content, _SCALES[0], smallest)
    for scale in _SCALES[1:]:
        if page.fits:
            break
        page.sheet.throw_away()
        page = _Page(paper, content, scale, smallest)
    if page.fits and page.picture_rows and page.room > 1:
        larger = _Page(paper, content, page.scale, min(_LARGEST, smallest + page.room / page.picture_rows))
        page, other = (larger, page) if larger.fits else (page, larger)
        other.sheet.throw_away()
    return page.sheet


class _Page:
    """One try at the page, in one scale.

    Attributes
    ----------
    fits
        Whether everything stands on it.
    room
        Height in mm that is left above the signatures; below 0 where something is missing.
    picture_rows
        Rows of pictures on it.
    """

    def __init__(self, paper: Paper, content: CustomerContent, scale: float, side: float) -> None:
        self.sheet = Sheet(paper, content.title)
        self.scale = scale
        self.left, self.width = self.sheet.l_margin, self.sheet.epw
        self.room = float("inf")
        self.picture_rows = 0
        self._head(content)
        self._section("What we found", self._paragraphs(content.found, first_bold=True))
        self._plugs(content, side)
        half = (self.width - _GAP) / 2
        right_edge = self.left + half + _GAP
        top = self.sheet.y + 3 * scale
        ends = [
            self._column(content.done_title, content.done, self.left, half, top),
            self._costs(content, right_edge, half, top),
        ]
        top = max(ends) + 3 * scale
        ends = [
            self._column("What to watch", content.watch, self.left, half, top),
            self._column("Please be careful", content.cautions, right_edge, half, top, framed=True),
        ]
        self.sheet.set_y(max(ends) + 3 * scale)
        self._foot(content)
        self.fits = self.sheet.pages_count == 1 and self.room >= 0

    def _line(
        self, text: str, size: float = 10.0, *, bold: bool = False, soft: bool = False, after: float = 1.2
    ) -> Line:
        return Line(text, size * self.scale, bold=bold, ink=SOFT if soft else INK, after=after * self.scale)

    def _paragraphs(self, texts: Sequence[str], first_bold: bool = False) -> list[Line]:
        return [
            self._line(text, 12.5 if first_bold and i == 0 else 10.5, bold=first_bold and i == 0)
            for i, text in enumerate(texts)
        ]

    def _head(self, content: CustomerContent) -> None:
        sheet = self.sheet
        lines = [
            self._line("REPORT ON YOUR ENGINE", 8.5, soft=True, after=0.5),
            self._line(content.title, 19, bold=True, after=2),
        ]
        sheet.column(lines, self.left, self.width)
        count = max(1, len(content.facts))
        each = self.width / count
        cells = [
            (
                [self._line(fact.name, 8.5, soft=True, after=0), self._line(fact.value, 10, after=0)],
                self.left + i * each,
                each - 4,
            )
            for i, fact in enumerate(content.facts)
        ]
        side_by_side(sheet, cells, max((sheet.height(lines, width) for lines, _, width in cells), default=0.0))
        sheet.set_y(sheet.y + 2 * self.scale)
        if content.told:
            self._section("What you told us", [self._line(f"“{content.told}”", 10.5)])

    def _section(self, title: str, lines: Sequence[Line]) -> None:
        sheet = self.sheet
        sheet.set_y(sheet.y + 2.2 * self.scale)
        sheet.rule(0.5, INK)
        sheet.set_y(sheet.y + 1.4 * self.scale)
        sheet.column([self._line(title, 9, bold=True, soft=True, after=0.8), *lines], self.left, self.width)

    # -- pictures -------------------------------------------------------------------------------------------

    def _plugs(self, content: CustomerContent, most: float) -> None:
        sheet, plugs = self.sheet, content.plugs
        if not plugs:
            return
        looks = max(len(pair.shots) for pair in plugs)
        sheet.set_y(sheet.y + 1.5 * self.scale)
        if len(plugs) <= 2 and looks > 1:  # each plug's pictures beside each other
            cells = [(shot, f"{pair.cylinder}, {shot.when.lower()}") for pair in plugs for shot in pair.shots]
            self._row(cells, most)
        else:
            for look in range(looks):
                self._row([(pair.shots[look], self._name(pair, look)) for pair in plugs], most)
        if content.more_plugs:
            sheet.column([self._line(content.more_plugs, 8.5, soft=True)], self.left, self.width)

    @staticmethod
    def _name(pair: Pair, look: int) -> str:
        when = pair.shots[look].when
        return f"{when} · {pair.cylinder}" if when else pair.cylinder

    def _row(self, cells: Sequence[tuple[Shot, str]], most: float) -> None:
        """Pictures beside each other, with name and what was seen below each."""
        sheet = self.sheet
        gap = 3.0
        side = min(most, (self.width - gap * (len(cells) - 1)) / len(cells))
        if all(shot.picture is None for shot, _ in cells):
            side = min(side, max(24.0, self.width / len(cells) - gap))
        size = 9.0 if side >= 30 else 7.5
        captions = [
            [self._line(name, size, soft=True, after=0), self._line(shot.label, size + 0.5, bold=True, after=0)]
            for shot, name in cells
        ]
        pictures = any(shot.picture is not None for shot, _ in cells)
        tall = side if pictures else 0.0
        self.picture_rows += pictures
        under = max(sheet.height(lines, side) for lines in captions)
        sheet.keep(tall + under + 2)
        top = sheet.y
        for i, ((shot, _), lines) in enumerate(zip(cells, captions, strict=True)):
            x = self.left + i * (side + gap)
            if pictures:
                print_shot(sheet, shot, x, top, side)
            sheet.set_y(top + tall + 0.6)
            sheet.column(lines, x, side)
        sheet.set_y(top + tall + under + 2.2 * self.scale)

    # -- columns --------------------------------------------------------------------------------------------

    def _column(
        self, title: str, texts: Sequence[str], x: float, width: float, top: float, framed: bool = False
    ) -> float:
        """Print points below a title; give the height at which they end."""
        sheet = self.sheet
        lines = [Line(text, 9.8 * self.scale, mark="•", after=0.8 * self.scale) for text in texts]
        head = self._line(title, 9, bold=True, soft=not framed, after=1)
        pad = 3.0 if framed else 0.0
        tall = sheet.height([head, *lines], width - 2 * pad) + 3 * self.scale
        if top + tall > sheet.page_break_trigger:
            self.room = -1.0
            return top + tall
        self._rule(x, width, top, framed, tall)
        sheet.set_y(top + 1.4 * self.scale)
        sheet.column([head, *lines], x + pad, width - 2 * pad)
        return top + tall

    def _rule(self, x: float, width: float, top: float, framed: bool, tall: float) -> None:
        self.sheet.set_draw_color(*INK)
        self.sheet.set_line_width(0.6 if framed else 0.5)
        if framed:
            self.sheet.rect(x, top, width, tall)
        else:
            self.sheet.line(x, top, x + width, top)

    def _costs(self, content: CustomerContent, x: float, width: float, top: float) -> float:
        sheet = self.sheet
        size = 9.8 * self.scale
        pitch = size * 0.48 + 1.2
        note = [self._line(content.costs_note, 8.5 if content.costs else 9.8, soft=bool(content.costs), after=0)]
        rows = [(f"{cost.what}{f' ({cost.how_much})' if cost.how_much else ''}", cost.amount) for cost in content.costs]
        tall = 7 * self.scale + pitch * (len(rows) + bool(content.total)) + sheet.height(note, width) + 2
        if top + tall > sheet.page_break_trigger:
            self.room = -1.0
            return top + tall
        self._rule(x, width, top, False, tall)
        sheet.set_y(top + 1.4 * self.scale)
        sheet.column([self._line(content.costs_title, 9, bold=True, soft=True, after=1)], x, width)
        for name, amount in rows:
            self._amount(name, amount, x, width, size, pitch)
        if content.total:
            sheet.set_draw_color(*RULE)
            sheet.set_line_width(0.25)
            sheet.line(x, sheet.y, x + width, sheet.y)
            self._amount("Together", content.total, x, width, size, pitch, bold=True)
        sheet.set_y(sheet.y + 0.8)
        sheet.column(note, x, width)
        return top + tall

    def _amount(
        self, name: str, amount: str, x: float, width: float, size: float, pitch: float, bold: bool = False
    ) -> None:
        sheet, top = self.sheet, self.sheet.y
        sheet.set_font("text", "B", size)
        figure = min(width * 0.5, sheet.get_string_width(amount) + 2)
        sheet.set_font("text", "B" if bold else "", size)
        sheet.set_text_color(*INK)
        sheet.set_xy(x, top + 0.4)
        sheet.cell(width - figure, size * 0.48, sheet.one_line(name, width - figure - 1))
        right(sheet, amount, x + width - figure, top + 0.4, figure, size)
        sheet.set_y(top + pitch)

    # -- foot -----------------------------------------------------------------------------------------------

    def _foot(self, content: CustomerContent) -> None:
        """The statement and the lines to sign on, at the bottom of the page."""
        sheet = self.sheet
        texts = [self._line(content.standing, 9, after=0)]
        tall = sheet.height(texts, self.width - 8) + 4
        bottom = sheet.page_break_trigger
        room = bottom - sheet.y - tall - _SIGNATURES
        self.room = min(self.room, room)
        if self.room < 0:
            return
        top = sheet.y + min(room, 6.0)
        sheet.set_fill_color(*WASH)
        sheet.rect(self.left, top, self.width, tall, style="F")
        sheet.set_y(top + 2)
        sheet.column(texts, self.left + 4, self.width - 8)
        self._signatures(content, bottom)

    def _signatures(self, content: CustomerContent, bottom: float) -> None:
        sheet = self.sheet
        width = (self.width - 8 * (len(content.signatures) - 1)) / max(1, len(content.signatures))
        level = bottom - 9.5
        sheet.set_draw_color(*INK)
        sheet.set_line_width(0.25)
        cells = []
        for i, text in enumerate(content.signatures):
            x = self.left + i * (width + 8)
            sheet.line(x, level, x + width, level)
            cells.append(([Line(text, 8.5, ink=SOFT, after=0)], x, width))
        sheet.set_y(level + 0.6)
        side_by_side(sheet, cells, 4.2)
        sheet.column([Line(content.made, 7.5, ink=SOFT, after=0)], self.left, self.width)
