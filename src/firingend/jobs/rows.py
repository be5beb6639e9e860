"""Cards and changes as rows of the database, and back."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from sqlalchemy import Connection, delete, func, insert, select, update

from firingend.jobs import tables
from firingend.jobs.card import Fields, Json
from firingend.jobs.change import Change, Edit
from firingend.jobs.job import Job, JobLine
from firingend.jobs.problems import StoreError
from firingend.jobs.search_terms import terms_of

TIES: Final = 32
"""Jobs that may be opened in one microsecond and still be found by their exact time; more would leave no room for the
year 9999 in 64 bits."""

_CONTROLS = re.compile(r"[\x00-\x1f\x7f]+")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LINE_COLUMNS = (
    "id",
    "number",
    "revision",
    "opened_at",
    "changed_at",
    "status",
    "name",
    "customer",
    "engine",
    "photos",
)


def stamp(time: datetime) -> str:
    """A time in UTC as text that sorts.

    Examples
    --------
    >>> stamp(datetime(2026, 5, 4, 3, 2, 1, tzinfo=UTC))
    '2026-05-04T03:02:01.000000+00:00'
    """
    return time.astimezone(UTC).isoformat(timespec="microseconds")


def first_sort_key(time: datetime) -> int:
    """The smallest number that orders a job opened at a time; up to `TIES` jobs of that microsecond follow on it.

    Examples
    --------
    >>> first_sort_key(datetime(1970, 1, 1, 0, 0, 0, 2, tzinfo=UTC))
    64
    """
    return (time.astimezone(UTC) - _EPOCH) // timedelta(microseconds=1) * TIES


def change_row(job_id: str, change: Change) -> Mapping[str, Any]:
    """A change as a row."""
    edits = [[edit.path, edit.before, edit.after] for edit in change.edits]
    return {
        "job_id": job_id,
        "revision": change.revision,
        "at": stamp(change.at),
        "who": one_line(change.who),
        "what": one_line(change.what),
        "undoes": change.undoes,
        "edits": dump(edits),
    }


def read_change(row: Any) -> Change:  # noqa: ANN401 - a row has no type of its own
    """A row as a change."""
    edits = tuple(Edit(path, before, after) for path, before, after in load(row.edits, f"change {row.revision}"))
    return Change(row.revision, datetime.fromisoformat(row.at), row.who, row.what, edits, row.undoes)


def read_job(row: Any) -> Job:  # noqa: ANN401
    """A row as a job."""
    return Job(
        row.id,
        row.number,
        row.revision,
        datetime.fromisoformat(row.opened_at),
        datetime.fromisoformat(row.changed_at),
        load(row.fields, f"job {row.number}"),
    )


def read_line(row: Any) -> JobLine:  # noqa: ANN401
    """A row without the card as a line of a list."""
    return JobLine(
        row.id,
        row.number,
        row.revision,
        datetime.fromisoformat(row.opened_at),
        datetime.fromisoformat(row.changed_at),
        row.status,
        row.name,
        row.customer,
        row.engine,
        row.photos,
    )


def line_columns() -> list[Any]:
    """The columns that `read_line` takes: all but the card."""
    return [tables.jobs.c[name] for name in _LINE_COLUMNS]


def insert_job(connection: Connection, job: Job) -> None:
    """Write a new job and its index."""
    sort_key = _free_sort_key(connection, job.opened_at)
    row = {"id": job.id, "number": job.number, "sort_key": sort_key, **_job_row(job)}
    connection.execute(insert(tables.jobs), [row])
    _index(connection, job, {}, sort_key)


def update_job(connection: Connection, job: Job, before: Fields) -> None:
    """Write a job over its earlier state."""
    connection.execute(update(tables.jobs).where(tables.jobs.c.id == job.id).values(**_job_row(job)))
    sort_key = connection.execute(select(tables.jobs.c.sort_key).where(tables.jobs.c.id == job.id)).scalar_one()
    _index(connection, job, before, sort_key)


def index_again(connection: Connection) -> int:
    """Make the index of every job again from its card; how many there are."""
    connection.execute(delete(tables.terms))
    connection.execute(delete(tables.job_photos))
    jobs = 0
    for row in connection.execute(select(tables.jobs)).all():
        _index(connection, read_job(row), {}, row.sort_key)
        jobs += 1
    return jobs


def photo_keys(fields: Fields) -> Mapping[str, str]:
    """Hash of each photograph of a card by key."""
    return {path.partition("/")[2]: value["sha256"] for path, value in fields.items() if path.startswith("photos/")}


def one_line(text: str) -> str:
    """Text without line breaks and control characters, which databases disagree about."""
    return _CONTROLS.sub(" ", text).encode("utf-8", "replace").decode("utf-8")


def dump(value: Json) -> str:
    """JSON in its one shortest form."""
    return json.dumps(value, separators=(",", ":"), sort_keys=True, allow_nan=False)


def load(text: str, what: str) -> Any:  # noqa: ANN401
    """JSON out of the database."""
    try:
        return json.loads(text)
    except ValueError as error:
        raise StoreError(f"{what} is damaged in the database", "run firingend store check") from error


def _job_row(job: Job) -> Mapping[str, Any]:
    fields = job.fields
    return {
        "revision": job.revision,
        "opened_at": stamp(job.opened_at),
        "changed_at": stamp(job.changed_at),
        "status": fields.get("status", "open"),
        "name": one_line(fields.get("name", "job")),
        "customer": one_line(fields.get("customer", "")),
        "engine": one_line((fields.get("engine") or {}).get("name", "")),
        "photos": len(photo_keys(fields)),
        "fields": dump(dict(fields)),
    }


def _free_sort_key(connection: Connection, opened_at: datetime) -> int:
    first, key = first_sort_key(opened_at), tables.jobs.c.sort_key
    last: int | None = connection.execute(select(func.max(key)).where(key >= first, key < first + TIES)).scalar()
    free = first if last is None else last + 1
    while free >= first + TIES and connection.execute(select(key).where(key == free)).first():
        free += 1
    return free


def _index(connection: Connection, job: Job, before: Fields, sort_key: int) -> None:
    """Bring the words and photographs of a job up to date."""
    old_terms, new_terms = set(terms_of(before)), set(terms_of(job.fields))
    terms, photos = tables.terms, tables.job_photos
    for kind, value in sorted(old_terms - new_terms):
        connection.execute(
            delete(terms).where(terms.c.kind == kind, terms.c.value == value, terms.c.sort_key == sort_key)
        )
    if added := sorted(new_terms - old_terms):
        rows = [{"kind": kind, "value": value, "sort_key": sort_key} for kind, value in added]
        connection.execute(insert(terms), rows)
    old_photos, new_photos = set(photo_keys(before).items()), set(photo_keys(job.fields).items())
    for key, _ in sorted(old_photos - new_photos):
        connection.execute(delete(photos).where(photos.c.job_id == job.id, photos.c.key == key))
    if joined := sorted(new_photos - old_photos):
        connection.execute(insert(photos), [{"job_id": job.id, "key": key, "sha256": sha} for key, sha in joined])
