"""``python -m firingend_gui [CASE.toml]``."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from firingend_gui.app import main

if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m firingend_gui", description="Open the viewer.")
    parser.add_argument("case", nargs="?", type=Path, help="case file to open")
    sys.exit(main(parser.parse_args().case))
