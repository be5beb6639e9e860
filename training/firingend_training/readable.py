"""Which rendered plugs anybody could read: the others teach finding, not labels, and no score counts them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firingend.labels import LABELS, PARTS
from firingend.reading.reading import longer_side
from firingend_training.truth import PlugTruth, parts_of

LEAST_BOX: Final = 80.0
"""Longer side of the box in pixels the picture really has (before it was enlarged)."""
LEAST_TO_LEARN: Final = 56.0
"""The same for plugs to learn from: the reader may learn from what no score counts."""
LEAST_NOSE: Final = 0.012
"""Visible nose over the square on the longer side of the box."""
MOST_BLUR: Final = 0.02
"""Standard deviation of the blur over the longer side of the box."""


DARKEST: Final = 70.0
"""Luma of the lightest twentieth of a firing end; soot is black, but never the whole of threads, rim and strap."""
MOST_WASHED_OUT: Final = 0.5
"""Share of a firing end, or of its nose, with every channel at 250 or more."""
LEAST_GLINT: Final = 1.8
"""Brightest fiftieth of a nose against what lies around it, linear, below which nobody sees that it is covered by a
liquid. Dry noses of 338 pictures pass it in a fifth of them and oiled ones nearly always, so the rule says only that a
film may be seen, never that there is one."""
LEAST_METAL_GLINT: Final = 2.6
"""The same on rim and strap, whose dry edges glint too, where drops are known to stand there."""

DARKEST_NOSE: Final = {"pale": 40.0, "tan": 15.0}
"""L* that the lightest quarter of a dry nose must reach in the picture: a white nose deep in shadow is dark there."""
LIGHTEST_NOSE: Final = {"black": 50.0}
"""L* that it must not pass: under a lifted exposure soot is as light as a cream nose: 16 of 71 sooty noses of one
set were, and looked tan, white or plain grey."""
BURNED_OUT: Final = (93.0, 10.0)
"""L* and chroma (medians) beyond which a tan nose has burned out to white."""
WHITE_NOSE: Final = (60.0, 6.0)
"""L* of the lightest quarter above which, and chroma of the lighter half below which a tan nose looks white: two in
three of 283 light lean noses lie there, 4.7 % of 337 light tan ones."""
CREAM_NOSE: Final = 16.0
"""Chroma of the lighter half above which a lean nose looks tan, be it by a cast."""


def readable(plug: PlugTruth, height: int, nuisance: Mapping[str, Any], least_box: float = LEAST_BOX) -> bool:
    """Whether nose, size and sharpness leave something to read.

    Parameters
    ----------
    plug
        A plug of the picture.
    height
        Of the picture, pixels.
    nuisance
        The picture's; ``shrink_to`` (height it was shrunk to before it was enlarged again, 0 for never),
        ``defocus`` (standard deviation, pixels) and ``motion`` (length, pixels) count.
    least_box
        :data:`LEAST_BOX` or :data:`LEAST_TO_LEARN`.

    Notes
    -----
    Limits set by eye on contact sheets of this project's renders; common practice has no number for them.
    """
    side = longer_side(plug.box)
    shrunk = float(nuisance.get("shrink_to") or 0.0)
    kept = min(1.0, shrunk / height) if shrunk > 0 else 1.0
    # A straight smear of length L has the spread of a uniform distribution: L / √12.
    blur = (float(nuisance.get("defocus") or 0.0) ** 2 + float(nuisance.get("motion") or 0.0) ** 2 / 12) ** 0.5
    return side * kept >= least_box and plug.nose_pixels >= LEAST_NOSE * side**2 and blur <= MOST_BLUR * side


def lit(picture: NDArray[np.uint8], mask: NDArray[np.uint8], index: int) -> bool:
    """Whether the exposure leaves something of the plug at this index to see.

    Parameters
    ----------
    picture
        (h, w, 3) sRGB.
    mask
        (h, w) of ``truth.mask_value``; 255 where unknown.
    """
    part = parts_of(mask, index)
    end = (part > 0) & (part != PARTS.index("body"))
    if not end.any():
        return False
    pixels = picture[end]
    if np.percentile(pixels @ np.array([0.299, 0.587, 0.114]), 95) < DARKEST:
        return False
    nose = picture[part == PARTS.index("nose")]
    return all((p.min(1) >= 250).mean() <= MOST_WASHED_OUT for p in (pixels, nose) if len(p))


def tone_tells(picture: NDArray[np.uint8], mask: NDArray[np.uint8], index: int, ceramic: str) -> bool:
    """Whether a dry nose is in the picture about as light as what it carries.

    Exposure, shadow and a phone's grading move a nose by tens of L*: a label that contradicts what is to be seen
    teaches a reader to call cream noses sooty.

    Parameters
    ----------
    picture
        (h, w, 3) sRGB.
    mask
        (h, w) of ``truth.mask_value``; 255 where unknown.
    ceramic
        One of ``labels.CERAMIC``.

    Notes
    -----
    Limits set by eye on contact sheets of this project's renders; common practice has no number for them.
    """
    nose = picture[parts_of(mask, index) == PARTS.index("nose")]
    if not len(nose):
        return True
    lab = cv2.cvtColor(nose[None].astype(np.float32) / 255, cv2.COLOR_RGB2LAB)[0]
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    middle, light = (float(tone) for tone in np.percentile(lab[:, 0], (50, 75)))
    if not DARKEST_NOSE.get(ceramic, 0.0) <= light <= LIGHTEST_NOSE.get(ceramic, 100.0):
        return False
    coloured = float(np.median(chroma[lab[:, 0] >= middle]))
    if ceramic == "pale":
        return coloured <= CREAM_NOSE
    if ceramic == "tan":
        burned_out = middle > BURNED_OUT[0] and float(np.median(chroma)) < BURNED_OUT[1]
        white = light > WHITE_NOSE[0] and coloured < WHITE_NOSE[1]
        return not (burned_out or white)
    return True


def film_shows(
    picture: NDArray[np.uint8], mask: NDArray[np.uint8], index: int, side: float, *, drops: bool = False
) -> bool:
    """Whether a film on the plug at this index leaves glints or beads in the picture.

    Under even light a smooth film mirrors nothing brighter than itself; a label that hangs on it is then a guess.

    Parameters
    ----------
    picture
        (h, w, 3) sRGB.
    mask
        (h, w) of ``truth.mask_value``; 255 where unknown.
    side
        Longer side of the firing end's box, pixels.
    drops
        Whether drops stand on rim and strap too: where they glint, the nose need not.
    """
    if _glint(picture, mask, index, side, ("nose",)) >= LEAST_GLINT:
        return True
    return drops and _glint(picture, mask, index, side, ("rim", "strap")) >= LEAST_METAL_GLINT


def told(plug: PlugTruth, picture: NDArray[np.uint8], mask: NDArray[np.uint8], index: int) -> bool:
    """Whether the picture shows what the plug's label says: light, the nose's tone, a film.

    Parameters
    ----------
    plug
        The plug at this index of the picture's truth.
    picture
        (h, w, 3) sRGB.
    mask
        (h, w) of ``truth.mask_value``; 255 where unknown.
    """
    if not lit(picture, mask, index):
        return False
    if plug.surface == "dry":
        return plug.label not in LABELS or tone_tells(picture, mask, index, plug.ceramic)
    drops = plug.shape.get("drops", 0.0) > 0
    return film_shows(picture, mask, index, longer_side(plug.box), drops=drops)


def _glint(
    picture: NDArray[np.uint8], mask: NDArray[np.uint8], index: int, side: float, parts: tuple[str, ...]
) -> float:
    """Brightest fiftieth of some parts of a plug against what lies around it, linear; 0 where none shows."""
    where = np.isin(parts_of(mask, index), [PARTS.index(part) for part in parts])
    if not where.any():
        return 0.0
    rows, columns = np.flatnonzero(where.any(1)), np.flatnonzero(where.any(0))
    around = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    light = (picture[around].astype(np.float32) / 255) ** 2.2 @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    share = where[around].astype(np.float32)
    spread = max(1.0, 0.05 * side)
    local = cv2.GaussianBlur(light * share, (0, 0), spread) / np.maximum(cv2.GaussianBlur(share, (0, 0), spread), 1e-3)
    # The small constant keeps the noise of a black nose from passing for glints.
    return float(np.percentile((light / (local + 0.004))[share > 0], 98))
