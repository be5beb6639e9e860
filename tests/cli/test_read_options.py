"""``firingend read --set-miss`` and ``--grey`` with the networks that ship."""

from __future__ import annotations

import json

import pytest

from firingend.cli import main
from firingend.shipped import demo_dir


@pytest.fixture(scope="module")
def photo() -> str:
    return str(min(demo_dir().rglob("*.jpg"), key=lambda file: file.stat().st_size))


def test_sets_that_may_miss_less_hold_more(photo: str, capsys: pytest.CaptureFixture[str]):
    sets = {}
    for miss in ("0.01", "0.02", "0.1"):
        assert main(["read", photo, "--json", "--set-miss", miss]) == 0
        sets[miss] = [end["label_set"] for end in json.loads(capsys.readouterr().out)[0]["firing_ends"]]
    assert main(["read", photo, "--json"]) == 0
    assert [end["label_set"] for end in json.loads(capsys.readouterr().out)[0]["firing_ends"]] == sets["0.02"]
    for fewer, more in zip(sets["0.1"], sets["0.01"], strict=True):
        assert fewer and set(fewer) <= set(more)


def test_a_share_without_a_limit_says_which_there_are(photo: str, capsys: pytest.CaptureFixture[str]):
    assert main(["read", photo, "--set-miss", "0.5"]) == 1
    assert "0.5 miss the right label: choose one of 0.01, 0.02, 0.05, 0.1" in capsys.readouterr().err


def test_something_grey_reaches_the_colours(photo: str, capsys: pytest.CaptureFixture[str]):
    assert main(["read", photo, "--json", "--grey", "10,10,60,60"]) == 0
    (end,) = json.loads(capsys.readouterr().out)[0]["firing_ends"]
    assert {zone["neutral"] for zone in end["zones"] if zone["lab"]} == {"grey patch"}
