"""Tune all of a reader but its body: ``python -m firingend_training.tune_top --start RUN --set SET… --out RUN``.

The middle between two networks draws the outlines of the parts worse than either, and its heads look through those
outlines. Some hundred steps mend that; the pretrained body stays as it is, so a processor will do.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import torch
from torch import Tensor
from tqdm import tqdm

from firingend_training import reader_task
from firingend_training.export import load_reader
from firingend_training.networks import ReaderNet
from firingend_training.optimise import rate_factor
from firingend_training.picture_store import load_regions
from firingend_training.settings import save_settings, tuning_arguments


@dataclass(frozen=True, slots=True)
class TopSettings:
    """How the layers behind the body are tuned."""

    steps: int = 200
    batch: int = 48
    mask_rate: float = 1e-3
    """Learning rate of the layers that draw the parts."""
    head_rate: float = 1e-4
    seed: int = 0


def tune_top(start: Path, sets: Sequence[Path], out: Path, settings: TopSettings) -> list[float]:
    """Tune the run in ``start`` and leave a run without ``apart.npz`` in ``out``.

    Returns
    -------
    The loss of every step.
    """
    torch.manual_seed(settings.seed)
    net = load_reader(start)
    regions = load_regions(sets)
    tensors = reader_task.RegionTensors(regions, torch.device("cpu"))
    learn, _ = reader_task.split(regions, net.settings)
    reader = replace(net.settings, batch=settings.batch, seed=settings.seed)
    stream = reader_task.batches(tensors, learn, reader_task.class_of(regions), reader)
    optimiser = torch.optim.AdamW(_groups(net, settings), weight_decay=0.0)
    rates = [group["lr"] for group in optimiser.param_groups]
    loss_of = reader_task.loss_of(net.settings)
    net.eval()  # batch-norm statistics stay as they are
    losses: list[float] = []
    for step in tqdm(range(settings.steps), desc="top"):
        for group, rate in zip(optimiser.param_groups, rates, strict=True):
            group["lr"] = rate * rate_factor(step, step / settings.steps)
        optimiser.zero_grad()
        loss: Tensor = loss_of(net, next(stream))
        loss.backward()  # type: ignore[no-untyped-call]
        optimiser.step()
        losses.append(float(loss.detach()))
    out.mkdir(parents=True, exist_ok=True)
    torch.save(net.state_dict(), out / "weights.pt")
    save_settings(net.settings, out / "settings.json")
    return losses


def _groups(net: ReaderNet, settings: TopSettings) -> list[dict[str, object]]:
    net.requires_grad_(False)
    masks = [*net.merge.parameters(), *net.parts.parameters()]
    heads = [*net.widen.parameters(), *net.shared.parameters(), *net.heads.parameters()]
    for parameter in (*masks, *heads):
        parameter.requires_grad_(True)
    return [{"params": masks, "lr": settings.mask_rate}, {"params": heads, "lr": settings.head_rate}]


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and tune."""
    parser = argparse.ArgumentParser(prog="firingend_training.tune_top", description=__doc__)
    chosen, settings = tuning_arguments(parser, TopSettings, arguments)
    losses = tune_top(chosen.start, chosen.sets, chosen.out, settings)
    few = max(len(losses) // 10, 1)
    print(f"loss {sum(losses[:few]) / few:.3f} at the start, {sum(losses[-few:]) / few:.3f} at the end")


if __name__ == "__main__":
    main()
