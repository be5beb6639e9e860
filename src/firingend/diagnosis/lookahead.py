"""The expected cost of repair after each step that could be taken next: every check, every repair, handing over.

One step ahead, a step is worth its price plus the plain plan's expected cost in each state it can lead to. Two
steps ahead, done for the best few, each of those states is worth the best step from there instead. Opening work is
paid once: what a step opens is open in the states after it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from firingend.diagnosis.costs import Costs
from firingend.diagnosis.outlook import Outlook, Visits, expected_cost, visits_for
from firingend.diagnosis.suspects import Floats
from firingend.diagnosis.tables import Ints, Tables

_NEVER = 1e-12
_RARE_STATE = 1e-4


@dataclass(frozen=True, slots=True)
class Ahead:
    """What each possible next step leads to.

    Attributes
    ----------
    view
        The hypotheses.
    choices
        The checks that can be done, and their outcome rows.
    given
        (r, h) probability of each outcome under each hypothesis.
    checks
        (c,) expected cost of repair if the check is done next, its own price included.
    repairs
        (m,) the same if the suspect is repaired next.
    hand_over
        The same if the engine is handed over.
    plain
        Expected cost of the plain plan from here.
    """

    view: Outlook
    choices: Tables = field(repr=False)
    given: Floats = field(repr=False)
    checks: Floats = field(repr=False)
    repairs: Floats = field(repr=False)
    hand_over: float
    plain: float

    def best(self) -> float:
        """Expected cost of repair of the best step."""
        return min(self.hand_over, *(float(v) for v in (*self.checks, *self.repairs)))


def look_ahead(
    view: Outlook,
    everything: Tables,
    prices: Costs,
    done: frozenset[tuple[str, str]],
    *,
    skipped: frozenset[str] = frozenset(),
    wide: int = 6,
) -> Ahead:
    """Weigh every next step.

    Parameters
    ----------
    view
        The hypotheses.
    everything
        All checks of the engine.
    prices
        Prices at this moment.
    done
        (check id, place name) of what was done; it is not offered again.
    skipped
        Ids of checks that cannot be done.
    wide
        How many of the best checks and repairs are looked at two steps ahead; 0 for one step only.
    """
    kept = _open_choices(view, everything, done, skipped)
    choices = everything.pick(kept)
    barred = done | {(name, c.place.name) for c in everything.choices for name in [c.check.id] if name in skipped}
    search = _Search(view, choices, prices, barred)
    checks = search.check_values(view.weight[None, :])[0]
    repairs = search.repair_values(view.weight[None, :])[0]
    plain = float(search.leaf(view.weight[None, :], frozenset())[0])
    if wide:
        checks, repairs = search.deepen(checks, repairs, wide)
    return Ahead(view, choices, search.given, checks, repairs, prices.hand_over(), plain)


def _open_choices(view: Outlook, everything: Tables, done: frozenset[tuple[str, str]], skipped: frozenset[str]) -> Ints:
    bears = np.asarray(everything.relevant[:, view.rows].any(axis=1))
    return np.array(
        [
            k
            for k, choice in enumerate(everything.choices)
            if bears[k] and choice.check.id not in skipped and (choice.check.id, choice.place.name) not in done
        ],
        dtype=np.int64,
    )


@dataclass(frozen=True, slots=True)
class _Moves:
    """Where the probability of each hypothesis goes when a suspect is repaired and the fault stays.

    ``keep`` (m, h) is the factor it keeps; ``repaired``, ``source`` and ``target`` list the pairs that a repair
    turns into what is left of them, with probability ``works``.
    """

    keep: Floats
    repaired: Ints
    source: Ints
    target: Ints
    works: float

    def apply(self, weights: Floats) -> Floats:
        """(s, m, h) unnormalised weights after each repair that did not cure."""
        after = weights[:, None, :] * self.keep
        states = np.arange(len(weights))[:, None]
        np.add.at(after, (states, self.repaired, self.target), self.works * weights[:, self.source])
        return after


def _moves(view: Outlook, works: float) -> _Moves:
    single = {int(a): k for k, (a, b) in enumerate(zip(view.first, view.second, strict=True)) if b < 0 <= a}
    keep = np.ones((len(view.rows), len(view.first)))
    listed: list[tuple[int, int, int]] = []
    for k, (a, b) in enumerate(zip(view.first.tolist(), view.second.tolist(), strict=True)):
        if a >= 0 > b:
            keep[a, k] = 1.0 - works
        for fixed, rest in ((a, b), (b, a)) if b >= 0 else ():
            if rest in single:
                keep[fixed, k] = 1.0 - works
                listed.append((fixed, k, single[rest]))
    repaired, source, target = np.array(listed, dtype=np.int64).reshape(-1, 3).T
    return _Moves(keep, repaired, source, target, works)


class _Search:
    """One look ahead: the arrays that every state shares."""

    def __init__(
        self,
        view: Outlook,
        choices: Tables,
        prices: Costs,
        done: frozenset[tuple[str, str]],
        moves: _Moves | None = None,
    ) -> None:
        self.view, self.choices, self.prices, self.done = view, choices, prices, done
        self.given = choices.given(*view.columns())
        self.given[:, -1] = choices.unlisted
        begun = {check for check, _ in done}
        self.price = np.array(
            [prices.check(c.check, further=c.check.id in begun).total for c in choices.choices], dtype=float
        )
        self._visits: dict[frozenset[str], Visits] = {}
        opens = [frozenset(c.check.opens) - prices.opened for c in choices.choices]
        self.groups = [
            (opened, np.array([k for k, names in enumerate(opens) if names == opened]))
            for opened in dict.fromkeys(opens)
        ]
        self.moves = moves or _moves(view, prices.knowledge.general.repair_works)

    def leaf(self, weights: Floats, opened: frozenset[str]) -> Floats:
        """(s,) plain plan from each state, with ``opened`` open besides what is."""
        return expected_cost(self.view, weights, self.visits(opened))

    def visits(self, opened: frozenset[str]) -> Visits:
        """Prices of dealing with each suspect, worked out once for each set of opening work."""
        if opened not in self._visits:
            self._visits[opened] = visits_for(self.view, self.prices, self.done, opened)
        return self._visits[opened]

    def check_values(self, weights: Floats) -> Floats:
        """(s, c) expected cost one step ahead of each check from each state."""
        states, count = len(weights), len(self.price)
        values = np.empty((states, count))
        for opened, members in self.groups:
            rows = np.flatnonzero(np.isin(self.choices.owner, members))
            joint = weights[:, None, :] * self.given[rows]
            chance = joint.sum(axis=2)
            flat = joint.reshape(-1, joint.shape[2]) / np.maximum(chance.reshape(-1, 1), _NEVER)
            cost = self.leaf(flat, opened).reshape(chance.shape)
            starts = np.flatnonzero(np.diff(self.choices.owner[rows], prepend=-1))
            values[:, members] = np.add.reduceat(chance * cost, starts, axis=1)
        return np.asarray(values + self.price)

    def repair_values(self, weights: Floats) -> Floats:
        """(s, m) expected cost one step ahead of each repair from each state."""
        visits = self.visits(frozenset())
        uncured = self.moves.apply(weights)
        left = uncured.sum(axis=2)
        flat = uncured.reshape(-1, uncured.shape[2]) / np.maximum(left.reshape(-1, 1), _NEVER)
        cost = self.leaf(flat, frozenset()).reshape(left.shape)
        return np.asarray(visits.repair[: left.shape[1]] + left * cost)

    def deepen(self, checks: Floats, repairs: Floats, wide: int) -> tuple[Floats, Floats]:
        """The best few of both, two steps ahead; the others keep their value one step ahead."""
        checks, repairs = checks.copy(), repairs.copy()
        order = np.argsort(np.concatenate([checks, repairs]), kind="stable")[:wide]
        for k in order:
            if k < len(checks):
                checks[k] = min(checks[k], self._check_deeper(int(k)))
        return checks, repairs

    def _check_deeper(self, k: int) -> float:
        rows = np.flatnonzero(self.choices.owner == k)
        joint = self.given[rows] * self.view.weight
        chance = joint.sum(axis=1)
        live = chance > _RARE_STATE
        states = joint[live] / chance[live, None]
        opened = self.prices.opened | frozenset(self.choices.choices[k].check.opens)
        later = _Search(self.view, self._without(k), Costs(self.prices.knowledge, self.prices.rate_per_hour, opened),
                        self.done | {(self.choices.choices[k].check.id, self.choices.choices[k].place.name)},
                        self.moves)  # fmt: skip
        best = np.minimum(later.leaf(states, frozenset()), self.prices.hand_over())
        if len(later.price):
            best = np.minimum(best, later.check_values(states).min(axis=1))
        best = np.minimum(best, later.repair_values(states).min(axis=1))
        rest = 1.0 - chance[live].sum()
        return float(self.price[k] + chance[live] @ best + max(rest, 0.0) * self.prices.hand_over())

    def _without(self, k: int) -> Tables:
        return self.choices.pick(np.array([i for i in range(len(self.price)) if i != k], dtype=np.int64))
