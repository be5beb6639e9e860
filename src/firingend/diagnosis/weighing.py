"""Evidence turned into terms: readings, symptoms, outcomes of checks, repairs tried."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from firingend.diagnosis.evidence import Evidence, Outcome, RunBefore
from firingend.diagnosis.knowledge import Knowledge
from firingend.diagnosis.places import Place, find_places
from firingend.diagnosis.suspects import (
    NOTHING_LISTED,
    Bools,
    Floats,
    Suspects,
    check_rows,
    label_row,
    unlisted_row,
)
from firingend.diagnosis.terms import Mixed, NoisyOr, Term, Tried
from firingend.errors import UserError
from firingend.labels import LABELS, SIGNS, UNREADABLE
from firingend.reading.reading import Reading

NORMAL = LABELS.index("normal-tan")
REPAIR = "repair:"
_RARE = 0.002


def terms(found: Suspects, evidence: Evidence) -> Iterator[Term]:
    """Every item of evidence as a term, readings first, then symptoms, then outcomes in order."""
    for cylinder, reading in evidence.readings.items():
        yield from reading_terms(found, evidence.run, cylinder, reading)
    for said, present in evidence.symptoms.items():
        yield symptom_term(found, said, present)
    mended = np.zeros(len(found), dtype=bool)
    for outcome in evidence.outcomes:
        yield from outcome_terms(found, outcome, mended)
        mended |= repaired_by(found, outcome)


def reading_terms(found: Suspects, run: RunBefore, cylinder: int, reading: Reading) -> Iterator[Term]:
    """What one plug says: a term for its label and one for each sign; none when it is unreadable."""
    if cylinder not in found.engine.cylinders:
        raise UserError(
            f"there is a reading for cylinder {cylinder}, which the engine does not have",
            "number the plugs as the engine's cylinders are numbered",
        )
    if reading.label == UNREADABLE:
        return
    column = found.engine.cylinders.index(cylinder)
    relevant = found.marks & found.reach[:, column]
    likelihood = label_likelihood(found.knowledge, run, reading)
    yield Mixed(
        what=f"cylinder {cylinder}: plug {reading.label}",
        likelihood=likelihood,
        none=NORMAL,
        rows=found.labels,
        relevant=relevant,
        otherwise=found.healthy_labels(),
        unlisted=label_row(found.knowledge.profiles[NOTHING_LISTED].labels),
    )
    general = found.knowledge.general
    for k, sign in enumerate(SIGNS):
        if sign not in reading.signs:
            continue
        chance = min(max(reading.signs[sign], _RARE), 1 - _RARE)
        prior = reading.prior.get(sign, general.sign_prior)
        yield NoisyOr(
            what=f"cylinder {cylinder}: {sign}" if chance > prior else f"cylinder {cylinder}: no {sign}",
            present=chance / prior,
            absent=(1.0 - chance) / (1.0 - prior),
            leak=general.sign_leak,
            strengths=np.where(found.reach[:, column], found.signs[:, k], 0.0),
            unlisted=general.sign_leak,
        )


def label_likelihood(knowledge: Knowledge, run: RunBefore, reading: Reading) -> Floats:
    """(5,) likelihood of the photograph under each true condition of the plug.

    The reading's probabilities are divided by the prior behind them; then the last running condition is taken
    into account (what a plug in this condition would show after it); then the chance that the plug never ran.
    """
    shown = np.array([max(reading.probabilities.get(name, 0.0), 0.0) for name in LABELS])
    if shown.sum() <= 0:
        return np.ones(len(LABELS))
    prior = np.array([reading.prior.get(name, 1.0 / len(LABELS)) for name in LABELS])
    ratio = (shown / shown.sum()) / prior
    likelihood: Floats = condition_shift(knowledge, run) @ ratio
    blank = min(max(reading.unused, reading.not_a_plug, 0.0), 1.0)
    mixed: Floats = (1.0 - blank) * likelihood + blank * likelihood.mean()
    return np.asarray(np.maximum(mixed, _RARE * mixed.max()))


def condition_shift(knowledge: Knowledge, run: RunBefore) -> Floats:
    """(5, 5) probability of the label shown (column) given the engine's true condition (row)."""
    matrix = np.eye(len(LABELS))
    for name, share in _shifts(knowledge, run):
        moves = knowledge.shifts[name].moves
        step = np.eye(len(LABELS))
        for source, targets in moves.items():
            row = LABELS.index(source)
            for target, chance in targets.items():
                step[row, LABELS.index(target)] += share * chance
                step[row, row] -= share * chance
        matrix = matrix @ step
    return matrix


def shifts_called_for(knowledge: Knowledge, run: RunBefore) -> tuple[str, ...]:
    """Ids of the shifts worth mentioning: those that still move a plug's colour noticeably."""
    return tuple(name for name, share in _shifts(knowledge, run) if share > 0.12)


def _shifts(knowledge: Knowledge, run: RunBefore) -> Iterator[tuple[str, float]]:
    """Which shifts the run before calls for, and with what share."""
    if run.how in knowledge.shifts:
        yield run.how, 1.0
    if ethanol_share(run.fuel) > 0.2 and "ethanol" in knowledge.shifts:
        yield "ethanol", 1.0
    if run.minutes_on_plugs is not None and "new-plugs" in knowledge.shifts:
        yield "new-plugs", float(0.5 ** (max(run.minutes_on_plugs, 0.0) / knowledge.general.settle_minutes))


def ethanol_share(fuel: str) -> float:
    """Share of ethanol that a fuel's name states.

    Examples
    --------
    >>> ethanol_share("E85"), ethanol_share("petrol"), ethanol_share("ethanol")
    (0.85, 0.0, 1.0)
    """
    if found := re.search(r"\be ?(\d{1,3})\b", fuel.lower()):
        return min(int(found[1]), 100) / 100
    return 1.0 if "ethanol" in fuel.lower() else 0.0


def symptom_term(found: Suspects, said: str, present: bool) -> Term:
    """What a symptom, present or asked and absent, says."""
    symptom = found.knowledge.symptoms[found.knowledge.symptom_id(said)]
    return NoisyOr(
        what=symptom.name if present else f"no {symptom.name[0].lower()}{symptom.name[1:]}",
        present=1.0 if present else 0.0,
        absent=0.0 if present else 1.0,
        leak=symptom.leak,
        strengths=found.symptom_strengths(symptom.id),
        unlisted=found.knowledge.general.nothing_listed_symptom,
    )


def repaired_by(found: Suspects, outcome: Outcome) -> Bools:
    """(n,) suspects that an outcome says were repaired; none for the outcome of a check."""
    these = np.zeros(len(found), dtype=bool)
    if outcome.check.startswith(REPAIR):
        cause = found.knowledge.cause_id(outcome.check.removeprefix(REPAIR))
        these[list(found.index(cause, outcome.where))] = True
    return these


def outcome_terms(found: Suspects, outcome: Outcome, mended: Bools | None = None) -> Iterator[Term]:
    """What the outcome of a check or of a tried repair says, one term a place.

    ``mended`` are the suspects repaired before the check was done.
    """
    if outcome.check.startswith(REPAIR):
        yield _tried(found, outcome, mended)
        return
    knowledge = found.knowledge
    check = knowledge.checks[knowledge.check_id(outcome.check)]
    result = knowledge.outcome_id(check.id, outcome.outcome)
    for place in find_places(found.engine, check.where, outcome.where):
        yield check_term(found, check.id, place, result, mended)


def check_term(found: Suspects, check_id: str, place: Place, outcome: str, mended: Bools | None = None) -> Mixed:
    """What one outcome of one check at one place says; ``mended`` suspects were repaired before."""
    check = found.knowledge.checks[check_id]
    names = list(check.outcomes)
    relevant, rows = check_rows(found, check, place)
    seen = np.zeros(len(names))
    seen[names.index(outcome)] = 1.0
    otherwise = np.array(check.otherwise)
    where = "" if place.name == "engine" else f", {place.name}"
    return Mixed(
        what=f"{check.name}{where}: {check.outcomes[outcome]}",
        likelihood=seen,
        none=0,
        rows=rows,
        relevant=relevant,
        otherwise=otherwise,
        unlisted=unlisted_row(found.knowledge, otherwise),
        mended=None if mended is None or not mended.any() else mended.copy(),
    )


def _tried(found: Suspects, outcome: Outcome, mended: Bools | None) -> Tried:
    cause = found.knowledge.cause_id(outcome.check.removeprefix(REPAIR))
    works = found.knowledge.general.repair_works
    spoilt = 1.0 - works
    odds = {
        "no-change": (0.6 * spoilt, 0.55, 0.96),
        "better": (0.4 * spoilt, 0.42, 0.03),
        "cured": (works, 0.03, 0.01),
    }
    if outcome.outcome not in odds:
        raise UserError(f'a repair cannot have the outcome "{outcome.outcome}"', "say one of: " + ", ".join(odds))
    these = repaired_by(found, outcome)
    before = None if mended is None else mended.copy()
    alone, one_of_two, missed = odds[outcome.outcome]
    name = found.knowledge.causes[cause].repair
    return Tried(f"{name}: {outcome.outcome.replace('-', ' ')}", these, alone, one_of_two, missed, before)
