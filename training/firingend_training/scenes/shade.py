"""Something out of the picture that stands before a lamp and throws its shadow on firing ends."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firingend_training.scenes.mesh import SurfaceMesh, merged, placed
from firingend_training.scenes.solids import (
    drawn,
    dressed,
    metal,
    moved,
    plastic,
    rotation_about,
    stretched,
    turned,
    turned_about,
)
from firingend_training.scenes.view import View, unit

Vector = NDArray[np.floating]
LEAST_SHARE = 0.6
"""Share of the firing ends' points that must lie in the shadow."""
_TRIES = 60
_CLEAR_MM = 16.0
"""Room left between what throws the shadow and the plugs."""


@dataclass(frozen=True, slots=True)
class Shadow:
    """What stands before the lamp, where the lamp is (mm, world), and the share of the points in its shadow."""

    mesh: SurfaceMesh
    lamp_position: Vector
    share: float


def cast_shadow(
    rng: np.random.Generator, ends: Vector, bodies: Vector, views: Sequence[View], lamp_distance: float
) -> Shadow | None:
    """Find a place for lamp and obstacle so that most of the firing ends lie in the obstacle's shadow.

    Parameters
    ----------
    rng
        Source of every choice.
    ends
        (n, 3) mm, points spread over the firing ends, in the world.
    bodies
        (k, 3) mm, points along the plugs' axes, which the obstacle keeps away from.
    views
        Cameras; the obstacle is in none of their pictures.
    lamp_distance
        From the middle of the firing ends, mm.

    Returns
    -------
    None where no place was found: a camera that looks down on a long row leaves few.
    """
    middle = ends.mean(0)
    spread = float(np.linalg.norm(ends - middle, axis=1).max())
    for _ in range(_TRIES):
        lift, heading = np.arcsin(rng.uniform(0.25, 0.95)), rng.uniform(0, 2 * np.pi)
        to_lamp = np.array([np.cos(lift) * np.cos(heading), np.cos(lift) * np.sin(heading), np.sin(lift)])
        away = spread + rng.uniform(45, 240)
        frame = _frame_across(rng, to_lamp)
        lamp = middle + lamp_distance * to_lamp
        crossing = _crossings(ends, lamp, middle + away * to_lamp, frame)
        obstacle, covers, reach = _OBSTACLES[int(rng.integers(len(_OBSTACLES)))](rng, crossing)
        share = float(covers(crossing).mean())
        outline = middle + away * to_lamp + _grid(reach) @ frame[:, :2].T
        if share < LEAST_SHARE or outline[:, 2].min() < 3 or _too_near(outline, bodies):
            continue
        if any(_in_picture(outline, view) for view in views):
            continue
        return Shadow(placed(obstacle, frame, middle + away * to_lamp), lamp, share)
    return None


def _frame_across(rng: np.random.Generator, to_lamp: Vector) -> Vector:
    """Rotation whose third column is ``to_lamp``, turned about it at random."""
    helper = np.array([1.0, 0, 0]) if abs(to_lamp[0]) < 0.9 else np.array([0, 1.0, 0])
    x = unit(np.cross(helper, to_lamp))
    turn = rng.uniform(0, 2 * np.pi)
    x = np.cos(turn) * x + np.sin(turn) * np.cross(to_lamp, x)
    return np.stack([x, np.cross(to_lamp, x), to_lamp], 1)


def _crossings(ends: Vector, lamp: Vector, centre: Vector, frame: Vector) -> Vector:
    """(n, 2) mm: where the lines from points to the lamp cross the plane of the obstacle."""
    normal = frame[:, 2]
    share = ((centre - ends) @ normal) / ((lamp - ends) @ normal)
    crossing: Vector = (ends + share[:, None] * (lamp - ends) - centre) @ frame[:, :2]
    return crossing


def _grid(reach: tuple[float, float, float, float]) -> Vector:
    x, y = np.meshgrid(np.linspace(reach[0], reach[2], 24), np.linspace(reach[1], reach[3], 24))
    return np.stack([x.ravel(), y.ravel()], 1)


def _too_near(outline: Vector, bodies: Vector) -> bool:
    return bool(np.linalg.norm(outline[:, None] - bodies[None], axis=-1).min() < _CLEAR_MM)


def _in_picture(outline: Vector, view: View) -> bool:
    """Whether a camera sees any of these points, or would with a slightly wider lens."""
    before = (outline - view.origin) @ view.frame()[2] > 1.0
    pixels = view.project(outline[before])
    margin = 0.06 * max(view.width, view.height)
    inside = (pixels > -margin).all(1) & (pixels[:, 0] < view.width + margin) & (pixels[:, 1] < view.height + margin)
    return bool(inside.any())


# ------------------------------------------------------------------ obstacles
#
# In a plane of their own, z up to a few mm: the mesh, whether it covers points (n, 2) of the plane, and its bounds.

_Obstacle = tuple[SurfaceMesh, Callable[[Vector], NDArray[np.bool_]], tuple[float, float, float, float]]


def _edge(rng: np.random.Generator, crossing: Vector) -> float:
    """Where along x the shadow ends: beyond most of the firing ends, or beyond all of them."""
    last = float(np.quantile(crossing[:, 0], rng.uniform(LEAST_SHARE, 1)))
    return last + (rng.uniform(1, 12) if rng.random() < 0.35 else 0.0)


def _plate(rng: np.random.Generator, crossing: Vector) -> _Obstacle:
    """A lid, a book, a bonnet's edge: a plate with one straight edge across the firing ends."""
    (left, low), (_, high) = crossing.min(0), crossing.max(0)
    x0, x1 = left - rng.uniform(3, 40), _edge(rng, crossing)
    y0, y1 = low - rng.uniform(2, 30), high + rng.uniform(2, 30)
    cube = turned_about(
        turned([(0, 0), (0.7071, 0, 4), (0.7071, 1, 4), (0, 1)], 32), rotation_about((0, 0, 1), np.pi / 4)
    )
    block = moved(stretched(cube, (x1 - x0, y1 - y0, rng.uniform(1, 6))), ((x0 + x1) / 2, (y0 + y1) / 2, 0))
    mesh = dressed(block, plastic(rng) if rng.random() < 0.6 else metal(rng), rng)
    return mesh, lambda p: (p > [x0, y0]).all(1) & (p < [x1, y1]).all(1), (x0, y0, x1, y1)


def _round(rng: np.random.Generator, crossing: Vector) -> _Obstacle:
    """A tin, a wheel, a head: a disc whose rim crosses the firing ends."""
    edge, (left, low), (_, high) = _edge(rng, crossing), crossing.min(0), crossing.max(0)
    radius = 0.6 * max(edge - left, high - low) * rng.uniform(1.0, 2.0)
    x, y = edge - radius, (low + high) / 2 + rng.normal(0, 0.1) * (high - low)
    thick = rng.uniform(1, 6)
    disc = moved(turned([(0, 0), (radius, 0), (radius, thick), (0, thick)], 72), (x, y, 0))
    mesh = dressed(disc, plastic(rng) if rng.random() < 0.6 else metal(rng), rng)
    reach = (x - radius, y - radius, x + radius, y + radius)
    return mesh, lambda p: np.hypot(p[:, 0] - x, p[:, 1] - y) < radius, reach


def _bars(rng: np.random.Generator, crossing: Vector) -> _Obstacle:
    """Fingers, hoses, a grille: round bars side by side, with slits of light between some of them."""
    edge, (left, low), (_, high) = _edge(rng, crossing), crossing.min(0), crossing.max(0)
    y0, y1 = low - rng.uniform(5, 30), high + rng.uniform(5, 30)
    start = left - rng.uniform(0, 15)
    count = max(2, int(np.ceil((edge - start) / rng.uniform(9, 18))))
    pitch = (edge - start) / count
    radius = pitch / 2 * rng.uniform(0.86, 1.0)
    finish = plastic(rng, (200, 150, 124), (150, 100, 76), (30, 30, 32), (90, 92, 96))
    t = np.linspace(y0, y1, 12)
    xs = edge - radius - pitch * np.arange(count)
    bars = [dressed(drawn(np.stack([0 * t + x, t, 0 * t], -1), radius, 24), finish, rng) for x in xs]

    def covers(p: Vector) -> NDArray[np.bool_]:
        beside = np.abs(p[:, :1] - xs[None]).min(1) < radius
        return np.asarray(beside & (p[:, 1] > y0) & (p[:, 1] < y1))

    return merged(bars), covers, (float(xs.min() - radius), y0, float(xs.max() + radius), y1)


_OBSTACLES: tuple[Callable[[np.random.Generator, Vector], _Obstacle], ...] = (_plate, _round, _bars)
