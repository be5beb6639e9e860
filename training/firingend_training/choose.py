"""Score trained readers on any labelled set: ``python -m firingend_training.choose RUN… --set SET``."""

from __future__ import annotations

import argparse
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from firingend.errors import UserError
from firingend.evaluation.load_set import load_set
from firingend.evaluation.photo_set import PhotoSet
from firingend.evaluation.run import reader_of, try_set
from firingend.evaluation.scores import Scores, score
from firingend_training.export import export_reader

SHOWN: Final = ("balanced_accuracy_first_guess", "macro_f1_first_guess", "balanced_accuracy", "not_a_plug_refused")


def scores_of(run: Path, finder: Path, photo_set: PhotoSet, *, workers: int = 2) -> Scores:
    """Export one reader to a temporary folder beside the finder of ``finder`` and try it on the set."""
    with tempfile.TemporaryDirectory(prefix="firingend-") as name:
        models = Path(name)
        for file in ("finder.onnx", "finder.json"):
            shutil.copy(finder / file, models / file)
        export_reader(run, models, run.name)
        return score(try_set(photo_set, reader_of(models), workers=workers).judged)


def line_of(name: str, scores: Scores) -> str:
    """One line of the table; a measure the set says nothing about is a dash."""
    values = [scores.measures.get(measure) for measure in SHOWN]
    return f"{name:<24} " + " ".join(f"{v.value:8.3f}" if v is not None else f"{'-':>8}" for v in values)


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and print a line a run."""
    parser = argparse.ArgumentParser(prog="firingend_training.choose", description=__doc__)
    parser.add_argument("runs", type=Path, nargs="+", metavar="RUN", help="folders with weights, settings, apart.npz")
    parser.add_argument("--set", type=Path, required=True, help="folder or CSV file of labelled pictures")
    parser.add_argument("--finder", type=Path, default=Path("models"), help="folder of the exported finder")
    parser.add_argument("--workers", type=int, default=2)
    chosen = parser.parse_args(arguments)
    try:
        photo_set = load_set(chosen.set)
    except UserError as error:
        parser.exit(1, f"{error}\n")
    print("columns:", ", ".join(SHOWN))
    for run in chosen.runs:
        print(line_of(run.name, scores_of(run, chosen.finder, photo_set, workers=chosen.workers)), flush=True)


if __name__ == "__main__":
    main()
