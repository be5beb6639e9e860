"""Work out what a reader is calibrated by, on sets it never learned from.

``python -m firingend_training.set_apart RUN --set SET…`` replaces the run's ``apart.npz``, which ``export`` fits
temperatures and thresholds on. A run whose weights were averaged or whose heads were tuned needs it. Sets named with
``--status-set`` have a say in used, unused or no plug only: one whose deposits were drawn by other rules would make the
labels seem less sure than they are.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch

from firingend_training import reader_task
from firingend_training.export import load_reader
from firingend_training.picture_store import NONE, load_regions
from firingend_training.train import write_apart

LABEL_TARGETS = ("target_five", "target_ceramic", "target_surface")


def set_apart(run: Path, sets: Sequence[Path], status_sets: Sequence[Path] = ()) -> int:
    """Write ``apart.npz`` from every region of the sets; how many there were."""
    torch.manual_seed(0)
    net = load_reader(run)
    regions = load_regions([*sets, *status_sets])
    tensors = reader_task.RegionTensors(regions, torch.device("cpu"))
    write_apart(net, tensors, regions, np.arange(len(regions)), net.settings, run / "apart.npz")
    if status_sets:
        _forget_labels(run / "apart.npz", since=len(load_regions(sets)))
    return len(regions)


def _forget_labels(path: Path, since: int) -> None:
    """Leave the rows from ``since`` on without label, ceramic and surface."""
    arrays = dict(np.load(path))
    for name in LABEL_TARGETS:
        arrays[name][since:] = NONE
    np.savez_compressed(path, **arrays)


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and write."""
    parser = argparse.ArgumentParser(prog="firingend_training.set_apart", description=__doc__)
    parser.add_argument("run", type=Path, metavar="RUN")
    parser.add_argument("--set", dest="sets", type=Path, action="append", required=True, help="set; repeatable")
    parser.add_argument(
        "--status-set", type=Path, action="append", default=[], help="set for used, unused or no plug only; repeatable"
    )
    chosen = parser.parse_args(arguments)
    print(f"{set_apart(chosen.run, chosen.sets, chosen.status_set)} regions set apart")


if __name__ == "__main__":
    main()
