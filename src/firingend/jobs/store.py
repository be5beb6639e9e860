"""The store: every job card with its whole history, and the photographs beside it."""

from __future__ import annotations

import contextlib
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, insert, select, update

from firingend.jobs import tables
from firingend.jobs.backup import backup_due, make_backup
from firingend.jobs.card import Fields, JobPhoto, Json, Stage, check_json, new_key, to_json
from firingend.jobs.change import Change, Edit, apply, conflicts, edits_between, inverse, last_undoable, replay
from firingend.jobs.database import Database
from firingend.jobs.job import Job, JobLine, Query
from firingend.jobs.location import Location
from firingend.jobs.migrate import bring_up_to_date
from firingend.jobs.photo_folder import THUMBNAIL_SIDE, Incoming, PhotoFolder, hash_of
from firingend.jobs.problems import ConflictError, StoreError
from firingend.jobs.rows import (
    change_row,
    insert_job,
    line_columns,
    photo_keys,
    read_change,
    read_job,
    read_line,
    stamp,
    update_job,
)
from firingend.jobs.search import matching
from firingend.photo.load import load_picture


@dataclass(frozen=True, slots=True)
class KeptPhoto:
    """A photograph the store speaks of.

    Attributes
    ----------
    sha256, suffix, bytes
        Hash, ending of the file's name, and size of the original.
    file
        Where it should lie.
    state
        ``there``, ``missing`` (no such file), ``damaged`` (of another size, or, where it was looked at closely, of
        another hash), or ``absent`` (came without its file).
    """

    sha256: str
    suffix: str
    bytes: int
    file: Path
    state: str


MOVED = "MOVED.txt"
"""Note left behind where a store was moved away from."""


class Store:
    """A shop's jobs.

    Parameters
    ----------
    location
        Where it is; the folder and the database are made when they are not there.
    clock
        Gives the time in UTC.
    backups
        Whether a backup is made on opening when the newest is more than a day old (SQLite).

    Raises
    ------
    StoreError
        It cannot be opened, or holds something else.
    NewerStoreError
        A newer version of the program wrote it.
    """

    def __init__(
        self,
        location: Location,
        *,
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
        backups: bool = True,
    ) -> None:
        self.location = location
        self._clock = clock
        self.photo_folder = PhotoFolder(location.photos)
        try:
            location.folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StoreError(
                f"the data folder {location.folder} cannot be made ({error.strerror})", "name another with --data"
            ) from error
        _refuse_moved(location)
        self.database = Database(location.url, location.database)
        try:
            bring_up_to_date(
                self.database, lambda version: make_backup(self.database, location.backups, clock(), version)
            )
            if backups and location.url is None and backup_due(location.backups, clock()):
                # A full disk must not keep the shop from looking at its cards; the next opening tries again.
                with contextlib.suppress(StoreError):
                    make_backup(self.database, location.backups, clock())
        except BaseException:
            self.database.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give the database back."""
        self.database.close()

    # Looking

    def job(self, which: int | str) -> Job:
        """A job by its number or id, as it is now."""
        with self.database.read() as connection:
            return self._job(connection, which)

    def list(self, query: Query | None = None) -> tuple[JobLine, ...]:
        """Jobs that match, newest first by the time they were opened, wherever that was."""
        statement = matching(query or Query(), line_columns())
        with self.database.read() as connection:
            return tuple(read_line(row) for row in connection.execute(statement))

    def history(self, which: int | str, after_revision: int = 0) -> tuple[Change, ...]:
        """Every change of a job, oldest first; or those after a revision that was seen already."""
        with self.database.read() as connection:
            job = self._job(connection, which)
            return self._changes(connection, job.id, after_revision)

    def at_revision(self, which: int | str, revision: int) -> Fields:
        """The card as it was after one of its changes."""
        changes = self.history(which)
        if not 1 <= revision <= len(changes):
            raise StoreError(f"job {which} has no state {revision}", f"choose 1 to {len(changes)}")
        return replay(changes[:revision])

    def photo(self, sha256: str) -> KeptPhoto:
        """Where a photograph lies and whether it is there."""
        with self.database.read() as connection:
            row = connection.execute(select(tables.photos).where(tables.photos.c.sha256 == sha256)).first()
        if row is None:
            raise StoreError(f"the store has no photograph {sha256[:12]}…", "run firingend store check")
        return self._kept(row)

    def photos_of(self, job: Job) -> Mapping[str, KeptPhoto]:
        """Every photograph of a card by key."""
        hashes = photo_keys(job.fields)
        statement = select(tables.photos).where(tables.photos.c.sha256.in_(set(hashes.values())))
        with self.database.read() as connection:
            kept = {row.sha256: self._kept(row) for row in connection.execute(statement)}
        return {key: kept[sha256] for key, sha256 in hashes.items() if sha256 in kept}

    def photos_looked_at(self, job: Job) -> Mapping[str, KeptPhoto]:
        """As `photos_of`, with every file read in full, so that one damaged within its size is known for it."""
        return {key: _looked_at(kept) for key, kept in self.photos_of(job).items()}

    # Changing

    def new_job(self, fields: Mapping[str, Json], who: str = "", what: str = "job opened") -> Job:
        """Open a job.

        Parameters
        ----------
        fields
            What is on the card, as plain values by path.
        who
            Initials.
        what
            In words.
        """
        wanted = {path: check_json(path, value) for path, value in fields.items() if value is not None}
        wanted.setdefault("status", "open")
        with self.database.write() as connection:
            now = self._clock()
            change = Change(1, now, who, what, edits_between({}, wanted))
            job = Job(uuid.uuid4().hex, self.next_number(connection), 1, now, now, wanted)
            insert_job(connection, job)
            connection.execute(insert(tables.changes), [change_row(job.id, change)])
        return job

    def change(self, seen: Job, wanted: Mapping[str, Json], who: str = "", what: str = "changed") -> Job:
        """Write over some fields of a card.

        Parameters
        ----------
        seen
            The job as whoever makes the change saw it: what others have changed since is kept, and it is an error
            where they changed one of the same fields.
        wanted
            New plain values by path; None takes a field away.

        Raises
        ------
        ConflictError
            Somebody else changed the same field to something else.
        """
        checked = {path: None if value is None else check_json(path, value) for path, value in wanted.items()}
        edits = edits_between(seen.fields, checked)
        with self.database.write() as connection:
            return self._write(connection, seen.id, edits, who, what)

    def undo(self, which: int | str, who: str = "") -> Job:
        """Take the latest change back that was not taken back yet.

        Raises
        ------
        StoreError
            There is none.
        ConflictError
            The fields it changed were changed again by one that was itself kept.
        """
        with self.database.write() as connection:
            job = self._job(connection, which, for_change=True)
            change = last_undoable(self._changes(connection, job.id, 0))
            if change is None:
                raise StoreError(f"job {job.number} has no change to take back", "")
            what = f"took back: {change.what}"
            return self._write(connection, job.id, inverse(change), who, what, undoes=change.revision)

    def add_photo(
        self,
        seen: Job,
        source: Path,
        *,
        cylinders: Sequence[int] = (),
        across: bool = True,
        stage: Stage = "before",
        who: str = "",
        along: Callable[[str], Mapping[str, Json]] | None = None,
        what: str = "",
    ) -> tuple[Job, str]:
        """Keep a photograph, byte for byte, and put it on a card.

        Parameters
        ----------
        seen, who, what
            As for `change`.
        source
            The photograph, which stays where it is.
        cylinders, across, stage
            As `JobPhoto` has them.
        along
            Gives what is written in the same change, as plain values by path, from the photograph's key: its reading,
            which then comes and goes with it.

        Returns
        -------
        tuple[Job, str]
            The job after it, and the photograph's key on the card.

        Raises
        ------
        PhotoError
            It is no photograph, or damaged.
        StoreError
            It cannot be written, as on a full disk; neither folder nor database were changed.
        """
        taken = _open_once(source)
        with self.photo_folder.take_in(source) as incoming:
            photo = JobPhoto(incoming.sha256, source.name[:255], tuple(cylinders), across, stage, taken)
            key = new_key()
            path = f"photos/{key}"
            wanted = {
                each: None if value is None else check_json(each, value)
                for each, value in (along(key) if along else {}).items()
            }
            edits = (Edit(path, None, to_json(path, photo)), *edits_between(seen.fields, wanted))
            with self.keeping([incoming]) as connection:
                job = self._write(connection, seen.id, edits, who, what or f"photograph added: {source.name[:200]}")
        return job, key

    # For the rooms of the store

    def now(self) -> datetime:
        """The time in UTC."""
        return self._clock()

    @contextlib.contextmanager
    def keeping(self, incoming: Sequence[Incoming], copies: Mapping[str, str] | None = None) -> Iterator[Connection]:
        """A writing transaction in which some photographs are settled; where it fails, they go again.

        Parameters
        ----------
        incoming
            Copied in full.
        copies
            Hash of the original by hash of the copy without location.
        """
        settled: list[Path] = []
        try:
            with self.database.write() as connection:
                self.database.lock_photos(connection)
                for each in incoming:
                    known = self._is_known(connection, each.sha256)
                    file = self.photo_folder.settle(each)
                    if not known:
                        settled.append(file)
                    self._speak_of(connection, each, (copies or {}).get(each.sha256))
                yield connection
        except BaseException:
            self._drop_unknown(settled)
            raise

    def next_number(self, connection: Connection) -> int:
        """The number of the next job."""
        counters = tables.counters
        step = (
            update(counters)
            .where(counters.c.name == "job")
            .values(value=counters.c.value + 1)
            .returning(counters.c.value)
        )
        number: int = connection.execute(step).scalar_one()
        return number

    # Inside

    def _write(
        self,
        connection: Connection,
        job_id: str,
        edits: Sequence[Edit],
        who: str,
        what: str,
        undoes: int | None = None,
    ) -> Job:
        now_there = self._job(connection, job_id, for_change=True)
        if clashing := conflicts(now_there.fields, edits):
            raise self._conflict(connection, now_there, clashing)
        fresh = tuple(
            replace(edit, before=now_there.fields.get(edit.path))
            for edit in edits
            if now_there.fields.get(edit.path) != edit.after
        )
        if not fresh:
            return now_there
        change = Change(now_there.revision + 1, self._clock(), who, what, fresh, undoes)
        job = replace(now_there, revision=change.revision, changed_at=change.at, fields=apply(now_there.fields, fresh))
        update_job(connection, job, now_there.fields)
        connection.execute(insert(tables.changes), [change_row(job.id, change)])
        return job

    def _conflict(self, connection: Connection, job: Job, paths: tuple[str, ...]) -> ConflictError:
        changed = [
            change
            for change in self._changes(connection, job.id, 0)
            if any(edit.path in paths for edit in change.edits)
        ]
        last = changed[-1] if changed else None
        whose = f"{last.who or 'somebody'} at {last.at:%Y-%m-%d %H:%M} UTC ({last.what})" if last else "somebody"
        names = ", ".join(path.partition("/")[0].replace("_", " ") for path in paths)
        return ConflictError(
            f"{names} of job {job.number} was changed by {whose} after you looked at it",
            "look at the job again and make the change anew where it still holds; nothing was lost",
            paths,
        )

    def _job(self, connection: Connection, which: int | str, *, for_change: bool = False) -> Job:
        column = tables.jobs.c.number if isinstance(which, int) else tables.jobs.c.id
        statement = select(tables.jobs).where(column == which)
        row = connection.execute(statement.with_for_update() if for_change else statement).first()
        if row is None:
            raise StoreError(f"there is no job {which}", "firingend job list shows those there are")
        return read_job(row)

    def _changes(self, connection: Connection, job_id: str, after: int) -> tuple[Change, ...]:
        changes = tables.changes
        statement = (
            select(changes).where(changes.c.job_id == job_id, changes.c.revision > after).order_by(changes.c.revision)
        )
        return tuple(read_change(row) for row in connection.execute(statement))

    def _kept(self, row: Any) -> KeptPhoto:  # noqa: ANN401
        file = self.photo_folder.file_of(row.sha256, row.suffix)
        try:
            state = "there" if file.stat().st_size == row.bytes else "damaged"
        except OSError:
            state = "absent" if row.absent else "missing"
        return KeptPhoto(row.sha256, row.suffix, row.bytes, file, state)

    def _is_known(self, connection: Connection, sha256: str) -> bool:
        statement = select(tables.photos.c.sha256).where(tables.photos.c.sha256 == sha256)
        return connection.execute(statement).first() is not None

    def _speak_of(self, connection: Connection, incoming: Incoming, copy_of: str | None) -> None:
        photos = tables.photos
        if self._is_known(connection, incoming.sha256):
            connection.execute(
                update(photos)
                .where(photos.c.sha256 == incoming.sha256)
                .values(absent=False, bytes=incoming.bytes, suffix=incoming.suffix)
            )
            return
        row = {
            "sha256": incoming.sha256,
            "suffix": incoming.suffix,
            "bytes": incoming.bytes,
            "added_at": stamp(self._clock()),
            "copy_of": copy_of,
            "absent": False,
        }
        if self.database.file is None:
            from sqlalchemy.dialects.postgresql import insert as insert_or_leave

            # Two bays may add the same photograph at once.
            connection.execute(insert_or_leave(photos).on_conflict_do_nothing(), [row])
        else:
            connection.execute(insert(photos), [row])

    def _drop_unknown(self, files: Sequence[Path]) -> None:
        """Take files away again that a transaction which failed had put in place, unless another speaks of them."""
        if not files:
            return
        with contextlib.suppress(StoreError, OSError), self.database.write() as connection:
            self.database.lock_photos(connection, alone=True)
            for file in files:
                if not self._is_known(connection, file.stem):
                    file.unlink(missing_ok=True)


def _looked_at(kept: KeptPhoto) -> KeptPhoto:
    if kept.state != "there":
        return kept
    try:
        same = hash_of(kept.file) == kept.sha256
    except OSError:
        same = False
    return kept if same else replace(kept, state="damaged")


def _refuse_moved(location: Location) -> None:
    """Keep an empty store from being made where one was moved away from."""
    note = location.folder / MOVED
    if note.is_file() and not location.database.exists():
        said = note.read_text(encoding="utf-8", errors="replace").partition(". ")[0]
        raise StoreError(f"{location.folder}: {said[:300]}", "name the new folder with --data")


def _open_once(source: Path) -> datetime | None:
    """Capture time of a photograph, once it has proved to be one that opens."""
    return load_picture(source, min_side=THUMBNAIL_SIDE).taken
