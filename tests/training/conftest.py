"""Training tests run on a toy set, drawn once."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def toy_set(tmp_path_factory):
    from toy_set import draw_toy_set

    return draw_toy_set(tmp_path_factory.mktemp("toy") / "set", 72)
