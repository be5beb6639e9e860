"""Drops of fuel that stand on a wet plug and hang from its edges: bodies of clear liquid, not bumps of the metal.

A drop is an ellipsoid sunk a little into what it stands on; only light tells it, so it needs a surface of its own. A
path tracer finds hardly any of a lamp's light through that surface, which would make every drop a dark spot; so a drop
is in part a glossy body of the colour it stands on, by how much its mesh says in ``clearcoat`` (1: clear liquid alone).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from firingend_training.scenes.mesh import SurfaceMesh, merged
from firingend_training.scenes.noise import in_space
from firingend_training.scenes.plug_shape import PART_OF_ZONE, PlugGeometry, Zone
from firingend_training.scenes.view import unit

Floats = NDArray[np.floating]

FEWEST, MOST = 15, 120
SMALLEST_MM, LARGEST_MM = 0.12, 0.7
"""Radius of a drop where it stands."""
_SHARE_OF_ZONE = {Zone.RIM: 1.0, Zone.STRAP: 1.6, Zone.THREAD: 0.3, Zone.ELECTRODE: 1.0, Zone.NOSE: 0.25}
"""How readily drops stand on a square millimetre of each zone, before each plug's own leaning."""
_LEANING = 1.4
"""Widest natural logarithm of how much more, or less, readily drops stand on one zone of a plug than on others."""
_CLEAR = (0.0, 0.85)
"""Share of a plug's drops that is clear liquid, the rest being a glossy body."""
_LIGHT = (0.7, 1.4)
"""How bright that body is beside what it stands on."""
_ROUGHNESS = 0.04
_AROUND_MM = 0.4
"""What counts as the surroundings of a point when edges are looked for."""
_RINGS, _COLUMNS = 5, 12


def stand_drops(
    plug: SurfaceMesh, geometry: PlugGeometry, thickly: float, down: Floats, rng: np.random.Generator
) -> SurfaceMesh | None:
    """Drops on rim, strap, thread, electrode and nose of a plug.

    Parameters
    ----------
    plug
        The coated plug in its own frame, its vertices in the order of ``geometry``.
    geometry
        The plug before its deposits.
    thickly
        0..1, how many drops; 0 for none.
    down
        (3,) unit vector, where gravity pulls in the plug's frame: the largest drops hang that way.
    rng
        A stream of the drops' own.

    Returns
    -------
    Mesh of closed bodies in the plug's frame, its ``part`` being that of what each drop stands on, as an index into
    ``labels.PARTS``; None without drops.
    """
    if thickly <= 0:
        return None
    ground = _Ground(plug, geometry, rng)
    count = int(FEWEST + (MOST - FEWEST) * thickly * rng.uniform(0.6, 1.0))
    # Small ones are far more common: what is large has run together from many. Half as many again are drawn as are
    # wanted, since those that would touch a larger one fall away.
    radius = SMALLEST_MM + (LARGEST_MM - SMALLEST_MM) * rng.beta(1.2, rng.uniform(1.9, 3.4), count * 3 // 2)
    hanging = rng.random(len(radius)) < np.clip(3.0 * (radius - 0.22), 0.1, 0.7)
    order = np.argsort(-radius)
    radius, hanging = radius[order], hanging[order]
    spots = ground.spots(hanging, down, rng)
    kept = _apart(ground.points[spots], radius)
    kept = np.sort(rng.permutation(kept)[:count])
    spots, radius, hanging = spots[kept], radius[kept], hanging[kept]
    normals, _ = ground.surroundings(spots)
    clear = float(rng.uniform(*_CLEAR))
    light = float(rng.uniform(*_LIGHT))
    drops = []
    for spot, normal, size, hangs in zip(spots, normals, radius, hanging, strict=True):
        points, outward = _body(ground.points[spot], normal, size, down if hangs else None, rng)
        drops.append(_liquid(points, outward, PART_OF_ZONE[ground.zone[spot]], light * ground.colour[spot], clear))
    return merged(drops)


class _Ground:
    """Vertices that drops may stand on, with their chances and the shape of their surroundings."""

    def __init__(self, plug: SurfaceMesh, geometry: PlugGeometry, rng: np.random.Generator) -> None:
        where = np.flatnonzero(_open(geometry, float(rng.uniform(3.0, 6.0))))
        share = np.array([_SHARE_OF_ZONE.get(zone, 0.0) for zone in Zone])
        share = share * np.exp(rng.uniform(-_LEANING, _LEANING, len(share)))
        turn = np.linalg.qr(rng.standard_normal((3, 3)))[0]
        clusters = in_space(plug.points[where] @ turn, "soft", float(rng.uniform(0.25, 0.6)), rng)
        self.points = plug.points[where].astype(float)
        self.normals = plug.normals[where].astype(float)
        self.colour = plug.colour[where].astype(float)
        self.zone = geometry.zone[where]
        self.chance = _areas(plug)[where] * share[self.zone] * np.exp(rng.uniform(0.4, 1.1) * clusters)
        self._tree = KDTree(self.points)

    def spots(self, hanging: NDArray[np.bool_], down: Floats, rng: np.random.Generator) -> NDArray[np.int64]:
        """One vertex a drop; those that hang look for an edge that faces the ground."""
        drawn = rng.choice(len(self.points), (len(hanging), 24), p=self.chance / self.chance.sum())
        normal, bulge = self.surroundings(drawn.ravel())
        normal, bulge = normal.reshape(*drawn.shape, 3), bulge.reshape(drawn.shape)
        # Edges hold drops by themselves, the more so the lower ones.
        low = (self.points[drawn] @ down) / 4
        worth = 3.0 * bulge + np.where(hanging[:, None], 1.2 * (normal @ down) + low, 0.0)
        worth += rng.gumbel(0, np.where(hanging, 0.35, 0.9)[:, None], drawn.shape)
        best: NDArray[np.int64] = drawn[np.arange(len(drawn)), worth.argmax(1)]
        return best

    def surroundings(self, vertices: NDArray[np.integer]) -> tuple[Floats, Floats]:
        """Mean normal (n, 3) round each vertex, and how far it bulges out, 0 for a plain, near 1 for a sharp tip."""
        _, near = self._tree.query(self.points[vertices], k=48, distance_upper_bound=_AROUND_MM)
        found = near < len(self.points)
        near = np.where(found, near, vertices[:, None])
        # Dense rows of vertices must not outvote sparse ones: each counts for its area.
        weight = found * self.chance[near] + 1e-12
        weight /= weight.sum(1, keepdims=True)
        normal = np.einsum("nk,nkc->nc", weight, self.normals[near])
        length = np.linalg.norm(normal, axis=1, keepdims=True)
        normal = np.where(length > 0.2, normal, self.normals[vertices])
        normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
        middle = np.einsum("nk,nkc->nc", weight, self.points[near])
        bulge = ((self.points[vertices] - middle) * normal).sum(1) / (0.5 * _AROUND_MM)
        return normal, np.clip(bulge, 0, 1)


def _open(geometry: PlugGeometry, thread_mm: float) -> NDArray[np.bool_]:
    """Vertices of the firing end in the open air: no foot of a strap, no metal inside the nose."""
    shape, zone = geometry.shape, geometry.zone
    z, r = geometry.points[:, 2], np.hypot(geometry.points[:, 0], geometry.points[:, 1])
    clear: NDArray[np.bool_] = (zone == Zone.RIM) | ((zone == Zone.THREAD) & (z > -thread_mm))
    clear |= (zone == Zone.STRAP) & (z > 0.15)
    clear |= (zone == Zone.ELECTRODE) & (z > shape.nose + 0.15)
    clear |= (zone == Zone.NOSE) & (z > max(shape.nose - 4.0, -2.0)) & (r > shape.electrode_radius + 0.2)
    return clear


def _areas(plug: SurfaceMesh) -> Floats:
    """Area of the surface that belongs to each vertex, mm²."""
    a, b, c = (plug.points[plug.faces[:, k]].astype(float) for k in range(3))
    third = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 6
    return np.asarray(np.bincount(plug.faces.ravel(), np.repeat(third, 3), len(plug.points)), float)


def _apart(points: Floats, radius: Floats) -> NDArray[np.int64]:
    """Drops that do not touch a larger one before them: where they did, they would have run together."""
    kept: list[int] = []
    for index in range(len(points)):
        distance = np.linalg.norm(points[kept] - points[index], axis=1)
        if (distance > 1.05 * (radius[kept] + radius[index])).all():
            kept.append(index)
    return np.array(kept, np.int64)


def _body(
    foot: Floats, normal: Floats, radius: float, hanging: Floats | None, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Points and normals of an ellipsoid: flat where it stands, fuller and drawn along ``hanging`` where it hangs."""
    axis, full = normal, rng.uniform(0.5, 0.85)
    if hanging is not None:
        axis, full = normal + 0.7 * hanging, rng.uniform(0.8, 1.25)
        axis = unit(axis) if np.linalg.norm(axis) > 0.4 else normal
    first = unit(np.cross(axis, rng.standard_normal(3)))
    frame = np.stack([first, np.cross(axis, first), axis])
    half = np.array([radius, radius * rng.uniform(0.82, 1.0), radius * full])
    sunk = rng.uniform(-0.1, 0.25) if hanging is None else rng.uniform(0.2, 0.45)
    sphere, _ = _sphere()
    normals = (sphere / half) @ frame
    points = foot + axis * half[2] * sunk + (sphere * half) @ frame
    return points, normals / np.linalg.norm(normals, axis=1, keepdims=True)


def _liquid(points: Floats, normals: Floats, part: int, colour: Floats, clear: float) -> SurfaceMesh:
    """The mesh of one drop."""
    _, faces = _sphere()
    nothing = np.zeros(len(points), np.float32)
    return SurfaceMesh(
        points=points.astype(np.float32),
        normals=normals.astype(np.float32),
        faces=faces,
        colour=np.tile(np.clip(colour, 0.003, 0.93).astype(np.float32), (len(points), 1)),
        roughness=nothing + np.float32(_ROUGHNESS),
        metallic=nothing,
        clearcoat=nothing + np.float32(clear),
        part=np.full(len(faces), part, np.uint8),
    )


@cache
def _sphere() -> tuple[Floats, NDArray[np.uint32]]:
    """Unit sphere of 62 points and 120 faces, its poles along Z."""
    polar = np.arange(1, _RINGS + 1) / (_RINGS + 1) * np.pi
    around = np.arange(_COLUMNS) / _COLUMNS * 2 * np.pi
    ring = np.stack([np.cos(around), np.sin(around)], -1)
    rings = [np.column_stack([np.sin(p) * ring, np.full(_COLUMNS, np.cos(p))]) for p in polar]
    points = np.concatenate([[[0, 0, 1.0]], *rings, [[0, 0, -1.0]]])
    here = np.arange(_COLUMNS)
    following = (here + 1) % _COLUMNS
    last = len(points) - 1
    faces = [np.stack([np.zeros_like(here), 1 + here, 1 + following], -1)]
    for row in range(_RINGS - 1):
        a, b = 1 + row * _COLUMNS + here, 1 + row * _COLUMNS + following
        faces += [np.stack([a, a + _COLUMNS, b + _COLUMNS], -1), np.stack([a, b + _COLUMNS, b], -1)]
    lowest = 1 + (_RINGS - 1) * _COLUMNS
    faces.append(np.stack([lowest + here, np.full_like(here, last), lowest + following], -1))
    return points, np.concatenate(faces).astype(np.uint32)
