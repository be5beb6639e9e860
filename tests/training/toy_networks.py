"""The reading room's toy networks, for training tests that need exported ones."""

from __future__ import annotations

import importlib.util
from pathlib import Path

_READING_ROOM = Path(__file__).parents[1] / "reading" / "conftest.py"


def write_toy_networks(folder: Path) -> Path:
    """Write both networks and the files beside them."""
    spec = importlib.util.spec_from_file_location("reading_room", _READING_ROOM)
    toy = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(toy)
    toy.write_network(folder, "finder", toy.toy_finder(), toy.FINDER_CARD)
    toy.write_network(folder, "reader", toy.toy_reader(), toy.READER_CARD)
    return folder
