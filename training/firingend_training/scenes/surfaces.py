"""What a plug lies on or is held above: benches, rags, paper, backdrops, with their dirt."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from firingend_training.scenes.noise import PLANE_SIZE, in_plane

Split = Literal["train", "test"]
Field = NDArray[Any]  # float32 throughout; OpenCV does not say so
SIZE = PLANE_SIZE


@dataclass(frozen=True, slots=True)
class Ground:
    """A flat or folded surface; the texture and the height tile.

    Attributes
    ----------
    name
        Kind of surface.
    texture
        float32 (512, 512, 3), linear sRGB albedo.
    height
        float32 (512, 512), mm.
    roughness
        0..1.
    fold_mm
        Height of folds a cloth would have; 0 for a stiff surface.
    tile_mm
        Side of the tile.
    metallic
        1 for bare metal, else 0.
    """

    name: str
    texture: Field
    height: Field
    roughness: float
    fold_mm: float
    tile_mm: float
    metallic: float = 0.0


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A surface before its dirt."""

    colour: Field
    height: Field
    roughness: float
    fold_mm: float = 0.0
    tile_mm: tuple[float, float] = (90.0, 220.0)
    metallic: float = 0.0
    dirt: float = 1.0  # how readily stains and grease show up on it


def linear(red: float, green: float, blue: float) -> Field:
    """Linear light of an 8-bit sRGB colour."""
    value = np.array([red, green, blue], np.float32) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)


@lru_cache(maxsize=1)
def _grid() -> tuple[Field, Field]:
    y, x = np.mgrid[0:SIZE, 0:SIZE].astype(np.float32) / SIZE
    return y, x


def _pick(rng: np.random.Generator, colours: Sequence[tuple[int, int, int]], spread: float = 0.08) -> Field:
    base = linear(*colours[int(rng.integers(len(colours)))])
    return (base * np.exp(rng.normal(0, spread) + rng.normal(0, spread / 3, 3))).astype(np.float32)


def _any_colour(rng: np.random.Generator, low: float = 20, high: float = 235) -> Field:
    """Any hue, from grey to strong."""
    grey = rng.uniform(low, high)
    hue, strength = rng.uniform(0, 2 * np.pi), rng.beta(1.2, 1.6)
    swing = np.cos(hue + np.array([0, 2.09, 4.19])) * strength * 0.75
    return linear(*np.clip(grey * (1 + swing), 6, 246))


def _shaded(base: Field, log_shade: Field, tint: tuple[float, float, float] = (1.0, 1.0, 1.0)) -> Field:
    shade = np.exp(log_shade)
    if tint == (1.0, 1.0, 1.0):
        return (base * shade[..., None]).astype(np.float32)
    return np.stack([b * shade**t for b, t in zip(base, tint, strict=True)], -1).astype(np.float32)


def _flat() -> Field:
    return np.zeros((SIZE, SIZE), np.float32)


def _mixed(first: Field, second: Field, share: Field) -> Field:
    share = share[..., None]
    return np.asarray((first * (1 - share) + second * share).astype(np.float32))


# ------------------------------------------------------------------ kinds of surface


def _wood_table(rng: np.random.Generator) -> _Sheet:
    y, _x = _grid()
    grain, fibre = in_plane(rng, "grain"), in_plane(rng, "fibre")
    rings = np.sin((y * rng.integers(6, 26) + 0.35 * in_plane(rng, "grain")) * 2 * np.pi)
    woods = [
        (188, 146, 98),
        (150, 108, 70),
        (214, 178, 130),
        (104, 78, 56),
        (130, 118, 104),
        (168, 92, 50),
        (78, 48, 34),
    ]
    shade = 0.16 * grain + 0.10 * fibre + rng.uniform(0.04, 0.2) * rings
    colour = _shaded(_pick(rng, woods), shade, (1.0, 1.15, 1.35))
    height = 0.05 * fibre
    if rng.random() < 0.5:  # planks
        planks = int(rng.integers(2, 5))
        seam = np.abs((y * planks) % 1 - 0.5) > 0.492
        tone = np.exp(rng.normal(0, 0.2, planks)).astype(np.float32)[(y * planks).astype(int) % planks]
        colour = colour * tone[..., None]
        colour[seam] *= 0.25
        height = height - 1.2 * seam
    return _Sheet(colour, height.astype(np.float32), rng.uniform(0.3, 0.85), tile_mm=(80, 240))


def _workbench_ply(rng: np.random.Generator) -> _Sheet:
    veneer = in_plane(rng, "soft")
    cathedral = np.sin(6 * veneer + 2 * in_plane(rng, "grain"))
    colour = _shaded(
        _pick(rng, [(206, 172, 128), (190, 152, 108), (164, 128, 92)]),
        0.07 * cathedral + 0.08 * in_plane(rng, "fibre"),
        (1.0, 1.1, 1.3),
    )
    return _Sheet(colour, 0.04 * in_plane(rng, "fibre"), rng.uniform(0.6, 0.9), tile_mm=(90, 240), dirt=1.6)


def _painted_steel(rng: np.random.Generator) -> _Sheet:
    paints = [
        (176, 40, 34),
        (40, 76, 150),
        (52, 110, 78),
        (224, 176, 44),
        (92, 96, 100),
        (30, 32, 36),
        (206, 204, 198),
    ]
    paint = _shaded(_pick(rng, paints, 0.15), 0.04 * in_plane(rng, "pink"))
    worn = np.clip((in_plane(rng, "pink") + 0.5 * in_plane(rng, "fibre") - rng.uniform(1.2, 3.2)) * 4, 0, 1)
    rusty = _shaded(_pick(rng, [(108, 104, 100), (112, 70, 44)]), 0.2 * in_plane(rng, "pink"))
    peel = 0.02 * in_plane(rng, "pink", 2)
    return _Sheet(_mixed(paint, rusty, worn), peel - 0.1 * worn, rng.uniform(0.15, 0.5), tile_mm=(70, 180))


def _brushed_steel(rng: np.random.Generator) -> _Sheet:
    brushed = in_plane(rng, "fibre") if rng.random() < 0.7 else in_plane(rng, "pink")
    shade = 0.12 * brushed + 0.15 * in_plane(rng, "soft")
    base = linear(*(np.array([1, 1.01, 1.03]) * rng.uniform(110, 190)))
    metallic = float(rng.random() < 0.7)
    return _Sheet(_shaded(base, shade), 0.01 * brushed, rng.uniform(0.2, 0.45), tile_mm=(50, 130), metallic=metallic)


def _concrete(rng: np.random.Generator) -> _Sheet:
    shade = 0.13 * in_plane(rng, "pink") + 0.08 * in_plane(rng, "fine") + 0.12 * in_plane(rng, "soft")
    colour = _shaded(_pick(rng, [(150, 148, 142), (112, 110, 108), (172, 164, 152)]), shade)
    pores = in_plane(rng, "fine") > rng.uniform(2.6, 3.6)
    colour[pores] *= 0.4
    height = 0.08 * in_plane(rng, "pink") - 0.4 * pores
    if rng.random() < 0.3:
        colour *= _crack(rng)[..., None]
    return _Sheet(colour, height.astype(np.float32), 0.9, tile_mm=(90, 280), dirt=1.5)


def _crack(rng: np.random.Generator) -> Field:
    """Where two halves of a soft field meet: a wandering line."""
    field = in_plane(rng, "soft")
    return np.clip(0.3 + np.abs(field) * rng.uniform(15, 50), 0, 1).astype(np.float32)


def _cardboard(rng: np.random.Generator) -> _Sheet:
    y, _ = _grid()
    flutes = np.sin(y * 2 * np.pi * rng.integers(18, 44))
    shade = 0.06 * in_plane(rng, "fibre") + 0.035 * rng.uniform(0, 1.4) * flutes + 0.06 * in_plane(rng, "soft")
    colour = _shaded(_pick(rng, [(186, 148, 106), (204, 172, 132), (168, 128, 88)]), shade)
    if rng.random() < 0.35:
        colour = _printed(rng, colour, int(rng.integers(1, 5)), large=True)
    return _Sheet(colour, (0.04 * flutes).astype(np.float32), 0.9, tile_mm=(80, 200), dirt=1.4)


def _shop_rag(rng: np.random.Generator) -> _Sheet:
    weave = _weave(rng, int(rng.integers(60, 128)))
    rags = [
        (170, 40, 36),
        (208, 204, 196),
        (90, 110, 150),
        (122, 120, 116),
        (214, 196, 160),
        (60, 62, 66),
        (196, 96, 50),
    ]
    colour = _shaded(_pick(rng, rags), 0.16 * weave + 0.08 * in_plane(rng, "fine") + 0.1 * in_plane(rng, "soft"))
    if rng.random() < 0.35:
        _, x = _grid()
        stripe = np.abs((x * rng.integers(2, 8)) % 1 - 0.5) < rng.uniform(0.03, 0.14)
        colour[stripe] = colour[stripe] * _any_colour(rng) * 2.5
    return _Sheet(colour, (0.1 * weave).astype(np.float32), 0.95, rng.uniform(0.8, 6), (50, 140), dirt=2.2)


def _weave(rng: np.random.Generator, threads: int) -> Field:
    y, x = _grid()
    over = np.sin(x * 2 * np.pi * threads) * np.sin(y * 2 * np.pi * threads)
    if rng.random() < 0.5:  # twill
        over = 0.5 * over + 0.7 * np.sin((x + y) * 2 * np.pi * (threads // 2))
    return over.astype(np.float32)


def _paper_towel(rng: np.random.Generator) -> _Sheet:
    y, x = _grid()
    bumps = int(rng.integers(10, 34))
    style = rng.integers(3)
    if style == 0:
        emboss = np.cos(x * 2 * np.pi * bumps) * np.cos(y * 2 * np.pi * bumps)
    elif style == 1:
        emboss = np.maximum(np.cos((x + y) * 2 * np.pi * bumps), np.cos((x - y) * 2 * np.pi * bumps))
    else:
        emboss = np.clip(in_plane(rng, "pink", 2), -1, 1)
    base = _pick(rng, [(238, 236, 232), (238, 236, 232), (92, 142, 196), (216, 204, 178)], 0.04)
    colour = _shaded(base, 0.03 * in_plane(rng, "pink") + 0.05 * emboss)
    return _Sheet(colour, (0.15 * emboss).astype(np.float32), 0.95, rng.uniform(0, 2.5), (60, 140), dirt=1.5)


def _newsprint(rng: np.random.Generator) -> _Sheet:
    paper = _shaded(_pick(rng, [(216, 212, 200), (236, 234, 230), (228, 220, 196)], 0.04), 0.04 * in_plane(rng, "pink"))
    colour = _printed(rng, paper, int(rng.integers(24, 60)), large=False)
    return _Sheet(colour, _flat(), rng.uniform(0.5, 0.95), rng.uniform(0, 1.5), (80, 200))


def _printed(rng: np.random.Generator, paper: Field, lines: int, large: bool) -> Field:
    """Lines of marks that look like words from afar, columns, and blocks of flat colour like pictures."""
    y, x = _grid()
    ink = linear(*rng.uniform(15, 70, 3)) if rng.random() < 0.8 else _any_colour(rng, 20, 120)
    marks = max(6, int(SIZE / (24 if large else 3)))
    row, column = (y * lines).astype(int), (x * marks).astype(int)
    glyph = rng.random((lines + 1, marks + 1))[row, column] < 0.62
    word = rng.random((lines + 1, marks // 2 + 1))[row, column // 2] < 0.8
    columns = int(rng.integers(1, 5))
    body = ((y * lines) % 1 < 0.5) & ((x * columns) % 1 < 0.92) & ((x * columns) % 1 > 0.05)
    printed = glyph & word & body
    if large:
        printed &= (x > 0.2) & (x < 0.8)
    out = paper.copy()
    out[printed] = out[printed] * (0.12 + 0.88 * ink)
    for _ in range(int(rng.integers(0, 1 if large else 5))):
        left, top = rng.uniform(0, 0.8, 2)
        block = (x > left) & (x < left + rng.uniform(0.1, 0.35)) & (y > top) & (y < top + rng.uniform(0.06, 0.25))
        out[block] = (_any_colour(rng) * np.exp(0.5 * in_plane(rng, "soft"))[..., None])[block]
    return out


def _white_backdrop(rng: np.random.Generator) -> _Sheet:
    colour = _shaded(linear(*([rng.uniform(244, 254)] * 3)), 0.008 * in_plane(rng, "soft"))
    return _Sheet(colour, _flat(), rng.uniform(0.35, 0.9), tile_mm=(200, 400), dirt=0.0)


def _rubber_mat(rng: np.random.Generator) -> _Sheet:
    y, x = _grid()
    colour = _shaded(_pick(rng, [(46, 46, 48), (34, 34, 36), (70, 72, 76)], 0.2), 0.18 * in_plane(rng, "pink"))
    height = 0.05 * in_plane(rng, "fine")
    style = rng.integers(3)
    if style == 0:
        height = height + 0.5 * np.sin(x * 2 * np.pi * rng.integers(16, 50)).astype(np.float32)
    elif style == 1:
        count = int(rng.integers(6, 18))
        studs = np.hypot((x * count) % 1 - 0.5, (y * count) % 1 - 0.5) < 0.3
        height = height + cv2.GaussianBlur(studs.astype(np.float32), (0, 0), 2)
    return _Sheet(colour, height, rng.uniform(0.45, 0.9), tile_mm=(60, 150), dirt=1.2)


def _plastic_tray(rng: np.random.Generator) -> _Sheet:
    trays = [
        (230, 230, 228),
        (40, 44, 52),
        (190, 40, 36),
        (60, 90, 150),
        (236, 190, 50),
        (80, 140, 84),
        (196, 96, 40),
    ]
    colour = _shaded(_pick(rng, trays, 0.12), 0.03 * in_plane(rng, "pink"))
    return _Sheet(colour, 0.015 * in_plane(rng, "fine"), rng.uniform(0.12, 0.5), tile_mm=(70, 180))


def _asphalt(rng: np.random.Generator) -> _Sheet:
    stones: Field = in_plane(rng, "fine")
    stones = cv2.GaussianBlur(stones, (0, 0), 1.2)
    stones = stones / np.std(stones)
    colour = _shaded(
        _pick(rng, [(92, 90, 88), (70, 70, 72), (116, 112, 106)]), 0.35 * stones + 0.1 * in_plane(rng, "soft")
    )
    return _Sheet(colour, 0.4 * stones, 0.92, tile_mm=(80, 180))


def _cloth(rng: np.random.Generator) -> _Sheet:
    weave = _weave(rng, int(rng.integers(80, 128)))
    colour = _shaded(_any_colour(rng), 0.1 * weave + 0.06 * in_plane(rng, "fine"))
    if rng.random() < 0.3:  # printed dots
        y, x = _grid()
        count = int(rng.integers(6, 20))
        dots = np.hypot((x * count) % 1 - 0.5, (y * count) % 1 - 0.5) < rng.uniform(0.1, 0.35)
        colour[dots] = colour[dots] * 0.3 + 0.7 * _any_colour(rng)
    return _Sheet(colour, (0.06 * weave).astype(np.float32), 0.95, rng.uniform(0.5, 7), (50, 150))


def _cutting_mat(rng: np.random.Generator) -> _Sheet:
    y, x = _grid()
    colour = _shaded(
        _pick(rng, [(32, 96, 78), (44, 76, 120), (56, 58, 62), (140, 70, 90)]), 0.04 * in_plane(rng, "pink")
    )
    fine, coarse = 20, 4
    line = ((x * fine) % 1 < 0.03) | ((y * fine) % 1 < 0.03)
    thick = ((x * coarse) % 1 < 0.012) | ((y * coarse) % 1 < 0.012)
    ink = linear(214, 214, 180)
    colour[line] = 0.75 * colour[line] + 0.25 * ink
    colour[thick] = 0.3 * colour[thick] + 0.7 * ink
    return _Sheet(colour, 0.01 * in_plane(rng, "fine"), rng.uniform(0.45, 0.8), tile_mm=(150, 250))


def _chequer_plate(rng: np.random.Generator) -> _Sheet:
    y, x = _grid()
    count = int(rng.integers(4, 9))
    u, v = (x * count) % 1, (y * count) % 1
    odd = ((x * count).astype(int) + (y * count).astype(int)) % 2 == 0
    along = np.where(odd, u + v - 1, u - v)
    across = np.where(odd, u - v, u + v - 1)
    bar = cv2.GaussianBlur(((along / 0.7) ** 2 + (across / 0.16) ** 2 < 1).astype(np.float32), (0, 0), 2)
    shade = 0.15 * in_plane(rng, "pink") + 0.12 * in_plane(rng, "soft") + 0.2 * bar
    base = linear(*(np.array([1, 1, 1.01]) * rng.uniform(90, 170)))
    return _Sheet(
        _shaded(base, shade), bar, rng.uniform(0.3, 0.5), tile_mm=(120, 220), metallic=float(rng.random() < 0.6)
    )


def _coloured_card(rng: np.random.Generator) -> _Sheet:
    return _Sheet(
        _shaded(_any_colour(rng), 0.02 * in_plane(rng, "fine")),
        _flat(),
        rng.uniform(0.5, 0.95),
        tile_mm=(80, 200),
    )


def _engine_casting(rng: np.random.Generator) -> _Sheet:
    sand = in_plane(rng, "fine")
    base = _pick(rng, [(150, 150, 148), (116, 114, 110), (176, 174, 170)])
    colour = _shaded(base, 0.1 * sand + 0.16 * in_plane(rng, "pink"))
    return _Sheet(
        colour, 0.12 * sand, rng.uniform(0.4, 0.7), tile_mm=(50, 120), metallic=float(rng.random() < 0.4), dirt=2.5
    )


def _body_panel(rng: np.random.Generator) -> _Sheet:
    """Painted sheet metal as in an engine bay: pressed ribs, a row of spot welds, a bead of sealer, dust."""
    y, x = _grid()
    cars = [(176, 178, 180), (222, 222, 218), (34, 36, 40), (92, 96, 102), (40, 62, 118), (140, 30, 32), (46, 84, 62)]
    coat = _pick(rng, cars, 0.2) if rng.random() < 0.85 else _any_colour(rng)
    paint = _shaded(coat, 0.05 * in_plane(rng, "pink") + 0.1 * in_plane(rng, "soft"))
    ribs = int(rng.integers(1, 4))
    pressed = np.clip(2.5 * np.cos(2 * np.pi * (x * ribs + rng.uniform())), -1, 1) * rng.uniform(0.2, 1.0)
    if rng.random() < 0.6:
        welds, line = int(rng.integers(4, 10)), rng.uniform(0.1, 0.9)
        distance = np.hypot(((x * welds) % 1 - 0.5) / welds, y - line)
        paint[distance < 0.014] *= 0.8
        pressed = pressed - 0.3 * (distance < 0.014)
    if rng.random() < 0.5:
        sealer = np.abs(y - rng.uniform(0.1, 0.9) - 0.006 * in_plane(rng, "soft")) < rng.uniform(0.008, 0.025)
        paint[sealer] = 0.4 * paint[sealer] + 0.6 * _pick(rng, [(150, 148, 140), (196, 188, 166), (60, 60, 60)])
    dusty = np.clip(0.4 * in_plane(rng, "pink") + 0.3 * in_plane(rng, "soft") + rng.uniform(-0.3, 0.5), 0, 0.7)
    colour = _mixed(paint, _shaded(linear(112, 102, 88), 0.1 * in_plane(rng, "fine")), dusty)
    return _Sheet(colour, pressed.astype(np.float32), rng.uniform(0.15, 0.5), tile_mm=(110, 280), dirt=1.6)


# kinds kept for the test split


def _leather(rng: np.random.Generator) -> _Sheet:
    wrinkles = np.abs(in_plane(rng, "pink", 2))
    hides = [(186, 160, 112), (120, 78, 48), (50, 40, 36), (206, 190, 160)]
    colour = _shaded(_pick(rng, hides), 0.2 * np.clip(wrinkles - 0.8, -0.8, 0.5) + 0.12 * in_plane(rng, "soft"))
    return _Sheet(colour, 0.15 * np.minimum(wrinkles, 1), rng.uniform(0.4, 0.8), rng.uniform(0.5, 4), (40, 100), dirt=2)


def _foil(rng: np.random.Generator) -> _Sheet:
    creases = np.abs(in_plane(rng, "soft")) + 0.5 * np.abs(in_plane(rng, "pink"))
    colour = _shaded(linear(206, 207, 208), 0.05 * in_plane(rng, "fibre"))
    return _Sheet(
        colour, 1.2 * creases, rng.uniform(0.15, 0.35), rng.uniform(0.5, 3), (90, 200), metallic=1.0, dirt=0.4
    )


def _glazed_tile(rng: np.random.Generator) -> _Sheet:
    y, x = _grid()
    count = int(rng.integers(1, 5))
    edge = 0.5 - np.maximum(np.abs((x * count) % 1 - 0.5), np.abs((y * count) % 1 - 0.5))
    joint = edge < 0.012 * count
    colour = _shaded(
        _pick(rng, [(226, 222, 212), (176, 164, 148), (104, 116, 124), (196, 150, 112)]),
        0.08 * in_plane(rng, "soft"),
    )
    colour[joint] = linear(120, 116, 110)
    return _Sheet(colour, (-0.8 * joint).astype(np.float32), rng.uniform(0.08, 0.3), tile_mm=(150, 400))


def _granite(rng: np.random.Generator) -> _Sheet:
    base = _shaded(_pick(rng, [(150, 140, 134), (96, 98, 102), (190, 178, 168)]), 0.12 * in_plane(rng, "pink"))
    for share, tone in ((1.0, 40), (0.9, 225), (1.4, 130)):
        grains = cv2.GaussianBlur(in_plane(rng, "fine"), (0, 0), 1.0)
        spots = np.clip((grains / grains.std() - share) * 3, 0, 1)
        base = _mixed(base, np.broadcast_to(linear(tone, tone * 0.97, tone * 0.94), base.shape), spots)
    return _Sheet(base, _flat(), rng.uniform(0.1, 0.5), tile_mm=(70, 160))


def _tartan(rng: np.random.Generator) -> _Sheet:
    y, x = _grid()
    weave = _weave(rng, 110)
    colours = [_any_colour(rng) for _ in range(4)]
    colour = np.broadcast_to(colours[0], (SIZE, SIZE, 3)).astype(np.float32)
    count = int(rng.integers(2, 6))
    for band in colours[1:]:
        middle, width = rng.uniform(0, 1), rng.uniform(0.02, 0.22)
        for axis in (x, y):
            share = 0.5 * (np.abs((axis * count - middle + 0.5) % 1 - 0.5) < width / 2).astype(np.float32)
            colour = _mixed(colour, np.broadcast_to(band, colour.shape), share)
    colour = colour * np.exp(0.12 * weave)[..., None]
    return _Sheet(colour.astype(np.float32), (0.08 * weave).astype(np.float32), 0.95, rng.uniform(0.5, 5), (70, 180))


def _grey_sweep(rng: np.random.Generator) -> _Sheet:
    tone = rng.uniform(215, 246)
    return _Sheet(
        _shaded(linear(tone, tone, tone * rng.uniform(0.98, 1.02)), 0.05 * in_plane(rng, "soft")),
        _flat(),
        rng.uniform(0.3, 0.8),
        tile_mm=(200, 400),
        dirt=0.0,
    )


_Maker = Callable[[np.random.Generator], _Sheet]
_TRAIN: dict[str, tuple[_Maker, float]] = {
    "wood table": (_wood_table, 1.5),
    "workbench ply": (_workbench_ply, 1.0),
    "painted steel": (_painted_steel, 1.2),
    "brushed steel": (_brushed_steel, 0.9),
    "concrete": (_concrete, 1.1),
    "cardboard": (_cardboard, 1.0),
    "shop rag": (_shop_rag, 1.5),
    "paper towel": (_paper_towel, 1.1),
    "printed paper": (_newsprint, 0.8),
    "white backdrop": (_white_backdrop, 2.2),
    "rubber mat": (_rubber_mat, 0.9),
    "plastic tray": (_plastic_tray, 1.0),
    "asphalt": (_asphalt, 0.6),
    "cloth": (_cloth, 0.9),
    "cutting mat": (_cutting_mat, 0.5),
    "chequer plate": (_chequer_plate, 0.4),
    "coloured card": (_coloured_card, 1.0),
    "engine casting": (_engine_casting, 0.7),
    "body panel": (_body_panel, 0.9),
}
_TEST: dict[str, tuple[_Maker, float]] = {
    "leather": (_leather, 1.0),
    "foil": (_foil, 0.6),
    "glazed tile": (_glazed_tile, 1.0),
    "granite": (_granite, 1.0),
    "tartan cloth": (_tartan, 1.0),
    "grey sweep": (_grey_sweep, 1.2),
}
GROUND_KINDS: dict[Split, tuple[str, ...]] = {"train": tuple(_TRAIN), "test": tuple(_TEST)}


def draw_ground(rng: np.random.Generator, split: Split, name: str | None = None) -> Ground:
    """Draw a surface.

    Parameters
    ----------
    rng
        Source of every choice.
    split
        ``train`` or ``test``; the two share no kind of surface.
    name
        Force one kind of that split.

    Returns
    -------
    Ground
    """
    makers = _TRAIN if split == "train" else _TEST
    if name is None:
        weights = np.array([weight for _, weight in makers.values()])
        name = str(rng.choice(list(makers), p=weights / weights.sum()))
    sheet = makers[name][0](rng)
    colour, roughness = _soiled(rng, sheet)
    return Ground(
        name=name,
        texture=np.clip(colour, 0.004, 0.96).astype(np.float32),
        height=np.ascontiguousarray(sheet.height, np.float32),
        roughness=float(roughness),
        fold_mm=float(sheet.fold_mm),
        tile_mm=float(rng.uniform(*sheet.tile_mm)),
        metallic=float(sheet.metallic),
    )


def _soiled(rng: np.random.Generator, sheet: _Sheet) -> tuple[Field, float]:
    """Oil stains, spots of grease, scratches, dust and wear on a clean surface."""
    colour = sheet.colour
    if sheet.dirt == 0:
        return colour, sheet.roughness
    for _ in range(rng.poisson(0.45 * sheet.dirt)):
        field = in_plane(rng, "soft")
        edge = rng.uniform(0.6, 1.8)
        stain = np.clip((field - edge) / rng.uniform(0.1, 1.2), 0, 1) * rng.uniform(0.15, 0.8)
        tint = np.array([1, 1.08, 1.2] if rng.random() < 0.6 else [1, 1, 1], np.float32)
        colour = colour * (1 - stain[..., None] * np.minimum(tint * 0.85, 1))
    if rng.random() < 0.14 * sheet.dirt:
        colour = colour * (1 - rng.uniform(0.3, 0.9) * _drops(rng))[..., None]
    if rng.random() < 0.3:
        specks = in_plane(rng, "fine") > rng.uniform(2.4, 3.4)
        colour = np.where(specks[..., None], colour * rng.uniform(0.1, 0.6), colour)
    if rng.random() < 0.35 * min(1.0, sheet.dirt):
        scratches = _scratches(rng)[..., None] * rng.uniform(0.1, 0.6)
        tone = linear(*([rng.uniform(30, 230)] * 3))
        colour = colour * (1 - scratches) + tone * scratches
    if rng.random() < 0.3:
        dust = np.clip(in_plane(rng, "pink") * 0.08 + rng.uniform(0, 0.15), 0, 0.3)[..., None]
        colour = colour * (1 - dust) + linear(168, 158, 142) * dust
    return colour.astype(np.float32), min(1.0, sheet.roughness * rng.uniform(0.85, 1.15))


def _drops(rng: np.random.Generator) -> Field:
    mask = np.zeros((SIZE, SIZE), np.uint8)
    for _ in range(int(rng.integers(2, 24))):
        x, y = (int(v) for v in rng.integers(20, SIZE - 20, 2))
        axes = (int(rng.integers(1, 18)), int(rng.integers(1, 18)))
        cv2.ellipse(mask, (x, y), axes, float(rng.uniform(0, 180)), 0, 360, 255, -1, cv2.LINE_AA)
    return (mask / np.float32(255)).astype(np.float32)


def _scratches(rng: np.random.Generator) -> Field:
    mask = np.zeros((SIZE, SIZE), np.uint8)
    lean = rng.uniform(0, np.pi)
    for _ in range(int(rng.integers(3, 50))):
        angle = lean + rng.normal(0, 0.6)
        length = rng.uniform(10, 200)
        start = rng.uniform(0, SIZE, 2)
        end = start + length * np.array([np.cos(angle), np.sin(angle)])
        cv2.line(mask, start.astype(int).tolist(), end.astype(int).tolist(), int(rng.integers(60, 255)), 1, cv2.LINE_AA)
    return (mask / np.float32(255)).astype(np.float32)
