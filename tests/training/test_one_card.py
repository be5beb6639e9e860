"""The plan for one graphics card, run in small on a processor."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
import torch
from firingend_training.region_files import main as cut_regions

PLAN = Path(__file__).parents[2] / "training/plans/one_card.sh"
pytestmark = pytest.mark.skipif(os.name != "posix", reason="a shell script")


def run(work, out, toy_set, settings):
    env = {**os.environ, "PYTHON": sys.executable, "COMPILED": "false", "SETTINGS": settings}
    return subprocess.run([PLAN, work, out, toy_set], env=env, capture_output=True, text=True, check=False)


def test_five_runs_become_one_reader(toy_set, tmp_path):
    work, out = tmp_path / "work", tmp_path / "out"
    assert cut_regions([str(toy_set), "--out", str(work / "regions-0"), "--processes", "1"]) == 0
    small = "crop=64 batch=4 hidden=16 pretrained=false steps=2"
    done = run(work, out, toy_set, small)
    assert done.returncode == 0, done.stderr
    first, average, tuned = (torch.load(f / "weights.pt") for f in (work / "first", work / "average", out))
    others = [torch.load(work / name / "weights.pt") for name in "abcd"]
    name = "shared.1.weight"
    torch.testing.assert_close(average[name], torch.stack([other[name] for other in others]).mean(0))
    assert all(not torch.equal(other[name], first[name]) for other in others)
    assert not torch.equal(tuned[name], average[name])
    rates = [json.loads((work / name / "settings.json").read_text())["body_rate"] for name in ("first", *"abcd")]
    assert rates == [8e-4, 5e-4, 3.5e-4, 6e-4, 5e-4]

    # Given again after a break, it makes only what is missing.
    (work / "c/weights.pt").unlink()
    before = (work / "first/weights.pt").stat().st_mtime_ns
    again = run(work, out, toy_set, "unheard_of=1")
    assert again.returncode != 0 and "unheard_of" in again.stderr
    assert (work / "first/weights.pt").stat().st_mtime_ns == before


def test_without_regions_it_says_what_to_do(toy_set, tmp_path):
    done = run(tmp_path / "work", tmp_path / "out", toy_set, "")
    assert done.returncode == 1 and "firingend_training.region_files SET" in done.stderr


def test_a_run_that_fails_says_why_and_ends_the_plan(toy_set, tmp_path):
    (tmp_path / "work/regions-0").mkdir(parents=True)
    done = run(tmp_path / "work", tmp_path / "out", toy_set, "")
    assert done.returncode == 1 and "about.json is missing" in done.stderr
    assert not (tmp_path / "work/a.log").exists() and not (tmp_path / "out").exists()
