"""Measurements turned into outcomes of the checks they settle."""

from __future__ import annotations

from dataclasses import replace

from firingend.bench.judge import judge
from firingend.bench.measurement import Finding
from firingend.diagnosis.evidence import Evidence, Outcome
from firingend.diagnosis.knowledge import Knowledge
from firingend.diagnosis.places import find_places
from firingend.diagnosis.suspects import applies
from firingend.diagnosis.weighing import REPAIR


def findings(evidence: Evidence) -> tuple[Finding, ...]:
    """What each measurement says; raises `UserError` for one that cannot be."""
    return judge(evidence.measurements)


def with_measured_outcomes(evidence: Evidence, knowledge: Knowledge) -> Evidence:
    """The evidence with an outcome for every check that a measurement settles.

    An outcome the technician wrote down for the same check and place comes first and is not touched. Where two
    measurements settle one check at one place (primary and secondary resistance of a coil, inlet and exhaust
    clearance of a cylinder), the one with a finding counts.
    """
    if not evidence.measurements:
        return evidence
    written = {
        (check, place.name)
        for outcome in evidence.outcomes
        if not outcome.check.startswith(REPAIR)
        for check in [knowledge.check_id(outcome.check)]
        for place in find_places(evidence.engine, knowledge.checks[check].where, outcome.where)
    }
    measured: dict[tuple[str, str], Outcome] = {}
    for finding in findings(evidence):
        check = knowledge.checks.get(finding.check)
        if check is None or not applies(check.applies, evidence.engine):
            continue
        for place in find_places(evidence.engine, check.where, finding.where):
            key = (check.id, place.name)
            passed = finding.outcome == next(iter(check.outcomes))
            if key not in written and not (passed and key in measured):
                measured[key] = Outcome(check.id, place.name, finding.outcome)
    return replace(evidence, outcomes=(*evidence.outcomes, *measured.values()), measurements=())
