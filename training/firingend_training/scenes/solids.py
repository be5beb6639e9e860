"""Turned, drawn and bent solids as triangle shells, and the finishes they wear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firingend_training.scenes.mesh import SurfaceMesh
from firingend_training.scenes.noise import in_space

Field = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Finish:
    """What a solid is made of and how worn it is.

    Attributes
    ----------
    colour
        float32 (3,), linear albedo or metal reflectance.
    roughness, metallic, clearcoat
        0..1.
    mottle
        Strength of uneven tone.
    grime, rust
        Share of the surface, 0..1, under black dirt or rust.
    """

    colour: Field
    roughness: float
    metallic: float = 0.0
    clearcoat: float = 0.0
    mottle: float = 0.08
    grime: float = 0.0
    rust: float = 0.0


@dataclass(frozen=True, slots=True)
class Shell:
    """A bare surface: points and unit normals (n, 3) float32, faces (m, 3) uint32."""

    points: Field
    normals: Field
    faces: NDArray[np.uint32]


# ------------------------------------------------------------------ surfaces from grids of points


def shell_from_grid(grid: NDArray[np.floating], crease_degrees: float | None = 38.0) -> Shell:
    """Skin a grid of points that closes on itself along its second axis.

    Parameters
    ----------
    grid
        (rows, columns, 3) mm; rows go up or outward-in along the profile, columns counter-clockwise seen from +Z.
    crease_degrees
        Facets meeting at a larger angle keep a hard edge; None makes everything smooth (and shares vertices).
    """
    points = np.asarray(grid if crease_degrees is None else _with_more_rows(grid), np.float32)
    rows, columns = points.shape[:2]
    right = np.roll(points, -1, axis=1)
    facet = np.cross(right[1:] - points[:-1], points[1:] - right[:-1])
    if crease_degrees is None:
        return _smooth_shell(points, facet)
    unit = facet / np.maximum(np.linalg.norm(facet, axis=-1, keepdims=True), 1e-12)
    normals = np.zeros((rows - 1, columns, 4, 3), np.float32)
    limit = np.cos(np.radians(crease_degrees))
    for down in (-1, 0, 1):
        for across in (-1, 0, 1):
            near = np.zeros_like(facet)
            near_unit = np.zeros_like(unit)
            source = slice(max(0, down), rows - 1 + min(0, down))
            target = slice(max(0, -down), rows - 1 + min(0, -down))
            near[target] = np.roll(facet, -across, axis=1)[source]
            near_unit[target] = np.roll(unit, -across, axis=1)[source]
            agrees = ((near_unit * unit).sum(-1) > limit)[..., None] | ((down == 0) & (across == 0))
            share = np.where(agrees, near, 0)
            # corner 0: lower left, 1: lower right, 2: upper right, 3: upper left
            for corner, (rise, side) in enumerate(((-1, -1), (-1, 1), (1, 1), (1, -1))):
                if down in (0, rise) and across in (0, side):
                    normals[:, :, corner] += share
    corners = np.stack([points[:-1], right[:-1], right[1:], points[1:]], 2).reshape(-1, 3)
    first = np.arange((rows - 1) * columns, dtype=np.uint32)[:, None] * 4
    faces = np.concatenate([first + np.array([0, 1, 2], np.uint32), first + np.array([0, 2, 3], np.uint32)])
    return _tidied(corners, normals.reshape(-1, 3), faces)


def _with_more_rows(grid: NDArray[np.floating]) -> NDArray[np.floating]:
    """Rows put in between where two lie far apart, so that stains and wear have points to hang on."""
    gaps = np.linalg.norm(np.diff(grid, axis=0), axis=-1).max(1)
    longest = max(1.0, float(np.ptp(grid.reshape(-1, 3), axis=0).max()) / 24)
    pieces = []
    for row, parts in enumerate(np.maximum(1, np.ceil(gaps / longest)).astype(int)):
        share = (np.arange(parts) / parts)[:, None, None]
        pieces.append(grid[row] * (1 - share) + grid[row + 1] * share)
    return np.concatenate([*pieces, grid[-1:]])


def _smooth_shell(points: Field, facet: Field) -> Shell:
    rows, columns = points.shape[:2]
    around = facet + np.roll(facet, 1, axis=1)
    normals = np.zeros_like(points)
    normals[:-1] += around
    normals[1:] += around
    row, column = np.mgrid[0 : rows - 1, 0:columns]
    following = (column + 1) % columns
    a, b = row * columns + column, row * columns + following
    c, d = (row + 1) * columns + following, (row + 1) * columns + column
    faces = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    return _tidied(points.reshape(-1, 3), normals.reshape(-1, 3), faces.astype(np.uint32))


def _tidied(points: Field, normals: Field, faces: NDArray[np.uint32]) -> Shell:
    """Unit normals, and no triangle of zero area (where a profile meets the axis)."""
    length = np.linalg.norm(normals, axis=-1, keepdims=True)
    normals = np.where(length > 1e-9, normals / np.maximum(length, 1e-9), np.array([0, 0, 1], np.float32))
    p = points[faces]
    twice_area = np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=-1)
    return Shell(
        np.ascontiguousarray(points, np.float32),
        normals.astype(np.float32),
        faces[twice_area > 1e-7].astype(np.uint32),
    )


def polygon_factor(angle: NDArray[np.floating], sides: int) -> NDArray[np.floating]:
    """Radius of a regular polygon whose corners lie at radius 1, one of them at angle 0."""
    half = np.pi / sides
    return np.cos(half) / np.cos(angle % (2 * half) - half)  # type: ignore[no-any-return]


def turned(profile: Sequence[tuple[float, ...]], columns: int = 72, crease_degrees: float | None = 38.0) -> Shell:
    """A solid turned about Z.

    Parameters
    ----------
    profile
        (radius, z) or (radius, z, sides), mm, from the foot up the outside and back down a bore; ``sides`` makes
        that row a regular polygon with its corners at ``radius``.
    columns
        Facets around.
    crease_degrees
        As in :func:`shell_from_grid`.
    """
    angle = np.arange(columns) / columns * 2 * np.pi
    rows = []
    for radius, z, *sides in profile:
        around = radius * (polygon_factor(angle, int(sides[0])) if sides and sides[0] else np.ones(columns))
        rows.append(np.stack([around * np.cos(angle), around * np.sin(angle), np.full(columns, z)], -1))
    return shell_from_grid(np.stack(rows), crease_degrees)


def hexagon_head(corner_radius: float, low: float, high: float, chamfer_top: bool = True) -> Shell:
    """A bolt head or nut blank: a hexagon whose corners are cut by a cone, as turned from bar."""
    columns = 96
    angle = np.arange(columns) / columns * 2 * np.pi
    hexagon = corner_radius * polygon_factor(angle, 6)
    drop = 0.14 * corner_radius * 0.6
    rows = [(0.0, low), (corner_radius * (0.99 if not chamfer_top else 0.9), low)]
    rows += [(corner_radius * (0.9 + 0.1 * t), low + drop * t) for t in (0.5, 1.0)]
    rows += [(corner_radius * (0.86 + 0.14 * t), high - drop * t) for t in (1.0, 0.75, 0.5, 0.25, 0.0)]
    rows += [(0.0, high)]
    grid = []
    for radius, z in rows:
        around = np.minimum(hexagon, radius)
        grid.append(np.stack([around * np.cos(angle), around * np.sin(angle), np.full(columns, z)], -1))
    return shell_from_grid(np.stack(grid))


def thread(radius: float, low: float, high: float, pitch: float, columns: int = 64, hollow: float = 0.0) -> Shell:
    """A threaded rod end with flat, chamfered top: a real right-hand helix, 60° flanks.

    ``hollow`` bores it from the top with that radius.
    """
    steps = max(8, int(np.ceil((high - low) / pitch * 8)))
    z = np.linspace(low, high, steps)
    angle = np.arange(columns) / columns * 2 * np.pi
    phase = (z[:, None] / pitch - angle[None] / (2 * np.pi)) % 1
    depth = 0.61 * pitch * np.clip((1 - np.abs(2 * phase - 1) - 0.12) / 0.76, 0, 1)
    chamfer = radius - np.clip(0.8 * pitch - np.minimum(high - z, z - low), 0, None)[:, None] * 0.9
    side = np.minimum(radius - depth, chamfer)
    grid = np.stack([side * np.cos(angle), side * np.sin(angle), np.broadcast_to(z[:, None], side.shape)], -1)

    def ring(r: float, height: float) -> NDArray[np.floating]:
        return np.stack([r * np.cos(angle), r * np.sin(angle), np.full(columns, height)], -1)[None]

    top = [ring(hollow, high), ring(hollow, low + 0.2 * (high - low)), ring(0, low + 0.2 * (high - low))]
    ends = top if hollow else [ring(0, high)]
    return shell_from_grid(np.concatenate([ring(0, low), grid, *ends]), 32)


def drawn(
    path: NDArray[np.floating],
    radius: NDArray[np.floating] | float,
    columns: int = 32,
    back: NDArray[np.floating] | None = None,
    relief: NDArray[np.floating] | None = None,
) -> Shell:
    """A round bar along a path; ends closed.

    Parameters
    ----------
    path
        (n, 3) mm.
    radius
        mm, one or one a path point.
    columns
        Facets around; column 0 looks along ``back``.
    back
        (3,), a direction not along the path.
    relief
        (n, columns) mm added to the radius.
    """
    path = np.asarray(path, np.float64)
    tangent = np.gradient(path, axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    start = np.array([0.31, 0.87, 0.38]) if back is None else np.asarray(back, np.float64)
    first = np.empty_like(path)
    for k in range(len(path)):  # carry the frame along without twisting it
        start = start - tangent[k] * (start @ tangent[k])
        start /= max(np.linalg.norm(start), 1e-9)
        first[k] = start
    second = np.cross(tangent, first)
    angle = np.arange(columns) / columns * 2 * np.pi
    reach = np.broadcast_to(np.asarray(radius, np.float64).reshape(-1, 1), (len(path), columns))
    if relief is not None:
        reach = reach + relief
    around = np.cos(angle)[None, :, None] * first[:, None] + np.sin(angle)[None, :, None] * second[:, None]
    grid = path[:, None] + reach[..., None] * around
    ends = [np.broadcast_to(path[k], (1, columns, 3)) for k in (0, -1)]
    return shell_from_grid(np.concatenate([ends[0], grid, ends[1]]), None)


def moved(shell: Shell, offset: Sequence[float]) -> Shell:
    """The shell moved by (x, y, z) mm."""
    return replace(shell, points=shell.points + np.asarray(offset, np.float32))


def turned_about(shell: Shell, rotation: NDArray[np.floating]) -> Shell:
    """The shell turned by a 3×3 rotation."""
    turn = rotation.astype(np.float32).T
    return replace(shell, points=shell.points @ turn, normals=shell.normals @ turn)


def stretched(shell: Shell, factors: Sequence[float]) -> Shell:
    """The shell scaled along x, y, z by positive factors."""
    scale = np.asarray(factors, np.float32)
    normals = shell.normals / scale
    return replace(
        shell,
        points=shell.points * scale,
        normals=normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-9),
    )


def rotation_about(axis: Sequence[float], radians: float) -> NDArray[np.float64]:
    """3×3 rotation about an axis (Rodrigues)."""
    x, y, z = np.asarray(axis, np.float64) / np.linalg.norm(axis)
    skew = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.asarray(np.eye(3) + np.sin(radians) * skew + (1 - np.cos(radians)) * skew @ skew)


# ------------------------------------------------------------------ finishes


def dressed(shell: Shell, finish: Finish, rng: np.random.Generator) -> SurfaceMesh:
    """Give a bare shell its finish: uneven tone, grime in patches, rust on metal."""
    points = shell.points
    count = len(points)
    broad, narrow = in_space(points, "pink", 0.12, rng), in_space(points, "pink", 0.7, rng)
    colour = finish.colour * np.exp(finish.mottle * (broad + 0.5 * narrow))[:, None]
    roughness = np.full(count, finish.roughness, np.float32) * np.exp(0.12 * narrow)
    metallic = np.full(count, finish.metallic, np.float32)
    clearcoat = np.full(count, finish.clearcoat, np.float32)
    if finish.rust > 0:
        rusty = _covered(finish.rust, in_space(points, "pink", 0.2, rng) + 0.4 * narrow, 2.5)
        brown = np.array([0.16, 0.062, 0.026], np.float32) * np.exp(0.3 * narrow)[:, None]
        colour = colour + (brown - colour) * rusty[:, None]
        metallic, roughness = metallic * (1 - rusty), roughness + (0.92 - roughness) * rusty
    if finish.grime > 0:
        dirty = _covered(finish.grime, in_space(points, "pink", 0.16, rng) + 0.5 * narrow, 0.9) * 0.85
        black = np.array([0.022, 0.018, 0.014], np.float32)
        colour = colour + (black - colour) * dirty[:, None]
        metallic, roughness = metallic * (1 - dirty), roughness + (0.55 - roughness) * dirty
    return SurfaceMesh(
        points=points,
        normals=shell.normals,
        faces=shell.faces,
        colour=np.clip(colour, 0.003, 0.95).astype(np.float32),
        roughness=np.clip(roughness, 0.03, 1).astype(np.float32),
        metallic=np.clip(metallic, 0, 1).astype(np.float32),
        clearcoat=np.clip(clearcoat, 0, 1).astype(np.float32),
        part=np.zeros(len(shell.faces), np.uint8),
    )


def _covered(share: float, field: Field, hardness: float) -> Field:
    """0..1 weights covering about ``share`` of a roughly normal field."""
    edge = np.quantile(field, 1 - min(share, 0.98))
    return np.asarray(np.clip((field - edge) * hardness + 0.5, 0, 1).astype(np.float32))


_METALS: dict[str, tuple[tuple[float, float, float], tuple[float, float]]] = {
    "steel": ((0.50, 0.49, 0.47), (0.18, 0.45)),
    "zinc": ((0.62, 0.63, 0.65), (0.16, 0.38)),
    "yellow zinc": ((0.62, 0.50, 0.26), (0.18, 0.4)),
    "chrome": ((0.62, 0.62, 0.63), (0.04, 0.14)),
    "aluminium": ((0.72, 0.72, 0.72), (0.25, 0.5)),
    "brass": ((0.72, 0.52, 0.22), (0.12, 0.4)),
    "copper": ((0.74, 0.40, 0.27), (0.15, 0.45)),
    "black oxide": ((0.07, 0.07, 0.075), (0.25, 0.5)),
    "heat-tinted": ((0.30, 0.21, 0.13), (0.25, 0.5)),
}


def metal(rng: np.random.Generator, *kinds: str) -> Finish:
    """A metal finish of one of the kinds (any when none is given), clean to filthy."""
    names = list(kinds) or list(_METALS)
    reflectance, roughness = _METALS[names[int(rng.integers(len(names)))]]
    used = rng.random() < 0.6
    return Finish(
        colour=(np.array(reflectance) * rng.uniform(0.75, 1.1)).astype(np.float32),
        roughness=float(rng.uniform(*roughness)),
        metallic=1.0,
        clearcoat=float(rng.uniform(0.3, 1)) if rng.random() < 0.15 else 0.0,
        mottle=float(rng.uniform(0.03, 0.18)),
        grime=float(rng.beta(1, 2.5)) if used else 0.0,
        rust=float(rng.beta(1, 3)) if used and rng.random() < 0.35 else 0.0,
    )


def plastic(rng: np.random.Generator, *tones: tuple[float, float, float]) -> Finish:
    """Plastic or rubber; ``tones`` are 8-bit sRGB, black, grey or coloured when none is given."""
    if tones:
        tone = np.array(tones[int(rng.integers(len(tones)))])
    elif rng.random() < 0.6:
        tone = np.full(3, rng.uniform(18, 60))
    else:
        tone = rng.uniform(20, 225, 3)
    return Finish(
        colour=((np.clip(tone * rng.uniform(0.85, 1.1), 8, 245) / 255) ** 2.2).astype(np.float32),
        roughness=float(rng.uniform(0.15, 0.75)),
        mottle=float(rng.uniform(0.02, 0.08)),
        grime=float(rng.beta(1, 4)) if rng.random() < 0.5 else 0.0,
    )


def ceramic(rng: np.random.Generator) -> Finish:
    """White glazed porcelain."""
    tone = rng.uniform(222, 246) * np.array([1, rng.uniform(0.97, 1.0), rng.uniform(0.92, 1.0)])
    return Finish(
        colour=((tone / 255) ** 2.2).astype(np.float32),
        roughness=float(rng.uniform(0.08, 0.25)),
        clearcoat=0.6,
        mottle=0.015,
        grime=float(rng.beta(1, 6)) if rng.random() < 0.4 else 0.0,
    )
