"""Work out what a reader is calibrated by, on sets it never learned from.

``python -m firingend_training.set_apart RUN --set SET…`` replaces the run's ``apart.npz``, which ``export`` fits
temperatures and thresholds on. A run whose weights were averaged or whose heads were tuned needs it.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch

from firingend_training import reader_task
from firingend_training.export import load_reader
from firingend_training.picture_store import load_regions
from firingend_training.train import write_apart


def set_apart(run: Path, sets: Sequence[Path]) -> int:
    """Write ``apart.npz`` from every region of the sets; how many there were."""
    torch.manual_seed(0)
    net = load_reader(run)
    regions = load_regions(sets)
    tensors = reader_task.RegionTensors(regions, torch.device("cpu"))
    write_apart(net, tensors, regions, np.arange(len(regions)), net.settings, run / "apart.npz")
    return len(regions)


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and write."""
    parser = argparse.ArgumentParser(prog="firingend_training.set_apart", description=__doc__)
    parser.add_argument("run", type=Path, metavar="RUN")
    parser.add_argument("--set", dest="sets", type=Path, action="append", required=True, help="set; repeatable")
    chosen = parser.parse_args(arguments)
    print(f"{set_apart(chosen.run, chosen.sets)} regions set apart")


if __name__ == "__main__":
    main()
