"""Copy what runs are judged and exported by, small: ``python -m firingend_training.carry RUN… --out FOLDER``.

Weights become 16-bit floats, so that eight readers' take 50 MB. A run that has not ended yet gives the running average
of its last checkpoint and is left as it is: copy it home again when it has come further.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import torch

from firingend.errors import UserError
from firingend_training.rescue import last_average

LARGEST_HALF: Final = 6e4
"""Larger values do not fit a 16-bit float and stay as they are."""


def carry(run: Path, folder: Path) -> int | None:
    """Copy a run's settings, its scenes kept apart and its weights as 16-bit floats.

    Returns
    -------
    Steps its last checkpoint had come to; None where it has its weights.

    Raises
    ------
    UserError
        If it has neither weights nor a checkpoint.
    """
    step = None
    if (run / "weights.pt").exists():
        weights = torch.load(run / "weights.pt", weights_only=True)
    else:
        weights, step, _ = last_average(run)
    folder.mkdir(parents=True, exist_ok=True)
    torch.save({name: _halved(value) for name, value in weights.items()}, folder / "weights.pt")
    for name in ("settings.json", "apart.npz"):
        if (run / name).exists():
            (folder / name).write_bytes((run / name).read_bytes())
    return step


def _halved(value: torch.Tensor) -> torch.Tensor:
    fits = value.is_floating_point() and float(value.abs().max()) < LARGEST_HALF
    return value.half() if fits else value


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and copy."""
    parser = argparse.ArgumentParser(prog="firingend_training.carry", description=__doc__)
    parser.add_argument("runs", type=Path, nargs="+", metavar="RUN")
    parser.add_argument("--out", type=Path, required=True, help="each run gets a folder of its name in it")
    chosen = parser.parse_args(arguments)
    for run in chosen.runs:
        try:
            step = carry(run, chosen.out / run.name)
        except UserError as error:
            parser.error(str(error))
        print(f"{run}: {'its weights' if step is None else f'weights after {step} steps'}")


if __name__ == "__main__":
    main()
