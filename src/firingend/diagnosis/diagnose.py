"""From evidence to a diagnosis: causes with probabilities, and the checks worth doing next."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from firingend.diagnosis.conflict import conflicts
from firingend.diagnosis.diagnosis import Diagnosis, RankedCause
from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.knowledge import Knowledge, load
from firingend.diagnosis.measured import findings, with_measured_outcomes
from firingend.diagnosis.next_step import next_steps
from firingend.diagnosis.posterior import Posterior, prior_balance, weigh
from firingend.diagnosis.questions import worth_asking
from firingend.diagnosis.suspects import HEALTHY, NOTHING_LISTED, suspects
from firingend.diagnosis.weighing import shifts_called_for, terms
from firingend.labels import UNREADABLE

_SHOWN = 20
_LEAST_SHOWN = 0.002
_LARGE = 0.3


def diagnose(
    evidence: Evidence,
    knowledge: Knowledge | None = None,
    *,
    skipped: frozenset[str] = frozenset(),
    pinned: tuple[str, ...] = (),
) -> Diagnosis:
    """Weigh the evidence and rank causes and next checks.

    Parameters
    ----------
    evidence
        Everything known about one engine.
    knowledge
        What to judge it by; the shipped knowledge when left out.
    skipped
        Ids of checks that cannot be done here.
    pinned
        Ids of checks wanted first.

    Raises
    ------
    UserError
        An aircraft engine; a symptom, check, outcome or place that does not exist.
    """
    known = knowledge if knowledge is not None else load()
    found = suspects(known, evidence.engine)
    given, evidence = evidence, with_measured_outcomes(evidence, known)
    items = list(terms(found, evidence))
    posterior = weigh(found, items)
    skip = frozenset(known.check_id(name) for name in skipped)
    ranking = next_steps(posterior, evidence, skipped=skip, pinned=[known.check_id(name) for name in pinned])
    return Diagnosis(
        causes=_ranked_causes(posterior),
        next=ranking.steps,
        ruled_out=_ruled_out(posterior),
        currency=evidence.currency,
        notes=(*_notes(given, known, posterior), *(c.sentence() for c in conflicts(found, items))),
        advice=ranking.advice,
        questions=worth_asking(posterior, evidence),
    )


def _ranked_causes(posterior: Posterior) -> tuple[RankedCause, ...]:
    chance = posterior.at_fault()
    shown = [_ranked(posterior, int(k), float(chance[k])) for k in np.argsort(-chance, kind="stable")[:_SHOWN]]
    cylinders = posterior.suspects.engine.cylinders
    shown.append(
        RankedCause(HEALTHY, "Nothing wrong", "engine", posterior.healthy,
                    "Run it properly and read the plugs again", cylinders)
    )  # fmt: skip
    shown.append(
        RankedCause(NOTHING_LISTED, "Nothing listed explains this", "engine", posterior.nothing_listed,
                    "Hand over to a specialist", cylinders)
    )  # fmt: skip
    shown.sort(key=lambda cause: -cause.probability)
    return tuple(cause for k, cause in enumerate(shown) if k == 0 or cause.probability >= _LEAST_SHOWN)


def _ranked(posterior: Posterior, row: int, probability: float) -> RankedCause:
    suspect = posterior.suspects.each[row]
    return RankedCause(
        id=suspect.cause.id,
        name=suspect.cause.name,
        where=suspect.place.name,
        probability=probability,
        repair=suspect.cause.repair,
        cylinders=suspect.place.cylinders,
    )


def _ruled_out(posterior: Posterior) -> tuple[RankedCause, ...]:
    """What was worth suspecting before the evidence and is not any more, likeliest before it first."""
    before = prior_balance(posterior.suspects, pairs=False).posterior().single
    after = posterior.at_fault()
    out = np.flatnonzero((before > 0.004) & (after < 0.002) & (after < before / 10))
    return tuple(_ranked(posterior, int(k), float(after[k])) for k in out[np.argsort(-before[out])][:_SHOWN])


def _notes(evidence: Evidence, known: Knowledge, posterior: Posterior) -> Iterator[str]:
    yield from _what_the_plugs_can_mean(evidence, known)
    blind = sorted(n for n, reading in evidence.readings.items() if reading.label == UNREADABLE)
    if blind:
        which = ", ".join(str(n) for n in blind)
        yield f"The plug of cylinder {which} could not be read and adds nothing: photograph it again."
    if posterior.nothing_listed > _LARGE:
        yield "Nothing listed explains this well: look for what is not in the list, or ask a specialist."
    for finding in findings(evidence):
        yield f"{finding.what.replace('-', ' ').capitalize()}, {finding.where}: {finding.verdict}. {finding.reason}"


def _what_the_plugs_can_mean(evidence: Evidence, known: Knowledge) -> Iterator[str]:
    """How far the plugs can be believed, given how they were run and what they are."""
    if not evidence.readings:
        return
    yield from (known.shifts[name].says for name in shifts_called_for(known, evidence.run))
    if evidence.engine.strokes == 2:
        yield "Two-strokes burn oil by design: a light brown oily film is normal."
    for n, reading in evidence.readings.items():
        if reading.unused > _LARGE:
            yield f"The plug of cylinder {n} looks unused: a new plug is white and clean, which does not say lean."
        if reading.signs.get("additive-tint", 0.0) > _LARGE:
            yield f"A fuel additive seems to have tinted the plug of cylinder {n}: its tint says nothing of mixture."
