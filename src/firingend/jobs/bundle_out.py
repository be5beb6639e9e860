"""A job as one file that another machine takes in: its history, its photographs, its report."""

from __future__ import annotations

import contextlib
import hashlib
import os
import secrets
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from sqlalchemy import select

from firingend.errors import PhotoError
from firingend.jobs import tables
from firingend.jobs.bundle_form import LARGEST_BUNDLE, LARGEST_CARD, MOST_CHANGES, MOST_PHOTOS, VERSION
from firingend.jobs.card import Json
from firingend.jobs.change import Change
from firingend.jobs.job import Job
from firingend.jobs.leaving import without_location
from firingend.jobs.problems import StoreError
from firingend.jobs.rows import dump, stamp
from firingend.jobs.store import Store
from firingend.report.versions import program_version

CARD: Final = "job.json"


def write_bundle(store: Store, job: Job, file: Path, report: str | None = None) -> None:
    """Write a job into one zip file.

    Photographs leave without their location; one that is missing or damaged is noted as absent and does not keep the
    job from leaving.

    Parameters
    ----------
    store, job
        Where it is kept, and which.
    file
        The file to write; an existing one is replaced once the new one is complete.
    report
        A page to go with it, for people.

    Raises
    ------
    StoreError
        It cannot be written, as on a full disk, or the job is larger than an import would take; no half bundle is
        left behind.
    """
    unfinished = file.with_name(f".{file.name[:80]}.{secrets.token_hex(4)}.part")
    try:
        with zipfile.ZipFile(unfinished, "x", zipfile.ZIP_DEFLATED) as bundle:
            photos, renamed = _write_photos(store, job, bundle)
            card = dump(_document(store, job, photos, renamed)).encode()
            bundle.writestr(CARD, card)
            if report is not None:
                bundle.writestr("report.html", report)
            _refuse_too_large(file, job, photos, card, sum(entry.file_size for entry in bundle.infolist()))
        with unfinished.open("rb+") as stream:
            os.fsync(stream.fileno())
        unfinished.replace(file)
    except OSError as error:
        raise StoreError(
            f"the bundle {file} could not be written ({error.strerror or error})", "free space or choose another place"
        ) from error
    finally:
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)


def _refuse_too_large(file: Path, job: Job, photos: list[Json], card: bytes, together: int) -> None:
    """Nobody is handed a bundle that no other machine takes in."""
    if (
        len(photos) > MOST_PHOTOS
        or job.revision > MOST_CHANGES
        or len(card) > LARGEST_CARD
        or together > LARGEST_BUNDLE
    ):
        raise StoreError(
            f"job {job.number} is too large for one bundle: {len(photos)} photographs, {job.revision} changes, "
            f"{together // 1_000_000} MB; {file} was not written",
            "hand on the whole store instead: firingend store backup --out DIR",
        )


def _write_photos(store: Store, job: Job, bundle: zipfile.ZipFile) -> tuple[list[Json], Mapping[str, str]]:
    """What is said about each photograph of the card's whole life, and the hash each leaves with."""
    photos: list[Json] = []
    renamed: dict[str, str] = {}
    for row in _rows(store, job):
        kept = store.photo(row.sha256)
        about = {"original_sha256": row.copy_of or row.sha256, "absent": True, "bytes": 0, "suffix": ".jpg"}
        try:
            data, suffix = without_location(kept.file)
        except PhotoError:
            photos.append({**about, "sha256": row.sha256})
            continue
        sha256 = hashlib.sha256(data).hexdigest()
        renamed[row.sha256] = sha256
        if any(each["sha256"] == sha256 for each in photos):
            continue
        photos.append({**about, "sha256": sha256, "suffix": suffix, "bytes": len(data), "absent": False})
        # Compressed already.
        bundle.writestr(zipfile.ZipInfo(f"photos/{sha256}{suffix}", (1980, 1, 1, 0, 0, 0)), data)
    return photos, renamed


def _rows(store: Store, job: Job) -> list[Any]:
    hashes = {
        value["sha256"]
        for change in store.history(job.id)
        for edit in change.edits
        for value in (edit.before, edit.after)
        if edit.path.startswith("photos/") and value is not None
    }
    photos = tables.photos
    with store.database.read() as connection:
        found = connection.execute(select(photos).where(photos.c.sha256.in_(hashes)).order_by(photos.c.sha256))
        return list(found)


def _document(store: Store, job: Job, photos: list[Json], renamed: Mapping[str, str]) -> Json:
    return {
        "format": "firingend-job",
        "version": VERSION,
        "made_by": f"firingend {program_version()}",
        "made_at": stamp(store.now()),
        "job": {"id": job.id, "number": job.number},
        "fields": {path: rename_photo(path, value, renamed) for path, value in job.fields.items()},
        "changes": [_change(change, renamed) for change in store.history(job.id)],
        "photos": photos,
    }


def _change(change: Change, renamed: Mapping[str, str]) -> Json:
    return {
        "revision": change.revision,
        "at": stamp(change.at),
        "who": change.who,
        "what": change.what,
        "undoes": change.undoes,
        "edits": [
            {
                "path": edit.path,
                "before": rename_photo(edit.path, edit.before, renamed),
                "after": rename_photo(edit.path, edit.after, renamed),
            }
            for edit in change.edits
        ],
    }


def rename_photo(path: str, value: Json, renamed: Mapping[str, str]) -> Json:
    """A value with the hash its photograph has on the other side."""
    if path.startswith("photos/") and value is not None:
        return {**value, "sha256": renamed.get(value["sha256"], value["sha256"])}
    return value
