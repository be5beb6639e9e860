"""Where the files that ship with the project lie: trained networks and demo engines."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_CHECKOUT = _PACKAGE.parents[1]


def models_dir() -> Path:
    """Folder of the trained networks, in an installed wheel or in a checkout."""
    return _find("models", "models")


def demo_dir() -> Path:
    """Folder of the shipped demo engines, in an installed wheel or in a checkout."""
    return _find("demo", "datasets/demo")


def _find(installed: str, checkout: str) -> Path:
    in_wheel = _PACKAGE / "_shipped" / installed
    return in_wheel if in_wheel.is_dir() else _CHECKOUT / checkout
