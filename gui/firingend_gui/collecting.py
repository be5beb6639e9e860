"""Keeps Python's garbage collector on the thread that owns the windows.

The collector runs on whichever thread happens to make an object. On a worker it would take apart windows that were
closed a moment ago, and Qt does not outlive a widget that is destroyed on another thread.
"""

from __future__ import annotations

import gc
from typing import ClassVar, Final

from PySide6.QtCore import QObject, QTimer

EVERY_MS: Final = 500


class CollectsHere(QObject):
    """While one of these is there, garbage is collected from the event loop of its thread and nowhere else."""

    _there: ClassVar[int] = 0

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._stopped = False
        CollectsHere._there += 1
        gc.disable()
        self._timer = QTimer(self)
        self._timer.setInterval(EVERY_MS)
        self._timer.timeout.connect(self.collect)
        self._timer.start()

    def collect(self) -> None:
        """Collect the oldest generation that is due, as the collector would by itself."""
        for generation, (count, limit) in reversed(
            list(enumerate(zip(gc.get_count(), gc.get_threshold(), strict=True)))
        ):
            if count > limit:
                gc.collect(generation)
                return

    def stop(self) -> None:
        """Let the collector run by itself again; no worker may be running any more."""
        if self._stopped:
            return
        self._stopped = True
        self._timer.stop()
        CollectsHere._there -= 1
        if not CollectsHere._there:
            gc.enable()
