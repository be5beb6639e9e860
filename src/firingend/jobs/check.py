"""Whether everything the store says is so, and putting right what is not."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, select, text, update

from firingend.errors import FiringendError
from firingend.jobs import tables
from firingend.jobs.backup import unfinished_backups
from firingend.jobs.card import read_card
from firingend.jobs.change import replay
from firingend.jobs.photo_folder import SET_ASIDE, hash_of, sync_folder
from firingend.jobs.problems import StoreError
from firingend.jobs.rows import dump, index_again, photo_keys, read_change
from firingend.jobs.search_terms import terms_of
from firingend.jobs.store import Store

_HASH: Final = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is not as it should be.

    Attributes
    ----------
    kind
        ``database``, ``card``, ``index``, ``missing photograph``, ``damaged photograph``, ``stray file``,
        ``unfinished file``; ``absent photograph`` is known and no fault of the store.
    what
        In one sentence.
    remedy
        What to do about it, or what was done.
    mended
        Whether it was put right.
    """

    kind: str
    what: str
    remedy: str
    mended: bool = False


@dataclass(frozen=True, slots=True)
class CheckResult:
    """What a check found, and how much it looked at."""

    jobs: int
    changes: int
    photos: int
    faults: tuple[Fault, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong, or nothing any more."""
        return all(fault.mended or fault.kind == "absent photograph" for fault in self.faults)


def check(store: Store, *, mend: bool = False) -> CheckResult:
    """Check database, cards, index and every photograph.

    Parameters
    ----------
    store
        Others may use it meanwhile.
    mend
        Put right what can be: cards from their history, the index from the cards, photographs from the folder of
        files set aside. Files nobody speaks of are set aside, never deleted.
    """
    faults = list(_database_faults(store))
    with store.database.read() as connection:
        jobs = connection.execute(select(tables.jobs.c.id)).all()
        changes = connection.execute(select(tables.changes.c.job_id)).all()
        photos = connection.execute(select(tables.photos)).all()
        faults += _card_faults(connection)
    # Hashing takes long; it is done before anybody is kept waiting, and repeated for what looks wrong.
    suspects = [row for row in photos if _state(store, row) != "there"]
    if mend:
        try:
            mended = list(_mend(store, suspects))
        except OSError as error:
            raise StoreError(
                f"{error.filename or store.location.folder} cannot be mended ({error.strerror})",
                "free space on the disk or check the permissions, and mend again; nothing was lost",
            ) from error
        faults = [*(fault for fault in faults if fault.kind not in ("card", "index")), *mended]
    else:
        faults += [_photo_fault(store, row) for row in suspects]
        faults += _stray_faults(store, photos)
    return CheckResult(len(jobs), len(changes), len(photos), tuple(faults))


def _database_faults(store: Store) -> Iterator[Fault]:
    if store.database.file is None:
        return
    remedy = "stop all programs that use the store, then firingend store restore with the latest backup"
    with store.database.read() as connection:
        for (said,) in connection.execute(text("PRAGMA integrity_check(20)")):
            if said != "ok":
                yield Fault("database", f"the database is damaged: {said}", remedy)
        for row in connection.execute(text("PRAGMA foreign_key_check")):
            yield Fault("database", f"a row of {row[0]} speaks of a row of {row[2]} that is not there", remedy)


def _card_faults(connection: Connection) -> Iterator[Fault]:
    terms: dict[int, set[tuple[str, str]]] = {}
    for kind, value, sort_key in connection.execute(select(tables.terms)):
        terms.setdefault(sort_key, set()).add((kind, value))
    joined: dict[str, set[tuple[str, str]]] = {}
    for job_id, key, sha256 in connection.execute(select(tables.job_photos)):
        joined.setdefault(job_id, set()).add((key, sha256))
    for row in connection.execute(select(tables.jobs).order_by(tables.jobs.c.number)).all():
        fields, problem = _fields_by_history(connection, row)
        if problem:
            yield Fault("card", f"job {row.number}: {problem}", "firingend store check --mend")
        elif terms.get(row.sort_key, set()) != set(terms_of(fields)) or (
            joined.get(row.id, set()) != set(photo_keys(fields).items())
        ):
            yield Fault("index", f"job {row.number} is not found by what is on it", "firingend store check --mend")


def _fields_by_history(connection: Connection, row: Any) -> tuple[Mapping[str, Any], str]:  # noqa: ANN401
    """The card that a job's changes add up to, and what is wrong with the card as it stands; may be empty."""
    try:
        fields = _replayed(connection, row.id)
        if not fields:
            return {}, "no history is left"
        read_card(fields)
    except (FiringendError, ValueError, TypeError, LookupError, AttributeError) as error:
        return {}, f"its history is damaged ({error})"
    try:
        same = json.loads(row.fields) == fields and row.status == fields.get("status")
    except ValueError:
        same = False
    return fields, "" if same else "the card differs from its history"


def _replayed(connection: Connection, job_id: str) -> dict[str, Any]:
    changes = tables.changes
    rows = connection.execute(select(changes).where(changes.c.job_id == job_id).order_by(changes.c.revision))
    return replay(read_change(change) for change in rows)


def _mend(store: Store, suspects: Sequence[Any]) -> Iterator[Fault]:
    aside = {}
    for path in sorted((store.location.folder / SET_ASIDE).glob("*")):
        name = path.name.partition(".")[0]
        if path.is_file() and _HASH.fullmatch(name):
            aside[name] = path
    with store.database.write() as connection:
        store.database.lock_photos(connection, alone=True)
        before = list(_card_faults(connection))
        yield from _mend_cards(connection, before)
        for row in suspects:
            if (state := _state(store, row)) != "there":
                yield _mend_photo(store, row, state, aside.get(row.sha256))
        photos = connection.execute(select(tables.photos)).all()
        yield from _clear_up(store, photos)


def _mend_cards(connection: Connection, faults: list[Fault]) -> Iterator[Fault]:
    if not faults:
        return
    for row in connection.execute(select(tables.jobs)).all():
        fields, problem = _fields_by_history(connection, row)
        if problem and fields:
            connection.execute(
                update(tables.jobs)
                .where(tables.jobs.c.id == row.id)
                .values(fields=dump(dict(fields)), status=fields.get("status", "open"))
            )
    index_again(connection)
    left = {fault.what for fault in _card_faults(connection)}
    for fault in faults:
        if fault.what in left:
            yield Fault(fault.kind, fault.what, "firingend store restore with an older backup")
        else:
            yield Fault(fault.kind, fault.what, "made again", mended=True)


def _state(store: Store, row: Any) -> str:  # noqa: ANN401
    file = store.photo_folder.file_of(row.sha256, row.suffix)
    try:
        if not file.is_file():
            return "absent" if row.absent else "missing"
        return "there" if file.stat().st_size == row.bytes and hash_of(file) == row.sha256 else "damaged"
    except OSError:
        return "damaged"


def _photo_fault(store: Store, row: Any) -> Fault:  # noqa: ANN401
    state = _state(store, row)
    remedy = f"add the original again, or copy it from a backup to {store.photo_folder.file_of(row.sha256, row.suffix)}"
    if state == "absent":
        return Fault("absent photograph", f"{row.sha256[:12]}… came without its file", remedy)
    return Fault(f"{state} photograph", f"{row.sha256[:12]}… is {state}", remedy)


def _mend_photo(store: Store, row: Any, state: str, found: Path | None) -> Fault:  # noqa: ANN401
    fault = _photo_fault(store, row)
    file = store.photo_folder.file_of(row.sha256, row.suffix)
    if found is None or hash_of(found) != row.sha256:
        return fault
    if state == "damaged":
        _set_aside(store, file, suffix=".damaged")
    file.parent.mkdir(parents=True, exist_ok=True)
    found.replace(file)
    sync_folder(file.parent)
    return Fault(fault.kind, fault.what, "brought back from the files set aside", mended=True)


def _stray_faults(store: Store, photos: Sequence[Any]) -> Iterator[Fault]:
    for path in _strays(store, photos):
        yield Fault("stray file", f"no card speaks of {path}", "firingend store check --mend sets it aside")
    for path in _unfinished(store):
        yield Fault("unfinished file", f"{path} was never finished", "firingend store check --mend removes it")


def _strays(store: Store, photos: Sequence[Any]) -> list[Path]:
    spoken_of = {store.photo_folder.file_of(row.sha256, row.suffix) for row in photos}
    return [path for path in store.photo_folder.files() if path not in spoken_of]


def _unfinished(store: Store) -> list[Path]:
    return [*store.photo_folder.unfinished(), *unfinished_backups(store.location.backups)]


def _clear_up(store: Store, photos: Sequence[Any]) -> Iterator[Fault]:
    for path in _strays(store, photos):
        kept = _set_aside(store, path)
        yield Fault("stray file", f"no card speaks of {path}", f"set aside as {kept}", mended=True)
    for path in _unfinished(store):
        path.unlink(missing_ok=True)
        yield Fault("unfinished file", f"{path} was never finished", "removed", mended=True)


def _set_aside(store: Store, path: Path, suffix: str = "") -> Path:
    folder = store.location.folder / SET_ASIDE
    folder.mkdir(exist_ok=True)
    kept = folder / f"{path.name}{suffix}"
    path.replace(kept)
    return kept
