"""An evaluation as one HTML page that needs nothing beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from itertools import groupby
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from firingend.evaluation import curves
from firingend.evaluation.as_json import describe
from firingend.evaluation.bootstrap import Measure
from firingend.evaluation.corrupt_set import Spoilt, by_severity
from firingend.evaluation.corruptions import KINDS
from firingend.evaluation.evaluation import Evaluation
from firingend.evaluation.mistakes import worst
from firingend.evaluation.scores import SAID, Scores, Slice
from firingend.evaluation.slices import FIRST
from firingend.evaluation.wording import NUISANCES, SECTIONS, Wording, shown, shown_interval

_TEMPLATES = Path(__file__).with_name("templates")


def render_page(evaluation: Evaluation) -> str:
    """The page; all text from the set is escaped."""
    scores = evaluation.scores
    return (
        _environment()
        .get_template("evaluation.html.j2")
        .render(
            about=describe(evaluation.photo_set),
            unopened=evaluation.trial.unopened,
            seconds=evaluation.seconds,
            sections=sections(scores),
            recall=scores.recall,
            recall_answered=scores.recall_answered,
            confusion=scores.confusion,
            said=SAID,
            refusals=scores.refusals,
            reliability=curves.reliability(scores.reliability) if scores.reliability else "",
            risk_coverage=_risk_coverage(scores),
            slices=_slices(scores.slices),
            spoilt=_spoilt_rows(evaluation.spoilt),
            spoilt_curve=_spoilt_curve(evaluation.spoilt),
            spoilt_plugs=evaluation.spoilt[0].plugs if evaluation.spoilt else 0,
            mistakes=worst(evaluation.trial.judged),
        )
    )


def sections(scores: Scores) -> list[tuple[str, list[tuple[Wording, Measure]]]]:
    """The measures that were made, under their headings."""
    found = []
    for heading, wordings in SECTIONS.items():
        rows = [(wording, scores.measures[name]) for name, wording in wordings.items() if name in scores.measures]
        if rows:
            found.append((heading, rows))
    return found


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(
        shown=shown,
        shown_interval=shown_interval,
        style=Markup((_TEMPLATES / "evaluation.css").read_text("utf-8")),
    )
    return environment


def _risk_coverage(scores: Scores) -> Markup | str:
    if not scores.risk_coverage:
        return ""
    refused, wrong = scores.measures["refused"].value, scores.measures["error_answered"].value
    here = (1 - refused, wrong) if wrong == wrong else None
    return curves.risk_coverage(scores.risk_coverage, here)


def _slices(slices: Sequence[Slice]) -> list[tuple[str, bool, list[Slice]]]:
    """What the nuisance is called, whether it is shown at once, and its bands."""
    by_name = groupby(slices, key=lambda each: each.nuisance)
    return [(NUISANCES.get(name, name), name in FIRST, list(bands)) for name, bands in by_name]


def _spoilt_rows(lines: Sequence[Spoilt]) -> Mapping[str, list[float]]:
    """Balanced accuracy at severity 0 to 5 by kind, the mean over the kinds last."""
    if not lines:
        return {}
    unspoilt = lines[0].balanced_accuracy
    rows = {k: [unspoilt, *(line.balanced_accuracy for line in lines if line.kind == k)] for k in KINDS}
    return {**rows, "mean": list(by_severity(lines).values())}


def _spoilt_curve(lines: Sequence[Spoilt]) -> Markup | str:
    if not lines:
        return ""
    return curves.severity_curves([(kind, row) for kind, row in _spoilt_rows(lines).items() if kind != "mean"])
