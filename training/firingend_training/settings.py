"""Every setting of a training run, in one dataclass a network, saved beside the weights."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from firingend_training.bodies import BODIES

THREAD_DIRT_CHOICES: Final = ("independent", "tied", "independent-as-many")
BODY_CHOICES: Final = tuple(BODIES)
FINDER_BODIES: Final = tuple(name for name, body in BODIES.items() if max(body.taps) == 16)


@dataclass(frozen=True, slots=True)
class ReaderSettings:
    """How the reader is built and trained."""

    crop: int = 160
    """Side of the network's input in pixels; a multiple of 32."""
    body: str = "lite0"
    """Network under the heads: ``lite0``, ``lite0-to-stride-16`` (11 blocks of 16), ``lite0-9-blocks`` or ``lite1``
    (21 blocks)."""
    margin: float = 1.15
    """Side of the crop over the longer side of the box."""
    pretrained: bool = True
    """Start from ImageNet weights."""
    mask_pooled: bool = True
    """Feed the heads features pooled under the part masks beside the whole-crop features."""
    measured: bool = True
    """Feed the heads colour, contrast and highlights measured under the part masks."""
    two_facts: bool = True
    """Learn what the ceramic carries and what the surface is beside the five labels."""
    hidden: int = 256
    """Width of the layer the heads share."""
    dropout: float = 0.2
    batch: int = 128
    steps: int = 6000
    """Optimiser steps in all, unless ``minutes`` ends the run first."""
    minutes: float = 60.0
    """Wall-clock budget; the learning-rate curve follows whichever of steps and minutes is nearer its end."""
    head_first: float = 0.08
    """Share of the run in which only the heads learn."""
    frozen_blocks: int = 0
    """Blocks of the body, from the stem on, that never learn."""
    head_rate: float = 2e-3
    body_rate: float = 6e-4
    layer_decay: float = 0.95
    """Factor on the body's learning rate from one block to the one before it."""
    weight_decay: float = 0.02
    smoothing: float = 0.05
    """Label smoothing."""
    average: float = 0.998
    """Decay of the running average of the weights, which is what is kept; 0 keeps the last weights."""
    plugs: int = 0
    """Use only this many distinct plugs; 0 uses all."""
    thread_dirt: str = "independent"
    """Which plugs to learn from: ``independent`` all; ``tied`` only those whose thread is as dirty as the label would
    have it; ``independent-as-many`` a random choice of as many plugs a label as ``tied`` keeps, to compare it with.
    Scenes kept apart stay as they are."""
    photometric: float = 1.0
    """Strength of the photometric augmentation; 0 turns it off."""
    held_apart: float = 0.1
    """Share of scenes kept out of training, for calibration."""
    compiled: bool = False
    """Compile the network before the first step: 90 seconds once, then half the time a step on a graphics card."""
    seed: int = 7

    def __post_init__(self) -> None:
        if self.thread_dirt not in THREAD_DIRT_CHOICES:
            raise ValueError(f"thread_dirt is {self.thread_dirt!r}; it must be one of {', '.join(THREAD_DIRT_CHOICES)}")
        if self.body not in BODY_CHOICES:
            raise ValueError(f"body is {self.body!r}; it must be one of {', '.join(BODY_CHOICES)}")


@dataclass(frozen=True, slots=True)
class FinderSettings:
    """How the finder is built and trained."""

    long_side: int = 512
    """Long side of the network's input in pixels; a multiple of 32."""
    canvas: int = 512
    """Side of the square training canvas in pixels."""
    body: str = "lite0-to-stride-16"
    """Network under the heads: ``lite0-to-stride-16`` or ``lite0-9-blocks``, both of stride 16."""
    trunk: bool = True
    """One more light convolution between the merged features and what is told of every cell."""
    pretrained: bool = True
    channels: int = 64
    """Channels of the merged feature map."""
    batch: int = 32
    steps: int = 5000
    minutes: float = 60.0
    head_first: float = 0.08
    head_rate: float = 1e-3
    body_rate: float = 3e-4
    layer_decay: float = 0.95
    weight_decay: float = 0.02
    average: float = 0.998
    photometric: float = 1.0
    held_apart: float = 0.1
    compiled: bool = False
    """As the reader's; not tried on a graphics card yet."""
    seed: int = 7

    def __post_init__(self) -> None:
        if self.body not in FINDER_BODIES:
            raise ValueError(f"body is {self.body!r}; a finder's must be one of {', '.join(FINDER_BODIES)}")


def save_settings(settings: ReaderSettings | FinderSettings, path: Path) -> None:
    """Write the settings as JSON."""
    kind = "reader" if isinstance(settings, ReaderSettings) else "finder"
    path.write_text(json.dumps({"network": kind, **asdict(settings)}, indent=2) + "\n", encoding="utf-8")


def load_settings(path: Path) -> ReaderSettings | FinderSettings:
    """Read what ``save_settings`` wrote.

    Raises
    ------
    ValueError
        If the file names neither network.
    """
    raw: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    kind = raw.pop("network", None)
    if kind == "reader":
        return ReaderSettings(**raw)
    if kind == "finder":
        return FinderSettings(**raw)
    raise ValueError(f"{path} holds settings of {kind!r}; expected 'reader' or 'finder'")


Tuning = TypeVar("Tuning")


def tuning_arguments(
    parser: argparse.ArgumentParser, kind: type[Tuning], arguments: Sequence[str] | None
) -> tuple[argparse.Namespace, Tuning]:
    """Parse ``--start``, ``--set``, ``--out`` and an option for every field of a dataclass of settings.

    Returns
    -------
    What was parsed, and the settings in it; fields not named keep their defaults. What the dataclass refuses with a
    ``ValueError`` is told as wrong usage.
    """
    parser.add_argument("--start", type=Path, required=True, help="run folder of the reader to start from")
    parser.add_argument("--set", dest="sets", type=Path, action="append", required=True, help="set; repeatable")
    parser.add_argument("--out", type=Path, required=True)
    plain: dict[str, Any] = asdict(kind())  # type: ignore[call-overload]
    for name, value in plain.items():
        parser.add_argument(f"--{name.replace('_', '-')}", type=type(value), default=value)
    chosen = parser.parse_args(arguments)
    try:
        return chosen, kind(**{name: getattr(chosen, name) for name in plain})
    except ValueError as error:
        parser.error(str(error))
