"""Slow work on a thread pool; answers come back on the thread that owns the window."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from PySide6.QtCore import QObject, QRunnable, Qt, QThreadPool, Signal, Slot

from firingend_gui.collecting import CollectsHere

T = TypeVar("T")

MOST_THREADS = 2
"""The networks use several cores each; more threads would only take turns."""


class _Answers(QObject):
    """Signals of one piece of work; a QRunnable is no QObject and cannot have any."""

    came = Signal(int, object, object)


class _Work(QRunnable):
    def __init__(self, number: int, work: Callable[[], Any], answers: _Answers) -> None:
        super().__init__()
        self._number = number
        self._work = work
        self._answers = answers

    def run(self) -> None:
        answer, error = None, None
        try:
            answer = self._work()
        except Exception as caught:
            error = caught
        self._answers.came.emit(self._number, answer, error)


class PoolRunner(QObject):
    """Runs work on a pool of its own and delivers answers through the event loop."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = QThreadPool(self)
        self._pool.setMaxThreadCount(MOST_THREADS)
        self._collecting = CollectsHere(self)
        self._answers = _Answers(self)
        self._answers.came.connect(self._deliver, Qt.ConnectionType.QueuedConnection)
        self._waiting: dict[int, tuple[Callable[[Any], None], Callable[[Exception], None]]] = {}
        self._last = 0
        self._closed = False

    def submit(self, work: Callable[[], T], done: Callable[[T], None], failed: Callable[[Exception], None]) -> None:
        """Run ``work`` on the pool; ``done`` or ``failed`` is called on this object's thread."""
        if self._closed:
            return
        self._last += 1
        self._waiting[self._last] = (done, failed)
        self._pool.start(_Work(self._last, work, self._answers))

    @property
    def idle(self) -> bool:
        """Whether no thread is at work."""
        return self._pool.activeThreadCount() == 0

    @Slot(int, object, object)
    def _deliver(self, number: int, answer: object, error: Exception | None) -> None:
        callbacks = self._waiting.pop(number, None)
        if callbacks is None:
            return
        done, failed = callbacks
        if error is not None:
            failed(error)
        else:
            done(answer)

    def close(self) -> None:
        """Start nothing more, drop every answer, and wait for what is running."""
        self._closed = True
        self._pool.clear()
        self._waiting.clear()
        self._pool.waitForDone()
        self._collecting.stop()
