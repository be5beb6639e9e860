"""Find every firing end in a photograph, and which way it points."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from firingend.photo.picture import Picture, as_image
from firingend.reading.networks import FinderCard, Network, normalise, read_card
from firingend.reading.reading import Box, FiringEnd, longer_side
from firingend.reading.row_order import row_order
from firingend.shipped import models_dir

_STRIDE: Final = 4  # px of the network's input to a cell of its output
_MOST_PEAKS: Final = 100  # far more than plugs in any photograph; bounds the work on a hostile one


@dataclass(frozen=True, slots=True)
class _Frame:
    """How the network's input lies over the photograph: its used part and full-scale pixels to one of its own."""

    width: int
    height: int
    scale_x: float
    scale_y: float


Fitted = tuple[NDArray[np.float32], _Frame]
"""The network's input (1, 3, H, W), and how it lies over the photograph."""


class Finder:
    """The finder network; opened on first use.

    Parameters
    ----------
    folder
        Where ``finder.onnx`` and ``finder.json`` lie; the shipped ones by default.
    threads
        CPU threads; None takes ``FIRINGEND_THREADS``, or 1.
    """

    def __init__(self, folder: Path | None = None, threads: int | None = None) -> None:
        self._folder = folder or models_dir()
        self._threads = threads

    @cached_property
    def card(self) -> FinderCard:
        """Settings from ``finder.json``."""
        return read_card(self._folder / "finder.json", FinderCard)

    @cached_property
    def _network(self) -> Network:
        return Network(self._folder / "finder.onnx", self.card.sha256, self._threads)

    def find(self, picture: Picture) -> list[FiringEnd]:
        """Firing ends in row order, their boxes in pixels of the full-scale photograph.

        Parameters
        ----------
        picture
            At any scale; it is resized to the network's ``long_side``.
        """
        ends, enough = self.glance(picture)
        return ends if enough else self.look(picture)

    def glance(self, picture: Picture, fitted: Fitted | None = None) -> tuple[list[FiringEnd], bool]:
        """What a first look at ``glance_side`` shows, and whether that is enough; nothing where there is none.

        ``fitted`` is what `fitted_to_glance` makes of the picture, where that is done already.
        """
        fitted = fitted or self.fitted_to_glance(picture)
        if fitted is None:
            return [], False
        ends = self._look(picture, fitted)
        return ends, self._needs_no_second_look(ends, max(picture.full_width, picture.full_height))

    def fitted_to_glance(self, picture: Picture) -> Fitted | None:
        """The picture as the first look takes it; None where there is no such look."""
        return self._fit(picture, self.card.glance_side) if self.card.glance_side else None

    def look(self, picture: Picture) -> list[FiringEnd]:
        """What the proper look at ``long_side`` shows, as `find` gives it."""
        return self._look(picture, self._fit(picture, self.card.long_side))

    def firm(self, ends: list[FiringEnd]) -> list[FiringEnd]:
        """Those that are not weak: what a finer decode is worth, where most weak ones are no plugs."""
        return [end for end in ends if end.score >= self.card.keeping.weak_score]

    def _needs_no_second_look(self, ends: list[FiringEnd], long_side: int) -> bool:
        return (
            len(ends) == 1
            and ends[0].score >= self.card.glance_score
            and longer_side(ends[0].box) >= self.card.glance_share * long_side
        )

    def _look(self, picture: Picture, fitted: Fitted) -> list[FiringEnd]:
        """What the network finds in the picture as it was fitted."""
        image, frame = fitted
        maps = self._network.run(image=image)
        ends = _decode(maps["heat"][0, 0], maps["box"][0], maps["axis"][0], self.card.score_min, frame)
        ends = [_within(end, picture.full_width, picture.full_height) for end in ends]
        kept = _without_doubles([end for end in ends if _has_area(end.box)], self.card.iou_max)
        return [kept[i] for i in row_order([end.box for end in kept])]

    def _fit(self, picture: Picture, long_side: int) -> Fitted:
        """The picture made ``long_side`` px long, padded at right and bottom with mid grey."""
        factor = long_side / max(picture.size)
        fitted_width, fitted_height = (max(1, round(side * factor)) for side in picture.size)
        resampling = Image.Resampling.BOX if factor < 1 else Image.Resampling.BILINEAR
        fitted = as_image(picture.decoded).resize((fitted_width, fitted_height), resampling)
        multiple = self.card.multiple
        padded_width, padded_height = (-(-side // multiple) * multiple for side in fitted.size)
        image = np.zeros((1, 3, padded_height, padded_width), np.float32)
        normalise(np.asarray(fitted), out=image[0, :, :fitted_height, :fitted_width])
        frame = _Frame(
            fitted_width, fitted_height, picture.full_width / fitted_width, picture.full_height / fitted_height
        )
        return image, frame


def _decode(
    heat: NDArray[np.float32],
    box: NDArray[np.float32],
    axis: NDArray[np.float32],
    score_min: float,
    frame: _Frame,
) -> list[FiringEnd]:
    """Peaks of the maps as firing ends in full-scale pixels, strongest first."""
    rows, columns = _peaks(heat, score_min)
    strongest = np.argsort(-heat[rows, columns], kind="stable")[:_MOST_PEAKS]
    ends = []
    for row, column in zip(rows[strongest], columns[strongest], strict=True):
        x, y = (column + 0.5) * _STRIDE, (row + 0.5) * _STRIDE
        left, top, right, bottom = (float(v) for v in box[:, row, column])
        dx, dy = (float(v) for v in axis[:, row, column])
        if x > frame.width or y > frame.height or not np.isfinite((left, top, right, bottom, dx, dy)).all():
            continue
        length = max(1.0, float(np.hypot(dx, dy)))
        full: Box = (
            (x - left) * frame.scale_x,
            (y - top) * frame.scale_y,
            (x + right) * frame.scale_x,
            (y + bottom) * frame.scale_y,
        )
        ends.append(FiringEnd(full, (dx / length, dy / length), min(1.0, float(heat[row, column]))))
    return ends


def _peaks(heat: NDArray[np.float32], score_min: float) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """Rows and columns of the cells hot enough that no cell up to two cells away is hotter."""
    reach = 2
    rows, columns = np.nonzero(heat >= score_min)  # a NaN is no peak
    height, width = heat.shape
    padded = np.full((height + 2 * reach, width + 2 * reach), -np.inf, heat.dtype)
    padded[reach:-reach, reach:-reach] = heat
    across = np.arange(2 * reach + 1)
    around = padded[rows[:, None, None] + across[:, None], columns[:, None, None] + across]
    hottest = heat[rows, columns] >= around.max(axis=(1, 2), initial=-np.inf)
    return rows[hottest], columns[hottest]


def _within(end: FiringEnd, width: int, height: int) -> FiringEnd:
    x0, y0, x1, y1 = end.box
    box = (
        float(min(max(x0, 0), width)),
        float(min(max(y0, 0), height)),
        float(min(max(x1, 0), width)),
        float(min(max(y1, 0), height)),
    )
    return FiringEnd(box, end.axis, end.score)


def _has_area(box: Box) -> bool:
    return box[2] - box[0] >= 1 and box[3] - box[1] >= 1


def _without_doubles(strongest_first: list[FiringEnd], iou_max: float) -> list[FiringEnd]:
    """Drop every end whose box overlaps a stronger one's by more than ``iou_max``."""
    kept: list[FiringEnd] = []
    for end in strongest_first:
        if all(overlap(end.box, other.box) <= iou_max for other in kept):
            kept.append(end)
    return kept


def overlap(first: Box, second: Box) -> float:
    """Intersection over union of two boxes, 0..1.

    Examples
    --------
    >>> overlap((0, 0, 2, 2), (1, 0, 3, 2))
    0.3333333333333333
    """
    width = min(first[2], second[2]) - max(first[0], second[0])
    height = min(first[3], second[3]) - max(first[1], second[1])
    if width <= 0 or height <= 0:
        return 0.0
    shared = width * height
    areas = sum((box[2] - box[0]) * (box[3] - box[1]) for box in (first, second))
    return shared / (areas - shared)
