"""Print the model card's table of measures: ``python -m firingend_training.model_card models/metrics.json``."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

WORDS = {
    "balanced_accuracy_first_guess_equal_prior": "likeliest label right, balanced, labels taken as equally common",
    "macro_f1_first_guess_equal_prior": "macro-F1 of the likeliest label, labels taken as equally common",
    "balanced_accuracy_first_guess": "likeliest label right, balanced, as shipped",
    "macro_f1_first_guess": "macro-F1 of the likeliest label, as shipped",
    "balanced_accuracy": "label given and right, balanced (a refusal counts as wrong)",
    "refused": "plugs given no label",
    "error_answered": "wrong among those given a label",
    "balanced_accuracy_answered": "right among those given a label, balanced",
    "ece_at_set_prior": "expected calibration error, 15 bins, at the set's own shares",
    "ece": "expected calibration error, 15 bins, as shipped",
    "coverage_at_2_percent_error": "share that could be answered at 2 % error",
    "unused_not_lean": "new plugs not called lean",
    "not_a_plug_refused": "pictures of other parts given no label",
    "finder_recall": "firing ends found",
    "false_finds_per_picture": "finds where no firing end is, a picture",
    "false_labels_per_picture": "labels given where no plug is, a picture",
    "row_order_right": "rows whose found plugs are in order",
    "rows_all_found_in_order": "rows with every plug found, in order",
}


def table(metrics: dict[str, Any], beside: dict[str, Any] | None = None) -> str:
    """Markdown rows: what, name, value, 95 % interval by scene, plugs or pictures behind it.

    ``beside``: the same measured on another set, for two more columns.
    """
    more = ("value there", "behind it") if beside else ()
    lines = _heading("what", "measure", "value", "95 % interval", "behind it", *more)
    for name, words in WORDS.items():
        measure = metrics["measures"][name]
        low, high = measure.get("low"), measure.get("high")
        interval = f"{low:.3f} to {high:.3f}" if low is not None and high is not None else "–"
        cells = [words, f"`{name}`", f"{measure['value']:.3f}", interval, str(measure["count"])]
        if beside:
            cells += [f"{beside['measures'][name]['value']:.3f}", str(beside["measures"][name]["count"])]
        lines.append(_row(cells))
    lines += ["", *_heading("true label", *metrics["recall"]), _given_and_right("given and right", metrics)]
    if beside:
        lines.append(_given_and_right("given and right there", beside))
    return "\n".join(lines)


def _given_and_right(name: str, metrics: dict[str, Any]) -> str:
    return _row([name, *(f"{recall['value']:.3f}" for recall in metrics["recall"].values())])


def _heading(*names: str) -> list[str]:
    return [_row(names), "|---" * len(names) + "|"]


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and print."""
    parser = argparse.ArgumentParser(prog="firingend_training.model_card", description=__doc__)
    parser.add_argument("metrics", type=Path)
    parser.add_argument("beside", type=Path, nargs="?", help="the same measured on another set")
    chosen = parser.parse_args(arguments)
    first, beside = (path and json.loads(path.read_text(encoding="utf-8")) for path in (chosen.metrics, chosen.beside))
    print(table(first, beside))


if __name__ == "__main__":
    main()
