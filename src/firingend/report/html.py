"""A report as one HTML file that needs nothing beside it."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from datetime import date
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.report.content import Content, Outlined
from firingend.report.customer import CustomerContent, gather_customer
from firingend.report.figures import Chance
from firingend.report.files import write_whole
from firingend.report.gather import gather
from firingend.report.job_facts import JobFacts

_TEMPLATES = Path(__file__).with_name("templates")

_TRIANGLE = Markup(
    '<svg class="triangle" viewBox="0 0 24 21" aria-hidden="true" focusable="false">'
    '<path d="M12 1 23 20H1Z" fill="none" stroke="currentColor" stroke-width="2.2" stroke-linejoin="round"/>'
    '<path d="M12 7.5v6M12 15.6v2.1" stroke="currentColor" stroke-width="2.4"/></svg>'
)


def write_html(
    result: CaseResult,
    path: Path,
    *,
    made_on: date | None = None,
    knowledge: Knowledge | None = None,
    job: JobFacts | None = None,
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
    job
        What was found and done, for a case that is a job.

    Raises
    ------
    UserError
        The file cannot be written.
    """
    write_whole(path, render_html(gather(result, made_on, knowledge, job)).encode("utf-8"))


def write_customer_html(
    result: CaseResult,
    path: Path,
    *,
    made_on: date | None = None,
    knowledge: Knowledge | None = None,
    job: JobFacts | None = None,
) -> None:
    """Write the customer's page of a case as one HTML file; arguments and errors as in `write_html`."""
    page = render_customer_html(gather_customer(result, made_on, knowledge, job))
    write_whole(path, page.encode("utf-8"))


def render_customer_html(content: CustomerContent) -> str:
    """Lay the customer's page out as HTML; every string of the content is escaped."""
    style = Markup((_TEMPLATES / "customer.css").read_text("utf-8"))
    return _environment().get_template("customer.html.j2").render(content=content, style=style)


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
        bar=_bar, outlines=_outlines, triangle=_TRIANGLE, style=Markup((_TEMPLATES / "report.css").read_text("utf-8"))
    )
    return environment


def _data_uri(jpeg: bytes) -> str:
    return f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode('ascii')}"


def _bar(chance: Chance) -> Markup:
    """A probability as length and as number; the number alone is read aloud."""
    drawn = Markup('<b aria-hidden="true" style="--share: {:.1f}%"></b>').format(chance.share * 100)
    return Markup('<span class="bar">{}<span>{}</span></span>').format(drawn, chance.text)


def _outlines(parts: Sequence[Outlined]) -> Markup:
    """Draw the parts of a firing end over its picture: light lines in a dark casing, readable on any ground."""
    if not parts:
        return Markup("")
    paths = [Markup('<path d="{}"/>').format(_path(part)) for part in parts]
    lines = Markup("").join(paths)
    letters = Markup("").join(map(_letter, parts))
    return Markup(
        '<svg class="outlines" viewBox="0 0 100 100" aria-hidden="true" focusable="false">'
        '<g class="casing">{}</g><g class="core">{}</g>{}</svg>'
    ).format(lines, lines, letters)


def _path(part: Outlined) -> str:
    return "".join("M" + "L".join(f"{100 * x:.1f} {100 * y:.1f}" for x, y in loop) + "Z" for loop in part.loops)


def _letter(part: Outlined) -> Markup:
    (x, y), (at, down) = ((100 * a, 100 * b) for a, b in (part.place, part.anchor))
    leader = f"M{x:.1f} {y:.1f}L{at:.1f} {down:.1f}"
    return Markup(
        '<path class="casing" d="{}"/><path class="core" d="{}"/><circle cx="{}" cy="{}" r="1.1"/>'
        '<circle cx="{}" cy="{}" r="4.2"/><text x="{}" y="{}">{}</text>'
    ).format(
        leader, leader, f"{at:.1f}", f"{down:.1f}", f"{x:.1f}", f"{y:.1f}", f"{x:.1f}", f"{y + 2.05:.2f}", part.letter
    )
