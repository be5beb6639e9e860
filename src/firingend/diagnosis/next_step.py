"""Which step is worth doing next, by expected cost of repair."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from firingend.diagnosis.costs import Costs, costs
from firingend.diagnosis.diagnosis import RankedStep
from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.knowledge import Check
from firingend.diagnosis.outlook import Outlook, Visits, expected_cost, outlook, visits_for
from firingend.diagnosis.places import Place, find_places, places
from firingend.diagnosis.posterior import Posterior
from firingend.diagnosis.suspects import Bools, Floats, Suspects, applies, check_rows
from firingend.diagnosis.weighing import REPAIR

_LEAST_PROBABLE = 1e-9


@dataclass(frozen=True, slots=True)
class Choice:
    """One check at one place, and what it would do to the hypotheses of an outlook.

    Attributes
    ----------
    check, place
        What and where.
    given
        (outcomes, h) probability of each outcome under each hypothesis.
    """

    check: Check
    place: Place
    given: Floats = field(repr=False)


def rank_steps(posterior: Posterior, evidence: Evidence) -> tuple[RankedStep, ...]:
    """Every check still worth doing, cheapest expected cost of repair first.

    A check is worth doing when the expected cost of repair after it, its own cost included, is not above that
    of going on without it; if none is, the three best are given all the same.
    """
    knowledge = posterior.suspects.knowledge
    prices = costs(knowledge, evidence)
    done = checks_done(posterior.suspects, evidence)
    view = outlook(posterior)
    visits = visits_for(view, prices, done)
    now = float(expected_cost(view, view.weight[None, :], visits)[0])
    choices = list(_choices(view, done))
    if not choices:
        return ()
    after = _expected_after(view, choices, visits)
    totals = np.array([prices.check(choice.check).total for choice in choices]) + after
    order = _best_place_first(choices, totals)
    worth = [k for k in order if totals[k] <= now] or order[:3]
    return tuple(_step(view, choices[k], float(totals[k]), prices) for k in worth)


def _best_place_first(choices: list[Choice], totals: Floats) -> list[int]:
    """Cheapest first, each check once: at the place where it is worth most."""
    best: dict[str, int] = {}
    for k in np.argsort(totals, kind="stable"):
        best.setdefault(choices[k].check.id, int(k))
    return list(best.values())


def checks_done(found: Suspects, evidence: Evidence) -> frozenset[tuple[str, str]]:
    """(check id, place name) of every check with an outcome."""
    knowledge, done = found.knowledge, set()
    for outcome in evidence.outcomes:
        if outcome.check.startswith(REPAIR):
            continue
        check = knowledge.checks[knowledge.check_id(outcome.check)]
        done |= {(check.id, place.name) for place in find_places(found.engine, check.where, outcome.where)}
    return frozenset(done)


def _choices(view: Outlook, done: frozenset[tuple[str, str]]) -> Iterator[Choice]:
    found = view.suspects
    for check in found.knowledge.checks.values():
        if not applies(check.applies, found.engine):
            continue
        for place in places(found.engine, check.where):
            if (check.id, place.name) in done:
                continue
            relevant, rows = check_rows(found, check, place)
            if relevant[view.rows].any():
                yield Choice(check, place, _given(view, check, relevant[view.rows], rows[view.rows]))


def _given(view: Outlook, check: Check, relevant: Bools, rows: Floats) -> Floats:
    """(outcomes, h): the mixed rule of `terms.Mixed`, for the hypotheses of an outlook only."""
    otherwise = np.array(check.otherwise)
    idle = np.append(np.where(relevant, rows[:, 0], 1.0), 1.0)
    finding = np.vstack([np.where(relevant[:, None], rows, 0.0), np.zeros(len(otherwise))])
    touched = np.append(relevant, False)
    a, b = view.first, view.second
    given = 0.5 * (finding[a] * (1.0 + idle[b])[:, None] + finding[b] * (1.0 + idle[a])[:, None])
    given[:, 0] = idle[a] * idle[b]
    given = np.where((touched[a] | touched[b])[:, None], given, otherwise)
    given[-1] = 0.5 * otherwise + 0.5 / len(otherwise)
    transposed: Floats = given.T
    return transposed


def _expected_after(view: Outlook, choices: list[Choice], visits: Visits) -> Floats:
    """(choices,) expected cost of repair after each check, its own cost not counted."""
    joint = np.vstack([choice.given for choice in choices]) * view.weight
    chance = joint.sum(axis=1)
    cost = expected_cost(view, joint / np.maximum(chance, _LEAST_PROBABLE)[:, None], visits)
    sizes = [len(choice.given) for choice in choices]
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    after: Floats = np.add.reduceat(chance * cost, starts)
    return after


def _step(view: Outlook, choice: Choice, total: float, prices: Costs) -> RankedStep:
    price = prices.check(choice.check)
    cautions = view.suspects.knowledge.cautions
    return RankedStep(
        id=choice.check.id,
        name=choice.check.name,
        where=choice.place.name,
        why=_why(view, choice),
        how=choice.check.how,
        minutes=price.minutes,
        parts_cost=price.parts,
        expected_cost=total,
        cautions=tuple(cautions[name].text for name in choice.check.cautions),
        source=choice.check.source,
    )


def _why(view: Outlook, choice: Choice) -> str:
    """What the likeliest finding would point to, and what no finding would clear."""
    joint = choice.given * view.weight
    chance = joint.sum(axis=1)
    at_fault = (joint @ view.members()) / np.maximum(chance, _LEAST_PROBABLE)[:, None]
    before = view.weight @ view.members()
    names = list(choice.check.outcomes)
    finding = 1 + int(np.argmax(chance[1:]))
    leader = int(np.argmax(at_fault[finding] - before))
    text = (
        f"{_capital(choice.check.outcomes[names[finding]])} ({chance[finding]:.0%} likely) would raise "
        f"{_named(view, leader)} from {before[leader]:.0%} to {at_fault[finding, leader]:.0%}."
    )
    drop = before - at_fault[0]
    cleared = [int(k) for k in np.argsort(-drop)[:2] if drop[k] > 0.02]
    if cleared:
        parts = [f"{_named(view, k)} from {before[k]:.0%} to {at_fault[0, k]:.0%}" for k in cleared]
        text += f" {_capital(choice.check.outcomes[names[0]])} would lower {' and '.join(parts)}."
    return text


def _named(view: Outlook, row: int) -> str:
    suspect = view.suspects.each[view.rows[row]]
    name = suspect.cause.name.split(" (")[0]
    name = name[0].lower() + name[1:] if not name[:2].isupper() else name
    return name if suspect.place.name == "engine" else f"{name} ({suspect.place.name})"


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]
