"""The finder's targets and its moved pictures agree with each other."""

from __future__ import annotations

import numpy as np
import pytest
import torch
from firingend_training.finder_task import WholeTensors, loss_of, moved, targets
from firingend_training.networks import FinderOutput
from firingend_training.picture_store import load_wholes


def test_targets_peak_in_the_centre_cell_and_point_at_the_edges():
    boxes = torch.tensor([[[20.0, 30.0, 60.0, 90.0], [np.nan] * 4]])
    heat, cells, distances, axes = targets(boxes, torch.tensor([[[0.6, -0.8], [0.0, 0.0]]]), 128)
    row, column = divmod(int(heat[0].argmax()), heat.shape[2])
    assert (row, column) == (15, 10)  # centre (40, 60) in cells of 4 px
    assert heat.max() == pytest.approx(1.0)
    assert cells[0, row, column]
    x, y = 42.0, 62.0  # that cell's centre
    assert distances[0, :, row, column].tolist() == pytest.approx([x - 20, y - 30, 60 - x, 90 - y])
    assert axes[0, :, row, column].tolist() == pytest.approx([0.6, -0.8])


def test_pictures_without_plugs_have_no_heat():
    heat, cells, _, _ = targets(torch.full((1, 2, 4), torch.nan), torch.zeros(1, 2, 2), 64)
    assert heat.max() == 0
    assert not cells.any()


def test_boxes_move_with_their_pictures(toy_set):
    torch.manual_seed(1)
    wholes = load_wholes([toy_set], 96)
    rows = torch.from_numpy(np.flatnonzero(wholes.count > 0)[:40])
    tensors = WholeTensors(wholes, torch.device("cpu"))
    placed, boxes, _ = moved(tensors, rows, 128)
    tops = 0
    for picture, box, row in zip(placed, boxes[:, 0], rows, strict=True):
        if not torch.isfinite(box).all() or (box < 4).any() or (box > 124).any():
            continue
        centre = ((box[:2] + box[2:]) / 2).round().long()
        colour = picture[:, centre[1], centre[0]]
        source = wholes.boxes[row, 0]
        x, y = ((source[:2] + source[2:]) / 2).astype(int)
        expected = torch.from_numpy(wholes.pictures[row, y, x]).float() / 255
        assert (colour - expected).abs().max() < 0.05
        tops += 1
    assert tops >= 10


def loss_without(part, boxes):
    """The loss of a guess whose box or axis is right everywhere, or of one with neither wrong."""
    heat, cells, distances, axes = targets(boxes, torch.full((1, 2, 2), torch.nan), 64)
    axes = torch.where(cells[:, None], 0.5, axes)  # known where a firing end is, not a number elsewhere
    logits = torch.logit(heat.clamp(1e-4, 1 - 1e-4))[:, None]
    box = distances.clamp(min=1.0) * (1.0 if part != "box" else 1.5)
    guess = FinderOutput(logits, box, torch.full_like(axes, 0.5 if part != "axis" else 0.3))
    return float(loss_of(lambda _: guess, (torch.zeros(1, 3, 64, 64), heat, cells, distances, axes)))


def test_the_loss_counts_box_and_axis_where_firing_ends_are_and_nowhere_else():
    one = torch.tensor([[[10.0, 12.0, 42.0, 50.0], [np.nan] * 4]])
    none = torch.full((1, 2, 4), torch.nan)
    right = loss_without("", one)
    assert loss_without("axis", one) == pytest.approx(right + 2 * 0.2, abs=1e-4)  # L1, twice
    grown = -np.log(1 / 1.5**2) + 0.5 * np.log(1.5)  # the true box fills 1 / 1.5² of the guessed one
    assert loss_without("box", one) == pytest.approx(right + grown, abs=1e-3)
    assert loss_without("box", none) == loss_without("axis", none) == loss_without("", none) < 0.01
