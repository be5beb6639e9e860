"""What a photograph may change without changing what the plug shows, done in batches on the GPU."""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F
from torch import Tensor


def uniform(n: int, low: float, high: float, device: torch.device) -> Tensor:
    """(n,) numbers between low and high."""
    return torch.empty(n, device=device).uniform_(low, high)


def reader_matrices(
    axis: Tensor, *, ratio: float, jitter: float, generator_device: torch.device | None = None
) -> Tensor:
    """Affine maps (N, 2, 3) from crop to region coordinates, both in -1..1, as ``F.affine_grid`` wants them.

    Parameters
    ----------
    axis
        (N, 2) axis of each plug in its region; the crop is turned so that it points up when it is longer
        than 0.25, as ``firingend.reading.crop.crop_matrix`` does.
    ratio
        Side of the crop over side of the region.
    jitter
        0 for the exact crop; 1 moves, scales, squeezes, turns and mirrors it as a careless finder and a
        careless photographer would.
    """
    n, device = len(axis), generator_device or axis.device
    length = axis.norm(dim=1)
    upright = torch.atan2(axis[:, 0], -axis[:, 1])  # 0 when the axis already points up
    angle = torch.where(length > 0.25, upright, torch.zeros_like(upright))
    loose = torch.where(length > 0.25, uniform(n, -0.3, 0.3, device), uniform(n, -math.pi, math.pi, device))
    angle = angle + jitter * loose
    scale = ratio * torch.exp(jitter * uniform(n, -0.22, 0.28, device))
    squeeze = torch.exp(jitter * uniform(n, -0.3, 0.3, device))
    mirror = torch.where(torch.rand(n, device=device) < 0.5 * jitter, -1.0, 1.0)
    shift = jitter * 0.11 * ratio * torch.randn(n, 2, device=device).clamp(-2, 2)
    cos, sin = torch.cos(angle), torch.sin(angle)
    row_x = torch.stack([cos * scale * squeeze * mirror, -sin * scale / squeeze, shift[:, 0]], 1)
    row_y = torch.stack([sin * scale * squeeze * mirror, cos * scale / squeeze, shift[:, 1]], 1)
    return torch.stack([row_x, row_y], 1)


def warp(pictures: Tensor, matrices: Tensor, side: int) -> Tensor:
    """(N, 3, h, w) float pictures → (N, 3, side, side)."""
    grid = F.affine_grid(matrices, [len(pictures), 3, side, side], align_corners=False)
    return F.grid_sample(pictures, grid, padding_mode="border", align_corners=False)


def warp_masks(masks: Tensor, matrices: Tensor, side: int) -> Tensor:
    """(N, h, w) part indices → (N, side, side), nearest; 255 outside."""
    grid = F.affine_grid(matrices, [len(masks), 1, side, side], align_corners=False)
    shifted = masks[:, None].float() - 255.0  # so that the zero padding comes out as 255
    return (F.grid_sample(shifted, grid, mode="nearest", align_corners=False)[:, 0] + 255.0).round().long()


BLUR_RADIUS = 4  # fixed, so that the graphics card meets one kernel shape only


def blurred(x: Tensor, sigma: float) -> Tensor:
    """Gaussian blur of (N, C, H, W); sigma up to about 2 px."""
    at = torch.arange(-BLUR_RADIUS, BLUR_RADIUS + 1, device=x.device, dtype=x.dtype)
    kernel = torch.exp(-0.5 * (at / sigma) ** 2)
    kernel = (kernel / kernel.sum()).repeat(x.shape[1], 1, 1, 1)
    x = F.pad(x, [BLUR_RADIUS] * 4, mode="reflect")
    x = F.conv2d(x, kernel.transpose(2, 3), groups=x.shape[1])
    return F.conv2d(x, kernel, groups=x.shape[1])


def blurred_widely(x: Tensor, sigma: float) -> Tensor:
    """Gaussian blur of (N, C, H, W) with a sigma of 4 to 10 px, done on a quarter of the pixels each way."""
    small = blurred(F.avg_pool2d(x, 4), sigma / 4)
    return F.interpolate(small, size=x.shape[2:], mode="bilinear", align_corners=False)


def photometric(x: Tensor, strength: float) -> Tensor:
    """Light, colour, sharpness, noise and resolution of (N, 3, H, W) pictures in 0..1, drawn anew a picture.

    Sharpening, local contrast and saturation go far beyond what the renderer's camera does: phone pictures
    do, and a reader that knows only soft renders takes every crisp highlight for a liquid.
    """
    if strength <= 0:
        return x
    n, device = len(x), x.device

    def spread(width: float, *shape: int) -> Tensor:
        return torch.randn(n, *shape, device=device) * width * strength

    def some(share: float) -> Tensor:
        return (torch.rand(n, 1, 1, 1, device=device) < share).float()

    x = _resolution(x, 0.3 * strength)
    x = x.clamp(1e-4, 1.0) ** torch.exp(spread(0.25, 1, 1, 1))  # gamma
    x = x * torch.exp(spread(0.2, 1, 1, 1) + spread(0.07, 3, 1, 1))
    # Shadows lifted, as phones do: soot is then dark grey, and still soot. Or drowned, as high contrast does.
    x = x + some(0.3) * uniform(n, 0.0, 0.16 * strength, device)[:, None, None, None] * (1 - x.clamp(0, 1)) ** 3
    x = x - some(0.3) * uniform(n, 0.0, 0.08 * strength, device)[:, None, None, None] * (1 - x.clamp(0, 1)) ** 3
    mean = x.mean((2, 3), keepdim=True)
    x = (x - mean) * torch.exp(spread(0.22, 1, 1, 1)) + mean
    grey = x.mean(1, keepdim=True)
    x = grey + (x - grey) * torch.exp(spread(0.28, 1, 1, 1))
    small = blurred(x, float(torch.empty(()).uniform_(0.6, 1.6)))
    wide = blurred_widely(x, float(torch.empty(()).uniform_(4.0, 9.0)))
    x = x + some(0.5) * (x - small) * uniform(n, 0.0, 1.8 * strength, device)[:, None, None, None]
    x = x + some(0.4) * (x - wide) * uniform(n, 0.0, 0.6 * strength, device)[:, None, None, None]
    soft = some(0.2)
    x = x * (1 - soft) + blurred(x, float(torch.empty(()).uniform_(0.5, 2.0))) * soft
    noise = torch.rand(n, 1, 1, 1, device=device) ** 2 * 0.05 * strength
    x = x + torch.randn_like(x) * noise
    return x.clamp(0.0, 1.0)


def _resolution(x: Tensor, share: float) -> Tensor:
    """Shrink and enlarge a share of the batch, as a small forum picture was."""
    chosen = torch.rand(len(x), 1, 1, 1, device=x.device) < share
    side = int(torch.randint(36, 140, ()))
    small = F.interpolate(x, size=(side, side), mode="area")
    return torch.where(chosen, F.interpolate(small, size=x.shape[2:], mode="bicubic", align_corners=False), x)


def normalised(x: Tensor) -> Tensor:
    """0..1 → what both networks take: (255 x - 127) / 128."""
    return (x * 255.0 - 127.0) / 128.0
