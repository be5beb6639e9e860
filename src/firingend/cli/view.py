"""``firingend view``: the desktop viewer, where it is installed."""

from __future__ import annotations

import argparse
import importlib
import importlib.util
from pathlib import Path
from typing import TYPE_CHECKING

from firingend.errors import UserError

if TYPE_CHECKING:
    from firingend.cli.commands import Commands


def add_to(commands: Commands) -> argparse.ArgumentParser:
    """Declare the command."""
    parser = commands.add_parser(
        "view",
        help="open the desktop viewer",
        description='Opens the viewer, which needs: pip install "firingend[gui]"',
    )
    parser.add_argument("case", metavar="CASE.toml", type=Path, nargs="?", help="the case file to open")
    return parser


def run(args: argparse.Namespace) -> int:
    """Open the viewer; a case file that is not there is refused before a window opens."""
    if args.case is not None and not args.case.is_file():
        raise UserError(f"there is no case file {args.case}", "check the name and the folder")
    return open_viewer(args.case)


def is_installed() -> bool:
    """Whether the viewer and the toolkit it is drawn with are there."""
    return all(importlib.util.find_spec(name) for name in ("PySide6", "firingend_gui"))


def open_viewer(case: Path | None) -> int:
    """Open the viewer and wait until it is closed; gives its exit code."""
    if not is_installed():
        raise UserError("the viewer is not installed", 'run: pip install "firingend[gui]"')
    code: int = importlib.import_module("firingend_gui.app").main(case)
    return code
