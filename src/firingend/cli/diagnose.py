"""``firingend diagnose``: an engine's plugs side by side, what they say together, what to check next."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from firingend.cli.commands import Commands


def add_to(commands: Commands) -> argparse.ArgumentParser:
    """Declare the command."""
    parser = commands.add_parser(
        "diagnose",
        help="compare an engine's cylinders and rank the next checks",
        description="Reads a case file (docs/case-file.md), compares the cylinders and ranks causes and checks.",
    )
    parser.add_argument("case", metavar="CASE.toml", type=Path, help="the case file")
    parser.add_argument("--json", action="store_true", help="print JSON, as docs/json.md describes")
    return parser


def run(args: argparse.Namespace) -> int:
    """Diagnose one case."""
    from firingend.cases.load import load_case
    from firingend.cases.run import run_case

    result = run_case(load_case(args.case))
    if args.json:
        from firingend.cli.as_json import case_result, dump

        dump(case_result(result))
    else:
        from firingend.cli.tables import print_result

        print_result(result)
    return 0
