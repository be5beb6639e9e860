"""The colour of a part of a plug, after the colour of the light has been taken out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firingend.photo.colour import LINEAR_OF_BYTE, ciede2000, linear_to_lab
from firingend.photo.neutral import gains_for_light, gains_for_patch
from firingend.photo.quality import BRIGHT, angle_to_neutral, illuminant, most_neutral_light, shrink
from firingend.reading.reading import Lab, Reading, Zone

FROM_PICTURE: Final = "estimated from the picture"
FROM_PATCH: Final = "grey patch"

_PATCH_SURE: Final = 0.95
# Share of 1,000 rendered pictures whose light lay within 3 degrees of the estimate, by how far off the brightest things
# of the picture are (degrees); a third of them with 30 % of the light's colour left in. Where the estimate itself finds
# much colour, it was wrong more often: by a factor that falls with its angle to neutral.
_APART_DEGREES: Final = (0.0, 2.0, 4.0, 8.0, 15.0)
_WITHIN_3_DEGREES: Final = (0.93, 0.86, 0.78, 0.6, 0.53)
_COLOURED_DEGREES: Final = (2.0, 8.0)
_COLOURED_SURE: Final = (1.0, 0.2)
_SMALL_SIDE: Final = 64


@dataclass(frozen=True, slots=True)
class Neutral:
    """What was taken for neutral: channel gains (3,) in linear light, where from, and how sure in 0..1."""

    gains: NDArray[np.float64]
    source: str
    sure: float


def estimated_neutral(pixels: NDArray[np.uint8]) -> Neutral:
    """The neutral of a photograph with no known grey in it, from the most nearly neutral things in it.

    Of 500 rendered pictures, balanced as telephones do and not quite, half are then within 1.5 degrees of the light and
    nine in ten within 4.1; with the camera's own balance left alone 1.7 and 3.8, with the Minkowski mean (p = 6) 3.4
    and 13. With 30 % of the light's colour left in: 2.4 and 8.0, 3.2 and 10, 3.4 and 13.

    Parameters
    ----------
    pixels
        (height, width, 3) uint8 sRGB.
    """
    stride = max(1, max(pixels.shape[:2]) // (2 * _SMALL_SIDE))
    small = shrink(np.ascontiguousarray(pixels[::stride, ::stride]), _SMALL_SIDE)
    light = most_neutral_light(small)
    apart = float(np.degrees(np.arccos(min(1.0, float(light @ illuminant(small))))))
    sure = np.interp(apart, _APART_DEGREES, _WITHIN_3_DEGREES)
    sure *= np.interp(angle_to_neutral(light), _COLOURED_DEGREES, _COLOURED_SURE)
    return Neutral(gains_for_light(light), FROM_PICTURE, float(sure))


def patch_neutral(pixels: NDArray[np.uint8], box: tuple[int, int, int, int]) -> Neutral:
    """The neutral from a grey thing that somebody marked; see `photo.neutral.gains_for_patch`."""
    return Neutral(gains_for_patch(pixels, box), FROM_PATCH, _PATCH_SURE)


def zone_labs(under: NDArray[np.uint8], masks: Sequence[NDArray[np.bool_]], neutral: Neutral) -> tuple[Lab | None, ...]:
    """Median colour of the pixels under each mask as CIELAB (D65); glints are left out.

    Channel medians are balanced, not every pixel: balance keeps the order within a channel, so it is the same.

    Parameters
    ----------
    under
        (M, M, 3) uint8 sRGB, a pixel for each cell of the masks.
    masks
        (M, M) each.

    Returns
    -------
    L*, a*, b* of each; None where every pixel is clipped.
    """
    channels = under.transpose(2, 0, 1)
    unclipped = (channels[0] < BRIGHT) & (channels[1] < BRIGHT) & (channels[2] < BRIGHT)
    medians = [_median(channels[:, mask & unclipped]) for mask in masks]
    known = np.array([(0, 0, 0) if median is None else median for median in medians], np.uint8).reshape(-1, 3)
    labs = linear_to_lab(np.minimum(LINEAR_OF_BYTE[known] * neutral.gains, 1.0)).tolist()
    return tuple(
        None if median is None else (lightness, a, b) for median, (lightness, a, b) in zip(medians, labs, strict=True)
    )


def _median(values: NDArray[np.uint8]) -> NDArray[np.uint8] | None:
    """Of each channel (3, n), rounded down; None where there is no pixel.

    Of a few hundred bytes, sorting them is a quarter of the time that numpy's median takes.
    """
    count = values.shape[1]
    if count == 0:
        return None
    ordered = np.sort(values, axis=1)
    lower, upper = ordered[:, (count - 1) // 2], ordered[:, count // 2]
    median: NDArray[np.uint8] = lower + (upper - lower) // 2
    return median


def part_lab(zones: Sequence[Zone], part: str = "nose") -> Lab | None:
    """Colour of a part; None where it was not seen or is hidden by glare."""
    return next((zone.lab for zone in zones if zone.part == part), None)


def zone_difference(readings: Sequence[Reading], part: str = "nose") -> tuple[float | None, ...]:
    """CIEDE2000 of each plug's part against the median colour of the other plugs' parts.

    Meant for plugs photographed in one light. None where the part was not seen, or on no other plug.
    """
    labs = [part_lab(reading.zones, part) for reading in readings]
    differences: list[float | None] = []
    for i, lab in enumerate(labs):
        others = [other for j, other in enumerate(labs) if j != i and other is not None]
        known = lab is not None and others
        differences.append(float(ciede2000(lab, np.median(others, axis=0))) if lab and known else None)
    return tuple(differences)
