"""The worst mistakes of an evaluation, each with a picture of what was read."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from PIL import Image

from firingend.errors import PhotoError
from firingend.evaluation.judging import NOT_FOUND, Answer, Judged
from firingend.evaluation.photo_set import ASH, COOLANT_CLEAN
from firingend.photo.load import load_picture
from firingend.reading.crop import upright_crop

MOST: Final = 36
_SIDE: Final = 176
_MARGIN: Final = 1.4
_DECODED_SIDE: Final = 1600
_QUALITY: Final = 82


@dataclass(frozen=True, slots=True)
class Mistake:
    """One answer that was wrong.

    Attributes
    ----------
    file
        Name of the photograph.
    truth, said
        As in `judging.Answer`.
    confidence
        Probability of what was said, 0..1.
    picture
        ``data:`` address of a JPEG of the firing end, or of the whole photograph where nothing was found; empty
        when the file cannot be read.
    """

    file: str
    truth: str
    said: str
    confidence: float
    picture: str


def worst(judged: Iterable[Judged], most: int = MOST) -> list[Mistake]:
    """Wrong labels, the most confident first, then plugs that were missed."""
    wrong = [a for photo in judged for a in photo.answers if a.readable and is_wrong(a)]
    wrong.sort(key=lambda a: (a.said == NOT_FOUND, -_certainty(a)))
    return [_mistake(answer) for answer in wrong[:most]]


def is_wrong(answer: Answer) -> bool:
    """Whether a label was given that is not the true one, or a plug was missed; a refusal is not a mistake."""
    if answer.truth in (ASH, COOLANT_CLEAN) and answer.answered:
        return answer.said == "lean-white"  # under the crust may be any of the other labels
    return answer.said == NOT_FOUND or (answer.answered and answer.said != answer.truth)


def _certainty(answer: Answer) -> float:
    return answer.reading.probabilities.get(answer.said, 0.0) if answer.reading else 0.0


def _mistake(answer: Answer) -> Mistake:
    return Mistake(answer.file.name, answer.truth, answer.said, _certainty(answer), _picture(answer))


def _picture(answer: Answer) -> str:
    try:
        picture = load_picture(answer.file, min_side=_DECODED_SIDE)
    except PhotoError:
        return ""
    whole = (0.0, 0.0, float(picture.full_width), float(picture.full_height))
    end = answer.reading.firing_end if answer.reading else None
    x0, y0, x1, y1 = (side * picture.scale for side in (end.box if end else answer.box or whole))
    margin = _MARGIN if end or answer.box else 1.0
    crop = upright_crop(picture.decoded, (x0, y0, x1, y1), end.axis if end else (0.0, 0.0), _SIDE, margin)
    return data_address(crop)


def data_address(pixels: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> str:
    """A picture as text that a page can hold; a fresh JPEG, so nothing of the camera's notes goes along."""
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG", quality=_QUALITY)
    return f"data:image/jpeg;base64,{base64.b64encode(stream.getvalue()).decode('ascii')}"
