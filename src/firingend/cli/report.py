"""``firingend report``: a case as a page on the screen or on paper."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from firingend.errors import UserError

if TYPE_CHECKING:
    from firingend.cases.case import CaseResult
    from firingend.cli.commands import Commands


def add_to(commands: Commands) -> argparse.ArgumentParser:
    """Declare the command."""
    parser = commands.add_parser(
        "report",
        help="write a report of a case as HTML or PDF",
        description="Diagnoses a case and writes the report. The ending of FILE says which kind.",
    )
    parser.add_argument("case", metavar="CASE.toml", type=Path, help="the case file")
    parser.add_argument("--out", metavar="FILE", type=_report_name, required=True, help="a name in .html or .pdf")
    return parser


def run(args: argparse.Namespace) -> int:
    """Write one report."""
    from firingend.cases.load import load_case
    from firingend.cases.run import run_case

    check_folder(args.out.parent)
    write(run_case(load_case(args.case)), args.out)
    print(f"wrote {args.out}")
    return 0


def write(result: CaseResult, file: Path) -> None:
    """Write a report of the kind the ending of the name says."""
    if file.suffix.lower() == ".pdf":
        from firingend.report.pdf import write_pdf

        write_pdf(result, file)
    else:
        from firingend.report.html import write_html

        write_html(result, file)


def check_folder(folder: Path) -> None:
    """Refuse a folder that is not there before any work is done."""
    if not folder.is_dir():
        raise UserError(f"there is no folder {folder}", "make it or choose another")


def _report_name(text: str) -> Path:
    if Path(text).suffix.lower() not in (".html", ".pdf"):
        raise argparse.ArgumentTypeError(f"{text} ends in neither .html nor .pdf")
    return Path(text)
