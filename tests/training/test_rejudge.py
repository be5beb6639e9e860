"""Sets rendered before a rule was made are brought up to it, and nothing is lost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from firingend_training.rejudge import BEFORE, main, rejudge
from firingend_training.truth import PictureTruth, PlugTruth, mask_value, read_truth, write_truth
from PIL import Image

SOOTY = PlugTruth(
    0,
    "rich-carbon",
    "black",
    "dry",
    (10.0, 10.0, 110.0, 110.0),
    (0.0, 0.0),
    10.0,
    900,
    0.8,
    readable=True,
    teaches=True,
)


@pytest.fixture
def rendered(tmp_path):
    """Three pictures of a nose: black, cream, and cream that was struck before, labelled sooty; one of no plug."""
    for name in ("pictures", "masks"):
        (tmp_path / name).mkdir()
    mask = np.zeros((120, 120), np.uint8)
    mask[10:110, 10:110] = mask_value(0, "rim")
    mask[40:80, 40:80] = mask_value(0, "nose")
    Image.fromarray(mask).save(tmp_path / "masks/one.png")
    truths = []
    for name, tone, readable in (("black", 30, True), ("cream", 190, True), ("struck", 30, False)):
        picture = np.full((120, 120, 3), 150, np.uint8)
        picture[40:80, 40:80] = tone
        Image.fromarray(picture).save(tmp_path / f"pictures/{name}.png")
        plug = replace(SOOTY, readable=readable, teaches=readable)
        truths.append(PictureTruth(f"pictures/{name}.png", "masks/one.png", len(truths), "close", 120, 120, (plug,)))
    truths.append(PictureTruth("pictures/none.png", "masks/none.png", 9, "other-part", 120, 120, ()))
    write_truth(tmp_path / "truth.jsonl", truths)
    return tmp_path


def test_a_plug_that_does_not_show_its_label_is_struck(rendered):
    before = list(read_truth(rendered / "truth.jsonl"))
    assert rejudge(rendered) == (2, 1)
    black, cream, struck, none = read_truth(rendered / "truth.jsonl")
    assert (black, struck, none) == (before[0], before[2], before[3])
    assert cream.plugs == (replace(before[1].plugs[0], readable=False, teaches=False),)
    assert list(read_truth(rendered / BEFORE)) == before


def test_it_is_not_done_over_what_was_kept(rendered, capsys):
    assert main([str(rendered)]) == 0
    assert "2 readable plugs, 1 now" in capsys.readouterr().out
    kept = (rendered / BEFORE).read_bytes()
    assert main([str(rendered)]) == 1
    assert "move it away" in capsys.readouterr().err
    assert (rendered / BEFORE).read_bytes() == kept


def test_a_picture_that_is_gone_leaves_the_truth_alone(rendered, capsys):
    (rendered / "pictures/cream.png").unlink()
    kept = (rendered / "truth.jsonl").read_bytes()
    assert main([str(rendered)]) == 1
    assert "cream.png" in capsys.readouterr().err
    assert (rendered / "truth.jsonl").read_bytes() == kept
    assert not (rendered / BEFORE).exists()
