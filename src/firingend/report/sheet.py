"""Paper: type, paragraphs that can be measured before they are printed, and page breaks between blocks."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, Literal

from fpdf import FPDF
from fpdf.enums import MethodReturnValue, XPos, YPos
from fpdf.fonts import TTFFont

Paper = Literal["A4", "Letter"]

INK: Final = (22, 25, 29)
SOFT: Final = (76, 84, 93)
RULE: Final = (154, 162, 171)
WASH: Final = (241, 242, 243)
WARN: Final = (255, 243, 196)

BODY: Final = 10.0
SMALL: Final = 8.5

_FONTS: Final = Path(__file__).with_name("fonts")
_MARGIN: Final = 15.0
_FOOT: Final = 18.0
_LEADING: Final = 1.36
_POINT: Final = 25.4 / 72
_PAGES: Final = "{number-of-pages}"
_NO_GLYPH: Final = "\ufffd"


@dataclass(frozen=True, slots=True)
class Line:
    """A paragraph: its text, how it is set, and the space after it in mm; ``mark`` hangs to its left."""

    text: str
    size: float = BODY
    bold: bool = False
    ink: tuple[int, int, int] = INK
    mark: str = ""
    after: float = 1.2


class Sheet(FPDF):
    """Pages with a margin, a running foot and the project's type.

    Parameters
    ----------
    paper
        ``A4`` or ``Letter``, upright.
    foot
        What stands at the foot of every page beside its number.
    """

    def __init__(self, paper: Paper, foot: str) -> None:
        super().__init__(format=paper)
        self._foot = foot
        self._foot_shown = ""
        self.set_margins(_MARGIN, _MARGIN, _MARGIN)
        self.set_auto_page_break(True, _FOOT)
        self.c_margin = 0.0
        self.alias_nb_pages(_PAGES)
        for family, style, file in (
            ("text", "", "NotoSans-Regular.ttf"),
            ("text", "B", "NotoSans-Bold.ttf"),
            ("mathematics", "", "NotoSansMath-Regular.ttf"),
            ("symbols", "", "NotoSansSymbols2-Regular.ttf"),
        ):
            self.add_font(family, style, _FONTS / file)
        self.set_fallback_fonts(["mathematics", "symbols"], exact_match=False)
        self._known = frozenset().union(*(f.cmap for f in self.fonts.values() if isinstance(f, TTFFont)))
        self.lacks_glyphs = False
        self._heights: dict[tuple[str, float, bool, bool, float], float] = {}
        self.add_page()

    def finished(self, title: str, made_at: datetime | None) -> bytes:
        """The file's bytes, its properties set; ``made_at`` is the creation time, now when None."""
        self.set_title(title)
        self.set_lang("en")
        self.set_creator("firingend")
        self.set_creation_date(made_at or datetime.now(UTC))
        return bytes(self.output())

    def footer(self) -> None:
        """Print page number and title; called by fpdf2 at the end of each page."""
        self.set_y(-12)
        self._style(Line("", SMALL, ink=SOFT))
        if not self._foot_shown:
            self._foot_shown = self.one_line(self._foot, self.epw - 40)
        self.cell(40, 4, f"Page {self.page_no()} of {_PAGES}")
        self.cell(self.epw - 40, 4, self._foot_shown, align="R")

    def throw_away(self) -> None:
        """Let go of the font files of pages that will not be written out."""
        for font in self.fonts.values():
            if isinstance(font, TTFFont):
                font.close()

    # -- measuring ------------------------------------------------------------------------------------------

    @property
    def tall(self) -> float:
        """Height a block may have and still fit on an empty page, in mm."""
        return float(self.page_break_trigger - self.t_margin)

    def height(self, lines: Sequence[Line], width: float) -> float:
        """Height of paragraphs set ``width`` mm wide, in mm."""
        return sum(self._line_height(line, width) + line.after for line in lines)

    def keep(self, height: float) -> None:
        """Start a new page unless ``height`` mm fit on this one; a block taller than a page runs on."""
        if height <= self.tall and self.will_page_break(height):
            self.add_page()

    def one_line(self, text: str, width: float) -> str:
        """As much of a text as fits on one line in the current type, with an ellipsis where it was cut."""
        shown = self._printable(text.replace("\n", " "))
        if self.get_string_width(shown) <= width:
            return shown
        low, high = 0, len(shown)
        while low < high:
            middle = (low + high + 1) // 2
            if self.get_string_width(shown[:middle] + "…") <= width:
                low = middle
            else:
                high = middle - 1
        return shown[:low].rstrip() + "…"

    # -- printing -------------------------------------------------------------------------------------------

    def column(self, lines: Sequence[Line], x: float, width: float) -> None:
        """Print paragraphs one below the other from the current height on; long ones run on to the next page."""
        for line in lines:
            self._print(line, x, width)
            self.set_y(self.y + line.after)

    def rule(self, weight: float = 0.25, ink: tuple[int, int, int] = RULE) -> None:
        """Draw a line across the page at the current height."""
        self.set_draw_color(*ink)
        self.set_line_width(weight)
        self.line(self.l_margin, self.y, self.l_margin + self.epw, self.y)

    def bar(self, x: float, y: float, width: float, share: float, thick: float = 3.0) -> None:
        """Draw a probability as a filled part of an outlined bar."""
        self.set_draw_color(*INK)
        self.set_fill_color(*INK)
        self.set_line_width(0.2)
        if share > 0:
            self.rect(x, y, width * min(1.0, share), thick, style="F")
        self.rect(x, y, width, thick)

    def triangle(self, x: float, y: float, side: float) -> None:
        """Draw the warning triangle: outline with an exclamation mark."""
        self.set_draw_color(*INK)
        self.set_line_width(side * 0.085)
        tall = side * 0.88
        self.polygon([(x + side / 2, y), (x + side, y + tall), (x, y + tall)])
        middle = x + side / 2
        self.line(middle, y + tall * 0.36, middle, y + tall * 0.64)
        self.line(middle, y + tall * 0.77, middle, y + tall * 0.84)

    # -- inside ---------------------------------------------------------------------------------------------

    def _style(self, line: Line) -> None:
        self.set_font("text", "B" if line.bold else "", line.size)
        self.set_text_color(*line.ink)

    def _line_height(self, line: Line, width: float) -> float:
        key = (line.text, line.size, line.bold, bool(line.mark), width)
        if key not in self._heights:
            self._heights[key] = self._measure(line, width)
        return self._heights[key]

    def _measure(self, line: Line, width: float) -> float:
        self._style(line)
        height = self.multi_cell(
            width - _hang(line),
            line.size * _POINT * _LEADING,
            self._printable(line.text),
            align="L",
            dry_run=True,
            output=MethodReturnValue.HEIGHT,
        )
        assert isinstance(height, (int, float))
        return float(height)

    def _print(self, line: Line, x: float, width: float) -> None:
        self._style(line)
        pitch = line.size * _POINT * _LEADING
        if self.will_page_break(pitch):
            self.add_page()
        if line.mark:
            self.set_x(x)
            self.cell(_hang(line), pitch, self._printable(line.mark), new_x=XPos.LMARGIN, new_y=YPos.TOP)
        self.set_x(x + _hang(line))
        self.multi_cell(
            width - _hang(line),
            pitch,
            self._printable(line.text),
            align="L",
            new_x=XPos.LMARGIN,
            new_y=YPos.NEXT,
        )

    def _printable(self, text: str) -> str:
        """Text with a stand-in for every character that no font here has a shape for."""
        composed = unicodedata.normalize("NFC", text)
        shown = "".join(c if c == "\n" or ord(c) in self._known else _NO_GLYPH for c in composed)
        self.lacks_glyphs = self.lacks_glyphs or shown != composed
        return shown


def _hang(line: Line) -> float:
    """Width in mm a paragraph's mark takes from it."""
    return 0.0 if not line.mark else line.size * 0.42
