"""What was found and done in a job, and the plugs before and after it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.engine.build import list_cylinders
from firingend.labels import UNREADABLE
from firingend.report.content import Cost, Fact, Pair, Repair, Shot
from firingend.report.figures import bill_amount, minutes
from firingend.report.job_facts import JobFacts, Look
from firingend.report.naming import cause_name, place
from firingend.report.photographs import Shown, show_plugs
from firingend.report.plain import one_line, plain, sentence
from firingend.report.words import label_words

MOST_PAIRS: Final = 8
LATER_SIDE: Final = 360
"""Side in pixels of a picture taken after the repair: it stands beside the large ones, smaller."""

HEALTHY: Final = "normal-tan"
"""The label of a plug from an engine in order."""


def repair_of(result: CaseResult, shown: Mapping[int, Shown], job: JobFacts, known: Knowledge) -> Repair:
    """Put what was found and done into words and pictures.

    Parameters
    ----------
    result, shown
        The plugs as the engine came in, and their pictures.
    job
        What is written on the card.
    known
        Names of causes.
    """
    return Repair(
        causes=tuple(Fact(cause_name(each.cause, known), place(each.where)) for each in job.found),
        done=plain(job.fixed),
        costs=costs(job),
        total=f"{minutes(job.minutes)}, {bill_amount(job.spent, job.currency, job.digits)}"
        if job.work or job.parts
        else "",
        after=tuple(Fact(sentence(look.when)[:-1], look.result.comparison.sentence) for look in job.later),
        pairs=pairs(result, shown, job.later),
        proof=proof(result, job),
        notes=tuple(text for text in map(plain, job.notes) if text),
    )


def costs(job: JobFacts) -> tuple[Cost, ...]:
    """Working time and parts, a line each."""
    work = (
        Cost(
            one_line(each.what),
            minutes(each.minutes),
            bill_amount(each.minutes * job.rate / 60, job.currency, job.digits),
        )
        for each in job.work
    )
    parts = (
        Cost(one_line(each.name), str(each.count), bill_amount(each.cost, job.currency, job.digits))
        for each in job.parts
    )
    return (*work, *parts)


def proof(result: CaseResult, job: JobFacts) -> str:
    """Whether the plugs after the repair prove it, in a sentence."""
    if not job.later:
        return (
            "The plugs have not been looked at again. Fit fresh plugs, run the engine as it is used, and read them:"
            " only that proves a repair."
        )
    last = job.later[-1].result
    if missing := not_seen_again(result, last):
        return f"{_plugs_of(missing)} not been read again: the plugs do not prove the repair yet."
    seen = [reading.label for reading in last.readings.values() if reading.label != UNREADABLE]
    if not seen:
        return "No plug could be read after the repair: the plugs do not prove it yet."
    if all(label == HEALTHY for label in seen):
        partly = "" if len(seen) == len(last.case.engine.cylinders) else " that was read"
        return f"Every plug{partly} is tan after the repair: the plugs bear it out."
    return "Not every plug is tan after the repair: look on."


def not_seen_again(before: CaseResult, after: CaseResult) -> tuple[int, ...]:
    """Cylinders whose plug was not tan before and has not been read since: only these can prove a repair."""
    again = {cylinder for cylinder, reading in after.readings.items() if reading.label != UNREADABLE}
    return tuple(
        c for c, reading in before.readings.items() if reading.label not in (HEALTHY, UNREADABLE) and c not in again
    )


def _plugs_of(cylinders: tuple[int, ...]) -> str:
    if len(cylinders) == 1:
        return f"The plug of cylinder {cylinders[0]} has"
    return f"The plugs of cylinders {list_cylinders(cylinders)} have"


def pairs(result: CaseResult, shown: Mapping[int, Shown], later: Sequence[Look]) -> tuple[Pair, ...]:
    """Plugs before and after, those that stood out or changed first in number; all of them on small engines."""
    if not later:
        return ()
    pictures = [show_plugs(look.result, side=LATER_SIDE) for look in later]
    cylinders = _worth_showing(result, later)
    return tuple(
        Pair(
            f"Cylinder {cylinder}",
            (
                _shot("Before the repair", result, shown, cylinder),
                *(
                    _shot(sentence(look.when)[:-1], look.result, seen, cylinder)
                    for look, seen in zip(later, pictures, strict=True)
                    if cylinder in look.result.readings
                ),
            ),
        )
        for cylinder in cylinders
    )


def _shot(when: str, result: CaseResult, shown: Mapping[int, Shown], cylinder: int) -> Shot:
    reading = result.readings.get(cylinder)
    label = label_words(reading.label) if reading else "Not recorded"
    return Shot(when, shown[cylinder].jpeg, shown[cylinder].words, label)


def _worth_showing(result: CaseResult, later: Sequence[Look]) -> tuple[int, ...]:
    """Cylinders looked at again; where there are many, those that were not tan or have changed."""
    again = [c for c in result.case.engine.cylinders if any(c in look.result.readings for look in later)]
    if len(again) <= 4:
        return tuple(again)

    def changed(cylinder: int) -> bool:
        looks = (result.readings, *(look.result.readings for look in later))
        return any(cylinder in readings and readings[cylinder].label != HEALTHY for readings in looks)

    return tuple([c for c in again if changed(c)] or again)[:MOST_PAIRS]
