"""One engine over time: before and after a repair, and over all its jobs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from firingend.cases.run import place_readings
from firingend.errors import CaseError
from firingend.jobs.as_case import case_of
from firingend.jobs.card import STAGES, Cause, JobCard, Stage, Status
from firingend.jobs.job import Job, Query
from firingend.jobs.store import KeptPhoto, Store
from firingend.reading.reading import PhotoReading, Reading


@dataclass(frozen=True, slots=True)
class Seen:
    """One plug at one stage.

    Attributes
    ----------
    reading
        What it showed.
    photo
        The photograph, or None for a label typed in.
    """

    reading: Reading
    photo: KeptPhoto | None


@dataclass(frozen=True, slots=True)
class Visit:
    """One job of an engine, as its history tells it.

    Attributes
    ----------
    labels
        Label by cylinder as the engine came in.
    found, fixed
        What it was and what was repaired.
    minutes, spent_minor, currency
        Working time, and what it cost with parts.
    """

    number: int
    opened_at: datetime
    status: Status
    complaint: str
    labels: Mapping[int, str]
    found: tuple[Cause, ...]
    fixed: str
    minutes: float
    spent_minor: int
    currency: str


def side_by_side(store: Store, job: Job) -> Mapping[int, Mapping[Stage, Seen]]:
    """What each cylinder's plug showed at each stage, in the engine's order.

    Raises
    ------
    CaseError
        The card says nothing about the engine.
    """
    card, kept = job.card, store.photos_of(job)
    if card.engine is None:
        raise CaseError("the card says nothing about the engine", "open the job with --engine or from a case file")
    found: dict[int, dict[Stage, Seen]] = {cylinder: {} for cylinder in card.engine.cylinders}
    for stage in STAGES:
        for cylinder, seen in _seen(card, kept, stage).items():
            found[cylinder][stage] = seen
    return {cylinder: stages for cylinder, stages in found.items() if stages}


def engine_history(store: Store, engine: str, mark: str = "", customer: str = "") -> tuple[Visit, ...]:
    """Every job of one engine, oldest first: by name, and by what tells it from others of its kind."""
    lines = store.list(Query(engine=engine, mark=mark, customer=customer, most=1000))
    return tuple(_visit(store, store.job(line.id)) for line in reversed(lines))


def _visit(store: Store, job: Job) -> Visit:
    card = job.card
    labels = {cylinder: seen.reading.label for cylinder, seen in _seen(card, store.photos_of(job), "before").items()}
    return Visit(
        job.number,
        job.opened_at,
        card.status,
        card.complaint,
        labels,
        tuple(card.found.values()),
        card.fixed,
        card.minutes,
        card.spent_minor,
        card.rates.currency,
    )


def _seen(card: JobCard, kept: Mapping[str, KeptPhoto], stage: Stage) -> Mapping[int, Seen]:
    case, keys = case_of(card, kept, stage)
    read: list[PhotoReading] = []
    photos = []
    by_cylinder: dict[int, KeptPhoto] = {}
    for key, photo in zip(keys, case.photos, strict=True):
        if key in card.readings:
            read.append(card.readings[key].reading)
            photos.append(photo)
            by_cylinder.update(dict.fromkeys(photo.cylinders, kept[key]))
    readings = place_readings(replace(case, photos=tuple(photos)), read)
    return {cylinder: Seen(reading, by_cylinder.get(cylinder)) for cylinder, reading in readings.items()}
