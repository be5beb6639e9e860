"""A set of photographs listed in a CSV file.

Columns ``file`` and ``label`` must be there. ``boxes`` ("x0,y0,x1,y1" in pixels, several joined by ";"),
``engine`` or ``scene``, ``kind``, ``readable`` ("no" leaves a plug to the finder) and ``view`` (degrees off the
plug's axis) are understood; every other column is a nuisance by its own name. Several plugs in one photograph have
their labels joined by ";" in the order of the boxes. ``notes`` holds several facts joined by ";": "ev -0.8" is a
number, "window" a word.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from firingend.evaluation.photo_set import (
    NOT_A_PLUG,
    TRUTHS,
    Nuisance,
    PhotoSet,
    SetError,
    TruePicture,
    TruePlug,
    known_truth,
)
from firingend.reading.reading import Box

_UNDERSTOOD: Final = frozenset(("file", "label", "boxes", "engine", "scene", "readable", "notes", "view"))
_FACT: Final = re.compile(r"([a-z][a-z ]*?)\s+([+-]?\d+(?:\.\d+)?)\s*(?:[a-z°%]+)?", re.IGNORECASE)


def load_csv(path: Path) -> PhotoSet:
    """Read a CSV file; photographs are named relative to its folder.

    Raises
    ------
    SetError
        Names the line and what is wrong with it.
    """
    pictures = []
    for line, row in _rows(path):
        try:
            pictures.append(_picture(row, path.parent))
        except SetError as error:
            raise SetError(f"{path} line {line}: {error.problem}", error.remedy) from None
    return PhotoSet(path.resolve().parent.name, "csv", tuple(pictures))


def _rows(path: Path) -> Iterator[tuple[int, dict[str, str]]]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            reader = csv.DictReader(stream, restval="")
            names = [name.strip().lower() for name in reader.fieldnames or ()]
            missing = {"file", "label"} - set(names)
            if missing:
                raise SetError(
                    f"{path} has no column {' and no column '.join(sorted(missing))}",
                    "give it a first line such as file,label,boxes,engine with commas between",
                )
            reader.fieldnames = names
            for row in reader:
                if None in row:
                    raise SetError(
                        f"{path} line {reader.line_num}: more values than columns",
                        'put values that hold commas, such as boxes, in double quotes ("…")',
                    )
                if any(row.values()):
                    yield reader.line_num, {name: value.strip() for name, value in row.items()}
    except OSError as error:
        raise SetError(f"{path} cannot be opened ({error.strerror})", "check the name") from None
    except (UnicodeDecodeError, csv.Error) as error:
        raise SetError(f"{path} is not a CSV file in UTF-8 ({error})", "save it as CSV (UTF-8)") from None


def _picture(row: Mapping[str, str], folder: Path) -> TruePicture:
    if not row["file"]:
        raise SetError("no file is named", "write the photograph's file name into the column file")
    file = folder / row["file"]
    if not file.is_file():
        raise SetError(f"{row['file']} does not exist beside the CSV file", "check the name")
    truths = _truths(row)
    boxes = _boxes(row.get("boxes", ""))
    if truths == [NOT_A_PLUG]:
        plugs: tuple[TruePlug, ...] = ()
    else:
        if boxes and len(boxes) != len(truths):
            raise SetError(f"{len(truths)} labels but {len(boxes)} boxes", "give one box for each label")
        readable = row.get("readable", "").lower() not in ("no", "false", "0")
        plugs = tuple(TruePlug(truth, boxes[i] if boxes else None, readable) for i, truth in enumerate(truths))
    return TruePicture(file, row.get("engine") or row.get("scene") or row["file"], plugs, _nuisance(row))


def _truths(row: Mapping[str, str]) -> list[str]:
    text = row["label"] or row.get("kind", "")
    truths = []
    for word in text.split(";"):
        truth = known_truth(word)
        if truth is None:
            raise SetError(f"label {word.strip()!r} is not known", f"use one of {', '.join(TRUTHS)}")
        truths.append(truth)
    if NOT_A_PLUG in truths and len(truths) > 1:
        raise SetError("not-a-plug beside other labels", "list only the plugs that are in the photograph")
    return truths


def _boxes(text: str) -> list[Box]:
    boxes: list[Box] = []
    for part in text.split(";") if text else ():
        try:
            x0, y0, x1, y1 = (float(number) for number in part.split(","))
        except ValueError:
            raise SetError(f"box {part.strip()!r} is not four numbers", "write x0,y0,x1,y1 in pixels") from None
        if not (x0 < x1 and y0 < y1):
            raise SetError(f"box {part.strip()!r} has no area", "write x0,y0,x1,y1 with x0 < x1 and y0 < y1")
        boxes.append((x0, y0, x1, y1))
    return boxes


def _nuisance(row: Mapping[str, str]) -> Nuisance:
    found: dict[str, float | str | tuple[str, ...]] = {}
    for name, text in row.items():
        if name not in _UNDERSTOOD and text:
            found[name] = _number_or_word(text)
    if row.get("view"):
        found["view_degrees"] = _number_or_word(row["view"])
    return {**_noted(row.get("notes", "")), **found}


def _noted(notes: str) -> dict[str, float | str | tuple[str, ...]]:
    numbers: dict[str, float | str | tuple[str, ...]] = {}
    words = []
    for fact in (part.strip() for part in notes.split(";")):
        match = _FACT.fullmatch(fact)
        if match:
            numbers[match[1].lower()] = float(match[2])
        elif fact:
            words.append(fact)
    return {**numbers, "notes": tuple(words)} if words else numbers


def _number_or_word(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text
