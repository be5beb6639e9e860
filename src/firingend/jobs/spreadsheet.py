"""Readings and measurements of jobs as rows, for a spreadsheet or as JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from typing import Any, Final

from firingend.cases.run import typed_reading
from firingend.errors import CaseError
from firingend.jobs.as_case import case_of, narrowed
from firingend.jobs.card import STAGES
from firingend.jobs.job import Job
from firingend.jobs.store import Store
from firingend.labels import LABELS

COLUMNS: Final = (
    "job",
    "opened",
    "customer",
    "engine",
    "mark",
    "status",
    "kind",
    "stage",
    "cylinder",
    "where",
    "what",
    "value",
    "unit",
    "condition",
    *LABELS,
    "photo",
)

_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

Row = dict[str, Any]


def rows_of(store: Store, jobs: Iterable[Job]) -> Iterator[Row]:
    """One row for each plug at each stage, and for each measurement.

    ``kind`` is ``reading`` or ``measurement``; ``what`` is the label or the kind of measurement.
    """
    for job in jobs:
        card = job.card
        head = {
            "job": job.number,
            "opened": job.opened_at.date().isoformat(),
            "customer": card.customer,
            "engine": card.engine.name if card.engine else "",
            "mark": card.mark,
            "status": card.status,
        }
        yield from ({**head, **row} for row in _readings(store, job))
        for taken in card.measurements.values():
            about = {"kind": "measurement", "stage": "before", "where": taken.where, "what": taken.what}
            yield {**head, **about, "value": taken.value, "unit": taken.unit, "condition": taken.condition}


def as_csv(rows: Iterable[Row]) -> str:
    """Rows as CSV in UTF-8 with a mark that spreadsheets know it by; no text in it is taken for a formula."""
    stream = io.StringIO()
    writer = csv.DictWriter(stream, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows({key: guarded(value) for key, value in row.items()} for row in rows)
    return "\ufeff" + stream.getvalue()


def as_json(rows: Iterable[Row]) -> str:
    """Rows as a JSON list."""
    return json.dumps(list(rows), indent=2, allow_nan=False) + "\n"


def guarded(value: object) -> object:
    """A value that a spreadsheet shows and does not work out.

    Examples
    --------
    >>> guarded("=1+1"), guarded("coil A"), guarded(-3.5)
    ("'=1+1", 'coil A', -3.5)
    """
    if isinstance(value, str) and value.lstrip(" \u00a0").startswith(_FORMULA_STARTS):
        return "'" + value
    return value


def _readings(store: Store, job: Job) -> Iterator[Row]:
    card = job.card
    if card.engine is None:
        return
    kept = store.photos_of(job)
    for stage in STAGES:
        try:
            case, keys = case_of(card, kept, stage)
        except CaseError:
            continue
        for key, photo in zip(keys, case.photos, strict=True):
            if key not in card.readings:
                continue
            try:
                found = narrowed(card, key, card.readings[key].reading, photo.cylinders).readings
            except CaseError:
                continue
            if len(found) == len(photo.cylinders):
                for cylinder, reading in zip(photo.cylinders, found, strict=True):
                    row = _row(stage, cylinder, reading.label, reading.probabilities)
                    yield {**row, "photo": card.photos[key].name}
        for cylinder, plug in sorted(case.typed.items()):
            yield _row(stage, cylinder, plug.label, typed_reading(plug).probabilities)


def _row(stage: str, cylinder: int, label: str, probabilities: Any) -> Row:  # noqa: ANN401
    shares = {name: round(float(probabilities[name]), 4) for name in LABELS}
    return {"kind": "reading", "stage": stage, "cylinder": cylinder, "what": label, **shares}
