"""A rendered set in memory: square regions round every firing end for the reader, whole pictures for the finder.

Regions are wider than the reader's crop, so that turning, moving and scaling happen later, on the GPU.
"""

from __future__ import annotations

import os
import zlib
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from tqdm import tqdm

from firingend.errors import UserError
from firingend.labels import CERAMIC, COVERED_PARTS, LABELS, PARTS, SIGNS, SURFACE
from firingend_training.networks import STATUS
from firingend_training.truth import PARTS_PER_PLUG, PictureTruth, PlugTruth, read_truth

REGION = 256
"""Side of a stored region in pixels."""
REGION_MARGIN = 1.8
"""Side of a region over the longer side of the box: a crop of margin 1.15 fits in at any angle."""
MASK = 128
"""Side of a stored region's part mask in pixels."""
NONE = -1
"""Target value meaning: says nothing about this head."""
FEWEST_NOSE_PIXELS = 25
"""With less nose to see than this, at picture scale, nobody could read the plug: such plugs teach finding only."""
MOST_BOXES = 10
_NO_COVER = np.full(len(COVERED_PARTS), np.nan, np.float32)
THREADS = min(28, os.cpu_count() or 1)
Row = tuple[object, ...]
"""One region: its value in every column of `Regions`."""


@dataclass(frozen=True, slots=True)
class Regions:
    """Every plug of a set, and regions that hold none.

    Attributes
    ----------
    pictures
        uint8 (n, REGION, REGION, 3) sRGB.
    masks
        uint8 (n, MASK, MASK): index into ``labels.PARTS``; 255 where unknown.
    five, ceramic, surface, status
        int64 (n,): index into LABELS, CERAMIC, SURFACE, STATUS, or NONE.
    signs
        float32 (n, len(SIGNS)): NaN where unknown.
    severity
        float32 (n,): NaN where unknown.
    cover
        float32 (n, len(COVERED_PARTS)): NaN where unknown.
    axis
        float32 (n, 2).
    plug, scene
        int64 (n,): which distinct plug (NONE for no plug) and which scene.
    thread_dirt
        str (n,): dirt of the thread as the generator names it; empty for no plug and where unknown.
    """

    pictures: NDArray[np.uint8]
    masks: NDArray[np.uint8]
    five: NDArray[np.int64]
    ceramic: NDArray[np.int64]
    surface: NDArray[np.int64]
    status: NDArray[np.int64]
    signs: NDArray[np.float32]
    severity: NDArray[np.float32]
    cover: NDArray[np.float32]
    axis: NDArray[np.float32]
    plug: NDArray[np.int64]
    scene: NDArray[np.int64]
    thread_dirt: NDArray[np.str_]

    def __len__(self) -> int:
        return len(self.pictures)


@dataclass(frozen=True, slots=True)
class WholePictures:
    """Whole pictures, shrunk to fit a square canvas, top left, the rest grey.

    pictures uint8 (n, side, side, 3); size float32 (n, 2) used width and height; boxes float32
    (n, MOST_BOXES, 4) px on the canvas, NaN beyond ``count``; axes float32 (n, MOST_BOXES, 2).
    """

    pictures: NDArray[np.uint8]
    size: NDArray[np.float32]
    boxes: NDArray[np.float32]
    axes: NDArray[np.float32]
    count: NDArray[np.int64]
    scene: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.pictures)


def held_apart(scene: int, share: float) -> bool:
    """Whether a scene is kept out of training; the answer never depends on what else is in the set."""
    return zlib.crc32(f"scene {scene}".encode()) / 2**32 < share


def load_regions(folders: Sequence[Path], *, threads: int = THREADS) -> Regions:
    """Cut the regions of every picture in the sets."""
    jobs = [(folder, truth) for folder in folders for truth in read_truth(folder / "truth.jsonl")]
    with ThreadPoolExecutor(threads) as pool:
        found = list(tqdm(pool.map(lambda job: list(rows_of(*job)), jobs), total=len(jobs), desc="regions"))
    return from_rows([row for of_picture in found for row in of_picture])


def from_rows(rows: Sequence[Row]) -> Regions:
    """Regions of what `rows_of` gave.

    Raises
    ------
    UserError
        If that is nothing.
    """
    if not rows:
        raise UserError("there is no region in these sets", "give sets that firingend_training.render has made")
    columns: list[Any] = list(zip(*rows, strict=True))
    floats, ints = np.float32, np.int64
    return Regions(
        pictures=np.stack(columns[0]),
        masks=np.stack(columns[1]),
        five=np.array(columns[2], ints),
        ceramic=np.array(columns[3], ints),
        surface=np.array(columns[4], ints),
        status=np.array(columns[5], ints),
        signs=np.array(columns[6], floats),
        severity=np.array(columns[7], floats),
        cover=np.array(columns[8], floats),
        axis=np.array(columns[9], floats),
        plug=np.array(columns[10], ints),
        scene=np.array(columns[11], ints),
        thread_dirt=np.array(columns[12], np.str_),
    )


def rows_of(folder: Path, truth: PictureTruth) -> Iterator[Row]:
    """The regions of one picture, each with its targets, in the order of the columns of `Regions`."""
    picture = cv2.cvtColor(cv2.imread(str(folder / truth.file)), cv2.COLOR_BGR2RGB)
    mask = cv2.imread(str(folder / truth.mask), cv2.IMREAD_GRAYSCALE)
    for index, plug in enumerate(truth.plugs):
        if teaches(plug):
            centre, side = _square(plug.box)
            dirt = str(plug.shape.get("thread_dirt", ""))
            yield (*_cut(picture, mask, centre, side, index), *_targets(plug), plug.plug, truth.scene, dirt)
    rng = np.random.default_rng(zlib.crc32(truth.file.encode()))
    for centre, side in _empty_squares(truth, rng):
        region, parts = _cut(picture, mask, centre, side, NONE)
        parts[parts != 255] = 0
        nothing = (NONE, NONE, NONE, STATUS.index("not-a-plug"), np.zeros(len(SIGNS)), np.nan, _NO_COVER, (0.0, 0.0))
        yield (region, parts, *nothing, NONE, truth.scene, "")


def teaches(plug: PlugTruth) -> bool:
    """Whether the reader may learn from a plug; in sets that do not tell, by how much of the nose shows."""
    told = plug.readable if plug.teaches is None else plug.teaches
    return plug.nose_pixels >= FEWEST_NOSE_PIXELS if told is None else told


def _targets(plug: PlugTruth) -> tuple[object, ...]:
    absent = 0.0 if plug.signs_known else np.nan
    signs = np.array([plug.signs.get(sign, absent) for sign in SIGNS], np.float32)
    if plug.label == "unused":
        return NONE, NONE, NONE, STATUS.index("unused"), signs, np.nan, _NO_COVER, plug.axis
    return (
        LABELS.index(plug.label),
        CERAMIC.index(plug.ceramic) if plug.ceramic else NONE,
        SURFACE.index(plug.surface) if plug.surface else NONE,
        STATUS.index("used"),
        signs,
        plug.severity,
        np.array([plug.cover.get(part, np.nan) for part in COVERED_PARTS], np.float32),
        plug.axis,
    )


def _square(box: Sequence[float]) -> tuple[NDArray[np.float64], float]:
    x0, y0, x1, y1 = box
    return np.array([(x0 + x1) / 2, (y0 + y1) / 2]), max(x1 - x0, y1 - y0, 4.0)


def _cut(
    picture: NDArray[np.uint8], mask: NDArray[np.uint8], centre: NDArray[np.float64], side: float, index: int
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The region round a square, and its mask with only the plug of this index in it."""
    step = side * REGION_MARGIN / REGION  # picture pixels a region pixel
    if step > 1.5:  # shrinking: blur first, or fine threads turn into moiré
        picture = cv2.GaussianBlur(picture, (0, 0), step * 0.4)
    region = cv2.warpAffine(
        picture,
        _to_picture(centre, step, REGION),
        (REGION, REGION),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    parts = cv2.warpAffine(
        mask,
        _to_picture(centre, step * REGION / MASK, MASK),
        (MASK, MASK),
        flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=255,
    )
    part, plug = parts % PARTS_PER_PLUG, parts // PARTS_PER_PLUG
    mine = np.where((plug == index) & (parts != 255), part, np.where(parts == 255, 255, 0))
    return region, np.where(mine < len(PARTS), mine, np.where(mine == 255, 255, 0)).astype(np.uint8)


def _to_picture(centre: NDArray[np.float64], step: float, side: int) -> NDArray[np.float64]:
    start = centre - 0.5 - step * (side - 1) / 2
    return np.array([[step, 0.0, start[0]], [0.0, step, start[1]]])


def _empty_squares(truth: PictureTruth, rng: np.random.Generator) -> Iterator[tuple[NDArray[np.float64], float]]:
    """Squares that hold no firing end: near-misses, the plug's own hexagon and insulator, background."""
    width, height = truth.width, truth.height
    if truth.kind == "other-part":
        for _ in range(2):
            centre = np.array([width, height]) * rng.uniform(0.35, 0.65, 2)
            yield centre, min(width, height) * rng.uniform(0.3, 0.75)
        return
    if truth.kind == "close" or not truth.plugs or rng.random() < 0.6:
        return
    plug = truth.plugs[rng.integers(len(truth.plugs))]
    centre, side = _square(plug.box)
    if np.hypot(*plug.axis) > 0.5 and rng.random() < 0.7:
        centre = centre - np.array(plug.axis) * side * rng.uniform(1.6, 3.5)
    else:
        centre = np.array([width, height]) * rng.uniform(0.1, 0.9, 2)
    inside = 0 < centre[0] < width and 0 < centre[1] < height
    reach = side * 0.6
    clear = all(
        not (b[0] - reach < centre[0] < b[2] + reach and b[1] - reach < centre[1] < b[3] + reach)
        for b in (p.box for p in truth.plugs)
    )
    if inside and clear:
        yield centre, side * rng.uniform(0.7, 1.4)


def load_wholes(folders: Sequence[Path], side: int, *, threads: int = THREADS) -> WholePictures:
    """Every picture of the sets on a ``side`` × ``side`` canvas."""
    jobs = [(folder, truth) for folder in folders for truth in read_truth(folder / "truth.jsonl")]
    with ThreadPoolExecutor(threads) as pool:
        rows = list(tqdm(pool.map(lambda job: _whole(*job, side), jobs), total=len(jobs), desc="pictures"))
    columns = list(zip(*rows, strict=True))
    return WholePictures(
        pictures=np.stack(columns[0]),
        size=np.array(columns[1], np.float32),
        boxes=np.stack(columns[2]),
        axes=np.stack(columns[3]),
        count=np.array(columns[4], np.int64),
        scene=np.array([truth.scene for _, truth in jobs], np.int64),
    )


def _whole(folder: Path, truth: PictureTruth, side: int) -> tuple[object, ...]:
    picture = cv2.cvtColor(cv2.imread(str(folder / truth.file)), cv2.COLOR_BGR2RGB)
    scale = min(1.0, side / max(truth.width, truth.height))
    if scale < 1.0:
        size = (round(truth.width * scale), round(truth.height * scale))
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    height, width = picture.shape[:2]
    canvas = np.full((side, side, 3), 127, np.uint8)
    canvas[:height, :width] = picture
    boxes = np.full((MOST_BOXES, 4), np.nan, np.float32)
    axes = np.zeros((MOST_BOXES, 2), np.float32)
    for index, plug in enumerate(truth.plugs[:MOST_BOXES]):
        boxes[index] = np.array(plug.box) * scale
        axes[index] = plug.axis
    return canvas, (width, height), boxes, axes, min(len(truth.plugs), MOST_BOXES)
