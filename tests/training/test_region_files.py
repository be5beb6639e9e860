"""Regions cut once are those a run would cut itself, to the last bit, and what is not whole is refused."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import fields

import numpy as np
import pytest
import torch
from firingend_training import train
from firingend_training.picture_store import Regions, load_regions
from firingend_training.region_files import ABOUT, main, read_regions, write_regions
from toy_set import settings_of

from firingend.errors import UserError


@pytest.fixture
def cut(toy_set, tmp_path):
    assert main([str(toy_set), "--out", str(tmp_path / "cut"), "--processes", "2"]) == 0
    return tmp_path / "cut"


def _same(one, other):
    for column in fields(Regions):
        a, b = getattr(one, column.name), getattr(other, column.name)
        assert a.dtype == b.dtype, column.name
        np.testing.assert_array_equal(a, b, err_msg=column.name)


def test_what_was_cut_by_processes_is_what_a_run_cuts(cut, toy_set):
    _same(read_regions([cut]), load_regions([toy_set]))


AFTER_OTHER_WORK = """
import sys
from pathlib import Path
import cv2, numpy
from firingend_training.region_files import cut

if __name__ == "__main__":
    cv2.setNumThreads(4)
    cv2.GaussianBlur(numpy.zeros((2000, 2000, 3), numpy.float32), (0, 0), 5)
    print(len(cut([Path(sys.argv[1])], processes=2)))
"""


def test_a_process_whose_library_has_started_threads_can_cut(toy_set, tmp_path):
    """Threads are not there in a copy of a process: the library would wait for them for ever."""
    script = tmp_path / "cut.py"
    script.write_text(AFTER_OTHER_WORK)
    said = subprocess.run([sys.executable, str(script), str(toy_set)], capture_output=True, text=True, timeout=120)
    assert int(said.stdout) == len(load_regions([toy_set])), said.stderr


def test_several_folders_lie_one_behind_the_other(cut, toy_set):
    _same(read_regions([cut, cut]), load_regions([toy_set, toy_set]))


def test_a_reader_learns_the_same_from_regions_as_from_their_set(cut, toy_set, tmp_path):
    small = ["--device", "cpu", *settings_of(crop=64, batch=8, steps=3)]
    for name, source in (("a", ["--set", str(toy_set)]), ("b", ["--regions", str(cut)])):
        train.main(["reader", *source, "--out", str(tmp_path / name), *small])
    a, b = (torch.load(tmp_path / name / "weights.pt", weights_only=True) for name in "ab")
    assert all(torch.equal(a[name], b[name]) for name in a)


def test_a_folder_that_was_cut_short_is_refused(cut):
    (cut / ABOUT).unlink()
    with pytest.raises(UserError, match="not all of them"):
        read_regions([cut])


def test_regions_of_another_size_are_refused(cut):
    about = json.loads((cut / ABOUT).read_text())
    (cut / ABOUT).write_text(json.dumps({**about, "region": 128}))
    with pytest.raises(UserError, match="'region': 128"):
        read_regions([cut])


def test_writing_again_replaces_all(cut, toy_set):
    regions = load_regions([toy_set])
    first = Regions(**{column.name: getattr(regions, column.name)[:2] for column in fields(Regions)})
    write_regions(first, cut)
    _same(read_regions([cut]), first)


def test_a_set_that_is_none_is_told(tmp_path, capsys):
    assert main([str(tmp_path), "--out", str(tmp_path / "cut")]) == 1
    assert "truth.jsonl" in capsys.readouterr().err
    assert not (tmp_path / "cut").exists()


def test_a_set_without_a_region_is_told(tmp_path, capsys):
    (tmp_path / "truth.jsonl").touch()
    assert main([str(tmp_path), "--out", str(tmp_path / "cut"), "--processes", "1"]) == 1
    assert "no region in" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["finder", "--regions", "r", "--out", "o"], "the finder learns from whole pictures"),
        (["reader", "--out", "o"], "one of the arguments --set --regions is required"),
        (["reader", "--set", "s", "--regions", "r", "--out", "o"], "not allowed with argument"),
    ],
)
def test_what_to_learn_from_is_asked_for_once(arguments, told, capsys):
    with pytest.raises(SystemExit):
        train.main(arguments)
    assert told in capsys.readouterr().err


def test_a_run_told_to_learn_from_such_a_set_says_so_too(tmp_path, capsys):
    (tmp_path / "truth.jsonl").touch()
    with pytest.raises(SystemExit):
        train.main(["reader", "--set", str(tmp_path), "--out", str(tmp_path / "run"), "--device", "cpu"])
    assert "no region in" in capsys.readouterr().err
