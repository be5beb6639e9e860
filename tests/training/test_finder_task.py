"""The finder's targets and its moved pictures agree with each other."""

from __future__ import annotations

import numpy as np
import pytest
import torch
from firingend_training import finder_task
from firingend_training.finder_task import WholeTensors, loss_of, moved, targets
from firingend_training.networks import FinderOutput
from firingend_training.picture_store import WholePictures, load_wholes


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


def bars(count):
    """Pictures of one bright bar each, 80 by 20 px and slanted by half a right angle, in a frame of 160 by 120 px."""
    y, x = np.mgrid[0:120, 0:160] + 0.5
    along, across = ((x - 80) + (y - 60)) / np.sqrt(2), ((x - 80) - (y - 60)) / np.sqrt(2)
    pictures = np.full((count, 160, 160, 3), 127, np.uint8)
    pictures[:, :120] = np.where((np.abs(along) < 40) & (np.abs(across) < 10), 255, 60)[None, ..., None]
    half = float(np.hypot(40, 10) / np.sqrt(2))  # of the box of the bar's inscribed ellipse
    box = np.array([80 - half, 60 - half, 80 + half, 60 + half], np.float32)
    axis = np.array([0.6, 0.6], np.float32)
    return WholePictures(
        pictures=pictures,
        size=np.tile(np.array([160, 120], np.float32), (count, 1)),
        boxes=np.tile(box, (count, 1, 1)),
        axes=np.tile(axis, (count, 1, 1)),
        count=np.ones(count, np.int64),
        scene=np.arange(count),
    )


def test_boxes_and_axes_follow_squeezed_pictures(monkeypatch):
    """The bar's centre, direction and length in the placed picture against the box and axis it is said to have."""
    monkeypatch.setattr(finder_task, "SQUEEZED", 1.0)
    torch.manual_seed(4)
    count = 60
    placed, boxes, axes = moved(WholeTensors(bars(count), torch.device("cpu")), torch.arange(count), 192)
    y, x = np.mgrid[0:192, 0:192] + 0.5
    bent = 0
    for picture, box, axis in zip(placed.numpy(), boxes[:, 0].numpy(), axes[:, 0].numpy(), strict=True):
        bright = picture[0] > 0.75
        if not np.isfinite(box).all() or bright[[0, -1]].any() or bright[:, [0, -1]].any():
            continue
        points = np.stack([x[bright], y[bright]], 1)
        assert np.abs(points.mean(0) - (box[:2] + box[2:]) / 2).max() < 1.5
        spread, directions = np.linalg.eigh(np.cov(points.T))
        assert np.linalg.norm(axis) == pytest.approx(np.hypot(0.6, 0.6), abs=1e-4)
        # A squeezed bar is sheared, so its long side and its longest spread part by a few degrees.
        assert abs(directions[:, 1] @ axis) / np.linalg.norm(axis) > np.cos(np.radians(6))
        bent += bool(abs(np.sqrt(spread[1] / spread[0]) - 4) > 0.4)
    assert bent >= 10


def test_some_finder_pictures_are_squeezed_and_their_area_stays():
    torch.manual_seed(0)
    factors = finder_task._squeezes(4000, torch.device("cpu"))
    assert (factors[:, 0] != 1).float().mean() == pytest.approx(finder_task.SQUEEZED, abs=0.03)
    assert torch.allclose(factors.prod(1), torch.ones(4000), atol=1e-5)
    assert 1.6 < (factors.max(1).values / factors.min(1).values).max() < 1.76


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
