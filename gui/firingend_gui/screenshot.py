"""``python -m firingend_gui.screenshot CASE.toml OUT.png WIDTH HEIGHT``: the real window, saved as a picture.

The case is opened as a person would open it; the picture is taken once every photograph has been read and every
answer is on the screen. Works on a real display, under Xvfb, and with QT_QPA_PLATFORM=offscreen.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication

from firingend.errors import UserError
from firingend_gui.appearance import Appearance
from firingend_gui.desktop import application, open_window
from firingend_gui.library import Library
from firingend_gui.services import Services
from firingend_gui.window import MainWindow

LONGEST_WAIT_S = 180.0
SETTLE_S = 0.4
"""Time without work before the picture is taken, so that layouts have settled."""


def screenshot(
    services: Services,
    case: Path,
    out: Path,
    size: tuple[int, int],
    *,
    appearance: Appearance = Appearance.LIGHT,
    scroll: int = 0,
) -> None:
    """Open a case, wait until everything is read and shown, and save the window.

    Parameters
    ----------
    services
        The library, or something that stands for it.
    case, out
        Case file to open, PNG file to write.
    size
        Width and height of the window in device-independent pixels.
    appearance
        Palette to show.
    scroll
        How far to scroll down, in pixels.
    """
    app = application()
    with tempfile.TemporaryDirectory() as folder:
        settings = QSettings(str(Path(folder) / "viewer.ini"), QSettings.Format.IniFormat)
        settings.setValue("look/appearance", appearance.name)
        window = open_window(app, services, case, settings)
        try:
            saved = _take(app, window, case, out, size, scroll)
        finally:
            window.runner.close()
            window.hide()
            window.deleteLater()
            settings.sync()
    if not saved:
        raise OSError(f"{out} could not be written")


def _take(app: QApplication, window: MainWindow, case: Path, out: Path, size: tuple[int, int], scroll: int) -> bool:
    window.resize(*size)
    _wait(app, window)
    if window.controller.session is None:
        raise UserError(f"{case} was not opened", "open it in the viewer, which says why")
    window.plugs_page.verticalScrollBar().setValue(scroll)
    _spin(app, SETTLE_S)
    return window.grab().save(str(out))


def _wait(app: QApplication, window: MainWindow) -> None:
    """Let the window work until it has been idle for a moment."""
    _spin(app, SETTLE_S)
    end = time.monotonic() + LONGEST_WAIT_S
    while window.controller.busy or window.store.loading:
        if time.monotonic() > end:
            raise TimeoutError(f"the window was still at work after {LONGEST_WAIT_S:.0f} s")
        _spin(app, 0.05)
    _spin(app, SETTLE_S)


def _spin(app: QApplication, seconds: float) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        app.processEvents()
        time.sleep(0.005)


def main() -> int:
    """Take the picture that the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m firingend_gui.screenshot", description=__doc__)
    parser.add_argument("case", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("width", type=int)
    parser.add_argument("height", type=int)
    parser.add_argument("--appearance", choices=[a.name.lower() for a in Appearance], default="light")
    parser.add_argument("--scroll", type=int, default=0, help="pixels to scroll down")
    args = parser.parse_args()
    chosen = Appearance[args.appearance.upper()]
    try:
        screenshot(Library(), args.case, args.out, (args.width, args.height), appearance=chosen, scroll=args.scroll)
    except UserError as error:
        print(f"firingend: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
