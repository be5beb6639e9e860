"""``firingend demo``: the shipped engines read end to end, without a display or a network."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from firingend.errors import UserError

if TYPE_CHECKING:
    from firingend.cli.commands import Commands


def add_to(commands: Commands) -> argparse.ArgumentParser:
    """Declare the command."""
    parser = commands.add_parser(
        "demo",
        help="read the shipped demo engines and write their reports",
        description=(
            "Reads the photographs of the shipped demo engines, prints what the cylinders say and what to check "
            "next, writes an HTML and a PDF report of each, and opens the viewer where there is a display."
        ),
    )
    parser.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        default=Path(),
        help="folder for the reports; the current one by default",
    )
    parser.add_argument("--no-view", action="store_true", help="do not open the viewer")
    return parser


def run(args: argparse.Namespace) -> int:
    """Show every demo engine."""
    from firingend.cases.load import load_case
    from firingend.cases.run import run_case
    from firingend.cli.report import check_folder, write
    from firingend.cli.tables import make_console, print_result
    from firingend.cli.view import is_installed, open_viewer

    check_folder(args.out)
    files = demo_cases()
    console = make_console()
    for file in files:
        result = run_case(load_case(file))
        print_result(result, console)
        for suffix in (".html", ".pdf"):
            report = args.out / f"firingend-demo-{file.stem}{suffix}"
            write(result, report)
            console.print(f"Report written: {report}", soft_wrap=True)
        console.print()
    if not is_installed():
        console.print('The viewer is not installed; to get it, run: pip install "firingend[gui]"')
        return 0
    for file in files:
        console.print(f'Open it in the viewer with: firingend view "{file}"', soft_wrap=True)
    if not args.no_view and sys.stdout.isatty() and has_display():
        return open_viewer(files[0])
    return 0


def demo_cases() -> list[Path]:
    """Case files of the shipped demo engines."""
    from firingend.shipped import demo_dir

    files = sorted(demo_dir().glob("*.toml"))
    if not files:
        raise UserError(f"no demo engine lies in {demo_dir()}", "install firingend again")
    return files


def has_display() -> bool:
    """Whether a window can be shown here."""
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
