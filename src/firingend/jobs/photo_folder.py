"""Photographs beside the database, each under the hash of its bytes.

An original is never written twice and never changed. It is complete and on the disk under its final name before the
database speaks of it, so that a program killed at any moment leaves at worst a file nobody speaks of.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Protocol

from firingend.errors import PhotoError
from firingend.jobs.problems import StoreError
from firingend.jobs.unfinished import left_behind, writer_mark
from firingend.photo.formats import HEAD_BYTES, KNOWN, kind_of
from firingend.photo.load import LIMITS

INCOMING: Final = "incoming"
SET_ASIDE: Final = "set-aside"
THUMBNAILS: Final = "thumbnails"
THUMBNAIL_SIDE: Final = 320
_CHUNK: Final = 1 << 20
_SUFFIXES: Final = {
    "JPEG": ".jpg",
    "PNG": ".png",
    "WebP": ".webp",
    "TIFF": ".tif",
    "HEIF": ".heic",
    "GIF": ".gif",
    "BMP": ".bmp",
}


@dataclass(frozen=True, slots=True)
class Incoming:
    """A photograph copied in full, not yet under its own name."""

    file: Path
    sha256: str
    suffix: str
    bytes: int


class Readable(Protocol):
    """Something that gives bytes."""

    def read(self, size: int, /) -> bytes:
        """Up to ``size`` bytes; none at the end."""
        ...


class PhotoFolder:
    """The folder that holds the photographs of a store."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def file_of(self, sha256: str, suffix: str) -> Path:
        """Where a photograph lies."""
        return self.folder / sha256[:2] / f"{sha256}{suffix}"

    @contextlib.contextmanager
    def take_in(self, source: Path) -> Iterator[Incoming]:
        """Copy a photograph in; unless it is settled inside the ``with`` block, the copy goes again.

        Raises
        ------
        PhotoError
            There is no such file, or it is no photograph.
        StoreError
            It cannot be written, as on a full disk.
        """
        try:
            stream = source.open("rb")
        except OSError as error:
            raise PhotoError(f"{source} cannot be opened ({error.strerror})", "check the name") from error
        with stream, self.take_in_stream(stream, str(source)) as incoming:
            yield incoming

    @contextlib.contextmanager
    def take_in_stream(self, stream: Readable, name: str) -> Iterator[Incoming]:
        """As `take_in`, from an open file; ``name`` is what messages call it."""
        temporary = self.folder / INCOMING / writer_mark()
        try:
            incoming = self._copy(stream, temporary, name)
            yield incoming
        finally:
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)

    def settle(self, incoming: Incoming) -> Path:
        """Put a photograph under its own name. Call it inside the transaction that speaks of it."""
        final = self.file_of(incoming.sha256, incoming.suffix)
        try:
            if final.is_file() and final.stat().st_size == incoming.bytes and hash_of(final) == incoming.sha256:
                return final
            final.parent.mkdir(parents=True, exist_ok=True)
            incoming.file.replace(final)
            sync_folder(final.parent)
            sync_folder(self.folder)
        except OSError as error:
            raise StoreError(
                f"{final} cannot be written ({error.strerror})", "free space or check permissions"
            ) from error
        return final

    def thumbnail(self, sha256: str, suffix: str) -> Path | None:
        """A small upright JPEG without metadata, made when it is not there; None for a missing or damaged one."""
        thumbnail = self.folder.with_name(THUMBNAILS) / sha256[:2] / f"{sha256}.jpg"
        if thumbnail.is_file():
            return thumbnail
        from firingend.photo.load import load_picture
        from firingend.report.files import write_whole
        from firingend.report.pictures import whole

        try:
            picture = load_picture(self.file_of(sha256, suffix), min_side=THUMBNAIL_SIDE)
        except PhotoError:
            return None
        try:
            thumbnail.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StoreError(f"{thumbnail.parent} cannot be made ({error.strerror})", "free space") from error
        write_whole(thumbnail, whole(picture.pixels, THUMBNAIL_SIDE, 60_000))
        return thumbnail

    def files(self) -> Iterator[Path]:
        """Every photograph there is, whether or not anybody speaks of it."""
        for folder in sorted(self.folder.glob("??")):
            yield from sorted(path for path in folder.iterdir() if path.is_file())

    def unfinished(self) -> Iterator[Path]:
        """Copies whose writer is gone."""
        yield from left_behind(self.folder / INCOMING)

    def _copy(self, stream: Readable, temporary: Path, name: str) -> Incoming:
        digest, size, head = hashlib.sha256(), 0, b""
        try:
            temporary.parent.mkdir(parents=True, exist_ok=True)
            with temporary.open("xb") as copy:
                while chunk := stream.read(_CHUNK):
                    if not head:
                        head = chunk[:HEAD_BYTES]
                        _refuse_other(head, name)
                    size += len(chunk)
                    if size > LIMITS.max_bytes:
                        raise PhotoError(f"{name} is too large for a photograph", "save a smaller JPEG of it")
                    digest.update(chunk)
                    copy.write(chunk)
                copy.flush()
                os.fsync(copy.fileno())
        except OSError as error:
            raise StoreError(
                f"{name} cannot be copied into {self.folder} ({error.strerror})",
                "free space on the disk and add it again; the store was not changed",
            ) from error
        kind = _refuse_other(head, name)
        return Incoming(temporary, digest.hexdigest(), _SUFFIXES[kind], size)


def _refuse_other(head: bytes, name: str) -> str:
    """The kind of photograph that a file begins like."""
    kind = kind_of(head)
    if not kind:
        raise PhotoError(f"{name} is not a photograph of a kind known here ({KNOWN})", "save it as JPEG")
    return kind


def hash_of(file: Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal."""
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def sync_folder(folder: Path) -> None:
    """Have a folder's entries on the disk; where the system has no such thing, it needs none."""
    with contextlib.suppress(OSError, AttributeError):
        descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
