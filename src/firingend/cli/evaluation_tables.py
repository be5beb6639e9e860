"""An evaluation as tables on the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from firingend.cli.tables import make_console
from firingend.evaluation.as_json import describe
from firingend.evaluation.corrupt_set import by_severity
from firingend.evaluation.corruptions import KINDS
from firingend.evaluation.evaluation import Evaluation
from firingend.evaluation.page import sections
from firingend.evaluation.scores import SAID, Scores
from firingend.evaluation.wording import shown, shown_interval


def print_evaluation(evaluation: Evaluation, console: Console | None = None) -> None:
    """Print the measures, the recall of each label and what was said of what."""
    console = console or make_console()
    about = describe(evaluation.photo_set)
    truths = ", ".join(f"{count} {truth}" for truth, count in about["by_truth"].items())
    console.print(Text(f"{about['name']}: {about['pictures']} photographs, {about['plugs']} plugs", style="bold"))
    console.print(f"{truths}; {about['groups']} engines or scenes; read in {evaluation.seconds:.1f} s")
    for file, problem in evaluation.trial.unopened:
        console.print(Text(f"could not be read: {file}: {problem}", style="bold yellow"))
    console.print(_measures(evaluation.scores))
    if evaluation.scores.recall:
        console.print(_recall(evaluation.scores))
    console.print(_confusion(evaluation.scores))
    if evaluation.spoilt:
        console.print(_spoilt(evaluation))


def _table(title: str, first: str, *others: str) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False)
    table.add_column(first)
    for name in others:
        table.add_column(name, justify="right")
    return table


def _measures(scores: Scores) -> Table:
    table = _table("\nMeasures", "", "value", "95 % interval", "behind it")
    for heading, rows in sections(scores):
        table.add_row(Text(heading, style="italic"))
        for wording, measure in rows:
            value = Text(shown(measure.value, wording.percent), style="bold")
            table.add_row(f"  {wording.name}", value, shown_interval(measure, wording.percent), str(measure.count))
    return table


def _recall(scores: Scores) -> Table:
    table = _table("\nRead right", "true label", "of all", "95 % interval", "plugs", "of those given a label", "plugs")
    for label, measure in scores.recall.items():
        given = scores.recall_answered.get(label)
        table.add_row(
            label,
            Text(shown(measure.value, True), style="bold"),
            shown_interval(measure, True),
            str(measure.count),
            shown(given.value, True) if given else "–",
            str(given.count if given else 0),
        )
    return table


def _confusion(scores: Scores) -> Table:
    table = _table("\nWhat was said of what", "in truth", *SAID)
    for truth, row in scores.confusion.items():
        table.add_row(truth, *(Text(str(row[said]), style="bold" if said == truth else "") for said in SAID))
    return table


def _spoilt(evaluation: Evaluation) -> Table:
    lines = evaluation.spoilt
    table = _table(f"\nBalanced accuracy on spoilt photographs, {lines[0].plugs} plugs", "severity", *"012345")
    for kind in KINDS:
        values = [lines[0].balanced_accuracy, *(line.balanced_accuracy for line in lines if line.kind == kind)]
        table.add_row(kind, *(shown(value, True) for value in values))
    table.add_row(Text("mean", style="bold"), *(shown(value, True) for value in by_severity(lines).values()))
    return table
