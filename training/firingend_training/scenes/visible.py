"""From what the rays through a picture's pixels hit to the truth written beside it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from firingend.labels import PARTS
from firingend_training.scenes.composition import PlugInScene
from firingend_training.scenes.view import View
from firingend_training.truth import PARTS_PER_PLUG, PlugTruth

LEAST_SHARE = 0.03
"""Nose, electrode and strap must fill this share of the firing end's box, or nobody could read the plug."""
LEAST_IN_FRAME = 0.6
"""Share of the firing end's points inside the frame below which it does not count as in the picture."""
LEAST_BOX_PIXELS = 12

_TELLING = [PARTS.index(name) for name in ("nose", "centre-electrode", "strap")]


def plug_truths(
    members: tuple[PlugInScene, ...], view: View, hit: NDArray[np.uint8], in_box: NDArray[np.bool_]
) -> tuple[tuple[PlugTruth, ...], NDArray[np.uint8]]:
    """Truth of every readable plug in row order, and the mask numbered in that order.

    Parameters
    ----------
    members
        Plugs of the scene.
    view
        The camera.
    hit
        uint8 (H, W): ``truth.mask_value`` by place in ``members``, 0 where no plug is seen.
    in_box
        bool (H, W): whether the face hit counts for the firing end's box.

    Returns
    -------
    The truths and the mask; plugs left out of the truths are 0 in the mask.
    """
    found: list[tuple[int, PlugTruth]] = []
    for index, member in enumerate(members):
        truth = _plug_truth(index, member, view, hit, in_box)
        if truth is not None:
            found.append((index, truth))
    found = _in_row_order(found)
    renumber = np.zeros(256, np.uint8)
    for place, (index, _) in enumerate(found):
        for part in range(1, PARTS_PER_PLUG):
            renumber[PARTS_PER_PLUG * index + part] = PARTS_PER_PLUG * place + part
    return tuple(truth for _, truth in found), renumber[hit]


def _plug_truth(
    index: int, member: PlugInScene, view: View, hit: NDArray[np.uint8], in_box: NDArray[np.bool_]
) -> PlugTruth | None:
    mine = (hit // PARTS_PER_PLUG == index) & (hit % PARTS_PER_PLUG > 0)
    boxed = mine & in_box
    if not boxed.any():
        return None
    rows, columns = np.flatnonzero(boxed.any(1)), np.flatnonzero(boxed.any(0))
    box = (float(columns[0]), float(rows[0]), float(columns[-1] + 1), float(rows[-1] + 1))
    area = (box[2] - box[0]) * (box[3] - box[1])
    telling = int((mine & np.isin(hit % PARTS_PER_PLUG, _TELLING)).sum())
    if min(box[2] - box[0], box[3] - box[1]) < LEAST_BOX_PIXELS or telling < LEAST_SHARE * area:
        return None
    pixels = view.project(member.firing_end)
    inside = (pixels >= 0).all(1) & (pixels[:, 0] < view.width) & (pixels[:, 1] < view.height)
    if inside.mean() < LEAST_IN_FRAME:
        return None
    axis, degrees = _axis_in_picture(member, view)
    condition = member.condition
    return PlugTruth(
        plug=member.number,
        label=condition.label,
        ceramic=condition.ceramic,
        surface=condition.surface,
        box=box,
        axis=axis,
        view_degrees=degrees,
        nose_pixels=int((mine & (hit % PARTS_PER_PLUG == PARTS.index("nose"))).sum()),
        severity=round(condition.severity, 3),
        signs=dict(condition.signs),
        cover=dict(member.cover),
        shape=member.shape.facts()
        | member.shell.facts()
        | {"under": condition.under, "sheen": round(condition.sheen, 3)},
    )


def _axis_in_picture(member: PlugInScene, view: View) -> tuple[tuple[float, float], float]:
    """Projected axis, its length the sine of the view angle, and that angle in degrees."""
    centre = member.firing_end.mean(0)
    to_camera = view.origin - centre
    cosine = float(np.clip(to_camera @ member.axis / np.linalg.norm(to_camera), -1, 1))
    first, second = view.project(np.stack([centre, centre + 0.05 * member.axis]))
    step = second - first
    length = np.hypot(*step)
    sine = np.sqrt(1 - cosine**2)
    scale = sine / length if length > 1e-9 else 0.0
    return (
        (round(float(step[0] * scale), 4), round(float(step[1] * scale), 4)),
        round(float(np.degrees(np.arccos(cosine))), 2),
    )


def _in_row_order(found: list[tuple[int, PlugTruth]]) -> list[tuple[int, PlugTruth]]:
    """Left to right, or top to bottom where the row stands more upright than flat."""
    if len(found) < 2:
        return found
    centres = np.array([[(t.box[0] + t.box[2]) / 2, (t.box[1] + t.box[3]) / 2] for _, t in found])
    spread = np.ptp(centres, axis=0)
    order = np.argsort(centres[:, 1 if spread[1] > spread[0] else 0], kind="stable")
    return [found[k] for k in order]
