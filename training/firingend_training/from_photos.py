"""Make a set to tune on from labelled photographs: ``python -m firingend_training.from_photos PHOTOS --out SET``.

``PHOTOS`` is what ``firingend evaluate`` takes: a folder with one folder per label, or a CSV file. The shipped finder
says where the firing ends are and which way they point; how far deposits climb, signs and outlines stay unknown, and
tuning passes over what it does not know. Photographs whose plugs cannot all be paired with what was found are left out:
an unlabelled plug in the picture would be taught as none.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from tqdm import tqdm

from firingend.errors import PhotoError, UserError
from firingend.evaluation.judging import Answer, judge
from firingend.evaluation.load_set import load_set
from firingend.evaluation.photo_set import NOT_A_PLUG, UNUSED
from firingend.evaluation.run import ReadPhoto, reader_of
from firingend.labels import FACTS, LABELS
from firingend.photo.load import load_unmeasured
from firingend_training.truth import PictureTruth, PlugTruth, write_truth

UNKNOWN_MASK: Final = 255


def from_photos(photos: Path, out: Path, read: ReadPhoto) -> Counter[str]:
    """Write a set in the format of ``truth.py`` and count what became of the photographs and plugs.

    Parameters
    ----------
    photos
        A folder with one folder per label, or a CSV file.
    out
        Folder of the new set.
    read
        Reads one photograph (`firingend.evaluation.run.reader_of`).

    Returns
    -------
    Counter
        ``photographs`` and the plugs of each label taken; photographs left out by reason.

    Raises
    ------
    UserError
        If ``out`` holds a set already, ``photos`` is a rendered set, or nothing could be taken.
    """
    photo_set = load_set(photos)
    if photo_set.kind == "rendered":
        raise UserError(f"{photos} is a set to tune on already", "name it as --set of tune_heads")
    if (out / "truth.jsonl").exists():
        raise UserError(f"{out} holds a set already", "name an empty folder as --out")
    for folder in ("pictures", "masks"):
        (out / folder).mkdir(parents=True, exist_ok=True)
    told: Counter[str] = Counter()
    groups: dict[str, int] = {}
    plugs = 0
    for number, picture in enumerate(tqdm(photo_set.pictures, desc="photographs")):
        try:
            answers = judge(picture, read(picture.file)).answers
            problem = _problem(answers)
            pixels = None if problem else load_unmeasured(picture.file).pixels
        except PhotoError:
            problem, pixels = "could not be read", None
        if pixels is None:
            told[f"left out: {problem}"] += 1
            continue
        shown = [] if not picture.plugs else [_truth(answer, plugs + i) for i, answer in enumerate(answers)]
        plugs += len(shown)
        scene = groups.setdefault(picture.group, len(groups))
        write_truth(out / "truth.jsonl", [_saved(out, f"{number:06d}", pixels, scene, shown)])
        told["photographs"] += 1
        told.update(plug.label for plug in shown)
        told["other parts"] += not shown
    if not told["photographs"]:
        raise UserError(f"nothing in {photos} could be taken", "see that the firing ends are large, sharp and labelled")
    return told


def _problem(answers: Sequence[Answer]) -> str:
    """Why a photograph teaches nothing; empty where it does."""
    if any(answer.truth not in (*LABELS, UNUSED, NOT_A_PLUG) for answer in answers):
        return "labelled neither with one of the five nor unused"
    if any(
        answer.truth != NOT_A_PLUG and (answer.reading is None or not answer.reading.firing_end) for answer in answers
    ):
        return "not every labelled plug was found"
    return ""


def _truth(answer: Answer, number: int) -> PlugTruth:
    assert answer.reading is not None and answer.reading.firing_end is not None and answer.box is not None
    axis = answer.reading.firing_end.axis
    ceramic, surface = FACTS.get(answer.truth, ("", ""))  # a plug that never ran has neither
    return PlugTruth(
        plug=number,
        label=answer.truth,
        ceramic=ceramic,
        surface=surface,
        box=answer.box,
        axis=axis,
        view_degrees=float(np.degrees(np.arcsin(min(1.0, float(np.hypot(*axis)))))),
        nose_pixels=0,
        severity=float("nan"),
        readable=answer.readable,
        teaches=answer.readable,
        signs_known=False,
    )


def _saved(out: Path, name: str, pixels: NDArray[np.uint8], scene: int, shown: list[PlugTruth]) -> PictureTruth:
    height, width = pixels.shape[:2]
    truth = PictureTruth(
        file=f"pictures/{name}.jpg",
        mask=f"masks/{name}.png",
        scene=scene,
        kind="other-part" if not shown else "close" if len(shown) == 1 else "row",
        width=width,
        height=height,
        plugs=tuple(shown),
    )
    Image.fromarray(pixels).save(out / truth.file, quality=95, subsampling=0)
    Image.fromarray(np.full((height, width), UNKNOWN_MASK, np.uint8)).save(out / truth.mask)
    return truth


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line, write the set and say what became of the photographs."""
    parser = argparse.ArgumentParser(prog="firingend_training.from_photos", description=__doc__.splitlines()[0])
    parser.add_argument("photos", type=Path, help="folder with one folder per label, or CSV file")
    parser.add_argument("--out", type=Path, required=True, help="folder for the set")
    parser.add_argument(
        "--models", type=Path, default=Path("models"), help="folder of the networks that find the plugs"
    )
    chosen = parser.parse_args(arguments)
    try:
        told = from_photos(chosen.photos, chosen.out, reader_of(chosen.models))
    except UserError as error:
        parser.exit(1, f"{error}\n")
    for what, count in told.items():
        if count:
            print(f"{what}: {count}")


if __name__ == "__main__":
    main()
