"""From what the rays through a picture's pixels hit to the truth written beside it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firingend.labels import PARTS
from firingend_training.scenes.composition import PlugInScene, Vector
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
    found = _in_row_order(found, members, view)
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
        | {"under": condition.under, "sheen": round(condition.sheen, 3), "drops": round(condition.drops, 3)},
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


def _in_row_order(
    found: list[tuple[int, PlugTruth]], members: tuple[PlugInScene, ...], view: View
) -> list[tuple[int, PlugTruth]]:
    """One line: left to right, or top to bottom where it stands more upright than flat. Several: as text is read."""
    if len(found) < 2:
        return found
    if len({members[index].place[1] for index, _ in found}) > 1:
        place_of = text_order([members[index].place for index, _ in found], *_steps(members, view))
        return [found[k] for k in place_of]
    centres = np.array([[(t.box[0] + t.box[2]) / 2, (t.box[1] + t.box[3]) / 2] for _, t in found])
    spread = np.ptp(centres, axis=0)
    order = np.argsort(centres[:, 1 if spread[1] > spread[0] else 0], kind="stable")
    return [found[k] for k in order]


def _steps(members: tuple[PlugInScene, ...], view: View) -> tuple[Vector, Vector]:
    """Where a step to the next column and one to the next line lead in the picture, px right and down."""
    middle = np.concatenate([member.firing_end for member in members]).mean(0)
    start, along, across = view.project(
        np.stack([middle, middle + np.array([1.0, 0, 0]), middle + np.array([0, 1.0, 0])])
    )
    return along - start, across - start


def text_order(places: Sequence[tuple[int, int]], along: Vector, across: Vector) -> list[int]:
    """Indices of (column, line) places as text is read: what lies level in the picture is a row, the top one first.

    Parameters
    ----------
    places
        Column and line of each plug.
    along, across
        (2,) px right and down, of a step to the next column and to the next line.

    Examples
    --------
    >>> grid = [(0, 0), (0, 1), (1, 0), (1, 1)]
    >>> text_order(grid, np.array([9.0, 1]), np.array([1, -9.0]))  # the far line is the upper one
    [1, 3, 0, 2]
    >>> text_order(grid, np.array([1.0, 9]), np.array([9.0, 1]))  # turned by 90 degrees: columns are rows
    [0, 1, 2, 3]
    """
    level = abs(along[0]) >= abs(along[1])
    down, right = (across[1], along[0]) if level else (along[1], across[0])

    def reading_place(index: int) -> tuple[float, float]:
        column, line = places[index]
        row, within = (line, column) if level else (column, line)
        return row * float(np.sign(down)), within * float(np.sign(right))

    return sorted(range(len(places)), key=reading_place)
