"""Take some pictures of several rendered sets into one: ``python -m firingend_training.sample SET… --out SET``.

What a session on borrowed cards brings home: pictures of scenes that the runs there kept apart, to calibrate by, and
some that they learned from, to tune on.
"""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Iterator, Sequence
from itertools import islice
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
        As many are taken from each, from its start.

    Returns
    -------
    How many of each were taken.
    """
    kept = [pair for folder in folders for pair in _first(folder, apart // len(folders), apart=True)]
    learned = [pair for folder in folders for pair in _first(folder, others // len(folders), apart=False)]
    out.mkdir(parents=True, exist_ok=True)
    (out / "truth.jsonl").unlink(missing_ok=True)
    for folder, truth in (*kept, *learned):
        _copy(folder, truth, out)
    shutil.copy(folders[0] / "settings.json", out / "settings.json")
    return len(kept), len(learned)


def _first(folder: Path, most: int, *, apart: bool) -> Iterator[tuple[Path, PictureTruth]]:
    """The first pictures of a set whose scenes a training keeps apart, or does not."""
    share = ReaderSettings().held_apart
    truths = (t for t in read_truth(folder / "truth.jsonl") if held_apart(t.scene, share) is apart)
    return ((folder, truth) for truth in islice(truths, most))


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
