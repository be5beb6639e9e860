"""One engine over time: before and after a repair, and over all its jobs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from firingend.cases.run import place_readings
from firingend.diagnosis.fixed_order import OrderOfWork, order_of_work
from firingend.errors import CaseError
from firingend.jobs.as_case import case_of, narrowed, what_does_not_fit
from firingend.jobs.card import STAGES, Cause, JobCard, Stage, Status
from firingend.jobs.job import Job, Query
from firingend.jobs.store import KeptPhoto, Store
from firingend.reading.reading import Reading


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
    work
        Looking for the cause against the fixed order; None where that cannot be said.
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
    work: OrderOfWork | None = None


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
        work_of(store, job),
    )


def _seen(card: JobCard, kept: Mapping[str, KeptPhoto], stage: Stage) -> Mapping[int, Seen]:
    """What each plug showed; photographs that do not show what is written about them are left out."""
    case, keys = case_of(card, kept, stage)
    typed = place_readings(replace(case, photos=()), ())
    found = {cylinder: Seen(reading, None) for cylinder, reading in typed.items()}
    for key, photo in zip(keys, case.photos, strict=True):
        if key in card.readings and not what_does_not_fit(card, key):
            alone = replace(case, photos=(photo,), typed={})
            readings = place_readings(alone, [narrowed(card, key, card.readings[key].reading, photo.cylinders)])
            found.update({cylinder: Seen(reading, kept[key]) for cylinder, reading in readings.items()})
    return {cylinder: found[cylinder] for cylinder in case.engine.cylinders if cylinder in found}


def work_of(store: Store, job: Job) -> OrderOfWork | None:
    """What looking for the cause took and what the fixed order would have taken; None where that cannot be said."""
    card = job.card
    if card.engine is None:
        return None
    kept = store.photos_of(job)
    case, _ = case_of(card, kept, "before")
    readings = {cylinder: seen.reading for cylinder, seen in _seen(card, kept, "before").items()}
    found = [(cause.cause, cause.where) for cause in card.found.values()]
    return order_of_work(case.evidence(readings), found)
