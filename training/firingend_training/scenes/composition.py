"""Composes scenes: plugs with their histories, a place, light and cameras.

Label, shape, shell, place, light and cameras are drawn from random streams of their own, so that nothing but the
deposits tells the label. World frame: millimetres, the ground at z = 0, +Z up.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firingend_training.scenes import props
from firingend_training.scenes.blend import smooth_step
from firingend_training.scenes.clutter import Site
from firingend_training.scenes.deposits import (
    UNUSED,
    Condition,
    ShellState,
    coat,
    draw_condition,
    draw_label,
    draw_shell,
)
from firingend_training.scenes.drops import stand_drops
from firingend_training.scenes.light import Light, draw_light
from firingend_training.scenes.mesh import SurfaceMesh, merged, placed
from firingend_training.scenes.noise import in_plane
from firingend_training.scenes.plug_shape import PlugGeometry, PlugShape, Split, build_geometry, draw_shape
from firingend_training.scenes.shade import cast_shadow
from firingend_training.scenes.surfaces import Ground, draw_ground
from firingend_training.scenes.view import View, unit
from firingend_training.truth import PARTS_PER_PLUG

Vector = NDArray[np.floating]
KINDS = ("close", "held", "whole", "row", "other-part")
VIEWS_OF_KIND = {"close": 3, "held": 3, "whole": 2, "row": 2, "other-part": 2}
BAY_GROUNDS = ("body panel", "engine casting")
"""Grounds of the training split that lie in an engine bay: hoses and wires lie there, not tools and packets."""
VIEW_BANDS = ((0.0, 22.0), (22.0, 62.0), (62.0, 100.0))
VIEW_BAND_SHARES = (0.28, 0.37, 0.35)


@dataclass(frozen=True, slots=True)
class SceneSettings:
    """What a scene is drawn from besides its number."""

    seed: int = 1
    split: Split = "train"
    kind_shares: tuple[float, ...] = (0.48, 0.16, 0.08, 0.2, 0.08)
    close_pixels: tuple[int, int] = (288, 288)
    wide_pixels: tuple[int, int] = (1280, 960)
    detail: float = 1.0


@dataclass(frozen=True, slots=True)
class ScenePlan:
    """Kind and labels of a scene: cheap to draw, so that a run can be counted before it is built."""

    number: int
    kind: str
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlugInScene:
    """A plug's truth that does not depend on the view."""

    number: int
    condition: Condition
    shell: ShellState
    shape: PlugShape
    cover: dict[str, float]
    rotation: Vector
    offset: Vector
    firing_end: Vector
    """(k, 3) mm, points spread over the firing end, in the world."""
    place: tuple[int, int] = (0, 0)
    """Column along the world's +X and line along its +Y where plugs are laid out in lines."""

    @property
    def axis(self) -> Vector:
        """Unit vector in the world, from shell out past the strap."""
        return self.rotation[:, 2]


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything a renderer needs for one scene.

    ``plugs.part`` holds ``truth.mask_value`` of the plug's place in ``members``; ``in_box`` says which of its faces
    belong to firing ends. ``drops.part`` holds the same of what each drop of clear liquid stands on. ``ground_uv``
    counts tiles.
    """

    plan: ScenePlan
    plugs: SurfaceMesh
    in_box: NDArray[np.bool_]
    drops: SurfaceMesh
    props: SurfaceMesh
    ground: SurfaceMesh
    ground_uv: NDArray[np.float32]
    ground_texture: NDArray[np.float32]
    environment: NDArray[np.float32]
    environment_turn: float
    illuminant: NDArray[np.float32]
    views: tuple[View, ...]
    members: tuple[PlugInScene, ...]
    nuisance: dict[str, Any]
    view_nuisance: tuple[dict[str, Any], ...] = field(default=())


def stream(settings: SceneSettings, number: int, purpose: str) -> np.random.Generator:
    """The random stream of one purpose in one scene; independent of every other purpose."""
    return np.random.default_rng(
        [settings.seed, 0 if settings.split == "train" else 1, number, zlib.crc32(purpose.encode())]
    )


# --------------------------------------------------------------------------------------------- plan


def plan_scene(settings: SceneSettings, number: int) -> ScenePlan:
    """Draw kind and labels."""
    shares = np.array(settings.kind_shares, float)
    kind = str(stream(settings, number, "kind").choice(KINDS, p=shares / shares.sum()))
    rng = stream(settings, number, "label")
    if kind == "other-part":
        return ScenePlan(number, kind, ())
    if kind != "row":
        return ScenePlan(number, kind, (draw_label(rng),))
    return ScenePlan(number, kind, _row_labels(rng))


def _row_labels(rng: np.random.Generator) -> tuple[str, ...]:
    """Labels of a row: all alike, one odd, a pair, or each its own."""
    count = int(rng.choice([2, 3, 4, 5, 6, 8], p=[0.12, 0.16, 0.38, 0.08, 0.18, 0.08]))
    pattern = rng.choice(["alike", "odd", "pair", "mixed"], p=[0.34, 0.26, 0.1, 0.3])
    labels = [draw_label(rng)] * count
    if pattern == "mixed":
        labels = [draw_label(rng) for _ in range(count)]
    elif pattern in ("odd", "pair"):
        odd, first = draw_label(rng), int(rng.integers(count))
        for index in range(first, min(first + (1 if pattern == "odd" else 2), count)):
            labels[index] = odd
    return tuple(labels)


# --------------------------------------------------------------------------------------------- poses


def _turn_to(axis: Vector, roll: float) -> Vector:
    """Rotation that takes +Z to ``axis`` after a roll about +Z."""
    z = unit(axis)
    helper = np.array([1.0, 0, 0]) if abs(z[0]) < 0.9 else np.array([0, 1.0, 0])
    x = unit(np.cross(helper, z))
    frame = np.stack([x, np.cross(z, x), z], 1)
    c, s = np.cos(roll), np.sin(roll)
    rotation: Vector = frame @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    return rotation


def _flat_down(axis: Vector) -> float:
    """Roll that lays a flat of the hexagon on the ground."""
    turn = _turn_to(axis, 0.0)
    down = turn.T @ np.array([0, 0, -1.0])
    return float(np.arctan2(down[1], down[0]) - np.pi / 6)


@dataclass(frozen=True, slots=True)
class _Pose:
    """Where a plug is; ``shape`` is the plug before wear, so that cameras cannot know of the wear."""

    name: str
    shape: PlugShape
    rotation: Vector
    offset: Vector
    place: tuple[int, int] = (0, 0)


def _lying(rng: np.random.Generator, shape: PlugShape, heading: float, x: float = 0.0, y: float = 0.0) -> _Pose:
    tilt = rng.normal(0, np.radians(1.5))
    axis = np.array([np.cos(heading) * np.cos(tilt), np.sin(heading) * np.cos(tilt), np.sin(tilt)])
    # The hexagon rests on the ground; the rim is 'reach + 12' further along the axis.
    rotation = _turn_to(axis, _flat_down(axis))
    height = max(shape.hexagon / 2 + np.sin(tilt) * (shape.reach + 12), shape.thread / 2 + 0.2)
    return _Pose("lying", shape, rotation, np.array([x, y, height]))


def _standing(rng: np.random.Generator, shape: PlugShape, x: float, y: float, through_board: bool) -> _Pose:
    lean = np.array([*rng.normal(0, 0.03, 2), 1.0])
    below = shape.reach + rng.uniform(1.5, 5) if through_board else -shape.tail
    rotation = _turn_to(lean, rng.uniform(0, 2 * np.pi))
    name = "through-board" if through_board else "standing"
    return _Pose(name, shape, rotation, np.array([x, y, 0]) + below * rotation[:, 2])


def _floating(rng: np.random.Generator, shape: PlugShape) -> _Pose:
    elevation = np.arcsin(rng.uniform(-0.2, 1.0))
    heading = rng.uniform(0, 2 * np.pi)
    axis = np.array([np.cos(elevation) * np.cos(heading), np.cos(elevation) * np.sin(heading), np.sin(elevation)])
    rotation = _turn_to(axis, rng.uniform(0, 2 * np.pi))
    return _Pose("held", shape, rotation, np.array([0, 0, rng.uniform(70, 350)]))


def _row_poses(rng: np.random.Generator, shapes: list[PlugShape]) -> list[_Pose]:
    """Side by side with a little disorder, lying or standing."""
    style = rng.choice(["lying", "through-board", "standing"], p=[0.62, 0.28, 0.1])
    pitch = max(s.widest_radius * 2 for s in shapes) + rng.uniform(0.5, 14)
    heading = np.pi / 2 + rng.normal(0, 0.03)
    disorder = rng.uniform(0.005, 0.09)
    poses = []
    two_rows = style == "through-board" and len(shapes) >= 4 and rng.random() < 0.25
    for index, shape in enumerate(shapes):
        column, line = (index // 2, index % 2) if two_rows else (index, 0)
        columns = (len(shapes) + 1) // 2 if two_rows else len(shapes)
        x = (column - (columns - 1) / 2) * pitch + rng.normal(0, 0.6)
        y = line * pitch + rng.normal(0, rng.uniform(0.3, 2.5))
        if style == "lying":
            pose = _lying(rng, shape, heading + rng.normal(0, disorder), x, y)
        else:
            pose = _standing(rng, shape, x, y, style == "through-board")
        poses.append(replace(pose, place=(column, line)))
    return poses


# --------------------------------------------------------------------------------------------- plugs


def _row_shapes(rng: np.random.Generator, settings: SceneSettings, labels: tuple[str, ...]) -> list[PlugShape]:
    """Plugs of one engine are of one kind: dimensions differ by wear and making only."""
    first = draw_shape(rng, settings.split)
    mixed = rng.random() < 0.12
    shapes = []
    for label in labels:
        own = draw_shape(rng, settings.split, label == UNUSED)
        if not mixed:
            own = replace(
                first,
                gap=float(np.clip(first.gap + rng.normal(0, 0.06), 0.45, 1.35)),
                phase=own.phase,
                electrode_wear=own.electrode_wear,
                strap_twist=own.strap_twist,
                strap_end=own.strap_end,
            )
        shapes.append(own)
    return shapes


def _row_shells(rng: np.random.Generator, labels: tuple[str, ...]) -> list[ShellState]:
    """Shells of one set share finish and mostly dirt."""
    first = draw_shell(rng)
    alike = rng.random() < 0.7
    shells = []
    for label in labels:
        own = draw_shell(rng, label == UNUSED)
        if label == UNUSED:
            own = replace(own, finish=first.finish)
        elif alike:
            own = replace(first, amount=own.amount, rim_dirt=own.rim_dirt if rng.random() < 0.4 else first.rim_dirt)
        shells.append(own)
    return shells


def _single_shell(settings: SceneSettings, plan: ScenePlan) -> list[ShellState]:
    return [draw_shell(stream(settings, plan.number, "shell"), plan.labels[0] == UNUSED)]


def _worn(shape: PlugShape, condition: Condition) -> PlugShape:
    """The shape after the wear that the condition's sign tells."""
    strength = condition.signs.get("worn", 0.0)
    if not strength:
        return shape
    return replace(
        shape,
        electrode_wear=min(0.4 + 0.4 * strength, 0.75),
        gap=shape.gap + 0.5 * strength,
        electrode_height=max(shape.electrode_height - 0.4 * strength, 0.15),
        strap_end=shape.strap_end + 0.25 * strength,
    )


def _build_plugs(
    settings: SceneSettings,
    plan: ScenePlan,
    shapes: list[PlugShape],
    shells: list[ShellState],
    poses: list[_Pose],
    q: float,
) -> tuple[SurfaceMesh, NDArray[np.bool_], SurfaceMesh, tuple[PlugInScene, ...]]:
    """Mesh of all plugs, which of its faces count for a box, mesh of the drops on them, and their truths."""
    meshes, in_box, drops, members = [], [], [nowhere()], []
    for index, label in enumerate(plan.labels):
        condition_rng = stream(settings, plan.number, f"condition {index}")
        condition = draw_condition(condition_rng, label)
        shape = _worn(shapes[index], condition)
        geometry = build_geometry(shape, q)
        mesh, cover = coat(
            geometry, condition, shells[index], condition_rng, stream(settings, plan.number, f"coat {index}")
        )
        pose = poses[index]
        down = pose.rotation.T @ np.array([0, 0, -1.0])
        standing = stand_drops(mesh, geometry, condition.drops, down, stream(settings, plan.number, f"drops {index}"))
        if standing is not None:
            drops.append(placed(_numbered(standing, index), pose.rotation, pose.offset))
        meshes.append(placed(_numbered(mesh, index), pose.rotation, pose.offset))
        in_box.append(geometry.face_in_box)
        members.append(
            PlugInScene(
                number=plan.number * 8 + index,
                condition=condition,
                shell=shells[index],
                shape=shape,
                cover=cover,
                rotation=pose.rotation,
                offset=pose.offset,
                firing_end=_firing_end_points(geometry) @ pose.rotation.T + pose.offset,
                place=pose.place,
            )
        )
    if not meshes:
        return nowhere(), np.zeros(1, np.bool_), nowhere(), ()
    return merged(meshes), np.concatenate(in_box), merged(drops), tuple(members)


def _numbered(mesh: SurfaceMesh, index: int) -> SurfaceMesh:
    """The mesh with ``truth.mask_value`` of the plug at ``index`` for its parts."""
    return replace(mesh, part=(mesh.part + PARTS_PER_PLUG * index).astype(np.uint8))


def _firing_end_points(geometry: PlugGeometry) -> Vector:
    """A few hundred vertices of the firing end, for framing."""
    vertices = np.unique(geometry.faces[geometry.face_in_box])
    return geometry.points[vertices[:: max(1, len(vertices) // 400)]].astype(float)


def nowhere() -> SurfaceMesh:
    """A speck far below the ground: stands in where a scene has no plug, no drop or no prop."""
    points = np.array([[0, 0, -5000], [0.01, 0, -5000], [0, 0.01, -5000]], np.float32)
    one = np.ones(3, np.float32)
    return SurfaceMesh(
        points=points,
        normals=np.tile(np.array([0, 0, 1], np.float32), (3, 1)),
        faces=np.array([[0, 1, 2]], np.uint32),
        colour=np.full((3, 3), 0.5, np.float32),
        roughness=0.5 * one,
        metallic=0 * one,
        clearcoat=0 * one,
        part=np.zeros(1, np.uint8),
    )


# --------------------------------------------------------------------------------------------- ground


def _ground_mesh(ground: Ground, rng: np.random.Generator) -> tuple[SurfaceMesh, NDArray[np.float32]]:
    """The ground out to 0.9 m, finer near the middle; nothing rises above z = 0."""
    count, extent = 200, 900.0
    u = np.linspace(-1, 1, count)
    line = np.sign(u) * np.abs(u) ** 2.0 * extent
    x, y = np.meshgrid(line, line)
    shift = rng.uniform(0, 1, 2)
    tile = ground.height.shape[0]
    column = ((x / ground.tile_mm + shift[0]) * tile).astype(int) % tile
    row = ((y / ground.tile_mm + shift[1]) * tile).astype(int) % tile
    height = ground.height[row, column].astype(float)
    if ground.fold_mm > 0:
        folds = in_plane(rng, "soft")
        wave = folds[(y / 300 * 512).astype(int) % 512, (x / 300 * 512).astype(int) % 512]
        height += ground.fold_mm * wave * smooth_step(5, 60, np.hypot(x, y))
    height -= np.percentile(height[np.hypot(x, y) < 60], 95)
    points = np.stack([x, y, height], -1)
    normals = np.cross(np.gradient(points, axis=1), np.gradient(points, axis=0))
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    r = np.arange(count - 1)[:, None]
    c = np.arange(count - 1)[None]
    a = r * count + c
    b, d = a + 1, a + count
    faces = np.stack([np.stack([a, b, d + 1], -1), np.stack([a, d + 1, d], -1)], 2).reshape(-1, 3)
    full = np.ones(count * count, np.float32)
    mesh = SurfaceMesh(
        points=points.reshape(-1, 3).astype(np.float32),
        normals=normals.reshape(-1, 3).astype(np.float32),
        faces=faces.astype(np.uint32),
        colour=np.full((count * count, 3), 0.5, np.float32),
        roughness=np.float32(ground.roughness) * full,
        metallic=np.float32(ground.metallic) * full,
        clearcoat=0 * full,
        part=np.zeros(len(faces), np.uint8),
    )
    uv = np.stack([x / ground.tile_mm + shift[0], y / ground.tile_mm + shift[1]], -1).reshape(-1, 2)
    return mesh, uv.astype(np.float32)


# --------------------------------------------------------------------------------------------- cameras


def draw_view_angle(rng: np.random.Generator, highest: float = 100.0) -> float:
    """Angle between plug axis and line of sight, degrees, over the three bands."""
    while True:
        low, high = VIEW_BANDS[rng.choice(3, p=VIEW_BAND_SHARES)]
        angle = float(rng.uniform(low, high))
        if angle <= highest:
            return angle


def _sight(rng: np.random.Generator, axis: Vector, angle: float, lowest: float) -> Vector:
    """Unit vector from the plug to a camera at ``angle`` degrees off the axis, not below ``lowest`` elevation."""
    helper = np.array([1.0, 0, 0]) if abs(axis[0]) < 0.9 else np.array([0, 1.0, 0])
    x = unit(np.cross(helper, axis))
    y = np.cross(axis, x)
    best = axis
    for _ in range(40):
        around = rng.uniform(0, 2 * np.pi)
        across = np.cos(around) * x + np.sin(around) * y
        sight: Vector = np.cos(np.radians(angle)) * axis + np.sin(np.radians(angle)) * across
        if sight[2] > lowest:
            return sight
        best = sight if sight[2] > best[2] else best
    lifted = best + np.array([0, 0, max(lowest - best[2], 0) * 1.05])
    return unit(lifted)


@dataclass(frozen=True, slots=True)
class _Shot:
    """Where a camera stands, before lamp and picture size."""

    origin: Vector
    target: Vector
    up: Vector
    frame_mm: float
    aperture: float
    focus: float


def _shoot(
    rng: np.random.Generator,
    subject: Vector,
    sight: Vector,
    distance: float,
    frame_mm: float,
    focus_point: Vector,
    axis: Vector,
) -> _Shot:
    origin = subject + sight * distance
    target = subject + rng.normal(0, 0.04 * frame_mm, 3)
    aperture = rng.uniform(0.4, 2.0) * (distance / 120) ** 0.3
    if rng.random() < 0.1:
        focus_point = focus_point + sight * rng.normal(0, 0.08 * distance)
    focus_point = focus_point + rng.normal(0, 0.4, 3)
    forward = unit(target - origin)
    focus = float((focus_point - origin) @ forward)
    return _Shot(origin, target, _picture_up(rng, sight, axis), frame_mm, float(aperture), focus)


def _picture_up(rng: np.random.Generator, sight: Vector, axis: Vector) -> Vector:
    """How the phone was held: upright, along the plug, or any way round."""
    kind = rng.random()
    up = (
        np.array([0, 0, 1.0]) if kind < 0.45 else (axis * rng.choice([-1, 1]) if kind < 0.7 else rng.standard_normal(3))
    )
    up = up + rng.normal(0, 0.15, 3)
    if np.linalg.norm(np.cross(up, sight)) < 0.15:
        up = up + rng.standard_normal(3)
    return unit(up)


def _close_shot(rng: np.random.Generator, plug: PlugInScene, pose: _Pose) -> _Shot:
    shape = pose.shape
    size = shape.thread / 14
    angle = draw_view_angle(rng, 82 if pose.name in ("standing", "through-board") else 100)
    lowest = -0.15 if pose.name == "held" else 0.09
    sight = _sight(rng, plug.axis, angle, lowest)
    frame = rng.uniform(13, 27) * size
    if pose.name == "held" and rng.random() < 0.35:
        frame *= rng.uniform(1.3, 2.2)  # wide enough to show what holds it
    if rng.random() < 0.14:
        frame *= rng.uniform(1.2, 1.9)
    distance = rng.uniform(70, 200)
    slant = np.sin(np.radians(angle))
    middle = shape.top * 0.5 + rng.uniform(0.1, 1.0) * (-rng.uniform(0, 5) * slant - shape.top * 0.5)
    subject = plug.offset + plug.axis * middle
    focus = plug.offset + plug.axis * rng.uniform(-2, max(shape.top, 0.5))
    return _shoot(rng, subject, sight, distance, frame, focus, plug.axis)


def _whole_shot(rng: np.random.Generator, plug: PlugInScene, pose: _Pose) -> _Shot:
    shape = pose.shape
    angle = float(rng.uniform(35, 110) if rng.random() < 0.8 else rng.uniform(5, 35))
    sight = _sight(rng, plug.axis, min(angle, 80) if pose.name == "standing" else angle, 0.2)
    length = shape.top - shape.tail
    along = rng.uniform(0.15, 0.6) * shape.tail
    seen = length * max(np.sin(np.radians(angle)), 0.4)
    frame = seen * rng.uniform(0.9, 2.4)
    subject = plug.offset + plug.axis * along
    return _shoot(rng, subject, sight, rng.uniform(180, 480), frame, plug.offset, plug.axis)


def _row_shot(rng: np.random.Generator, members: tuple[PlugInScene, ...], poses: list[_Pose], aspect: float) -> _Shot:
    """A shot that holds every firing end of a row."""
    mean_axis = unit(np.mean([m.axis for m in members], axis=0))
    if poses[0].name == "lying":
        elevation, turn = np.radians(rng.uniform(28, 88)), np.radians(rng.uniform(-50, 50))
        heading = np.arctan2(mean_axis[1], mean_axis[0]) + turn
    else:
        elevation, heading = np.radians(rng.uniform(18, 86)), -np.pi / 2 + np.radians(rng.uniform(-45, 45))
    sight = np.array([np.cos(elevation) * np.cos(heading), np.cos(elevation) * np.sin(heading), np.sin(elevation)])
    points = np.concatenate([_end_corners(pose) for pose in poses])
    distance = rng.uniform(200, 480)
    centre = (points.max(0) + points.min(0)) / 2
    across = unit(members[-1].offset - members[0].offset) if len(members) > 1 else np.array([1.0, 0, 0])
    # 'Up' is chosen so that the row runs across the picture, or, for one shot in seven, down it.
    up = np.cross(sight, across) * rng.choice([1, -1], p=[0.85, 0.15])
    if rng.random() < 0.14:
        up = across
    up = up + rng.normal(0, 0.12, 3)
    right = unit(np.cross(-sight, up))
    down = np.cross(-sight, right)
    depth = distance - (points - centre) @ sight
    spread_x = np.abs((points - centre) @ right / depth).max() * 2
    spread_y = np.abs((points - centre) @ down / depth).max() * 2
    frame = max(spread_x, spread_y * aspect) * distance * rng.uniform(1.08, 1.7)
    if rng.random() < 0.2:
        frame *= rng.uniform(1.2, 1.7)  # taken from too far away, as people do
    frame = max(frame, 45.0)
    origin = centre + sight * distance
    target = centre + rng.normal(0, 0.01 * frame, 3)
    sharp = members[rng.integers(len(members))].offset
    focus = float((sharp - origin) @ unit(target - origin))
    return _Shot(origin, target, unit(up), float(frame), float(rng.uniform(0.4, 1.8) * (distance / 120) ** 0.3), focus)


def _part_shot(rng: np.random.Generator, centre: Vector, size: float, axis: Vector) -> _Shot:
    sight = _sight(rng, axis, float(rng.uniform(0, 110)), 0.1)
    frame = size * rng.uniform(1.0, 2.6)
    return _shoot(rng, centre, sight, rng.uniform(90, 260), frame, centre, axis)


def _with_lamp(
    rng: np.random.Generator, shot: _Shot, light: Light, anchor: Vector, room_lamp: Vector, pixels: tuple[int, int]
) -> View:
    distance = float(np.linalg.norm(shot.target - shot.origin))
    radiance = light.lamp_radiance.astype(float)
    position, aim = anchor + room_lamp * light.lamp_distance_mm, anchor
    if light.flash:
        forward = unit(shot.target - shot.origin)
        side = unit(np.cross(forward, rng.standard_normal(3)))
        position, aim = shot.origin + side * rng.uniform(8, 15), shot.target
        radiance = radiance * (distance / light.lamp_distance_mm) ** 2
    elif light.behind:
        position, aim = shot.target + _beyond(rng, shot) * light.lamp_distance_mm, shot.target
    return View(
        origin=shot.origin,
        target=shot.target,
        up=shot.up,
        field_degrees=float(2 * np.degrees(np.arctan(shot.frame_mm / 2 / distance))),
        aperture_mm=shot.aperture,
        focus_mm=max(shot.focus, 20.0),
        width=pixels[0],
        height=pixels[1],
        lamp_position=position,
        lamp_target=aim,
        lamp_radius_mm=light.lamp_radius_mm,
        lamp_radiance=radiance,
    )


def _beyond(rng: np.random.Generator, shot: _Shot) -> Vector:
    """Unit vector from the subject away from the camera, a little off, and up where that would lead into the ground."""
    away = unit(shot.target - shot.origin) + rng.normal(0, 0.2, 3)
    rise = np.sin(np.radians(rng.uniform(8, 35)))
    level = np.hypot(away[0], away[1])
    if level < 1e-3:
        away, level = np.array([1.0, 0, 0]), 1.0
    if away[2] < rise:
        across = np.sqrt(1 - rise**2) / level
        away = np.array([away[0] * across, away[1] * across, rise])
    return unit(away)


# --------------------------------------------------------------------------------------------- scenes


def compose(settings: SceneSettings, plan: ScenePlan) -> Scene:
    """Build the scene of a plan. It depends on the settings and the plan's number alone."""
    number = plan.number
    pose_rng = stream(settings, number, "pose")
    shapes, shells, poses = _subjects(settings, plan, pose_rng)
    q = settings.detail * {"close": 1.0, "held": 1.0, "whole": 0.7, "row": 0.45, "other-part": 1.0}[plan.kind]
    plugs, in_box, drops, members = _build_plugs(settings, plan, shapes, shells, poses, q)
    place_rng = stream(settings, number, "place")
    ground = draw_ground(place_rng, settings.split)
    ground_mesh, uv = _ground_mesh(ground, place_rng)
    light_rng = stream(settings, number, "light")
    light = draw_light(light_rng, settings.split)
    site: Site = "held out"
    if settings.split == "train":
        site = "engine bay" if ground.name in BAY_GROUNDS else "bench"
    prop_mesh, prop_facts, subject = _props_of(settings, plan, poses, site)
    camera_rng = stream(settings, number, "camera")
    pixels = _pixels(settings, plan, camera_rng)
    room_lamp = _lamp_direction(light_rng)
    shots = [
        _shot_of(camera_rng, plan, members, poses, subject, pixels[0] / pixels[1])
        for _ in range(VIEWS_OF_KIND[plan.kind])
    ]
    views = tuple(_with_lamp(light_rng, shot, light, shots[0].target, room_lamp, pixels) for shot in shots)
    shade_facts: dict[str, Any] = {}
    if light.shaded and poses:
        shade_rng = stream(settings, number, "shade")
        ends = np.concatenate([_end_points(pose) for pose in poses])
        bodies = np.concatenate([_axis_points(pose) for pose in poses])
        shadow = cast_shadow(shade_rng, ends, bodies, views, light.lamp_distance_mm)
        shade_facts["shaded"] = 0.0 if shadow is None else round(shadow.share, 3)
        if shadow is not None:
            lamp = shadow.lamp_position
            views = tuple(replace(view, lamp_position=lamp, lamp_target=ends.mean(0)) for view in views)
            prop_mesh = merged([prop_mesh, shadow.mesh])
    return Scene(
        plan=plan,
        plugs=plugs,
        in_box=in_box,
        drops=drops,
        props=prop_mesh,
        ground=ground_mesh,
        ground_uv=uv,
        ground_texture=ground.texture.astype(np.float32),
        environment=light.environment,
        environment_turn=float(light_rng.uniform(0, 360)),
        illuminant=light.illuminant,
        views=views,
        members=members,
        nuisance={
            "place": ground.name,
            "light": light.name,
            "flash": bool(light.flash),
            "pose": poses[0].name if poses else "none",
            **prop_facts,
            **shade_facts,
        },
        view_nuisance=tuple(
            {
                "frame_mm": round(s.frame_mm, 1),
                "distance_mm": round(float(np.linalg.norm(s.target - s.origin)), 1),
                "aperture_mm": round(s.aperture, 2),
            }
            for s in shots
        ),
    )


def _subjects(
    settings: SceneSettings, plan: ScenePlan, rng: np.random.Generator
) -> tuple[list[PlugShape], list[ShellState], list[_Pose]]:
    """Shapes, shells and poses of the plan's plugs."""
    if plan.kind == "other-part":
        return [], [], []
    shape_rng = stream(settings, plan.number, "shape")
    if plan.kind == "row":
        shapes = _row_shapes(shape_rng, settings, plan.labels)
        shells = _row_shells(stream(settings, plan.number, "shell"), plan.labels)
        return shapes, shells, _row_poses(rng, shapes)
    shape = draw_shape(shape_rng, settings.split, plan.labels[0] == UNUSED)
    if plan.kind == "held":
        pose = _floating(rng, shape)
    elif plan.kind == "whole":
        pose = (
            _lying(rng, shape, rng.uniform(0, 2 * np.pi)) if rng.random() < 0.85 else _standing(rng, shape, 0, 0, False)
        )
    else:
        kind = rng.choice(["lying", "floating", "standing", "board"], p=[0.5, 0.25, 0.1, 0.15])
        if kind == "lying":
            pose = _lying(rng, shape, rng.uniform(0, 2 * np.pi))
        elif kind == "floating":
            pose = _floating(rng, shape)
        else:
            pose = _standing(rng, shape, 0, 0, kind == "board")
    return [shape], _single_shell(settings, plan), [pose]


def _pixels(settings: SceneSettings, plan: ScenePlan, rng: np.random.Generator) -> tuple[int, int]:
    wide = plan.kind in ("whole", "row") or (plan.kind == "other-part" and rng.random() < 0.5)
    return settings.wide_pixels if wide else settings.close_pixels


def _lamp_direction(rng: np.random.Generator) -> Vector:
    elevation, heading = np.arcsin(rng.uniform(0.25, 1.0)), rng.uniform(0, 2 * np.pi)
    return np.array([np.cos(elevation) * np.cos(heading), np.cos(elevation) * np.sin(heading), np.sin(elevation)])


def _shot_of(
    rng: np.random.Generator,
    plan: ScenePlan,
    members: tuple[PlugInScene, ...],
    poses: list[_Pose],
    subject: tuple[Vector, float, Vector],
    aspect: float,
) -> _Shot:
    if plan.kind == "other-part":
        return _part_shot(rng, *subject)
    if plan.kind == "row":
        return _row_shot(rng, members, poses, aspect)
    if plan.kind == "whole":
        return _whole_shot(rng, members[0], poses[0])
    return _close_shot(rng, members[0], poses[0])


def _props_of(
    settings: SceneSettings, plan: ScenePlan, poses: list[_Pose], site: Site
) -> tuple[SurfaceMesh, dict[str, Any], tuple[Vector, float, Vector]]:
    """Hand, tools and other parts; also centre, size and axis of an ``other-part`` subject."""
    rng = stream(settings, plan.number, "props")
    meshes: list[SurfaceMesh] = []
    facts: dict[str, Any] = {"hand": False, "clutter": False}
    subject = (np.zeros(3), 20.0, np.array([0, 0, 1.0]))
    clear = [(float(p[0]), float(p[1]), 14.0) for pose in poses for p in _axis_points(pose)]
    if plan.kind == "held":
        meshes.append(_hand(rng, poses[0]))
        facts["hand"] = True
    if plan.kind == "other-part":
        name, part = props.other_part(rng, settings.split)
        part, axis = _laid_down(rng, part)
        low, high = part.points.min(0), part.points.max(0)
        subject = ((low + high) / 2, float(np.linalg.norm(high - low)), axis)
        clear = [(0.0, 0.0, subject[1] * 0.7)]
        meshes.append(part)
        facts["other_part"] = name
    often = plan.kind in ("whole", "row") or site == "engine bay"
    if rng.random() < (0.6 if often else 0.4):
        meshes.append(props.clutter(rng, clear, site))
        facts["clutter"] = True
    return (merged([nowhere(), *meshes]), facts, subject)


def _axis_points(pose: _Pose) -> Vector:
    steps = np.linspace(pose.shape.tail, pose.shape.top + 6, 7)
    return pose.offset + steps[:, None] * pose.rotation[:, 2]


def _end_corners(pose: _Pose) -> Vector:
    """Corners of a box round the firing end, in the world."""
    r, shape = pose.shape.thread / 2, pose.shape
    corners = [(x, y, z) for x in (-r, r) for y in (-r, r) for z in (-3.5, max(shape.top, 1.0))]
    return np.array(corners) @ pose.rotation.T + pose.offset


def _end_points(pose: _Pose) -> Vector:
    """(k, 3) mm, points spread over a firing end as it is before wear, in the world."""
    shape, angle = pose.shape, np.arange(12) / 12 * 2 * np.pi
    rings = [
        np.stack([r * np.cos(angle), r * np.sin(angle), np.full(12, z)], 1)
        for z in np.linspace(-3.5, max(shape.top, 1.0), 6)
        for r in (0.3 * shape.rim_radius, shape.rim_radius)
    ]
    return np.concatenate(rings) @ pose.rotation.T + pose.offset


def _hand(rng: np.random.Generator, pose: _Pose) -> SurfaceMesh:
    shape = pose.shape
    if rng.random() < 0.6:
        radius, z = shape.widest_radius, -shape.reach - rng.uniform(8, 16)
    else:
        radius, z = shape.hexagon / 2 * 0.64, -shape.reach - rng.uniform(20, 34)
    return placed(props.hand(rng, radius, z), pose.rotation, pose.offset)


def _laid_down(rng: np.random.Generator, part: SurfaceMesh) -> tuple[SurfaceMesh, Vector]:
    """A part standing along +Z, left standing or laid on its side, resting on the ground."""
    axis = np.array([0, 0, 1.0])
    if rng.random() < 0.6:
        heading = rng.uniform(0, 2 * np.pi)
        axis = np.array([np.cos(heading), np.sin(heading), rng.normal(0, 0.04)])
    turned = placed(part, _turn_to(axis, rng.uniform(0, 2 * np.pi)), np.zeros(3))
    middle = (turned.points.max(0) + turned.points.min(0)) / 2
    lift = np.array([-middle[0], -middle[1], -turned.points[:, 2].min()])
    return placed(turned, np.eye(3), lift), unit(axis)
