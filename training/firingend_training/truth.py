"""What the renderer knows about a picture it made, and how it is written beside the picture.

A rendered set is a folder::

    set/
      settings.json          the RenderSettings it was made with
      truth.jsonl            one PictureTruth a line, in no particular order
      pictures/NAME.jpg      8-bit sRGB
      masks/NAME.png         8-bit grey, same size: 8 * plug index + part index (see mask_value), 0 background

Several pictures (camera passes) may share one mask: ``mask`` in the truth says which file.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firingend.labels import PARTS

PARTS_PER_PLUG = 8
assert len(PARTS) <= PARTS_PER_PLUG


@dataclass(frozen=True, slots=True)
class PlugTruth:
    """One plug in a picture.

    Attributes
    ----------
    plug
        Number of the distinct plug (its geometry and deposits), unique over the whole set.
    label
        One of ``labels.LABELS``, or ``unused``.
    ceramic, surface
        The two facts behind the label: one of ``labels.CERAMIC`` / ``labels.SURFACE``; empty where unknown.
    box
        (x0, y0, x1, y1) px around visible strap, electrode, nose, rim and the first 3.5 mm of thread.
    axis
        (dx, dy) in the picture, x right, y down, from shell out past the strap; length = sine of the view angle.
    view_degrees
        Angle between plug axis and line of sight: 0 looking straight at the firing end, 90 side on.
    nose_pixels
        Visible pixels of the insulator nose.
    severity
        0..1, how far the deposit goes (for soot: nose only, rim, threads); NaN where unknown.
    signs
        ``labels.SIGNS`` present, with strength 0..1; absent ones are left out.
    cover
        Share of each part of ``labels.PARTS`` covered by the label's deposit, 0..1.
    readable
        Whether anybody could read it (``readable.readable``); None in sets made before that was told.
    teaches
        Whether the reader may learn from it; smaller ones than ``readable`` do. None in sets that do not tell: then
        ``readable`` decides.
    signs_known
        Whether signs that are left out are absent, not unknown.
    shape
        Free facts about geometry: thread_mm, nose_mm, gap_mm, straps, electrode_mm, shell finish, thread dirt…
    """

    plug: int
    label: str
    ceramic: str
    surface: str
    box: tuple[float, float, float, float]
    axis: tuple[float, float]
    view_degrees: float
    nose_pixels: int
    severity: float
    signs: dict[str, float] = field(default_factory=dict)
    cover: dict[str, float] = field(default_factory=dict)
    shape: dict[str, Any] = field(default_factory=dict)
    readable: bool | None = None
    teaches: bool | None = None
    signs_known: bool = True


@dataclass(frozen=True, slots=True)
class PictureTruth:
    """One rendered picture.

    Attributes
    ----------
    file, mask
        Paths relative to the set's folder.
    scene
        Seed of the scene; pictures of one scene must never be split between training and test.
    kind
        ``close``, ``held``, ``whole``, ``row`` or ``other-part`` (no plug in the picture).
    width, height
        Pixels.
    plugs
        Every plug whose firing end is in the frame, in row order; empty for ``other-part``.
    nuisance
        Everything that must not matter: place, light, camera, blur, exposure in EV, JPEG quality…
    """

    file: str
    mask: str
    scene: int
    kind: str
    width: int
    height: int
    plugs: tuple[PlugTruth, ...]
    nuisance: dict[str, Any] = field(default_factory=dict)


def mask_value(plug_index: int, part: str) -> int:
    """Value in the mask for a part of the plug at this index of ``PictureTruth.plugs``.

    Examples
    --------
    >>> mask_value(0, "nose"), mask_value(2, "strap")
    (1, 19)
    """
    return PARTS_PER_PLUG * plug_index + PARTS.index(part)


def parts_of(mask: NDArray[np.uint8], index: int) -> NDArray[np.uint8]:
    """Index into ``labels.PARTS`` of every pixel (h, w) of the plug at this index of ``PictureTruth.plugs``.

    0 where there is none of it, or where the mask does not know (255).

    Examples
    --------
    >>> parts_of(np.array([[1, 19, 0, 255]], np.uint8), 2)
    array([[0, 3, 0, 0]], dtype=uint8)
    """
    value = np.arange(256, dtype=np.uint8)
    table = np.where((value // PARTS_PER_PLUG == index) & (value != 255), value % PARTS_PER_PLUG, np.uint8(0))
    return np.asarray(table[mask])


def write_truth(path: Path, truths: Iterable[PictureTruth]) -> None:
    """Append truths to a JSON-lines file."""
    with path.open("a", encoding="utf-8") as out:
        for truth in truths:
            out.write(json.dumps(asdict(truth), separators=(",", ":")) + "\n")


def read_truth(path: Path) -> Iterator[PictureTruth]:
    """Read every truth of a set; ``path`` is the set's ``truth.jsonl``."""
    with path.open(encoding="utf-8") as lines:
        for line in lines:
            raw = json.loads(line)
            plugs = tuple(
                PlugTruth(**{**p, "box": tuple(p["box"]), "axis": tuple(p["axis"])}) for p in raw.pop("plugs")
            )
            yield PictureTruth(plugs=plugs, **raw)
