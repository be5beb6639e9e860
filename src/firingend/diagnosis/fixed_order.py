"""What looking took on one engine, against going through the checks in the same order on every engine."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from firingend.diagnosis.costs import Costs, Price, costs
from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.knowledge import Knowledge, load
from firingend.diagnosis.measured import with_measured_outcomes
from firingend.diagnosis.next_step import checks_done
from firingend.diagnosis.places import find_places
from firingend.diagnosis.suspects import Suspects, suspects
from firingend.diagnosis.tables import Tables, tables
from firingend.diagnosis.weighing import REPAIR
from firingend.errors import UserError

ORDER: Final = (
    # ignition
    "plug-part-number", "plug-gap", "plug-insulator", "spark-test", "coil-resistance", "lead-resistance",
    "distributor-cap-and-rotor", "contact-points", "magneto-air-gap", "ignition-supply", "trigger-sensor",
    "coil-trigger", "swap-coil", "swap-plug", "ignition-timing", "lead-order",
    # air
    "air-filter", "snorkel", "vacuum-hoses", "breather-valve", "intake-leak", "intake-leak-cylinder",
    "throttle-sensor", "idle-valve", "air-meter", "intake-pressure-sensor",
    # fuel pump and pressure
    "pump-prime-sound", "fuel-quality", "tank-vent", "pump-voltage", "pump-delivery", "fuel-filter",
    "fuel-strainer", "fuel-pressure-idle", "fuel-pressure-load", "regulator-hose-fuel", "fuel-pressure-hold",
    "return-pinch", "rail-pressure-live", "coolant-temperature-sensor", "intake-temperature-sensor",
    "oxygen-sensor", "enrichment-device",
    # injectors, carburettors
    "injector-click", "injector-resistance", "injector-driver", "injector-balance", "injector-dribble",
    "injector-spray", "rail-flow", "choke-return", "bowl-overflow", "mixture-screw", "carburettor-balance",
    "carburettor-diaphragm", "float-height", "needle-and-seat", "jets", "throttle-body-balance",
    # mechanical
    "oil-level", "coolant-level", "cooling", "two-stroke-oil-ratio", "compression-dry", "compression-wet",
    "leak-down", "coolant-hydrocarbon", "stem-seal-smoke", "borescope", "exhaust-back-pressure", "valve-clearance",
    "cam-timing", "turbo-look", "reed-valve", "crankcase-pressure",
)  # fmt: skip
"""Ignition, air, fuel pump and pressure, injectors and carburettors, mechanical: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Effort:
    """Working minutes, and money for time and parts together."""

    minutes: float
    money: float


@dataclass(frozen=True, slots=True)
class OrderOfWork:
    """One job against the fixed order; the right repair, the same in both, is left out.

    Attributes
    ----------
    looked
        The checks done and the repairs tried in vain, at the knowledge's prices.
    fixed
        The fixed order up to the check that settles the cause found, at the same prices.
    """

    looked: Effort
    fixed: Effort

    @property
    def saved(self) -> Effort:
        """What the fixed order would have taken more; negative where it would have taken less."""
        return Effort(self.fixed.minutes - self.looked.minutes, self.fixed.money - self.looked.money)


def order_of_work(
    evidence: Evidence, found: Sequence[tuple[str, str]], knowledge: Knowledge | None = None
) -> OrderOfWork | None:
    """Set what was done against the fixed order.

    Both are reckoned with the minutes and parts of the knowledge, opening work paid once, so that like stands against
    like; what the clock said is another matter. In the fixed order a check of single cylinders is done on those whose
    plugs are odd first.

    Parameters
    ----------
    evidence
        The engine as it came in, with the checks in the order they were done.
    found
        The causes that it was, each with where it sat.
    knowledge
        The shipped one when None.

    Returns
    -------
    OrderOfWork | None
        None where that cannot be said: no cause was found, or one that the knowledge does not know on this engine,
        or neither a check that settles it nor a repair that cured it is written down.
    """
    if not found or not (evidence.outcomes or evidence.measurements):
        return None
    knowledge = knowledge or load()
    try:
        evidence = with_measured_outcomes(evidence, knowledge)
        everything = tables(suspects(knowledge, evidence.engine))
        found = [(knowledge.cause_id(cause), where) for cause, where in found]
        settling = [_settling(everything, cause, where) for cause, where in found]
        done = _done(everything, evidence)
        cured = _cured(everything.suspects, evidence)
        if any(
            not choices or not (choices & done or cause in cured)
            for choices, (cause, _) in zip(settling, found, strict=True)
        ):
            return None
        looked = _looked(everything.suspects, evidence)
    except UserError:
        return None
    order = _in_order(everything, evidence)
    return OrderOfWork(looked, _gone_through(everything, order, settling, _at_first(knowledge, evidence)))


def _settling(everything: Tables, cause: str, where: str) -> frozenset[int]:
    """Which choices settle a cause where it was found, by index."""
    found = everything.suspects
    known = found.knowledge.causes[cause]
    these = found.index(cause, where)
    return frozenset(
        k
        for k, choice in enumerate(everything.choices)
        if choice.check.id in known.confirmed_by and any(everything.relevant[k, suspect] for suspect in these)
    )


def _done(everything: Tables, evidence: Evidence) -> frozenset[int]:
    done = checks_done(everything.suspects, evidence)
    return frozenset(k for k, each in enumerate(everything.choices) if (each.check.id, each.place.name) in done)


def _cured(found: Suspects, evidence: Evidence) -> frozenset[str]:
    return frozenset(
        found.knowledge.cause_id(outcome.check.removeprefix(REPAIR))
        for outcome in evidence.outcomes
        if outcome.check.startswith(REPAIR) and outcome.outcome == "cured"
    )


def _looked(found: Suspects, evidence: Evidence) -> Effort:
    knowledge, spent = found.knowledge, []
    prices = _at_first(knowledge, evidence)
    for outcome in evidence.outcomes:
        if outcome.check.startswith(REPAIR):
            if outcome.outcome != "cured":
                cause = knowledge.causes[knowledge.cause_id(outcome.check.removeprefix(REPAIR))]
                spent.append(prices.repair(cause))
            continue
        check = knowledge.checks[knowledge.check_id(outcome.check)]
        for _ in find_places(found.engine, check.where, outcome.where):
            spent.append(prices.check(check))
            prices = prices.after(check)
    return _sum(spent)


def _at_first(knowledge: Knowledge, evidence: Evidence) -> Costs:
    """Prices before anything was done but taking the plugs out."""
    return costs(knowledge, replace(evidence, outcomes=(), measurements=()))


def _in_order(everything: Tables, evidence: Evidence) -> list[int]:
    """Every choice, by index, as the fixed order takes them."""
    odd = {n for n, reading in evidence.readings.items() if reading.label != "normal-tan"}
    ranks = {name: rank for rank, name in enumerate(ORDER)}

    def rank(k: int) -> tuple[bool, int]:
        choice = everything.choices[k]
        put_off = choice.check.where != "engine" and bool(odd) and not odd & set(choice.place.cylinders)
        return put_off, ranks.get(choice.check.id, len(ORDER))

    return sorted(range(len(everything.choices)), key=rank)


def _gone_through(
    everything: Tables, order: Iterable[int], settling: Iterable[frozenset[int]], prices: Costs
) -> Effort:
    spent, open_questions = [], list(settling)
    for k in order:
        check = everything.choices[k].check
        spent.append(prices.check(check))
        prices = prices.after(check)
        open_questions = [choices for choices in open_questions if k not in choices]
        if not open_questions:
            break
    return _sum(spent)


def _sum(prices: Iterable[Price]) -> Effort:
    each = list(prices)
    return Effort(sum(price.minutes for price in each), sum(price.total for price in each))
