"""Make runs that were cut short usable: ``python -m firingend_training.rescue RUN…``.

A borrowed card goes back when its time is up. A training that has not ended then has left ``checkpoint.pt``, a minute
old at most; near the end, where the rate is nearly nought, its running average is as good as the end itself.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

import torch
from torch import Tensor

from firingend.errors import UserError

_WITHIN = "module."  # what torch's AveragedModel puts before every name


def rescue(run: Path) -> tuple[int, float] | None:
    """Write ``weights.pt`` of a run from its last checkpoint's running average.

    Returns
    -------
    Steps and seconds the checkpoint had come to; None where the run has its weights already.

    Raises
    ------
    UserError
        If there is neither.
    """
    if (run / "weights.pt").exists():
        return None
    average, step, seconds = last_average(run)
    half_done = run / "weights.part"
    torch.save(average, half_done)
    half_done.replace(run / "weights.pt")
    return step, seconds


def last_average(run: Path) -> tuple[dict[str, Tensor], int, float]:
    """The running average in a run's last checkpoint, and the steps and seconds that had come to.

    Raises
    ------
    UserError
        If there is none.
    """
    try:
        state = torch.load(run / "checkpoint.pt", weights_only=True, map_location="cpu")
    except FileNotFoundError:
        raise UserError(
            f"{run} has neither weights nor a checkpoint", "a checkpoint is written a minute after training began"
        ) from None
    average = {name.removeprefix(_WITHIN): v for name, v in state["average"].items() if name.startswith(_WITHIN)}
    return average, int(state["step"]), float(state["seconds"])


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and rescue."""
    parser = argparse.ArgumentParser(prog="firingend_training.rescue", description=__doc__)
    parser.add_argument("runs", type=Path, nargs="+", metavar="RUN")
    for run in parser.parse_args(arguments).runs:
        try:
            got = rescue(run)
        except UserError as error:
            parser.error(str(error))
        print(f"{run}: {'has its weights' if got is None else f'weights after {got[0]} steps, {got[1]:.0f} s'}")


if __name__ == "__main__":
    main()
