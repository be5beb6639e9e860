"""Triangle meshes with the surface attributes the renderer needs; plain NumPy, no renderer imported."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class SurfaceMesh:
    """A triangle mesh in millimetres with per-vertex surface attributes.

    Attributes
    ----------
    points, normals
        float32 (n, 3).
    faces
        uint32 (m, 3), counter-clockwise seen from outside.
    colour
        float32 (n, 3), linear sRGB albedo (dielectric) or reflectance (metal).
    roughness, metallic, clearcoat
        float32 (n,), 0..1; clearcoat is a liquid or oily film on top.
    part
        uint8 (m,), what each face belongs to: a value of ``truth.mask_value`` or 0.
    """

    points: NDArray[np.float32]
    normals: NDArray[np.float32]
    faces: NDArray[np.uint32]
    colour: NDArray[np.float32]
    roughness: NDArray[np.float32]
    metallic: NDArray[np.float32]
    clearcoat: NDArray[np.float32]
    part: NDArray[np.uint8]


def placed(mesh: SurfaceMesh, rotation: NDArray[np.floating], offset: NDArray[np.floating]) -> SurfaceMesh:
    """The mesh turned by a 3×3 rotation, then moved by ``offset`` mm."""
    turn = rotation.astype(np.float32).T
    return replace(mesh, points=mesh.points @ turn + offset.astype(np.float32), normals=mesh.normals @ turn)


def merged(meshes: Sequence[SurfaceMesh]) -> SurfaceMesh:
    """One mesh of all of them, in the given order."""
    starts = np.cumsum([0, *(len(m.points) for m in meshes[:-1])])

    def joined(name: str) -> NDArray[np.float32]:
        return np.concatenate([getattr(m, name) for m in meshes])

    return SurfaceMesh(
        points=joined("points"),
        normals=joined("normals"),
        faces=np.concatenate([m.faces + np.uint32(s) for m, s in zip(meshes, starts, strict=True)]).astype(np.uint32),
        colour=joined("colour"),
        roughness=joined("roughness"),
        metallic=joined("metallic"),
        clearcoat=joined("clearcoat"),
        part=np.concatenate([m.part for m in meshes]).astype(np.uint8),
    )
