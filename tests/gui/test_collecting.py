"""Garbage is collected on the thread that owns the windows, and nowhere else."""

from __future__ import annotations

import gc
import threading

from firingend_gui.collecting import CollectsHere
from firingend_gui.runner import PoolRunner


class Cycle:
    """Garbage that only the collector finds, and that tells on which thread it was found."""

    def __init__(self, found: list[int]) -> None:
        self.itself = self
        self._found = found

    def __del__(self) -> None:
        self._found.append(threading.get_ident())


def test_a_worker_takes_nothing_apart(qtbot):
    found: list[int] = []
    runner = PoolRunner()
    assert not gc.isenabled()
    limits = gc.get_threshold()
    gc.set_threshold(1, 1, 1)
    try:
        Cycle(found)
        done: list[list[list[int]]] = []
        runner.submit(lambda: [[n] for n in range(5000)], done.append, done.append)
        qtbot.waitUntil(lambda: bool(done))
        qtbot.waitUntil(lambda: bool(found))
    finally:
        gc.set_threshold(*limits)
        runner.close()
    assert set(found) == {threading.get_ident()}
    assert gc.isenabled()


def test_the_collector_runs_by_itself_again_after_the_last_one(qtbot):
    first, second = CollectsHere(), CollectsHere()
    first.stop()
    first.stop()
    assert not gc.isenabled()
    second.stop()
    assert gc.isenabled()
