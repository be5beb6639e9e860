"""Dialogs that must be answered before going on; tests answer in their place."""

from __future__ import annotations

from pathlib import Path
from typing import Final, Protocol

from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

PHOTO_FILTER: Final = "Photos (*.jpg *.jpeg *.png *.webp *.tif *.tiff *.heic *.heif);;All files (*)"
CASE_FILTER: Final = "Case files (*.toml)"
REPORT_FILTERS: Final = {"PDF, to print (*.pdf)": ".pdf", "HTML, to read on a screen (*.html)": ".html"}


class Asks(Protocol):
    """Everything the window asks for; None or nothing means the person thought better of it."""

    def photos(self) -> list[Path]:
        """Which photographs to add."""
        ...

    def case_to_open(self) -> Path | None:
        """Which case to open."""
        ...

    def case_to_save(self) -> Path | None:
        """Where to save the case."""
        ...

    def report_to_save(self) -> Path | None:
        """Where to save the report."""
        ...

    def folder_to_watch(self) -> Path | None:
        """Which folder a phone's photographs come into."""
        ...

    def may_leave(self) -> bool:
        """Whether what is not saved may be lost."""
        ...


class FileDialogs:
    """Asks with the desktop's own dialogs, and remembers the folder.

    Parameters
    ----------
    parent, settings
        Window to stand before, and where the folder is remembered.
    """

    def __init__(self, parent: QWidget, settings: QSettings) -> None:
        self._parent = parent
        self._settings = settings

    def photos(self) -> list[Path]:
        """Which photographs to add."""
        names, _ = QFileDialog.getOpenFileNames(self._parent, "Add photos of plugs", self._folder(), PHOTO_FILTER)
        return [self._remember(Path(n)) for n in names]

    def case_to_open(self) -> Path | None:
        """Which case to open."""
        name, _ = QFileDialog.getOpenFileName(self._parent, "Open a case", self._folder(), CASE_FILTER)
        return self._remember(Path(name)) if name else None

    def case_to_save(self) -> Path | None:
        """Where to save the case."""
        name, _ = QFileDialog.getSaveFileName(self._parent, "Save the case", self._folder("case.toml"), CASE_FILTER)
        return self._remember(with_ending(Path(name), ".toml")) if name else None

    def report_to_save(self) -> Path | None:
        """Where to save the report; the chosen kind gives the ending where none is typed."""
        name, kind = QFileDialog.getSaveFileName(
            self._parent, "Save the report", self._folder("report.pdf"), ";;".join(REPORT_FILTERS)
        )
        return self._remember(with_ending(Path(name), REPORT_FILTERS.get(kind, ".pdf"))) if name else None

    def folder_to_watch(self) -> Path | None:
        """Which folder a phone's photographs come into."""
        before = str(self._settings.value("files/watched", self._folder()))
        name = QFileDialog.getExistingDirectory(self._parent, "Watch the folder that photos come into", before)
        if name:
            self._settings.setValue("files/watched", name)
        return Path(name) if name else None

    def may_leave(self) -> bool:
        """Whether what is not saved may be lost."""
        answer = QMessageBox.question(
            self._parent,
            "Not saved",
            "This engine has not been saved. Leave it without saving?",
            QMessageBox.StandardButton.Discard | QMessageBox.StandardButton.Cancel,
            QMessageBox.StandardButton.Cancel,
        )
        return answer == QMessageBox.StandardButton.Discard

    def _folder(self, name: str = "") -> str:
        folder = Path(str(self._settings.value("files/folder", str(Path.home()))))
        return str(folder / name if name else folder)

    def _remember(self, file: Path) -> Path:
        self._settings.setValue("files/folder", str(file.parent))
        return file


def with_ending(file: Path, ending: str) -> Path:
    """Return the file with an ending of its own, or with this one.

    Examples
    --------
    >>> with_ending(Path("a/report"), ".pdf").name, with_ending(Path("report.html"), ".pdf").name
    ('report.pdf', 'report.html')
    """
    return file if file.suffix else file.with_name(file.name + ending)
