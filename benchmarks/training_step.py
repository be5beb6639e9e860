"""How long a training step of the reader takes, part by part and by other ways of running it.

``python benchmarks/training_step.py`` makes random regions (what they show does not matter to the speed) and measures
by turns in one run: drawing and roughing up a batch, and whole steps with the network run as it is, with channels last
(so `optimise.fit` runs it on a processor), and compiled in three. Prints milliseconds (median) and the ratio to the
step as it is. ``--profile`` ends with the kernels that take the longest.
"""

from __future__ import annotations

import argparse
import json
import statistics
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial

import numpy as np
import torch
from firingend_training import reader_task
from firingend_training.networks import STATUS, ReaderNet
from firingend_training.optimise import Loss, compiled, learn, optimiser_of
from firingend_training.picture_store import MASK, NONE, REGION, Regions
from firingend_training.settings import ReaderSettings
from torch import Tensor

from firingend.labels import CERAMIC, COVERED_PARTS, LABELS, PARTS, SIGNS, SURFACE

WAYS = ("as it is", "channels last", "compiled", "one launch, loss apart", "compiled, one launch")
Step = Callable[[], None]


def random_regions(count: int) -> Regions:
    """Regions of noise with targets drawn at random; one in six shows no plug."""
    rng = np.random.default_rng(1)

    def shares(*shape: int) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
        return rng.uniform(size=(count, *shape)).astype(np.float32)

    plug = rng.uniform(size=count) > 1 / 6
    return Regions(
        pictures=rng.integers(0, 256, (count, REGION, REGION, 3), np.uint8),
        masks=rng.integers(0, len(PARTS), (count, MASK, MASK), np.uint8),
        five=np.where(plug, rng.integers(0, len(LABELS), count), NONE),
        ceramic=np.where(plug, rng.integers(0, len(CERAMIC), count), NONE),
        surface=np.where(plug, rng.integers(0, len(SURFACE), count), NONE),
        status=np.where(plug, STATUS.index("used"), STATUS.index("not-a-plug")),
        signs=shares(len(SIGNS)).round(),
        severity=shares(),
        cover=shares(len(COVERED_PARTS)),
        axis=rng.normal(size=(count, 2)).astype(np.float32),
        plug=np.where(plug, np.arange(count), NONE),
        scene=np.arange(count),
        thread_dirt=np.full(count, "light"),
    )


def loss_on(way: str, net: ReaderNet, settings: ReaderSettings) -> Loss:
    """The network's loss, run in one of WAYS."""
    loss_of = reader_task.loss_of(settings)
    if way == "channels last":
        net.to(memory_format=torch.channels_last)  # type: ignore[call-overload]
    if way == "one launch, loss apart":
        return partial(loss_of, compiled(net))
    loss: Loss = partial(loss_of, net)
    if way == "compiled":
        return torch.compile(loss)  # type: ignore[no-any-return]
    return compiled(loss) if way == "compiled, one launch" else loss


def whole_step(way: str, batches: Iterator[tuple[Tensor, ...]], settings: ReaderSettings, device: torch.device) -> Step:
    """One step of `optimise.fit`, its batch included, on a network of its own."""
    net = ReaderNet(settings).to(device)
    optimiser = optimiser_of(net, device)
    loss = loss_on(way, net, settings)
    net.train()
    net.body.freeze_statistics()

    def step() -> None:
        learn(net, next(batches), loss, optimiser, device)

    return step


def milliseconds(step: Step, rounds: int, device: torch.device) -> float:
    """What a call takes when many follow one another."""
    _wait(device)
    began = time.perf_counter()
    for _ in range(rounds):
        step()
    _wait(device)
    return (time.perf_counter() - began) / rounds * 1000


def _wait(device: torch.device) -> None:
    if device.type == "cuda":
        torch.cuda.synchronize()


def kernels(step: Step, device: torch.device) -> str:
    """Table of what takes longest in ten steps."""
    activities = [torch.profiler.ProfilerActivity.CPU]
    if device.type == "cuda":
        activities.append(torch.profiler.ProfilerActivity.CUDA)
    with torch.profiler.profile(activities=activities) as profile:
        for _ in range(10):
            step()
        _wait(device)
    order = "self_device_time_total" if device.type == "cuda" else "self_cpu_time_total"
    return str(profile.key_averages().table(sort_by=order, row_limit=25, max_name_column_width=60))


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and measure."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    parser.add_argument("--batch", type=int, default=128)
    parser.add_argument("--crop", type=int, default=160)
    parser.add_argument("--regions", type=int, default=2048)
    parser.add_argument("--rounds", type=int, default=5, help="turns; each way is timed once a turn")
    parser.add_argument("--steps", type=int, default=20, help="steps a turn")
    parser.add_argument("--ways", nargs="+", choices=WAYS, default=list(WAYS))
    parser.add_argument("--profile", action="store_true")
    chosen = parser.parse_args(arguments)
    device = torch.device(chosen.device)
    torch.backends.cuda.matmul.allow_tf32 = True
    settings = ReaderSettings(crop=chosen.crop, batch=chosen.batch, held_apart=0.0)
    regions = random_regions(chosen.regions)
    tensors = reader_task.RegionTensors(regions, device)
    batches = reader_task.batches(tensors, np.arange(len(regions)), reader_task.class_of(regions), settings)
    steps: dict[str, Step] = {"batch alone": partial(_drop, batches)}
    steps |= {way: whole_step(way, batches, settings, device) for way in chosen.ways}
    first = {name: round(milliseconds(step, 3, device)) for name, step in steps.items()}
    print(json.dumps({"first three steps, ms each": first}), flush=True)
    turns = [
        {name: milliseconds(step, chosen.steps, device) for name, step in steps.items()} for _ in range(chosen.rounds)
    ]
    median = {name: statistics.median(turn[name] for turn in turns) for name in steps}
    base = median[WAYS[0]] if WAYS[0] in median else min(median.values())
    for name, taken in median.items():
        print(f"{name:24} {taken:9.1f} ms   {taken / base:5.2f}")
    if chosen.profile:
        print(kernels(steps[chosen.ways[0]], device))


def _drop(batches: Iterator[tuple[Tensor, ...]]) -> None:
    next(batches)


if __name__ == "__main__":
    main()
