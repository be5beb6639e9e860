"""Average the weights of readers trained apart: ``python -m firingend_training.average_runs RUN RUN… --out RUN``.

Runs that start from the same weights (ImageNet's body, heads of one seed) end close enough for the middle between them
to be a reader too, often a better one on pictures neither has seen (Wortsman et al. 2022, *Model soups*,
arXiv 2203.05482). What such a run is calibrated by must be worked out anew: ``firingend_training.set_apart``.

Weights that lie far apart partly cancel, and every channel of the middle varies less than those of the networks it is
the middle of. With ``--set`` each channel is given back the mean and spread that theirs have on crops of that set
(Jordan et al. 2022, *REPAIR*, arXiv 2211.08403).
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import torch
from torch import Tensor, nn

from firingend.errors import UserError
from firingend_training.export import load_reader
from firingend_training.networks import ReaderNet
from firingend_training.reopen import crops_of, fold, normed_convolutions, watching
from firingend_training.settings import ReaderSettings, load_settings, save_settings

Weights = Mapping[str, Tensor]


def averaged(weights: Sequence[Weights], shares: Sequence[float]) -> dict[str, Tensor]:
    """Weighted mean of networks of one shape; whole numbers, such as step counts, are the first one's.

    It is in 32 bits, whatever the runs were carried in: in 16 each average of averages would lose a little.

    Raises
    ------
    UserError
        If the networks differ in shape.
    """
    first, total = weights[0], sum(shares)
    for other in weights[1:]:
        if {k: v.shape for k, v in other.items()} != {k: v.shape for k, v in first.items()}:
            raise UserError("these runs hold networks of different shapes", "average runs of the same settings")
    return {
        name: sum(
            (w[name].float() * (share / total) for w, share in zip(weights, shares, strict=True)),
            start=torch.zeros_like(tensor, dtype=torch.float32),
        )
        if tensor.is_floating_point()
        else tensor
        for name, tensor in first.items()
    }


def average_runs(
    runs: Sequence[Path],
    out: Path,
    crop: int = 0,
    shares: Sequence[float] | None = None,
    *,
    folded: bool = False,
    sets: Sequence[Path] = (),
) -> None:
    """Write a run without ``apart.npz``: weights averaged, settings of the last run, ``crop`` px unless 0.

    With ``folded``, batch norms are folded into their convolutions first: a run that `reopen` made has none of its own
    any more, and the mean of its weights and another's would be the mean of two different things. With ``sets`` the
    channels get back their spread (`repair`) on crops of theirs.
    """
    loaded = [_folded(run) if folded else _weights(run) for run in runs]
    settings = load_settings(runs[-1] / "settings.json")
    if not isinstance(settings, ReaderSettings):
        raise UserError(f"{runs[-1]} holds a finder", "name runs of readers")
    out.mkdir(parents=True, exist_ok=True)
    shares = shares or [1.0] * len(runs)
    torch.save(averaged(loaded, shares), out / "weights.pt")
    settings = replace(settings, crop=crop or settings.crop)
    save_settings(settings, out / "settings.json")
    if sets:
        net = load_reader(out)
        repair(net, [load_reader(run) for run in runs], shares, crops_of(sets, settings))
        torch.save(net.state_dict(), out / "weights.pt")


Spread = tuple[Tensor, Tensor]
"""(channels,) mean and standard deviation."""


@torch.no_grad()
def repair(net: ReaderNet, nets: Sequence[ReaderNet], shares: Sequence[float], crops: Tensor) -> None:
    """Give every normed channel of an averaged network the mean and spread that it has in what was averaged.

    Parameters
    ----------
    net
        The average; its batch norms are changed.
    nets, shares
        What was averaged, and how much of each.
    crops
        (N, 3, S, S) normalised; a few hundred.
    """
    total = sum(shares)
    met = [spreads(one, crops) for one in nets]
    for index, (_, norm) in enumerate(normed_convolutions(net.eval(), crops[:1])):
        means, deviations = zip(*(of_net[index] for of_net in met), strict=True)
        norm.bias.copy_(sum(m * (s / total) for m, s in zip(means, shares, strict=True)))
        norm.weight.copy_(sum(d * (s / total) for d, s in zip(deviations, shares, strict=True)))
        # While it trains a batch norm takes its statistics from what it meets: each layer here from the layers before
        # it as they are now, all in one pass.
        norm.momentum = 1.0
        norm.train()
    net(crops)
    net.eval()


@torch.no_grad()
def spreads(net: ReaderNet, crops: Tensor) -> list[Spread]:
    """Mean and spread of every channel behind each batch norm, in the order in which they run."""
    found: list[Spread] = []

    def note(_module: nn.Module, _met: Tensor, made: Tensor) -> None:
        found.append((made.mean((0, 2, 3)), made.std((0, 2, 3))))

    with watching(net.eval(), (nn.BatchNorm2d,), note):
        net(crops)
    return found


def _weights(run: Path) -> Weights:
    weights: Weights = torch.load(run / "weights.pt", map_location="cpu", weights_only=True)
    return weights


def _folded(run: Path) -> Weights:
    net = load_reader(run)
    fold(net, torch.zeros(1, 3, net.settings.crop, net.settings.crop))
    return net.state_dict()


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and average."""
    parser = argparse.ArgumentParser(prog="firingend_training.average_runs", description=__doc__)
    parser.add_argument("runs", type=Path, nargs="+", metavar="RUN")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument(
        "--crop", type=int, default=0, help="side of the crop in pixels; that of the last run by default"
    )
    parser.add_argument("--shares", type=float, nargs="+", help="weight of each run; equal by default")
    parser.add_argument("--folded", action="store_true", help="fold batch norms first: if any run was reopened")
    parser.add_argument(
        "--set", dest="sets", type=Path, action="append", default=[], help="set to repair channels on; repeatable"
    )
    chosen = parser.parse_args(arguments)
    if chosen.shares and len(chosen.shares) != len(chosen.runs):
        parser.error(f"{len(chosen.runs)} runs need as many shares")
    try:
        average_runs(chosen.runs, chosen.out, chosen.crop, chosen.shares, folded=chosen.folded, sets=chosen.sets)
    except UserError as error:
        parser.exit(1, f"{error}\n")


if __name__ == "__main__":
    main()
