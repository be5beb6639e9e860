"""``firingend report``: a case as a page on the screen or on paper."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from firingend.errors import UserError

if TYPE_CHECKING:
    from firingend.cases.case import CaseResult
    from firingend.cli.commands import Commands
    from firingend.report.job_facts import JobFacts

READERS = ("workshop", "customer")
PAPERS = ("A4", "Letter")


def add_to(commands: Commands) -> argparse.ArgumentParser:
    """Declare the command."""
    parser = commands.add_parser(
        "report",
        help="write a report of a case as HTML or PDF",
        description="Diagnoses a case and writes the report. The ending of FILE says which kind.",
    )
    parser.add_argument("case", metavar="CASE.toml", type=Path, help="the case file")
    parser.add_argument("--out", metavar="FILE", type=_report_name, required=True, help="a name in .html or .pdf")
    add_reader_and_paper(parser)
    return parser


def add_reader_and_paper(parser: argparse.ArgumentParser) -> None:
    """Declare for whom a report is, and its paper."""
    parser.add_argument(
        "--for",
        dest="reader",
        choices=READERS,
        default="workshop",
        help="workshop: all of it; customer: one page in plain words (workshop)",
    )
    parser.add_argument("--paper", choices=PAPERS, default="A4", help="of a .pdf (A4)")


def run(args: argparse.Namespace) -> int:
    """Write one report."""
    from firingend.cases.load import load_case
    from firingend.cases.run import run_case

    check_folder(args.out.parent)
    write(run_case(load_case(args.case)), args.out, args.reader, args.paper)
    print(f"wrote {args.out}")
    return 0


def write(
    result: CaseResult, file: Path, reader: str = "workshop", paper: str = "A4", job: JobFacts | None = None
) -> None:
    """Write a report for whom it is meant, of the kind the ending of the name says."""
    if file.suffix.lower() == ".pdf":
        from firingend.report.customer_pdf import write_customer_pdf
        from firingend.report.pdf import write_pdf

        write_as = write_customer_pdf if reader == "customer" else write_pdf
        write_as(result, file, "Letter" if paper == "Letter" else "A4", job=job)
    else:
        from firingend.report.html import write_customer_html, write_html

        (write_customer_html if reader == "customer" else write_html)(result, file, job=job)


def check_folder(folder: Path) -> None:
    """Refuse a folder that is not there before any work is done."""
    if not folder.is_dir():
        raise UserError(f"there is no folder {folder}", "make it or choose another")


def _report_name(text: str) -> Path:
    if Path(text).suffix.lower() not in (".html", ".pdf"):
        raise argparse.ArgumentTypeError(f"{text} ends in neither .html nor .pdf")
    return Path(text)
