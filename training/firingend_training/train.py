"""Train one of the two networks: ``python -m firingend_training.train reader --set SET --out RUN``."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn

from firingend.errors import UserError
from firingend_training import finder_task, reader_task
from firingend_training.networks import FinderNet, ReaderNet
from firingend_training.optimise import fit
from firingend_training.picture_store import Regions, load_regions, load_wholes
from firingend_training.region_files import read_regions
from firingend_training.settings import FinderSettings, ReaderSettings, save_settings

Batches = Iterator[tuple[Tensor, ...]]
Settings = TypeVar("Settings", ReaderSettings, FinderSettings)
Network = TypeVar("Network", ReaderNet, FinderNet)


def train_reader(
    regions: Regions,
    out: Path,
    settings: ReaderSettings,
    device: torch.device,
    resume: bool,
    start: Path | None = None,
) -> None:
    """Train the reader, from the weights of an earlier run if ``start`` names one.

    ``out`` receives ``weights.pt`` and, of the scenes kept apart, ``apart.npz``.
    """
    net = started(ReaderNet(settings), start)
    fit_reader(net, regions, out, device, reader_task.loss_of(settings), resume=resume)


def fit_reader(
    net: ReaderNet,
    regions: Regions,
    out: Path,
    device: torch.device,
    loss_of: Callable[[nn.Module, tuple[Tensor, ...]], Tensor],
    *,
    prepared: Callable[[Batches], Batches] = iter,
    resume: bool = False,
) -> None:
    """Train a reader by its own settings on what ``prepared`` makes of ``reader_task.batches``.

    ``out`` receives ``weights.pt`` and, of the scenes kept apart, ``apart.npz``.
    """
    settings = net.settings
    learn, _ = reader_task.split(regions, settings)
    tensors = reader_task.RegionTensors(regions, device)
    stream = prepared(reader_task.batches(tensors, learn, reader_task.class_of(regions), settings))
    kept = fit(net, stream, loss_of, out, device=device, frozen_blocks=settings.frozen_blocks, resume=resume)
    save_apart(kept, tensors, regions, settings, out / "apart.npz")


def started(net: Network, start: Path | None) -> Network:
    """The network with the weights of the run in ``start``; as it is without one.

    A run of more blocks or layers serves a network of fewer: what this one lacks is left behind.

    Raises
    ------
    RuntimeError
        If the run has no weights for a part of the network, or of other shapes.
    """
    if start is not None:
        weights = torch.load(start / "weights.pt", weights_only=True, map_location="cpu")
        own = net.state_dict()
        net.load_state_dict({name: value for name, value in weights.items() if name in own})
    return net


def save_apart(
    net: nn.Module,
    tensors: reader_task.RegionTensors,
    regions: Regions,
    settings: ReaderSettings,
    path: Path,
) -> None:
    """Write the logits of the scenes kept apart; nothing where none are."""
    _, apart = reader_task.split(regions, settings)
    if len(apart):
        write_apart(net, tensors, regions, apart, settings, path)


def write_apart(
    net: nn.Module,
    tensors: reader_task.RegionTensors,
    regions: Regions,
    rows: NDArray[np.int64],
    settings: ReaderSettings,
    path: Path,
) -> None:
    """Write the logits of these rows, plain and roughed up, for calibration and model choice.

    Arrays are named ``plain_five``, ``rough_five`` … and ``target_five`` …
    """
    arrays = {f"target_{name}": target.cpu().numpy()[rows] for name, target in tensors.targets.items()}
    arrays["target_plug"] = regions.plug[rows]
    for name, rough in (("plain", False), ("rough", True)):
        out = reader_task.outputs(net, tensors, rows, settings, rough=rough)
        arrays |= {f"{name}_{head}": getattr(out, head).numpy() for head in ReaderNet.HEADS}
    arrays["overlap"] = reader_task.part_overlap(net, tensors, rows, settings)
    np.savez_compressed(path, **arrays)


def train_finder(
    sets: Sequence[Path],
    out: Path,
    settings: FinderSettings,
    device: torch.device,
    resume: bool,
    start: Path | None = None,
) -> None:
    """Train the finder and leave ``weights.pt`` and ``settings.json`` in ``out``."""
    wholes = load_wholes(sets, settings.canvas)
    learn, _ = finder_task.split(wholes, settings)
    stream = finder_task.batches(finder_task.WholeTensors(wholes, device), learn, settings)
    fit(started(FinderNet(settings), start), stream, finder_task.loss_of, out, device=device, resume=resume)


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and train."""
    parser = argparse.ArgumentParser(prog="firingend_training.train", description=__doc__)
    parser.add_argument("network", choices=("reader", "finder"))
    run_arguments(parser)
    parser.add_argument("--start", type=Path, help="run to start from, of the same network or a larger one")
    chosen = parser.parse_args(arguments)
    if chosen.network == "finder" and chosen.regions:
        parser.error("the finder learns from whole pictures: give it --set instead of --regions")
    defaults = ReaderSettings() if chosen.network == "reader" else FinderSettings()
    try:
        settings = overridden(defaults, chosen.setting)
    except ValueError as error:
        parser.error(str(error))
    begin(chosen.out, settings)
    device = torch.device(chosen.device)
    try:
        if isinstance(settings, ReaderSettings):
            train_reader(regions_of(chosen), chosen.out, settings, device, chosen.resume, chosen.start)
        else:
            train_finder(chosen.sets, chosen.out, settings, device, chosen.resume, chosen.start)
    except UserError as error:
        parser.exit(1, f"{error}\n")


def run_arguments(parser: argparse.ArgumentParser) -> None:
    """What every training is told: what to learn from, where to leave it, on which device, and settings."""
    learned_from = parser.add_mutually_exclusive_group(required=True)
    learned_from.add_argument("--set", dest="sets", type=Path, action="append", help="rendered set; repeatable")
    learned_from.add_argument(
        "--regions",
        type=Path,
        action="append",
        help="what firingend_training.region_files cut, for the reader instead of sets; repeatable",
    )
    parser.add_argument("--out", type=Path, required=True, help="folder for weights, settings and checkpoints")
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    parser.add_argument("--resume", action="store_true", help="go on from the last checkpoint in --out")
    parser.add_argument(
        "--setting", action="append", default=[], metavar="NAME=VALUE", help="override one setting; repeatable"
    )


def regions_of(chosen: argparse.Namespace) -> Regions:
    """What the reader learns from, of arguments that `run_arguments` names."""
    return read_regions(chosen.regions) if chosen.regions else load_regions(chosen.sets)


def begin(out: Path, settings: ReaderSettings | FinderSettings) -> None:
    """Save the settings of a run, and set what it hangs on outside of them."""
    out.mkdir(parents=True, exist_ok=True)
    save_settings(settings, out / "settings.json")
    torch.manual_seed(settings.seed)
    torch.backends.cuda.matmul.allow_tf32 = True


def overridden(settings: Settings, changes: Sequence[str]) -> Settings:
    """The settings with ``NAME=VALUE`` changes applied, each value read as its field's type.

    Raises
    ------
    ValueError
        Naming the change, if it has no ``=`` or names no setting.
    """
    types = {f.name: type(getattr(settings, f.name)) for f in fields(settings)}
    values: dict[str, Any] = {}
    for change in changes:
        name, equals, text = change.partition("=")
        if not equals or name not in types:
            raise ValueError(f"{change!r} names no setting; known are {', '.join(types)}")
        values[name] = text.lower() in ("1", "true", "yes") if types[name] is bool else types[name](text)
    return replace(settings, **values)


if __name__ == "__main__":
    main()
