"""Fingers, bare or gloved, holding a plug by its body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firingend_training.scenes.mesh import SurfaceMesh, merged
from firingend_training.scenes.noise import in_space
from firingend_training.scenes.solids import drawn, rotation_about

Field = NDArray[np.float32]
_COLUMNS = 64
# tones from very dark to very light skin, 8-bit sRGB, chosen by eye
_SKIN = np.array(
    [(56, 36, 28), (92, 60, 44), (134, 90, 66), (178, 128, 98), (212, 164, 134), (232, 190, 166), (242, 208, 190)]
)
_GLOVES = {
    "black nitrile": (26, 27, 30),
    "blue nitrile": (46, 104, 182),
    "orange nitrile": (228, 100, 32),
    "leather": (192, 160, 110),
    "grey knit": (120, 122, 126),
}


@dataclass(frozen=True, slots=True)
class _Cover:
    """What is outermost on the hand."""

    glove: str  # empty for bare skin
    colour: Field
    roughness: float
    grease: float
    thicken: float


def hand(rng: np.random.Generator, radius_mm: float, z_mm: float) -> SurfaceMesh:
    """Fingers holding a cylinder about +Z.

    Parameters
    ----------
    rng
        Source of every choice.
    radius_mm
        Radius of what is held.
    z_mm
        Height of the grip. Nothing of the hand rises more than 11 mm above it.

    Returns
    -------
    SurfaceMesh
    """
    cover = _draw_cover(rng)
    fingers = _from_the_side(rng, radius_mm, cover) if rng.random() < 0.6 else _from_below(rng, radius_mm, cover)
    mesh = merged(fingers)
    excess = float(mesh.points[:, 2].max()) - 11.0
    lift = np.array([0, 0, z_mm - max(0.0, excess)], np.float32)
    return SurfaceMesh(
        mesh.points + lift,
        mesh.normals,
        mesh.faces,
        mesh.colour,
        mesh.roughness,
        mesh.metallic,
        mesh.clearcoat,
        mesh.part,
    )


def _draw_cover(rng: np.random.Generator) -> _Cover:
    if rng.random() < 0.62:
        tone = rng.uniform(0, len(_SKIN) - 1)
        low = int(tone)
        colour = _SKIN[low] + (_SKIN[min(low + 1, len(_SKIN) - 1)] - _SKIN[low]) * (tone - low)
        colour = colour * np.exp(rng.normal(0, [0.02, 0.02, 0.03]))
        grease = float(rng.beta(1, 2)) if rng.random() < 0.55 else 0.0
        return _Cover("", ((colour / 255) ** 2.2).astype(np.float32), rng.uniform(0.38, 0.6), grease, 1.0)
    glove = str(rng.choice(list(_GLOVES), p=[0.4, 0.22, 0.14, 0.14, 0.1]))
    colour = (np.array(_GLOVES[glove]) * rng.uniform(0.85, 1.12) / 255) ** 2.2
    rough = rng.uniform(0.3, 0.55) if "nitrile" in glove else rng.uniform(0.75, 0.95)
    thicken = 1.05 if "nitrile" in glove else rng.uniform(1.15, 1.35)
    grease = float(rng.beta(1, 3)) if rng.random() < 0.6 else 0.0
    return _Cover(glove, np.clip(colour, 0.004, 0.9).astype(np.float32), rough, grease, thicken)


def _from_the_side(rng: np.random.Generator, radius: float, cover: _Cover) -> list[SurfaceMesh]:
    """Thumb on one side, one to three fingers on the other, all pointing the same way past the plug."""
    size = rng.uniform(7.0, 9.8) * cover.thicken
    turn = rotation_about((0, 0, 1), rng.uniform(0, 2 * np.pi))
    side = rng.choice([-1.0, 1.0])  # left or right hand
    drop = rng.uniform(0.1, 0.8)  # how steeply the hand falls away below the grip
    parts = []
    for number in range(int(rng.integers(2, 5))):
        thumb = number == 0
        girth = size * (1.12 if thumb else rng.uniform(0.92, 1.0))
        away = -side if thumb else side
        height = 0.0 if number < 2 else -(number - 1) * 2.0 * girth * rng.uniform(0.95, 1.05)
        beyond = rng.uniform(3, 12) if number < 2 else rng.uniform(-4, 10)
        length = rng.uniform(55, 75)
        t = np.linspace(0, 1, 150) ** 1.35  # dense at the tip
        x = beyond - length * t
        behind = np.clip(-x / (0.9 * length), 0, 1)  # pressed flat at the plug, arched behind it
        bulge = rng.uniform(1, 11) * np.sin(np.pi * behind) ** 1.5
        y = away * (radius + 0.84 * girth + bulge - 6 * np.clip(t - 0.6, 0, 1))
        z = height - drop * length * np.clip(t - 0.08, 0, 1) ** 1.4 * (1.15 if thumb else 1.0)
        path = np.stack([x, y, z], -1) @ turn.T
        back = turn @ np.array([0.0, away, 0.25])
        parts.append(_finger(rng, path, girth, back, cover, length))
    if rng.random() < 0.7:
        parts.append(_palm(rng, turn, size, drop, cover))
    return parts


def _from_below(rng: np.random.Generator, radius: float, cover: _Cover) -> list[SurfaceMesh]:
    """Fingertips round the body, pointing up at the viewer."""
    size = rng.uniform(6.8, 9.2) * cover.thicken
    start = rng.uniform(0, 2 * np.pi)
    count = int(rng.integers(2, 5))
    angles = [
        0.0,
        np.pi + rng.normal(0, 0.35),
        np.pi * 0.62 + rng.normal(0, 0.1),
        np.pi * 1.42 + rng.normal(0, 0.1),
    ]
    parts = []
    for number, angle in enumerate(angles[:count]):
        around = start + angle
        out = np.array([np.cos(around), np.sin(around), 0.0])
        along = np.array([-np.sin(around), np.cos(around), 0.0])
        girth = size * (1.1 if number == 0 else rng.uniform(0.9, 1.0))
        length = rng.uniform(55, 80)
        t = np.linspace(0, 1, 150) ** 1.35
        spread = rng.uniform(4, 26) * t**1.5
        path = (
            out * (radius + 0.86 * girth + spread)[:, None]
            + along * (rng.normal(0, 14) * t**1.6)[:, None]
            + np.array([0, 0, 1.0]) * (rng.uniform(0, 7) - length * t)[:, None]
        )
        parts.append(_finger(rng, path, girth, out, cover, length))
    return parts


def _palm(rng: np.random.Generator, turn: NDArray[np.float64], size: float, drop: float, cover: _Cover) -> SurfaceMesh:
    t = np.linspace(0, 1, 60)
    path = np.stack([-48 - 62 * t, rng.normal(0, 3) + 0 * t, -20 - drop * 55 - 22 * t], -1) @ turn.T
    girth = size * 3.1 * np.sqrt(np.clip(1 - (2 * t - 0.9) ** 4 * 0.9, 0.02, 1))
    girth[:8] *= np.sqrt(np.linspace(0.02, 1, 8))
    shell = drawn(path, girth, _COLUMNS)
    return _covered(rng, shell.points, shell.normals, shell.faces, cover, np.zeros(len(shell.points), bool), None)


def _finger(
    rng: np.random.Generator,
    path: NDArray[np.float64],
    girth: float,
    back: NDArray[np.float64],
    cover: _Cover,
    length: float,
) -> SurfaceMesh:
    """One finger; the path starts at the tip, ``back`` points to the nail's side."""
    count = len(path)
    travelled = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    tip = np.clip(travelled / (1.15 * girth), 0, 1)
    rounded = np.sqrt(np.clip(1 - (1 - tip) ** 2.2, 0, 1))
    joints = np.array([2.9, 5.6]) * girth * rng.uniform(0.92, 1.08)
    swell = sum(0.07 * np.exp(-(((travelled - j) / (0.6 * girth)) ** 2)) for j in joints)
    reach = girth * rounded * (0.9 + 0.12 * np.clip(travelled / length, 0, 1) + swell)
    angle = np.arange(_COLUMNS) / _COLUMNS * 2 * np.pi
    from_back = np.abs((angle + np.pi) % (2 * np.pi) - np.pi)
    along, around = travelled[:, None], from_back[None]
    relief = -0.1 * girth * np.exp(-((around - np.pi) ** 2) / 0.5) * rounded[:, None]  # the pad is pressed flat
    nail = np.zeros((count, _COLUMNS), bool)
    folds = np.zeros((count, _COLUMNS))
    for joint in joints:
        for _ in range(4):
            middle = joint + rng.normal(0, 0.28 * girth)
            wander = 0.25 * np.sin(angle * 2 + rng.uniform(0, 6.28)) + 0.1 * np.sin(angle * 5)
            folds = np.maximum(folds, np.exp(-(((along - middle - wander) / 0.33) ** 2)) * rng.uniform(0.4, 1))
    relief = relief - 0.3 * folds
    if not cover.glove:
        half_width, near, far = 0.95, 0.18 * girth, 1.5 * girth * rng.uniform(0.85, 1.1)
        oval = ((along - (near + far) / 2) / ((far - near) / 2)) ** 4 + (around / half_width) ** 4
        nail = oval < 1
        relief = (
            relief
            + np.where(nail, 0.12 - 0.1 * girth * (1 - around**2), 0) * 0.5
            - 0.25 * np.exp(-((oval - 1.05) ** 2) / 0.02)
        )
    elif cover.glove != "leather":
        relief = relief + 0.12 * np.sin(along * rng.uniform(1, 2.5) + 2 * np.cos(angle)[None] * 3)
    shell = drawn(path, np.maximum(reach, 0.02), _COLUMNS, back, relief * (rounded[:, None] > 0.2))
    pad = np.zeros((1, _COLUMNS))
    nails = np.concatenate([pad, nail, pad]).astype(bool).reshape(-1)
    lines = np.concatenate([pad, folds, pad]).reshape(-1)
    blush = np.concatenate([pad, np.exp(-along / (1.6 * girth)) + 0 * folds, pad]).reshape(-1)
    # a path from tip to root runs against the way a profile is skinned, which drawn() does not mind
    return _covered(rng, shell.points, shell.normals, shell.faces, cover, nails, lines, blush)


def _covered(
    rng: np.random.Generator,
    points: Field,
    normals: Field,
    faces: NDArray[np.uint32],
    cover: _Cover,
    nail: NDArray[np.bool_],
    lines: NDArray[np.floating] | None,
    blush: NDArray[np.floating] | None = None,
) -> SurfaceMesh:
    """Skin with its blotches, creases, nails and grease; or a glove with its texture."""
    broad, narrow = in_space(points, "pink", 0.12, rng), in_space(points, "fine", 0.5, rng)
    bumps = {"leather": 0.25, "grey knit": 0.3}.get(cover.glove, 0.05)
    points = points + normals * (bumps * 0.5 * narrow + bumps * broad)[:, None].astype(np.float32)
    colour = cover.colour * np.exp((0.06 if not cover.glove else 0.09) * broad + 0.05 * narrow)[:, None]
    roughness = np.full(len(points), cover.roughness) * np.exp(0.1 * narrow)
    if not cover.glove:
        red = np.zeros(len(points)) if blush is None else blush
        colour = colour * np.exp(np.outer(0.18 * red + 0.05 * broad, [0.35, -0.5, -0.4]))
        if lines is not None:
            colour = colour * (1 - 0.4 * lines)[:, None]
        nail_colour = cover.colour * 0.75 + np.array([0.22, 0.13, 0.11])
        colour = np.where(nail[:, None], nail_colour, colour)
        roughness = np.where(nail, 0.28, roughness)
    if cover.grease > 0:
        field = in_space(points, "pink", 0.35, rng) + 0.8 * narrow
        dirty = np.clip((field - np.quantile(field, 1 - 0.7 * cover.grease)) * 0.5 + 0.15, 0, 0.8)
        if lines is not None:
            dirty = np.maximum(dirty, 0.8 * lines * min(1.0, 2 * cover.grease))
        colour = colour * (1 - dirty)[:, None] + np.array([0.02, 0.017, 0.014]) * dirty[:, None]
    count = len(points)
    return SurfaceMesh(
        points=points.astype(np.float32),
        normals=normals,
        faces=faces,
        colour=np.clip(colour, 0.003, 0.92).astype(np.float32),
        roughness=np.clip(roughness, 0.08, 1).astype(np.float32),
        metallic=np.zeros(count, np.float32),
        clearcoat=np.full(count, 0.25 if "nitrile" in cover.glove else 0.0, np.float32),
        part=np.zeros(len(faces), np.uint8),
    )
