"""Make runs to go on from out of exported networks: ``python -m firingend_training.reopen --models MODELS --out RUNS``.

The networks that ship are all there is of a training once its runs are gone. A run made from them computes the same;
what was lost is the split between each convolution and the batch norm behind it, which the export folded into one. With
``--set`` the batch norms are given the statistics they meet in that set, so that layers which keep learning theirs may
go on from there; tuning leaves them alone and needs none.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from itertools import pairwise, product
from pathlib import Path
from typing import Any, Final, TypeVar

import onnx
import torch
from numpy.typing import NDArray
from torch import Tensor, nn

from firingend.errors import UserError
from firingend.reading.networks import ReaderCard, read_card
from firingend_training import reader_task
from firingend_training.export import difference_from_torch
from firingend_training.networks import FinderForExport, FinderNet, ReaderNet
from firingend_training.picture_store import load_regions
from firingend_training.settings import (
    BODY_CHOICES,
    FINDER_BODIES,
    FinderSettings,
    ReaderSettings,
    save_settings,
)
from firingend_training.short_weights import weights_of

PARITY = 1e-3
"""Largest allowed difference between the reopened network and the exported one, of the largest output or 1."""
SETTLING_CROPS = 384
CELLS: Final = "cells"
"""What `FinderForExport` calls the convolution that tells of every cell."""
Array = NDArray[Any]
Net = TypeVar("Net", ReaderNet, FinderNet)


def reopen_reader(models: Path, out: Path, sets: Sequence[Path] = ()) -> float:
    """Write a run from ``reader.onnx`` and its card; the largest difference between the two networks.

    Parameters
    ----------
    models
        Folder of the exported networks.
    out
        Folder of the run, which has no ``apart.npz``: `set_apart` works one out.
    sets
        Sets whose crops the batch norms take their statistics from; none leaves them folded.

    Raises
    ------
    UserError
        If the network is of another shape than today's, or does not compute the same.
    """
    card = read_card(models / "reader.json", ReaderCard)
    plain = ReaderSettings(pretrained=False, crop=card.input_size, margin=card.crop_margin)
    example = torch.zeros(2, 3, plain.crop, plain.crop)
    shapes = (ReaderNet(replace(plain, body=body)).eval() for body in BODY_CHOICES)
    net, difference = _filled(shapes, "", lambda net: net, example, models / "reader.onnx")
    if sets:
        settle(net, crops_of(sets, net.settings))
    _save(net, replace(net.settings, pretrained=True), out)
    return difference


def reopen_finder(models: Path, out: Path) -> float:
    """Write a run from ``finder.onnx``; as ``reopen_reader``."""
    plain = FinderSettings(pretrained=False)
    example = torch.zeros(1, 3, plain.long_side, plain.long_side)
    shapes = (
        FinderNet(replace(plain, body=body, trunk=trunk)).eval()
        for body, trunk in product(FINDER_BODIES, (True, False))
    )
    net, difference = _filled(shapes, "net.", lambda net: FinderForExport(net).eval(), example, models / "finder.onnx")
    _save(net, replace(net.settings, pretrained=True), out)
    return difference


def _save(net: ReaderNet | FinderNet, settings: ReaderSettings | FinderSettings, out: Path) -> None:
    out.mkdir(parents=True, exist_ok=True)
    torch.save(net.state_dict(), out / "weights.pt")
    save_settings(settings, out / "settings.json")


def _filled(
    shapes: Iterable[Net], prefix: str, exported: Callable[[Net], nn.Module], example: Tensor, path: Path
) -> tuple[Net, float]:
    """The first of these networks that an ONNX file fits, with the file's weights; how far it is from the file.

    Raises
    ------
    UserError
        If none fits, or what is made of the file does not compute the same.
    """
    model = onnx.load(str(path))
    weights = _with_cells_apart(weights_of(model), prefix)
    for net in shapes:
        if _fill(net, prefix, model, weights, example):
            break
    else:
        raise UserError(
            f"{path.name} is a network of another shape than today's", "reopen it with the version it is of"
        )
    difference = difference_from_torch(exported(net), example, path)
    if not difference <= PARITY:
        raise UserError(
            f"what was made of {path.name} differs from it by {difference:.1e}", "reopen it with the version it is of"
        )
    return net, difference


def _fill(net: nn.Module, prefix: str, model: onnx.ModelProto, weights: dict[str, Array], example: Tensor) -> bool:
    """Give ``net`` the weights of an exported network; False, and nothing given, if it is of another shape."""
    named = {CELLS + ".weight", *(prefix + name for name, _ in net.named_parameters())}  # what was folded lost its name
    folded = [
        (weights[node.input[1]], weights[node.input[2]])
        for node in model.graph.node
        if node.op_type == "Conv" and node.input[1] not in named
    ]
    pairs = normed_convolutions(net, example)
    if [w.shape for w, _ in folded] != [tuple(conv.weight.shape) for conv, _ in pairs]:
        return False
    with torch.no_grad():
        for (weight, bias), (conv, norm) in zip(folded, pairs, strict=True):
            _put(torch.from_numpy(weight.copy()), torch.from_numpy(bias.copy()), conv, norm)
        for name, parameter in net.named_parameters():
            if (value := weights.get(prefix + name)) is not None:
                parameter.copy_(torch.from_numpy(value.copy()))
    return True


def _with_cells_apart(weights: dict[str, Array], prefix: str) -> dict[str, Array]:
    """A finder's weights with heat, box and axis, which are exported as one convolution, under their own names too."""
    apart = {
        f"{prefix}{name}.{kind}": weights[f"{CELLS}.{kind}"][rows]
        for name, rows in FinderForExport.ROWS.items()
        for kind in ("weight", "bias")
        if f"{CELLS}.{kind}" in weights
    }
    return {**weights, **apart}


def fold(net: nn.Module, example: Tensor) -> None:
    """Fold every batch norm into the convolution before it, without changing what the network computes."""
    pairs = normed_convolutions(net.eval(), example)
    with torch.no_grad():
        for conv, norm in pairs:
            scale, shift = _scale_and_shift(norm)
            _put(conv.weight * scale[:, None, None, None], shift, conv, norm)


def _scale_and_shift(norm: nn.BatchNorm2d) -> tuple[Tensor, Tensor]:
    """What a batch norm multiplies every channel by and then adds to it."""
    assert norm.running_mean is not None and norm.running_var is not None
    scale = norm.weight / (norm.running_var + norm.eps).sqrt()
    return scale, norm.bias - scale * norm.running_mean


def _put(weight: Tensor, bias: Tensor, conv: nn.Conv2d, norm: nn.BatchNorm2d) -> None:
    """All of it into the convolution; the batch norm only adds the bias."""
    assert norm.running_mean is not None and norm.running_var is not None
    conv.weight.copy_(weight)
    norm.weight.fill_(1.0)
    norm.bias.copy_(bias)
    norm.running_mean.zero_()
    norm.running_var.fill_(1.0 - norm.eps)


def normed_convolutions(net: nn.Module, example: Tensor) -> list[tuple[nn.Conv2d, nn.BatchNorm2d]]:
    """Convolutions with the batch norm that runs right behind each, in the order in which they run."""
    ran: list[nn.Module] = []
    with watching(net, (nn.Conv2d, nn.BatchNorm2d), lambda module, *_: ran.append(module)), torch.inference_mode():
        net(example)
    return [
        (first, second)
        for first, second in pairwise(ran)
        if isinstance(first, nn.Conv2d) and isinstance(second, nn.BatchNorm2d)
    ]


def settle(net: nn.Module, pictures: Tensor) -> None:
    """Give every batch norm the statistics it meets in (N, 3, H, W) pictures, without changing what it computes."""
    found: dict[nn.BatchNorm2d, tuple[Tensor, Tensor]] = {}

    def note(module: nn.Module, met: Tensor, _made: Tensor) -> None:
        assert isinstance(module, nn.BatchNorm2d)
        found[module] = (met.mean((0, 2, 3)), met.var((0, 2, 3), correction=0))

    with watching(net, (nn.BatchNorm2d,), note), torch.no_grad():
        net.eval()(pictures)
        for norm, (mean, variance) in found.items():
            assert norm.running_mean is not None and norm.running_var is not None
            scale, shift = _scale_and_shift(norm)
            norm.bias.copy_(shift + scale * mean)
            norm.weight.copy_(scale * (variance + norm.eps).sqrt())
            norm.running_mean.copy_(mean)
            norm.running_var.copy_(variance)


@contextmanager
def watching(
    net: nn.Module, kinds: tuple[type[nn.Module], ...], see: Callable[[nn.Module, Tensor, Tensor], None]
) -> Iterator[None]:
    """Tell ``see`` of every module of these kinds that runs, of its input and its output."""
    watched = [m for m in net.modules() if isinstance(m, kinds)]
    hooks = [m.register_forward_hook(lambda module, inputs, made: see(module, inputs[0], made)) for m in watched]
    try:
        yield
    finally:
        for hook in hooks:
            hook.remove()


def crops_of(sets: Sequence[Path], settings: ReaderSettings) -> Tensor:
    """(N, 3, S, S) normalised crops from all over the sets, at most `SETTLING_CROPS`."""
    regions = load_regions(sets)
    tensors = reader_task.RegionTensors(regions, torch.device("cpu"))
    rows = torch.linspace(0, len(regions) - 1, min(len(regions), SETTLING_CROPS)).long()
    crops, _ = tensors.crops(rows, settings, jitter=0.0)
    return reader_task.normalised(crops)


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and reopen both networks."""
    parser = argparse.ArgumentParser(prog="firingend_training.reopen", description=__doc__.splitlines()[0])
    parser.add_argument("--models", type=Path, default=Path("models"), help="folder of the exported networks")
    parser.add_argument("--out", type=Path, required=True, help="folder for the runs reader and finder")
    parser.add_argument(
        "--set", dest="sets", type=Path, action="append", default=[], help="set to take statistics from; repeatable"
    )
    chosen = parser.parse_args(arguments)
    try:
        reader = reopen_reader(chosen.models, chosen.out / "reader", chosen.sets)
        finder = reopen_finder(chosen.models, chosen.out / "finder")
    except (UserError, OSError) as error:
        parser.exit(1, f"{error}\n")
    print(f"{chosen.out}: largest difference {reader:.1e} (reader), {finder:.1e} (finder)")


if __name__ == "__main__":
    main()
