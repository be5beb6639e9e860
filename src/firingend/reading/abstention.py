"""When a reading is refused, and how that is said to whoever holds the plug."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firingend.labels import FACTS, PARTS
from firingend.photo.picture import Quality
from firingend.photo.quality import BLOWN_OUT, BRIGHT, OUT_OF_FOCUS, STRONG_CAST, TOO_DARK
from firingend.reading.networks import SmallEnds, Thresholds
from firingend.reading.reading import FiringEnd, Reading, Reason, longer_side

IN_WORDS: Final[Mapping[str, str]] = {
    "lean-white": "lean (white)",
    "normal-tan": "normal (tan)",
    "rich-carbon": "rich (sooty)",
    "oil-fouled": "oil-fouled",
    "wet": "wet with fuel",
}

NOT_A_PLUG: Final = "not-a-plug"
"""Code of the reason not to read what is no firing end."""

NO_FIRING_END: Final = Reason(
    "no-firing-end",
    "no firing end was found in this photograph",
    "photograph the end that carries the strap from close by, sharp, in good light and whole in the frame",
)

_MAX_CLIPPED_PLUG: Final = 0.5  # share of the plug's own pixels; a white nose alone stays far below
_PLAINLY: Final = 0.6  # of one ceramic by colour, from which it is worth saying; common practice, no source
_MIN_PLUG: Final = 0.05  # share of a crop that must be plug before the mask is believed

_PICTURE: Final[Mapping[str, Reason]] = {
    OUT_OF_FOCUS: Reason(
        "out-of-focus",
        "the firing end is out of focus",
        "hold the camera still a hand's breadth away, tap the nose on the screen to focus, and take it again",
    ),
    TOO_DARK: Reason(
        "too-dark",
        "the photograph is too dark to tell soot from shadow",
        "turn the plug towards a window or a white lamp and take it again",
    ),
    BLOWN_OUT: Reason(
        "blown-out",
        "the photograph is so bright that colours are lost",
        "switch the flash off or move out of direct sun, and take it again",
    ),
    STRONG_CAST: Reason(
        "strong-colour-cast",
        "coloured light tints the whole photograph, which makes white look tan or tan look white",
        "use daylight or a white lamp, lay something white or grey beside the plug, and take it again",
    ),
}


def no_end_reasons(quality: Quality, left_out: Sequence[Reading] = ()) -> tuple[Reason, ...]:
    """Why a photograph gave nothing: no firing end, and whatever is wrong with the photograph itself.

    Parameters
    ----------
    quality
        Of the photograph.
    left_out
        What was found but taken for no firing end: where the first of these is said to be no plug, that is said of
        the photograph.
    """
    said = [reason for reading in left_out[:1] for reason in reading.reasons if reason.code == NOT_A_PLUG]
    return (*(said or [NO_FIRING_END]), *(_PICTURE[flag] for flag in quality.flags))


def doubts_of_crop(
    crop: NDArray[np.uint8],
    parts: NDArray[np.int_],
    crop_quality: Quality,
    photo_quality: Quality,
    thresholds: Thresholds,
) -> tuple[Reason, ...]:
    """What is wrong with the picture of one firing end.

    Parameters
    ----------
    crop
        (S, S, 3) uint8.
    parts
        (S/4, S/4), for each cell the place in `labels.PARTS` of what it shows: exposure is judged on the plug, not on
        the paper under it.
    crop_quality, photo_quality
        Measures of the crop and of the whole photograph; a colour cast is judged on the whole, where a tan nose
        does not fill the frame.
    thresholds
        The reader's own.
    """
    codes = []
    if crop_quality.focus < thresholds.min_focus:
        codes.append(OUT_OF_FOCUS)
    if TOO_DARK in crop_quality.flags:
        codes.append(TOO_DARK)
    if clipped_plug(crop, parts) > _MAX_CLIPPED_PLUG:
        codes.append(BLOWN_OUT)
    if STRONG_CAST in photo_quality.flags:
        codes.append(STRONG_CAST)
    return tuple(_PICTURE[code] for code in codes)


def clipped_plug(crop: NDArray[np.uint8], parts: NDArray[np.int_]) -> float:
    """Share of the plug's pixels with a channel clipped bright; of the whole crop where no plug is made out."""
    plug = parts != PARTS.index("background")
    red, green, blue = np.moveaxis(crop >= BRIGHT, -1, 0)
    bright = red | green | blue
    if plug.mean() < _MIN_PLUG:
        return float(bright.mean())
    times = crop.shape[0] // plug.shape[0], crop.shape[1] // plug.shape[1]
    on_plug = plug.repeat(times[0], axis=0).repeat(times[1], axis=1)
    return np.count_nonzero(bright[: on_plug.shape[0], : on_plug.shape[1]] & on_plug) / np.count_nonzero(on_plug)


def too_small(end: FiringEnd, probability: float, thresholds: Thresholds) -> tuple[Reason, ...]:
    """The reason for a firing end with too few pixels, or nothing; ``probability`` is that of the likeliest label."""
    side = longer_side(end.box)
    if side >= thresholds.min_box_px or _plain_though_small(side, probability, thresholds.small):
        return ()
    return (
        Reason(
            "too-small",
            # Rounded down: "only 80 pixels across, 80 are needed" would help nobody.
            f"the firing end is only {int(side)} pixels across, {thresholds.min_box_px:.0f} are needed",
            "move nearer, or send the photograph at full size instead of through a messenger",
        ),
    )


def doubtful_find(end: FiringEnd, not_a_plug: float, thresholds: Thresholds) -> tuple[Reason, ...]:
    """The reason for a find that the finder is hardly sure of, or nothing; none for what is said to be no plug."""
    if end.score >= thresholds.find_score or not_a_plug >= thresholds.not_a_plug:
        return ()
    return (
        Reason(
            "doubtful-find",
            f"not sure that this is a firing end ({end.score:.0%})",
            "photograph the end that carries the strap from nearer by, with nothing else like it in the frame",
        ),
    )


def _plain_though_small(side: float, probability: float, small: SmallEnds | None) -> bool:
    if small is None:
        return False
    return side >= small.least_box_px and probability >= small.label


def status_reasons(unused: float, not_a_plug: float, thresholds: Thresholds) -> tuple[Reason, ...]:
    """Reasons not to read what was found: it never ran, or it is no firing end."""
    if not_a_plug >= thresholds.not_a_plug:
        return (
            Reason(
                NOT_A_PLUG,
                f"this does not look like a firing end ({not_a_plug:.0%} sure)",
                "photograph the end of the plug that carries the strap",
            ),
        )
    if unused >= thresholds.unused:
        return (_never_run(unused),)
    return ()


def _never_run(unused: float) -> Reason:
    if unused < 0.5:
        return Reason(
            "unused",
            f"this plug may never have run ({unused:.0%} likely): a new plug is white and clean, not lean",
            "if it has run, photograph it from another side in even light; if not, run the engine under load first",
        )
    return Reason(
        "unused",
        f"this plug looks unused ({unused:.0%} sure): a new plug is white and clean, not lean",
        "run the engine under load with these plugs, switch it off clean, and photograph them then",
    )


def unsure(
    probabilities: Mapping[str, float], thresholds: Thresholds, by_colour: Mapping[str, float] | None = None
) -> tuple[Reason, ...]:
    """The reason when no label is probable enough, naming the two that compete.

    ``by_colour``: probabilities of what the ceramic carries by the nose's colour alone; said where they plainly
    contradict the likeliest label, for whoever holds the plug can look again at just that.
    """
    (first, p_first), (second, p_second) = sorted(probabilities.items(), key=lambda item: -item[1])[:2]
    if p_first >= thresholds.label:
        return ()
    return (
        Reason(
            "unsure",
            f"not sure between {IN_WORDS[first]}, {p_first:.0%}, and {IN_WORDS[second]}, {p_second:.0%}"
            + _contradiction(FACTS[first][0], by_colour or {}),
            "take another photograph from another side in even light, or wipe a corner with a finger: "
            "soot wipes off, oil smears, fuel dries within minutes",
        ),
    )


def _contradiction(carries: str, by_colour: Mapping[str, float]) -> str:
    likeliest = max(by_colour, key=lambda ceramic: by_colour[ceramic], default=carries)
    if not carries or likeliest == carries or by_colour[likeliest] < _PLAINLY:
        return ""
    return f"; by its measured colour alone the nose is {likeliest}, {by_colour[likeliest]:.0%}"
