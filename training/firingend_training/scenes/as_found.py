"""How a picture is met with after it was taken: on a screen that somebody kept a picture of, or pressed into a square.

Everything on a screen is drawn plainly, blocks, strips and dots: no program's look, no text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from firingend.labels import PARTS
from firingend_training.scenes.camera import jpeg
from firingend_training.truth import PlugTruth, parts_of

Image8 = NDArray[np.uint8]
Colour = tuple[int, int, int]
Box = tuple[float, float, float, float]

SCREENSHOTS = 0.04
"""Share of the pictures of every kind that are shown on a screen."""
SQUEEZED = 0.06
"""Share of the close pictures that are pressed into a square."""
_LONGEST_SCREEN = 1600
_SQUARE = 224
"""Side of the squares that pictures on the web are often pressed into."""


@dataclass(frozen=True, slots=True)
class Placing:
    """Where a picture's points come to lie: (x, y) px at ``scale`` · (x, y) + ``offset`` of a new picture.

    Attributes
    ----------
    scale
        Factors of x and y.
    offset
        px right and down.
    size
        Width and height of the new picture, px.
    """

    scale: tuple[float, float]
    offset: tuple[float, float]
    size: tuple[int, int]

    @property
    def mean_scale(self) -> float:
        """Side of the square that a square of side 1 becomes as large as."""
        return float(np.sqrt(self.scale[0] * self.scale[1]))

    def mask(self, mask: Image8) -> Image8:
        """The part mask (h, w) of the new picture; 0 where the old one does not reach."""
        width, height = self.size
        column = np.floor((np.arange(width) + 0.5 - self.offset[0]) / self.scale[0]).astype(int)
        row = np.floor((np.arange(height) + 0.5 - self.offset[1]) / self.scale[1]).astype(int)
        inside = ((row >= 0) & (row < mask.shape[0]))[:, None] & ((column >= 0) & (column < mask.shape[1]))
        picked = mask[np.clip(row, 0, mask.shape[0] - 1)][:, np.clip(column, 0, mask.shape[1] - 1)]
        return np.where(inside, picked, np.uint8(0))

    def box(self, box: Box) -> Box:
        """The box in the new picture, as much of it as lies there."""
        low = np.array(box[:2]) * self.scale + self.offset
        high = np.array(box[2:]) * self.scale + self.offset
        (x0, y0), (x1, y1) = (np.clip(corner, 0, self.size) for corner in (low, high))
        return round(float(x0), 2), round(float(y0), 2), round(float(x1), 2), round(float(y1), 2)

    def plug(self, plug: PlugTruth, mask: Image8, index: int) -> PlugTruth:
        """The truth of the plug at ``index`` of the new picture, whose mask is ``mask``."""
        x, y = plug.axis[0] * self.scale[0], plug.axis[1] * self.scale[1]
        # its length tells the angle it was seen at, and that stays
        keep = np.hypot(*plug.axis) / max(np.hypot(x, y), 1e-9)
        return replace(
            plug,
            box=self.box(plug.box),
            axis=(round(float(x * keep), 4), round(float(y * keep), 4)),
            nose_pixels=int((parts_of(mask, index) == PARTS.index("nose")).sum()),
        )

    def camera(self, camera: dict[str, Any], height: int) -> dict[str, Any]:
        """What the camera did to a picture of this height, in pixels of the new picture."""
        blur = {name: round(camera[name] * self.mean_scale, 4) for name in ("defocus", "motion")}
        shrunk = camera["shrink_to"] * self.size[1] / (height * self.mean_scale)
        return {**camera, **blur, "shrink_to": round(shrunk)}


@dataclass(frozen=True, slots=True)
class Found:
    """A picture as it was found.

    Attributes
    ----------
    name
        ``screenshot`` or ``squeezed``.
    picture
        uint8 (h, w, 3) sRGB.
    jpeg_quality
        Of its last compression, to write it with.
    placing
        Where the points of the picture taken lie in it.
    """

    name: str
    picture: Image8
    jpeg_quality: int
    placing: Placing


def as_found(picture: Image8, boxes: Sequence[Box], kind: str, rng: np.random.Generator) -> Found | None:
    """Draw whether and how a picture is met with otherwise than it was taken.

    Parameters
    ----------
    picture
        uint8 (h, w, 3) sRGB.
    boxes
        Firing ends in it, px; none of them is cut.
    kind
        Of the scene; only ``close`` and ``held`` pictures are pressed into a square.
    rng
        Source of every choice.

    Returns
    -------
    None where it stays as it was taken.
    """
    chance = rng.random()
    if chance < SCREENSHOTS:
        return screenshot(picture, rng)
    if chance < SCREENSHOTS + SQUEEZED and kind in ("close", "held"):
        return squeezed(picture, boxes, rng)
    return None


# --------------------------------------------------------------------------------------------- squeezed


def squeezed(picture: Image8, boxes: Sequence[Box], rng: np.random.Generator) -> Found | None:
    """Cut upright or lengthwise, then pressed into a square; None where such a cut would go through a firing end."""
    height, width = picture.shape[:2]
    size = np.array([width, height])
    axis = int(rng.integers(2))
    length = round(float(size[axis] * rng.choice([rng.uniform(0.72, 0.8), 0.75, 2 / 3, 0.5625])))
    room = 2.0  # px left round a firing end
    low = min((box[axis] for box in boxes), default=float(size[axis])) - room
    high = max((box[axis + 2] for box in boxes), default=0.0) + room
    first, last = int(max(0, np.ceil(high - length))), int(min(size[axis] - length, np.floor(low)))
    if first > last:
        return None
    start = np.zeros(2, int)
    start[axis] = int(rng.integers(first, last + 1))
    kept = size.copy()
    kept[axis] = length
    side = min(_SQUARE, *size)
    cut = picture[start[1] : start[1] + kept[1], start[0] : start[0] + kept[0]]
    done = cv2.resize(cut, (side, side), interpolation=cv2.INTER_AREA)
    scale = (side / float(kept[0]), side / float(kept[1]))
    offset = (-float(start[0]) * scale[0], -float(start[1]) * scale[1])
    return Found("squeezed", done.astype(np.uint8), int(rng.uniform(55, 95)), Placing(scale, offset, (side, side)))


# --------------------------------------------------------------------------------------------- screenshots


def screenshot(picture: Image8, rng: np.random.Generator) -> Found:
    """The whole picture on a telephone held upright or lying, or on a page, kept as a picture of the screen."""
    height, width = picture.shape[:2]
    style = rng.choice(["upright", "lying", "page"], p=[0.45, 0.15, 0.4])
    long = float(rng.uniform(1.7, 2.2))
    shrink = float(rng.uniform(0.55, 1.0))
    if style == "lying":
        shrink *= min(1.0, _LONGEST_SCREEN / (height * shrink * long))
        shown = (round(width * shrink), round(height * shrink))
        screen = (max(round(shown[1] * long), shown[0] + 4), shown[1])
        spare = screen[0] - shown[0]
        corner = (round(spare * float(np.clip(rng.normal(0.5, 0.1), 0, 1))), 0)
    else:
        margin = 0.0 if style == "upright" or rng.random() < 0.3 else float(rng.uniform(0.02, 0.12))
        long = max(long, 1.25 * height / width) if style == "upright" else float(rng.uniform(1.2, 2.0))
        shrink *= min(1.0, _LONGEST_SCREEN / (width * shrink * (1 + 2 * margin) * long))
        shown = (round(width * shrink), round(height * shrink))
        across = round(shown[0] * (1 + 2 * margin))
        screen = (across, max(round(across * long), round(shown[1] * 1.25)))
        spare = screen[1] - shown[1]
        corner = ((across - shown[0]) // 2, round(spare * float(np.clip(rng.normal(0.5, 0.12), 0.1, 0.9))))
    canvas = _Screen(screen, rng)
    canvas.show(cv2.resize(picture, shown, interpolation=cv2.INTER_AREA).astype(np.uint8), corner)
    free = canvas.bars(shown, corner)
    canvas.fill(free, full_of_text=style == "page")
    scale = (shown[0] / width, shown[1] / height)
    done = canvas.image
    if rng.random() < 0.35:  # passed on once more
        done = jpeg(done, int(rng.uniform(40, 85)), True)
    quality = int(rng.uniform(88, 98)) if rng.random() < 0.6 else int(rng.uniform(45, 88))
    return Found("screenshot", done, quality, Placing(scale, (float(corner[0]), float(corner[1])), screen))


class _Screen:
    """A screen being filled: one plain ground, ink that stands out from it, one bright colour."""

    def __init__(self, size: tuple[int, int], rng: np.random.Generator) -> None:
        self.rng = rng
        dark = rng.random() < 0.55
        level = rng.choice([rng.uniform(0, 6), rng.uniform(10, 45)]) if dark else rng.uniform(225, 255)
        ground = np.clip(level + rng.normal(0, 2.0, 3), 0, 255)
        self.ink = _colour(np.full(3, rng.uniform(150, 245) if dark else rng.uniform(20, 110)))
        self.faint = _colour(ground + (1 if dark else -1) * rng.uniform(12, 40))
        hue = np.array([[[rng.uniform(0, 180), rng.uniform(90, 230), rng.uniform(110, 235)]]], np.uint8)
        self.bright = _colour(cv2.cvtColor(hue, cv2.COLOR_HSV2RGB)[0, 0].astype(float))
        self.image: Image8 = np.empty((size[1], size[0], 3), np.uint8)
        self.image[:] = _colour(ground)
        self.unit = max(2.0, min(size) / 40)
        """Half a line's height, px."""

    def show(self, picture: Image8, corner: tuple[int, int]) -> None:
        """Put a picture with its upper left corner there."""
        (x, y), (height, width) = corner, picture.shape[:2]
        self.image[y : y + height, x : x + width] = picture

    def bars(self, shown: tuple[int, int], corner: tuple[int, int]) -> list[tuple[int, int, int, int]]:
        """What the picture leaves free: (x0, y0, x1, y1) px above and below it, or at its sides."""
        height, width = self.image.shape[:2]
        if shown[1] == height:
            return [(0, 0, corner[0], height), (corner[0] + shown[0], 0, width, height)]
        return [(0, 0, width, corner[1]), (0, corner[1] + shown[1], width, height)]

    def fill(self, bars: list[tuple[int, int, int, int]], full_of_text: bool) -> None:
        """Draw what a screen has round a picture: a status line, buttons, perhaps lines that stand for text."""
        lying = bars[0][3] == self.image.shape[0]
        for index, (x0, y0, x1, y1) in enumerate(bars):
            if min(x1 - x0, y1 - y0) < 3 * self.unit:
                continue
            if lying:
                self._buttons(x0, y0, x1, y1, upright=True)
                continue
            if index == 0:
                y0 = self._status(x0, y0, x1, y1)
            elif self.rng.random() < 0.75:
                below = y1
                y1 -= round(self.unit * self.rng.uniform(4, 7))
                if y1 > y0:
                    self._buttons(x0, y1, x1, below)
            if full_of_text:
                self._lines(x0, y0, x1, y1)
            elif self.rng.random() < 0.4 and y1 - y0 > 4 * self.unit:
                self._buttons(x0, y0, x1, min(y1, y0 + round(6 * self.unit)))

    def _status(self, x0: int, y0: int, x1: int, y1: int) -> int:
        """A strip of small blocks and dots along the top; returns where it ends."""
        rng, unit = self.rng, self.unit
        low = min(y1, y0 + round(unit * rng.uniform(2, 3)))
        if rng.random() < 0.4:
            cv2.rectangle(self.image, (x0, y0), (x1 - 1, low - 1), self.faint, -1)
        middle = (y0 + low) // 2
        half = max(1, round(unit * 0.4))
        self._block(x0 + unit, middle - half, unit * rng.uniform(2, 4), 2 * half, self.ink)
        right = x1 - unit
        for _ in range(int(rng.integers(1, 5))):
            wide = unit * rng.uniform(0.6, 1.6)
            right -= wide + 0.6 * unit
            if rng.random() < 0.4:
                self._dot(right, middle, half, self.ink)
            else:
                self._block(right, middle - half, wide, 2 * half, self.ink)
        return low

    def _buttons(self, x0: int, y0: int, x1: int, y1: int, upright: bool = False) -> None:
        """Dots or blocks in a line across a bar (down it where ``upright``), all alike but perhaps one."""
        rng = self.rng
        if rng.random() < 0.5:
            cv2.rectangle(self.image, (x0, y0), (x1 - 1, y1 - 1), self.faint, -1)
        count, marked = int(rng.integers(2, 6)), int(rng.integers(0, 9))
        radius = min(0.9 * self.unit, 0.3 * min(x1 - x0, y1 - y0))
        wide = radius * float(rng.choice([1.0, 1.0, 2.0, 3.0]))
        dots = rng.random() < 0.5
        for index in range(count):
            share = (index + 0.5) / count
            x, y = (x0 + x1) / 2, (y0 + y1) / 2
            x, y = (x, y0 + share * (y1 - y0)) if upright else (x0 + share * (x1 - x0), y)
            colour = self.bright if index == marked else self.ink
            if dots:
                self._dot(x, y, radius, colour)
            else:
                self._block(x - wide / 2, y - radius / 2, wide, radius, colour)

    def _lines(self, x0: int, y0: int, x1: int, y1: int) -> None:
        """Lines of blocks that stand for words; here and there a face as a dot, a rule, a button."""
        rng, unit = self.rng, self.unit
        step = unit * rng.uniform(1.5, 2.4)
        y = y0 + step
        while y + step < y1:
            kind = rng.choice(["line", "face", "rule", "button", "nothing"], p=[0.68, 0.09, 0.06, 0.07, 0.1])
            if kind == "line":
                self._words(x0 + unit, y, x0 + (x1 - x0) * rng.uniform(0.4, 0.97), 0.8 * unit)
            elif kind == "rule":
                cv2.line(self.image, (x0, round(y)), (x1 - 1, round(y)), self.faint, 1)
            elif kind == "button":
                self._block(x0 + unit, y, unit * rng.uniform(5, 12), 1.1 * step, self.bright)
                y += 0.6 * step
            elif kind == "face" and y + 2 * step < y1:
                self._dot(x0 + 2.2 * unit, y + 0.8 * step, 1.4 * unit, self.bright)
                self._words(x0 + 5 * unit, y + 0.3 * step, x0 + (x1 - x0) * rng.uniform(0.3, 0.6), 0.8 * unit)
                y += step
            y += step

    def _words(self, x: float, y: float, end: float, tall: float) -> None:
        while x < end:
            wide = self.unit * self.rng.uniform(0.7, 4)
            self._block(x, y, min(wide, max(end - x, 1)), tall, self.ink)
            x += wide + 0.6 * self.unit

    def _block(self, x: float, y: float, wide: float, tall: float, colour: Colour) -> None:
        high = (round(x + max(wide, 1)) - 1, round(y + max(tall, 1)) - 1)
        cv2.rectangle(self.image, (round(x), round(y)), high, colour, -1)

    def _dot(self, x: float, y: float, radius: float, colour: Colour) -> None:
        cv2.circle(self.image, (round(x), round(y)), max(1, round(radius)), colour, -1, cv2.LINE_AA)


def _colour(value: NDArray[np.floating]) -> Colour:
    red, green, blue = (int(v) for v in np.clip(value, 0, 255))
    return red, green, blue
