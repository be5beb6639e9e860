"""The light a picture is taken in: a surrounding that metal can mirror, and at most one lamp or flash."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

Split = Literal["train", "test"]
Field = NDArray[Any]  # float32 throughout; OpenCV does not say so
HEIGHT, WIDTH = 128, 256


@dataclass(frozen=True, slots=True)
class Light:
    """Where light comes from, in relative linear units (the camera sets the exposure).

    Attributes
    ----------
    name
        Kind of light.
    environment
        float32 (128, 256, 3), linear radiance, latitude–longitude with +Y up; row 0 looks straight up.
    flash
        The lamp sits beside the lens (a phone's flash) instead of somewhere in the room.
    lamp_radiance
        float32 (3,), of a disc of ``lamp_radius_mm`` facing the object; zero when there is no lamp.
    lamp_radius_mm, lamp_distance_mm
        Size and distance from the object for which ``lamp_radiance`` was chosen. A flash stands at the camera: whoever
        places it at another distance d keeps its strength by scaling the radiance by (d / lamp_distance_mm)².
    illuminant
        float32 (3,), mean 1: colour of the light falling on a surface that faces the open side.
    behind
        The lamp is a window or a patch of sky beyond the object, wherever the camera stands.
    shaded
        Something out of the picture is to keep the lamp's light from most of the firing ends.
    """

    name: str
    environment: Field
    flash: bool
    lamp_radiance: Field
    lamp_radius_mm: float
    lamp_distance_mm: float
    illuminant: Field
    behind: bool = False
    shaded: bool = False


@dataclass(frozen=True, slots=True)
class _Lamp:
    colour: Field
    share: float  # its irradiance as a multiple of the surrounding's
    radius_mm: float
    distance_mm: float
    flash: bool = False
    behind: bool = False
    shaded: bool = False


def blackbody(kelvin: float) -> Field:
    """Linear sRGB of a black body, mean 1 (the usual curve fit to its 8-bit colours, from memory)."""
    t = kelvin / 100
    red = 255.0 if t <= 66 else 329.7 * (t - 60) ** -0.1332
    green = 99.47 * np.log(t) - 161.12 if t <= 66 else 288.12 * (t - 60) ** -0.0755
    blue = 255.0 if t >= 66 else (138.52 * np.log(t - 10) - 305.04 if t > 19 else 0.0)
    colour = (np.clip([red, green, blue], 1, 255) / 255) ** 2.2
    return np.asarray((colour / colour.mean()).astype(np.float32))


@lru_cache(maxsize=1)
def _directions() -> tuple[Field, Field]:
    """Elevation (128, 1) and azimuth (1, 256) of each pixel, radians."""
    elevation = np.pi / 2 - (np.arange(HEIGHT, dtype=np.float32)[:, None] + 0.5) / HEIGHT * np.pi
    azimuth = (np.arange(WIDTH, dtype=np.float32)[None] + 0.5) / WIDTH * 2 * np.pi
    return elevation, azimuth


def _soft_step(low: float, high: float, value: Field) -> Field:
    t = np.clip((value - low) / (high - low), 0, 1)
    return (t * t * (3 - 2 * t)).astype(np.float32)


def _blurred(image: Field, sigma: float) -> Field:
    """Gaussian blur that closes round the horizon."""
    if sigma <= 0:
        return image
    pad = int(3 * sigma) + 2
    wide = cv2.copyMakeBorder(image, 0, 0, pad, pad, cv2.BORDER_WRAP)
    return np.ascontiguousarray(cv2.GaussianBlur(wide, (0, 0), sigma)[:, pad:-pad])


class _Surrounding:
    """A lat-long image being painted."""

    def __init__(self, rng: np.random.Generator, below: float, above: float, tint: Field) -> None:
        self.rng = rng
        elevation, _ = _directions()
        rise = _soft_step(-0.25, 0.35, np.sin(elevation)) * np.ones((1, WIDTH), np.float32)
        soft_tint = 0.4 + 0.6 * tint
        self.image: Field = ((below + (above - below) * rise)[..., None] * soft_tint).astype(np.float32)

    def clutter(self, amount: int, brightness: float, tint: Field, low: float = -1.1, high: float = 0.9) -> None:
        """Shelves, doors, cars, people: dark and light shapes of odd colours round the horizon."""
        rng = self.rng
        wide = np.concatenate([self.image] * 2, axis=1)
        for _ in range(amount):
            x, e = rng.uniform(WIDTH / 2, 1.5 * WIDTH), np.clip(rng.normal(-0.1, 0.42), low, high)
            y = (np.pi / 2 - e) / np.pi * HEIGHT
            w, h = rng.uniform(2, 44), rng.uniform(2, 30)
            shape = rng.integers(4)
            grey = rng.beta(0.8, 1.8) * brightness
            colour = grey * np.clip(1 + rng.normal(0, 0.2 if rng.random() < 0.8 else 0.45, 3), 0.1, 2.2)
            value = tuple(float(v) for v in colour * (0.4 + 0.6 * tint))
            layer = wide.copy() if shape == 3 else wide
            if shape == 0:
                cv2.rectangle(layer, (int(x), int(y)), (int(x + w), int(y + h)), value, -1)
            elif shape == 1:  # a post or a pipe
                cv2.rectangle(layer, (int(x), int(y - h)), (int(x + rng.uniform(1, 4)), int(y + h * 2)), value, -1)
            elif shape == 2:  # a head, a wheel, a drum
                cv2.ellipse(layer, (int(x), int(y)), (int(w / 2) + 1, int(h / 2) + 1), 0, 0, 360, value, -1)
            else:  # a shelf: rows of small things
                for k in range(int(rng.integers(3, 9))):
                    left = int(x + k * w / 3)
                    tone = tuple(float(v * rng.uniform(0.2, 1.6)) for v in value)
                    cv2.rectangle(layer, (left, int(y)), (left + max(1, int(w / 4)), int(y + h / 2)), tone, -1)
                wide = layer
        half = WIDTH // 2
        self.image = np.concatenate([wide[:, WIDTH : WIDTH + half], wide[:, half:WIDTH]], axis=1)

    def mottle(self, strength: float) -> None:
        """Uneven brightness on a large scale."""
        cells: Field = self.rng.standard_normal((8, 16)).astype(np.float32)
        cells = cv2.copyMakeBorder(cells, 0, 0, 2, 2, cv2.BORDER_WRAP)
        smooth = cv2.resize(cells, (WIDTH + 64, HEIGHT), interpolation=cv2.INTER_CUBIC)[:, 32:-32]
        self.image *= np.exp(strength * smooth)[..., None]

    def blur(self, sigma: float) -> None:
        self.image = _blurred(self.image, sigma)

    def panel(
        self,
        azimuth: float,
        elevation: float,
        width: float,
        height: float,
        radiance: Field,
        soft: float = 0.6,
        panes: int = 0,
    ) -> None:
        """Add a rectangle of light (radians); ``panes`` puts glazing bars across a window."""
        e, a = _directions()
        x = ((a - azimuth + np.pi) % (2 * np.pi) - np.pi) * np.maximum(np.cos(e), 0.15)
        inside = (np.abs(x) < width / 2) & (np.abs(e - elevation) < height / 2)
        if panes:
            inside &= np.abs((x / width + 0.5) * panes % 1 - 0.5) < 0.45
            inside &= np.abs((e - elevation) / height * 2 % 1 - 0.5) < 0.47
        self.image = self.image + _blurred(inside.astype(np.float32), soft)[..., None] * radiance

    def disc(self, azimuth: float, elevation: float, radius: float, radiance: Field) -> None:
        """Add a round source; one smaller than a pixel keeps its power."""
        e, a = _directions()
        cosine = np.sin(e) * np.sin(elevation) + np.cos(e) * np.cos(elevation) * np.cos(a - azimuth)
        angle = np.arccos(np.clip(cosine, -1, 1))
        spread = max(radius, 0.03)
        weight = _soft_step(0, 1, (spread * 1.3 - angle) / (spread * 0.6)) * (radius / spread) ** 2
        self.image = self.image + weight[..., None] * radiance


# ------------------------------------------------------------------ kinds of light

_Drawn = tuple[Field, _Lamp | None]


def _tint(rng: np.random.Generator, low: float, high: float) -> Field:
    """A lamp's colour: its temperature, and the green or pink slant that tubes and cheap LEDs have."""
    colour = blackbody(rng.uniform(low, high)) * np.array([1, rng.uniform(0.95, 1.08), 1], np.float32)
    return np.asarray((colour / colour.mean()).astype(np.float32))


def _maybe_lamp(rng: np.random.Generator, chance: float, low: float = 2800, high: float = 6800) -> _Lamp | None:
    if rng.random() > chance:
        return None
    distance = rng.uniform(120, 900)
    return _Lamp(_tint(rng, low, high), rng.uniform(0.1, 2.0), distance * rng.uniform(0.04, 0.3), distance)


def _workshop_tubes(rng: np.random.Generator) -> _Drawn:
    tint = _tint(rng, 3400, 6800)
    room = _Surrounding(rng, rng.uniform(0.03, 0.25), rng.uniform(0.08, 0.4), tint)
    room.mottle(0.35)
    room.clutter(int(rng.integers(18, 60)), rng.uniform(0.2, 0.8), tint)
    room.blur(rng.uniform(0.5, 1.4))
    along = rng.uniform(0, 2 * np.pi)
    for _ in range(int(rng.integers(1, 5))):
        azimuth = along + rng.normal(0, 0.5) + np.pi * rng.integers(2)
        length, strength = rng.uniform(0.4, 1.6), rng.uniform(8, 40)
        room.panel(azimuth, rng.uniform(0.45, 1.35), length, rng.uniform(0.05, 0.16), strength * tint, 0.6)
    if rng.random() < 0.45:  # an open door
        room.panel(
            rng.uniform(0, 2 * np.pi),
            rng.uniform(0, 0.35),
            rng.uniform(0.5, 1.3),
            rng.uniform(0.4, 1),
            rng.uniform(0.8, 4) * blackbody(rng.uniform(5500, 8000)),
            2,
        )
    return room.image, _maybe_lamp(rng, 0.35)


def _window(rng: np.random.Generator) -> _Drawn:
    tint = blackbody(rng.uniform(5000, 8500))
    room = _Surrounding(rng, rng.uniform(0.03, 0.2), rng.uniform(0.08, 0.35), tint)
    room.mottle(0.35)
    room.clutter(int(rng.integers(14, 44)), rng.uniform(0.2, 0.7), tint)
    room.blur(rng.uniform(0.5, 1.4))
    azimuth = rng.uniform(0, 2 * np.pi)
    for k in range(int(rng.integers(1, 3))):
        strength = rng.uniform(3, 14)
        room.panel(
            azimuth + k * rng.uniform(0.7, 1.6),
            rng.uniform(0.1, 0.6),
            rng.uniform(0.4, 1.3),
            rng.uniform(0.4, 0.9),
            strength * tint,
            rng.uniform(0.4, 1.5),
            int(rng.integers(0, 4)),
        )
    return room.image, _maybe_lamp(rng, 0.3, 2700, 4000)


def _overcast(rng: np.random.Generator) -> _Drawn:
    tint = blackbody(rng.uniform(5800, 8500))
    sky = _Surrounding(rng, rng.uniform(0.05, 0.3), rng.uniform(0.5, 1.4), tint)
    sky.mottle(0.25)
    sky.clutter(int(rng.integers(8, 36)), rng.uniform(0.2, 0.6), tint, -1.2, 0.3)
    sky.blur(rng.uniform(0.8, 1.8))
    elevation, _ = _directions()
    sky.image = sky.image + (_soft_step(-0.1, 1, np.sin(elevation)) * rng.uniform(0.5, 1.6))[..., None] * tint
    sky.panel(
        rng.uniform(0, 2 * np.pi),
        rng.uniform(0.4, 1.3),
        rng.uniform(0.8, 1.8),
        rng.uniform(0.5, 1.2),
        rng.uniform(0.5, 2) * tint,
        6,
    )
    return sky.image, None


def _sunny(rng: np.random.Generator) -> _Drawn:
    sun = blackbody(rng.uniform(4300, 5900))
    sky = _Surrounding(rng, rng.uniform(0.08, 0.35), rng.uniform(0.3, 0.9), np.ones(3, np.float32))
    sky.mottle(0.3)
    sky.clutter(int(rng.integers(8, 40)), rng.uniform(0.3, 0.9), np.ones(3, np.float32), -1.2, 0.3)
    sky.blur(rng.uniform(0.5, 1.3))
    elevation, _ = _directions()
    blue = np.array([0.62, 0.85, 1.3], np.float32)
    sky.image = sky.image + (_soft_step(0, 0.8, np.sin(elevation)) * rng.uniform(0.3, 0.9))[..., None] * blue
    sky.disc(rng.uniform(0, 2 * np.pi), rng.uniform(0.35, 1.3), rng.uniform(0.03, 0.06), rng.uniform(250, 900) * sun)
    return sky.image, None


def _warm_bulb(rng: np.random.Generator) -> _Drawn:
    tint = _tint(rng, 2500, 3300)
    room = _Surrounding(rng, rng.uniform(0.04, 0.2), rng.uniform(0.1, 0.4), tint)
    room.mottle(0.4)
    room.clutter(int(rng.integers(14, 46)), rng.uniform(0.2, 0.7), tint)
    room.blur(rng.uniform(0.5, 1.4))
    for _ in range(int(rng.integers(1, 3))):
        room.disc(rng.uniform(0, 2 * np.pi), rng.uniform(0.4, 1.3), rng.uniform(0.05, 0.2), rng.uniform(20, 90) * tint)
    if rng.random() < 0.3:
        room.panel(
            rng.uniform(0, 2 * np.pi),
            rng.uniform(0.2, 0.6),
            rng.uniform(0.4, 1),
            rng.uniform(0.4, 0.8),
            rng.uniform(0.4, 2) * blackbody(6500),
            1.5,
        )
    return room.image, _maybe_lamp(rng, 0.3, 2600, 3400)


def _led_lamp(rng: np.random.Generator) -> _Drawn:
    """An inspection lamp or a desk lamp close by in a dim room: one hard highlight."""
    tint = _tint(rng, 4800, 7600)
    room = _Surrounding(rng, rng.uniform(0.02, 0.12), rng.uniform(0.04, 0.2), _tint(rng, 3000, 6500))
    room.mottle(0.4)
    room.clutter(int(rng.integers(14, 46)), rng.uniform(0.1, 0.5), tint)
    room.blur(rng.uniform(0.5, 1.2))
    room.panel(
        rng.uniform(0, 2 * np.pi),
        rng.uniform(0.4, 1.4),
        rng.uniform(0.3, 1.2),
        rng.uniform(0.1, 0.4),
        rng.uniform(1, 12) * tint,
        0.8,
    )
    distance = rng.uniform(100, 500)
    return room.image, _Lamp(tint, rng.uniform(1, 6), distance * rng.uniform(0.03, 0.2), distance)


def _phone_flash(rng: np.random.Generator) -> _Drawn:
    tint = _tint(rng, 3000, 6500)
    room = _Surrounding(rng, rng.uniform(0.01, 0.1), rng.uniform(0.03, 0.25), tint)
    room.mottle(0.4)
    room.clutter(int(rng.integers(12, 40)), rng.uniform(0.05, 0.4), tint)
    room.blur(rng.uniform(0.5, 1.4))
    if rng.random() < 0.5:
        room.panel(
            rng.uniform(0, 2 * np.pi),
            rng.uniform(0.3, 1.3),
            rng.uniform(0.3, 1.2),
            rng.uniform(0.1, 0.5),
            rng.uniform(0.5, 6) * tint,
            0.8,
        )
    flash = _tint(rng, 4700, 6300)
    return room.image, _Lamp(flash, rng.uniform(1.5, 12), rng.uniform(1.5, 3), 120, flash=True)


def _mixed(rng: np.random.Generator) -> _Drawn:
    """Daylight from one side, lamp light from another."""
    warm, cool = _tint(rng, 2600, 3800), blackbody(rng.uniform(6000, 9000))
    room = _Surrounding(rng, rng.uniform(0.03, 0.2), rng.uniform(0.1, 0.35), np.ones(3, np.float32))
    room.mottle(0.35)
    room.clutter(int(rng.integers(16, 50)), rng.uniform(0.2, 0.7), warm)
    room.blur(rng.uniform(0.5, 1.4))
    azimuth = rng.uniform(0, 2 * np.pi)
    room.panel(
        azimuth,
        rng.uniform(0.1, 0.6),
        rng.uniform(0.5, 1.2),
        rng.uniform(0.4, 0.9),
        rng.uniform(2, 9) * cool,
        1,
        int(rng.integers(0, 4)),
    )
    room.panel(
        azimuth + rng.uniform(1.5, 4),
        rng.uniform(0.5, 1.3),
        rng.uniform(0.2, 0.9),
        rng.uniform(0.1, 0.3),
        rng.uniform(6, 40) * warm,
        0.8,
    )
    lamp = _maybe_lamp(rng, 0.3)
    if rng.random() < 0.25:
        lamp = _Lamp(_tint(rng, 4700, 6300), rng.uniform(0.5, 3), rng.uniform(1.5, 3), 120, flash=True)
    return room.image, lamp


def _softbox(rng: np.random.Generator) -> _Drawn:
    """A catalogue studio: white all round, large even sources, here and there a black card for contrast."""
    tint = blackbody(rng.uniform(5200, 6500))
    white = rng.uniform(0.5, 1.3)
    room = _Surrounding(rng, white * rng.uniform(0.4, 1), white, tint)
    room.mottle(0.1)
    for _ in range(int(rng.integers(1, 4))):
        room.panel(
            rng.uniform(0, 2 * np.pi),
            rng.uniform(0, 1.3),
            rng.uniform(0.6, 1.8),
            rng.uniform(0.5, 1.2),
            rng.uniform(1.5, 8) * tint,
            rng.uniform(1, 5),
        )
    for _ in range(int(rng.integers(0, 4))):
        room.panel(
            rng.uniform(0, 2 * np.pi),
            rng.uniform(-0.8, 0.6),
            rng.uniform(0.1, 0.8),
            rng.uniform(0.3, 1.5),
            -rng.uniform(0.3, 0.95) * white * tint,
            rng.uniform(0.5, 3),
        )
    return np.maximum(room.image, 0.02), None


def _from_behind(rng: np.random.Generator) -> _Drawn:
    """A bright window or patch of sky beyond the object: what is seen of it lies on its dark side."""
    tint = blackbody(rng.uniform(5000, 9000))
    outdoors = rng.random() < 0.4
    above = rng.uniform(0.2, 0.5) if outdoors else rng.uniform(0.05, 0.25)
    room = _Surrounding(rng, rng.uniform(0.03, 0.12), above, tint)
    room.mottle(0.35)
    room.clutter(int(rng.integers(14, 46)), rng.uniform(0.1, 0.5), tint)
    room.blur(rng.uniform(0.5, 1.4))
    distance = rng.uniform(700, 1500)
    share = rng.uniform(2, 5) if outdoors else rng.uniform(3, 10)
    return room.image, _Lamp(tint, share, distance * rng.uniform(0.22, 0.55), distance, behind=True)


def _in_shadow(rng: np.random.Generator) -> _Drawn:
    """Sun or a hard lamp, and something before it; what light there is in the shadow comes from all round."""
    sky = blackbody(rng.uniform(5500, 9500)) if rng.random() < 0.6 else _tint(rng, 3200, 6000)
    around = _Surrounding(rng, rng.uniform(0.05, 0.2), rng.uniform(0.15, 0.5), sky)
    around.mottle(0.35)
    around.clutter(int(rng.integers(12, 44)), rng.uniform(0.2, 0.7), sky)
    around.blur(rng.uniform(0.5, 1.3))
    distance = rng.uniform(1500, 2500)
    radius = distance * rng.uniform(0.005, 0.018)
    return around.image, _Lamp(_tint(rng, 3800, 6200), rng.uniform(3, 10), radius, distance, shaded=True)


# kinds kept for the test split


def _backlight(rng: np.random.Generator) -> _Drawn:
    """A bright opening low on one side, and walls that give some of it back."""
    tint = blackbody(rng.uniform(5000, 7500))
    room = _Surrounding(rng, rng.uniform(0.08, 0.3), rng.uniform(0.2, 0.6), tint)
    room.mottle(0.4)
    room.clutter(int(rng.integers(10, 40)), rng.uniform(0.3, 0.8), tint)
    room.blur(rng.uniform(0.6, 1.6))
    room.panel(
        rng.uniform(0, 2 * np.pi),
        rng.uniform(-0.1, 0.3),
        rng.uniform(0.9, 2.2),
        rng.uniform(0.4, 0.9),
        rng.uniform(1.5, 5) * tint,
        3,
    )
    return room.image, None


def _under_bonnet(rng: np.random.Generator) -> _Drawn:
    """Deep shade with a strip of sky; hoses and castings around."""
    tint = blackbody(rng.uniform(6500, 9500))
    bay = _Surrounding(rng, rng.uniform(0.02, 0.08), rng.uniform(0.03, 0.12), tint)
    bay.mottle(0.6)
    bay.clutter(int(rng.integers(30, 80)), rng.uniform(0.08, 0.35), tint, -1.3, 1.3)
    bay.blur(rng.uniform(0.6, 1.6))
    bay.panel(
        rng.uniform(0, 2 * np.pi),
        rng.uniform(0.2, 0.7),
        rng.uniform(1.2, 3),
        rng.uniform(0.15, 0.5),
        rng.uniform(0.8, 3) * tint,
        2,
    )
    return bay.image, _maybe_lamp(rng, 0.3, 4500, 7000)


def _ring_of_lamps(rng: np.random.Generator) -> _Drawn:
    """A modern service bay: honeycombs of LED strips overhead, mirrored as a pattern."""
    tint = _tint(rng, 5000, 7000)
    room = _Surrounding(rng, rng.uniform(0.06, 0.3), rng.uniform(0.15, 0.5), tint)
    room.mottle(0.3)
    room.clutter(int(rng.integers(14, 40)), rng.uniform(0.3, 0.9), tint)
    room.blur(rng.uniform(0.5, 1.2))
    start, strength, count = rng.uniform(0, 2 * np.pi), rng.uniform(4, 18), int(rng.integers(5, 12))
    for k in range(count):
        room.panel(start + 2 * np.pi * k / count, rng.uniform(0.6, 1.25), 0.25, 0.05, strength * tint, 0.6)
    return room.image, None


_Maker = Callable[[np.random.Generator], _Drawn]
_TRAIN: dict[str, tuple[_Maker, float]] = {
    "workshop tubes": (_workshop_tubes, 2.0),
    "window": (_window, 1.6),
    "overcast": (_overcast, 1.2),
    "sun": (_sunny, 1.0),
    "warm bulb": (_warm_bulb, 0.9),
    "inspection lamp": (_led_lamp, 1.2),
    "phone flash": (_phone_flash, 1.8),
    "mixed": (_mixed, 1.2),
    "softbox": (_softbox, 1.4),
    "from behind": (_from_behind, 0.7),
    "in a shadow": (_in_shadow, 0.7),
}
_TEST: dict[str, tuple[_Maker, float]] = {
    "against the light": (_backlight, 1.0),
    "under a bonnet": (_under_bonnet, 1.0),
    "strip lamps": (_ring_of_lamps, 1.2),
}
LIGHT_KINDS: dict[Split, tuple[str, ...]] = {"train": tuple(_TRAIN), "test": tuple(_TEST)}


def draw_light(rng: np.random.Generator, split: Split, name: str | None = None) -> Light:
    """Draw a light.

    Parameters
    ----------
    rng
        Source of every choice.
    split
        ``train`` or ``test``; the two share no kind of light.
    name
        Force one kind of that split.

    Returns
    -------
    Light
    """
    makers = _TRAIN if split == "train" else _TEST
    if name is None:
        weights = np.array([weight for _, weight in makers.values()])
        name = str(rng.choice(list(makers), p=weights / weights.sum()))
    environment, lamp = makers[name][0](rng)
    environment = np.ascontiguousarray(np.clip(environment, 1e-4, 2000), np.float32)
    return _assembled(name, environment, lamp)


def _assembled(name: str, environment: Field, lamp: _Lamp | None) -> Light:
    irradiance = _irradiance_from_above(environment)
    if lamp is None:
        return Light(name, environment, False, np.zeros(3, np.float32), 10.0, 500.0, _unit_mean(irradiance))
    lamp_irradiance = lamp.share * irradiance.mean() * lamp.colour
    solid_angle = np.pi * (lamp.radius_mm / lamp.distance_mm) ** 2
    # the lamp strikes at an angle on average, hence the 0.7
    illuminant = _unit_mean(irradiance + 0.7 * lamp_irradiance)
    radiance = (lamp_irradiance / solid_angle).astype(np.float32)
    return Light(
        name,
        environment,
        lamp.flash,
        radiance,
        lamp.radius_mm,
        lamp.distance_mm,
        illuminant,
        behind=lamp.behind,
        shaded=lamp.shaded,
    )


def _irradiance_from_above(environment: Field) -> Field:
    """Mean over directions, the upper half counting most: about what a surface looking half up receives."""
    elevation, _ = _directions()
    weight = np.cos(elevation) * np.maximum(0.45 + 0.55 * np.sin(elevation), 0)
    step = (np.pi / HEIGHT) * (2 * np.pi / WIDTH)
    return np.asarray((environment * weight[..., None]).sum((0, 1)) * np.float32(step))


def _unit_mean(colour: Field) -> Field:
    return np.asarray((colour / colour.mean()).astype(np.float32))
