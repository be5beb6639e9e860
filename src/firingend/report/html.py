"""A report as one HTML file that needs nothing beside it."""

from __future__ import annotations

import base64
from datetime import date
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.report.content import Content
from firingend.report.figures import Chance
from firingend.report.files import write_whole
from firingend.report.gather import gather

_TEMPLATES = Path(__file__).with_name("templates")

_TRIANGLE = Markup(
    '<svg class="triangle" viewBox="0 0 24 21" aria-hidden="true" focusable="false">'
    '<path d="M12 1 23 20H1Z" fill="none" stroke="currentColor" stroke-width="2.2" stroke-linejoin="round"/>'
    '<path d="M12 7.5v6M12 15.6v2.1" stroke="currentColor" stroke-width="2.4"/></svg>'
)


def write_html(
    result: CaseResult, path: Path, *, made_on: date | None = None, knowledge: Knowledge | None = None
) -> None:
    """Write the report of a case as one HTML file.

    Parameters
    ----------
    result
        The finished case.
    path
        The file to write; an existing one is replaced only once the new one is complete.
    made_on
        Date of the report; today when None.
    knowledge
        Names of symptoms, checks and outcomes; the shipped ones when None.

    Raises
    ------
    UserError
        The file cannot be written.
    """
    write_whole(path, render_html(gather(result, made_on, knowledge)).encode("utf-8"))


def render_html(content: Content) -> str:
    """Lay a report's content out as HTML; every string of the content is escaped."""
    return _environment().get_template("report.html.j2").render(content=content)


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    environment.filters["data_uri"] = _data_uri
    environment.globals.update(
        bar=_bar, triangle=_TRIANGLE, style=Markup((_TEMPLATES / "report.css").read_text("utf-8"))
    )
    return environment


def _data_uri(jpeg: bytes) -> str:
    return f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode('ascii')}"


def _bar(chance: Chance) -> Markup:
    """A probability as length and as number; the number alone is read aloud."""
    drawn = Markup('<b aria-hidden="true" style="--share: {:.1f}%"></b>').format(chance.share * 100)
    return Markup('<span class="bar">{}<span>{}</span></span>').format(drawn, chance.text)
