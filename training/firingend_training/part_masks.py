"""How well the exported reader outlines the parts of a plug, against the masks of a rendered set."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from firingend.evaluation.rendered_set import FEWEST_NOSE_PIXELS
from firingend.evaluation.run import WORKERS, Progress, in_threads
from firingend.labels import PARTS
from firingend.photo.load import load_picture
from firingend.reading.crop import crop_matrix
from firingend.reading.reader import Reader
from firingend.reading.reading import FiringEnd
from firingend_training.truth import PictureTruth, PlugTruth, parts_of, read_truth

Counts = NDArray[np.int64]

UNKNOWN = 255
"""In a crop of a mask: outside the picture."""


@dataclass(frozen=True, slots=True)
class PartOverlap:
    """Intersection over union of each part, pooled over the pixels of all crops, and their mean.

    ``mean`` leaves the background out; ``plugs`` is how many crops it rests on.
    """

    mean: float
    of_part: Mapping[str, float]
    plugs: int


def part_overlap(
    set_folder: Path, models: Path, *, workers: int = WORKERS, progress: Progress | None = None
) -> PartOverlap:
    """Compare the reader's part maps with the true masks, on crops round the true boxes."""
    truths = [truth for truth in read_truth(set_folder / "truth.jsonl") if truth.plugs]
    work = partial(_compare, set_folder=set_folder, reader=Reader(models, 1))
    table, plugs = np.zeros((len(PARTS), len(PARTS)), np.int64), 0
    for done, (counts, crops) in enumerate(in_threads(work, truths, workers), 1):
        table += counts
        plugs += crops
        if progress:
            progress(done, len(truths))
    overlaps = overlap_of(table)
    return PartOverlap(float(np.nanmean(overlaps[1:])), dict(zip(PARTS, overlaps.tolist(), strict=True)), plugs)


def overlap_of(table: Counts) -> NDArray[np.float64]:
    """Intersection over union by part from counts of (true part, seen part); NaN for a part that never occurs.

    Examples
    --------
    >>> overlap_of(np.array([[2, 0], [1, 1]])).round(3).tolist()
    [0.667, 0.5]
    """
    both = np.diagonal(table).astype(np.float64)
    either = table.sum(axis=0) + table.sum(axis=1) - both
    overlaps: NDArray[np.float64] = np.divide(both, either, out=np.full(len(both), np.nan), where=either > 0)
    return overlaps


def mask_crop(mask: NDArray[np.uint8], plug_index: int, plug: PlugTruth, side: int, margin: float) -> NDArray[np.uint8]:
    """Parts of one plug in the reader's upright crop; other plugs are background, outside the picture is UNKNOWN.

    Parameters
    ----------
    mask
        (height, width) of the whole picture, as `truth.mask_value` counts.
    plug_index
        Place of the plug in its picture.
    side
        Of the result, px.
    margin
        Of the crop, as the reader uses it.
    """
    matrix = crop_matrix(plug.box, plug.axis, side, margin)
    columns, rows = np.meshgrid(np.arange(side), np.arange(side))
    x, y = np.rint(np.einsum("ij,jhw->ihw", matrix, np.stack([columns, rows, np.ones_like(rows)]))).astype(int)
    inside = (x >= 0) & (y >= 0) & (x < mask.shape[1]) & (y < mask.shape[0])
    values = mask[np.clip(y, 0, mask.shape[0] - 1), np.clip(x, 0, mask.shape[1] - 1)]
    part = parts_of(values, plug_index)
    return np.where(inside, part, UNKNOWN).astype(np.uint8)


def _compare(truth: PictureTruth, *, set_folder: Path, reader: Reader) -> tuple[Counts, int]:
    picture = load_picture(set_folder / truth.file)
    mask = np.asarray(Image.open(set_folder / truth.mask))
    table, crops = np.zeros((len(PARTS), len(PARTS)), np.int64), 0
    for index, plug in enumerate(truth.plugs):
        if not (plug.nose_pixels >= FEWEST_NOSE_PIXELS if plug.readable is None else plug.readable):
            continue
        crop = reader.crop(picture, FiringEnd(plug.box, plug.axis, 1.0))
        seen = reader.read(crop[None]).parts[0].argmax(axis=0)
        # The network's map is coarser than the crop by a whole factor; each of its cells is judged at its centre.
        true = mask_crop(mask, index, plug, seen.shape[0], reader.card.crop_margin)
        known = true != UNKNOWN
        pairs = true[known].astype(np.int64) * len(PARTS) + seen[known]
        table += np.bincount(pairs, minlength=len(PARTS) ** 2).reshape(len(PARTS), len(PARTS))
        crops += 1
    return table, crops
