"""A job as a report takes it in: its plugs before the repair and after, and what was found and done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from firingend.cases.case import CaseResult
from firingend.errors import CaseError, PhotoError
from firingend.jobs.as_case import assess_job
from firingend.jobs.card import STAGES, JobCard, Stage
from firingend.jobs.currencies import major, minor
from firingend.jobs.job import Job
from firingend.jobs.store import Store
from firingend.reading.reading import Box, PhotoReading, Reading, Zone
from firingend.report.job_facts import JobFacts, Look, Named, Used, Worked

_WHEN: Final[dict[Stage, str]] = {
    "before": "before the repair",
    "after": "after the repair",
    "later": "some time after the repair",
}

_SAME_PLUG: Final = 0.6
"""Overlap of two boxes, intersection over union, from which they hold the same plug; common practice, no source."""

Read = Callable[[Path], PhotoReading]


def job_report(
    store: Store, job: Job, stage: Stage = "before", read: Read | None = None
) -> tuple[CaseResult, JobFacts]:
    """What the plugs said at one stage, and everything else a report tells of the job.

    A later stage whose photographs do not show what is written about them is left out.

    Raises
    ------
    CaseError
        The card says nothing about the engine, or a photograph of this stage does not show what is written about it.
    """
    card = job.card
    result = _with_outlines(assess_job(store, job, stage, read), read)
    later = []
    for other in STAGES[STAGES.index(stage) + 1 :]:
        if _has_plugs(card, other):
            try:
                later.append(Look(_WHEN[other], assess_job(store, job, other, read)))
            except CaseError:
                continue
    return result, job_facts(job, tuple(look for look in later if look.result.readings))


def job_facts(job: Job, later: tuple[Look, ...] = ()) -> JobFacts:
    """What is written on the card besides the plugs."""
    card = job.card
    currency = card.rates.currency
    return JobFacts(
        number=job.number,
        status=card.status,
        opened=job.opened_at.date(),
        customer=card.customer,
        mark=card.mark,
        found=tuple(Named(each.cause, each.where) for each in card.found.values()),
        ruled_out=tuple(Named(each.cause, each.where) for each in card.ruled_out.values()),
        fixed=card.fixed,
        work=tuple(Worked(each.what, each.minutes) for each in card.work.values()),
        parts=tuple(Used(each.name, each.count, major(each.cost_minor, currency)) for each in card.parts.values()),
        rate=major(card.rates.hour_minor, currency),
        spent=major(card.spent_minor, currency),
        currency=currency,
        digits=len(str(minor(1, currency))) - 1,
        notes=tuple(each.text for each in card.notes.values()),
        later=later,
    )


def _has_plugs(card: JobCard, stage: Stage) -> bool:
    return any(photo.stage == stage for photo in card.photos.values()) or any(
        typed.stage == stage for typed in card.typed.values()
    )


def _with_outlines(result: CaseResult, read: Read | None) -> CaseResult:
    """The same readings with the outlines of their zones, which cards do not keep; from a fresh look at each photo."""
    outlines: dict[int, tuple[Zone, ...]] = {}
    for photo in result.case.photos:
        bare = {c: result.readings[c] for c in photo.cylinders if _lacks_outlines(result.readings.get(c))}
        if not bare:
            continue
        try:
            fresh = (read or _reader())(photo.file).readings
        except PhotoError:
            continue  # the report says that this photograph cannot be opened
        for cylinder, reading in bare.items():
            if zones := _outlined(reading, fresh):
                outlines[cylinder] = zones
    readings = {c: replace(r, zones=outlines[c]) if c in outlines else r for c, r in result.readings.items()}
    return replace(result, readings=readings)


def _lacks_outlines(reading: Reading | None) -> bool:
    return reading is not None and any(not zone.outlines for zone in reading.zones)


def _outlined(kept: Reading, fresh: Sequence[Reading]) -> tuple[Zone, ...]:
    """Zones as they were kept, with outlines from whichever fresh reading is of the same plug."""
    here = kept.firing_end
    if here is None:
        return ()
    for reading in fresh:
        if reading.firing_end is not None and _overlap(here.box, reading.firing_end.box) >= _SAME_PLUG:
            found = {zone.part: zone.outlines for zone in reading.zones}
            return tuple(replace(zone, outlines=found.get(zone.part, ())) for zone in kept.zones)
    return ()


def _overlap(one: Box, other: Box) -> float:
    width = min(one[2], other[2]) - max(one[0], other[0])
    height = min(one[3], other[3]) - max(one[1], other[1])
    if width <= 0 or height <= 0:
        return 0.0
    both = width * height
    areas = [(box[2] - box[0]) * (box[3] - box[1]) for box in (one, other)]
    return both / (sum(areas) - both)


def _reader() -> Read:
    from firingend.reading import reader

    return reader.read_photo
