"""Judge rendered sets again by today's rule of what a picture shows: ``python -m firingend_training.rejudge SET…``.

A plug whose picture does not show what its label says neither teaches nor scores (`readable.told`). Sets rendered
before a part of that rule was made are brought up to it; a plug once struck stays so. The truth as it was is kept
beside the new one.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image

from firingend.labels import LABELS
from firingend_training.readable import told
from firingend_training.truth import PictureTruth, read_truth, write_truth

BEFORE: Final = "truth-before.jsonl"


def rejudged(folder: Path, truth: PictureTruth) -> PictureTruth:
    """A picture's truth, labelled plugs that no longer are told struck."""
    asked = [i for i, plug in enumerate(truth.plugs) if plug.label in LABELS and (plug.readable or plug.teaches)]
    if not asked:
        return truth
    picture = np.asarray(Image.open(folder / truth.file).convert("RGB"))
    mask = np.asarray(Image.open(folder / truth.mask))
    plugs = list(truth.plugs)
    for index in asked:
        if not told(plugs[index], picture, mask, index):
            plugs[index] = replace(plugs[index], readable=False, teaches=False)
    return replace(truth, plugs=tuple(plugs))


def rejudge(folder: Path) -> tuple[int, int]:
    """Write a set's truth anew.

    Returns
    -------
    Readable labelled plugs before and after.

    Raises
    ------
    FileExistsError
        It was done before: what was kept then would be lost.
    """
    file, before = folder / "truth.jsonl", folder / BEFORE
    if before.exists():
        raise FileExistsError(f"{before} is there: move it away first")
    old = list(read_truth(file))
    new = [rejudged(folder, truth) for truth in old]
    half_done = file.with_suffix(".part")
    half_done.unlink(missing_ok=True)
    write_truth(half_done, new)
    file.rename(before)
    half_done.rename(file)
    return _readable(old), _readable(new)


def _readable(truths: Sequence[PictureTruth]) -> int:
    return sum(plug.label in LABELS and bool(plug.readable) for truth in truths for plug in truth.plugs)


def main(arguments: Sequence[str] | None = None) -> int:
    """Parse the command line and judge; returns the exit status."""
    parser = argparse.ArgumentParser(prog="firingend_training.rejudge", description=__doc__)
    parser.add_argument("sets", type=Path, nargs="+", metavar="SET")
    for folder in parser.parse_args(arguments).sets:
        try:
            before, after = rejudge(folder)
        except OSError as error:
            print(error, file=sys.stderr)
            return 1
        print(f"{folder.name}: {before} readable plugs, {after} now")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
