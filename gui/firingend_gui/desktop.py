"""The running viewer: application, window, examples."""

from __future__ import annotations

import signal
import sys
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QSettings, QTimer
from PySide6.QtWidgets import QApplication

from firingend.shipped import demo_dir
from firingend_gui.appearance import Look
from firingend_gui.jobwork.shelf import Shelf, StoreShelf
from firingend_gui.library import Library
from firingend_gui.services import Services
from firingend_gui.window import MainWindow

NAME = "firingend"


def application() -> QApplication:
    """The one application object, made when there is none yet."""
    running = QApplication.instance()
    app = running if isinstance(running, QApplication) else QApplication(sys.argv[:1])
    app.setApplicationName(NAME)
    app.setOrganizationName(NAME)
    return app


def open_window(
    app: QApplication,
    services: Services,
    case_path: Path | None,
    settings: QSettings,
    shelf: Shelf | None = None,
) -> MainWindow:
    """Make the window and show it; a case is opened once the window is up."""
    look = Look(app, settings)
    look.apply()
    window = MainWindow(services, look, settings, demos(), shelf)
    window.show()
    QTimer.singleShot(0, window, lambda: window.controller.start(case_path))
    return window


def demos() -> tuple[tuple[str, Path], ...]:
    """Words and case file of every engine that ships as an example."""
    folder = demo_dir()
    cases = sorted(folder.glob("*.toml")) + sorted(folder.glob("*/*.toml")) if folder.is_dir() else []
    return tuple((f"Example: {_words(case)}", case) for case in cases)


def _words(case: Path) -> str:
    stem = case.parent.name if case.stem == "case" else case.stem
    return stem.replace("-", " ").replace("_", " ")


def run(case_path: Path | None) -> int:
    """Show the window and work until it is closed; returns the exit status."""
    app = application()
    shelf = StoreShelf()
    window = open_window(app, Library(), case_path, QSettings(), shelf)
    # Ctrl+C in the terminal ends the program; Python's own handler would wait for Qt for ever.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    tell_mistakes(window)
    status = app.exec()
    window.runner.close()
    shelf.close()
    return status


def tell_mistakes(window: MainWindow) -> None:
    """Show an exception that nobody caught in the window as well as on standard error."""
    before = sys.excepthook

    def hook(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        before(kind, error, trace)
        if isinstance(error, Exception):
            window.controller.notices.tell(error)

    sys.excepthook = hook
