"""``firingend evaluate``: how well the reader does on photographs whose truth is known."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from firingend.errors import UserError

if TYPE_CHECKING:
    from rich.console import Console

    from firingend.cli.commands import Commands
    from firingend.evaluation.evaluation import Evaluation

_LIMIT = 150  # photographs to spoil unless another number is given


def add_to(commands: Commands) -> argparse.ArgumentParser:
    """Declare the command."""
    parser = commands.add_parser(
        "evaluate",
        help="try the reader on photographs whose labels you know",
        description="Reads every photograph of a set and compares with its labels. SET is a folder with one folder "
        "for each label, a CSV file with the columns file and label, or a rendered set. See docs/evaluate.md.",
    )
    parser.add_argument("set", metavar="SET", type=Path, help="folder, CSV file or rendered set")
    parser.add_argument("--out", metavar="DIR", type=Path, help="write metrics.json and evaluation.html there")
    parser.add_argument("--json", action="store_true", help="print the metrics as JSON instead of tables")
    parser.add_argument(
        "--corrupt",
        nargs="?",
        type=_count,
        const=_LIMIT,
        default=0,
        metavar="N",
        help=f"also read N photographs (default {_LIMIT}) spoilt in 35 ways; takes 36 times as long for them",
    )
    parser.add_argument("--models", metavar="DIR", type=Path, help="networks to try instead of the shipped ones")
    parser.add_argument("--seed", type=int, default=0, help="of the random draws behind the intervals (default 0)")
    parser.add_argument("--workers", type=_count, default=2, help="photographs read at a time (default 2)")
    return parser


def run(args: argparse.Namespace) -> int:
    """Evaluate one set."""
    from rich.console import Console

    from firingend.evaluation.as_json import as_json
    from firingend.evaluation.evaluation import evaluate
    from firingend.evaluation.load_set import load_set
    from firingend.evaluation.run import reader_of

    photo_set = load_set(args.set)
    if args.out:
        _make_folder(args.out)
    with _ProgressBars(Console(stderr=True)) as bars:
        done = evaluate(
            photo_set,
            reader_of(args.models),
            corrupt=args.corrupt,
            workers=args.workers,
            seed=args.seed,
            progress=bars.task,
        )
    if args.out:
        write(done, args.out)
    if args.json:
        import json

        print(json.dumps(as_json(done), indent=2, allow_nan=False))
        return 0
    from firingend.cli.evaluation_tables import print_evaluation

    print_evaluation(done)
    if args.out:
        print(f"wrote {args.out / 'metrics.json'} and {args.out / 'evaluation.html'}")
    return 0


def write(evaluation: Evaluation, folder: Path) -> None:
    """Write ``metrics.json`` and ``evaluation.html`` into a folder that is there."""
    import json

    from firingend.evaluation.as_json import as_json
    from firingend.evaluation.page import render_page

    try:
        metrics = json.dumps(as_json(evaluation), indent=2, allow_nan=False)
        (folder / "metrics.json").write_text(metrics + "\n", encoding="utf-8")
        (folder / "evaluation.html").write_text(render_page(evaluation), encoding="utf-8")
    except OSError as error:
        raise UserError(f"{folder} cannot be written into ({error.strerror})", "choose another folder") from None


def _make_folder(folder: Path) -> None:
    """Before the work, so that an hour's reading is not lost to a wrong name."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"{folder} cannot be made ({error.strerror})", "choose another folder") from None


def _count(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text} is not a whole number from 1 up")
    return int(text)


class _ProgressBars:
    """One bar a task on the error output; nothing where that is no terminal."""

    def __init__(self, console: Console) -> None:
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

        columns = TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn()
        self._bars = Progress(*columns, console=console, transient=True, disable=not console.is_terminal)

    def __enter__(self) -> _ProgressBars:
        self._bars.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._bars.stop()

    def task(self, name: str) -> Callable[[int, int], None]:
        """Begin a task; what comes back is told how far it is."""
        number = self._bars.add_task(name)
        return lambda done, of: self._bars.update(number, completed=done, total=of)
