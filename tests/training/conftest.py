"""Training tests run on a toy set, drawn once."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session", autouse=True)
def one_thread():
    """Several threads on a busy machine wait for each other far longer than they work."""
    import torch

    torch.set_num_threads(1)


@pytest.fixture(scope="session")
def toy_set(tmp_path_factory):
    from toy_set import draw_toy_set

    return draw_toy_set(tmp_path_factory.mktemp("toy") / "set", 72)


@pytest.fixture(scope="session")
def reader_run(toy_set, tmp_path_factory):
    """A small reader that has learned the toy set."""
    from firingend_training.train import main
    from toy_set import settings_of

    run = tmp_path_factory.mktemp("runs") / "reader"
    small = settings_of(crop=64, batch=24, steps=45, head_first=0.3, photometric=0.3, held_apart=0.2)
    main(["reader", "--set", str(toy_set), "--out", str(run), "--device", "cpu", *small])
    return run
