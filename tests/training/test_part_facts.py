"""What the reader's heads are fed with about each part, against its plain definition."""

from __future__ import annotations

import numpy as np
import torch
from firingend_training.networks import MEASURED, POOLED, measured_under, over_parts, pooled_under


def some(*shape: int) -> torch.Tensor:
    return torch.rand(shape, generator=torch.Generator().manual_seed(sum(shape))) * 2 - 1


def test_masks_are_the_softmax_over_parts():
    logits = 30 * some(2, 7, 5, 6)
    torch.testing.assert_close(over_parts(logits), logits.softmax(1))


def test_pooled_features_are_means_weighted_by_each_group_of_parts():
    masks, features = over_parts(some(2, 7, 16, 8)), some(2, 9, 4, 2)
    got = pooled_under(masks, features).reshape(2, len(POOLED), 9)
    for n in range(2):
        for g, group in enumerate(POOLED):
            fine = sum(masks[n, part] for part in group).numpy()
            coarse = fine.reshape(4, 4, 2, 4).mean(axis=(1, 3))
            mean = (features[n].numpy() * coarse).sum(axis=(1, 2)) / (coarse.sum() + 1e-3)
            np.testing.assert_allclose(got[n, g], mean, rtol=1e-4, atol=1e-6)


def test_measures_are_colour_spread_highlights_and_size_of_each_part():
    masks, crops = over_parts(3 * some(2, 7, 8, 8)), some(2, 3, 32, 32)
    got = measured_under(masks, crops).reshape(2, len(MEASURED), 6)
    for n in range(2):
        cells = crops[n].numpy().reshape(3, 8, 4, 8, 4)
        small, brightest = cells.mean(axis=(2, 4)), cells.mean(axis=0).max(axis=(1, 3))
        bright = 1 / (1 + np.exp(-12 * (brightest - 0.75)))
        for p, part in enumerate(MEASURED):
            weight = masks[n, part].numpy()
            total = weight.sum() + 1e-3
            luma = small.mean(axis=0)
            mean = (luma * weight).sum() / total
            spread = np.sqrt(((luma - mean) ** 2 * weight).sum() / total + 1e-4)
            expected = [
                *(small * weight).sum(axis=(1, 2)) / total,
                spread,
                (bright * weight).sum() / total,
                4 * weight.mean(),
            ]
            np.testing.assert_allclose(got[n, p], expected, rtol=1e-3, atol=1e-5)


def test_half_precision_around_them_does_not_coarsen_the_sums():
    masks, crops, features = over_parts(some(1, 7, 40, 40)), some(1, 3, 160, 160), some(1, 4, 10, 10)
    with torch.autocast("cpu", dtype=torch.bfloat16):
        measured, pooled = measured_under(masks, crops), pooled_under(masks, features)
    torch.testing.assert_close(measured, measured_under(masks, crops), rtol=0, atol=0)
    torch.testing.assert_close(pooled, pooled_under(masks, features), rtol=0, atol=0)
