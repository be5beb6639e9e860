"""What a plug has been through: deposits on its firing end, finish and dirt of its shell, with the truth about both.

Three things are drawn from random streams of their own and must stay independent: the *condition* (label, deposits,
signs), the *shell* (finish, dirt of thread and rim) and the *shape*. A healthy plug often has a black, oily thread
and a black rim: the label is told by nose and deposits. Colours are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firingend.labels import PARTS
from firingend_training.scenes.blend import Floats, blend, smooth_step, srgb
from firingend_training.scenes.mesh import SurfaceMesh
from firingend_training.scenes.noise import VolumeKind, in_space
from firingend_training.scenes.plug_shape import PART_OF_ZONE, PlugGeometry, Zone

UNUSED = "unused"
LABEL_SHARES = {
    "lean-white": 0.17,
    "normal-tan": 0.23,
    "rich-carbon": 0.17,
    "oil-fouled": 0.15,
    "wet": 0.16,
    UNUSED: 0.12,
}
"""Shares of the labels in a rendered set; a reader's prior is set elsewhere."""

_LEAST_SEVERITY = {"rich-carbon": 0.18, "oil-fouled": 0.35, "wet": 0.55}
"""Below these nobody would give the label."""

FINISHES = ("zinc-bright", "zinc-yellow", "nickel", "black-oxide", "dull-steel")
THREAD_DIRT = ("bright", "varnish", "dry-black", "oily-black", "rust")
RIM_DIRT = ("bright", "brown", "dry-black", "glossy-black")

Mask = NDArray[np.bool_]
Numbers = NDArray[np.floating]


@dataclass(frozen=True, slots=True)
class Condition:
    """The label and what lies behind it; ``severity`` and signs 0..1."""

    label: str
    ceramic: str
    surface: str
    severity: float
    under: str
    """What the ceramic looks like beneath a film or thin soot: pale, tan or black."""
    thin: bool
    sheen: float
    """0..1, how glossy a *dry* ceramic is: gloss alone must not mean wet."""
    texture: float
    """0..1, how rough a dry deposit stands, from burned on smooth to fluff and clumps. Drawn without knowing the label:
    where only soot was fluffy, a reader went by the fluff and took smooth grey noses in photographs for tan."""
    drops: float = 0.0
    """0..1, how thickly drops of fuel stand on a wet plug (``drops.stand_drops``); 0 for none."""
    signs: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ShellState:
    """Finish and dirt of the shell, drawn without knowing the label."""

    finish: str
    thread_dirt: str
    rim_dirt: str
    amount: float
    electrode_tone: float
    electrode_gloss: float

    def facts(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"finish": self.finish, "thread_dirt": self.thread_dirt, "rim_dirt": self.rim_dirt}


# --------------------------------------------------------------------------------------------- drawing


def draw_label(rng: np.random.Generator) -> str:
    """One of the five labels or ``unused``, by :data:`LABEL_SHARES`."""
    return str(rng.choice(list(LABEL_SHARES), p=list(LABEL_SHARES.values())))


def draw_condition(rng: np.random.Generator, label: str) -> Condition:
    """Draw severity, facts and signs for a label."""
    severity = float(rng.uniform(_LEAST_SEVERITY.get(label, 0.05), 1.0))
    under = {"lean-white": "pale", "normal-tan": "tan", "rich-carbon": "tan", "oil-fouled": "tan"}.get(label, "pale")
    ceramic = {"rich-carbon": "black", "oil-fouled": "black"}.get(label, under)
    surface = {"oil-fouled": "gloss", "wet": "film"}.get(label, "dry")
    if label == "wet":
        under = ceramic = str(rng.choice(["pale", "tan", "black"], p=[0.38, 0.45, 0.17]))
    if label == "rich-carbon" and rng.random() < 0.4:
        under = "pale"
    signs = {} if label == UNUSED else _draw_signs(rng, label)
    if "coolant-clean" in signs:
        severity = float(rng.uniform(0.05, 0.3))
    return Condition(
        label=label,
        ceramic=ceramic,
        surface=surface,
        severity=severity if label != UNUSED else 0.0,
        under=under,
        thin=bool(label == "rich-carbon" and rng.random() < 0.22),
        sheen=float(rng.beta(1.1, 1.6)),
        texture=float(rng.beta(0.7, 1.1)),
        drops=float(rng.uniform(0.2, 1.0)) if label == "wet" and rng.random() < 0.75 else 0.0,
        signs=signs,
    )


def _draw_signs(rng: np.random.Generator, label: str) -> dict[str, float]:
    """Signs that make sense with a label, each on a few plugs in a hundred."""
    chances = {"worn": 0.09, "bridged": 0.03}
    if label == "lean-white":
        chances |= {"coolant-clean": 0.16, "blisters": 0.28, "specks": 0.25, "ash": 0.1}
    elif label == "normal-tan":
        chances |= {"ash": 0.12, "additive-tint": 0.16, "specks": 0.1}
    elif label == "oil-fouled":
        chances |= {"ash": 0.1, "bridged": 0.08}
    elif label == "rich-carbon":
        chances |= {"bridged": 0.06}
    draws = rng.random(len(chances))
    strengths = rng.uniform(0.35, 1.0, len(chances))
    signs = {
        sign: float(round(strength, 3))
        for (sign, chance), draw, strength in zip(chances.items(), draws, strengths, strict=True)
        if draw < chance
    }
    if "coolant-clean" in signs:
        signs = {"coolant-clean": signs["coolant-clean"]}
    return signs


def draw_shell(rng: np.random.Generator, unused: bool = False) -> ShellState:
    """Draw finish and dirt; a never fitted plug is bright."""
    finish = str(rng.choice(FINISHES, p=[0.32, 0.12, 0.3, 0.1, 0.16]))
    thread = str(rng.choice(THREAD_DIRT, p=[0.16, 0.28, 0.2, 0.26, 0.1]))
    rim = str(rng.choice(RIM_DIRT, p=[0.14, 0.3, 0.34, 0.22]))
    amount, tone, gloss = rng.uniform(0.35, 1.0), rng.random(), rng.random()
    if unused:
        finish = "dull-steel" if finish == "dull-steel" and amount < 0.5 else finish
        thread = rim = "bright"
    return ShellState(finish, thread, rim, float(amount), float(tone), float(gloss))


# --------------------------------------------------------------------------------------------- painting


class _Painter:
    """Surface of a plug while it is painted: state a vertex, and noise fields shared by all layers."""

    def __init__(self, plug: PlugGeometry, rng: np.random.Generator) -> None:
        self.plug, self.rng = plug, rng
        self.z = plug.points[:, 2]
        self.radius = np.hypot(plug.points[:, 0], plug.points[:, 1])
        self.angle = np.arctan2(plug.points[:, 1], plug.points[:, 0])
        count = len(self.z)
        turn = np.linalg.qr(rng.standard_normal((3, 3)))[0].astype(np.float32)
        self.turned = plug.points @ turn
        self.broad = self.noise("pink", rng.uniform(0.25, 0.5))
        self.middle = self.noise("pink", rng.uniform(0.8, 1.6))
        self.cloud = self.noise("soft", rng.uniform(0.3, 0.6))
        self.grain = self.noise("fine", rng.uniform(2.5, 4.5))
        self.colour = np.full((count, 3), 0.5, np.float32)
        self.roughness = np.full(count, 0.4, np.float32)
        self.metallic = np.ones(count, np.float32)
        self.film = np.zeros(count, np.float32)
        self.relief = np.zeros(count, np.float32)
        self.covered = np.zeros(count, np.float32)
        self.depth = np.clip(-self.z / 6, 0, 1)
        self.rigid = plug.rigid

    def uniform(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def noise(self, kind: VolumeKind, per_mm: float) -> Floats:
        return in_space(self.turned, kind, per_mm, self.rng)

    def zones(self, *zones: Zone) -> Mask:
        return np.isin(self.plug.zone, [int(z) for z in zones])

    def lay(
        self,
        where: Mask,
        cover: Numbers | float,
        colour: Floats,
        roughness: Numbers | float,
        metallic: float = 0.0,
        relief: Numbers | float = 0.0,
        jitter: float = 0.1,
        counts: bool = False,
    ) -> None:
        """Lay a deposit over a mask; ``counts`` adds it to the label's cover in the truth."""
        share = np.clip(np.broadcast_to(np.asarray(cover, np.float32), self.z.shape)[where], 0, 1)
        tone = colour if colour.ndim == 1 else colour[where]
        vary = 1 + jitter * (0.6 * self.middle[where] + 0.5 * self.grain[where])
        coat = np.clip(tone * vary[:, None], 0.002, 0.95)
        self.colour[where] = blend(self.colour[where], coat, share[:, None])
        rough = np.broadcast_to(np.asarray(roughness, np.float32), self.z.shape)[where]
        self.roughness[where] = blend(self.roughness[where], rough, share)
        self.metallic[where] = blend(self.metallic[where], metallic, share)
        raised = np.broadcast_to(np.asarray(relief, np.float32), self.z.shape)[where]
        self.relief[where] += share * raised
        if counts:
            self.covered[where] = np.maximum(self.covered[where], share)

    def gloss_film(self, where: Mask, amount: Floats | float) -> None:
        """A clear film on top (clearcoat)."""
        self.film[where] = np.maximum(self.film[where], np.broadcast_to(amount, self.z.shape)[where])


def coat(
    plug: PlugGeometry,
    condition: Condition,
    shell: ShellState,
    condition_rng: np.random.Generator,
    shell_rng: np.random.Generator,
) -> tuple[SurfaceMesh, dict[str, float]]:
    """Paint a plug.

    Returns
    -------
    The mesh, its ``part`` being indices into ``labels.PARTS``, and the share of each part that the label's deposit
    covers.
    """
    painter = _Painter(plug, shell_rng)
    _paint_bare(painter, shell, condition.label == UNUSED)
    if condition.label != UNUSED:
        _paint_thread_dirt(painter, shell)
        _paint_rim_dirt(painter, shell)
        _paint_electrode_history(painter, shell)
    painter.rng = condition_rng
    _PAINTERS[condition.label](painter, condition)
    _paint_signs(painter, condition)
    return _finished(painter), _cover(painter)


def _finished(p: _Painter) -> SurfaceMesh:
    plug = p.plug
    points = plug.points + plug.normals * (p.relief * p.rigid)[:, None]
    return SurfaceMesh(
        points=points.astype(np.float32),
        normals=_bumped_normals(points, plug),
        faces=plug.faces,
        colour=np.clip(p.colour, 0.003, 0.93).astype(np.float32),
        roughness=np.clip(p.roughness, 0.03, 1).astype(np.float32),
        metallic=np.clip(p.metallic, 0, 1).astype(np.float32),
        clearcoat=np.clip(p.film, 0, 1).astype(np.float32),
        part=plug.face_part,
    )


def _bumped_normals(points: Floats, plug: PlugGeometry) -> NDArray[np.float32]:
    """Vertex normals of the displaced surface (area weighted)."""
    a, b, c = (points[plug.faces[:, k]] for k in range(3))
    face_normal = np.cross(b - a, c - a)
    count = len(points)
    normals = np.stack(
        [sum(np.bincount(plug.faces[:, k], face_normal[:, axis], count) for k in range(3)) for axis in range(3)],
        -1,
    )
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    return np.where(length > 1e-12, normals / np.maximum(length, 1e-12), plug.normals).astype(np.float32)


def _cover(p: _Painter) -> dict[str, float]:
    """Share of each part covered by the label's deposit; deep parts of nose and thread do not count."""
    part = PART_OF_ZONE[p.plug.zone]
    shares = {}
    for name in ("nose", "centre-electrode", "strap", "rim", "threads"):
        seen = (part == PARTS.index(name)) & (p.z > (-3.5 if name != "threads" else -8.0))
        if seen.any():
            shares[name] = round(float(p.covered[seen].mean()), 3)
    return shares


# ------------------------------------------------------------------------------------ bare and used metal


def _finish_colour(p: _Painter, finish: str) -> tuple[Floats, float]:
    """Reflectance and roughness of a shell's finish."""
    tone = p.uniform(0.8, 1.15)
    if finish == "zinc-bright":
        return srgb(188, 194, 200) * tone, p.uniform(0.09, 0.36)
    if finish == "zinc-yellow":
        return srgb(188, 164, 100) * tone, p.uniform(0.22, 0.38)
    if finish == "nickel":
        return srgb(182, 172, 156) * tone, p.uniform(0.07, 0.34)
    if finish == "black-oxide":
        return srgb(74, 74, 76) * tone, p.uniform(0.28, 0.45)
    return srgb(150, 148, 144) * tone, p.uniform(0.34, 0.5)


def _paint_bare(p: _Painter, shell: ShellState, unused: bool) -> None:
    """The plug as made, with lathe lines round its axis; on a used plug the metal is a little mottled."""
    colour, rough = _finish_colour(p, shell.finish)
    around = np.stack([p.radius * 4, p.z * 4, p.angle * 0.35], 1).astype(np.float32)
    lathe = in_space(around, "fine", p.uniform(0.8, 1.6), p.rng)
    mottle = 0.03 if unused else 0.12
    p.colour[:] = colour * np.exp(mottle * p.broad + 0.05 * lathe)[:, None]
    p.roughness[:] = rough + (0.02 if unused else 0.06) * p.middle + 0.05 * lathe
    bare = p.zones(Zone.BORE)
    p.colour[bare] = srgb(140, 138, 134) * np.exp(0.08 * p.broad[bare])[:, None]
    electrodes = p.zones(Zone.ELECTRODE, Zone.STRAP)
    nickel = srgb(176, 170, 160) * p.uniform(0.75, 1.1)
    p.colour[electrodes] = nickel * (1 + mottle * p.broad[electrodes, None])
    p.roughness[electrodes] = p.uniform(0.1, 0.45) + (0.02 if unused else 0.05) * p.middle[electrodes]
    if p.rng.random() < 0.4:
        _tint_weld(p)
    ceramic = p.zones(Zone.NOSE, Zone.UPPER)
    p.colour[ceramic] = blend(srgb(243, 242, 238), srgb(232, 228, 220), p.rng.random())
    p.metallic[ceramic] = 0
    p.roughness[ceramic] = p.uniform(0.12, 0.4)
    _paint_upper(p, unused)
    if not unused:
        worked = p.zones(Zone.RIM, Zone.STRAP, Zone.ELECTRODE)
        p.relief[worked] += 0.012 * p.middle[worked] + 0.005 * p.grain[worked]
        tips = p.zones(Zone.STRAP, Zone.ELECTRODE)
        p.relief[tips] += p.uniform(0, 0.02) * p.cloud[tips]


def _tint_weld(p: _Painter) -> None:
    """Heat tint where the strap was welded on: on a plug fresh from its box as well."""
    foot = p.zones(Zone.STRAP) & (p.plug.along < 0.2)
    tint = blend(srgb(120, 96, 66), srgb(84, 86, 104), p.rng.random())
    p.lay(foot, smooth_step(0.2, 0.02, p.plug.along + 0.03 * p.middle) * p.uniform(0.3, 0.9), tint, 0.3, metallic=0.9)


def _paint_upper(p: _Painter, unused: bool) -> None:
    """Glazed upper insulator, sometimes with coloured bands; terminal of its own metal."""
    upper, terminal = p.zones(Zone.UPPER), p.zones(Zone.TERMINAL)
    p.roughness[upper] = p.uniform(0.08, 0.25)
    if p.rng.random() < 0.35:
        band = srgb(*[(36, 92, 160), (30, 120, 80), (170, 40, 40), (40, 40, 44)][p.rng.integers(4)])
        start, pitch = p.plug.shape.reach + 19 + p.uniform(0, 4), p.uniform(1.2, 2.4)
        steps = (-p.z - start) / pitch
        stripes = upper & (steps > 0) & (steps < p.rng.integers(1, 6)) & (steps % 1 < 0.45)
        p.colour[stripes] = band
    metal = srgb(150, 140, 120) if p.rng.random() < 0.5 else srgb(84, 78, 72)
    p.colour[terminal] = metal * p.uniform(0.7, 1.1)
    if not unused:
        stain = smooth_step(0.2, 1.6, p.broad) * p.uniform(0, 0.6)
        p.lay(upper, stain, srgb(150, 124, 92), 0.5)
        p.lay(
            p.zones(Zone.HEXAGON, Zone.SEAT), smooth_step(0.2, 1.6, p.cloud) * p.uniform(0, 0.6), srgb(96, 78, 58), 0.5
        )


def _paint_thread_dirt(p: _Painter, shell: ShellState) -> None:
    """Grime of the thread, whatever the label."""
    thread, amount = p.zones(Zone.THREAD), shell.amount
    root = p.plug.root
    grime = smooth_step(0.15, 0.9, root + 0.3 * p.broad + 0.1 * p.grain)
    p.lay(thread, amount * 0.8 * grime, srgb(44, 38, 32), 0.6)
    near = smooth_step(-p.uniform(3, 14), -0.5, p.z)
    if shell.thread_dirt == "varnish":
        tone = blend(srgb(120, 96, 48), srgb(84, 60, 40), p.rng.random())
        cover = amount * (0.35 + 0.65 * near) * smooth_step(-1.6, 0.8, p.broad + 0.3 * root)
        p.lay(thread, 0.85 * cover, tone, p.uniform(0.25, 0.5), metallic=0.55)
    elif shell.thread_dirt == "dry-black":
        cover = amount * near * smooth_step(-1.8, 0.2, p.broad + 0.5 * root + 0.3 * p.grain)
        p.lay(thread, cover, blend(srgb(34, 31, 30), srgb(66, 56, 48), p.rng.random()), 0.85, relief=0.012 * p.grain)
    elif shell.thread_dirt == "oily-black":
        cover = smooth_step(-1.9, -0.3, p.broad + 0.6 * root) * (0.75 + 0.25 * near)
        p.lay(thread, cover, srgb(24, 21, 19) * p.uniform(0.6, 1.6), p.uniform(0.1, 0.3), relief=0.03 * p.cloud)
        p.gloss_film(thread, cover * p.uniform(0.4, 1.0))
        p.lay(p.zones(Zone.SEAT), smooth_step(-0.2, 1.0, p.cloud) * p.uniform(0, 0.9), srgb(46, 38, 28), 0.25)
    elif shell.thread_dirt == "rust":
        cover = amount * smooth_step(0.0, 1.0, p.broad + 0.4 * p.middle)
        rust = blend(srgb(124, 70, 36), srgb(84, 54, 38), p.rng.random())
        p.lay(p.zones(Zone.THREAD, Zone.SEAT, Zone.HEXAGON), cover, rust, 0.9, relief=0.015 * p.grain)


def _paint_rim_dirt(p: _Painter, shell: ShellState) -> None:
    """Rim and bore, whatever the label: mostly brown or black on a used plug."""
    rim, bore = p.zones(Zone.RIM), p.zones(Zone.BORE)
    tone = {
        "bright": srgb(120, 110, 98),
        "brown": blend(srgb(104, 84, 68), srgb(66, 54, 48), p.rng.random()),
        "dry-black": blend(srgb(34, 32, 31), srgb(56, 50, 46), p.rng.random()),
        "glossy-black": srgb(30, 27, 25) * p.uniform(0.7, 1.4),
    }[shell.rim_dirt]
    cover = {"bright": 0.35, "brown": 0.95, "dry-black": 1.0, "glossy-black": 1.0}[shell.rim_dirt]
    rough = {"bright": 0.5, "brown": 0.8, "dry-black": 0.92, "glossy-black": p.uniform(0.12, 0.35)}[shell.rim_dirt]
    # Mostly closed, at times worn through to the metal in blots.
    bare = p.uniform(-4.4, -2.2)
    patch = smooth_step(bare, bare + 2.0, p.broad + 0.3 * p.middle + 0.3 * p.grain)
    p.lay(rim, cover * patch, tone, rough, relief=0.02 * p.grain + 0.012 * p.middle, jitter=0.18)
    if shell.rim_dirt != "bright":
        edge = p.zones(Zone.THREAD) & (p.z > -p.uniform(0.6, 3.5))
        p.lay(edge, cover * 0.9 * smooth_step(-1.4, 0.2, p.broad), tone, rough)
    p.lay(bore, p.uniform(0.75, 1), tone * 0.8, max(rough, 0.4), relief=0.02 * p.grain)
    if shell.rim_dirt == "glossy-black":
        p.gloss_film(rim, 0.6 * patch)


def _paint_electrode_history(p: _Painter, shell: ShellState) -> None:
    """Oxidised nickel: bronze brown, grey or near black, matt to half glossy; sometimes blued."""
    metal = p.zones(Zone.ELECTRODE, Zone.STRAP)
    dark = blend(srgb(92, 80, 68), srgb(50, 44, 40), shell.electrode_tone)
    if p.rng.random() < 0.3:
        dark = blend(srgb(128, 122, 114), srgb(96, 84, 72), shell.electrode_tone)
    cover = p.uniform(0.65, 1.0) * smooth_step(-2.0, -0.2, p.broad + 0.2 * p.grain)
    rough = 0.3 + 0.55 * (1 - shell.electrode_gloss)
    p.lay(metal, cover, dark, rough, metallic=0.5, relief=0.012 * p.grain, jitter=0.14)
    if p.rng.random() < 0.25:
        hot = [srgb(150, 122, 84), srgb(88, 96, 128), srgb(126, 100, 108)][p.rng.integers(3)]
        p.lay(
            metal, smooth_step(-0.2, 1.0, p.plug.along + 0.4 * p.broad) * p.uniform(0.2, 0.7), hot, 0.35, metallic=0.9
        )


# --------------------------------------------------------------------------------------------- ceramics

_TANS = (
    (srgb(206, 180, 148), srgb(160, 126, 94)),
    (srgb(188, 164, 138), srgb(130, 104, 86)),
    (srgb(200, 176, 146), srgb(156, 126, 96)),
    (srgb(172, 153, 131), srgb(130, 111, 92)),
    (srgb(204, 158, 112), srgb(156, 106, 66)),
    (srgb(170, 146, 122), srgb(118, 92, 72)),
    (srgb(196, 162, 142), srgb(142, 108, 90)),
    (srgb(212, 182, 140), srgb(172, 132, 86)),
    (srgb(180, 150, 116), srgb(132, 102, 74)),
    (srgb(216, 154, 92), srgb(166, 94, 44)),
    (srgb(192, 126, 68), srgb(128, 74, 36)),
    (srgb(214, 188, 168), srgb(168, 138, 120)),
)
_CREAMS = (
    (srgb(198, 182, 160), srgb(162, 143, 120)),
    (srgb(188, 177, 164), srgb(148, 136, 123)),
    (srgb(199, 181, 154), srgb(168, 147, 118)),
    (srgb(180, 170, 157), srgb(138, 128, 116)),
)
"""Healthy noses that unleaded fuel leaves hardly coloured; what tells them from lean ones is a dark rim and strap. Any
paler and they come out white in a picture, which nobody would call healthy."""
_PALES = (srgb(246, 245, 241), srgb(240, 237, 230), srgb(244, 242, 238), srgb(230, 229, 228), srgb(236, 236, 238))


def _dry_roughness(p: _Painter, condition: Condition) -> float:
    """Roughness of a dry ceramic: chalk for no sheen, glazed for full sheen."""
    return float(0.92 - 0.66 * condition.sheen + 0.04 * p.rng.standard_normal())


def _dry_relief(p: _Painter, condition: Condition) -> Floats:
    """Relief of a dry deposit, mm: the same for every label."""
    texture = condition.texture
    grain = (0.005 + 0.015 * texture) * p.grain
    return np.asarray(grain + (0.004 + 0.026 * texture) * np.maximum(p.middle, -1), np.float32)


def _clump(p: _Painter, where: Mask, condition: Condition) -> None:
    """Clumps of a dry deposit, the higher the rougher it stands."""
    clumps = smooth_step(0.6, 0.2, p.noise("cell-distance", p.uniform(1.5, 3)))
    clumps = clumps * smooth_step(0.2, 1.3, p.cloud + 0.3 * p.middle)
    height = p.uniform(0.02, 0.12) * condition.texture
    p.relief += np.where(where, clumps * p.covered * height, 0).astype(np.float32)


def _paint_pale(p: _Painter, condition: Condition, counts: bool) -> None:
    nose = p.zones(Zone.NOSE)
    rough = _dry_roughness(p, condition)
    white = _PALES[p.rng.integers(len(_PALES))]
    relief = _dry_relief(p, condition)
    p.lay(nose, 0.92 + 0.08 * p.broad, white, rough, relief=relief, jitter=p.uniform(0.03, 0.12), counts=counts)
    mottle = [srgb(222, 216, 202), srgb(200, 200, 200), srgb(228, 222, 214)][p.rng.integers(3)]
    p.lay(nose, p.uniform(0, 0.35) * smooth_step(0.2, 1.4, p.cloud), mottle, rough, jitter=0.05)
    if p.rng.random() < 0.4:
        # A darker fillet down the cone, the tip burned clean.
        foot = smooth_step(p.plug.shape.nose - 1.0, p.plug.shape.nose - p.uniform(2.5, 5), p.z + 0.4 * p.cloud)
        p.lay(nose, foot * p.uniform(0.1, 0.45), srgb(164, 156, 146), rough)
    p.lay(nose, p.depth * p.uniform(0.1, 0.5), srgb(152, 140, 124), 0.8)


def _paint_tan(
    p: _Painter,
    condition: Condition,
    counts: bool,
    tones: tuple[tuple[Floats, Floats], ...] = _TANS,
) -> None:
    nose, shape = p.zones(Zone.NOSE), p.plug.shape
    rough = _dry_roughness(p, condition)
    light, dark = tones[p.rng.integers(len(tones))]
    height = np.clip(
        (p.z - (shape.nose - p.uniform(1.2, 4.5))) / p.uniform(1.2, 4) + 0.28 * p.cloud + 0.12 * p.middle, 0, 1
    )
    height = height if p.rng.random() < 0.6 else 1 - height
    tone = blend(dark, light, height[:, None])
    relief, jitter = _dry_relief(p, condition), p.uniform(0.06, 0.2)
    p.lay(nose, p.uniform(0.85, 1.05) + 0.12 * p.broad, tone, rough, relief=relief, jitter=jitter, counts=counts)
    p.lay(
        nose, p.uniform(0.0, 0.55) * smooth_step(0.1, 1.3, p.broad + 0.3 * p.grain), tone * p.uniform(0.68, 0.9), rough
    )
    if p.rng.random() < 0.25:
        # Two tones: the tip burned almost clean.
        edge = shape.nose - p.uniform(0.3, 1.0)
        tip = smooth_step(edge - 0.2, edge + 0.3, p.z + 0.25 * p.cloud)
        # Never more than half the nose: with more of it cream, nobody could call the plug tan.
        p.lay(nose, tip * p.uniform(0.25, 0.6), srgb(218, 200, 172), rough)
    for _ in range(p.rng.integers(0, 3)):
        ring = shape.nose - p.uniform(0.2, 3)
        band = np.exp(-(((p.z - ring + 0.15 * p.cloud) / p.uniform(0.12, 0.5)) ** 2))
        # Rings are a darker tan, or rust where metal from the fuel burned on.
        ring_tone = dark * 0.65 if p.rng.random() < 0.6 else blend(srgb(172, 92, 42), srgb(104, 56, 34), p.rng.random())
        p.lay(nose, p.uniform(0, 0.75) * band, ring_tone, rough)
    if p.rng.random() < 0.2:
        # Streaks along the cone, as the flame drew them.
        along = np.stack([p.radius * 1.2, p.z * 0.2, p.angle * 3.0], 1).astype(np.float32)
        streaks = smooth_step(-0.2, 1.4, in_space(along, "pink", p.uniform(0.8, 1.6), p.rng))
        streak_tone = dark * p.uniform(0.5, 0.9) if p.rng.random() < 0.7 else light
        p.lay(nose, streaks * p.uniform(0.3, 0.8), streak_tone, rough)
    side = smooth_step(0, 1.2, np.cos(p.angle - p.uniform(0, 6.28)) + 0.4 * p.cloud)
    one_sided = dark * 0.7 if p.rng.random() < 0.7 else srgb(222, 206, 182)
    p.lay(nose, p.uniform(0, 0.4) * side, one_sided, rough)
    if p.rng.random() < 0.3:
        # Rich ambers with a dark foot are as common on healthy noses as on wet ones: they must not mean wet.
        p.colour[nose] = p.colour[nose] ** p.uniform(1.1, 1.6)
        foot = smooth_step(shape.nose - p.uniform(0.8, 2.5), shape.nose - p.uniform(3.0, 6.0), p.z + 0.3 * p.cloud)
        p.lay(nose, foot * p.uniform(0.2, 0.9), srgb(74, 58, 44), rough)
    if p.rng.random() < 0.15:
        p.lay(nose, side * p.uniform(0.4, 0.9) * smooth_step(-0.4, 0.6, p.middle + p.cloud), srgb(58, 50, 46), 0.95)
    spots = smooth_step(p.uniform(2.0, 2.8), 3.1, p.grain + 0.4 * p.middle)
    p.lay(nose, spots * 0.7, srgb(72, 54, 44), 0.6)
    p.lay(nose, smooth_step(0.25, 1, p.depth) * p.uniform(0.2, 0.8), srgb(90, 72, 58), 0.85)


def _electrode_coat(p: _Painter, tone: Floats, low: float, high: float) -> None:
    metal = p.zones(Zone.ELECTRODE, Zone.STRAP)
    cover = p.uniform(low, high) * smooth_step(-1.5, 0.6, p.broad + 0.3 * p.grain)
    p.lay(metal, cover, tone, p.uniform(0.6, 0.9), relief=0.018 * p.grain, jitter=0.15)


# --------------------------------------------------------------------------------------------- labels


def _paint_unused(p: _Painter, condition: Condition) -> None:
    """Never fitted: ceramic bright, white and glossy; nothing on it."""
    nose = p.zones(Zone.NOSE)
    p.colour[nose] = blend(srgb(246, 245, 242), srgb(236, 234, 228), p.rng.random())
    p.roughness[nose] = p.uniform(0.05, 0.35)
    p.relief[:] *= 0.1
    _paint_works_finish(p)


def _paint_works_finish(p: _Painter) -> None:
    """Rim, strap and electrode as they leave the works: blasted or rough where they were worked, at times warm in tone.

    Where only run plugs had dull, grainy or brownish metal, a reader took new plugs with such metal for lean ones.
    """
    worked = p.zones(Zone.RIM, Zone.STRAP, Zone.ELECTRODE)
    if p.rng.random() < 0.45:
        grainy = p.uniform(0.3, 1.0)
        p.relief[worked] += grainy * (0.012 * p.grain[worked] + 0.006 * p.middle[worked])
        p.roughness[worked] = np.maximum(p.roughness[worked], p.uniform(0.25, 0.5))
    if p.rng.random() < 0.5:
        warm = blend(srgb(186, 160, 124), srgb(146, 136, 126), p.rng.random())
        cover = p.uniform(0.2, 0.8) * smooth_step(-1.5, 1.0, p.broad)
        p.lay(worked, cover, warm, p.roughness, metallic=1.0, jitter=0.06)
    if p.rng.random() < 0.15:  # oil that keeps the thread from rusting in its box
        p.gloss_film(p.zones(Zone.THREAD), p.uniform(0.2, 0.7))


def _paint_lean(p: _Painter, condition: Condition) -> None:
    _paint_pale(p, condition, counts=True)
    if "coolant-clean" in condition.signs:
        return
    _clump(p, p.zones(Zone.NOSE), condition)
    if p.rng.random() < 0.2:
        _darken_round_nose(p)
        return
    # A nose with a breath of cream is lean where everything round it is bleached as well.
    cream = p.rng.random() < 0.22
    if cream:
        tint = blend(srgb(234, 224, 206), srgb(224, 214, 198), p.rng.random())
        p.lay(p.zones(Zone.NOSE), p.uniform(0.5, 1.0), tint, _dry_roughness(p, condition), jitter=0.05)
    if cream or p.rng.random() < 0.7:
        bleached = blend(srgb(198, 194, 186), srgb(146, 138, 128), p.rng.random())
        _electrode_coat(p, bleached, 0.8 if cream else 0.25, 0.95)
    if p.rng.random() < 0.3:
        metal = p.zones(Zone.ELECTRODE, Zone.STRAP)
        blue = [srgb(96, 104, 136), srgb(128, 104, 120), srgb(158, 130, 92)][p.rng.integers(3)]
        p.lay(
            metal, smooth_step(0.0, 1.0, p.plug.along + 0.5 * p.broad) * p.uniform(0.4, 0.9), blue, 0.35, metallic=0.9
        )
    if cream or p.rng.random() < 0.5:
        rim = p.zones(Zone.RIM)
        pale = blend(srgb(182, 174, 164) if cream else srgb(160, 150, 138), srgb(116, 106, 98), p.rng.random())
        p.lay(
            rim,
            p.uniform(0.8 if cream else 0.4, 1) * smooth_step(-1.5, 0.4, p.broad),
            pale,
            0.85,
            relief=0.015 * p.grain,
        )
    worn = p.zones(Zone.ELECTRODE, Zone.STRAP)
    p.relief[worn] += p.uniform(0.0, 0.03) * condition.severity * p.middle[worn]


def _paint_normal(p: _Painter, condition: Condition) -> None:
    cream = p.rng.random() < 0.1
    _paint_tan(p, condition, counts=True, tones=_CREAMS if cream else _TANS)
    _clump(p, p.zones(Zone.NOSE), condition)
    # Idling blackens rim and strap of many an engine in order: the nose alone tells.
    if cream or p.rng.random() < 0.4:
        _darken_round_nose(p)
    if p.rng.random() < 0.6:
        _electrode_coat(p, blend(srgb(146, 126, 106), srgb(106, 98, 90), p.rng.random()), 0.4, 1.05)
    if p.rng.random() < 0.5:
        patch = smooth_step(0.3, 1.5, p.cloud + 0.4 * p.middle) * p.uniform(0, 0.8)
        tone = blend(srgb(70, 60, 54), srgb(172, 152, 128), p.rng.random())
        p.lay(p.zones(Zone.ELECTRODE, Zone.STRAP), patch, tone, 0.9, relief=0.02 * p.grain, jitter=0.14)


def _darken_round_nose(p: _Painter) -> None:
    """Soot or brown on rim, bore and strap, as an engine in order leaves it."""
    tone = blend(srgb(34, 31, 29), srgb(78, 66, 56), p.rng.random())
    cover = p.uniform(0.8, 1.0) * smooth_step(-2.2, -0.6, p.broad + 0.2 * p.grain)
    p.lay(p.zones(Zone.RIM, Zone.BORE), cover, tone, 0.9, relief=0.02 * p.grain, jitter=0.16)
    metal = p.zones(Zone.STRAP, Zone.ELECTRODE)
    strap = blend(tone, srgb(112, 100, 88), p.uniform(0, 0.8))
    p.lay(metal, p.uniform(0.5, 1.0) * smooth_step(-1.8, 0.2, p.broad), strap, 0.85, relief=0.015 * p.grain)


def _paint_carbon(p: _Painter, condition: Condition) -> None:
    """Dull velvet soot: nose first, then rim and strap, at worst up the thread."""
    severity = condition.severity
    _paint_pale(p, condition, False) if condition.under == "pale" else _paint_tan(p, condition, False)
    # From velvet black to the dark grey that soot is under a lamp: 1 to 7 % of the light comes back. Dry soot that has
    # lost its velvet is a plain grey of up to 13 %: what tells it from a tan nose is that it has no warmth.
    # A thin veil is never of that: over white it would be as pale as a cream nose.
    dusty = p.rng.random() < 0.3 and not condition.thin
    shades = (4.0, 10.5) if dusty else (0.6, 6.0)
    soot = np.array([0.0125, 0.012, 0.0118], np.float32) * np.exp(p.uniform(*np.log(shades)))
    if not dusty and p.rng.random() < 0.35:
        # Brown-black where a little oil burned along.
        soot = soot * np.array([p.uniform(1.08, 1.2), 1.0, p.uniform(0.66, 0.92)], np.float32)
    # The nose, hotter, is often greyer than the rim round it.
    metal_soot = np.clip(soot * np.exp(p.uniform(np.log(0.3), np.log(1.6))), 0.007, 0.12)
    nose = p.zones(Zone.NOSE)
    fluff, jitter = _dry_relief(p, condition), p.uniform(0.06, 0.22)
    if condition.thin:
        # A few hundredths of bare white already look grey, so a veil that still reads as soot is nearly closed.
        veil = p.uniform(0.95, 0.985) + 0.02 * p.broad + 0.015 * p.cloud
        p.lay(nose, np.clip(veil, 0.93, 0.99), soot, 0.95, relief=0.5 * fluff, jitter=jitter, counts=True)
    else:
        cover = 0.85 + 0.35 * severity + 0.2 * p.broad
        if severity < 0.35 and p.rng.random() < 0.4:
            # The very tip burned clean; with more of it clean nobody would call the nose black.
            burned = smooth_step(-0.3, 0.4, p.z - p.plug.shape.nose + p.uniform(0.0, 0.4) + 0.15 * p.cloud)
            cover = cover - p.uniform(0.2, 0.5) * burned
        # Soot that baked on has lost its velvet; it is no liquid for that.
        matt = max(_dry_roughness(p, condition), 0.5) if p.rng.random() < 0.5 else 1.0
        relief = 0.7 * fluff  # what lies beneath has stood up already
        p.lay(nose, smooth_step(0.25, 0.7, cover), soot, matt, p.uniform(0.0, 0.85), relief, jitter, counts=True)
    tips = p.zones(Zone.ELECTRODE, Zone.STRAP)
    # Hot metal burns bare again while the nose stays black: a grey strap is no sign of tan, nor a black one of soot.
    left_on_tips, left_on_rim = (p.uniform(0.0, 0.5) if p.rng.random() < 0.35 else 1.0 for _ in range(2))
    tip_cover = left_on_tips * smooth_step(0.2, 0.7, 0.35 + 0.9 * severity + 0.25 * p.broad)
    p.lay(tips, tip_cover, metal_soot * p.uniform(0.9, 1.6), 1.0, 0.85, 1.2 * fluff, jitter, counts=True)
    rim = p.zones(Zone.RIM)
    rim_cover = left_on_rim * smooth_step(0.25, 0.7, 0.15 + 1.1 * severity + 0.2 * p.broad)
    p.lay(rim, rim_cover, metal_soot * p.uniform(0.9, 1.4), 1.0, 0.85, 1.2 * fluff, jitter, counts=True)
    p.lay(p.zones(Zone.BORE), 1.0, metal_soot * 0.9, 1.0, 0.85, (0.015 + 0.025 * condition.texture) * p.grain)
    climb = smooth_step(-9 * max(severity - 0.45, 0.02) / 0.55, 0.3, p.z) * smooth_step(0.4, 0.75, severity)
    thread_cover = climb * 1.2 * smooth_step(-2.0, 0.1, p.broad)
    p.lay(p.zones(Zone.THREAD), thread_cover, metal_soot * 1.3, 0.95, 0.7, 0.015 * p.grain, counts=True)
    end = nose | tips | rim | p.zones(Zone.BORE)
    _clump(p, end, condition)
    wear = smooth_step(0.6, 2.0, p.cloud) * p.uniform(0, 0.5)
    grey = blend(srgb(40, 38, 37), srgb(52, 46, 41), p.rng.random())
    p.lay(end, wear * p.covered, grey, 1.0, 0.5, jitter=0.2)
    if p.rng.random() < 0.3:
        rubbed = smooth_step(1.3, 2.4, p.broad) * p.uniform(0, 0.7)
        p.lay(rim | p.zones(Zone.STRAP), rubbed, srgb(96, 94, 92), 0.5, 0.5)
    p.film[nose | tips] *= 0.2


def _paint_oil(p: _Painter, condition: Condition) -> None:
    """Black or brown-black tar: lumpy, with a broad sheen where fuel is a mirror, no beads; crusted where it baked."""
    severity = condition.severity
    brown = p.rng.random() < 0.45
    tar = np.array((0.0130, 0.0092, 0.0064) if brown else (0.0110, 0.0104, 0.0098), np.float32) * p.uniform(0.5, 1.7)
    end = p.zones(Zone.NOSE, Zone.ELECTRODE, Zone.STRAP, Zone.RIM, Zone.BORE)
    nose = p.zones(Zone.NOSE)
    p.lay(nose, 1.0, blend(srgb(96, 76, 58), srgb(58, 46, 38), p.rng.random()), 0.4)
    gloss = p.uniform(0.03, 0.12)
    amount = smooth_step(-1.2, 0.8, p.cloud + 0.35 * p.broad + 1.2 * (severity - 0.5))
    lumps = 0.7 * smooth_step(0.8, 0.05, p.noise("cell-distance", p.uniform(0.5, 1.2)))
    lumps = lumps + p.uniform(0.2, 0.6) * smooth_step(0.7, 0.05, p.noise("cell-distance", p.uniform(1.4, 2.6)))
    # On some the oil lies smooth, as paint does.
    height = p.uniform(0.12, 0.36) if p.rng.random() < 0.7 else p.uniform(0.03, 0.1)
    tarry = p.rng.random() < 0.6
    if tarry:
        tar = np.clip(tar, 0.006, 0.02)
        # Thick coats differ less in how much of the metal they leave bare.
        amount = np.maximum(amount, p.uniform(0.55, 0.9))
        lumps, height = _tar_lumps(p), p.uniform(0.14, 0.32)
        gloss = p.uniform(0.04, 0.14)
        # What is damped for the sake of crisp metal may swell here: the outline shall be uneven too.
        p.rigid = p.rigid**0.4
    # A liquid's skin is smooth: the grain of what lies beneath drowns in it, soft swells take its place.
    p.relief[end] *= 1 - 0.85 * amount[end]
    relief = (lumps * height + 0.05 + p.uniform(0.0, 0.05) * p.cloud) * amount * (1 - 0.3 * p.depth)
    rough = np.clip(gloss + 0.02 * p.middle + 0.2 * (1 - amount), 0.03, 0.5)
    # A thin coat lets the metal beneath throw its glints back.
    shine = p.uniform(0.05, 0.25) if p.rng.random() < 0.4 and not tarry else 0.0
    for zones, ease, metallic in (
        ((Zone.NOSE,), 0.3, 0.0),
        ((Zone.ELECTRODE, Zone.STRAP), 0.0, shine),
        ((Zone.RIM, Zone.BORE), -0.1, shine),
    ):
        cover = smooth_step(0.2, 0.65, 0.55 + ease + 0.6 * severity + 0.28 * p.cloud + 0.15 * p.broad)
        cover = np.maximum(cover, 0.97) if tarry else cover
        tone = tar + np.float32(0.1 * metallic)
        p.lay(p.zones(*zones), cover, tone, rough, metallic, relief=relief, jitter=0.12, counts=True)
    thread = p.zones(Zone.THREAD)
    climb = smooth_step(-12 * severity - 0.5, 0, p.z) * smooth_step(0.15, 0.6, severity)
    raised = (0.4 if tarry else 0.15) * relief
    p.lay(thread, np.clip(climb * 1.3, 0, 1), tar * 1.4, rough + 0.05, relief=raised, counts=True)
    thin = (1 - amount) * smooth_step(0, 1, p.broad + 0.3) * p.uniform(0, 0.45)
    p.lay(end, thin, blend(srgb(72, 48, 28), srgb(54, 46, 40), p.rng.random()), gloss + 0.08)
    if p.rng.random() < 0.22:
        crust = smooth_step(1.0, 1.7, p.noise("soft", 0.7)) * p.uniform(0.3, 0.95)
        tone = blend(srgb(46, 43, 41), srgb(84, 76, 68), p.rng.random() ** 2)
        p.lay(end, crust, tone, 0.85, relief=0.06 * p.grain + 0.05, jitter=0.25)
        amount = amount * (1 - crust)
    p.gloss_film(end | thread, np.clip(p.covered * amount, 0, 1) * p.uniform(0.8, 1.0))


def _tar_lumps(p: _Painter) -> Floats:
    """Relief of thick oil, about 0..1: lumps on lumps, creased, nowhere smooth nor as round as a drop is."""
    swells = p.noise("soft", p.uniform(4.0, 7.0))
    wrinkles = p.noise("soft", p.uniform(9.0, 14.0))
    crust = smooth_step(0.9, 0.0, p.noise("cell-distance", p.uniform(0.9, 1.8)) + 0.1 * swells)
    relief = 0.35 + 0.22 * swells + p.uniform(0.02, 0.09) * wrinkles + p.uniform(0.1, 0.45) * crust
    return np.asarray(np.clip(relief, -0.2, 1.2), np.float32)


def _paint_wet(p: _Painter, condition: Condition) -> None:
    """Fuel over whatever the ceramic carried: a film that darkens, beads, or a half dried rest of both."""
    if condition.under == "black":
        _paint_tan(p, condition, counts=False)
        _paint_soaked(p)
    elif condition.under == "tan":
        _paint_tan(p, condition, counts=False)
    else:
        _paint_pale(p, condition, counts=False)
        if p.rng.random() < 0.4:
            haze = p.uniform(0, 0.6) * smooth_step(0, 1.2, p.cloud + 0.4 * p.broad)
            p.lay(p.zones(Zone.NOSE), haze, srgb(108, 98, 90), 0.6)
    end = p.zones(Zone.NOSE, Zone.ELECTRODE, Zone.STRAP, Zone.RIM, Zone.BORE)
    reach = end | (p.zones(Zone.THREAD) & (p.z > -10 * condition.severity - 1))
    # Severity is how much has not dried yet.
    film = np.clip(0.3 + 1.0 * condition.severity + 0.4 * p.cloud, 0, 1) * reach
    film = np.asarray(smooth_step(0.2, 0.6, film), np.float32)
    shell = ~p.zones(Zone.NOSE, Zone.BORE)
    dry_metal = p.rng.random() < 0.4
    if dry_metal:
        # Hot metal dries first, and where drops stand on it, it need not be wet between them.
        film[shell] *= p.uniform(0.0, 0.35)
    elif condition.drops > 0.4 and p.rng.random() < 0.3:
        film[~shell] *= 0.4 + 0.6 * smooth_step(0.0, 0.6, p.broad[~shell] + p.uniform(0.0, 0.9))
    p.covered[:] = np.maximum(p.covered, film)
    _stain_with_fuel(p, film)
    metal = p.metallic > 0.5
    # Fuel is clear: strap, rim and thread keep their own colour beneath it, which oil would have covered.
    dark = np.where(shell, p.uniform(0.5, 0.95), p.uniform(0.34, 0.7))
    p.colour *= (1 - film * (1 - dark))[:, None]
    # A film deepens colour as a varnish does: a tan nose turns amber.
    deepen = np.where(shell, 0.0, p.uniform(0.1, 0.5)) * film
    p.colour[:] = np.where(film[:, None] > 0, p.colour ** (1 + deepen[:, None]), p.colour)
    smooth = np.clip(p.uniform(0.03, 0.08) + 0.015 * p.middle, 0.03, 0.2)
    # Metal under a film keeps some of the dullness of its dirt.
    p.roughness[:] = blend(p.roughness, smooth, film * np.where(metal, p.uniform(0.2, 0.75), 0.95))
    p.metallic[:] = p.metallic * (1 - p.uniform(0.0, 0.3) * film)
    # Ceramic soaked through mirrors more than the renderer's clear coat does.
    p.metallic[:] = np.where(shell, p.metallic, np.maximum(p.metallic, p.uniform(0.06, 0.16) * film))
    p.relief[:] = blend(p.relief, p.relief * 0.15 + p.uniform(0.0, 0.03) * p.cloud, film)
    if p.rng.random() < 0.3:
        _pool(p, film)
    few = p.rng.random() < 0.45 and condition.under != "black" and not (dry_metal and condition.drops == 0)
    _bead(p, film, few)
    p.gloss_film(reach, film)


def _paint_soaked(p: _Painter) -> None:
    """A nose gone brown-black with fuel; unlike oil it leaves strap and rim their own colour, and it has no lumps."""
    tone = blend(srgb(62, 50, 40), srgb(30, 28, 27), p.rng.random())
    cover = p.uniform(0.75, 1.1) + 0.25 * p.cloud
    p.lay(p.zones(Zone.NOSE), np.clip(cover, 0, 1), tone, 0.3, jitter=0.12)
    p.lay(p.zones(Zone.BORE), p.uniform(0.5, 1.0), tone * p.uniform(0.6, 1.2), 0.3)


def _stain_with_fuel(p: _Painter, film: Floats) -> None:
    """Runs down the nose and a darker foot: fuel carries soot along and gathers where nose meets bore."""
    nose = p.zones(Zone.NOSE)
    if p.rng.random() < 0.6:
        down = np.stack([p.radius * 1.5, p.z * 0.25, p.angle * 1.6], 1).astype(np.float32)
        runs = smooth_step(p.uniform(-0.6, 0.6), 1.2, in_space(down, "pink", p.uniform(0.6, 1.1), p.rng))
        tone = blend(srgb(132, 114, 88), srgb(74, 66, 60), p.rng.random())
        p.lay(nose, runs * film * p.uniform(0.4, 0.85), tone, 0.3)
    top = p.plug.shape.nose
    foot = smooth_step(top - p.uniform(0.8, 2.5), top - p.uniform(3.0, 6.0), p.z + 0.3 * p.cloud)
    p.lay(nose, foot * film * p.uniform(0.1, 0.9), srgb(70, 60, 50), 0.2)


def _pool(p: _Painter, film: Floats) -> None:
    """Fuel gone brown, standing in the bore and round the foot of the nose."""
    foot = p.plug.shape.nose - p.uniform(1.5, 4.0)
    low = p.zones(Zone.BORE) | (p.zones(Zone.NOSE) & (p.z < foot))
    tone = blend(srgb(150, 104, 52), srgb(64, 42, 26), p.rng.random())
    p.lay(low, film * p.uniform(0.4, 0.9), tone, 0.03, jitter=0.05)
    p.relief[low] *= 0.2


def _bead(p: _Painter, film: Floats, few: bool) -> None:
    """Beads of the nose's film: round, darker at their edge; ``few`` where the fuel has run together."""
    nose = p.zones(Zone.NOSE)
    share = smooth_step(p.uniform(-2.0, -0.5), 0.6, p.cloud + 0.6) * (p.uniform(0.0, 0.4) if few else 1.0)
    for frequency, height in (
        (p.uniform(0.5, 0.9), p.uniform(0.12, 0.3)),
        (p.uniform(1.1, 2.0), p.uniform(0.06, 0.14)),
    ):
        distance = p.noise("cell-distance", frequency) / 0.36
        dome = np.sqrt(np.clip(1 - distance**2, 0, 1)) * np.where(nose, film * share, 0)
        p.relief += (dome * height).astype(np.float32)
        ring = smooth_step(0, 0.4, dome) * (1 - 0.5 * dome)
        p.colour *= (1 - 0.55 * ring)[:, None]
        p.roughness[:] = blend(p.roughness, 0.03, smooth_step(0, 0.3, dome))
        p.metallic[:] = blend(p.metallic, 0.5 * p.metallic, dome)


_PAINTERS = {
    UNUSED: _paint_unused,
    "lean-white": _paint_lean,
    "normal-tan": _paint_normal,
    "rich-carbon": _paint_carbon,
    "oil-fouled": _paint_oil,
    "wet": _paint_wet,
}


# --------------------------------------------------------------------------------------------- signs


def _paint_signs(p: _Painter, condition: Condition) -> None:
    for sign, strength in condition.signs.items():
        _SIGN_PAINTERS[sign](p, strength)


def _paint_coolant_clean(p: _Painter, strength: float) -> None:
    """Washed by steam: nose and electrodes spotless amid used metal."""
    nose, metal = p.zones(Zone.NOSE), p.zones(Zone.ELECTRODE, Zone.STRAP)
    p.lay(nose, strength, srgb(245, 245, 243), 0.4, jitter=0.02)
    p.lay(metal, 0.7 * strength, srgb(170, 168, 164), 0.3, metallic=1.0, jitter=0.03)
    p.lay(p.zones(Zone.RIM), 0.5 * strength * smooth_step(-0.5, 0.8, p.cloud), srgb(128, 124, 120), 0.4, metallic=0.9)


def _paint_ash(p: _Painter, strength: float) -> None:
    """Light crust of oil ash, tan-white, on strap and electrode; thin on the nose, which still shows its own colour."""
    tone = blend(srgb(222, 212, 194), srgb(190, 170, 144), p.rng.random())
    where = p.zones(Zone.NOSE, Zone.ELECTRODE, Zone.STRAP, Zone.RIM)
    amount = smooth_step(0.3, 1.0, p.cloud + 0.6 * p.middle + 1.6 * strength - 0.8)
    amount = amount * np.where(p.zones(Zone.NOSE), p.uniform(0.1, 0.5), 1.0)
    lumps = smooth_step(0.7, 0.1, p.noise("cell-distance", p.uniform(1.5, 3)))
    p.lay(where, amount, tone, 0.95, relief=0.05 + 0.12 * lumps + 0.04 * p.grain, jitter=0.12)
    p.film[where] *= 1 - amount[where]


def _paint_additive_tint(p: _Painter, strength: float) -> None:
    """Rust red, orange or pink from metal in the fuel."""
    tone = [srgb(176, 84, 48), srgb(206, 122, 66), srgb(206, 138, 122), srgb(150, 70, 56)][p.rng.integers(4)]
    nose = p.zones(Zone.NOSE)
    cover = strength * (0.75 + 0.3 * p.cloud) * (1 - 0.6 * p.depth)
    p.lay(nose, np.clip(cover, 0, 0.92), tone, 0.8, jitter=0.1)
    p.lay(p.zones(Zone.STRAP, Zone.ELECTRODE), 0.4 * np.clip(cover, 0, 1), tone * 0.7, 0.85)


def _paint_specks(p: _Painter, strength: float) -> None:
    """Pepper specks, some of them bright molten metal."""
    nose = p.zones(Zone.NOSE)
    specks = smooth_step(0.24, 0.14, p.noise("cell-distance", p.uniform(2.2, 3.6)))
    specks = specks * (p.noise("soft", 0.8) > 1.0 - 1.4 * strength)
    shiny = p.rng.random() < 0.3
    tone = srgb(170, 172, 176) if shiny else srgb(46, 42, 40)
    p.lay(nose, specks * 0.95, tone, 0.3, metallic=float(shiny), relief=0.03, jitter=0.05)


def _paint_blisters(p: _Painter, strength: float) -> None:
    nose = p.zones(Zone.NOSE)
    domes = smooth_step(0.5, 0.12, p.noise("cell-distance", p.uniform(1.2, 2.6)))
    domes = domes * smooth_step(-0.6, 0.8, p.cloud + strength - 0.4)
    p.relief[nose] += (domes * p.uniform(0.06, 0.16))[nose]
    p.lay(nose, domes * 0.6, srgb(244, 240, 230), 0.35, jitter=0.04)


def _paint_worn(p: _Painter, strength: float) -> None:
    """Eroded electrodes: pitted surfaces (the rounded edge itself is part of the shape)."""
    metal = p.zones(Zone.ELECTRODE, Zone.STRAP)
    pits = smooth_step(0.5, 0.1, p.noise("cell-distance", p.uniform(1.5, 3)))
    near_gap = np.where(p.zones(Zone.STRAP), smooth_step(0.5, 1, p.plug.along), 1.0)
    p.relief[metal] -= (pits * near_gap * 0.12 * strength)[metal]


def _paint_bridged(p: _Painter, strength: float) -> None:
    """A bead of deposit across the gap, grown from the electrode's crown."""
    shape = p.plug.shape
    crown = p.zones(Zone.ELECTRODE) & (p.z > shape.nose + shape.electrode_height - 0.15)
    side = shape.electrode_radius * 0.35
    centre = np.array([side * np.cos(shape.phase), side * np.sin(shape.phase)])
    distance = np.hypot(p.plug.points[:, 0] - centre[0], p.plug.points[:, 1] - centre[1])
    rise = smooth_step(0.75 * shape.electrode_radius + 0.15, 0.0, distance)
    # ``rigid`` damps relief at the crown, so the bridge is moved along the axis directly.
    p.plug.points[crown, 2] += (rise * (shape.gap + 0.12))[crown]
    p.lay(crown, rise, srgb(64, 58, 52), 0.9, relief=0.0, jitter=0.2)


_SIGN_PAINTERS = {
    "coolant-clean": _paint_coolant_clean,
    "ash": _paint_ash,
    "additive-tint": _paint_additive_tint,
    "specks": _paint_specks,
    "blisters": _paint_blisters,
    "worn": _paint_worn,
    "bridged": _paint_bridged,
}
