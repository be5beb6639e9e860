"""A camera in a scene and its pinhole geometry; plain NumPy."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.floating]


def unit(vector: Vector) -> Vector:
    """The vector scaled to length one."""
    scaled: Vector = np.asarray(vector, float) / np.linalg.norm(vector)
    return scaled


@dataclass(frozen=True, slots=True)
class View:
    """A camera, its lens and the lamp that belongs to the shot.

    Attributes
    ----------
    origin, target, up
        (3,), mm; ``up`` need not be perpendicular.
    field_degrees
        Horizontal angle of view.
    aperture_mm, focus_mm
        Radius of the lens opening; distance that is sharp.
    lamp_position, lamp_target, lamp_radius_mm, lamp_radiance
        Disc lamp and the point that it faces.
    """

    origin: Vector
    target: Vector
    up: Vector
    field_degrees: float
    aperture_mm: float
    focus_mm: float
    width: int
    height: int
    lamp_position: Vector
    lamp_target: Vector
    lamp_radius_mm: float
    lamp_radiance: Vector

    def frame(self) -> tuple[Vector, Vector, Vector]:
        """Unit vectors right, down and forward of the picture."""
        forward = unit(self.target - self.origin)
        right = unit(np.cross(forward, self.up))
        return right, np.cross(forward, right), forward

    def project(self, points: Vector) -> Vector:
        """Pixels (n, 2) of points (n, 3); (0, 0) is the outer corner of the first pixel."""
        right, down, forward = self.frame()
        offset = np.asarray(points, float) - self.origin
        depth = np.maximum(offset @ forward, 1e-6)
        scale = self.width / 2 / np.tan(np.radians(self.field_degrees) / 2)
        x = offset @ right / depth * scale + self.width / 2
        y = offset @ down / depth * scale + self.height / 2
        return np.stack([x, y], -1)

    def pixel_rays(self) -> NDArray[np.float32]:
        """Unit directions (height · width, 3) through the pixel centres, row by row."""
        right, down, forward = self.frame()
        scale = np.tan(np.radians(self.field_degrees) / 2) / (self.width / 2)
        x = (np.arange(self.width) + 0.5 - self.width / 2) * scale
        y = (np.arange(self.height) + 0.5 - self.height / 2) * scale
        rays = forward + x[None, :, None] * right + y[:, None, None] * down
        rays /= np.linalg.norm(rays, axis=-1, keepdims=True)
        flat: NDArray[np.float32] = rays.reshape(-1, 3).astype(np.float32)
        return flat
