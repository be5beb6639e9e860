"""The posterior cut down to what matters for the next step, and the expected cost of repair from it.

The expected cost of repair of a state of knowledge is that of a plain plan: take the suspects in falling order of
probability over price; look first where a look is cheaper than the chance of a needless repair, otherwise repair
and try; hand over to a specialist as soon as that is cheaper than going on. With one fault, fixed prices and
sure actions this order is the best there is (Kadane and Simon; Kalagnanam and Henrion 1988).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from firingend.diagnosis.posterior import Posterior
from firingend.diagnosis.suspects import Bools, Floats, Suspects

Ints = NDArray[np.int64]
KEPT = 60
"""How many of the likeliest hypotheses take part in looking ahead."""
_NEVER = 1e-12


@dataclass(frozen=True, slots=True)
class Outlook:
    """The likeliest hypotheses of one posterior.

    Attributes
    ----------
    suspects
        All suspects.
    rows
        (m,) which of them take part in a kept hypothesis.
    first, second
        (h,) index into ``rows`` of the suspects of each hypothesis; -1 for none. The last two hypotheses are
        "healthy" (neither) and "nothing listed" (neither).
    weight
        (h,) probability of each, summing to 1 over what was kept.
    """

    suspects: Suspects
    rows: Ints = field(repr=False)
    first: Ints = field(repr=False)
    second: Ints = field(repr=False)
    weight: Floats = field(repr=False)

    def members(self) -> Floats:
        """(h, m) 1 where the suspect takes part in the hypothesis."""
        table = np.zeros((len(self.first), len(self.rows) + 1))
        which = np.arange(len(self.first))
        table[which, self.first] = 1.0
        table[which, self.second] = 1.0
        return table[:, :-1]

    def columns(self) -> tuple[Ints, Ints]:
        """(h,), (h,) the suspects of each hypothesis as indices into all suspects; the number of them for none."""
        everyone = np.append(self.rows, len(self.suspects))
        return everyone[self.first], everyone[self.second]


def outlook(posterior: Posterior, mended: Bools | None = None, kept: int = KEPT) -> Outlook:
    """Keep the likeliest hypotheses, and "healthy" and "nothing listed" always.

    Of a pair of which one is ``mended`` (n,), only the other is left to find.
    """
    n = len(posterior.suspects)
    flat = np.concatenate([posterior.single, posterior.pair.ravel()])
    count = min(kept, flat.size)
    best = np.argpartition(-flat, count - 1)[:count]
    best = best[flat[best] > 0]
    best = best[np.argsort(-flat[best], kind="stable")]
    partners = best[best >= n] - n
    alone = np.setdiff1d(np.concatenate([partners // n, partners % n]), best[best < n])
    best = np.concatenate([best, alone])  # what a pair becomes when one of it is repaired
    is_pair = best >= n
    first = np.where(is_pair, (best - n) // n, best)
    second = np.where(is_pair, (best - n) % n, -1)
    if mended is not None:
        gone = is_pair & mended[first]
        first, second = np.where(gone, second, first), np.where(gone, -1, second)
        second = np.where((second >= 0) & mended[second], -1, second)
    rows = np.unique(np.concatenate([first, second[second >= 0]]))
    place = np.full(n + 1, -1)
    place[rows] = np.arange(len(rows))
    weight = np.concatenate([flat[best], [posterior.healthy, posterior.nothing_listed]])
    return Outlook(
        suspects=posterior.suspects,
        rows=rows,
        first=np.concatenate([place[first], [-1, -1]]),
        second=np.concatenate([place[second], [-1, -1]]),
        weight=weight / weight.sum(),
    )


@dataclass(frozen=True, slots=True)
class Visits:
    """What it takes to deal with each suspect of an outlook; the last entry is "healthy: run it and read again".

    Attributes
    ----------
    repair
        (m + 1,) price of repairing and trying.
    look
        (m + 1,) price of the cheapest telling look at it that is still to be done; infinite when there is none.
    works
        (m + 1,) probability that the repair cures it.
    seen
        (m + 1,) probability that the look shows it when it is there.
    shows
        (m + 1, h) probability under each hypothesis that the look seems to show it.
    hand_over
        What a specialist asks for finding the cause. The repair comes on top of it, whoever does it.
    """

    repair: Floats
    look: Floats
    works: Floats
    seen: Floats
    shows: Floats
    hand_over: float


def expected_cost(view: Outlook, weights: Floats, visits: Visits) -> Floats:
    """Expected cost of repair by the plain plan, for several states of knowledge at once.

    The plan goes through the suspects once, looking or repairing, and stops where handing over is cheaper. What
    that pass missed (a look that showed nothing, a repair that did not take) is then repaired outright, likeliest
    first, again until handing over is cheaper. The repair that is due in the end is part of the cost.

    Parameters
    ----------
    view
        Which hypotheses the columns are.
    weights
        (r, h) probability of each hypothesis in each state, rows summing to 1.
    visits
        Prices.

    Returns
    -------
    (r,) expected cost in the case's currency.
    """
    m = len(view.rows)
    first = np.where(view.first < 0, 0, view.first)
    second = np.where(view.second < 0, first, view.second)
    first[-2:] = second[-2:] = m
    chance = _chances(view, weights)
    alarm = (weights @ visits.shows.T - chance * visits.seen) / np.maximum(1.0 - chance, _NEVER)
    false_alarm = np.clip(alarm, 0.0, 1.0)
    looked = visits.look + false_alarm * visits.repair < (1.0 - chance) * visits.repair
    needless = np.where(looked, false_alarm * visits.repair, visits.repair)
    price = np.where(looked, visits.look, 0.0) + needless
    in_vain = (1.0 - visits.works) * visits.seen * visits.repair
    spared = np.where(looked, needless - in_vain, visits.works * visits.repair)
    cured = np.where(looked, visits.works * visits.seen, visits.works)
    spent, missed = _one_pass(weights, chance, price, spared, cured, first, second, visits.hand_over)
    again = np.broadcast_to(visits.repair, chance.shape)
    works = np.broadcast_to(visits.works, chance.shape)
    chance = _chances(view, missed)
    more, left = _one_pass(missed, chance, again, again * works, works, first, second, visits.hand_over)
    return np.asarray(spent + more + visits.hand_over * left.sum(axis=1) + weights @ _due(view, visits))


def _chances(view: Outlook, weights: Floats) -> Floats:
    """(r, m + 1) probability of each suspect, and of "healthy" last."""
    chance = np.empty((len(weights), len(view.rows) + 1))
    chance[:, :-1] = weights @ view.members()
    chance[:, -1] = weights[:, -2]
    return chance


def _one_pass(
    weights: Floats,
    chance: Floats,
    price: Floats,
    spared: Floats,
    cured: Floats,
    first: Ints,
    second: Ints,
    hand_over: float,
) -> tuple[Floats, Floats]:
    """Go through the suspects by probability over price, up to where handing over is cheaper.

    ``price`` is paid on reaching a suspect, less ``spared`` where it is at fault.

    Returns
    -------
    spent
        (r,) what the pass costs, the repair that is due in the end not counted.
    left
        (r, h) weight of what it did not end.
    """
    states, count = chance.shape
    order = np.argsort(-chance * cured / price, axis=1, kind="stable")
    position = np.empty_like(order)
    np.put_along_axis(position, order, np.broadcast_to(np.arange(count), order.shape), axis=1)
    last = np.maximum(position[:, first], position[:, second])[:, :-1]
    sure = np.minimum(cured[:, first], cured[:, second])[:, :-1]
    ended = weights[:, :-1] * sure
    flat = (last + np.arange(states)[:, None] * count).ravel()
    solved = np.bincount(flat, ended.ravel(), states * count).reshape(states, count)
    total = weights.sum(axis=1, keepdims=True)
    left = total - np.cumsum(solved, axis=1)
    reach = np.concatenate([total, left[:, :-1]], axis=1)
    paid = np.take_along_axis(price, order, axis=1) * reach - np.take_along_axis(spared * chance, order, axis=1)
    stop_here = np.cumsum(paid, axis=1) + hand_over * left
    stop = np.argmin(stop_here, axis=1)
    at_once = hand_over * total[:, 0] <= stop_here[np.arange(states), stop]
    stop = np.where(at_once, -1, stop)
    spent = np.where(at_once, 0.0, np.cumsum(paid, axis=1)[np.arange(states), stop])
    kept = weights.copy()
    kept[:, :-1] -= np.where(last <= stop[:, None], ended, 0.0)
    return spent, kept


def _due(view: Outlook, visits: Visits) -> Floats:
    """(h,) price of the repair that each hypothesis needs in the end, whoever does it."""
    m = len(view.rows)
    due = visits.repair[np.where(view.first < 0, m, view.first)]
    due = due + np.where(view.second >= 0, visits.repair[view.second], 0.0)
    due[-1] = 0.0
    return due


def hand_over_cost(view: Outlook, weights: Floats, visits: Visits) -> Floats:
    """(s,) expected cost of handing over at once: the specialist's fee, and the repair that is due anyway."""
    return np.asarray(visits.hand_over + weights @ _due(view, visits))
