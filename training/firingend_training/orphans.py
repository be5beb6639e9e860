"""Processes that end with the one that started them, however that one ended."""

from __future__ import annotations

import multiprocessing
import os
import threading


def end_with_parent() -> None:
    """End this process as soon as its parent is gone; call it first thing in a worker.

    A parent that is killed cannot tell its workers to stop: renderers would go on for hours beside all else that runs.
    Does nothing in a process that `multiprocessing` did not start.
    """
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_wait_and_end, args=(parent,), daemon=True).start()


def _wait_and_end(parent: multiprocessing.process.BaseProcess) -> None:
    parent.join()
    os._exit(1)  # whatever the worker is at, nobody waits for it
