"""Periodic noise to sample instead of compute: tables made once a process from fixed seeds, nothing on disk."""

from __future__ import annotations

from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

VOLUME_SIZE = 128
PLANE_SIZE = 512
FEATURES_PER_PERIOD = 16  # one "feature" of a volume is an eighth of its 128 voxels

VolumeKind = Literal["soft", "pink", "fine", "cell-distance", "cell-number"]
PlaneKind = Literal["soft", "pink", "fine", "grain", "fibre"]

# exponent of the falling spectrum, lowest and highest frequency kept (cycles a period)
_VOLUME_SPECTRA = {"pink": (1.9, 3, 64), "soft": (3.0, 3, 24), "fine": (0.9, 6, 64)}
# the same, then how much faster the noise changes along rows (y) than along columns (x)
_PLANE_SPECTRA = {
    "soft": (2.2, 1, 60, 1.0),
    "pink": (1.4, 1, 256, 1.0),
    "fine": (0.5, 24, 256, 1.0),
    "grain": (1.6, 1, 256, 14.0),
    "fibre": (1.0, 2, 256, 30.0),
}
_TABLES_A_KIND = 3
_AT_ONCE = 8192
"""Points sampled at once: what is worked out on the way stays in the processor's cache."""


@cache
def _coloured_volume(kind: str) -> NDArray[np.float32]:
    exponent, low, high = _VOLUME_SPECTRA[kind]
    rng = np.random.default_rng([7, sorted(_VOLUME_SPECTRA).index(kind)])
    n = VOLUME_SIZE
    k = (np.fft.fftfreq(n) * n).astype(np.float32)
    radius = np.sqrt(k[:, None, None] ** 2 + k[None, :, None] ** 2 + k[None, None, : n // 2 + 1] ** 2)
    gain = np.where((radius >= low) & (radius <= high), np.maximum(radius, 1) ** -exponent, 0)
    white = rng.standard_normal((n, n, n), dtype=np.float32)
    values = np.fft.irfftn(np.fft.rfftn(white) * gain, s=(n, n, n), axes=(0, 1, 2))
    return np.asarray((values / values.std()).astype(np.float32))


@cache
def _cells() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Distance to the nearest of jittered points (in cells) and that point's number (0..1)."""
    rng = np.random.default_rng([7, 99])
    cells, voxels = FEATURES_PER_PERIOD, VOLUME_SIZE // FEATURES_PER_PERIOD
    jitter = rng.random((cells, cells, cells, 3), dtype=np.float32)
    number = rng.random((cells, cells, cells), dtype=np.float32)
    inside = (np.arange(voxels, dtype=np.float32) + 0.5) / voxels
    # axes: cell x, cell y, cell z, voxel x, voxel y, voxel z
    nearest = np.full((cells,) * 3 + (voxels,) * 3, 9.0, np.float32)
    owner = np.zeros_like(nearest)
    for step in np.ndindex(3, 3, 3):
        move = np.array(step) - 1
        point = np.roll(jitter, tuple(-move), axis=(0, 1, 2)) + move
        squared = np.zeros_like(nearest)
        for axis in range(3):
            shape = [1, 1, 1]
            shape[axis] = voxels
            squared += (point[..., axis].reshape((cells,) * 3 + (1, 1, 1)) - inside.reshape(shape)) ** 2
        closer = squared < nearest
        nearest = np.where(closer, squared, nearest)
        owner = np.where(closer, np.roll(number, tuple(-move), axis=(0, 1, 2))[..., None, None, None], owner)

    def volume(values: NDArray[np.float32]) -> NDArray[np.float32]:
        return np.ascontiguousarray(values.transpose(0, 3, 1, 4, 2, 5)).reshape((VOLUME_SIZE,) * 3)

    return volume(np.sqrt(nearest)), volume(owner)


def volume_table(kind: VolumeKind) -> NDArray[np.float32]:
    """The periodic table (128, 128, 128) behind :func:`in_space`; do not write into it."""
    if kind == "cell-distance":
        return _cells()[0]
    if kind == "cell-number":
        return _cells()[1]
    return _coloured_volume(kind)


def in_space(
    points: NDArray[np.floating], kind: VolumeKind, per_mm: float, rng: np.random.Generator
) -> NDArray[np.float32]:
    """Noise at points in space.

    Parameters
    ----------
    points
        (n, 3) mm.
    kind
        ``soft``, ``pink``, ``fine``: mean 0, standard deviation 1. ``cell-distance``: distance to the nearest of
        scattered points, 0..about 1.2 cells; ``cell-number``: 0..1, constant within a cell.
    per_mm
        Features (for cells: cells) a millimetre.
    rng
        Draws the offset into the table.

    Returns
    -------
    float32 (n,)
    """
    scale = per_mm * VOLUME_SIZE / FEATURES_PER_PERIOD
    coordinates = (points * scale + rng.random(3) * VOLUME_SIZE).T.astype(np.float32)
    if kind == "cell-number":
        x, y, z = np.floor(coordinates).astype(np.int64) % VOLUME_SIZE
        return np.asarray(volume_table(kind)[x, y, z])
    sampled = np.empty(coordinates.shape[1], np.float32)
    for start in range(0, len(sampled), _AT_ONCE):
        some = np.s_[start : start + _AT_ONCE]
        place = coordinates[:, some]
        # the remainder, exact for a power of two and several times as fast as the operator for it
        sampled[some] = _interpolated(kind, place - np.floor(place / VOLUME_SIZE) * np.float32(VOLUME_SIZE))
    return sampled


@cache
def _wrapped(kind: VolumeKind) -> NDArray[np.float32]:
    """The table, flat, with its first layers once more at its far ends: every neighbour lies a fixed step away."""
    return np.pad(volume_table(kind), (0, 1), mode="wrap").ravel()


def _interpolated(kind: VolumeKind, place: NDArray[np.float32]) -> NDArray[np.float32]:
    """Linear interpolation of a table at (3, n) places from 0 to its size, faster than a general routine."""
    table, row = _wrapped(kind), VOLUME_SIZE + 1
    corner = np.minimum(place.astype(np.int32), VOLUME_SIZE - 1)  # rounding may give the size itself
    x, y, z = place - corner
    at = (corner[0] * row + corner[1]) * row + corner[2]

    def along_z(step: int) -> NDArray[np.float32]:
        near = table[at + step]
        return near + z * (table[at + (step + 1)] - near)

    def along_y(step: int) -> NDArray[np.float32]:
        near = along_z(step)
        return near + y * (along_z(step + row) - near)

    near = along_y(0)
    return np.asarray(near + x * (along_y(row * row) - near))


@cache
def _plane(kind: str, number: int) -> NDArray[np.float32]:
    exponent, low, high, stretch = _PLANE_SPECTRA[kind]
    rng = np.random.default_rng([11, sorted(_PLANE_SPECTRA).index(kind), number])
    n = PLANE_SIZE
    # dividing ky makes the noise change faster along y: long streaks along x
    ky = np.fft.fftfreq(n)[:, None] * n / np.sqrt(stretch)
    kx = np.fft.rfftfreq(n)[None] * n * np.sqrt(stretch)
    radius = np.hypot(ky, kx)
    gain = np.where((radius >= low) & (radius <= high), np.maximum(radius, 1) ** -exponent, 0)
    values = np.fft.irfft2(np.fft.rfft2(rng.standard_normal((n, n))) * gain, s=(n, n), axes=(0, 1))
    return np.asarray((values / values.std()).astype(np.float32))


def in_plane(rng: np.random.Generator, kind: PlaneKind, repeat: int = 1) -> NDArray[np.float32]:
    """A tileable (512, 512) float32 field of mean 0 and standard deviation 1.

    ``grain`` and ``fibre`` are streaks along x. ``repeat`` packs the pattern that many times finer (it then repeats
    that often). The table, its offset and its mirror images are drawn from ``rng``.
    """
    table = _plane(kind, int(rng.integers(_TABLES_A_KIND)))
    steps = np.arange(PLANE_SIZE) * repeat
    flip_y, flip_x = rng.choice([-1, 1], 2)
    rows = (flip_y * steps + rng.integers(PLANE_SIZE)) % PLANE_SIZE
    columns = (flip_x * steps + rng.integers(PLANE_SIZE)) % PLANE_SIZE
    field = table[rows[:, None], columns]
    return np.asarray(field.T.copy() if kind in ("soft", "pink", "fine") and rng.random() < 0.5 else field)
