"""Tuning all but the body: the body stays, parts and heads move, and the run exports once it is calibrated."""

from __future__ import annotations

import numpy as np
import torch
from firingend_training import set_apart
from firingend_training.export import export_reader, load_reader
from firingend_training.tune_top import TopSettings, main, tune_top


def test_the_body_stays_and_the_rest_moves(reader_run, toy_set, tmp_path, capsys):
    out = tmp_path / "top"
    main(["--start", str(reader_run), "--set", str(toy_set), "--out", str(out), "--steps", "4", "--batch", "8"])
    assert capsys.readouterr().out.startswith("loss ")
    before, after = (load_reader(run).state_dict() for run in (reader_run, out))
    moved = {name.split(".")[0] for name in before if not torch.equal(before[name], after[name])}
    assert moved >= {"merge", "parts", "shared", "heads"}
    assert "body" not in moved
    set_apart.main([str(out), "--set", str(toy_set)])
    assert export_reader(out, tmp_path, "toy") < 1e-4


def test_the_loss_falls(reader_run, toy_set, tmp_path):
    settings = TopSettings(steps=30, batch=16, mask_rate=3e-3, head_rate=1e-3)
    losses = tune_top(reader_run, [toy_set], tmp_path / "top", settings)
    assert np.mean(losses[-6:]) < np.mean(losses[:6])
