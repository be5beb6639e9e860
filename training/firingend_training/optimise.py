"""The loop both networks share: learning-rate curve, head first, running average, checkpoints."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import torch
from torch import Tensor, nn
from torch.optim.swa_utils import AveragedModel
from tqdm import tqdm

from firingend_training.networks import FinderNet, ReaderNet

Loss = Callable[[tuple[Tensor, ...]], Tensor]
"""The loss of a network on a batch."""
Run = TypeVar("Run", bound=Callable[..., Any])

WARM_UP = 100
AVERAGE_EVERY = 4
"""Steps between two updates of the running average; each costs as much as a small step."""
CHECKPOINT_SECONDS = 60.0


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a run is: optimiser steps done and seconds spent, earlier sittings included."""

    step: int
    seconds: float


def rate_factor(step: int, done: float) -> float:
    """Learning-rate factor: a short linear warm-up, then half a cosine down to zero.

    Parameters
    ----------
    step
        Optimiser steps done.
    done
        Share of the run that is over, 0..1.

    Examples
    --------
    >>> rate_factor(0, 0.0), round(rate_factor(1000, 0.5), 3), rate_factor(1000, 1.0)
    (0.01, 0.5, 0.0)
    """
    return min(1.0, (step + 1) / WARM_UP) * 0.5 * (1.0 + math.cos(math.pi * min(done, 1.0)))


def running_average(decay: float) -> Callable[[list[Tensor], list[Tensor], Tensor | int], None]:
    """Exponential average that forgets fast at first, so that a short run is not held to its random start."""

    @torch.no_grad()
    def update(kept: list[Tensor], now: list[Tensor], updates: Tensor | int) -> None:
        count = float(updates)
        share = 1.0 - min(decay, (1.0 + count) / (10.0 + count))
        if kept[0].is_floating_point():  # the caller groups by type
            torch._foreach_lerp_(kept, now, share)
        else:
            torch._foreach_copy_(kept, now)

    return update


def parameter_groups(net: ReaderNet | FinderNet, frozen_blocks: int = 0) -> list[dict[str, object]]:
    """Heads at the full rate, the body slower the nearer a block is to the pixels.

    The first blocks hold what ImageNet taught about photographs in general; renders should not unteach it.
    """
    settings = net.settings
    groups: list[dict[str, object]] = [{"params": net.head_parameters(), "rate": settings.head_rate, "body": False}]
    layers: list[nn.Module] = [net.body.stem, *net.body.blocks]
    for depth, layer in enumerate(layers):
        if depth < frozen_blocks:
            for parameter in layer.parameters():
                parameter.requires_grad_(False)
            continue
        rate = settings.body_rate * settings.layer_decay ** (len(layers) - 1 - depth)
        groups.append({"params": list(layer.parameters()), "rate": rate, "body": True})
    return groups


def optimiser_of(net: ReaderNet | FinderNet, device: torch.device, frozen_blocks: int = 0) -> torch.optim.Optimizer:
    """What `fit` learns with."""
    return torch.optim.AdamW(
        parameter_groups(net, frozen_blocks),
        lr=net.settings.head_rate,
        weight_decay=net.settings.weight_decay,
        fused=device.type == "cuda",
    )


def compiled(run: Run) -> Run:
    """A network, or its loss with it, in fused kernels that one launch starts; the weights are the network's own.

    One reader alone leaves most of a data-centre card idle, waiting for launches.
    """
    return torch.compile(run, mode="reduce-overhead")  # type: ignore[no-any-return]


def learn(
    net: nn.Module, batch: tuple[Tensor, ...], loss_on: Loss, optimiser: torch.optim.Optimizer, device: torch.device
) -> Tensor:
    """One step of a network on one batch; gives its loss, still on the device."""
    with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
        loss = loss_on(batch)
    optimiser.zero_grad(set_to_none=True)
    loss.backward()
    nn.utils.clip_grad_norm_(net.parameters(), 5.0)
    optimiser.step()
    return loss


def fit(
    net: ReaderNet | FinderNet,
    batches: Iterator[tuple[Tensor, ...]],
    loss_of: Callable[[nn.Module, tuple[Tensor, ...]], Tensor],
    folder: Path,
    *,
    device: torch.device,
    frozen_blocks: int = 0,
    resume: bool = False,
) -> nn.Module:
    """Train until the steps or the minutes of the settings are used up; keep the running average.

    ``folder`` receives ``checkpoint.pt`` every minute (to resume from) and ``weights.pt`` at the end.
    """
    settings = net.settings
    net.to(device)
    if device.type == "cpu":  # a third to half of the time saved; on a graphics card a tenth, after a slow first step
        net.to(memory_format=torch.channels_last)
    decay = settings.average**AVERAGE_EVERY
    average = AveragedModel(net, multi_avg_fn=running_average(decay), use_buffers=True)
    optimiser = optimiser_of(net, device, frozen_blocks)
    loss_on: Loss = partial(loss_of, net)
    if settings.compiled:
        loss_on = compiled(loss_on)
    progress = Progress(0, 0.0)
    checkpoint = folder / "checkpoint.pt"
    if resume and checkpoint.exists():
        progress = _restore(checkpoint, net, average, optimiser, device)
    started = saved = time.monotonic()
    bar = tqdm(total=settings.steps, initial=progress.step, desc=folder.name, mininterval=5.0)
    step = progress.step
    loss = torch.full((), math.nan)
    while True:
        seconds = progress.seconds + time.monotonic() - started
        done = max(step / settings.steps, seconds / 60.0 / settings.minutes)
        if done >= 1.0:
            break
        _set_rates(optimiser, step, done, settings.head_first)
        net.train()
        net.body.freeze_statistics()
        loss = learn(net, next(batches), loss_on, optimiser, device)
        step += 1
        if step % AVERAGE_EVERY == 0 or step <= AVERAGE_EVERY:
            average.update_parameters(net)
        bar.update()
        if step % 50 == 0:
            bar.set_postfix(loss=f"{float(loss.detach()):.3f}", refresh=False)
        if time.monotonic() - saved > CHECKPOINT_SECONDS:
            saved = time.monotonic()
            _save(checkpoint, net, average, optimiser, Progress(step, progress.seconds + saved - started))
    bar.close()
    rate = (step - progress.step) / max(seconds - progress.seconds, 1e-6)
    print(
        f"{folder.name}: {step} steps, last loss {float(loss.detach()):.4f}, {seconds:.0f} s, {rate:.1f} steps/s",
        flush=True,
    )
    kept = average.module if settings.average > 0 else net
    torch.save({k: v.cpu() for k, v in kept.state_dict().items()}, folder / "weights.pt")
    kept.eval()
    return kept


def _set_rates(optimiser: torch.optim.Optimizer, step: int, done: float, head_first: float) -> None:
    for group in optimiser.param_groups:
        if group["body"] and done < head_first:
            group["lr"] = 0.0
        elif group["body"]:
            since = (done - head_first) / max(1e-6, 1.0 - head_first)
            group["lr"] = group["rate"] * rate_factor(step, since)
        else:
            group["lr"] = group["rate"] * rate_factor(step, done)


def _save(path: Path, net: nn.Module, average: nn.Module, optimiser: torch.optim.Optimizer, progress: Progress) -> None:
    half_done = path.with_suffix(".part")
    state = {
        "net": net.state_dict(),
        "average": average.state_dict(),
        "optimiser": optimiser.state_dict(),
        "step": progress.step,
        "seconds": progress.seconds,
    }
    torch.save(state, half_done)
    half_done.replace(path)


def _restore(
    path: Path, net: nn.Module, average: nn.Module, optimiser: torch.optim.Optimizer, device: torch.device
) -> Progress:
    state = torch.load(path, map_location=device, weights_only=True)
    net.load_state_dict(state["net"])
    average.load_state_dict(state["average"])
    optimiser.load_state_dict(state["optimiser"])
    return Progress(state["step"], state["seconds"])
