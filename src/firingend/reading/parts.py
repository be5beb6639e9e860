"""Parts of a firing end, from the reader's masks to outlines on the photograph."""

from __future__ import annotations

from itertools import islice
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firingend.labels import PARTS
from firingend.reading.crop import crop_matrix
from firingend.reading.outlines import Points, outlines
from firingend.reading.reading import FiringEnd, Outline, Zone
from firingend.reading.zone_colour import Neutral, zone_labs

SHOWN: Final = ("nose", "centre-electrode", "strap", "rim", "threads")
"""Parts that become zones; background and body carry no deposit worth measuring."""

_LEAST_CELLS: Final = 6  # fewer are more likely a slip of the mask than a part; common practice, no source


def zones_of(
    crop: NDArray[np.uint8], parts: NDArray[np.int_], end: FiringEnd, margin: float, neutral: Neutral
) -> tuple[Zone, ...]:
    """Outline and colour of every part that can be made out.

    Parameters
    ----------
    crop
        (S, S, 3) uint8, as `crop.upright_crop` cuts it.
    parts
        (M, M), for each cell the place in `labels.PARTS` of what it shows.
    end
        The firing end; its box in full-scale pixels of the photograph.
    margin
        Of the crop, as in `crop.crop_matrix`.
    neutral
        What to take for neutral.
    """
    matrix = crop_matrix(end.box, end.axis, parts.shape[0], margin)
    cells = dict(zip(PARTS, np.bincount(parts.ravel(), minlength=len(PARTS)).tolist(), strict=True))
    plug = max(1, parts.size - cells["background"])
    step = crop.shape[0] // parts.shape[0]
    under = crop[step // 2 :: step, step // 2 :: step][: parts.shape[0], : parts.shape[1]]  # one pixel a cell
    seen = [part for part in SHOWN if cells[part] >= _LEAST_CELLS]
    masks = [parts == PARTS.index(part) for part in seen]
    loops = _on_photo(outlines(masks), matrix)
    return tuple(
        Zone(part, loops[i], cells[part] / plug, lab, neutral.source, neutral.sure)
        for i, (part, lab) in enumerate(zip(seen, zone_labs(under, masks, neutral), strict=True))
    )


def _on_photo(polygons: list[list[Points]], matrix: NDArray[np.float64]) -> list[tuple[Outline, ...]]:
    """From cell corners in the crop to pixels of the photograph (pixel i spans i..i+1), all at once."""
    corners = np.concatenate([np.empty((0, 2)), *(polygon for part in polygons for polygon in part)])
    placed = np.round((corners - 0.5) @ matrix[:, :2].T + matrix[:, 2] + 0.5, 1).tolist()
    ahead = iter([(x, y) for x, y in placed])
    return [tuple(tuple(islice(ahead, len(polygon))) for polygon in part) for part in polygons]
