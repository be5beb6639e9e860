"""The expected cost of repair after each step that could be taken next: every check, every repair, handing over.

One step ahead, a step is worth its price plus the plain plan's expected cost in each state it can lead to. Two
steps ahead, done for the best few, each of those states is worth the best step from there instead. Opening work is
paid once: what a step opens is open in the states after it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from firingend.diagnosis.costs import Costs
from firingend.diagnosis.outlook import Outlook, Visits, expected_cost, hand_over_cost
from firingend.diagnosis.suspects import Bools, Floats
from firingend.diagnosis.tables import Choice, Ints, Tables

_NEVER = 1e-12
_RARE_STATE = 1e-4
_LESS_DEEP = 1e-6
_STAKE = 3.0
_TELLING = 0.5
"""A look is telling when it shows the fault at least this often."""
_SECOND = 30
"""How many checks are thought of at the second step."""
_SETTLED = 8
"""For how many of the likeliest suspects the check that settles them is thought of at the second step."""


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
    wide: int = 2,
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
        How many of the most promising checks are looked at two steps ahead; 0 for one step only.
    """
    kept = _open_choices(view, everything, done, skipped)
    choices = everything.pick(kept)
    barred = done | {(name, c.place.name) for c in everything.choices for name in [c.check.id] if name in skipped}
    search = _Search(view, choices, prices, barred)
    plain = float(search.leaf(view.weight[None, :], frozenset())[0])
    hand_over = float(hand_over_cost(view, view.weight[None, :], search.visits(frozenset()))[0])
    worth = ~search.idle(plain - (hand_over - prices.hand_over()))
    checks = plain + search.price
    checks[worth] = search.check_values(view.weight[None, :], worth)[0]
    repairs = search.repair_values(view.weight[None, :])[0]
    if wide:
        checks, repairs = search.deepen(checks, repairs, wide, worth)
    return Ahead(view, choices, search.given, checks, repairs, hand_over, plain)


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
    turned = np.array(listed, dtype=np.int64).reshape(-1, 3).T
    return _Moves(keep, turned[0], turned[1], turned[2], works)


@dataclass(frozen=True, slots=True)
class _Looks:
    """Checks that can settle a suspect: what they show under each hypothesis.

    Attributes
    ----------
    suspect
        (l,) index into the rows of the view.
    choice
        Which check at which place, l of them.
    shows
        (l, h) probability of an outcome that speaks for the suspect, under each hypothesis.
    seen
        (l,) the same under the suspect alone.
    false_alarm
        (l,) the same when it is not at fault, as things stand.
    """

    suspect: Ints
    choice: tuple[Choice, ...]
    shows: Floats
    seen: Floats
    false_alarm: Floats

    def visits(self, view: Outlook, choices: Tables, prices: Costs, opened: frozenset[str]) -> Visits:
        """Prices of dealing with each suspect, the best look still open chosen for each."""
        general, knowledge = prices.knowledge.general, view.suspects
        m, h = len(view.rows), len(view.first)
        repair = [prices.repair(knowledge.each[row].cause, opened).total for row in view.rows]
        run = (general.reread_minutes + general.test_minutes) / 60.0 * prices.rate_per_hour
        visits = Visits(
            repair=np.array([*repair, run]),
            look=np.full(m + 1, np.inf),
            works=np.array([general.repair_works] * m + [1.0]),
            seen=np.ones(m + 1),
            shows=np.zeros((m + 1, h)),
            hand_over=prices.hand_over(),
        )
        open_now, best = set(choices.choices), np.full(m, np.inf)
        for k, (suspect, choice) in enumerate(zip(self.suspect.tolist(), self.choice, strict=True)):
            if choice not in open_now:
                continue
            price = prices.check(choice.check, opened).total
            dear = (price + self.false_alarm[k] * repair[suspect]) / self.seen[k]
            if dear < best[suspect]:
                best[suspect] = dear
                visits.look[suspect], visits.seen[suspect] = price, self.seen[k]
                visits.shows[suspect] = self.shows[k]
        return visits


def _looks(view: Outlook, choices: Tables, given: Floats) -> _Looks:
    """Find the checks that can settle each suspect: those it names, at its place."""
    chance = view.weight @ view.members()
    suspect, which, shows, seen, alarm = [], [], [], [], []
    for m, row in enumerate(view.rows):
        settling = view.suspects.each[row].cause.confirmed_by
        for k in np.flatnonzero(choices.relevant[:, row]):
            if choices.choices[k].check.id not in settling:
                continue
            size = len(choices.choices[k].check.outcomes)
            rows = slice(choices.start[k], choices.start[k] + size)
            alone = choices.finding[rows, row]
            overall = given[rows] @ view.weight
            rest = (overall - chance[m] * alone) / max(1.0 - chance[m], _NEVER)
            speaks = alone > 2.0 * np.maximum(rest, _NEVER)
            if alone[speaks].sum() < _TELLING:
                continue
            suspect.append(m)
            which.append(choices.choices[k])
            shows.append(given[rows][speaks].sum(axis=0))
            seen.append(alone[speaks].sum())
            alarm.append(min(max(rest[speaks].sum(), 0.0), 1.0))
    return _Looks(
        np.array(suspect, dtype=np.int64),
        tuple(which),
        np.array(shows).reshape(-1, len(view.first)),
        np.array(seen),
        np.array(alarm),
    )


class _Search:
    """One look ahead: the arrays that every state shares."""

    def __init__(
        self,
        view: Outlook,
        choices: Tables,
        prices: Costs,
        done: frozenset[tuple[str, str]],
        shared: tuple[_Moves, _Looks] | None = None,
    ) -> None:
        self.view, self.choices, self.prices, self.done = view, choices, prices, done
        self.given = choices.given(*view.columns())
        self.given[:, -1] = choices.unlisted
        self.price = np.array([prices.check(c.check).total for c in choices.choices], dtype=float)
        self._visits: dict[frozenset[str], Visits] = {}
        opens = [frozenset(c.check.opens) - prices.opened for c in choices.choices]
        self.groups = [
            (opened, np.array([k for k, names in enumerate(opens) if names == opened]))
            for opened in dict.fromkeys(opens)
        ]
        self.moves, self.looks = shared or (
            _moves(view, prices.knowledge.general.repair_works),
            _looks(view, choices, self.given),
        )

    def leaf(self, weights: Floats, opened: frozenset[str]) -> Floats:
        """(s,) plain plan from each state, with ``opened`` open besides what is."""
        return expected_cost(self.view, weights, self.visits(opened))

    def visits(self, opened: frozenset[str]) -> Visits:
        """Prices of dealing with each suspect, worked out once for each set of opening work."""
        if opened not in self._visits:
            self._visits[opened] = self.looks.visits(self.view, self.choices, self.prices, opened)
        return self._visits[opened]

    def check_values(self, weights: Floats, only: Bools | None = None) -> Floats:
        """(s, c) expected cost one step ahead of each check, or of some of them, from each state."""
        states, count = len(weights), len(self.price)
        values = np.empty((states, count))
        for opened, everyone in self.groups:
            members = everyone if only is None else everyone[only[everyone]]
            if not len(members):
                continue
            rows = np.flatnonzero(np.isin(self.choices.owner, members))
            joint = weights[:, None, :] * self.given[rows]
            chance = joint.sum(axis=2)
            flat = joint.reshape(-1, joint.shape[2]) / np.maximum(chance.reshape(-1, 1), _NEVER)
            cost = self.leaf(flat, opened).reshape(chance.shape)
            starts = np.flatnonzero(np.diff(self.choices.owner[rows], prepend=-1))
            values[:, members] = np.add.reduceat(chance * cost, starts, axis=1)
        values += self.price
        return values if only is None else values[:, only]

    def repair_values(self, weights: Floats) -> Floats:
        """(s, m) expected cost one step ahead of each repair from each state."""
        visits = self.visits(frozenset())
        uncured = self.moves.apply(weights)
        left = uncured.sum(axis=2)
        flat = uncured.reshape(-1, uncured.shape[2]) / np.maximum(left.reshape(-1, 1), _NEVER)
        cost = self.leaf(flat, frozenset()).reshape(left.shape)
        return np.asarray(visits.repair[: left.shape[1]] + left * cost)

    def idle(self, needless: float) -> Bools:
        """(c,) checks that cannot be worth their price, however they turn out.

        What a check can save is at most the probability it moves times what is at stake. Never more is at stake
        than the specialist's fee, for handing over is always open, and hardly more than a few times the needless
        cost expected now.
        """
        joint = self.given * self.view.weight
        chance = joint.sum(axis=1, keepdims=True)
        moved = 0.5 * np.abs(joint - chance * self.view.weight).sum(axis=1)
        per_check = np.add.reduceat(moved, self.choices.start) if len(self.price) else np.zeros(0)
        stake = min(self.prices.hand_over(), _STAKE * max(needless, 0.0))
        return np.asarray(per_check * stake < self.price)

    def deepen(self, checks: Floats, repairs: Floats, wide: int, worth: Bools) -> tuple[Floats, Floats]:
        """The most promising checks and repairs two steps ahead.

        A step that is not among them keeps its value one step ahead, but no less than the best of those that
        are: it was not looked at as deeply, and may only seem cheap.
        """
        plain = float(self.leaf(self.view.weight[None, :], frozenset())[0])
        gain = (plain - (checks - self.price)) / self.price
        by_value, by_gain = np.argsort(checks, kind="stable"), np.argsort(-gain, kind="stable")
        by_value, by_gain = by_value[worth[by_value]], by_gain[worth[by_gain]]
        settling = [k for k in self._settling(_SETTLED) if worth[k]]
        second = np.unique([*by_value[:_SECOND], *by_gain[: _SECOND // 2], *settling]).astype(np.int64)
        tried = np.unique([*by_value[:wide], *by_gain[: wide // 2], *settling[:2]]).astype(np.int64)
        mended = np.argsort(repairs, kind="stable")[: max(wide // 2, 1)]
        deeper_checks, deeper_repairs = checks.copy(), repairs.copy()
        for k in tried:
            deeper_checks[k] = min(checks[k], self._check_deeper(int(k), second))
        if len(mended):
            deeper_repairs[mended] = np.minimum(repairs[mended], self._repairs_deeper(mended, second))
        best = min([*deeper_checks[tried], *deeper_repairs[mended]], default=0.0)
        for values, looked in ((deeper_checks, tried), (deeper_repairs, mended)):
            others = np.setdiff1d(np.arange(len(values)), looked)
            values[others] = np.maximum(values[others], best + _LESS_DEEP)
        return deeper_checks, deeper_repairs

    def _settling(self, count: int) -> list[int]:
        """The cheapest open check that settles each of the likeliest suspects."""
        chance = self.view.weight @ self.view.members()
        found: list[int] = []
        for lead in np.argsort(-chance, kind="stable")[:count]:
            suspect = self.view.suspects.each[self.view.rows[lead]]
            settling = [
                k
                for k, choice in enumerate(self.choices.choices)
                if choice.check.id in suspect.cause.confirmed_by and self.choices.relevant[k, self.view.rows[lead]]
            ]
            found += sorted(settling, key=lambda k: float(self.price[k]))[:1]
        return found

    def _repairs_deeper(self, mended: Ints, second: Ints) -> Floats:
        uncured = self.moves.apply(self.view.weight[None, :])[0][mended]
        left = uncured.sum(axis=1)
        later = _Search(self.view, self.choices.pick(second), self.prices, self.done, (self.moves, self.looks))
        best = later.best(uncured / np.maximum(left, _NEVER)[:, None])
        return np.asarray(self.visits(frozenset()).repair[mended] + left * best)

    def _check_deeper(self, k: int, second: Ints) -> float:
        rows = np.flatnonzero(self.choices.owner == k)
        joint = self.given[rows] * self.view.weight
        chance = joint.sum(axis=1)
        live = chance > _RARE_STATE
        states = joint[live] / chance[live, None]
        choice = self.choices.choices[k]
        later = _Search(
            self.view,
            self.choices.pick(second[second != k]),
            self.prices.after(choice.check),
            self.done | {(choice.check.id, choice.place.name)},
            (self.moves, self.looks),
        )
        best = later.best(states)
        return float(self.price[k] + chance[live] @ best / chance[live].sum())

    def best(self, states: Floats) -> Floats:
        """(s,) expected cost of the best step one step ahead from each state."""
        best = self.leaf(states, frozenset())
        if len(self.price):
            best = np.minimum(best, self.check_values(states).min(axis=1))
        return np.asarray(np.minimum(best, self.repair_values(states).min(axis=1)))
