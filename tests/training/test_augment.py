"""Crops are upright, masks follow pictures, and light changes keep the range."""

from __future__ import annotations

import pytest
import torch
from firingend_training.augment import blurred, photometric, reader_matrices, warp, warp_masks


@pytest.mark.parametrize("axis", [(0.0, -1.0), (1.0, 0.0), (0.6, 0.8), (-0.7, -0.7)])
def test_the_exact_crop_turns_the_axis_up(axis):
    matrix = reader_matrices(torch.tensor([axis]), ratio=1.0, jitter=0.0)[0]
    up = matrix[:, :2] @ torch.tensor([0.0, -1.0])
    direction = torch.tensor(axis) / torch.tensor(axis).norm()
    assert torch.allclose(up, direction, atol=1e-5)


def test_an_end_on_plug_is_not_turned():
    matrix = reader_matrices(torch.tensor([[0.1, 0.1]]), ratio=0.5, jitter=0.0)[0]
    assert torch.allclose(matrix, torch.tensor([[0.5, 0.0, 0.0], [0.0, 0.5, 0.0]]), atol=1e-6)


def test_masks_follow_their_pictures():
    torch.manual_seed(0)
    picture = torch.zeros(1, 3, 64, 64)
    picture[:, :, 20:30, 36:50] = 1.0
    mask = torch.zeros(1, 64, 64)
    mask[:, 20:30, 36:50] = 3
    matrices = reader_matrices(torch.tensor([[0.0, -1.0]]), ratio=0.8, jitter=1.0)
    seen = warp(picture, matrices, 64)[0, 0] > 0.5
    part = warp_masks(mask, matrices, 64)[0] == 3
    assert (seen & part).sum() / (seen | part).sum() > 0.85


def test_outside_the_region_the_mask_is_unknown():
    matrices = torch.tensor([[[2.0, 0.0, 0.0], [0.0, 2.0, 0.0]]])
    assert (warp_masks(torch.ones(1, 32, 32), matrices, 32)[0, 0] == 255).all()


def test_light_changes_keep_the_range_and_differ_from_picture_to_picture():
    torch.manual_seed(0)
    grey = torch.full((8, 3, 48, 48), 0.5)
    out = photometric(grey, 1.0)
    assert out.min() >= 0
    assert out.max() <= 1
    assert out.mean((1, 2, 3)).std() > 0.02
    assert torch.equal(photometric(grey, 0.0), grey)


def test_blur_keeps_the_mean():
    torch.manual_seed(0)
    x = torch.rand(2, 3, 40, 40)
    assert torch.allclose(blurred(x, 1.0).mean(), x.mean(), atol=5e-3)
