"""A folder into which a phone puts its photographs: what is new in it, in the order it was taken."""

from __future__ import annotations

import time
from collections.abc import Collection, Iterator, MutableMapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from firingend.errors import PhotoError
from firingend.jobs.photo_folder import hash_of
from firingend.jobs.problems import StoreError
from firingend.photo.formats import HEAD_BYTES, kind_of
from firingend.photo.load import load_picture

SETTLED_SECONDS: Final = 2.0
"""A file nobody has written to for this long has arrived in full."""

MOST_FILES: Final = 5_000

Hashes = MutableMapping[tuple[Path, int, int], str]
"""Hash of a file by its name, size and time of writing in nanoseconds."""


@dataclass(frozen=True, slots=True)
class Offered:
    """A photograph that is not on the card yet; ``taken`` is the camera's time, or when the file was written."""

    file: Path
    sha256: str
    taken: datetime


def offered(
    folder: Path, known: Collection[str], *, now: float | None = None, hashes: Hashes | None = None
) -> tuple[Offered, ...]:
    """Photographs in a folder that are new, in the order they were taken.

    Parameters
    ----------
    folder
        Looked at with its subfolders; a file still being written is left for the next look.
    known
        Hashes of photographs that are not offered again.
    now
        Seconds since 1970; the present when None.
    hashes
        Filled with what was hashed, and looked into first: whoever looks again and again hands the same one over, so
        that a file is read in full only once.

    Raises
    ------
    StoreError
        There is no such folder.
    """
    if not folder.is_dir():
        raise StoreError(f"there is no folder {folder}", "name the folder that the phone's photographs come into")
    moment = time.time() if now is None else now
    found: dict[str, Offered] = {}
    for file in _candidates(folder, moment):
        try:
            sha256 = _hashed(file, hashes)
            if sha256 in known or sha256 in found:
                continue
            taken = load_picture(file, min_side=64).taken
            found[sha256] = Offered(file, sha256, taken or datetime.fromtimestamp(file.stat().st_mtime))
        except (PhotoError, OSError):
            continue  # not complete, or gone again
    return tuple(sorted(found.values(), key=lambda each: (each.taken, each.file.name)))


def _hashed(file: Path, hashes: Hashes | None) -> str:
    status = file.stat()
    mark = (file, status.st_size, status.st_mtime_ns)
    if hashes is None:
        return hash_of(file)
    if mark not in hashes:
        hashes[mark] = hash_of(file)
    return hashes[mark]


def _candidates(folder: Path, moment: float) -> Iterator[Path]:
    for number, file in enumerate(sorted(folder.rglob("*"))):
        if number >= MOST_FILES:
            raise StoreError(f"{folder} holds more than {MOST_FILES} files", "name the folder of the day")
        if file.name.startswith(".") or file.is_symlink() or not file.is_file():
            continue
        try:
            with file.open("rb") as stream:
                is_photo = bool(kind_of(stream.read(HEAD_BYTES)))
            if is_photo and moment - file.stat().st_mtime >= SETTLED_SECONDS:
                yield file
        except OSError:
            continue
