"""``python -m firingend_gui.screenshot CASE.toml OUT.png WIDTH HEIGHT``: the real window, saved as a picture.

``python -m firingend_gui.screenshot --all DIR`` takes every picture that the documents show.

The case is opened as a person would open it; the picture is taken once every photograph has been read and every
answer is on the screen. Works on a real display, under Xvfb, and with QT_QPA_PLATFORM=offscreen.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from PySide6.QtCore import QSettings

from firingend.errors import UserError
from firingend_gui.appearance import Appearance
from firingend_gui.desktop import application, open_window
from firingend_gui.library import Library
from firingend_gui.services import Services
from firingend_gui.waiting import SETTLE_S, spin, wait
from firingend_gui.window import MainWindow


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
            saved = _take(window, case, out, size, scroll)
        finally:
            window.runner.close()
            window.hide()
            window.deleteLater()
            settings.sync()
    if not saved:
        raise OSError(f"{out} could not be written")


def _take(window: MainWindow, case: Path, out: Path, size: tuple[int, int], scroll: int) -> bool:
    window.resize(*size)
    wait(window)
    if window.controller.session is None:
        raise UserError(f"{case} was not opened", "open it in the viewer, which says why")
    window.plugs_page.verticalScrollBar().setValue(scroll)
    spin(SETTLE_S)
    return window.grab().save(str(out))


def main() -> int:
    """Take the picture that the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m firingend_gui.screenshot", description=__doc__)
    parser.add_argument("case", type=Path, nargs="?", help="case file to open")
    parser.add_argument("out", type=Path, nargs="?", help="PNG file to write")
    parser.add_argument("width", type=int, nargs="?")
    parser.add_argument("height", type=int, nargs="?")
    parser.add_argument("--all", metavar="DIR", type=Path, help="take every picture that the documents show")
    parser.add_argument("--every-size", action="store_true", help="with --all: each picture at each size, to look at")
    parser.add_argument("--appearance", choices=[a.name.lower() for a in Appearance], default="light")
    parser.add_argument("--scroll", type=int, default=0, help="pixels to scroll down")
    args = parser.parse_args()
    if args.all is None and args.height is None:
        parser.error("give CASE.toml OUT.png WIDTH HEIGHT, or --all DIR")
    chosen = Appearance[args.appearance.upper()]
    try:
        if args.all is not None:
            from firingend_gui.album import take_all

            for file in take_all(Library(), args.all, every=args.every_size):
                print(file)
            return 0
        screenshot(Library(), args.case, args.out, (args.width, args.height), appearance=chosen, scroll=args.scroll)
    except UserError as error:
        print(f"firingend: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
