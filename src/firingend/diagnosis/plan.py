"""Small troubleshooting problems solved exactly, and the greedy rule they are compared with.

A problem has hypotheses, actions with outcomes, prices and opening work, and a price of giving up. The exact plan
is found by trying every action after every history of outcomes; it is what looking ahead is measured against, and
only good for a handful of actions.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from firingend.diagnosis.suspects import Floats


@dataclass(frozen=True, slots=True)
class Action:
    """One thing that can be done once.

    Attributes
    ----------
    name
        Whatever tells it apart.
    price
        Its own price, opening work left out.
    given
        (outcomes, h) probability of each outcome under each hypothesis.
    ends
        Index of the outcome after which nothing more need be done; None for a look.
    opens
        Names of opening work it needs.
    mends
        Names of faults that it puts right; for a hypothesis to end, every fault of it must be put right.
    """

    name: str
    price: float
    given: Floats = field(repr=False)
    ends: int | None = None
    opens: frozenset[str] = frozenset()
    mends: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Problem:
    """What is to be solved.

    Attributes
    ----------
    weight
        (h,) weight of each hypothesis.
    actions
        What can be done.
    openings
        Price of each piece of opening work.
    give_up
        Price of giving up; infinite for never.
    faults
        Names of the faults of each hypothesis; empty when every repair's outcomes say all.
    due
        (h,) what giving up costs on top under each hypothesis (the repair that is due anyway); None for nothing.
    """

    weight: Floats
    actions: tuple[Action, ...]
    openings: dict[str, float] = field(default_factory=dict)
    give_up: float = np.inf
    faults: tuple[frozenset[str], ...] = ()
    due: Floats | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """Expected price and the first action; "" when giving up is best."""

    price: float
    first: str
    line: tuple[str, ...] = ()
    """Actions in order as long as nothing is found."""


def repair(name: str, price: float, cures: Sequence[int], size: int, works: float = 1.0, **more: object) -> Action:
    """A repair that cures the hypotheses listed by index; its first outcome is "still faulty", its second "cured"."""
    cured = np.zeros(size)
    cured[list(cures)] = works
    return Action(name, price, np.array([1.0 - cured, cured]), ends=1, **more)  # type: ignore[arg-type]


def best_plan(problem: Problem) -> Plan:
    """The cheapest plan of all, by trying everything."""
    return _Solver(problem, None).solve()


def greedy_plan(problem: Problem, score: Callable[[Action, Floats, float], float] | None = None) -> Plan:
    """The plan that always takes the action with the best score, by default probability of ending over price.

    The price of opening work counts in full for the action that happens to need it first.
    """
    return _Solver(problem, score or probability_over_price).solve()


def probability_over_price(action: Action, weight: Floats, price: float) -> float:
    """Chance that the action ends it, over its price with the opening work it still needs."""
    ends = 0.0 if action.ends is None else float(action.given[action.ends] @ weight / weight.sum())
    return ends / price


class _Solver:
    def __init__(self, problem: Problem, score: Callable[[Action, Floats, float], float] | None) -> None:
        self.problem = problem
        self.score = score
        self.known: dict[tuple[tuple[int, int], ...], Plan] = {}

    def solve(self) -> Plan:
        return self._plan(np.asarray(self.problem.weight, dtype=float) / np.sum(self.problem.weight), (), frozenset())

    def _plan(self, weight: Floats, history: tuple[tuple[int, int], ...], opened: frozenset[str]) -> Plan:
        key = tuple(sorted(history))
        if key not in self.known:
            self.known[key] = self._choose(weight, history, opened)
        return self.known[key]

    def _choose(self, weight: Floats, history: tuple[tuple[int, int], ...], opened: frozenset[str]) -> Plan:
        tried = {index for index, _ in history}
        left = [k for k in range(len(self.problem.actions)) if k not in tried]
        options = [self._give_up(weight)] if np.isfinite(self.problem.give_up) or not left else []
        if self.score is not None and left:
            scores = [self.score(a, weight, self._price(a, opened)) for a in (self.problem.actions[k] for k in left)]
            left = [left[int(np.argmax(scores))]]
        options += [self._take(k, weight, history, opened) for k in left]
        return min(options, key=lambda plan: plan.price)

    def _give_up(self, weight: Floats) -> Plan:
        due = 0.0 if self.problem.due is None else float(self.problem.due @ weight)
        return Plan(self.problem.give_up + due, "")

    def _price(self, action: Action, opened: frozenset[str]) -> float:
        return action.price + sum(self.problem.openings[name] for name in action.opens - opened)

    def _take(self, k: int, weight: Floats, history: tuple[tuple[int, int], ...], opened: frozenset[str]) -> Plan:
        action = self.problem.actions[k]
        price = self._price(action, opened)
        line: tuple[str, ...] = (action.name,)
        given = self._given(action, history)
        for outcome, row in enumerate(given):
            joint = row * weight
            chance = float(joint.sum())
            if outcome == action.ends or chance < 1e-12:
                continue
            after = self._plan(joint / chance, (*history, (k, outcome)), opened | action.opens)
            price += chance * after.price
            if outcome == 0:
                line += after.line
        return Plan(price, action.name, line)

    def _given(self, action: Action, history: tuple[tuple[int, int], ...]) -> Floats:
        """A repair ends it only if, with the repairs before, every fault of the hypothesis is put right."""
        if not self.problem.faults or action.ends is None:
            return action.given
        mended = action.mends.union(*(self.problem.actions[k].mends for k, _ in history))
        cured = np.array([float(faults <= mended) for faults in self.problem.faults])
        return np.array([1.0 - cured, cured])
