"""``python -m firingend_gui [CASE.toml]``."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from firingend.errors import UserError
from firingend_gui.app import main


def run() -> int:
    """Take the command line; returns the exit status."""
    parser = argparse.ArgumentParser(prog="python -m firingend_gui", description="Open the viewer.")
    parser.add_argument("case", nargs="?", type=Path, help="case file to open")
    try:
        return main(parser.parse_args().case)
    except UserError as error:
        print(f"firingend: {error}", file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(run())
