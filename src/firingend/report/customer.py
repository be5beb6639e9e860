"""What a report says to whoever owns the engine: one page, plain words, no percentages of a program."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from firingend.cases.case import CaseResult
from firingend.diagnosis.diagnosis import Diagnosis
from firingend.diagnosis.knowledge import Knowledge, load
from firingend.diagnosis.suspects import HEALTHY as NOTHING_WRONG
from firingend.diagnosis.suspects import NOTHING_LISTED
from firingend.engine.build import list_cylinders
from firingend.labels import UNREADABLE
from firingend.reading.reading import Reading
from firingend.report import customer_words, words
from firingend.report.content import Cost, Fact, Pair, Shot
from firingend.report.figures import NBSP, bill_amount, minutes, money
from firingend.report.job_facts import JobFacts
from firingend.report.naming import cause_name, check_name, everywhere, place
from firingend.report.photographs import Shown, show_plugs
from firingend.report.plain import one_line, plain, sentence
from firingend.report.repair import HEALTHY, LATER_SIDE, costs, not_seen_again
from firingend.report.versions import program_version

MOST_PLUGS: Final = 8
_MOST_STEPS: Final = 3
_MOST_COSTS: Final = 7
_LONG: Final = 320
_SHORT: Final = 90
_LIKELY: Final = 0.5
_WASHED: Final = 0.5


@dataclass(frozen=True, slots=True)
class CustomerContent:
    """Everything the customer's page shows, in the order it shows it.

    Attributes
    ----------
    told
        The complaint in the customer's words; may be empty.
    found
        What was found, a sentence each, the most important first.
    plugs, more_plugs
        Every plug at each time it was looked at, and what was left off, as a sentence.
    done_title, done
        What was done, or what comes next.
    costs_title, costs, total, costs_note
        What it cost or will cost; ``costs`` and ``total`` may be empty.
    """

    title: str
    facts: tuple[Fact, ...]
    told: str
    found: tuple[str, ...]
    plugs: tuple[Pair, ...]
    more_plugs: str
    done_title: str
    done: tuple[str, ...]
    costs_title: str
    costs: tuple[Cost, ...]
    total: str
    costs_note: str
    watch: tuple[str, ...]
    cautions: tuple[str, ...]
    standing: str
    signatures: tuple[str, ...]
    made: str


def gather_customer(
    result: CaseResult,
    made_on: date | None = None,
    knowledge: Knowledge | None = None,
    job: JobFacts | None = None,
) -> CustomerContent:
    """Put a case into the words and pictures of a customer's page; arguments as in `gather.gather`."""
    known, day = knowledge or load(), made_on or date.today()
    case = result.case
    done = _done(job, result, known) if job else ()
    plugs, left = _plugs(result, job)
    cost_lines, total, note = _costs(result.diagnosis, case.rate_per_hour, job)
    by_hand = not case.photos and not (job and any(look.result.case.photos for look in job.later))
    return CustomerContent(
        title=_cut(one_line(case.name) or one_line(case.engine.name) or "Engine", _SHORT),
        facts=_facts(result, day, job),
        told=_cut(plain(case.complaint).replace("\n", " "), _LONG),
        found=_found(result, known, job),
        plugs=plugs,
        more_plugs=f"{left} more plugs were looked at and are not shown." if left else "",
        done_title="What was done" if done else "What comes next",
        done=done or _next(result.diagnosis),
        costs_title="What it cost" if cost_lines else "What it will cost",
        costs=cost_lines,
        total=total,
        costs_note=note,
        watch=_watch(result),
        cautions=((words.AIRCRAFT,) if case.engine.aircraft else ()) + customer_words.CAUTIONS,
        standing=customer_words.STANDING_BY_HAND if by_hand else customer_words.STANDING,
        signatures=customer_words.SIGNATURES,
        made=f"Made on {words.date_words(day.year, day.month, day.day)} by firingend {program_version()}.",
    )


def _facts(result: CaseResult, day: date, job: JobFacts | None) -> tuple[Fact, ...]:
    mark = one_line(job.mark) if job else ""
    engine = one_line(result.case.engine.name)
    facts = (
        Fact("Engine", _cut(", ".join(text for text in (engine, mark) if text), _SHORT)),
        Fact("Your reference", _cut(one_line(job.customer), _SHORT) if job else ""),
        Fact("Job", f"{job.number}" if job else ""),
        Fact("Date", words.date_words(day.year, day.month, day.day)),
    )
    return tuple(fact for fact in facts if fact.value)


# -- found --------------------------------------------------------------------------------------------------


def _found(result: CaseResult, known: Knowledge, job: JobFacts | None) -> tuple[str, ...]:
    said = [_causes(result.diagnosis, known, job), _seen(result.readings, past=bool(job and job.later))]
    if job is not None:
        said.append(_after(result, job))
    return tuple(text for text in said if text)


def _causes(diagnosis: Diagnosis, known: Knowledge, job: JobFacts | None) -> str:
    if job is not None and job.found:
        named = [_where(_simple(cause_name(each.cause, known)), each.where) for each in job.found[:3]]
        return f"The cause: {'; '.join(named)}."
    if diagnosis.causes and diagnosis.causes[0].id == NOTHING_WRONG:
        return "No fault was found so far."
    listed = [cause for cause in diagnosis.causes if cause.id not in (NOTHING_LISTED, NOTHING_WRONG)]
    named = [_where(_simple(cause.name), cause.where) for cause in listed[:3]]
    if not named:
        return "The cause is not known yet."
    if listed[0].probability >= _LIKELY:
        return f"Not proven yet; most likely: {named[0]}."
    return f"Not proven yet; possible are: {'; '.join(named)}."


def _simple(name: str) -> str:
    """A cause or check without what a technician adds in brackets.

    Examples
    --------
    >>> _simple("Coil dead (open winding or no supply)")
    'coil dead'
    """
    bare = re.sub(r"\s*\([^()]*\)", "", one_line(name)).strip() or one_line(name)
    return _cut(bare[:1].lower() + bare[1:] if bare[1:2].islower() else bare, _SHORT)


def _where(name: str, where: str) -> str:
    return name if everywhere(where) else f"{name} ({_cut(place(where), 40)})"


def _seen(readings: Mapping[int, Reading], past: bool) -> str:
    groups: dict[str, list[int]] = {}
    for cylinder, reading in readings.items():
        groups.setdefault(reading.label, []).append(cylinder)
    if not groups:
        return "The spark plugs have not been looked at."
    be = ("was", "were") if past else ("is", "are")
    if len(groups) == 1 and len(readings) > 1:
        label = next(iter(groups))
        return f"{'Before the repair all' if past else 'All'} spark plugs {be[1]} {customer_words.SEEN[label]}."
    order = sorted(groups, key=lambda label: (label == UNREADABLE, label == HEALTHY))
    said = [
        (
            f"spark plug{'s' if len(groups[label]) > 1 else ''} {list_cylinders(tuple(groups[label]))}"
            if len(readings) > 1
            else "the spark plug"
        )
        + f" {be[len(groups[label]) > 1]} {customer_words.SEEN[label]}"
        for label in order
    ]
    return sentence(("before the repair " if past else "") + "; ".join(said))


def _after(result: CaseResult, job: JobFacts) -> str:
    if not job.later:
        return "Whether it is cured shows when fresh plugs have run and are looked at again." if job.repaired else ""
    if missing := not_seen_again(result, job.later[-1].result):
        many = len(missing) > 1
        plugs = f"spark plug{'s' if many else ''} {list_cylinders(missing)}"
        return f"After the repair {plugs} {'have' if many else 'has'} yet to be looked at: only that shows the cure."
    readings = job.later[-1].result.readings
    readable = [reading.label for reading in readings.values() if reading.label != UNREADABLE]
    if readable and all(label == HEALTHY for label in readable):
        partly = "" if len(readable) == len(job.later[-1].result.case.engine.cylinders) else " that could be read"
        return f"After the repair all plugs{partly} look healthy."
    return f"After the repair: {_seen(readings, past=False)}"


# -- pictures -----------------------------------------------------------------------------------------------


def _plugs(result: CaseResult, job: JobFacts | None) -> tuple[tuple[Pair, ...], int]:
    """The plugs as they came in and at the last look; how many were left off."""
    last = job.later[-1] if job and job.later else None
    looks = [("Before" if last else "", result)] + ([("After", last.result)] if last else [])
    pictures = [show_plugs(each, side=LATER_SIDE) for _, each in looks]
    known = [c for c in result.case.engine.cylinders if any(c in each.readings for _, each in looks)]
    odd = [c for c in known if c in result.readings and result.readings[c].label != HEALTHY]
    chosen = known if len(known) <= MOST_PLUGS else sorted([*odd, *(c for c in known if c not in odd)][:MOST_PLUGS])
    shown = (
        Pair(
            f"Cylinder{NBSP}{c}",
            tuple(_shot(when, each, seen[c], c) for (when, each), seen in zip(looks, pictures, strict=True)),
        )
        for c in chosen
    )
    return tuple(shown), len(known) - len(chosen)


def _shot(when: str, result: CaseResult, shown: Shown, cylinder: int) -> Shot:
    reading = result.readings.get(cylinder)
    label = customer_words.SHORT.get(reading.label, reading.label) if reading else "not looked at"
    return Shot(when, shown.jpeg, shown.words if shown.jpeg else "no picture", label)


# -- done, costs, watch -------------------------------------------------------------------------------------


def _done(job: JobFacts, result: CaseResult, known: Knowledge) -> tuple[str, ...]:
    done = [sentence(_cut(one_line(job.fixed), _LONG))] if job.fixed.strip() else []
    if not done:
        done += [sentence(_cut(one_line(work.what), _SHORT)) for work in job.work[:4]]
    checks = dict.fromkeys(
        _simple(check_name(each.check, known)) for each in result.case.outcomes if not each.check.startswith("repair:")
    )
    if checks and (done or job.repaired):
        more = f" and {len(checks) - 4} more" if len(checks) > 4 else ""
        done.append(f"Checked on the way: {'; '.join(list(checks)[:4])}{more}.")
    return tuple(text for text in done if text)


def _next(diagnosis: Diagnosis) -> tuple[str, ...]:
    steps = [
        f"{sentence(_where(_simple(step.name), step.where))[:-1]}: about {minutes(step.minutes)}."
        for step in diagnosis.next[:_MOST_STEPS]
    ]
    return tuple(steps) or ("No further check is suggested.",)


def _costs(diagnosis: Diagnosis, rate: float, job: JobFacts | None) -> tuple[tuple[Cost, ...], str, str]:
    if job is not None and (job.work or job.parts):
        lines = tuple(Cost(_cut(each.what, 60), _how_much(each), each.amount) for each in costs(job))
        if len(lines) > _MOST_COSTS:
            rest = len(lines) - _MOST_COSTS + 1
            lines = (*lines[: _MOST_COSTS - 1], Cost(f"{rest} more lines", "", "in the total"))
        return (
            lines,
            bill_amount(job.spent, job.currency, job.digits),
            "As written on the job card; the invoice is what counts.",
        )
    if not diagnosis.next:
        return (), "", "Nothing has been written down yet."
    first, currency = diagnosis.next[0], one_line(diagnosis.currency)[:8]
    parts = f" and parts for {money(first.parts_cost, currency)}" if first.parts_cost >= 0.005 else ""
    return (
        (),
        "",
        f"The next step takes about {minutes(first.minutes)} at {money(rate, currency)} an hour{parts}. Until the"
        f" engine is repaired, work and parts may come to about {money(first.expected_cost, currency)}. This is an"
        " estimate, not an offer.",
    )


def _how_much(cost: Cost) -> str:
    """Minutes of work, or the number of parts where it is more than one."""
    if cost.how_much == "1":
        return ""
    return f"{cost.how_much} pieces" if cost.how_much.isdigit() else cost.how_much


def _watch(result: CaseResult) -> tuple[str, ...]:
    labels = {reading.label for reading in result.readings.values()}
    watch = [text for label, text in customer_words.WATCH.items() if label in labels]
    if any(reading.signs.get("coolant-clean", 0.0) >= _WASHED for reading in result.readings.values()):
        watch.append(customer_words.WATCH_COOLANT)
    return (*watch[:3], customer_words.WATCH_ALWAYS)


def _cut(text: str, most: int) -> str:
    """A text cut between words.

    Examples
    --------
    >>> _cut("one two three", 9)
    'one two…'
    """
    if len(text) <= most:
        return text
    head = text[:most]
    return (head.rsplit(" ", 1)[0] if " " in head else head[: most - 1]).rstrip(" ,;:.") + "…"
