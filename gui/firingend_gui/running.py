"""The one thing the controller asks of whatever runs slow work."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeVar

T = TypeVar("T")


class Runner(Protocol):
    """Runs slow work elsewhere and hands the answer back on the thread that owns the view."""

    def submit(self, work: Callable[[], T], done: Callable[[T], None], failed: Callable[[Exception], None]) -> None:
        """Run ``work``; then call ``done`` with its answer, or ``failed`` with its exception."""
        ...
