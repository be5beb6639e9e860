"""The whole store to another place: copied, checked, and only then the one to use."""

from __future__ import annotations

import shutil

from firingend.jobs import tables
from firingend.jobs.backup import copy_database, copy_rows
from firingend.jobs.check import check
from firingend.jobs.location import Location
from firingend.jobs.photo_folder import SET_ASIDE, sync_folder
from firingend.jobs.problems import StoreError
from firingend.jobs.store import MOVED, Store


def copy_store(store: Store, to: Location) -> None:
    """Copy database and photographs to a place where there is no store yet, and check the copy.

    Raises
    ------
    StoreError
        There is something already, it cannot be written, or the copy is not sound; the store was not changed.
    """
    if to.folder.exists() and any(to.folder.iterdir()):
        raise StoreError(f"{to.folder} is not empty", "name a folder that is empty or not there yet")
    # Photographs first, as when one is added: the database never speaks of a file that is not there.
    _copy_photos(store, to)
    if to.url is None:
        copy_database(store.database, to.database)
    else:
        _copy_into_server(store, to)
    # What was added meanwhile is in the copy of the database too.
    _copy_photos(store, to)
    with Store(to, backups=False) as copy:
        wrong = [fault for fault in check(copy).faults if fault.kind in ("database", "card", "index")]
        before = {fault.what for fault in check(store).faults}
        wrong += [fault for fault in check(copy).faults if "photograph" in fault.kind and fault.what not in before]
    if wrong:
        raise StoreError(f"the copy in {to.folder} is not sound: {wrong[0].what}", "the store was left where it is")


def retire(location: Location, to: Location) -> None:
    """Mark the place a store was moved away from, so that nobody goes on with the old one by mistake."""
    note = f"The store was moved to {to.folder}. What is left here may be deleted once that one has proved good.\n"
    try:
        (location.folder / MOVED).write_text(note, encoding="utf-8")
        if location.url is None:
            location.database.replace(location.folder / "firingend.db.moved")
            for log in location.folder.glob("firingend.db-*"):
                log.unlink(missing_ok=True)
    except OSError as error:
        raise StoreError(
            f"the store was copied to {to.folder}, but {location.folder} could not be marked ({error.strerror})",
            f"use {to.folder} from now on and take {location.folder} away",
        ) from error


def _copy_photos(store: Store, to: Location) -> None:
    try:
        to.photos.mkdir(parents=True, exist_ok=True)
        for file in store.photo_folder.files():
            copy = to.photos / file.parent.name / file.name
            if not copy.exists():
                copy.parent.mkdir(exist_ok=True)
                shutil.copyfile(file, copy)
                sync_folder(copy.parent)
        aside = store.location.folder / SET_ASIDE
        if aside.is_dir():
            shutil.copytree(aside, to.folder / SET_ASIDE, dirs_exist_ok=True)
    except OSError as error:
        raise StoreError(f"{to.folder} cannot be written ({error.strerror})", "free space or name another") from error


def _copy_into_server(store: Store, to: Location) -> None:
    with Store(to, backups=False) as copy:
        if copy.list():
            raise StoreError(f"{copy.database.shown} holds jobs already", "name an empty database")
        with store.database.read() as source, copy.database.write() as target:
            for table in reversed(tables.metadata.sorted_tables):
                target.execute(table.delete())
            copy_rows(source, target, tables.metadata)
