"""Making and handling the real window in tests."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field
from pathlib import Path

from firingend_gui.appearance import Look
from firingend_gui.window import MainWindow
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QWidget


@dataclass
class Answers:
    """Answers the window's dialogs."""

    files: list[Path] = field(default_factory=list)
    file: Path | None = None
    leave: bool = True
    asked: list[str] = field(default_factory=list)

    def photos(self) -> list[Path]:
        self.asked.append("photos")
        return self.files

    def case_to_open(self) -> Path | None:
        self.asked.append("case to open")
        return self.file

    def case_to_save(self) -> Path | None:
        self.asked.append("case to save")
        return self.file

    def report_to_save(self) -> Path | None:
        self.asked.append("report to save")
        return self.file

    def folder_to_watch(self) -> Path | None:
        self.asked.append("folder to watch")
        return self.file

    def may_leave(self) -> bool:
        self.asked.append("leave")
        return self.leave


def make_window(qtbot, services, settings, *, case: Path | None = None, shelf=None) -> MainWindow:
    """A started window that is at rest."""
    look = Look(QApplication.instance(), settings)
    look.apply()
    window = MainWindow(services, look, settings, (("Example: three", Path("three.toml")),), shelf)
    window.ask = Answers()
    qtbot.addWidget(window)
    with qtbot.waitExposed(window):
        window.show()
    window.controller.start(case)
    rest(qtbot, window)
    return window


def rest(qtbot, window: MainWindow) -> None:
    """Wait until the window has nothing to do any more."""
    qtbot.waitUntil(lambda: not (window.controller.busy or window.store.loading), timeout=10_000)
    QApplication.processEvents()


def drop(widget: QWidget, *files: str | Path) -> None:
    """Drag files onto a widget and let go."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(Path(f).absolute())) for f in files])
    centre = widget.rect().center()
    buttons, modifiers = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    with warnings.catch_warnings():
        # Newer Qt wants fractional points here, older Qt does not take them.
        warnings.simplefilter("ignore", DeprecationWarning)
        enter = QDragEnterEvent(QPoint(centre), Qt.DropAction.CopyAction, data, buttons, modifiers)
    QApplication.sendEvent(widget, enter)
    assert enter.isAccepted()
    event = QDropEvent(QPointF(centre), Qt.DropAction.CopyAction, data, buttons, modifiers)
    QApplication.sendEvent(widget, event)
    assert event.isAccepted()
