"""Parts of an engine or a toolbox that a careless eye, or a network, could take for a firing end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Literal

import numpy as np

from firingend_training.scenes.mesh import SurfaceMesh, merged
from firingend_training.scenes.solids import (
    Finish,
    Shell,
    ceramic,
    drawn,
    dressed,
    hexagon_head,
    metal,
    moved,
    plastic,
    rotation_about,
    shell_from_grid,
    stretched,
    thread,
    turned,
    turned_about,
)

Split = Literal["train", "test"]
_LEAST_MM, _MOST_MM = 5.0, 60.0


def other_part(rng: np.random.Generator, split: Split, name: str | None = None) -> tuple[str, SurfaceMesh]:
    """Draw a part that is not a firing end.

    Parameters
    ----------
    rng
        Source of every choice.
    split
        ``train`` or ``test``; the two share no kind of part.
    name
        Force one kind of that split.

    Returns
    -------
    name, mesh
        The mesh is centred on the Z axis, its foot at z = 0 and the end to look at up, 5 to 60 mm high.
    """
    makers = _TRAIN if split == "train" else _TEST
    if name is None:
        name = str(rng.choice(list(makers)))
    mesh = merged(makers[name](rng))
    low, high = float(mesh.points[:, 2].min()), float(mesh.points[:, 2].max())
    height = high - low
    size = np.clip(rng.uniform(0.8, 1.25), _LEAST_MM / height, _MOST_MM / height)
    points = (mesh.points - np.array([0, 0, low], np.float32)) * np.float32(size)
    return name, replace(mesh, points=points.astype(np.float32))


def _ring(r: float, tube: float, z: float, columns: int = 64) -> Shell:
    """An O-ring."""
    t = np.linspace(0, 2 * np.pi, 17)
    return turned([(r - tube * np.cos(a), z - tube * np.sin(a)) for a in t], columns, None)


def _rubber(rng: np.random.Generator) -> Finish:
    return plastic(rng, (24, 24, 25), (24, 24, 25), (50, 52, 54), (150, 50, 40), (40, 90, 60), (40, 70, 140))


# ------------------------------------------------------------------ fasteners


def _hex_bolt(rng: np.random.Generator) -> list[SurfaceMesh]:
    """Head up or shank up."""
    r = rng.uniform(3, 8)
    finish = metal(rng, "steel", "zinc", "yellow zinc", "black oxide", "heat-tinted")
    length, head = rng.uniform(2, 5) * r, rng.uniform(1.1, 1.5) * r
    if rng.random() < 0.6:
        shells = [
            hexagon_head(r * 1.9, 0, head, chamfer_top=False),
            turned([(0, head), (r, head), (r, head + length * 0.3), (0, head + length * 0.3)]),
        ]
        shells.append(thread(r, head + length * 0.25, head + length, rng.uniform(0.2, 0.3) * r))
        if rng.random() < 0.5:
            shells.append(turned([(0, head), (r * 2.3, head), (r * 2.3, head + 0.5), (0, head + 0.5)]))
    else:
        shells = [thread(r, 0, length, 0.25 * r), hexagon_head(r * 1.9, length, length + head)]
        if rng.random() < 0.5:
            shells.append(
                turned([(0, length - 0.3), (r * 2.4, length - 0.3), (r * 2.4, length + 0.4), (0, length + 0.4)])
            )
    return [dressed(s, finish, rng) for s in shells]


def _cap_screw(rng: np.random.Generator) -> list[SurfaceMesh]:
    """A cylindrical head with a hexagon or star-like socket."""
    r, deep = rng.uniform(4, 9), rng.uniform(3, 6)
    key, sides = r * rng.uniform(0.5, 0.65), int(rng.choice([6, 6, 4, 12]))
    h = rng.uniform(0.8, 1.6) * r + deep
    profile: list[tuple[float, ...]] = [
        (0, 0),
        (r, 0),
        (r, h - 0.5),
        (r - 0.4, h),
        (key * 1.05, h),
        (key, h - 0.4, sides),
        (key, h - deep, sides),
        (0, h - deep),
    ]
    shells = [turned(profile, 96), thread(r * 0.62, -rng.uniform(5, 18), 0.2, 0.9)]
    finish = metal(rng, "black oxide", "steel", "zinc")
    return [dressed(s, finish, rng) for s in shells]


def _stud(rng: np.random.Generator) -> list[SurfaceMesh]:
    r, length = rng.uniform(3, 7), rng.uniform(15, 45)
    finish = metal(rng, "steel", "yellow zinc", "black oxide", "heat-tinted")
    shells = [thread(r, 0.55 * length, length, 0.22 * r, hollow=float(rng.choice([0, 0, 0.35 * r])))]
    shells.append(turned([(0, 0), (r * 1.02, 0), (r * 1.02, 0.56 * length), (0, 0.56 * length)]))
    if rng.random() < 0.5:
        shells.append(hexagon_head(r * 1.9, 0.4 * length, 0.4 * length + 1.6 * r))
    return [dressed(s, finish, rng) for s in shells]


def _threaded_rod(rng: np.random.Generator) -> list[SurfaceMesh]:
    r, length = rng.uniform(3, 8), rng.uniform(15, 50)
    point = rng.random() < 0.4
    shells = [thread(r, 0, length, rng.uniform(0.15, 0.3) * r)]
    if point:
        shells.append(
            turned(
                [
                    (0, length - 1),
                    (r * 0.7, length - 1),
                    (r * 0.7, length + r),
                    (r * 0.5, length + r * 1.2),
                    (0, length + r * 1.2),
                ]
            )
        )
    finish = metal(rng)
    return [dressed(s, finish, rng) for s in shells]


def _nut(rng: np.random.Generator) -> list[SurfaceMesh]:
    r = rng.uniform(5, 12)
    hole, h = r * rng.uniform(0.5, 0.62), r * rng.uniform(0.6, 1.3)
    profile: list[tuple[float, ...]] = [
        (hole, 0),
        (r * 0.9, 0),
        (r, 0.12 * r, 6),
        (r, h - 0.12 * r, 6),
        (r * 0.86, h),
        (hole * 1.12, h),
    ]
    turns = int(h / 0.9)
    for k in range(turns):  # the thread inside, as grooves
        top = h - 0.3 - k * 0.9
        profile += [(hole, top), (hole * 1.1, top - 0.4)]
    profile.append((hole, 0))
    shells = [turned(profile, 96)]
    if rng.random() < 0.35:
        shells.append(turned([(hole, 0), (r * 1.25, 0), (r * 1.2, 0.8), (hole, 1.2)]))
    finish = metal(rng, "zinc", "steel", "yellow zinc", "brass", "black oxide")
    return [dressed(s, finish, rng) for s in shells]


def _washer_stack(rng: np.random.Generator) -> list[SurfaceMesh]:
    parts, z = [], 0.0
    r = rng.uniform(5, 13)
    finish = metal(rng)
    for _ in range(int(rng.integers(3, 12))):
        if rng.random() < 0.3:
            finish = metal(rng)
        wide, hole, thick = r * rng.uniform(0.85, 1.1), r * rng.uniform(0.4, 0.6), rng.uniform(0.8, 2.2)
        shell = turned(
            [
                (hole, 0),
                (wide - 0.1, 0),
                (wide, 0.15),
                (wide, thick - 0.15),
                (wide - 0.1, thick),
                (hole, thick),
                (hole, 0),
            ]
        )
        parts.append(dressed(moved(shell, (rng.normal(0, 0.05 * r), rng.normal(0, 0.05 * r), z)), finish, rng))
        z += thick + 0.02
    return parts


# ------------------------------------------------------------------ tools


def _socket(rng: np.random.Generator) -> list[SurfaceMesh]:
    r = rng.uniform(8, 15)
    h, key, sides = rng.uniform(18, 45), r * rng.uniform(0.68, 0.8), int(rng.choice([6, 6, 12]))
    deep = rng.uniform(8, 16)
    profile: list[tuple[float, ...]] = [
        (0, 0),
        (r * 0.9, 0),
        (r * 0.92, 0.6),
        (r * 0.92, h * 0.4),
        (r, h * 0.46),
        (r, h - 0.8),
        (r - 0.6, h),
    ]
    profile += [
        (key * 1.04, h),
        (key, h - 0.8, sides),
        (key, h - deep, sides),
        (key * 0.5, h - deep),
        (key * 0.5, 1),
        (0, 1),
    ]
    parts = [dressed(turned(profile, 96), metal(rng, "chrome", "chrome", "black oxide", "steel"), rng)]
    if rng.random() < 0.35:  # a rubber grip inside, as sockets for plugs have
        parts.append(
            dressed(
                turned([(key * 0.86, h - deep), (key * 0.86, h - 4), (key * 0.6, h - 4), (key * 0.6, h - deep)]),
                _rubber(rng),
                rng,
            )
        )
    return parts


def _tap(rng: np.random.Generator) -> list[SurfaceMesh]:
    """Thread-cutting tap with flutes."""
    r, length, columns = rng.uniform(3, 7), rng.uniform(25, 50), 96
    z = np.linspace(0, length, 260)[:, None]
    angle = (np.arange(columns) / columns * 2 * np.pi)[None]
    pitch = 0.24 * r
    cut = np.clip((z - 0.4 * length) * 4, 0, 1)
    groove = 0.6 * pitch * np.clip(1 - np.abs(2 * ((z / pitch - angle / 2 / np.pi) % 1) - 1), 0, 1)
    flute = 0.45 * r * np.clip(1.6 * np.cos(float(rng.choice([3, 4])) * angle) - 0.7, 0, 1)
    taper = r * (1 - 0.35 * np.clip((z - 0.85 * length) / (0.15 * length), 0, 1))
    side = taper - cut * (groove + flute)
    grid = np.stack([side * np.cos(angle), side * np.sin(angle), np.broadcast_to(z, side.shape)], -1)
    ends = [np.zeros((1, columns, 3)), np.broadcast_to(np.array([0, 0, length]), (1, columns, 3))]
    return [
        dressed(
            shell_from_grid(np.concatenate([ends[0], grid, ends[1]])),
            metal(rng, "steel", "black oxide", "yellow zinc"),
            rng,
        )
    ]


def _drill_bit(rng: np.random.Generator) -> list[SurfaceMesh]:
    r, length, columns = rng.uniform(2.5, 7), rng.uniform(30, 58), 72
    z = np.linspace(0, length, 160)[:, None]
    angle = (np.arange(columns) / columns * 2 * np.pi)[None]
    twist = angle - z / (rng.uniform(5, 8) * r) * 2 * np.pi
    flute = np.clip(1.5 * np.cos(2 * twist) - 0.35, 0, 1) * np.clip((z - 0.25 * length) / 4, 0, 1)
    point = np.clip((length - z) / (0.6 * r), 0.02, 1)
    side = r * point * (1 - 0.62 * flute)
    grid = np.stack([side * np.cos(angle), side * np.sin(angle), np.broadcast_to(z, side.shape)], -1)
    ends = [np.zeros((1, columns, 3)), np.broadcast_to(np.array([0, 0, length]), (1, columns, 3))]
    return [
        dressed(
            shell_from_grid(np.concatenate([ends[0], grid, ends[1]])),
            metal(rng, "steel", "black oxide", "yellow zinc"),
            rng,
        )
    ]


# ------------------------------------------------------------------ parts of an engine


def _injector(rng: np.random.Generator) -> list[SurfaceMesh]:
    """Stepped cylinder, O-rings, coloured collar, a nozzle plate with small holes up."""
    r = rng.uniform(4.5, 8)
    steel, body = (
        metal(rng, "steel", "zinc"),
        plastic(rng, (28, 28, 30), (28, 28, 30), (90, 92, 96), (40, 60, 120)),
    )
    parts = [dressed(turned([(0, 0), (r, 0), (r, 14), (r * 1.3, 15), (r * 1.3, 22), (r, 23), (0, 23)]), body, rng)]
    parts.append(
        dressed(
            turned(
                [
                    (0, 22),
                    (r * 0.8, 22),
                    (r * 0.8, 30),
                    (r * 0.62, 31),
                    (r * 0.62, 40),
                    (r * 0.45, 41),
                    (r * 0.45, 42.2),
                    (r * 0.36, 42.4),
                    (r * 0.3, 41.8),
                    (0, 41.8),
                ]
            ),
            steel,
            rng,
        )
    )
    for z in (27.0, float(rng.uniform(33, 38))):
        parts.append(dressed(_ring(r * 0.72, r * 0.17, z), _rubber(rng), rng))
    for k in range(int(rng.integers(1, 7))):
        a = k * 2 * np.pi / 6
        hole = moved(
            turned([(0, 0), (0.35, 0), (0.35, 0.05), (0, 0.05)], 12),
            (0.15 * r * np.cos(a), 0.15 * r * np.sin(a), 41.8),
        )
        parts.append(dressed(hole, Finish(np.full(3, 0.01, np.float32), 0.9), rng))
    if rng.random() < 0.7:
        parts.append(_plug_in(rng, r, 8.0))
    return parts


def _plug_in(rng: np.random.Generator, r: float, z: float) -> SurfaceMesh:
    """An electrical connector sticking out of a body."""
    box = stretched(turned([(0, 0), (6, 0, 4), (6, 14, 4), (5, 14, 4), (5, 8, 4), (0, 8)], 48), (1.2, 0.8, 1))
    tilt = rotation_about((0, 1, 0), rng.uniform(1.0, 1.7)) @ rotation_about((0, 0, 1), np.pi / 4)
    return dressed(moved(turned_about(box, tilt), (0.5 * r, 0, z)), plastic(rng, (26, 26, 28), (120, 122, 124)), rng)


def _pencil_coil(rng: np.random.Generator) -> list[SurfaceMesh]:
    r = rng.uniform(6, 9)
    body = plastic(rng, (24, 24, 26), (24, 24, 26), (70, 72, 76), (150, 40, 36))
    tube: list[tuple[float, ...]] = [(0, 0), (r, 0), (r, 26), (r * 0.9, 27)]
    for k in range(int(rng.integers(2, 6))):
        tube += [(r * 0.9, 28 + 3 * k), (r * 1.02, 28.4 + 3 * k), (r * 1.02, 29.6 + 3 * k), (r * 0.9, 30 + 3 * k)]
    top = tube[-1][1] + 12
    tube += [(r * 0.85, top - 0.5), (r * 0.8, top), (r * 0.5, top), (r * 0.45, top - 10), (0, top - 10)]
    parts = [dressed(turned(tube), body if rng.random() < 0.5 else metal(rng, "aluminium", "steel"), rng)]
    parts.append(
        dressed(
            turned(
                [
                    (r * 0.86, top - 9),
                    (r * 0.95, top - 9),
                    (r * 0.95, top + 0.4),
                    (r * 0.55, top + 0.6),
                    (r * 0.5, top - 6),
                    (r * 0.3, top - 6),
                ]
            ),
            _rubber(rng),
            rng,
        )
    )
    spring = _coil(r * 0.3, 0.5, top - 10, top - 1, 6)
    parts.append(dressed(spring, metal(rng, "steel", "zinc"), rng))
    if rng.random() < 0.5:
        parts.append(_plug_in(rng, r, 6.0))
    return parts


def _coil(radius: float, wire: float, low: float, high: float, turns: float) -> Shell:
    t = np.linspace(0, 1, int(turns * 28))
    angle = t * turns * 2 * np.pi
    path = np.stack([radius * np.cos(angle), radius * np.sin(angle), low + (high - low) * t], -1)
    return drawn(path, wire, 14)


def _oxygen_sensor(rng: np.random.Generator) -> list[SurfaceMesh]:
    """Hexagon, thread, seal ring and a heat-tinted cap with holes or slots."""
    r = rng.uniform(6, 9)
    steel = metal(rng, "steel", "zinc", "heat-tinted")
    parts = [
        dressed(turned([(0, 0), (r * 0.8, 0), (r * 0.8, 9), (0, 9)]), steel, rng),
        dressed(hexagon_head(r * 1.5, 9, 16), steel, rng),
    ]
    parts.append(
        dressed(turned([(0, 16), (r * 1.35, 16), (r * 1.35, 17.5), (0, 17.5)]), metal(rng, "copper", "steel"), rng)
    )
    thread_top = 17.5 + rng.uniform(6, 11)
    parts.append(dressed(thread(r, 17.3, thread_top, 1.4), steel, rng))
    parts.append(_vented_cap(rng, r * rng.uniform(0.55, 0.72), thread_top - 0.2, rng.uniform(9, 16)))
    if rng.random() < 0.5:
        t = np.linspace(0, 1, 40)
        path = np.stack([8 * t**2 * rng.uniform(-1, 1), 0 * t, 1 - 12 * t], -1)
        parts.append(dressed(drawn(path, r * 0.35), _rubber(rng), rng))
    return parts


def _vented_cap(rng: np.random.Generator, r: float, low: float, tall: float) -> SurfaceMesh:
    rows, columns = 60, 120
    z = np.linspace(0, tall, rows)[:, None]
    angle = (np.arange(columns) / columns * 2 * np.pi)[None]
    around = int(rng.integers(4, 9))
    if rng.random() < 0.5:
        bands = int(rng.integers(1, 4))
        level = (z / tall * bands) % 1 - 0.5
        spot = (
            ((angle * around / 2 / np.pi + 0.5 * (np.floor(z / tall * bands) % 2)) % 1 - 0.5) * 2 * np.pi * r / around
        )
        hole = np.hypot(level * tall / bands, spot) < rng.uniform(0.6, 1.1)
    else:
        across = ((angle * around / 2 / np.pi) % 1 - 0.5) * 2 * np.pi * r / around
        hole = (np.abs(across) < 0.6) & (np.abs(z / tall - 0.45) < 0.3)
    edge = np.sqrt(np.clip(1 - np.clip((z - tall + 1.5) / 1.5, 0, 1) ** 2, 0, 1)) * 0.25 + 0.75
    side = r * edge - 0.7 * hole
    grid = np.stack([side * np.cos(angle), side * np.sin(angle), np.broadcast_to(z, side.shape)], -1)
    cap = np.zeros((1, columns, 3))
    cap[..., 2] = tall
    finish = metal(rng, "heat-tinted", "steel", "heat-tinted")
    shell = moved(shell_from_grid(np.concatenate([grid, cap])), (0, 0, low))
    mesh = dressed(shell, finish, rng)
    radius = np.hypot(mesh.points[:, 0], mesh.points[:, 1])
    inside = (radius < r * 0.72 + 0.02) & (mesh.points[:, 2] < low + tall - 1.6) | (
        (radius < r - 0.5) & (mesh.points[:, 2] < low + tall - 1.6)
    )
    dark = np.where(inside[:, None], np.float32(0.01), mesh.colour)
    return replace(mesh, colour=dark.astype(np.float32), metallic=np.where(inside, 0, mesh.metallic).astype(np.float32))


def _temperature_sensor(rng: np.random.Generator) -> list[SurfaceMesh]:
    r = rng.uniform(4.5, 7)
    brass = metal(rng, "brass", "brass", "zinc")
    parts = [
        dressed(turned([(0, 0), (r * 1.1, 0), (r * 1.1, 11), (0, 11)]), plastic(rng), rng),
        dressed(hexagon_head(r * 1.6, 10, 16), brass, rng),
    ]
    parts.append(dressed(thread(r, 15.8, 26, 1.3), brass, rng))
    tip = r * rng.uniform(0.4, 0.65)
    parts.append(dressed(turned([(0, 25), (tip, 25), (tip, 36), (tip * 0.7, 38), (0, 38.4)]), brass, rng))
    return parts


def _glow_plug(rng: np.random.Generator) -> list[SurfaceMesh]:
    """Terminal, hexagon, thread, slim barrel and a thin heating rod up."""
    r = rng.uniform(4, 6)
    steel = metal(rng, "steel", "zinc", "heat-tinted")
    parts = [
        dressed(thread(2, -8, 0.5, 0.7, 40), steel, rng),
        dressed(hexagon_head(r * 1.25, 0, 6), steel, rng),
        dressed(turned([(0, 5), (r * 0.85, 5), (r * 0.85, 14), (0, 14)]), steel, rng),
    ]
    top = 14 + rng.uniform(8, 14)
    parts.append(dressed(thread(r, 13.5, top, 1.2), steel, rng))
    barrel = top + rng.uniform(5, 14)
    rod, tip = r * rng.uniform(0.32, 0.5), barrel + rng.uniform(10, 20)
    parts.append(
        dressed(
            turned([(0, top - 1), (r * 0.8, top - 1), (r * 0.8, barrel - 1), (rod, barrel), (0, barrel)]), steel, rng
        )
    )
    dome = [(rod * np.cos(t), tip - rod + rod * np.sin(t)) for t in np.linspace(0, np.pi / 2, 7)]
    heated = replace(metal(rng, "heat-tinted", "black oxide", "steel"), grime=float(rng.beta(1, 1.5)))
    parts.append(dressed(turned([(0, barrel - 1), (rod, barrel - 1), *dome]), heated, rng))
    return parts


def _drain_plug(rng: np.random.Generator) -> list[SurfaceMesh]:
    """Hexagon, crush washer, a short thread with a magnet or a recess in its end."""
    r = rng.uniform(6, 10)
    finish = metal(rng, "zinc", "steel", "yellow zinc")
    top = rng.uniform(16, 22)
    parts = [
        dressed(hexagon_head(r * 1.35, 0, 8, chamfer_top=False), finish, rng),
        dressed(turned([(0, 8), (r * 1.6, 8), (r * 1.6, 9.5), (0, 9.5)]), finish, rng),
        dressed(
            turned([(0, 9.4), (r * 1.4, 9.4), (r * 1.45, 10), (r * 1.4, 11), (0, 11)]),
            metal(rng, "copper", "aluminium"),
            rng,
        ),
        dressed(thread(r, 10.5, top, 1.5, hollow=r * 0.55), finish, rng),
    ]
    if rng.random() < 0.7:
        magnet = replace(metal(rng, "steel", "black oxide"), grime=float(rng.beta(2, 1)), mottle=0.3)
        end = top + rng.uniform(-1.5, 3)
        parts.append(
            dressed(turned([(0, 12), (r * 0.5, 12), (r * 0.5, end - 0.4), (r * 0.45, end), (0, end)]), magnet, rng)
        )
    return parts


def _knock_sensor(rng: np.random.Generator) -> list[SurfaceMesh]:
    """A plastic ring round a metal sleeve."""
    r = rng.uniform(9, 13)
    body = plastic(rng, (26, 26, 28), (26, 26, 28), (110, 112, 116), (150, 110, 60))
    ring = turned([(r * 0.5, 1), (r * 0.95, 1), (r, 2), (r, 11), (r * 0.94, 12), (r * 0.5, 12), (r * 0.5, 1)], 96)
    sleeve = turned([(r * 0.4, 0), (r * 0.62, 0), (r * 0.62, 13), (r * 0.4, 13), (r * 0.4, 0)], 96)
    return [
        dressed(ring, body, rng),
        dressed(sleeve, metal(rng, "steel", "zinc", "brass"), rng),
        _plug_in(rng, r * 1.2, 6),
    ]


def _lamp_bulb(rng: np.random.Generator) -> list[SurfaceMesh]:
    """A small bulb on a bayonet base, glass up; the glass is painted or silvered, not clear."""
    r = rng.uniform(7, 9)
    bulge = r * rng.uniform(1.05, 1.5)
    base = [(0.0, 0.0), (r * 0.3, 0.0), (r * 0.35, 1.5), (r, 2.0), (r, 13.0), (r * 0.9, 14.0), (0.0, 14.0)]
    glass = [(bulge * np.cos(t), 14 + bulge * (0.75 + np.sin(t))) for t in np.linspace(-0.75, np.pi / 2, 16)]
    tones = [(236, 234, 228), (230, 140, 30), (190, 30, 26), (210, 214, 220)]
    paint = replace(plastic(rng, *tones), roughness=0.06, clearcoat=1.0)
    return [
        dressed(turned(base), metal(rng, "brass", "zinc"), rng),
        dressed(turned([(0, 13), *glass], 72, None), paint, rng),
    ]


def _valve(rng: np.random.Generator) -> list[SurfaceMesh]:
    """A poppet valve, face or stem up."""
    head, stem, length = rng.uniform(12, 18), rng.uniform(2.6, 3.8), rng.uniform(38, 56)
    fillet = [
        (stem + (head * 0.9 - stem) * (1 - np.sin(t)), 3 + 9 * (1 - np.cos(t))) for t in np.linspace(0, np.pi / 2, 10)
    ]
    profile = [
        (0.0, 0.0),
        (head * 0.6, 0.1),
        (head * 0.62, 0.6),
        (head * 0.96, 0.5),
        (head, 1.0),
        (head, 1.8),
        *fillet,
        (stem, length - 4),
        (stem * 0.8, length - 3.6),
        (stem * 0.8, length - 3),
        (stem, length - 2.8),
        (stem, length - 0.3),
        (0, length),
    ]
    shell = turned(profile, 84)
    if rng.random() < 0.6:
        shell = turned_about(shell, rotation_about((1, 0, 0), np.pi))
    finish = replace(metal(rng, "steel", "heat-tinted"), grime=float(rng.beta(1, 2)))
    return [dressed(shell, finish, rng)]


def _spring(rng: np.random.Generator) -> list[SurfaceMesh]:
    r = rng.uniform(4, 14)
    wire, turns = r * rng.uniform(0.1, 0.22), rng.uniform(4, 10)
    return [
        dressed(
            _coil(r, wire, 0, min(55.0, turns * wire * rng.uniform(2.3, 5)), turns),
            metal(rng, "steel", "black oxide", "zinc"),
            rng,
        )
    ]


def _piston(rng: np.random.Generator) -> list[SurfaceMesh]:
    """Crown up: rings, lands, pin bosses; often with carbon."""
    r, h = rng.uniform(18, 28), rng.uniform(28, 45)
    profile: list[tuple[float, ...]] = [(r * 0.8, 0), (r, 0.4), (r, h * 0.5)]
    for k in range(3):
        z = h * (0.56 + 0.13 * k)
        profile += [(r, z), (r * 0.95, z + 0.05), (r * 0.95, z + 1.4), (r, z + 1.5)]
    dish = rng.uniform(-1.5, 2)
    profile += [(r, h - 0.6), (r - 0.6, h), (r * 0.7, h), (r * 0.62, h - dish), (0, h - dish)]
    aluminium = metal(rng, "aluminium")
    parts = [dressed(turned(profile, 96), replace(aluminium, grime=float(rng.beta(1, 1.5))), rng)]
    for k in range(2):
        z = h * (0.56 + 0.13 * k) + 0.15
        parts.append(
            dressed(
                turned([(r * 0.94, z), (r * 1.005, z), (r * 1.005, z + 1.2), (r * 0.94, z + 1.2)], 96),
                metal(rng, "steel", "black oxide"),
                rng,
            )
        )
    bore = turned_about(
        turned([(r * 0.2, -r * 1.01), (r * 0.25, -r * 1.01), (r * 0.25, r * 1.01), (r * 0.2, r * 1.01), (0, r)]),
        rotation_about((1, 0, 0), np.pi / 2),
    )
    parts.append(dressed(moved(bore, (0, 0, h * 0.3)), Finish(np.full(3, 0.03, np.float32), 0.5), rng))
    return parts


def _pipe_fitting(rng: np.random.Generator) -> list[SurfaceMesh]:
    r = rng.uniform(5, 11)
    finish = metal(rng, "brass", "zinc", "steel", "copper")
    shells = [
        turned([(r * 0.6, 0), (r, 0), (r, 8), (0, 8)]),
        hexagon_head(r * 1.5, 8, 15),
        thread(r, 15, 15 + rng.uniform(7, 14), 1.4, hollow=r * rng.uniform(0.45, 0.7)),
    ]
    parts = [dressed(s, finish, rng) for s in shells]
    if rng.random() < 0.4:
        parts.append(
            dressed(
                turned([(0, 15), (r * 1.3, 15), (r * 1.3, 16.2), (0, 16.2)]),
                metal(rng, "copper", "aluminium"),
                rng,
            )
        )
    return parts


def _bearing(rng: np.random.Generator) -> list[SurfaceMesh]:
    r = rng.uniform(11, 22)
    h, bore = r * rng.uniform(0.4, 0.65), r * rng.uniform(0.36, 0.48)
    steel = metal(rng, "chrome", "steel")
    outer = turned(
        [
            (r * 0.82, 0),
            (r - 0.4, 0),
            (r, 0.4),
            (r, h - 0.4),
            (r - 0.4, h),
            (r * 0.84, h),
            (r * 0.8, h * 0.5),
            (r * 0.82, 0),
        ],
        96,
    )
    inner = turned(
        [
            (bore, 0.4),
            (bore + 0.4, 0),
            (bore * 1.35, 0),
            (bore * 1.4, h * 0.5),
            (bore * 1.35, h),
            (bore + 0.4, h),
            (bore, h - 0.4),
            (bore, 0.4),
        ],
        96,
    )
    parts = [dressed(outer, steel, rng), dressed(inner, steel, rng)]
    middle, ball = (r * 0.82 + bore * 1.37) / 2, (r * 0.82 - bore * 1.37) / 2
    if rng.random() < 0.5:
        parts.append(
            dressed(
                turned(
                    [(bore * 1.36, h * 0.06), (r * 0.83, h * 0.06), (r * 0.83, h * 0.94), (bore * 1.36, h * 0.94)],
                    96,
                ),
                _rubber(rng),
                rng,
            )
        )
        return parts
    count = int(np.pi / np.arcsin(min(0.9, ball * 1.15 / middle)))
    dots = [(ball * np.sin(t), -ball * np.cos(t)) for t in np.linspace(0, np.pi, 18)]
    for k in range(count):
        a = 2 * np.pi * k / count
        parts.append(
            dressed(moved(turned(dots, 28, None), (middle * np.cos(a), middle * np.sin(a), h / 2)), steel, rng)
        )
    return parts


def _battery_terminal(rng: np.random.Generator) -> list[SurfaceMesh]:
    r = rng.uniform(8, 10)
    lead = Finish(
        np.array([0.2, 0.2, 0.21], np.float32) * float(rng.uniform(0.6, 1.6)),
        rng.uniform(0.35, 0.6),
        0.8,
        mottle=0.2,
        grime=float(rng.beta(1, 3)),
    )
    parts = [
        dressed(turned([(0, 0), (r * 1.7, 0), (r * 1.7, 3), (r, 4), (r * 0.9, 18), (r * 0.8, 19), (0, 19)]), lead, rng)
    ]
    parts.append(
        dressed(
            turned([(r * 0.9, 8), (r * 1.5, 8), (r * 1.5, 15), (r * 0.9, 15)]),
            metal(rng, "brass", "steel", "zinc"),
            rng,
        )
    )
    parts.append(
        dressed(
            moved(turned_about(hexagon_head(4, 0, 4), rotation_about((0, 1, 0), np.pi / 2)), (r * 1.6, 0, 11.5)),
            metal(rng, "zinc", "steel"),
            rng,
        )
    )
    if rng.random() < 0.5:  # white-green crust
        crust = np.clip((parts[0].roughness / lead.roughness - 1) * 4 + 0.2, 0, 1)[:, None]
        pale = np.array([0.55, 0.66, 0.6], np.float32)
        parts[0] = replace(
            parts[0],
            colour=(parts[0].colour * (1 - crust) + pale * crust).astype(np.float32),
            metallic=(parts[0].metallic * (1 - crust[:, 0])).astype(np.float32),
        )
    return parts


# ------------------------------------------------------------------ about the plug itself, but never its firing end


def _plug_upper_end(rng: np.random.Generator) -> list[SurfaceMesh]:
    """Hexagon, ribbed porcelain and terminal: the end that takes the cap."""
    r, ribs = rng.uniform(4.2, 5.4), int(rng.integers(0, 6))
    steel = metal(rng, "zinc", "steel", "chrome")
    parts = [
        dressed(hexagon_head(r * 2.1, 0, 9), steel, rng),
        dressed(turned([(0, 9), (r * 1.5, 9), (r * 1.4, 11), (r * 1.05, 12), (0, 12)]), steel, rng),
    ]
    profile: list[tuple[float, ...]] = [(0, 10), (r, 10), (r, 18)]
    for k in range(ribs):
        z = 18 + 3.2 * k
        profile += [
            (r * 0.88, z),
            (r * 0.88, z + 1),
            (r * 1.04, z + 1.6),
            (r * 1.04, z + 2.4),
            (r * 0.88, z + 3.1),
        ]
    top = profile[-1][1] + rng.uniform(6, 14)
    profile += [(r * 0.82, top - 0.6), (r * 0.7, top), (0, top)]
    parts.append(dressed(turned(profile, 72), ceramic(rng), rng))
    end = metal(rng, "zinc", "steel", "brass")
    if rng.random() < 0.6:
        shell = turned(
            [
                (0, top - 0.2),
                (2, top - 0.2),
                (2, top + 2),
                (3.1, top + 3),
                (3.1, top + 5),
                (2.3, top + 6),
                (2.3, top + 7),
                (3.1, top + 8),
                (2.8, top + 9.5),
                (0, top + 9.5),
            ]
        )
    else:
        shell = thread(2, top - 0.3, top + 8, 0.7, 48)
    parts.append(dressed(shell, end, rng))
    return parts


def _plug_cap(rng: np.random.Generator) -> list[SurfaceMesh]:
    """A rubber boot, mouth up, with the contact inside."""
    r = rng.uniform(8, 12)
    h = rng.uniform(30, 50)
    profile: list[tuple[float, ...]] = [(0, 0), (r * 0.7, 0), (r * 0.8, 3), (r * 0.8, h * 0.5)]
    for k in range(int(rng.integers(0, 5))):
        z = h * 0.52 + 3 * k
        profile += [(r * 0.82, z), (r * 0.95, z + 0.6), (r * 0.95, z + 1.6), (r * 0.82, z + 2.2)]
    profile += [
        (r * 0.9, h - 6),
        (r, h - 4),
        (r, h - 0.8),
        (r * 0.95, h),
        (r * 0.62, h),
        (r * 0.58, h - 1),
        (r * 0.55, h * 0.3),
        (0, h * 0.3),
    ]
    parts = [dressed(turned(profile, 72), _rubber(rng), rng)]
    contact = turned([(2.8, h * 0.3), (3.4, h * 0.3), (3.4, h * 0.55), (2.8, h * 0.55), (2.8, h * 0.3)], 36)
    parts.append(dressed(contact, metal(rng, "brass", "steel"), rng))
    return parts


def _coin_stack(rng: np.random.Generator) -> list[SurfaceMesh]:
    parts, z = [], 0.0
    for _ in range(int(rng.integers(4, 14))):
        r, thick = rng.uniform(8, 13), rng.uniform(1.5, 2.3)
        shell = turned(
            [
                (0, 0.15),
                (r * 0.9, 0.15),
                (r * 0.93, 0),
                (r, 0.1),
                (r, thick - 0.1),
                (r * 0.93, thick),
                (r * 0.9, thick - 0.15),
                (0, thick - 0.15),
            ]
        )
        parts.append(
            dressed(
                moved(shell, (rng.normal(0, 0.8), rng.normal(0, 0.8), z)),
                metal(rng, "copper", "brass", "zinc"),
                rng,
            )
        )
        z += thick
    return parts


_Maker = Callable[[np.random.Generator], list[SurfaceMesh]]
_TRAIN: dict[str, _Maker] = {
    "hex bolt": _hex_bolt,
    "cap screw": _cap_screw,
    "stud": _stud,
    "threaded rod": _threaded_rod,
    "nut": _nut,
    "washer stack": _washer_stack,
    "socket": _socket,
    "injector": _injector,
    "pencil coil": _pencil_coil,
    "oxygen sensor": _oxygen_sensor,
    "temperature sensor": _temperature_sensor,
    "glow plug": _glow_plug,
    "drain plug": _drain_plug,
    "knock sensor": _knock_sensor,
    "spring": _spring,
    "piston": _piston,
    "pipe fitting": _pipe_fitting,
    "plug upper end": _plug_upper_end,
    "plug cap": _plug_cap,
}
_TEST: dict[str, _Maker] = {
    "valve": _valve,
    "bearing": _bearing,
    "battery terminal": _battery_terminal,
    "drill bit": _drill_bit,
    "tap": _tap,
    "coin stack": _coin_stack,
    "lamp bulb": _lamp_bulb,
}
OTHER_PARTS: dict[Split, tuple[str, ...]] = {"train": tuple(_TRAIN), "test": tuple(_TEST)}
