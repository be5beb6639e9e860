"""``python -m firingend`` is the command ``firingend``."""

from __future__ import annotations

import sys

from firingend.cli import main

if __name__ == "__main__":
    sys.exit(main())
