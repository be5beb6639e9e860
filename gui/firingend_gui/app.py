"""Starts the viewer, or says why it cannot start."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from firingend.errors import UserError


def main(case_path: Path | None = None) -> int:
    """Run the viewer until its window is closed.

    Parameters
    ----------
    case_path
        Case file to open; None shows the first page.

    Returns
    -------
    int
        Exit status, 0 after a window that was closed as usual.

    Raises
    ------
    UserError
        Qt is not installed, lacks system libraries, or there is no display.
    """
    # Qt itself ends the process when it finds no display, so that is looked at before.
    if needs_display(sys.platform, os.environ):
        raise UserError(
            "there is no display to open a window on",
            "start the viewer on a desktop; firingend report writes the same as HTML or PDF without one",
        )
    try:
        from firingend_gui.desktop import run
    except ImportError as error:
        raise UserError(
            f"Qt cannot start ({error})",
            'run: pip install "firingend[gui]"; on Debian or Ubuntu also install '
            "libegl1, libxkbcommon-x11-0 and libxcb-cursor0",
        ) from error
    return run(case_path)


def needs_display(platform: str, environment: Mapping[str, str]) -> bool:
    """Whether a window is asked for on a system that says it has no display.

    Examples
    --------
    >>> needs_display("linux", {}), needs_display("linux", {"DISPLAY": ":0"}), needs_display("darwin", {})
    (True, False, False)
    """
    if not platform.startswith("linux"):
        return False
    return not any(environment.get(k) for k in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"))
