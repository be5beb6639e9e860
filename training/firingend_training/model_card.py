"""Print the model card's table of measures: ``python -m firingend_training.model_card models/metrics.json``."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

WORDS = {
    "balanced_accuracy_first_guess_equal_prior": "likeliest label right, balanced, labels taken as equally common",
    "balanced_accuracy_first_guess": "likeliest label right, balanced, as shipped",
    "macro_f1_first_guess": "macro-F1 of the likeliest label",
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


def table(metrics: dict[str, Any]) -> str:
    """Markdown rows: what, name, value, 95 % interval by scene, plugs or pictures behind it."""
    lines = ["| what | measure | value | 95 % interval | behind it |", "|---|---|---|---|---|"]
    for name, words in WORDS.items():
        measure = metrics["measures"][name]
        low, high = measure.get("low"), measure.get("high")
        interval = f"{low:.3f} to {high:.3f}" if low is not None and high is not None else "–"
        lines.append(f"| {words} | `{name}` | {measure['value']:.3f} | {interval} | {measure['count']} |")
    lines += ["", "| true label | " + " | ".join(metrics["recall"]) + " |", "|---" * (len(metrics["recall"]) + 1) + "|"]
    recalls = (m["value"] for m in metrics["recall"].values())
    lines.append("| given and right | " + " | ".join(f"{value:.3f}" for value in recalls) + " |")
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and print."""
    parser = argparse.ArgumentParser(prog="firingend_training.model_card", description=__doc__)
    parser.add_argument("metrics", type=Path)
    chosen = parser.parse_args(arguments)
    print(table(json.loads(chosen.metrics.read_text(encoding="utf-8"))))


if __name__ == "__main__":
    main()
