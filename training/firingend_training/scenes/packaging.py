"""Cartons and cards with plain invented print: bands, blocks, discs and dashes that stand for words."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from firingend_training.scenes.mesh import SurfaceMesh, merged
from firingend_training.scenes.solids import Finish, drawn, dressed

Field = NDArray[Any]  # float32 throughout; OpenCV does not say so
_STEP_MM = 0.8
"""Between points of a printed face: the width of the finest stroke."""


def carton(rng: np.random.Generator) -> SurfaceMesh:
    """A small printed box, lying or standing, about as large as what a single plug is sold in or four of them."""
    wide = rng.uniform(22, 34)
    sides = np.array([rng.uniform(75, 110), wide * rng.choice([1.0, 1.0, 2.0, 4.0]), wide])
    if rng.random() < 0.15:
        sides = np.roll(sides, 1)
    return _printed_block(rng, sides, 0.0)


def blister_card(rng: np.random.Generator) -> SurfaceMesh:
    """A flat printed card, a little curled, with the clear rim of a pocket that has been torn off it or emptied."""
    wide, long = rng.uniform(55, 90), rng.uniform(100, 160)
    thick, curl = rng.uniform(0.5, 1.0), rng.uniform(0, 4)
    card = _printed_block(rng, np.array([long, wide, thick]), curl)
    if rng.random() < 0.25:
        return card
    half_x, half_y = long * rng.uniform(0.25, 0.36), wide * rng.uniform(0.25, 0.4)
    corner, bead = min(half_x, half_y) * rng.uniform(0.15, 0.6), rng.uniform(0.7, 1.6)
    angle = np.linspace(0, 2 * np.pi, 97)
    across, along = np.cos(angle), np.sin(angle)
    x = np.sign(across) * (half_x - corner) + corner * across
    y = np.sign(along) * (half_y - corner) + corner * along
    x = x - long * rng.uniform(0.05, 0.12)
    rim = np.stack([x, y, thick + 0.3 * bead + curl * (2 * x / long) ** 2], 1)
    grey = rng.uniform(0.45, 0.8)
    clear = Finish(np.full(3, grey, np.float32), roughness=float(rng.uniform(0.05, 0.15)), clearcoat=1.0, mottle=0.03)
    return merged([card, dressed(drawn(rim, bead, 12), clear, rng)])


def _printed_block(rng: np.random.Generator, sides: NDArray[np.floating], curl: float) -> SurfaceMesh:
    """A block of sides (3,) mm on z = 0 whose faces are printed; its ends along x stand ``curl`` mm higher."""
    palette = _palette(rng)
    roughness, coat = float(rng.uniform(0.25, 0.8)), float(rng.random() < 0.35)
    faces = []
    for axis in range(3):
        for sign in (-1, 1):
            u, v = ((axis + 1) % 3, (axis + 2) % 3)[::sign]
            columns, rows = (max(2, round(float(sides[k]) / _STEP_MM)) for k in (u, v))
            points = np.zeros((rows, columns, 3))
            points[..., u] = np.linspace(-0.5, 0.5, columns)[None] * sides[u]
            points[..., v] = np.linspace(-0.5, 0.5, rows)[:, None] * sides[v]
            points[..., axis] = sign * sides[axis] / 2
            normal = np.zeros(3)
            normal[axis] = sign
            faces.append(_face(points, normal, _print(rng, rows, columns, palette), roughness, coat))
    block = merged(faces)
    points = block.points + np.array([0, 0, sides[2] / 2], np.float32)
    slope = 8 * curl * points[:, 0] / sides[0] ** 2
    points[:, 2] += curl * (2 * points[:, 0] / sides[0]) ** 2
    # a sheared normal loses along x what the surface rises there
    normals = block.normals.copy()
    normals[:, 0] -= (slope * normals[:, 2]).astype(np.float32)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return replace(block, points=points.astype(np.float32), normals=normals.astype(np.float32))


def _face(
    points: NDArray[np.floating], normal: NDArray[np.floating], colour: Field, roughness: float, coat: float
) -> SurfaceMesh:
    rows, columns = points.shape[:2]
    row, column = np.mgrid[0 : rows - 1, 0 : columns - 1]
    a = (row * columns + column).ravel()
    triangles = np.concatenate(
        [np.stack([a, a + 1, a + columns + 1], 1), np.stack([a, a + columns + 1, a + columns], 1)]
    )
    full = np.ones(rows * columns, np.float32)
    return SurfaceMesh(
        points=points.reshape(-1, 3).astype(np.float32),
        normals=np.tile(normal, (rows * columns, 1)).astype(np.float32),
        faces=triangles.astype(np.uint32),
        colour=np.clip(colour.reshape(-1, 3), 0.004, 0.92).astype(np.float32),
        roughness=np.float32(roughness) * full,
        metallic=0 * full,
        clearcoat=np.float32(coat) * full,
        part=np.zeros(len(triangles), np.uint8),
    )


def _palette(rng: np.random.Generator) -> Field:
    """(4, 3) linear colours: board, two inks, and what words are printed in."""
    board = rng.uniform(200, 245, 3) if rng.random() < 0.5 else rng.uniform(10, 235, 3)
    inks = rng.uniform(10, 240, (2, 3))
    words = np.full(3, rng.uniform(10, 60) if board.mean() > 120 else rng.uniform(200, 245))
    return np.asarray((np.vstack([board, inks, words]) / 255) ** 2.2, np.float32)


def _print(rng: np.random.Generator, rows: int, columns: int, palette: Field) -> Field:
    """What is printed on a face, (rows, columns, 3) linear."""
    board, first, second, words = (tuple(float(v) for v in colour) for colour in palette)
    face: Field = np.empty((rows, columns, 3), np.float32)
    face[:] = board
    if rng.random() < 0.6:  # a band from side to side
        low, high = sorted(rng.uniform(0, 1, 2))
        upright = rng.random() < 0.5
        reach = ((0, round(low * rows)), (columns, round(high * rows)))
        if upright:
            reach = ((round(low * columns), 0), (round(high * columns), rows))
        cv2.rectangle(face, *reach, first, -1)
    if rng.random() < 0.4:
        centre = (int(rng.uniform(0.2, 0.8) * columns), int(rng.uniform(0.2, 0.8) * rows))
        cv2.circle(face, centre, max(2, int(rng.uniform(0.1, 0.4) * min(rows, columns))), second, -1)
    for _ in range(int(rng.integers(0, 4))):
        x, y = rng.uniform(0, 0.8, 2) * (columns, rows)
        corner = (round(x + rng.uniform(0.05, 0.4) * columns), round(y + rng.uniform(0.05, 0.3) * rows))
        cv2.rectangle(face, (round(x), round(y)), corner, first if rng.random() < 0.5 else second, -1)
    y = float(rng.uniform(2, 10))
    while y < rows - 3:
        tall = int(rng.choice([1, 1, 2, 4]))
        x, end = rng.uniform(0.05, 0.3) * columns, rng.uniform(0.4, 0.95) * columns
        while x < end and rng.random() < 0.97:
            wide = rng.uniform(1, 4) * tall
            cv2.rectangle(face, (round(x), round(y)), (round(min(x + wide, end)), round(y) + tall - 1), words, -1)
            x += wide + tall
        y += tall + float(rng.choice([2, 3, 12]))
    return face * np.float32(rng.uniform(0.9, 1.05))
