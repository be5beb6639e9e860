"""What the reader learns: batches of jittered crops and the loss over all its heads."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import torch
import torch.nn.functional as F
from numpy.typing import NDArray
from torch import Tensor, nn

from firingend.evaluation.metrics import balanced_accuracy
from firingend.labels import LABELS, PARTS
from firingend_training.augment import normalised, photometric, reader_matrices, warp, warp_masks
from firingend_training.networks import STATUS, ReaderOutput
from firingend_training.picture_store import NONE, REGION_MARGIN, Regions, held_apart
from firingend_training.settings import ReaderSettings
from firingend_training.thread_dirt import kept_by_thread_dirt

CLASS_SHARES = {**dict.fromkeys(LABELS, 0.145), "unused": 0.115, "not-a-plug": 0.16}
"""How much of a batch each class gets; the five labels get equal shares."""
LOSS_WEIGHTS = {
    "five": 1.0,
    "ceramic": 0.6,
    "surface": 0.6,
    "status": 1.0,
    "signs": 0.3,
    "severity": 0.2,
    "cover": 0.2,
    "parts": 0.6,
}


def class_of(regions: Regions) -> NDArray[np.int64]:
    """(n,) index into CLASS_SHARES: label, unused or not-a-plug."""
    unused = regions.status == STATUS.index("unused")
    return np.where(regions.five != NONE, regions.five, np.where(unused, len(LABELS), len(LABELS) + 1))


def split(regions: Regions, settings: ReaderSettings) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows to learn from and rows kept apart; scenes are never divided between the two.

    Raises
    ------
    UserError
        If the plugs cannot be chosen by the dirt of their threads as the settings ask.
    """
    apart = np.array([held_apart(int(s), settings.held_apart) for s in regions.scene])
    learn = ~apart
    if settings.plugs:
        plugs = np.unique(regions.plug[learn & (regions.plug != NONE)])[: settings.plugs]
        learn &= np.isin(regions.plug, plugs) | (regions.plug == NONE)
    learn = kept_by_thread_dirt(regions, learn, settings.thread_dirt, settings.seed)
    return np.flatnonzero(learn), np.flatnonzero(apart)


class RegionTensors:
    """A set's regions on the device, with the targets of every head."""

    def __init__(self, regions: Regions, device: torch.device) -> None:
        self.pictures = torch.from_numpy(regions.pictures).to(device)
        self.masks = torch.from_numpy(regions.masks).to(device)
        self.axis = torch.from_numpy(regions.axis).to(device)
        self.targets = {
            name: torch.from_numpy(getattr(regions, name)).to(device)
            for name in ("five", "ceramic", "surface", "status", "signs", "severity", "cover")
        }
        self.device = device

    def crops(self, rows: Tensor, settings: ReaderSettings, *, jitter: float) -> tuple[Tensor, Tensor]:
        """Crops in 0..1 (N, 3, S, S) and their masks (N, S/4, S/4)."""
        pictures = self.pictures[rows].permute(0, 3, 1, 2).float() / 255.0
        matrices = reader_matrices(self.axis[rows], ratio=settings.margin / REGION_MARGIN, jitter=jitter)
        crops = warp(pictures, matrices, settings.crop)
        return crops, warp_masks(self.masks[rows], matrices, settings.crop // 4)


def batches(
    tensors: RegionTensors, rows: NDArray[np.int64], classes: NDArray[np.int64], settings: ReaderSettings
) -> Iterator[tuple[Tensor, ...]]:
    """Endless training batches, classes in their stated shares."""
    shares = np.array(list(CLASS_SHARES.values()))
    counts = np.bincount(classes[rows], minlength=len(shares)).clip(1)
    weights = torch.from_numpy((shares / counts)[classes[rows]])
    all_rows = torch.from_numpy(rows).to(tensors.device)
    generator = torch.Generator().manual_seed(settings.seed)
    while True:
        drawn = torch.multinomial(weights, settings.batch * 64, replacement=True, generator=generator)
        for chosen in drawn.to(tensors.device).split(settings.batch):
            chosen_rows = all_rows[chosen]
            with torch.no_grad():
                crops, masks = tensors.crops(chosen_rows, settings, jitter=1.0)
                crops = normalised(photometric(crops, settings.photometric))
            targets = {name: t[chosen_rows] for name, t in tensors.targets.items()}
            yield (crops, masks, *targets.values())


def loss_of(settings: ReaderSettings) -> Callable[[nn.Module, tuple[Tensor, ...]], Tensor]:
    """The loss over one batch of ``batches``."""

    def loss(net: nn.Module, batch: tuple[Tensor, ...]) -> Tensor:
        crops, *truth = batch
        return loss_against(net(crops), truth, settings)

    return loss


def weights_of(settings: ReaderSettings) -> dict[str, float]:
    """How much each head's loss counts."""
    return LOSS_WEIGHTS if settings.two_facts else {**LOSS_WEIGHTS, "ceramic": 0.0, "surface": 0.0}


def loss_against(raw: ReaderOutput, truth: Sequence[Tensor], settings: ReaderSettings) -> Tensor:
    """How far logits are from the truth of one batch of ``batches``: masks, five, ceramic … in its order.

    Written without a question to the device (no ``any``, no boolean indexing): each would make the processor
    wait for the graphics card.
    """
    weights = weights_of(settings)
    masks, five, ceramic, surface, status, signs, severity, cover = truth
    out = ReaderOutput(*(o.float() for o in raw))
    plug = (status != STATUS.index("not-a-plug")).float()[:, None]
    seen = plug * (~signs.isnan()).float()
    sign = F.binary_cross_entropy_with_logits(out.signs, signs.nan_to_num().clamp(0.0, 1.0), reduction="none")
    parts = {
        "five": _cross_entropy(out.five, five, settings.smoothing),
        "ceramic": _cross_entropy(out.ceramic, ceramic, settings.smoothing),
        "surface": _cross_entropy(out.surface, surface, settings.smoothing),
        "status": _cross_entropy(out.status, status, settings.smoothing),
        "signs": (sign * seen).sum() / seen.sum().clamp(min=1.0),
        "severity": _distance(out.severity[:, 0], severity),
        "cover": _distance(out.cover, cover),
        "parts": F.cross_entropy(out.parts, masks, ignore_index=255) + _parts_missed(out.parts, masks),
    }
    return torch.stack([weights[name] * value for name, value in parts.items()]).sum()


def _cross_entropy(logits: Tensor, target: Tensor, smoothing: float) -> Tensor:
    """Mean over the rows that know this target; zero when none does."""
    each = F.cross_entropy(logits, target, ignore_index=NONE, label_smoothing=smoothing, reduction="sum")
    return each / (target != NONE).sum().clamp(min=1)


def _distance(logits: Tensor, target: Tensor) -> Tensor:
    """Mean distance of 0..1 shares from their targets, over the known (finite) ones."""
    known = torch.isfinite(target).float()
    off = (torch.sigmoid(logits) - target.nan_to_num(0.0)).abs()
    return (off * known).sum() / known.sum().clamp(min=1.0)


def _parts_missed(logits: Tensor, masks: Tensor) -> Tensor:
    """Soft Dice loss over the batch (Milletari et al. 2016, arXiv 1606.04797): small parts weigh as much as large ones.

    ``logits`` (N, P, h, w), ``masks`` (N, h, w) with 255 where unknown.
    """
    known = (masks != 255).float()[:, None]
    share = logits.softmax(1) * known
    true = F.one_hot(masks.clamp(max=logits.shape[1] - 1), logits.shape[1]).permute(0, 3, 1, 2) * known
    both = (share * true).sum((0, 2, 3))
    return 1.0 - (2.0 * both / (share.sum((0, 2, 3)) + true.sum((0, 2, 3))).clamp(min=1.0)).mean()


@torch.inference_mode()
def outputs(
    net: nn.Module,
    tensors: RegionTensors,
    rows: NDArray[np.int64],
    settings: ReaderSettings,
    *,
    rough: bool = False,
) -> ReaderOutput:
    """Logits on the crops of these rows, on the CPU, without the part maps.

    ``rough`` moves and roughs the crops up as in training: photographs differ from renders at least as much.
    """
    net.eval()
    found: list[list[Tensor]] = []
    for chosen in torch.from_numpy(rows).to(tensors.device).split(256):
        crops, _ = tensors.crops(chosen, settings, jitter=0.7 if rough else 0.0)
        if rough:
            crops = photometric(crops, settings.photometric)
        out: ReaderOutput = net(normalised(crops))
        found.append([o.float().cpu() for o in out[:-1]])
    return ReaderOutput(*(torch.cat(columns) for columns in zip(*found, strict=True)), parts=torch.empty(0))


def label_score(truth: NDArray[np.integer], said: NDArray[np.integer]) -> float:
    """Balanced accuracy of labels given as indices (n,)."""
    cells = np.zeros((len(LABELS), len(LABELS)))
    np.add.at(cells, (truth, said), 1.0)
    return float(balanced_accuracy(cells))


@torch.inference_mode()
def part_overlap(
    net: nn.Module, tensors: RegionTensors, rows: NDArray[np.int64], settings: ReaderSettings
) -> NDArray[np.float64]:
    """Intersection over union of each part of ``labels.PARTS``, pooled over all crops; (7,)."""
    net.eval()
    count = len(PARTS)
    table = torch.zeros(count, count, dtype=torch.float64)
    for chosen in torch.from_numpy(rows).to(tensors.device).split(256):
        crops, masks = tensors.crops(chosen, settings, jitter=0.0)
        seen = net(normalised(crops)).parts.argmax(1)
        known = masks != 255
        table += torch.bincount(masks[known] * count + seen[known], minlength=count * count).view(count, count).cpu()
    both = table.diag()
    return (both / (table.sum(0) + table.sum(1) - both).clamp(min=1)).numpy()
