"""Cut the regions of rendered sets once: ``python -m firingend_training.region_files SET… --out FOLDER``.

Several runs that learn from the same sets would each decode and cut every picture. What is cut here they read in
seconds (``train reader --regions FOLDER``), and a set can be cut while others are still being rendered.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import fields
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from tqdm import tqdm

from firingend.errors import UserError
from firingend_training.picture_store import MASK, REGION, REGION_MARGIN, Regions, Row, from_rows, rows_of
from firingend_training.truth import PictureTruth, read_truth

ABOUT: Final = "about.json"
"""Written last: a folder without it was cut short."""
_CUT_AS: Final = {"region": REGION, "margin": REGION_MARGIN, "mask": MASK}
_AT_ONCE: Final = 40  # pictures a process takes: a second's work


def cut(folders: Sequence[Path], *, processes: int) -> Regions:
    """The regions of the sets, as `load_regions` gives them, cut by several processes."""
    jobs: list[tuple[Path, list[PictureTruth]]] = []
    for folder in folders:
        truths = list(read_truth(folder / "truth.jsonl"))
        jobs += [(folder, truths[start : start + _AT_ONCE]) for start in range(0, len(truths), _AT_ONCE)]
    # One thread each: as many as there are cores in each of them would wait for one another. And begun afresh:
    # in a copy of this one the library would wait for threads that were not copied.
    fresh = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(processes, fresh, cv2.setNumThreads, (1,)) as pool:
        found = list(tqdm(pool.map(_cut_some, jobs), total=len(jobs), desc="regions"))
    return from_rows([row for some in found for row in some])


def _cut_some(job: tuple[Path, list[PictureTruth]]) -> list[Row]:
    folder, truths = job
    return [row for truth in truths for row in rows_of(folder, truth)]


def write_regions(regions: Regions, folder: Path) -> None:
    """Write one ``.npy`` file for each column, and `ABOUT` at the end; what the folder held before is replaced."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / ABOUT).unlink(missing_ok=True)
    for column in fields(Regions):
        np.save(folder / f"{column.name}.npy", getattr(regions, column.name), allow_pickle=False)
    (folder / ABOUT).write_text(json.dumps({**_CUT_AS, "count": len(regions)}) + "\n", encoding="utf-8")


def read_regions(folders: Sequence[Path]) -> Regions:
    """The regions of all the folders that `write_regions` wrote, one behind the other.

    Raises
    ------
    UserError
        If a folder is none of these, was cut short, or was cut in other sizes than this version learns from.
    """
    for folder in folders:
        _refuse_other(folder)
    return Regions(**{column.name: _column(folders, column.name) for column in fields(Regions)})


def _refuse_other(folder: Path) -> None:
    remedy = "cut it anew: python -m firingend_training.region_files SET --out FOLDER"
    try:
        about = json.loads((folder / ABOUT).read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise UserError(f"{folder} holds no regions, or not all of them: {ABOUT} is missing", remedy) from None
    if {name: about.get(name) for name in _CUT_AS} != _CUT_AS:
        raise UserError(f"{folder} was cut as {about}, not as {_CUT_AS}", remedy)


def _column(folders: Sequence[Path], name: str) -> NDArray[np.generic]:
    return np.concatenate([np.load(folder / f"{name}.npy", mmap_mode="r") for folder in folders])


def main(arguments: Sequence[str] | None = None) -> int:
    """Parse the command line and cut; returns the exit status."""
    parser = argparse.ArgumentParser(prog="firingend_training.region_files", description=__doc__)
    parser.add_argument("sets", type=Path, nargs="+", metavar="SET")
    parser.add_argument("--out", type=Path, required=True, help="folder for the regions; about 0.2 MB each")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    chosen = parser.parse_args(arguments)
    try:
        regions = cut(chosen.sets, processes=chosen.processes)
        write_regions(regions, chosen.out)
    except (UserError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    print(f"{chosen.out}: {len(regions)} regions")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
