"""Open a set of photographs, however it is written down."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from firingend.evaluation.csv_set import load_csv
from firingend.evaluation.photo_set import NOT_A_PLUG, TRUTHS, PhotoSet, SetError, TruePicture, TruePlug, known_truth
from firingend.evaluation.rendered_set import load_rendered

PHOTO_ENDINGS: Final = frozenset((".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif", ".bmp", ".gif"))


def load_set(path: Path) -> PhotoSet:
    """Read the truth of a set: a rendered set, a CSV file, or a folder with one folder per label.

    Parameters
    ----------
    path
        A folder, ``truth.jsonl`` or a ``.csv`` file. A folder that holds ``truth.jsonl`` or ``truth.csv`` is
        read by that file.

    Raises
    ------
    SetError
        When it is none of these, or something in it is not understood; names the line or folder.
    """
    if path.suffix.lower() == ".jsonl":
        photo_set = load_rendered(path)
    elif path.suffix.lower() == ".csv":
        photo_set = load_csv(path)
    elif (path / "truth.jsonl").is_file():
        photo_set = load_rendered(path / "truth.jsonl")
    elif (path / "truth.csv").is_file():
        photo_set = load_csv(path / "truth.csv")
    elif path.is_dir():
        photo_set = load_folder(path)
    else:
        raise SetError(f"{path} is neither a folder nor a CSV file", "name a folder with one folder per label")
    if not photo_set.pictures:
        raise SetError(f"{path} holds no photographs", "put photographs into the folders named after the labels")
    return photo_set


def load_folder(folder: Path) -> PhotoSet:
    """Read a folder that has one folder per label; folders below a label's are engines."""
    pictures: list[TruePicture] = []
    for inside in sorted(folder.iterdir()):
        if not inside.is_dir() or inside.name.startswith("."):
            continue
        truth = known_truth(inside.name)
        if truth is None:
            raise SetError(f"{inside} is not named after a label", f"name it one of {', '.join(TRUTHS)}")
        for file in sorted(inside.rglob("*")):
            if file.suffix.lower() in PHOTO_ENDINGS and file.is_file():
                pictures.append(_picture(file, inside, truth))
    return PhotoSet(folder.resolve().name, "folder", tuple(pictures))


def _picture(file: Path, label_folder: Path, truth: str) -> TruePicture:
    below = file.relative_to(label_folder).parts
    # Engines have the same folder name under every label; a photograph on its own is a group on its own.
    group = below[0] if len(below) > 1 else f"{label_folder.name}/{file.name}"
    plugs = () if truth == NOT_A_PLUG else (TruePlug(truth),)
    return TruePicture(file, group, plugs)
