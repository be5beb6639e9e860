"""What runs through an engine bay: hoses with their clamps, and wires in a loom."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from firingend_training.scenes.mesh import SurfaceMesh, merged
from firingend_training.scenes.solids import Finish, drawn, dressed, metal, moved, plastic, stretched

_WIRES = [
    (26, 26, 28),
    (26, 26, 28),
    (150, 34, 30),
    (40, 66, 140),
    (196, 160, 40),
    (60, 120, 66),
    (120, 78, 46),
    (200, 198, 192),
]


def hose(rng: np.random.Generator) -> SurfaceMesh:
    """A rubber hose lying in a bend, smooth or corrugated, often with a clamp."""
    radius = rng.uniform(4, 15)
    path = _bend(rng, rng.uniform(110, 260), 220)
    walls = np.full(len(path), radius)
    if rng.random() < 0.4:
        walls = walls * (1 + 0.09 * np.sign(np.sin(np.arange(len(path)) * rng.uniform(0.7, 1.3))))
    rubber = plastic(rng, (24, 24, 26), (24, 24, 26), (40, 40, 42), (62, 60, 58))
    parts = [dressed(drawn(path, walls, 28), rubber, rng)]
    if rng.random() < 0.6:
        at, wide = int(rng.integers(10, 190)), int(rng.integers(5, 10))
        band = drawn(path[at : at + wide], radius * 1.13, 36)
        parts.append(dressed(band, metal(rng, "steel", "zinc", "chrome"), rng))
    return merged(parts)


def loom(rng: np.random.Generator) -> SurfaceMesh:
    """Wires side by side along one bend, taped together here and there, some with a plug-in housing at the end."""
    path = _bend(rng, rng.uniform(90, 240), 140)
    count, thick = int(rng.integers(3, 9)), rng.uniform(0.8, 1.6)
    layout = rng.normal(0, 1, (count, 2))
    for _ in range(40):  # push apart what overlaps
        apart = layout[:, None] - layout[None]
        gap = np.linalg.norm(apart, axis=-1) + np.eye(count)
        layout = layout + (0.3 * apart / gap[..., None] * np.clip(1.9 - gap, 0, None)[..., None]).sum(1)
        layout = layout * 0.97
    layout = (layout - layout.mean(0)) * thick
    across = _across(path)
    parts = []
    for x, z in layout:
        stray = 0.35 * thick * np.sin(np.linspace(0, rng.uniform(4, 14), len(path)) + rng.uniform(0, 6))
        wire = path + across * (x + stray)[:, None]
        wire[:, 2] += z
        parts.append(dressed(drawn(wire, thick, 12), plastic(rng, *_WIRES), rng))
    bundle = float(np.linalg.norm(layout, axis=1).max()) + 1.35 * thick
    tape = Finish(np.full(3, 0.012, np.float32), roughness=float(rng.uniform(0.3, 0.6)), mottle=0.1)
    for _ in range(int(rng.integers(1, 4))):
        at, wide = int(rng.integers(2, len(path) - 40)), int(rng.integers(6, 38))
        parts.append(dressed(drawn(path[at : at + wide], bundle, 20), tape, rng))
    if rng.random() < 0.5:
        long, half = rng.uniform(10, 22), bundle * rng.uniform(1.0, 1.5)
        onward = _along(path)[-1]
        line = np.linspace(0, 1, 14)[:, None] * long * onward
        shell = moved(stretched(drawn(line, half, 4), (1, 1, 0.8)), path[-1] - 2 * onward)
        parts.append(dressed(shell, plastic(rng, (30, 30, 32), (190, 190, 184), (70, 72, 76), (40, 70, 130)), rng))
    return merged(parts)


def _bend(rng: np.random.Generator, length: float, count: int) -> NDArray[np.float64]:
    """(count, 3) mm: a line in the plane that bends slowly one way and perhaps back."""
    t = np.linspace(0, 1, count)
    heading = rng.uniform(-1.6, 1.6) * t + rng.uniform(0, 0.7) * np.sin(2 * np.pi * (t * rng.uniform(0.5, 1.5)))
    step = length / count
    return np.stack([np.cumsum(np.cos(heading)) * step, np.cumsum(np.sin(heading)) * step, 0 * t], 1)


def _along(path: NDArray[np.float64]) -> NDArray[np.float64]:
    tangent = np.gradient(path, axis=0)
    return np.asarray(tangent / np.linalg.norm(tangent, axis=1, keepdims=True))


def _across(path: NDArray[np.float64]) -> NDArray[np.float64]:
    tangent = _along(path)
    return np.stack([-tangent[:, 1], tangent[:, 0], 0 * tangent[:, 0]], 1)
