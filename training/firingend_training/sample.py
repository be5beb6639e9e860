"""Take some pictures of several rendered sets into one: ``python -m firingend_training.sample SET… --out SET``.

What a session on borrowed cards brings home: pictures of scenes that the runs there kept apart, to calibrate by, and
some that they learned from, to tune on.
"""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Sequence
from pathlib import Path

from firingend_training.picture_store import held_apart
from firingend_training.settings import ReaderSettings
from firingend_training.truth import PictureTruth, read_truth, write_truth


def sample(folders: Sequence[Path], out: Path, apart: int, others: int) -> tuple[int, int]:
    """Copy pictures, masks and truth.

    Parameters
    ----------
    folders
        Rendered sets whose scenes are numbered so that none has the number of another's.
    out
        The new set; ``truth.jsonl`` is written anew, and ``settings.json`` is the first folder's.
    apart, others
        Most pictures of scenes that a training keeps apart, and of scenes that it learns from, over all folders.
        They are taken in turn from each, from the start.

    Returns
    -------
    How many of each were taken.
    """
    share = ReaderSettings().held_apart
    chosen: tuple[list[tuple[Path, PictureTruth]], list[tuple[Path, PictureTruth]]] = ([], [])
    for folder in folders:
        of_folder: tuple[list[PictureTruth], list[PictureTruth]] = ([], [])
        for truth in read_truth(folder / "truth.jsonl"):
            of_folder[not held_apart(truth.scene, share)].append(truth)
        for all_chosen, some, most in zip(chosen, of_folder, (apart, others), strict=True):
            all_chosen.extend((folder, truth) for truth in some[: most // len(folders)])
    out.mkdir(parents=True, exist_ok=True)
    (out / "truth.jsonl").unlink(missing_ok=True)
    for folder, truth in (*chosen[0], *chosen[1]):
        _copy(folder, truth, out)
    shutil.copy(folders[0] / "settings.json", out / "settings.json")
    return len(chosen[0]), len(chosen[1])


def _copy(folder: Path, truth: PictureTruth, out: Path) -> None:
    for name in (truth.file, truth.mask):
        target = out / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(folder / name, target)
    write_truth(out / "truth.jsonl", [truth])


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and copy."""
    parser = argparse.ArgumentParser(prog="firingend_training.sample", description=__doc__)
    parser.add_argument("sets", type=Path, nargs="+", metavar="SET")
    parser.add_argument("--apart", type=int, default=900, help="most pictures of scenes kept apart")
    parser.add_argument("--others", type=int, default=500, help="most pictures of the other scenes")
    parser.add_argument("--out", type=Path, required=True)
    chosen = parser.parse_args(arguments)
    apart, others = sample(chosen.sets, chosen.out, chosen.apart, chosen.others)
    print(f"{chosen.out}: {apart} pictures of scenes kept apart, {others} others")


if __name__ == "__main__":
    main()
