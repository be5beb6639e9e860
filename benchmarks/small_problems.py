"""Small random engines on which the cheapest plan of all can be found by brute force."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from firingend.diagnosis.costs import Costs
from firingend.diagnosis.knowledge import Cause, Check, Knowledge, Opening, load
from firingend.diagnosis.lookahead import look_ahead
from firingend.diagnosis.outlook import Outlook, outlook
from firingend.diagnosis.plan import Action, Problem, best_plan, greedy_plan, probability_over_price
from firingend.diagnosis.posterior import prior_balance
from firingend.diagnosis.suspects import suspects
from firingend.diagnosis.tables import Tables, tables
from firingend.engine.engine import Bank, Engine

SINGLE = Engine("single", (1,), "single", 4, "carburettor", "magneto", (1,), (Bank("", (1,)),), ())
RATE = 60.0


@dataclass(frozen=True, slots=True)
class Result:
    """Expected costs of one small problem: this project's way, greedy, the optimum; and the repair due anyway."""

    ours: float
    greedy: float
    optimum: float
    due: float


def draw_knowledge(rng: np.random.Generator) -> Knowledge:
    """Three or four causes and the rest checks, seven actions together; minutes and parts of all sizes."""
    shipped = load()
    causes = int(rng.integers(3, 5))
    names = [f"cause-{k}" for k in range(causes)]
    checks = {}
    for k in range(7 - causes):
        size = int(rng.integers(2, 4))
        sharp = rng.uniform(0.7, 0.97)
        speaks = rng.choice(names, int(rng.integers(1, causes)), replace=False)
        rows = {}
        for name in speaks:
            row = np.full(size, (1 - sharp) / (size - 1))
            row[int(rng.integers(1, size))] = sharp
            rows[str(name)] = tuple(float(x) for x in row)
        plain = np.full(size, 0.06 / (size - 1))
        plain[0] = 0.94
        checks[f"check-{k}"] = Check(
            id=f"check-{k}", name=f"check {k}", where="engine", minutes=float(rng.uniform(2, 40)), how=("look",) * 3,
            outcomes={f"o{i}": f"o{i}" for i in range(size)}, otherwise=tuple(float(x) for x in plain), given=rows,
            parts=0.0, opens=("lid",) if rng.random() < 0.4 else (), source="drawn",
        )  # fmt: skip
    drawn = {
        name: Cause(
            id=name, name=name, scope="engine", weight=float(rng.uniform(1, 10)), plug="healthy", repair=name,
            minutes=float(rng.uniform(10, 120)), parts=float(rng.uniform(0, 250)), source="drawn",
            confirmed_by=tuple(c for c, check in checks.items() if name in check.given),
            opens=("lid",) if rng.random() < 0.4 else (),
        )
        for name in names
    }  # fmt: skip
    lid = Opening("lid", "lid off", float(rng.uniform(5, 40)), "drawn")
    general = replace(shipped.general, healthy=1e-9, nothing_listed=0.05, repair_works=1.0, test_minutes=0.0)
    return replace(shipped, general=general, causes=drawn, checks=checks, openings={"lid": lid})


def solve(seed: int) -> Result:
    """Draw one problem and solve it three ways."""
    knowledge = draw_knowledge(np.random.default_rng(seed))
    found = suspects(knowledge, SINGLE)
    view = outlook(prior_balance(found, pairs=False).posterior())
    everything = tables(found)
    prices = Costs(knowledge, RATE, frozenset())
    problem = _problem(view, everything, prices)
    due = float(np.asarray(problem.due) @ view.weight)
    return Result(
        ours=_play(view, everything, prices, frozenset(), ()),
        greedy=greedy_plan(problem, probability_over_price).price,
        optimum=best_plan(problem).price,
        due=due,
    )


def _problem(view: Outlook, everything: Tables, prices: Costs) -> Problem:
    given = everything.given(*view.columns())
    given[:, -1] = everything.unlisted
    actions = []
    for k, choice in enumerate(everything.choices):
        rows = slice(everything.start[k], everything.start[k] + len(choice.check.outcomes))
        price = choice.check.minutes / 60 * RATE
        actions.append(Action(choice.check.id, price, given[rows], opens=frozenset(choice.check.opens)))
    due = np.zeros(len(view.first))
    for m, row in enumerate(view.rows):
        cause = view.suspects.each[row].cause
        price = cause.minutes / 60 * RATE + cause.parts
        cures = (view.first == m).astype(float)
        due += cures * prices.repair(cause).total
        actions.append(Action(cause.id, price, np.array([1 - cures, cures]), 1, frozenset(cause.opens)))
    openings = {name: opening.minutes / 60 * RATE for name, opening in prices.knowledge.openings.items()}
    return Problem(view.weight, tuple(actions), openings, prices.hand_over(), due=due)


def _play(
    view: Outlook, everything: Tables, prices: Costs, done: frozenset[tuple[str, str]], repaired: tuple[int, ...]
) -> float:
    """Exact expected cost of always taking the step that looking ahead ranks first."""
    ahead = look_ahead(view, everything, prices, done)
    repairs = ahead.repairs.copy()
    repairs[list(repaired)] = np.inf
    check = float(ahead.checks.min(initial=np.inf))
    repair = float(repairs.min(initial=np.inf))
    start = Costs(prices.knowledge, RATE, frozenset())
    if ahead.hand_over <= min(check, repair):
        due = [start.repair(view.suspects.each[row].cause).total for row in view.rows]
        return prices.hand_over() + sum(float(view.weight[k]) * due[m] for k, m in enumerate(view.first) if m >= 0)
    if repair <= check:
        m = int(np.argmin(repairs))
        cause = view.suspects.each[view.rows[m]].cause
        left = np.where(view.first == m, 0.0, view.weight)
        opened = replace(prices, opened=prices.opened | frozenset(cause.opens))
        rest = float(left.sum())
        if rest < 1e-9:
            return prices.repair(cause).total
        after = replace(view, weight=left / rest)
        return prices.repair(cause).total + rest * _play(after, everything, opened, done, (*repaired, m))
    k = int(np.argmin(ahead.checks))
    choice = ahead.choices.choices[k]
    start_row = int(ahead.choices.start[k])
    joint = ahead.given[start_row : start_row + len(choice.check.outcomes)] * view.weight
    cost = prices.check(choice.check).total
    for row in joint:
        chance = float(row.sum())
        if chance > 1e-9:
            after = replace(view, weight=row / chance)
            now = done | {(choice.check.id, choice.place.name)}
            cost += chance * _play(after, everything, prices.after(choice.check), now, repaired)
    return cost
