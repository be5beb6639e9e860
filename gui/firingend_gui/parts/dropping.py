"""Files that are dragged over the window."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QMimeData


def dropped_files(data: QMimeData) -> list[Path]:
    """Local files among what is dragged, in the order they were picked."""
    return [Path(url.toLocalFile()) for url in data.urls() if url.isLocalFile() and url.toLocalFile()]


def offers_files(data: QMimeData) -> bool:
    """Whether there is a local file among what is dragged."""
    return bool(dropped_files(data))
