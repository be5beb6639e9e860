"""How a set is read when its photographs are spoilt, step by step."""

from __future__ import annotations

import tempfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image

from firingend.errors import PhotoError
from firingend.evaluation import metrics
from firingend.evaluation.answer_codes import codes, first_guesses
from firingend.evaluation.corruptions import KINDS, SEVERITIES, Pixels, corrupt
from firingend.evaluation.judging import Answer, Judged, judge
from firingend.evaluation.photo_set import PhotoSet, TruePicture
from firingend.evaluation.run import WORKERS, Progress, ReadPhoto, in_threads
from firingend.labels import LABELS
from firingend.photo.load import load_picture
from firingend.photo.picture import as_image
from firingend.reading.reading import Box

LIMIT: Final = 150
"""Photographs taken from a larger set: each is read 36 times."""

_LONG_SIDE: Final = 1600  # larger photographs are reduced first; spoiling twelve megapixels 35 times is wasted work
_KEPT_QUALITY: Final = 97  # of the file the spoilt picture is handed over in


@dataclass(frozen=True, slots=True)
class Spoilt:
    """How plugs with one of the five labels were read at one severity.

    Attributes
    ----------
    kind
        One of ``corruptions.KINDS``, or ``none`` for the same photographs unspoilt.
    severity
        1 to 5; 0 for unspoilt.
    plugs
        Behind each number.
    balanced_accuracy
        Refused and missed plugs count as wrong.
    balanced_accuracy_answered
        Of the plugs that were given a label; NaN without any.
    balanced_accuracy_first_guess
        Likeliest label, given out or not; missed plugs count as wrong.
    refused
        Share without a label.
    """

    kind: str
    severity: int
    plugs: int
    balanced_accuracy: float
    balanced_accuracy_answered: float
    balanced_accuracy_first_guess: float
    refused: float


def try_spoilt(
    photo_set: PhotoSet,
    read: ReadPhoto,
    *,
    limit: int = LIMIT,
    seed: int = 0,
    workers: int = WORKERS,
    progress: Progress | None = None,
) -> tuple[Spoilt, ...]:
    """Read photographs unspoilt and spoilt every way.

    Parameters
    ----------
    limit
        Most photographs to use; drawn evenly over the labels.
    seed
        Of the draw and of the spoiling.

    Returns
    -------
    The unspoilt line first, then every kind with its severities in order.
    """
    chosen = draw(photo_set.pictures, limit, seed)
    steps = [("none", 0), *((kind, severity) for kind in KINDS for severity in SEVERITIES)]
    answers: dict[tuple[str, int], list[Answer]] = {step: [] for step in steps}
    with tempfile.TemporaryDirectory(prefix="firingend-") as folder:
        work = partial(_read_spoilt, read=read, folder=Path(folder), seed=seed)
        for done, of_picture in enumerate(in_threads(work, chosen, workers), 1):
            for step, judged in of_picture.items():
                answers[step] += [a for a in judged.answers if a.readable and a.truth in LABELS]
            if progress:
                progress(done, len(chosen))
    return tuple(_line(kind, severity, answers[kind, severity]) for kind, severity in steps)


def by_severity(lines: Sequence[Spoilt], measure: str = "balanced_accuracy") -> dict[int, float]:
    """Mean of a measure over the kinds at each severity, 0 (unspoilt) to 5."""
    return {
        severity: float(np.mean([getattr(line, measure) for line in lines if line.severity == severity]))
        for severity in (0, *SEVERITIES)
    }


def draw(pictures: Sequence[TruePicture], limit: int, seed: int) -> list[TruePicture]:
    """At most ``limit`` pictures with a labelled plug, evenly over the labels of their first plug, in set order."""
    by_label: dict[str, list[int]] = {}
    for i, picture in enumerate(pictures):
        labelled = [plug.label for plug in picture.plugs if plug.readable and plug.label in LABELS]
        if labelled:
            by_label.setdefault(labelled[0], []).append(i)
    rng = np.random.default_rng(seed)
    shuffled = [list(rng.permutation(by_label[label])) for label in sorted(by_label)]
    in_turn = [row[k] for k in range(max(map(len, shuffled), default=0)) for row in shuffled if k < len(row)]
    return [pictures[i] for i in sorted(in_turn[:limit])]


def _read_spoilt(truth: TruePicture, *, read: ReadPhoto, folder: Path, seed: int) -> Mapping[tuple[str, int], Judged]:
    try:
        pixels, scale = _reduced(truth.file)
    except PhotoError:
        return {}  # the plain run counts and names it
    found = {}
    name = zlib.crc32(str(truth.file).encode())
    found["none", 0] = _judged(pixels, _scaled(truth, (scale, scale)), read, folder / f"{name:08x}.jpg")
    for kind in KINDS:
        for severity in SEVERITIES:
            spoilt = corrupt(pixels, kind, severity, seed + zlib.crc32(f"{kind} {truth.file.name}".encode()))
            factors = scale * spoilt.shape[1] / pixels.shape[1], scale * spoilt.shape[0] / pixels.shape[0]
            file = folder / f"{name:08x}-{KINDS.index(kind)}-{severity}.jpg"
            found[kind, severity] = _judged(spoilt, _scaled(truth, factors), read, file)
    return found


def _reduced(file: Path) -> tuple[Pixels, float]:
    picture = load_picture(file, min_side=_LONG_SIDE)
    image = as_image(picture.decoded)
    factor = _LONG_SIDE / max(image.size)
    if factor < 1:
        size = (round(image.width * factor), round(image.height * factor))
        image = image.resize(size, Image.Resampling.LANCZOS)
    return np.asarray(image), image.width / picture.full_width


def _scaled(truth: TruePicture, factors: tuple[float, float]) -> TruePicture:
    fx, fy = factors

    def moved(box: Box | None) -> Box | None:
        return (box[0] * fx, box[1] * fy, box[2] * fx, box[3] * fy) if box else None

    return replace(truth, plugs=tuple(replace(plug, box=moved(plug.box)) for plug in truth.plugs))


def _judged(pixels: Pixels, truth: TruePicture, read: ReadPhoto, file: Path) -> Judged:
    """Read a spoilt picture the way the user's files are read: from a file."""
    Image.fromarray(pixels).save(file, "JPEG", quality=_KEPT_QUALITY, subsampling=0)
    try:
        return judge(truth, read(file))
    finally:
        file.unlink()


def _line(kind: str, severity: int, answers: Sequence[Answer]) -> Spoilt:
    truth, said = codes(answers)
    table = metrics.confusion(truth, said)
    return Spoilt(
        kind=kind,
        severity=severity,
        plugs=len(answers),
        balanced_accuracy=float(metrics.balanced_accuracy(table)),
        balanced_accuracy_answered=float(metrics.balanced_accuracy(metrics.answered(table))),
        balanced_accuracy_first_guess=float(
            metrics.balanced_accuracy(metrics.confusion(truth, first_guesses(answers)))
        ),
        refused=float(metrics.refused_share(table)),
    )
