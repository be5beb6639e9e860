"""The two networks: a finder of firing ends in a photograph, and a reader of one upright crop."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from typing import ClassVar, NamedTuple

import torch
import torch.nn.functional as F
from torch import Tensor, nn

from firingend.labels import CERAMIC, COVERED_PARTS, LABELS, PARTS, SIGNS, SURFACE
from firingend_training.backbone import Backbone
from firingend_training.settings import FinderSettings, ReaderSettings

STATUS = ("used", "unused", "not-a-plug")
NOSE, CENTRE, STRAP, RIM = (PARTS.index(p) for p in ("nose", "centre-electrode", "strap", "rim"))
POOLED = ((NOSE,), (CENTRE, STRAP), (RIM,))  # groups of parts whose features are pooled together
MEASURED = (NOSE, CENTRE, STRAP, RIM, PARTS.index("threads"))
MEASURES = 6  # mean R, G, B; spread of luma; highlight share; share of the crop


class Separable(nn.Sequential):
    """Depthwise 3×3, then pointwise: the cheap convolution of small networks."""

    def __init__(self, channels: int, out: int, stride: int = 1) -> None:
        super().__init__(
            nn.Conv2d(channels, channels, 3, stride, 1, groups=channels, bias=False),
            nn.BatchNorm2d(channels),
            nn.Conv2d(channels, out, 1, bias=False),
            nn.BatchNorm2d(out),
            nn.ReLU6(),
        )


class Merge(nn.Module):
    """Bring features of several strides to the finest one, coarse to fine."""

    def __init__(self, inputs: dict[int, int], channels: int) -> None:
        super().__init__()
        self.strides = sorted(inputs, reverse=True)
        self.lateral = nn.ModuleDict({str(s): nn.Conv2d(c, channels, 1) for s, c in inputs.items()})
        self.smooth = nn.ModuleDict({str(s): Separable(channels, channels) for s in self.strides[1:]})

    def forward(self, features: dict[int, Tensor]) -> Tensor:
        x = self.lateral[str(self.strides[0])](features[self.strides[0]])
        for stride in self.strides[1:]:
            x = F.interpolate(x, scale_factor=2.0, mode="nearest")
            x = self.smooth[str(stride)](x + self.lateral[str(stride)](features[stride]))
        return x


class ReaderOutput(NamedTuple):
    """Raw logits; N crops, S the crop's side.

    five (N, 5), ceramic (N, 3), surface (N, 3), status (N, 3), signs (N, 7), severity (N, 1),
    cover (N, 5), parts (N, 7, S/4, S/4).
    """

    five: Tensor
    ceramic: Tensor
    surface: Tensor
    status: Tensor
    signs: Tensor
    severity: Tensor
    cover: Tensor
    parts: Tensor


class ReaderNet(nn.Module):
    """What one upright crop of a firing end shows."""

    HEADS: ClassVar[dict[str, int]] = {
        "five": len(LABELS),
        "ceramic": len(CERAMIC),
        "surface": len(SURFACE),
        "status": len(STATUS),
        "signs": len(SIGNS),
        "severity": 1,
        "cover": len(COVERED_PARTS),
    }

    def __init__(self, settings: ReaderSettings) -> None:
        super().__init__()
        self.settings = settings
        self.body = Backbone(settings.body, pretrained=settings.pretrained)
        channels = self.body.channels
        self.coarsest = max(channels)
        self.merge = Merge(channels, 64)
        self.parts = nn.Conv2d(64, len(PARTS), 1)
        self.widen = nn.Sequential(
            nn.Conv2d(channels[self.coarsest], 512, 1, bias=False), nn.BatchNorm2d(512), nn.ReLU6()
        )
        width = 512
        width += channels[16] * len(POOLED) if settings.mask_pooled else 0
        width += MEASURES * len(MEASURED) if settings.measured else 0
        self.shared = nn.Sequential(
            nn.Dropout(settings.dropout),
            nn.Linear(width, settings.hidden),
            nn.Hardswish(),
            nn.Dropout(settings.dropout),
        )
        self.heads = nn.ModuleDict({name: nn.Linear(settings.hidden, n) for name, n in self.HEADS.items()})

    def forward(self, crops: Tensor) -> ReaderOutput:
        """(N, 3, S, S) normalised by (x - 127) / 128 → logits."""
        facts, parts = self.facts(crops)
        shared = self.shared(facts)
        return ReaderOutput(**{name: head(shared) for name, head in self.heads.items()}, parts=parts)

    def facts(self, crops: Tensor) -> tuple[Tensor, Tensor]:
        """(N, 3, S, S) → what the heads are fed with (N, F), and the part maps."""
        features = self.body(crops)
        parts = self.parts(self.merge(features))
        masks = over_parts(parts.detach().float())  # the heads may not bend the masks to their liking
        facts = [self.widen(features[self.coarsest]).mean((2, 3))]
        if self.settings.mask_pooled:
            facts.append(pooled_under(masks, features[16]))
        if self.settings.measured:
            facts.append(measured_under(masks, crops))
        return torch.cat([f.to(facts[0].dtype) for f in facts], 1), parts

    def head_parameters(self) -> list[nn.Parameter]:
        """Everything but the pretrained body."""
        return [p for name, p in self.named_parameters() if not name.startswith("body.")]


def over_parts(logits: Tensor) -> Tensor:
    """Softmax of (N, P, h, w) over the parts, in steps that a runtime takes a third of the time for."""
    raised = (logits - logits.amax(1, keepdim=True)).exp()
    return raised / raised.sum(1, keepdim=True)


def summed(masks: Tensor, groups: Sequence[Sequence[int]]) -> Tensor:
    """(N, P, h, w) → (N, groups, h, w), the masks of each group of parts added up.

    In slices: an index or a matrix made here would be copied to the graphics card, which stops for it, at every step.
    """
    return torch.cat([reduce(torch.add, [masks[:, part : part + 1] for part in group]) for group in groups], 1)


def in_line(maps: Tensor) -> Tensor:
    """(N, C, h, w) → (N, C, h × w); all but N are plain numbers in a network that is written to a file."""
    return maps.reshape(-1, int(maps.shape[1]), int(maps.shape[2]) * int(maps.shape[3]))


def pooled_under(masks: Tensor, features: Tensor) -> Tensor:
    """Mean of (N, C, h, w) features under the summed (N, P, 4h, 4w) soft masks of each group → (N, groups × C)."""
    with torch.autocast(masks.device.type, enabled=False):  # sums of so many numbers need all 32 bits
        weights = in_line(F.avg_pool2d(summed(masks, POOLED), 4))
        sums = weights @ in_line(features.float()).transpose(1, 2)
        return (sums / (weights.sum(2, keepdim=True) + 1e-3)).flatten(1)


def measured_under(masks: Tensor, crops: Tensor) -> Tensor:
    """Colour, spread, highlights and size of each measured part → (N, parts × MEASURES).

    A technician can check each of these by eye, and they have little room to overfit.
    """
    with torch.autocast(masks.device.type, enabled=False):
        weights = in_line(summed(masks, [(part,) for part in MEASURED]))
        total = weights.sum(2, keepdim=True) + 1e-3
        small = in_line(F.avg_pool2d(crops.float(), 4))
        luma = small.mean(1, keepdim=True)
        even = torch.full((1, 3), 1 / 3, device=crops.device)  # a product: a runtime's mean over channels is slow
        fine = (even @ in_line(crops.float())).reshape(-1, 1, *map(int, crops.shape[2:]))
        bright = torch.sigmoid((in_line(F.max_pool2d(fine, 4)) - 0.75) * 12.0)
        colour = weights @ small.transpose(1, 2) / total
        spread = ((weights * (luma - colour.mean(2, keepdim=True)) ** 2).sum(2, keepdim=True) / total + 1e-4).sqrt()
        highlight = weights @ bright.transpose(1, 2) / total
        return torch.cat([colour, spread, highlight, weights.mean(2, keepdim=True) * 4.0], 2).flatten(1)


class FinderOutput(NamedTuple):
    """N pictures of H × W.

    heat (N, 1, H/4, W/4) logits; box (N, 4, H/4, W/4) distances left, top, right, bottom in input pixels from
    the cell's centre; axis (N, 2, H/4, W/4) (dx, dy).
    """

    heat: Tensor
    box: Tensor
    axis: Tensor


class FinderNet(nn.Module):
    """Where the firing ends are in a whole photograph, and which way they point."""

    def __init__(self, settings: FinderSettings) -> None:
        super().__init__()
        self.settings = settings
        self.body = Backbone(settings.body, pretrained=settings.pretrained)
        channels = self.body.channels
        wide = settings.channels
        # Two light steps down, so that a firing end that fills the picture is seen whole.
        self.down32 = Separable(channels[16], 2 * wide, stride=2)
        self.down64 = nn.Sequential(Separable(2 * wide, 2 * wide, stride=2), Separable(2 * wide, 2 * wide))
        self.merge = Merge({**channels, 32: 2 * wide, 64: 2 * wide}, wide)
        self.trunk: nn.Module = Separable(wide, wide) if settings.trunk else nn.Identity()
        self.heat = nn.Conv2d(wide, 1, 1)
        self.box = nn.Conv2d(wide, 4, 1)
        self.axis = nn.Conv2d(wide, 2, 1)
        nn.init.constant_(self.heat.bias, -4.6)  # nearly every cell is background

    def forward(self, pictures: Tensor) -> FinderOutput:
        """(N, 3, H, W) normalised by (x - 127) / 128, H and W multiples of 64 → raw maps."""
        x = self.cell_features(pictures)
        return self.told(self.heat(x), self.box(x), self.axis(x))

    def cell_features(self, pictures: Tensor) -> Tensor:
        """(N, 3, H, W) → (N, channels, H/4, W/4), what heat, box and axis of every cell are told from."""
        features = self.body(pictures)
        features[32] = self.down32(features[16])
        features[64] = self.down64(features[32])
        return self.trunk(self.merge(features))  # type: ignore[no-any-return]

    @staticmethod
    def told(heat: Tensor, box: Tensor, axis: Tensor) -> FinderOutput:
        """Raw heat, distances in pixels and a direction, of what the last convolutions give."""
        return FinderOutput(heat, torch.exp(box.float().clamp(-3.0, 4.0)) * 16.0, torch.tanh(axis))

    def head_parameters(self) -> list[nn.Parameter]:
        """Everything but the pretrained body."""
        return [p for name, p in self.named_parameters() if not name.startswith("body.")]


class FinderForExport(nn.Module):
    """The finder as the runtime wants it: heat as a probability, and its three last convolutions run as one.

    They read the same features, and a runtime pads each to as many channels as all three need together.
    """

    ROWS: ClassVar[dict[str, slice]] = {"heat": slice(0, 1), "box": slice(1, 5), "axis": slice(5, 7)}
    """Which channels of the one convolution are whose."""

    def __init__(self, net: FinderNet) -> None:
        super().__init__()
        self.net = net
        lasts = [getattr(net, name).state_dict() for name in self.ROWS]
        self.cells = nn.Conv2d(net.heat.in_channels, 7, 1)
        self.cells.load_state_dict({kind: torch.cat([last[kind] for last in lasts]) for kind in ("weight", "bias")})

    def forward(self, image: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        """(N, 3, H, W) → heat, box, axis."""
        cells = self.cells(self.net.cell_features(image))
        raw = FinderNet.told(*(cells[:, rows] for rows in self.ROWS.values()))
        return torch.sigmoid(raw.heat), raw.box, raw.axis
