"""A bundle from somewhere else, taken in whole or refused whole."""

from __future__ import annotations

import contextlib
import json
import re
import stat
import uuid
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Final, Literal, NoReturn

from pydantic import ValidationError
from sqlalchemy import Connection, insert, select

from firingend.errors import PhotoError, UserError
from firingend.jobs import tables
from firingend.jobs.bundle_form import (
    LARGEST_BUNDLE,
    LARGEST_CARD,
    MOST_PHOTOS,
    VERSION,
    BundleForm,
    ChangeForm,
    PhotoForm,
)
from firingend.jobs.bundle_out import CARD, rename_photo
from firingend.jobs.card import Json, check_json, read_card
from firingend.jobs.change import Change, Edit, apply
from firingend.jobs.job import Job
from firingend.jobs.photo_folder import Incoming
from firingend.jobs.problems import BundleError
from firingend.jobs.rows import change_row, insert_job, one_line, read_change, read_job, stamp, update_job
from firingend.jobs.store import Store
from firingend.photo.load import LIMITS

MOST_PACKED: Final = 50
"""A photograph is compressed already: one that unpacks to more than so many times its size, and to more than a
megabyte, is none."""

_PHOTO: Final = re.compile(r"photos/([0-9a-f]{64})\.(?:jpg|png)")
_REPORTS: Final = ("report.html", "report.pdf")
_CHUNK: Final = 1 << 20
_ASK_AGAIN: Final = "have it exported again; the store was left as it was"

Happened = Literal["new", "continued", "already here", "copy"]


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of a bundle.

    Attributes
    ----------
    job
        The job in this store.
    happened
        ``new``; ``continued``: it was here and the bundle brought later changes; ``already here``: the bundle
        brought nothing new; ``copy``: it was changed here and there, so the bundle became a job of its own.
    """

    job: Job
    happened: Happened


def read_bundle(store: Store, file: Path) -> Taken:
    """Take a bundle in, with all its photographs, or leave the store as it was.

    Raises
    ------
    BundleError
        It is no bundle, of a newer version, holds what does not belong there, or is damaged.
    StoreError
        It cannot be written, as on a full disk.
    """
    with _opened(file) as bundle, contextlib.ExitStack() as copies:
        entries = _entries(bundle, file)
        form = _read_card(bundle, entries, file)
        changes = _changes(form, file)
        present = _check_photos(form, entries, changes, file)
        incoming = [copies.enter_context(_take_photo(store, bundle, entries, photo, file)) for photo in present]
        originals = {each.sha256: each.original_sha256 for each in form.photos if each.original_sha256 != each.sha256}
        # What is here already under its own hash needs no copy.
        here = _already_here(store, originals)
        incoming = [each for each in incoming if each.sha256 not in here]
        with store.keeping(incoming, originals) as connection:
            return _take_job(store, connection, form, [_renamed(change, here) for change in changes])


def check_bundle(file: Path) -> BundleForm:
    """Read a bundle without taking it in: all that `read_bundle` refuses but damaged pixels is refused here too."""
    with _opened(file) as bundle:
        entries = _entries(bundle, file)
        form = _read_card(bundle, entries, file)
        _check_photos(form, entries, _changes(form, file), file)
        return form


@contextlib.contextmanager
def _opened(file: Path) -> Iterator[zipfile.ZipFile]:
    """The zip file; whatever its parser raises over hostile bytes becomes an error that names the file."""
    try:
        with zipfile.ZipFile(file) as bundle:
            yield bundle
    except UserError:
        raise
    except FileNotFoundError as error:
        raise BundleError(f"there is no bundle {file}", "check the name and the folder") from error
    except (
        zipfile.BadZipFile,
        zlib.error,
        NotImplementedError,
        RuntimeError,
        ValueError,
        EOFError,
        OverflowError,
        LookupError,
        MemoryError,
    ) as error:
        raise BundleError(f"{file} is no bundle, or damaged ({error})", _ASK_AGAIN) from error
    except OSError as error:
        raise BundleError(f"{file} cannot be read ({error.strerror or error})", "check the file") from error


def _refuse(file: Path, why: str) -> NoReturn:
    raise BundleError(f"{file} {why}", _ASK_AGAIN)


def _entries(bundle: zipfile.ZipFile, file: Path) -> Mapping[str, zipfile.ZipInfo]:
    """The entries by name, each of a kind that belongs in a bundle and of a size it may have."""
    if len(bundle.infolist()) > MOST_PHOTOS + 1 + len(_REPORTS):
        _refuse(file, "holds too many files")
    entries: dict[str, zipfile.ZipInfo] = {}
    for entry in bundle.infolist():
        name = entry.filename
        shown = one_line(name[:80])
        if name != CARD and name not in _REPORTS and not _PHOTO.fullmatch(name):
            _refuse(file, f'holds "{shown}", which does not belong in a bundle')
        if name in entries:
            _refuse(file, f'holds "{shown}" twice')
        if entry.flag_bits & 0x1:
            _refuse(file, "is encrypted")
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            _refuse(file, f'holds "{shown}" packed in a way not known here')
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if kind not in (0, stat.S_IFREG):
            _refuse(file, f'holds "{shown}", which is not an ordinary file')
        if entry.file_size > _most_bytes(name):
            _refuse(file, f'holds "{shown}" of {entry.file_size} bytes, more than allowed')
        if name not in (CARD, *_REPORTS) and entry.file_size > max(1 << 20, MOST_PACKED * entry.compress_size):
            _refuse(file, f'holds "{shown}", which unpacks to {entry.file_size} bytes from {entry.compress_size}')
        entries[name] = entry
    if sum(entry.file_size for entry in entries.values()) > LARGEST_BUNDLE:
        _refuse(file, "unpacks to more than allowed")
    if CARD not in entries:
        _refuse(file, f"holds no {CARD}")
    return entries


def _most_bytes(name: str) -> int:
    if name == CARD:
        return LARGEST_CARD
    return LARGEST_CARD if name in _REPORTS else LIMITS.max_bytes


def _read_card(bundle: zipfile.ZipFile, entries: Mapping[str, zipfile.ZipInfo], file: Path) -> BundleForm:
    with bundle.open(entries[CARD]) as stream:
        text = _read_up_to(stream, entries[CARD].file_size, file)
    try:
        document = json.loads(text, parse_constant=_no_such_number)
    except RecursionError as error:
        raise BundleError(f"{file}: {CARD} is nested too deep", _ASK_AGAIN) from error
    except ValueError as error:
        raise BundleError(f"{file}: {CARD} is no JSON ({error})", _ASK_AGAIN) from error
    version = document.get("version") if isinstance(document, dict) else None
    if isinstance(version, int) and version > VERSION:
        raise BundleError(
            f"{file} has version {version}, written by a newer firingend; this one knows up to {VERSION}",
            "update firingend",
        )
    try:
        # Through text again: lists and times are strict about JSON, not about what Python made of it.
        return BundleForm.model_validate_json(json.dumps(document))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(step) for step in first["loc"]) or "the whole"
        raise BundleError(f"{file}: {CARD}: {one_line(where)[:200]}: {first['msg']}", _ASK_AGAIN) from error
    except (ValueError, RecursionError) as error:
        raise BundleError(f"{file}: {CARD} is no plain JSON", _ASK_AGAIN) from error


def _no_such_number(text: str) -> NoReturn:
    raise ValueError(f"{text} is no number")


def _read_up_to(stream: IO[bytes], most: int, file: Path) -> bytes:
    data = stream.read(most + 1)
    if len(data) > most:
        _refuse(file, "unpacks to more than it says")
    return data


def _changes(form: BundleForm, file: Path) -> tuple[Change, ...]:
    """The changes, every value checked, adding up to the card."""
    fields: dict[str, Json] = {}
    changes: list[Change] = []
    try:
        for number, each in enumerate(form.changes, start=1):
            if each.revision != number or (each.undoes or 0) >= number:
                _refuse(file, f"has a gap in its history at change {number}")
            change = _change(each)
            for edit in change.edits:
                if fields.get(edit.path) != edit.before:
                    _refuse(file, f"contradicts itself at change {number}, {one_line(edit.path)}")
            fields = apply(fields, change.edits)
            changes.append(change)
        wanted = {path: check_json(path, value) for path, value in form.fields.items()}
        if fields != wanted or not fields:
            _refuse(file, "has a card that differs from its history")
        read_card(fields)
    except BundleError:
        raise
    except UserError as error:
        raise BundleError(f"{file}: {error.problem}", _ASK_AGAIN) from error
    return tuple(changes)


def _change(form: ChangeForm) -> Change:
    edits = tuple(
        Edit(edit.path, _checked(edit.path, edit.before), _checked(edit.path, edit.after)) for edit in form.edits
    )
    if len({edit.path for edit in edits}) != len(edits):
        raise BundleError(f"change {form.revision} changes a field twice", _ASK_AGAIN)
    return Change(form.revision, form.at, one_line(form.who), one_line(form.what), edits, form.undoes)


def _checked(path: str, value: Json) -> Json:
    return None if value is None else check_json(path, value)


def _check_photos(
    form: BundleForm, entries: Mapping[str, zipfile.ZipInfo], changes: Sequence[Change], file: Path
) -> list[PhotoForm]:
    """The photographs that lie in the bundle."""
    told = {photo.sha256: photo for photo in form.photos}
    if len(told) != len(form.photos):
        _refuse(file, "tells of a photograph twice")
    for change in changes:
        for edit in change.edits:
            if edit.path.startswith("photos/") and edit.after is not None and edit.after["sha256"] not in told:
                _refuse(file, f"says nothing about photograph {edit.after['sha256'][:12]}…")
    present = [photo for photo in form.photos if not photo.absent]
    names = {f"photos/{photo.sha256}{photo.suffix}" for photo in present}
    inside = {name for name in entries if _PHOTO.fullmatch(name)}
    if names != inside:
        _refuse(file, "does not hold just the photographs that it tells of")
    return present


@contextlib.contextmanager
def _take_photo(
    store: Store, bundle: zipfile.ZipFile, entries: Mapping[str, zipfile.ZipInfo], photo: PhotoForm, file: Path
) -> Iterator[Incoming]:
    name = f"photos/{photo.sha256}{photo.suffix}"
    if entries[name].file_size != photo.bytes:
        _refuse(file, f"holds {name} with another size than it says")
    with bundle.open(entries[name]) as stream:
        try:
            with store.photo_folder.take_in_stream(_Bounded(stream, photo.bytes, file), name) as incoming:
                if incoming.sha256 != photo.sha256 or incoming.suffix != photo.suffix:
                    _refuse(file, f"holds {name} with another hash than it says")
                yield incoming
        except PhotoError as error:
            raise BundleError(f"{file}: {error.problem}", _ASK_AGAIN) from error


class _Bounded:
    """A stream that may not give more than it promised."""

    def __init__(self, stream: IO[bytes], most: int, file: Path) -> None:
        self._stream, self._left, self._file = stream, most, file

    def read(self, size: int = _CHUNK) -> bytes:
        data = self._stream.read(size)
        self._left -= len(data)
        if self._left < 0:
            _refuse(self._file, "unpacks to more than it says")
        return data


def _already_here(store: Store, originals: Mapping[str, str]) -> Mapping[str, str]:
    """Hash here by hash in the bundle, for photographs whose original this store has."""
    photos = tables.photos
    with store.database.read() as connection:
        known = set(
            connection.execute(
                select(photos.c.sha256).where(photos.c.sha256.in_(set(originals.values())), ~photos.c.absent)
            ).scalars()
        )
    return {copy: original for copy, original in originals.items() if original in known}


def _renamed(change: Change, renamed: Mapping[str, str]) -> Change:
    edits = tuple(
        Edit(edit.path, rename_photo(edit.path, edit.before, renamed), rename_photo(edit.path, edit.after, renamed))
        for edit in change.edits
    )
    return replace(change, edits=edits)


def _take_job(store: Store, connection: Connection, form: BundleForm, changes: Sequence[Change]) -> Taken:
    _speak_of_absent(store, connection, form)
    row = connection.execute(select(tables.jobs).where(tables.jobs.c.id == form.job.id).with_for_update()).first()
    if row is None:
        return Taken(_insert(store, connection, form.job.id, changes), "new")
    here = read_job(row)
    known = tables.changes
    ours = [
        read_change(each)
        for each in connection.execute(select(known).where(known.c.job_id == here.id).order_by(known.c.revision))
    ]
    if ours[: len(changes)] == list(changes):
        return Taken(here, "already here")
    if list(changes[: len(ours)]) == ours:
        return Taken(_continue(connection, here, changes[len(ours) :]), "continued")
    return Taken(_insert(store, connection, uuid.uuid4().hex, changes), "copy")


def _insert(store: Store, connection: Connection, job_id: str, changes: Sequence[Change]) -> Job:
    fields: dict[str, Json] = {}
    for change in changes:
        fields = apply(fields, change.edits)
    number = store.next_number(connection)
    job = Job(job_id, number, changes[-1].revision, changes[0].at, changes[-1].at, fields)
    insert_job(connection, job)
    connection.execute(insert(tables.changes), [change_row(job_id, change) for change in changes])
    return job


def _continue(connection: Connection, here: Job, changes: Sequence[Change]) -> Job:
    fields = dict(here.fields)
    for change in changes:
        fields = apply(fields, change.edits)
    job = replace(here, revision=changes[-1].revision, changed_at=changes[-1].at, fields=fields)
    update_job(connection, job, here.fields)
    connection.execute(insert(tables.changes), [change_row(here.id, change) for change in changes])
    return job


def _speak_of_absent(store: Store, connection: Connection, form: BundleForm) -> None:
    photos = tables.photos
    for photo in form.photos:
        known = connection.execute(select(photos.c.sha256).where(photos.c.sha256 == photo.sha256)).first()
        if photo.absent and known is None:
            row = {
                "sha256": photo.sha256,
                "suffix": photo.suffix,
                "bytes": photo.bytes,
                "added_at": stamp(store.now()),
                "copy_of": None,
                "absent": True,
            }
            connection.execute(insert(photos), [row])
