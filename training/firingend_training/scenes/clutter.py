"""Things that lie about on a bench."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from firingend_training.scenes.bay_parts import hose, loom
from firingend_training.scenes.mesh import SurfaceMesh, merged, placed
from firingend_training.scenes.near_misses import OTHER_PARTS, other_part
from firingend_training.scenes.packaging import blister_card, carton
from firingend_training.scenes.solids import (
    drawn,
    dressed,
    hexagon_head,
    metal,
    moved,
    plastic,
    rotation_about,
    stretched,
    thread,
    turned,
    turned_about,
)

Site = Literal["held out", "bench", "engine bay"]
_REACH_MM = 150.0
_APART_MM = 1.5
_TRIES: dict[Site, int] = {"held out": 10, "bench": 30, "engine bay": 40}
"""Places tried for a thing: cards and hoses are large, and fit into few."""
_COUNTS = (1, 2, 3, 4, 6, 8)
_COUNT_SHARES: dict[Site, tuple[float, ...]] = {
    "held out": (0.22, 0.24, 0.2, 0.16, 0.12, 0.06),
    "bench": (0.22, 0.24, 0.2, 0.16, 0.12, 0.06),
    "engine bay": (0.05, 0.1, 0.15, 0.25, 0.25, 0.2),
}
_ON_ITS_SIDE = rotation_about((0, 1, 0), np.pi / 2)


def clutter(
    rng: np.random.Generator, keep_clear: Sequence[tuple[float, float, float]], site: Site = "held out"
) -> SurfaceMesh:
    """Tools and small parts on the plane z = 0, up to about 150 mm from the origin.

    Parameters
    ----------
    rng
        Source of every choice.
    keep_clear
        Circles (x, y, radius) mm nothing may stand over.
    site
        Where it lies; the held-out split keeps to its own things, without packaging, hoses and wires.

    Returns
    -------
    SurfaceMesh
        At least one object; when there is no room near by, a washer far outside.
    """
    lying: list[SurfaceMesh] = []
    circles = np.asarray(keep_clear, np.float64).reshape(-1, 3)
    taken: NDArray[np.float64] = np.zeros((0, 2))
    things = _THINGS_AT[site]
    names = list(things)
    weights = np.array([weight for _, weight in things.values()])
    for _ in range(int(rng.choice(_COUNTS, p=_COUNT_SHARES[site]))):
        name = names[int(rng.choice(len(names), p=weights / weights.sum()))]
        thing = _on_the_bench(things[name][0](rng))
        outline = _outline(thing)
        for _ in range(_TRIES[site]):
            distance, bearing = _REACH_MM * rng.uniform(0.05, 1), rng.uniform(0, 2 * np.pi)
            spot = np.array([distance * np.cos(bearing), distance * np.sin(bearing), 0])
            turn = rotation_about((0, 0, 1), rng.uniform(0, 2 * np.pi))
            covers = outline @ turn[:2, :2].T + spot[:2]
            if _is_clear(covers, circles, taken):
                lying.append(placed(thing, turn, spot))
                taken = np.concatenate([taken, covers])
                break
    if not lying:
        far = 400.0 + (np.abs(circles).sum(1).max() if len(circles) else 0.0)
        lying.append(placed(_on_the_bench(_washer(rng)), np.eye(3), np.array([far, 0, 0])))
    return merged(lying)


def _on_the_bench(mesh: SurfaceMesh) -> SurfaceMesh:
    low, high = mesh.points.min(0), mesh.points.max(0)
    foot = np.array([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]], np.float32)
    return replace(mesh, points=mesh.points - foot)


def _outline(mesh: SurfaceMesh) -> NDArray[np.float64]:
    """Points seen from above, dense enough that no circle slips between (edges of large facets filled in)."""
    corners = mesh.points[mesh.faces][..., :2].astype(np.float64)
    edges = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
    long = np.linalg.norm(edges[:, 0] - edges[:, 1], axis=1) > 3
    steps = np.linspace(0, 1, 25)[:, None, None]
    filled = (edges[long, 0] * (1 - steps) + edges[long, 1] * steps).reshape(-1, 2)
    cells = np.round(np.concatenate([mesh.points[:, :2].astype(np.float64), filled])).astype(np.int64)
    _, first = np.unique(cells[:, 0] * 100_003 + cells[:, 1], return_index=True)
    return cells[first].astype(np.float64)


def _is_clear(outline: NDArray[np.float64], circles: NDArray[np.float64], taken: NDArray[np.float64]) -> bool:
    for x, y, radius in circles:
        nearest = np.hypot(outline[:, 0] - x, outline[:, 1] - y).min()
        if nearest < radius + _APART_MM:
            return False
    if not len(taken):
        return True
    distance, _ = cKDTree(taken).query(outline, distance_upper_bound=_APART_MM + 1)
    return bool(np.min(distance) > _APART_MM)


# ------------------------------------------------------------------ things


def _rod(rng: np.random.Generator) -> SurfaceMesh:
    length, radius = rng.uniform(60, 200), rng.uniform(2, 8)
    t = np.linspace(-length / 2, length / 2, 24)
    finish = metal(rng) if rng.random() < 0.7 else plastic(rng)
    return dressed(drawn(np.stack([t, 0 * t, 0 * t], -1), radius, 40), finish, rng)


def _cable(rng: np.random.Generator) -> SurfaceMesh:
    """A lead meandering on the bench."""
    t = np.linspace(0, 1, 160)
    angle = (
        np.cumsum(rng.normal(0, 1) + rng.uniform(1, 4) * np.sin(rng.uniform(1, 5) * 2 * np.pi * t + rng.uniform(0, 6)))
        / 60
    )
    step = rng.uniform(0.7, 1.5)
    path = np.stack([np.cumsum(np.cos(angle)) * step, np.cumsum(np.sin(angle)) * step, 0 * t], -1)
    colours = [(24, 24, 26), (24, 24, 26), (180, 40, 36), (40, 70, 150), (210, 180, 40), (120, 120, 120)]
    return dressed(drawn(path, rng.uniform(1, 4.2), 20), plastic(rng, *colours), rng)


def _spanner(rng: np.random.Generator) -> SurfaceMesh:
    """A ring spanner: two rings joined by a flat bar."""
    length, ring, thick = rng.uniform(90, 170), rng.uniform(8, 15), rng.uniform(5, 9)
    finish = metal(rng, "chrome", "chrome", "steel", "black oxide")
    t = np.linspace(ring * 0.9, length - ring * 0.9, 20)
    bar = stretched(drawn(np.stack([t, 0 * t, 0 * t], -1), ring * 0.42, 24), (1, 1, 0.45))
    parts = [dressed(moved(bar, (0, 0, thick / 2)), finish, rng)]
    for x, size in ((0.0, ring), (length, ring * rng.uniform(0.8, 1.2))):
        profile: list[tuple[float, ...]] = [
            (size * 0.62, 0, 12),
            (size * 0.95, 0),
            (size, 0.6),
            (size, thick - 0.6),
            (size * 0.95, thick),
            (size * 0.62, thick, 12),
            (size * 0.62, 0, 12),
        ]
        parts.append(dressed(moved(turned(profile, 96), (x, 0, 0)), finish, rng))
    return merged(parts)


def _screwdriver(rng: np.random.Generator) -> SurfaceMesh:
    handle, blade = rng.uniform(70, 110), rng.uniform(60, 130)
    r = rng.uniform(9, 15)
    grip: list[tuple[float, ...]] = [
        (0, 0),
        (r * 0.8, 0, 8),
        (r, 3, 8),
        (r, handle * 0.6, 8),
        (r * 0.7, handle * 0.75),
        (r * 0.8, handle),
        (0, handle),
    ]
    shaft = [
        (0, handle - 1),
        (r * 0.28, handle - 1),
        (r * 0.28, handle + blade - 6),
        (r * 0.2, handle + blade),
        (0, handle + blade),
    ]
    colours = [(200, 40, 36), (230, 170, 30), (30, 80, 170), (28, 28, 30), (60, 140, 70), (224, 110, 30)]
    parts = [
        dressed(turned(grip, 64), plastic(rng, *colours), rng),
        dressed(turned(shaft, 40), metal(rng, "chrome", "steel", "black oxide"), rng),
    ]
    return placed(merged(parts), _ON_ITS_SIDE, np.zeros(3))


def _lying_bolt(rng: np.random.Generator) -> SurfaceMesh:
    r, length = rng.uniform(2.5, 7), rng.uniform(14, 60)
    finish = metal(rng)
    parts = [
        dressed(hexagon_head(r * 1.9, 0, r * 1.3), finish, rng),
        dressed(thread(r, r * 1.2, length, 0.25 * r, 48), finish, rng),
    ]
    return placed(merged(parts), _ON_ITS_SIDE, np.zeros(3))


def _washer(rng: np.random.Generator) -> SurfaceMesh:
    r = rng.uniform(5, 16)
    hole, thick = r * rng.uniform(0.4, 0.65), rng.uniform(0.8, 2)
    shell = turned([(hole, 0), (r, 0), (r, thick), (hole, thick), (hole, 0)], 64)
    return dressed(shell, metal(rng), rng)


def _cup(rng: np.random.Generator) -> SurfaceMesh:
    """A cup, a lid or a small tin."""
    r = rng.uniform(18, 38)
    h = r * rng.choice([0.35, 1.2, 2.0])
    wall = rng.uniform(0.8, 3)
    profile = [(0, 0), (r * 0.9, 0), (r * 0.94, 1), (r, h), (r - wall, h), (r * 0.93 - wall, 2), (0, 2)]
    finish = (
        plastic(rng, (235, 232, 226), (30, 50, 110), (170, 36, 32), (40, 40, 42))
        if rng.random() < 0.6
        else metal(rng, "aluminium", "zinc", "steel")
    )
    return dressed(turned(profile, 96), finish, rng)


def _bottle(rng: np.random.Generator) -> SurfaceMesh:
    r, h = rng.uniform(16, 30), rng.uniform(60, 120)
    body = [
        (0.0, 0.0),
        (r, 0.0),
        (r, h * 0.7),
        (r * 0.9, h * 0.78),
        (r * 0.4, h * 0.85),
        (r * 0.4, h * 0.9),
        (0.0, h * 0.9),
    ]
    cap = [(0.0, h * 0.86), (r * 0.46, h * 0.86), (r * 0.46, h), (0.0, h)]
    standing = merged([dressed(turned(body), plastic(rng), rng), dressed(turned(cap), plastic(rng), rng)])
    return standing if rng.random() < 0.5 else placed(standing, _ON_ITS_SIDE, np.zeros(3))


def _box(rng: np.random.Generator) -> SurfaceMesh:
    sides = rng.uniform(12, 60, 3) * np.array([1, 1, 0.5])
    block = turned_about(
        turned([(0, 0), (0.7071, 0, 4), (0.7071, 1, 4), (0, 1)], 32), rotation_about((0, 0, 1), np.pi / 4)
    )
    card = plastic(rng, (186, 148, 106), (236, 234, 228), (30, 60, 130), (196, 40, 36), (32, 32, 34), (226, 190, 40))
    return dressed(stretched(block, sides), replace(card, mottle=0.05), rng)


def _tape_roll(rng: np.random.Generator) -> SurfaceMesh:
    r, h = rng.uniform(22, 45), rng.uniform(12, 26)
    shell = turned([(r * 0.6, 0), (r, 0), (r, h), (r * 0.6, h), (r * 0.6, 0)], 80)
    return dressed(shell, plastic(rng, (24, 24, 26), (200, 170, 110), (180, 36, 32), (220, 220, 216)), rng)


def _small_part(rng: np.random.Generator) -> SurfaceMesh:
    """A near miss, standing or lying: sockets, coils, nuts, sensors."""
    _, mesh = other_part(rng, "train", str(rng.choice(_LIES_ABOUT)))
    if rng.random() < 0.7:
        mesh = placed(mesh, _ON_ITS_SIDE, np.zeros(3))
    return mesh


_LIES_ABOUT = [n for n in OTHER_PARTS["train"] if n not in ("piston", "plug upper end")]

_Maker = Callable[[np.random.Generator], SurfaceMesh]
_THINGS: dict[str, tuple[_Maker, float]] = {
    "small part": (_small_part, 3.0),
    "bolt": (_lying_bolt, 1.2),
    "washer": (_washer, 1.0),
    "rod": (_rod, 0.8),
    "cable": (_cable, 1.1),
    "spanner": (_spanner, 0.8),
    "screwdriver": (_screwdriver, 0.8),
    "cup": (_cup, 0.6),
    "bottle": (_bottle, 0.4),
    "box": (_box, 0.7),
    "tape": (_tape_roll, 0.4),
}
_THINGS_AT: dict[Site, dict[str, tuple[_Maker, float]]] = {
    "held out": _THINGS,
    "bench": _THINGS | {"carton": (carton, 0.8), "blister card": (blister_card, 0.7), "loom": (loom, 0.3)},
    "engine bay": {
        "hose": (hose, 2.5),
        "loom": (loom, 2.2),
        "bolt": (_lying_bolt, 1.2),
        "small part": (_small_part, 1.0),
        "washer": (_washer, 0.6),
        "rod": (_rod, 0.5),
    },
}
