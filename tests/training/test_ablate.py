"""A plan is read strictly, its runs share the budget, and each leaves what it is judged and exported by."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import torch
from firingend_training.ablate import main, minutes_each, read_plan, train_slot
from firingend_training.choose import main as choose
from firingend_training.picture_store import load_regions
from firingend_training.region_files import write_regions
from firingend_training.settings import ReaderSettings

PLANS = sorted((Path(__file__).parents[2] / "training/plans").glob("*.toml"))
SMALL = "[common]\ncrop = 64\nbatch = 8\nsteps = 2\npretrained = false\nheld_apart = 0.2\n"
SWITCHED = """
[runs.tied]
thread_dirt = "tied"
[runs.control]
thread_dirt = "independent-as-many"
[runs.at-once]
head_first = 0.0
[runs.last]
average = 0.0
"""


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_every_run_of_a_plan_is_of_its_own_kind(path):
    plan = read_plan(path)
    assert len({variation.settings for variation in plan}) == len(plan) > 1
    first, plain = plan[0].settings, ReaderSettings()
    how_long = {name: getattr(first, name) for name in ("steps", "plugs", "compiled")}
    assert first == replace(plain, **how_long)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[common]\ncrop = 64\n", "no .runs.NAME. in it"),
        ("[runs.a]\ncrops = 64\n", "a: 'crops' is no setting"),
        ("[runs.a]\npretrained = 1\n", "a: pretrained is 1; it must be of type bool"),
        ("[runs.a]\nthread_dirt = 'tide'\n", "a: thread_dirt is 'tide'; it must be one of independent, tied"),
        ("[runs.a]\ncrop = 64.5\n", "a: crop is 64.5; it must be of type int"),
    ],
)
def test_a_wrong_plan_is_told_of(tmp_path, text, told):
    (tmp_path / "plan.toml").write_text(text)
    with pytest.raises(ValueError, match=told):
        read_plan(tmp_path / "plan.toml")


def test_a_budget_without_time_to_train_is_refused():
    with pytest.raises(ValueError, match="too few for 8 runs, 2 at a time"):
        minutes_each(2.0, 8, 2)


class Queue:
    """Stands for the queue between processes."""

    def __init__(self, waiting):
        self.waiting = list(waiting)

    def get(self, timeout):
        import queue

        if not self.waiting:
            raise queue.Empty
        return self.waiting.pop(0)


@pytest.fixture(scope="module")
def slot(toy_set, tmp_path_factory):
    out = tmp_path_factory.mktemp("ablate")
    runs = "[runs.facts]\n[runs.flat]\ntwo_facts = false\n[runs.wrong]\nbatch = 0\n"
    (out / "plan.toml").write_text(SMALL + runs + SWITCHED)
    write_regions(load_regions([toy_set]), out / "regions")
    train_slot("cpu", out / "regions", out, Queue(read_plan(out / "plan.toml")))
    return out


def test_a_failed_run_does_not_stop_the_others(slot):
    assert {path.name for path in (slot / "carry").iterdir()} == {"facts", "flat", "tied", "control", "at-once", "last"}
    assert "Traceback" in (slot / "wrong/failed.txt").read_text()


def test_all_runs_are_judged_by_the_same_plugs(slot):
    whole, *others = (
        np.load(slot / "carry" / name / "apart.npz")["target_plug"] for name in ("facts", "tied", "control", "at-once")
    )
    assert len(whole) > 3
    assert all(np.array_equal(whole, other) for other in others)


def test_carried_weights_are_half_as_large(slot):
    whole, half = (slot / part / "weights.pt" for part in ("flat", "carry/flat"))
    assert half.stat().st_size < 0.6 * whole.stat().st_size
    first = torch.load(whole, weights_only=True)["shared.1.weight"]
    again = torch.load(half, weights_only=True)["shared.1.weight"].float()
    assert torch.allclose(first, again, atol=1e-3)


def test_carried_runs_are_scored_on_a_set(slot, toy_set, capsys):
    choose([str(slot / "carry/flat"), "--set", str(toy_set), "--workers", "1"])
    line = capsys.readouterr().out.splitlines()[-1].split()
    assert line[0] == "flat"
    assert 0.0 <= float(line[1]) <= 1.0


def test_the_command_trains_in_processes_of_its_own(toy_set, tmp_path, capsys):
    (tmp_path / "plan.toml").write_text(SMALL + "[runs.one]\n[runs.two]\nseed = 8\n")
    main(["--sets", str(toy_set), "--plan", str(tmp_path / "plan.toml"), "--out", str(tmp_path / "out"),
          "--devices", "cpu", "--each", "1", "--minutes", "4"])  # fmt: skip
    assert capsys.readouterr().out.splitlines()[-1].split()[0] in ("one", "two")
