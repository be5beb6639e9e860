"""Reads photographs of spark-plug firing ends, compares the cylinders and ranks the next check.

The three functions a program starts with are here; each is imported on first use, so that ``import firingend``
costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from firingend.reading.reader import read_photo as read

_HOMES = {
    "read": ("firingend.reading.reader", "read_photo"),
}

__all__ = ["read"]


def __getattr__(name: str) -> Any:  # noqa: ANN401 - whatever the room holds
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, attribute = _HOMES[name]
    return getattr(import_module(module), attribute)
