"""Lets a window work until it is at rest, for pictures of it."""

from __future__ import annotations

import time
from typing import Final

from firingend_gui.desktop import application
from firingend_gui.window import MainWindow

LONGEST_WAIT_S: Final = 180.0
SETTLE_S: Final = 0.25
"""Time without work before a picture is taken, so that layouts have settled."""


def wait(window: MainWindow) -> None:
    """Let the window work until it has been idle for a moment.

    Raises
    ------
    TimeoutError
        It never was.
    """
    spin(SETTLE_S)
    end = time.monotonic() + LONGEST_WAIT_S
    while window.controller.busy or window.store.loading:
        if time.monotonic() > end:
            raise TimeoutError(f"the window was still at work after {LONGEST_WAIT_S:.0f} s")
        spin(0.05)
    spin(SETTLE_S)


def spin(seconds: float) -> None:
    """Let events happen for a while."""
    app = application()
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        app.processEvents()
        time.sleep(0.005)
