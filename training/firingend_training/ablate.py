"""Train several readers side by side within a time budget: ``python -m firingend_training.ablate --plan FILE``.

A plan is a TOML file: settings under ``[common]`` hold for every run, each ``[runs.NAME]`` names the settings in
which that run differs::

    [common]
    batch = 128
    [runs.as-it-is]
    [runs.crop-160]
    crop = 160

Every run gets the same minutes. ``OUT/carry/NAME`` is complete as soon as its run ends.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import queue
import time
import tomllib
import traceback
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import torch

from firingend.errors import UserError
from firingend_training.carry import carry
from firingend_training.orphans import end_with_parent
from firingend_training.picture_store import NONE, load_regions
from firingend_training.reader_task import label_score, split
from firingend_training.region_files import read_regions, write_regions
from firingend_training.settings import ReaderSettings, save_settings
from firingend_training.train import train_reader

MINUTES_AROUND: Final = 0.75
"""Minutes of a run outside its steps: start of the device, the scenes kept apart, writing."""


@dataclass(frozen=True, slots=True)
class Variation:
    """One run of a plan."""

    name: str
    settings: ReaderSettings


def read_plan(path: Path) -> list[Variation]:
    """The runs of a plan, in its order.

    Raises
    ------
    ValueError
        Naming the file, the run and the setting, if there is no such setting or its value has the wrong type.
    """
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    runs = raw.get("runs", {})
    if not runs:
        raise ValueError(f"{path}: no [runs.NAME] in it")
    return [
        Variation(name, _settings({**raw.get("common", {}), **own}, f"{path}: {name}")) for name, own in runs.items()
    ]


def _settings(changes: dict[str, Any], where: str) -> ReaderSettings:
    plain = ReaderSettings()
    types = {f.name: type(getattr(plain, f.name)) for f in fields(plain)}
    for name, value in changes.items():
        if name not in types:
            raise ValueError(f"{where}: {name!r} is no setting; known are {', '.join(types)}")
        if type(value) is not types[name] and not (types[name] is float and type(value) is int):
            raise ValueError(f"{where}: {name} is {value!r}; it must be of type {types[name].__name__}")
    try:
        return replace(plain, **changes)
    except ValueError as error:
        raise ValueError(f"{where}: {error}") from None


def minutes_each(budget: float, runs: int, slots: int) -> float:
    """Minutes of training each run may take so that all are over within the budget.

    Examples
    --------
    >>> minutes_each(10.0, 8, 4)
    4.25

    Raises
    ------
    ValueError
        If that leaves no time to train.
    """
    each = budget / math.ceil(runs / slots) - MINUTES_AROUND
    if each <= 0:
        raise ValueError(f"{budget:.1f} minutes are too few for {runs} runs, {slots} at a time")
    return each


def train_slot(device: str, columns: Path, out: Path, waiting: Any) -> None:
    """Train one variation after the other until none waits; a failed one is told of and passed over."""
    end_with_parent()
    torch.set_num_threads(1)
    torch.backends.cuda.matmul.allow_tf32 = True
    regions = read_regions([columns])
    while True:
        try:
            variation: Variation = waiting.get(timeout=1.0)
        except queue.Empty:
            return
        run = out / variation.name
        run.mkdir(parents=True, exist_ok=True)
        save_settings(variation.settings, run / "settings.json")
        torch.manual_seed(variation.settings.seed)
        try:
            train_reader(regions, run, variation.settings, torch.device(device), resume=False)
            carry(run, out / "carry" / variation.name)
        except Exception:  # the other variations must not be lost with this one
            (run / "failed.txt").write_text(traceback.format_exc(), encoding="utf-8")
            print(f"{variation.name} failed; see {run / 'failed.txt'}", flush=True)


def table(folders: Sequence[Path]) -> str:
    """Balanced accuracy of the five-way head on the scenes kept apart, plain and roughed up, best first."""
    lines = []
    for folder in folders:
        if not (folder / "apart.npz").exists():
            lines.append((-1.0, f"{folder.name:<24} not finished"))
            continue
        saved = np.load(folder / "apart.npz")
        known = saved["target_five"] != NONE
        plain, rough = (
            label_score(saved["target_five"][known], saved[f"{kind}_five"][known].argmax(1))
            for kind in ("plain", "rough")
        )
        lines.append((plain, f"{folder.name:<24} {plain:6.3f} {rough:6.3f}  {int(known.sum())}"))
    heading = f"{'run':<24} {'plain':>6} {'rough':>6}  plugs"
    return "\n".join([heading, *(line for _, line in sorted(lines, key=lambda each: -each[0]))])


def run_plan(plan: Sequence[Variation], sets: Sequence[Path], out: Path, slots: Sequence[str], minutes: float) -> str:
    """Train every variation, one process a slot; returns the table.

    Raises
    ------
    UserError
        If the sets lack what a run chooses its plugs by.
    """
    started = time.monotonic()
    _store_for(plan, sets, out / "regions")
    left = minutes - (time.monotonic() - started) / 60.0
    each = minutes_each(left, len(plan), len(slots))
    context = multiprocessing.get_context("spawn")
    waiting = context.Queue()
    for variation in plan:
        least = min(each, variation.settings.minutes)
        waiting.put(Variation(variation.name, replace(variation.settings, minutes=least)))
    workers = [context.Process(target=train_slot, args=(slot, out / "regions", out, waiting)) for slot in slots]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    return table([out / "carry" / variation.name for variation in plan])


def _store_for(plan: Sequence[Variation], sets: Sequence[Path], folder: Path) -> None:
    """Load and store the sets; a run that cannot choose its plugs from them is told of before any other begins."""
    regions = load_regions(sets)
    for variation in plan:
        try:
            split(regions, variation.settings)
        except UserError as error:
            raise UserError(f"run {variation.name}: {error.problem}", error.remedy) from None
    write_regions(regions, folder)


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line, train, write ``table.txt``."""
    parser = argparse.ArgumentParser(prog="firingend_training.ablate", description=__doc__.splitlines()[0])
    parser.add_argument("--sets", type=Path, nargs="+", required=True, help="rendered sets")
    parser.add_argument("--plan", type=Path, required=True, help="TOML file of the runs")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--devices", default="0", help="graphics cards, e.g. 0,1; or cpu")
    parser.add_argument("--each", type=int, default=2, help="runs at a time on one device")
    parser.add_argument("--minutes", type=float, required=True, help="budget for everything, loading included")
    chosen = parser.parse_args(arguments)
    devices = ["cpu" if name == "cpu" else f"cuda:{name}" for name in chosen.devices.split(",")]
    try:
        plan = read_plan(chosen.plan)
        minutes_each(chosen.minutes, len(plan), len(devices) * chosen.each)
    except (OSError, ValueError) as error:
        parser.error(str(error))
    chosen.out.mkdir(parents=True, exist_ok=True)
    try:
        told = run_plan(plan, chosen.sets, chosen.out, devices * chosen.each, chosen.minutes)
    except UserError as error:
        parser.exit(1, f"{error}\n")
    (chosen.out / "table.txt").write_text(told + "\n", encoding="utf-8")
    print(told)


if __name__ == "__main__":
    main()
