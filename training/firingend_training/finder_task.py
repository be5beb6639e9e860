"""What the finder learns: whole pictures moved, turned, scaled and tiled, with heat, box and axis targets."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import torch
import torch.nn.functional as F
from numpy.typing import NDArray
from torch import Tensor, nn

from firingend_training.augment import normalised, photometric, uniform
from firingend_training.networks import FinderOutput
from firingend_training.picture_store import WholePictures, held_apart
from firingend_training.settings import FinderSettings

CELL = 4  # input pixels a cell of the output maps
SPREAD = 0.13  # sigma of the heat blob over the box's side
POSITIVE = 0.6  # cells hotter than this learn box and axis
SMALLEST = 10.0  # px: smaller boxes are not asked for
GREY = 127.0 / 255.0
SQUEEZED = 0.4  # share of the pictures whose width and height are scaled apart
SQUEEZE = 0.28  # largest logarithm of what one side is stretched and the other shortened by: at most 1.75 to 1


class WholeTensors:
    """A set's whole pictures on the device."""

    def __init__(self, wholes: WholePictures, device: torch.device) -> None:
        self.pictures = torch.from_numpy(wholes.pictures).to(device)
        self.size = torch.from_numpy(wholes.size).to(device)
        self.boxes = torch.from_numpy(wholes.boxes).to(device)
        self.axes = torch.from_numpy(wholes.axes).to(device)
        self.device = device


def split(wholes: WholePictures, settings: FinderSettings) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows to learn from and rows kept apart, by scene."""
    apart = np.array([held_apart(int(s), settings.held_apart) for s in wholes.scene])
    return np.flatnonzero(~apart), np.flatnonzero(apart)


def moved(tensors: WholeTensors, rows: Tensor, canvas: int, *, shrink: float = 1.0) -> tuple[Tensor, Tensor, Tensor]:
    """Pictures placed on a grey canvas at a random scale, squeeze, turn, mirror and position, with boxes and axes.

    A squeeze turns axes; it leaves their lengths, which tell the angle they were seen at.

    Boxes are the bounding boxes of the ellipse inscribed in the turned box: for a firing end that is closer
    to the truth than the bounding box of the turned corners.
    """
    n, device = len(rows), tensors.device
    pictures = tensors.pictures[rows].permute(0, 3, 1, 2).float() / 255.0
    side = pictures.shape[-1]
    size = tensors.size[rows]
    squeeze = _squeezes(n, device)
    longest = (size * squeeze).max(1).values
    # Long side of the placed picture: mostly the whole canvas, as at run time, sometimes less or more.
    target = canvas * shrink * torch.exp(uniform(n, -0.5, 0.12, device))
    scale = (
        target
        / longest
        * torch.where(torch.rand(n, device=device) < 0.12, uniform(n, 1.1, 1.8, device), torch.ones(n, device=device))
    )
    quarter = torch.randint(0, 4, (n,), device=device) * (math.pi / 2)
    angle = quarter + 0.12 * torch.randn(n, device=device)
    mirror = torch.where(torch.rand(n, device=device) < 0.5, -1.0, 1.0)
    cos, sin = torch.cos(angle), torch.sin(angle)
    # forward (source px → canvas px): p' = R · diag(mirror, 1) · squeeze · (p - source centre) · scale + canvas centre
    turned = torch.stack([torch.stack([cos * mirror, -sin], 1), torch.stack([sin * mirror, cos], 1)], 1)
    forward = turned * squeeze[:, None, :] * scale[:, None, None]
    source_centre = size / 2
    slack = (canvas * shrink - target).clamp(min=0.0)
    centre = canvas * shrink / 2 + (torch.rand(n, 2, device=device) - 0.5) * (slack[:, None] + 0.06 * canvas * shrink)
    out = int(canvas * shrink)
    inverse = torch.linalg.inv(forward)
    # affine_grid wants normalised output → normalised input
    offset = source_centre - (inverse @ centre[:, :, None])[:, :, 0]
    linear = inverse * (out / side)
    shift = ((inverse @ torch.full((n, 2, 1), out / 2, device=device))[:, :, 0] + offset) * 2 / side - 1
    grid = F.affine_grid(torch.cat([linear, shift[:, :, None]], 2), [n, 3, out, out], align_corners=False)
    if shrink < 1.0:
        pictures = F.avg_pool2d(pictures, 2)
    placed = F.grid_sample(pictures - GREY, grid, align_corners=False) + GREY
    boxes = tensors.boxes[rows]
    middle = (boxes[..., :2] + boxes[..., 2:]) / 2
    half = (boxes[..., 2:] - boxes[..., :2]) / 2
    new_middle = torch.einsum("nij,nmj->nmi", forward, middle - source_centre[:, None]) + centre[:, None]
    new_half = torch.sqrt(torch.einsum("nij,nmj->nmi", forward**2, half**2))
    new_boxes = torch.cat([new_middle - new_half, new_middle + new_half], -1)
    axes = tensors.axes[rows]
    new_axes = torch.einsum("nij,nmj->nmi", forward, axes)
    new_axes = new_axes * (axes.norm(dim=-1) / new_axes.norm(dim=-1).clamp(min=1e-6))[..., None]
    inside = ((new_middle > 0) & (new_middle < out)).all(-1)
    return placed, torch.where(inside[..., None], new_boxes, torch.nan), new_axes


def _squeezes(n: int, device: torch.device) -> Tensor:
    """(n, 2) factors of width and height, their product 1: pictures from the web are often pressed into a square."""
    stretch = torch.exp(uniform(n, -SQUEEZE, SQUEEZE, device))
    stretch = torch.where(torch.rand(n, device=device) < SQUEEZED, stretch, torch.ones_like(stretch))
    return torch.stack([stretch, 1 / stretch], 1)


def batches(tensors: WholeTensors, rows: NDArray[np.int64], settings: FinderSettings) -> Iterator[tuple[Tensor, ...]]:
    """Endless training batches; every fourth is tiled from four pictures each."""
    generator = torch.Generator().manual_seed(settings.seed)
    all_rows = torch.from_numpy(rows)
    turn = 0

    def draw(n: int) -> Tensor:
        return all_rows[torch.randint(len(all_rows), (n,), generator=generator)].to(tensors.device)

    while True:
        turn += 1
        with torch.no_grad():
            if turn % 4:
                pictures, boxes, axes = moved(tensors, draw(settings.batch), settings.canvas)
            else:
                pictures, boxes, axes = _tiled(tensors, draw(4 * settings.batch), settings)
            pictures = normalised(photometric(pictures, settings.photometric))
            heat, cells, distances, directions = targets(boxes, axes, settings.canvas)
        yield pictures, heat, cells, distances, directions


def _tiled(tensors: WholeTensors, rows: Tensor, settings: FinderSettings) -> tuple[Tensor, Tensor, Tensor]:
    pictures, boxes, axes = moved(tensors, rows, settings.canvas, shrink=0.5)
    n, half = settings.batch, settings.canvas // 2
    grid = pictures.view(n, 2, 2, 3, half, half).permute(0, 3, 1, 4, 2, 5)
    corner = torch.tensor([[0, 0], [1, 0], [0, 1], [1, 1]], device=rows.device) * half
    boxes = boxes.view(n, 4, -1, 4) + corner.repeat(1, 2)[None, :, None, :]
    return (
        grid.reshape(n, 3, settings.canvas, settings.canvas),
        boxes.flatten(1, 2),
        axes.view(n, 4, -1, 2).flatten(1, 2),
    )


def targets(boxes: Tensor, axes: Tensor, canvas: int) -> tuple[Tensor, Tensor, Tensor, Tensor]:
    """Heat (N, h, w); cells (N, h, w) bool; distances (N, 4, h, w) px; axis (N, 2, h, w).

    ``boxes`` (N, M, 4) px with NaN where there is none.
    """
    count = canvas // CELL
    at = (torch.arange(count, device=boxes.device) + 0.5) * CELL
    size = boxes[..., 2:] - boxes[..., :2]
    valid = torch.isfinite(boxes).all(-1) & (size.max(-1).values > SMALLEST)
    boxes = torch.nan_to_num(boxes, nan=-1e3)
    middle = (boxes[..., :2] + boxes[..., 2:]) / 2
    sigma = (size.nan_to_num(1.0) * SPREAD).clamp(min=0.7 * CELL)
    # Snap the blob to the centre's cell, so that its peak is exactly one.
    peak = (middle / CELL).floor() * CELL + CELL / 2
    gx = torch.exp(-0.5 * ((at[None, None] - peak[..., :1]) / sigma[..., :1]) ** 2)
    gy = torch.exp(-0.5 * ((at[None, None] - peak[..., 1:]) / sigma[..., 1:]) ** 2)
    blobs = gy[..., :, None] * gx[..., None, :] * valid[..., None, None]
    heat, owner = blobs.max(1)
    owned = owner.flatten(1)[..., None]
    box = torch.gather(boxes, 1, owned.expand(-1, -1, 4)).view(*owner.shape, 4)
    axis = torch.gather(axes, 1, owned.expand(-1, -1, 2)).view(*owner.shape, 2)
    x, y = at[None, None, :], at[None, :, None]
    distances = torch.stack([x - box[..., 0], y - box[..., 1], box[..., 2] - x, box[..., 3] - y], 1)
    return heat, heat >= POSITIVE, distances, axis.permute(0, 3, 1, 2)


def loss_of(net: nn.Module, batch: tuple[Tensor, ...]) -> Tensor:
    """Penalty-reduced focal loss on the heat, IoU and log distance on the boxes, L1 on the axes.

    Asks the device nothing, as the reader's. The heat loss is that of Zhou, Wang & Krähenbühl 2019, *Objects as Points*
    (arXiv 1904.07850), eq. 1.
    """
    pictures, heat, cells, distances, axes = batch
    raw: FinderOutput = net(pictures)
    logits = raw.heat[:, 0].float()
    probability = torch.sigmoid(logits)
    peak = heat > 0.999
    found = F.logsigmoid(logits) * (1 - probability) ** 2
    empty = F.logsigmoid(-logits) * probability**2 * (1 - heat) ** 4
    count = peak.sum().clamp(min=1)
    heat_loss = -(found * peak + empty * ~peak).sum() / count
    weight = heat * cells
    box, goal = raw.box.float(), distances.clamp(min=1.0)
    off = (box.log() - goal.log()).abs().mean(1)
    box_loss = -torch.log(_overlap(box, goal).clamp(min=1e-3)) + 0.5 * off
    known = torch.where(cells[:, None], axes, 0.0)  # elsewhere it may be no number, which no weight of 0 takes away
    axis_loss = (raw.axis.float() - known).abs().mean(1)
    return heat_loss + ((box_loss + 2.0 * axis_loss) * weight).sum() / weight.sum().clamp(min=POSITIVE)


def _overlap(a: Tensor, b: Tensor) -> Tensor:
    """Intersection over union of boxes given by distances from one point (n, 4, …)."""
    least = torch.minimum(a, b)
    shared = (least[:, 0] + least[:, 2]) * (least[:, 1] + least[:, 3])
    area = (a[:, 0] + a[:, 2]) * (a[:, 1] + a[:, 3]) + (b[:, 0] + b[:, 2]) * (b[:, 1] + b[:, 3])
    return shared / (area - shared + 1e-6)
