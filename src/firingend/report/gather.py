"""From a finished case to what its report says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from firingend.cases.case import CaseResult
from firingend.comparison.plug_words import colour_sentence, could_also_be, severity_words
from firingend.comparison.sentence import PATTERN_WORDS
from firingend.diagnosis.diagnosis import Diagnosis, RankedCause, RankedStep
from firingend.diagnosis.evidence import Outcome
from firingend.diagnosis.knowledge import Knowledge, load
from firingend.labels import UNREADABLE
from firingend.reading.reading import Reading
from firingend.report import words
from firingend.report.content import Cause, Content, Done, Doubt, Fact, Plug, Step
from firingend.report.figures import NBSP, chance, minutes, money
from firingend.report.job_facts import JobFacts
from firingend.report.measured import measured_lines
from firingend.report.naming import at, cause_name, everywhere, place, spoken
from firingend.report.photographs import Shown, show_plugs
from firingend.report.plain import first_sentence, one_line, plain, sentence
from firingend.report.repair import repair_of
from firingend.report.versions import networks_version, program_version
from firingend.report.zones import colour_rows, neutral_words, swatches

MOST_STEPS = 6
MOST_CAUSES = 8
MOST_RULED_OUT = 12
SEEN = 0.5
"""Probability from which a sign is said to be seen."""

RUNNER_UP = 0.03
"""Probability below which a second label is not worth a line."""

WORTH_NAMING = 0.01
"""Probability below which the causes left off are not worth a line."""


def gather(
    result: CaseResult,
    made_on: date | None = None,
    knowledge: Knowledge | None = None,
    job: JobFacts | None = None,
) -> Content:
    """Put a case into the words and pictures of a report.

    Parameters
    ----------
    result
        The finished case.
    made_on
        Date of the report; today when None.
    knowledge
        Names of symptoms, checks and outcomes; the shipped ones when None.
    job
        What was found and done, for a case that is a job.
    """
    known = knowledge or load()
    day = made_on or date.today()
    case, comparison, diagnosis = result.case, result.comparison, result.diagnosis
    head, rest = first_sentence(comparison.sentence)
    shown = show_plugs(result)
    plugs = tuple(_plug(result, cylinder, shown[cylinder]) for cylinder in case.engine.cylinders)
    over = job is not None and job.repaired
    return Content(
        title=one_line(case.name) or one_line(case.engine.name) or "Engine",
        facts=_job_facts(job, result, known, day) if job else _facts(result, known, day),
        sentence=head,
        sentence_more=rest,
        pattern=_pattern(result),
        plugs=plugs,
        columns=_columns(len(plugs)),
        meanings=_meanings(result),
        notes=tuple(_notes(result)),
        safety=words.SAFETY,
        order_words=_order_words(result),
        steps=() if over else _steps(diagnosis),
        no_steps="The repair is done; no further check is suggested." if over else "No further check is suggested.",
        more_steps="" if over else _more_steps(diagnosis),
        causes=tuple(_cause(cause) for cause in diagnosis.causes[:MOST_CAUSES]),
        more_causes=_more_causes(diagnosis.causes[MOST_CAUSES:]),
        done=tuple(_done(outcome, known) for outcome in case.outcomes),
        ruled_out=_ruled_out(diagnosis.ruled_out),
        measured=measured_lines(case.measurements),
        standing=words.STANDING,
        signatures=words.SIGNATURES,
        made=_made(result, day),
        colours=_colours(result),
        colour_rows=colour_rows(plugs),
        legend=_legend(plugs),
        neutral=neutral_words(list(result.readings.values())),
        repair=repair_of(result, shown, job, known) if job else None,
        ruled_out_by_hand=sentence("; ".join(at(cause_name(e.cause, known), e.where) for e in job.ruled_out))
        if job
        else "",
    )


def _facts(result: CaseResult, known: Knowledge, day: date) -> tuple[Fact, ...]:
    case = result.case
    name, kind = one_line(case.engine.name), words.engine_words(case.engine)
    present = [_symptom(key, known) for key, there in case.symptoms.items() if there]
    absent = [_symptom(key, known) for key, there in case.symptoms.items() if not there]
    facts = (
        Fact("Engine", f"{name}\n{kind}" if name not in ("", one_line(case.name)) else kind),
        Fact("Complaint", plain(case.complaint) or "none written down"),
        Fact("Symptoms", "; ".join(present) or "none written down"),
        Fact("Asked and not there", "; ".join(absent)),
        Fact("Before the plugs came out", _run(result)),
        Fact("Shared parts", one_line(words.shared_words(case.engine))),
        Fact("Photographs", ", ".join(dict.fromkeys(one_line(photo.file.name) for photo in case.photos))),
        Fact("Date", words.date_words(day.year, day.month, day.day)),
    )
    return tuple(fact for fact in facts if fact.value)


def _job_facts(job: JobFacts, result: CaseResult, known: Knowledge, day: date) -> tuple[Fact, ...]:
    opened = words.date_words(job.opened.year, job.opened.month, job.opened.day)
    customer = "; ".join(text for text in (one_line(job.customer), one_line(job.mark)) if text)
    head = (Fact("Job", f"{job.number}, opened {opened}, {job.status}"), Fact("Customer and mark", customer))
    # The store calls photographs by their hash, which tells nobody anything.
    rest = (fact for fact in _facts(result, known, day) if fact.name != "Photographs")
    return (*(fact for fact in head if fact.value), *rest)


def _symptom(key: str, known: Knowledge) -> str:
    return known.symptoms[key].name if key in known.symptoms else spoken(key)


def _run(result: CaseResult) -> str:
    run = result.case.run
    parts = [words.RUN_WORDS.get(run.how, run.how)]
    if run.minutes_on_plugs is not None:
        parts.append(f"{minutes(run.minutes_on_plugs)} on these plugs")
    if run.fuel:
        parts.append(f"fuel: {one_line(run.fuel)}")
    return "; ".join(parts)


def _pattern(result: CaseResult) -> str:
    pattern = result.comparison.pattern
    said = PATTERN_WORDS.get(pattern, pattern)
    if pattern == "too-few-readable":
        return sentence(said)
    return f"{said[0].upper()}{said[1:]}: {chance(result.comparison.probability).text}"


# -- plugs --------------------------------------------------------------------------------------------------


def _columns(count: int) -> int:
    """Plugs side by side: one row as far as the pictures stay large, then even rows."""
    if count <= 5:
        return max(1, count)
    return min(4, -(-count // 2))


def _plug(result: CaseResult, cylinder: int, shown: Shown) -> Plug:
    reading = result.readings.get(cylinder)
    by_hand = cylinder in result.case.typed
    trusted = reading is not None and reading.label != UNREADABLE
    return Plug(
        cylinder=f"Cylinder{NBSP}{cylinder}",
        picture=shown.jpeg,
        picture_words=shown.words,
        label=words.label_words(reading.label) if reading else "Not recorded",
        chance=chance(reading.probabilities.get(reading.label, 0.0)) if reading and trusted and not by_hand else None,
        chance_words=_by_hand(result, cylinder) if trusted and by_hand else "",
        runner_up=_runner_up(reading) if reading and not by_hand else "",
        stands_out=_stands_out(result, cylinder),
        signs=_signs(reading, by_hand) if reading else (),
        doubts=_doubts(reading) if reading else (),
        reach=sentence(severity_words(reading)) if reading else "",
        could_be=sentence(could_also_be(reading)) if reading and not by_hand else "",
        outlines=shown.outlines,
        swatches=swatches(reading) if reading else (),
    )


def _colours(result: CaseResult) -> str:
    """The noses that stand out against the others of their photograph: only there the light was the same."""
    said: list[str] = []
    apart = False
    for cylinder in result.case.engine.cylinders:
        if not _stands_out(result, cylinder):
            continue
        beside = next((photo.cylinders for photo in result.case.photos if cylinder in photo.cylinders), ())
        others = [c for c in beside if c == cylinder or not _stands_out(result, c)]
        one_light = len(others) > 1
        readings = {
            c: reading
            for c, reading in result.readings.items()
            if c == cylinder or (c in others if one_light else not _stands_out(result, c))
        }
        words = colour_sentence(readings, cylinder)
        said += [words] if words else []
        apart = apart or (bool(words) and not one_light)
    if apart:
        said.append("Plugs photographed apart: part of this may be the light.")
    return " ".join(said)


def _legend(plugs: Sequence[Plug]) -> str:
    named = {part.letter: part.name for plug in plugs for part in plug.outlines}
    listed = ", ".join(f"{letter} {name}" for letter, name in named.items())
    return f"On the pictures: {listed}." if listed else ""


def _stands_out(result: CaseResult, cylinder: int) -> bool:
    comparison = result.comparison
    together = comparison.pattern in ("all-alike", "scattered", "too-few-readable")
    return not together and cylinder in comparison.cylinders


def _by_hand(result: CaseResult, cylinder: int) -> str:
    return f"Label given by hand, taken as {chance(result.case.typed[cylinder].sure).text} sure"


def _runner_up(reading: Reading) -> str:
    ranked = sorted(reading.probabilities.items(), key=lambda item: -item[1])
    if reading.label == UNREADABLE:
        # Five even fifths say nothing, and a guess at a thing that is no plug says less.
        if reading.firing_end is None or not ranked or ranked[0][1] < 0.35 or reading.not_a_plug > 0.5:
            return ""
        return f"Not trusted: {' or '.join(_label_share(*item) for item in ranked[:2])}."
    if could_also_be(reading):
        return ""  # said with all the labels it could be
    others = [item for item in ranked if item[0] != reading.label]
    if not others or others[0][1] < RUNNER_UP:
        return ""
    return f"Next most likely: {_label_share(*others[0])}."


def _label_share(label: str, probability: float) -> str:
    said = words.label_words(label)
    return f"{said[:1].lower()}{said[1:]} ({chance(probability).text})"


def _signs(reading: Reading, by_hand: bool) -> tuple[str, ...]:
    seen = sorted(((p, sign) for sign, p in reading.signs.items() if p >= SEEN), reverse=True)
    return tuple(words.SIGN_WORDS.get(sign, sign) + ("" if by_hand else f" ({chance(p).text})") for p, sign in seen)


def _doubts(reading: Reading) -> tuple[Doubt, ...]:
    doubts = [Doubt(sentence(reason.text), sentence(reason.remedy)) for reason in reading.reasons]
    said = " ".join(doubt.text.lower() for doubt in doubts)
    flags = reading.quality.flags if reading.quality is not None else ()
    doubts += [Doubt(sentence(f"picture: {flag}"), "") for flag in flags if flag.lower() not in said]
    return tuple(doubts)


def _meanings(result: CaseResult) -> tuple[Fact, ...]:
    seen = {reading.label for reading in result.readings.values()}
    return tuple(
        Fact(words.label_words(label), meaning) for label, meaning in words.LABEL_MEANING.items() if label in seen
    )


# -- checks and causes --------------------------------------------------------------------------------------


def _notes(result: CaseResult) -> list[str]:
    notes = [sentence(note) for note in result.diagnosis.notes]
    if result.case.engine.aircraft:
        notes.insert(0, words.AIRCRAFT)
    return [note for note in notes if note]


def _order_words(result: CaseResult) -> str:
    rate = money(result.case.rate_per_hour, _currency(result.diagnosis))
    source = _common_source(result.diagnosis)
    return (
        "The first check is the one from which the repair is expected to cost least. “Expected to the repair” is"
        f" work at {rate} an hour and parts, from here to a repaired engine, if this check is done next."
        + (f" Times and costs: {source}." if source else "")
        + " Write down each outcome; stop when the fault is found."
    )


def _currency(diagnosis: Diagnosis) -> str:
    return one_line(diagnosis.currency)[:8]


def _common_source(diagnosis: Diagnosis) -> str:
    """Where the figures of all steps shown come from, when that is one place; else empty."""
    sources = {one_line(step.source) for step in diagnosis.next[:MOST_STEPS]}
    return sources.pop() if len(sources) == 1 else ""


def _steps(diagnosis: Diagnosis) -> tuple[Step, ...]:
    said_once = _common_source(diagnosis)
    steps = (_step(i, step, _currency(diagnosis)) for i, step in enumerate(diagnosis.next[:MOST_STEPS], 1))
    return tuple(replace(step, source="") if said_once else step for step in steps)


def _step(number: int, step: RankedStep, currency: str) -> Step:
    return Step(
        number=number,
        name=one_line(step.name),
        where=place(step.where) if not everywhere(step.where) else "",
        why=plain(step.why),
        how=tuple(text for text in map(one_line, step.how) if text),
        minutes=minutes(step.minutes),
        parts="none" if abs(step.parts_cost) < 0.005 else money(step.parts_cost, currency),
        expected=money(step.expected_cost, currency),
        cautions=tuple(text for text in map(one_line, step.cautions) if text),
        source=one_line(step.source),
    )


def _more_steps(diagnosis: Diagnosis) -> str:
    left = len(diagnosis.next) - MOST_STEPS
    if left <= 0:
        return ""
    return f"{left} further check{'s' if left > 1 else ''} can follow; rank them again with the outcomes of these."


def _cause(cause: RankedCause) -> Cause:
    return Cause(one_line(cause.name), place(cause.where), chance(cause.probability), sentence(cause.repair))


def _more_causes(others: Sequence[RankedCause]) -> str:
    share = sum(cause.probability for cause in others)
    if share < WORTH_NAMING:
        return ""
    if len(others) == 1:
        return f"One other cause has {chance(share).text}."
    return f"{len(others)} other causes share {chance(share).text}."


def _ruled_out(causes: Sequence[RankedCause]) -> str:
    named = [at(one_line(cause.name), cause.where) for cause in causes[:MOST_RULED_OUT]]
    left = len(causes) - len(named)
    return sentence("; ".join([*named, f"and {left} more"] if left > 0 else named))


def _done(outcome: Outcome, known: Knowledge) -> Done:
    repair = outcome.check.removeprefix("repair:")
    if repair != outcome.check:
        cause = known.causes[repair].name if repair in known.causes else spoken(repair)
        result = words.REPAIR_OUTCOMES.get(outcome.outcome, outcome.outcome)
        return Done(f"Repair tried: {one_line(cause)}", place(outcome.where), one_line(result))
    check = known.checks.get(outcome.check)
    outcomes: Mapping[str, str] = check.outcomes if check is not None else {}
    return Done(
        name=one_line(check.name) if check is not None else spoken(outcome.check),
        where=place(outcome.where),
        outcome=one_line(outcomes.get(outcome.outcome) or spoken(outcome.outcome, capital=False)),
    )


def _made(result: CaseResult, day: date) -> str:
    networks = networks_version()
    if not result.case.photos:
        read_by = "no photograph was read, labels were given by hand"
    else:
        read_by = f"networks {networks}" if networks else "no networks installed"
    made_on = words.date_words(day.year, day.month, day.day)
    return f"Made on {made_on} by firingend {program_version()}; {read_by}."
