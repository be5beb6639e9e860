"""The shape of a spark plug: thread, shell, nose, electrodes, straps, hexagon and upper insulator.

Frame of a plug: millimetres, axis +Z, firing end towards +Z, the flat annular rim of the shell at z = 0.
Dimensions are common practice, no source.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import IntEnum
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from firingend.labels import PARTS
from firingend_training.scenes.blend import smooth_step

Floats = NDArray[np.floating]
Split = Literal["train", "test"]

BOX_THREAD_MM = 3.5
"""How much of the thread below the rim belongs to the firing end."""


class Zone(IntEnum):
    """What a vertex belongs to; finer than ``labels.PARTS`` because deposits tell these apart."""

    THREAD = 0
    RIM = 1
    BORE = 2
    NOSE = 3
    ELECTRODE = 4
    STRAP = 5
    SEAT = 6
    HEXAGON = 7
    UPPER = 8
    TERMINAL = 9


_PART_OF_ZONE = {
    Zone.THREAD: "threads",
    Zone.RIM: "rim",
    Zone.BORE: "body",
    Zone.NOSE: "nose",
    Zone.ELECTRODE: "centre-electrode",
    Zone.STRAP: "strap",
    Zone.SEAT: "body",
    Zone.HEXAGON: "body",
    Zone.UPPER: "body",
    Zone.TERMINAL: "body",
}
PART_OF_ZONE = np.array([PARTS.index(_PART_OF_ZONE[zone]) for zone in Zone], np.uint8)
"""Index into ``labels.PARTS`` of each zone. The wall of the bore counts as body: it is dark by shade alone."""


@dataclass(frozen=True, slots=True)
class PlugShape:
    """Dimensions of a plug; millimetres unless said otherwise."""

    thread: float
    pitch: float
    reach: float
    unthreaded: float
    rim_chamfer: float
    rim_width: float
    seat: str
    hexagon: float
    nose: float
    nose_tip_radius: float
    nose_base_radius: float
    nose_cylinder: float
    nose_edge: float
    bore_depth: float
    electrode_radius: float
    electrode_height: float
    electrode_wear: float
    fine_wire: bool
    gap: float
    straps: int
    strap_width: float
    strap_thickness: float
    strap_bend: float
    strap_squareness: float
    strap_taper: float
    strap_reach: float
    strap_twist: float
    strap_end: float
    phase: float
    upper_length: float
    ribs: int
    terminal_radius: float

    @property
    def rim_radius(self) -> float:
        """Outer radius of the rim."""
        return self.thread / 2 - 0.065 * self.thread

    @property
    def bore_radius(self) -> float:
        """Radius of the bore at the rim."""
        return self.rim_radius - self.rim_width

    @property
    def top(self) -> float:
        """Height of the highest point above the rim."""
        electrode = max(self.nose, -0.5) + self.electrode_height
        return electrode + (self.gap + self.strap_thickness if self.straps == 1 else 0.5)

    @property
    def widest_radius(self) -> float:
        """Radius of the hexagon's corners."""
        return float(self.hexagon / np.sqrt(3))

    @property
    def tail(self) -> float:
        """z of the terminal's end (negative)."""
        return -(self.reach + 18.0 + self.upper_length + 9.0)

    def facts(self) -> dict[str, Any]:
        """What the truth tells about the shape, JSON-ready."""
        facts = {k: round(v, 3) if isinstance(v, float) else v for k, v in asdict(self).items()}
        return facts | {"thread_mm": self.thread, "nose_mm": round(self.nose, 3), "gap_mm": round(self.gap, 3)}


@dataclass(frozen=True, slots=True)
class PlugGeometry:
    """Mesh of a plug before its deposits.

    Attributes
    ----------
    points, normals
        float32 (n, 3), mm.
    faces
        uint32 (m, 3).
    zone
        uint8 (n,), a :class:`Zone` a vertex.
    face_part
        uint8 (m,), index into ``labels.PARTS``.
    face_in_box
        bool (m,), whether the face counts for the firing end's box.
    root
        float32 (n,), 0 on thread crests, 1 in thread roots.
    rigid
        float32 (n,), 0..1, how far relief may displace the vertex (0 at poles and caps, which would spike).
    along
        float32 (n,), for strap vertices 0 at the weld to 1 at the tip; 0 elsewhere.
    """

    shape: PlugShape
    points: NDArray[np.float32]
    normals: NDArray[np.float32]
    faces: NDArray[np.uint32]
    zone: NDArray[np.uint8]
    face_part: NDArray[np.uint8]
    face_in_box: NDArray[np.bool_]
    root: NDArray[np.float32]
    rigid: NDArray[np.float32]
    along: NDArray[np.float32]


# --------------------------------------------------------------------------------------------- drawing


def draw_shape(rng: np.random.Generator, split: Split, unused: bool = False) -> PlugShape:
    """Draw a plug's dimensions.

    ``split="test"`` draws thread sizes, and strap counts for a thread size, that training never shows: 18 mm threads,
    and three straps on 14 mm. ``unused`` only decides wear.
    """
    test = split == "test"
    thread = float(rng.choice([18.0, 14.0, 12.0, 10.0], p=[0.5, 0.5, 0, 0] if test else [0, 0.62, 0.25, 0.13]))
    size = max(thread / 14, 0.78)
    strap_kinds = [2, 3, 0] if test and thread == 14 else [1, 2, 3, 4, 0]
    strap_shares = [0.6, 0.3, 0.1] if len(strap_kinds) == 3 else [0.86, 0.05, 0.03, 0.04, 0.02]
    if not test:
        # three straps on the narrower threads only: those on 14 mm stay unseen
        strap_kinds, strap_shares = [1, 2, 4, 0], [0.76, 0.1, 0.11, 0.03]
        if thread < 14:
            strap_kinds, strap_shares = [1, 2, 3, 4, 0], [0.62, 0.1, 0.16, 0.09, 0.03]
    straps = int(rng.choice(strap_kinds, p=strap_shares))
    fine_wire = bool(straps == 1 and rng.random() < 0.3)
    wear = 0.04 if unused else rng.uniform(0.05, 0.4)
    electrode = rng.uniform(0.3, 0.6) if fine_wire else rng.uniform(1.1, 1.35) * size
    rim_radius = thread * 0.435
    rim_width = rng.uniform(0.115, 0.19) * thread
    bore = rim_radius - rim_width
    nose = _draw_nose(rng, straps)
    tip = min(max(electrode + rng.uniform(0.45, 1.0), 1.35 * size), bore - 0.5)
    base = bore * rng.uniform(0.76, 0.9)
    if straps == 0:
        tip, base = bore - 0.15, bore - 0.1
    thickness = rng.uniform(1.15, 1.6) * size
    return PlugShape(
        thread=thread,
        pitch=1.0 if thread <= 10 else (1.5 if thread == 18 else 1.25),
        reach=float(rng.choice([11.2, 12.7, 19.0, 26.5], p=[0.1, 0.2, 0.5, 0.2])),
        unthreaded=rng.uniform(0.6, 2.6),
        rim_chamfer=rng.uniform(0.12, 0.5),
        rim_width=rim_width,
        seat=str(rng.choice(["gasket", "taper"], p=[0.75, 0.25])),
        hexagon=(20.8 if thread >= 14 and rng.random() < 0.45 else 16.0) + (1.2 if thread == 18 else 0),
        nose=nose,
        nose_tip_radius=tip,
        nose_base_radius=max(base, tip + 0.1),
        nose_cylinder=rng.uniform(0.3, 2.2),
        nose_edge=rng.uniform(0.15, 0.6),
        bore_depth=rng.uniform(9, 15),
        electrode_radius=electrode,
        electrode_height=0.05 if straps == 0 else rng.uniform(0.5, 1.8),
        electrode_wear=wear,
        fine_wire=fine_wire,
        gap=rng.uniform(0.5, 1.3),
        straps=straps,
        strap_width=rng.uniform(2.1, 3.0) * size * (1.0 if straps == 1 else 0.8),
        strap_thickness=thickness if straps == 1 else thickness * 0.85,
        strap_bend=rng.uniform(0.9, 2.3),
        strap_squareness=rng.uniform(0.2, 0.5),
        strap_taper=rng.uniform(0, 0.35) if rng.random() < 0.6 else rng.uniform(0.3, 0.5),
        strap_reach=rng.uniform(-0.9, 0.8),
        strap_twist=rng.normal(0, 0.03),
        strap_end=rng.uniform(0.05, 0.3) if not unused else rng.uniform(0.03, 0.1),
        phase=rng.uniform(0, 2 * np.pi),
        upper_length=rng.uniform(17, 30),
        ribs=int(rng.choice([0, 3, 4, 5])),
        terminal_radius=rng.uniform(2.0, 3.3),
    )


def _draw_nose(rng: np.random.Generator, straps: int) -> float:
    """How far the nose stands out of the rim, mm: mostly projected, sometimes flush or recessed."""
    if straps == 0:
        return float(rng.uniform(-0.3, 0.1))
    kind = rng.choice(3, p=[0.62, 0.23, 0.15])
    return float([rng.uniform(1.0, 4.0), rng.uniform(-0.3, 1.0), rng.uniform(-1.5, -0.3)][kind])


# --------------------------------------------------------------------------------------------- building


@dataclass(slots=True)
class _Piece:
    """One grid of vertices, rows × columns, closed across the columns."""

    grid: Floats
    zone: NDArray[np.uint8]
    outward: bool = True
    root: Floats | None = None
    rigid: Floats | None = None
    along: Floats | None = None


def build_geometry(shape: PlugShape, q: float = 1.0) -> PlugGeometry:
    """The mesh of a plug; ``q`` scales the resolution along each direction (1: for a close view)."""
    pieces = [_shell(shape, q), *_body(shape, q), _nose(shape, q), _electrode(shape, q)]
    for index in range(shape.straps):
        pieces.append(_strap(shape, q, index))
    return _joined(shape, pieces)


def _joined(shape: PlugShape, pieces: list[_Piece]) -> PlugGeometry:
    points, normals, faces, zones = [], [], [], []
    roots: list[Floats] = []
    rigid: list[Floats] = []
    along: list[Floats] = []
    start = 0
    for piece in pieces:
        rows, columns, _ = piece.grid.shape
        points.append(piece.grid.reshape(-1, 3))
        normals.append(_grid_normals(piece).reshape(-1, 3))
        faces.append(_grid_faces(rows, columns, piece.outward) + start)
        zones.append(np.repeat(piece.zone, columns))
        for store, value, default in (
            (roots, piece.root, 0.0),
            (rigid, piece.rigid, 1.0),
            (along, piece.along, 0.0),
        ):
            filled = np.full((rows, columns), default) if value is None else np.broadcast_to(value, (rows, columns))
            store.append(filled.reshape(-1))
        start += rows * columns
    all_points = np.concatenate(points).astype(np.float32)
    all_faces = np.concatenate(faces).astype(np.uint32)
    zone = np.concatenate(zones).astype(np.uint8)
    # The zone of a face is that of its vertex lowest in the list of zones, which settles borders the same way.
    face_zone = zone[all_faces].max(1)
    face_z = all_points[all_faces, 2].mean(1)
    face_part = PART_OF_ZONE[face_zone]
    near = (face_part == PARTS.index("threads")) & (face_z > -BOX_THREAD_MM)
    firing = np.isin(face_part, [PARTS.index(p) for p in ("nose", "centre-electrode", "strap", "rim")])
    return PlugGeometry(
        shape=shape,
        points=all_points,
        normals=np.concatenate(normals).astype(np.float32),
        faces=all_faces,
        zone=zone,
        face_part=face_part,
        face_in_box=near | (firing & (face_z > -BOX_THREAD_MM)),
        root=np.concatenate(roots).astype(np.float32),
        rigid=np.concatenate(rigid).astype(np.float32),
        along=np.concatenate(along).astype(np.float32),
    )


def _grid_normals(piece: _Piece) -> Floats:
    down = np.gradient(piece.grid, axis=0)
    across = np.roll(piece.grid, -1, 1) - np.roll(piece.grid, 1, 1)
    normal = np.cross(across, down)
    normal /= np.maximum(np.linalg.norm(normal, axis=-1, keepdims=True), 1e-12)
    return normal if piece.outward else -normal


def _grid_faces(rows: int, columns: int, outward: bool) -> NDArray[np.int64]:
    row = np.arange(rows - 1)[:, None]
    column = np.arange(columns)[None]
    following = (column + 1) % columns
    a, b = row * columns + column, row * columns + following
    c, d = b + columns, a + columns
    faces = np.stack([np.stack([a, b, c], -1), np.stack([a, c, d], -1)], 2).reshape(-1, 3)
    return faces if outward else faces[:, ::-1]


def _outline(corners: list[tuple[float, float, Zone, float]], step: float) -> tuple[Floats, NDArray[np.uint8]]:
    """Dense polyline (r, z) through corners with rounding radii; a segment has the zone of its end corner."""
    path: list[tuple[float, float, Zone]] = []
    for index, (r, z, zone, radius) in enumerate(corners):
        here = np.array([r, z])
        if not (0 < index < len(corners) - 1 and radius > 0):
            path.append((r, z, zone))
            continue
        before, after = (np.array(corners[index + side][:2]) for side in (-1, 1))
        length_before, length_after = np.linalg.norm(before - here), np.linalg.norm(after - here)
        cut = min(radius, length_before * 0.45, length_after * 0.45)
        first = here + (before - here) / length_before * cut
        last = here + (after - here) / length_after * cut
        for u in np.linspace(0, 1, 6):
            x = (1 - u) ** 2 * first + 2 * u * (1 - u) * here + u * u * last
            path.append((float(x[0]), float(x[1]), zone))
    dense: list[tuple[float, float]] = []
    zones: list[int] = []
    for (r0, z0, _), (r1, z1, zone) in pairwise(path):
        count = max(1, int(np.ceil(np.hypot(r1 - r0, z1 - z0) / step)))
        for k in range(count):
            dense.append((r0 + (r1 - r0) * k / count, z0 + (z1 - z0) * k / count))
            zones.append(zone)
    dense.append(path[-1][:2])
    zones.append(path[-1][2])
    return np.array(dense), np.array(zones, np.uint8)


def _revolved(outline: Floats, columns: int, scale: Floats | float = 1.0) -> Floats:
    """Surface of revolution of (r, z) rows; ``scale`` (rows, columns) multiplies the radius."""
    angle = np.arange(columns) / columns * 2 * np.pi
    radius = outline[:, :1] * scale
    radius = np.broadcast_to(radius, (len(outline), columns))
    height = np.broadcast_to(outline[:, 1:], (len(outline), columns))
    return np.stack([radius * np.cos(angle), radius * np.sin(angle), height], -1)


def _shell(shape: PlugShape, q: float) -> _Piece:
    """From deep in the bore up, over the rim, down the outside and the whole thread."""
    radius, bore, rim = shape.thread / 2, shape.bore_radius, shape.rim_radius
    depth, chamfer, clear = shape.bore_depth, shape.rim_chamfer, shape.unthreaded
    step = 0.11 / q
    corners = [
        (bore * 0.93, -depth, Zone.BORE, 0.0),
        (bore * 0.93, -depth * 0.55, Zone.BORE, 0.3),
        (bore, -depth * 0.5, Zone.BORE, 0.3),
        (bore, -0.35, Zone.BORE, 0.0),
        (bore + min(0.25, shape.rim_width * 0.2), 0.0, Zone.RIM, 0.12),
        (rim - chamfer, 0.0, Zone.RIM, 0.15),
        (rim, -chamfer, Zone.RIM, 0.15),
        (rim, -clear, Zone.THREAD, 0.2),
        (radius - 0.02, -clear - 0.35, Zone.THREAD, 0.0),
    ]
    outline, zones = _outline(corners, step)
    first, last = -clear - 0.36, -shape.reach
    split = max(-11.0, last)
    z = np.concatenate([np.arange(first, split, -0.1 / q), np.arange(split, last, -0.16 / q)])
    outline = np.concatenate([outline, np.stack([np.full_like(z, radius), z], 1)])
    zones = np.concatenate([zones, np.full(len(z), Zone.THREAD, np.uint8)])
    columns = int(384 * q)
    outside = (np.arange(len(outline)) >= len(outline) - len(z) - 6)[:, None]
    turn = np.arange(columns) / columns
    height = outline[:, 1:]
    tooth = np.abs((height / shape.pitch + turn[None]) % 1.0 - 0.5) * 2
    tooth = np.clip((tooth - 0.14) / 0.78, 0, 1)
    tooth = 0.35 * smooth_step(0, 1, tooth) + 0.65 * tooth
    run_out = smooth_step(-clear, -clear - shape.pitch * 0.9, height) * smooth_step(last, last + 0.6, height)
    root = np.where(outside, tooth * run_out, 0)
    scale = (outline[:, :1] - root * 0.61 * shape.pitch) / outline[:, :1]
    return _Piece(_revolved(outline, columns, scale), zones, root=root)


def _body(shape: PlugShape, q: float) -> list[_Piece]:
    """Seat, hexagon, upper insulator and terminal."""
    radius, reach = shape.thread / 2, shape.reach
    across = shape.hexagon / 2
    flange = min(radius * 1.42, across * 1.12)
    seat: list[tuple[float, float, Zone, float]] = [(radius - 0.5, -reach + 0.02, Zone.SEAT, 0.0)]
    if shape.seat == "gasket":
        seat += [
            (radius + 0.2, -reach, Zone.SEAT, 0.1),
            (flange * 0.99, -reach - 0.05, Zone.SEAT, 0.5),
            (flange, -reach - 1.7, Zone.SEAT, 0.5),
            (flange * 0.9, -reach - 1.9, Zone.SEAT, 0.1),
            (flange * 0.96, -reach - 2.1, Zone.SEAT, 0.2),
        ]
    else:
        seat += [(radius * 1.05, -reach, Zone.SEAT, 0.1), (flange * 0.96, -reach - 2.6, Zone.SEAT, 0.2)]
    neck = flange * 0.88
    seat += [
        (flange * 0.96, -reach - 3.8, Zone.SEAT, 0.3),
        (neck, -reach - 4.2, Zone.SEAT, 0.3),
        (neck, -reach - 7.4, Zone.SEAT, 0.3),
        (across * 0.98, -reach - 7.7, Zone.HEXAGON, 0.2),
        (across, -reach - 8.2, Zone.HEXAGON, 0.0),
        (across, -reach - 15.8, Zone.HEXAGON, 0.0),
        (across * 0.9, -reach - 16.8, Zone.HEXAGON, 0.3),
        (across * 0.66, -reach - 17.6, Zone.HEXAGON, 0.3),
    ]
    outline, zones = _outline(seat, 0.35 / q)
    columns = 12 * int(20 * q + 4)
    angle = np.arange(columns) / columns * 2 * np.pi
    corner = np.cos(np.pi / 6) / np.cos(angle % (np.pi / 3) - np.pi / 6)
    # The hexagon's corners are turned off to a cone at both ends, as a lathe leaves them.
    height = outline[:, 1:]
    shoulder = np.minimum(-reach - 7.4 - height, height + reach + 17.2)
    limit = 1 + 0.155 * smooth_step(0, 1.0, shoulder)
    hexagonal = (zones == Zone.HEXAGON)[:, None] & (shoulder > 0)
    scale = np.where(hexagonal, np.minimum(corner[None] / np.cos(np.pi / 6), limit), 1.0)
    shell = _Piece(_revolved(outline, columns, scale), zones)
    return [shell, _upper(shape, q), _terminal(shape, q)]


def _upper(shape: PlugShape, q: float) -> _Piece:
    top = -shape.reach - 17.2
    radius, end = shape.hexagon / 2 * 0.64, top - shape.upper_length
    corners: list[tuple[float, float, Zone, float]] = [(radius, top + 1, Zone.UPPER, 0.0)]
    corners.append((radius, top - shape.upper_length * 0.45, Zone.UPPER, 0.5))
    for rib in range(shape.ribs):
        z = top - shape.upper_length * (0.5 + 0.09 * rib)
        corners += [(radius * 0.84, z, Zone.UPPER, 0.4), (radius * 0.99, z - 0.7, Zone.UPPER, 0.5)]
        corners += [(radius * 0.99, z - 1.1, Zone.UPPER, 0.5)]
    corners += [(radius * 0.82, end + 1.5, Zone.UPPER, 0.5), (radius * 0.78, end, Zone.UPPER, 0.5)]
    corners.append((0.3, end - 0.05, Zone.UPPER, 0.0))
    outline, zones = _outline(corners, 0.4 / q)
    return _Piece(_revolved(outline, int(96 * q) + 16), zones)


def _terminal(shape: PlugShape, q: float) -> _Piece:
    start, r = -shape.reach - 17.2 - shape.upper_length, shape.terminal_radius
    corners = [
        (r * 0.9, start + 0.2, Zone.TERMINAL, 0.0),
        (r * 0.9, start - 1.2, Zone.TERMINAL, 0.2),
        (r * 0.6, start - 2.4, Zone.TERMINAL, 0.3),
        (r * 0.6, start - 3.6, Zone.TERMINAL, 0.3),
        (r, start - 4.6, Zone.TERMINAL, 0.4),
        (r * 0.95, start - 7.6, Zone.TERMINAL, 0.6),
        (r * 0.3, start - 8.6, Zone.TERMINAL, 0.3),
        (0.02, start - 8.7, Zone.TERMINAL, 0.0),
    ]
    outline, zones = _outline(corners, 0.4 / q)
    return _Piece(_revolved(outline, int(48 * q) + 16), zones)


def _nose(shape: PlugShape, q: float) -> _Piece:
    tip, base, top, depth = shape.nose_tip_radius, shape.nose_base_radius, shape.nose, shape.bore_depth
    electrode = 0.9 * tip if shape.fine_wire and tip < 1.25 else shape.electrode_radius
    inner = min(shape.electrode_radius if not shape.fine_wire else min(tip - 0.3, 1.05), electrode)
    corners = [
        (base, -depth, Zone.NOSE, 0.0),
        (base, -depth * 0.75, Zone.NOSE, 0.5),
        (tip + (base - tip) * 0.3, top - shape.nose_cylinder - 1.6, Zone.NOSE, 1.2),
        (tip * 1.02, top - shape.nose_cylinder * 0.5, Zone.NOSE, 0.6),
        (tip, top, Zone.NOSE, shape.nose_edge),
        (inner + 0.1, top + 0.02, Zone.NOSE, 0.06),
        (inner + 0.03, top - 0.6, Zone.NOSE, 0.0),
    ]
    outline, zones = _outline(corners, 0.085 / q)
    return _Piece(_revolved(outline, int(288 * q)), zones)


def _electrode(shape: PlugShape, q: float) -> _Piece:
    r, base, top = shape.electrode_radius, shape.nose, shape.nose + shape.electrode_height
    edge = max(shape.electrode_wear * r, 0.03)
    if shape.fine_wire:
        cone = min(shape.nose_tip_radius - 0.25, 1.1)
        corners = [
            (cone, base - 0.8, Zone.ELECTRODE, 0.0),
            (cone, base + 0.12, Zone.ELECTRODE, 0.1),
            (r * 1.05, base + min(0.5, shape.electrode_height * 0.6), Zone.ELECTRODE, 0.15),
            (r, top, Zone.ELECTRODE, edge),
            (1e-3, top + 0.01, Zone.ELECTRODE, 0.0),
        ]
    else:
        crown = 0.25 * shape.electrode_wear * r
        corners = [
            (r, base - 0.8, Zone.ELECTRODE, 0.0),
            (r, top, Zone.ELECTRODE, edge),
            (1e-3, top + crown, Zone.ELECTRODE, 0.0),
        ]
    outline, zones = _outline(corners, 0.07 / q)
    flat = outline[:, 1] > top - 0.05
    rigid = np.where(flat, np.clip(outline[:, 0] / r, 0, 1) * 0.3, 0.6)[:, None]
    return _Piece(_revolved(outline, int(128 * q) + 16), zones, rigid=rigid)


def _strap_path(shape: PlugShape, q: float) -> Floats:
    """Centre line of a strap in the (r, z) plane, from inside the rim to the tip."""
    half = shape.strap_thickness / 2
    leg = min(shape.rim_radius - shape.rim_width / 2 + 0.1, shape.rim_radius - half * 0.85)
    electrode_top = shape.nose + shape.electrode_height
    if shape.straps == 1:
        arm = max(electrode_top + shape.gap + half, 1.2)
        inner = shape.electrode_radius * shape.strap_reach - 0.25
    else:
        # Several straps point at the side of the electrode, the gap lies across.
        arm = max(electrode_top - half * 0.6, 0.9)
        inner = shape.electrode_radius + shape.gap
    bend = min(shape.strap_bend, arm * 0.8, (leg - inner) * 0.75)
    up = np.stack([np.full(int(40 * q) + 4, leg), np.linspace(-0.35, arm - bend, int(40 * q) + 4)], 1)
    angle = np.linspace(0, np.pi / 2, int(36 * q) + 6)[1:]
    over = np.stack([leg - bend + bend * np.cos(angle), arm - bend + bend * np.sin(angle)], 1)
    count = int(50 * q) + 6
    across = np.stack([np.linspace(leg - bend, inner, count), np.full(count, arm)], 1)[1:]
    return np.concatenate([up, over, across])


def _strap(shape: PlugShape, q: float, index: int) -> _Piece:
    path = _strap_path(shape, q)
    tangent = np.gradient(path, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    side = np.stack([tangent[:, 1], -tangent[:, 0]], 1)
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    along /= along[-1]
    width = 1 - shape.strap_taper * smooth_step(0.55, 1, along)
    width = width * (1 + 0.08 * smooth_step(0.12, 0.0, along))  # the weld bead spreads the foot
    swell = np.ones(len(path))
    # A rounded cap closes the tip: first the edge, then the flat face shrinking to a point.
    turn = np.linspace(0, np.pi / 2, int(8 * q) + 3)[1:]
    face = np.linspace(1, 0.02, int(12 * q) + 3)[1:]
    end = shape.strap_end
    path = np.concatenate(
        [
            path,
            path[-1] + np.outer(end * np.sin(turn), tangent[-1]),
            np.repeat([path[-1] + end * tangent[-1]], len(face), 0),
        ]
    )
    cap = len(turn) + len(face)
    side = np.concatenate([side, np.repeat(side[-1:], cap, 0)])
    width = np.concatenate([width, np.full(cap, width[-1])])
    swell = np.concatenate([swell, 1 - 0.14 * (1 - np.cos(turn)), 0.86 * face])
    around = np.linspace(0, 2 * np.pi, int(88 * q) + 12, endpoint=False)
    e = shape.strap_squareness
    across = np.sign(np.cos(around)) * np.abs(np.cos(around)) ** e * shape.strap_width / 2
    through = np.sign(np.sin(around)) * np.abs(np.sin(around)) ** e * shape.strap_thickness / 2
    offset = through[None] * swell[:, None]
    r = path[:, :1] + side[:, :1] * offset
    z = path[:, 1:] + side[:, 1:] * offset
    y = across[None] * (swell * width)[:, None] + shape.strap_twist * (path[0, 0] - r)
    angle = shape.phase + index * 2 * np.pi / shape.straps
    grid = np.stack([r * np.cos(angle) - y * np.sin(angle), r * np.sin(angle) + y * np.cos(angle), z], -1)
    rigid = np.concatenate([np.ones(len(path) - cap), 0.6 * np.linspace(1, 0, cap) ** 0.5])[:, None]
    position = np.concatenate([along, np.ones(cap)])[:, None]
    zone = np.full(len(path), Zone.STRAP, np.uint8)
    return _Piece(grid, zone, outward=False, rigid=rigid, along=position)
