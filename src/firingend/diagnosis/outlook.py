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

from firingend.diagnosis.costs import Costs
from firingend.diagnosis.posterior import Posterior
from firingend.diagnosis.suspects import Floats, Suspects

Ints = NDArray[np.int64]
KEPT = 160
"""How many of the likeliest hypotheses take part in looking ahead."""
_SURE_LOOK = 0.75
_CONFIRMING_FALSE = 0.10


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


def outlook(posterior: Posterior, kept: int = KEPT) -> Outlook:
    """Keep the likeliest hypotheses, and "healthy" and "nothing listed" always."""
    n = len(posterior.suspects)
    flat = np.concatenate([posterior.single, posterior.pair.ravel()])
    count = min(kept, flat.size)
    best = np.argpartition(-flat, count - 1)[:count]
    best = best[flat[best] > 0]
    best = best[np.argsort(-flat[best], kind="stable")]
    is_pair = best >= n
    first = np.where(is_pair, (best - n) // n, best)
    second = np.where(is_pair, (best - n) % n, -1)
    rows = np.unique(np.concatenate([first, second[is_pair]]))
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
        (m + 1,) price of the cheapest sure look at it that is still to be done; infinite when there is none.
    works
        (m + 1,) probability that the repair cures it.
    seen
        (m + 1,) probability that the look shows it when it is there.
    hand_over
        Price of handing over.
    """

    repair: Floats
    look: Floats
    works: Floats
    seen: Floats
    hand_over: float


def expected_cost(view: Outlook, weights: Floats, visits: Visits) -> Floats:
    """Expected cost of repair by the plain plan, for several states of knowledge at once.

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
    states, m = weights.shape[0], len(view.rows)
    chance = np.empty((states, m + 1))
    chance[:, :m] = weights @ view.members()
    chance[:, m] = weights[:, -2]
    looked = visits.look < (1.0 - chance) * visits.repair
    price = np.where(looked, visits.look, visits.repair)
    extra = np.where(looked, visits.repair, 0.0)
    cured = visits.works * np.where(looked, visits.seen, 1.0)
    order = np.argsort(-chance * cured / price, axis=1, kind="stable")
    position = np.empty_like(order)
    np.put_along_axis(position, order, np.broadcast_to(np.arange(m + 1), order.shape), axis=1)
    first = np.where(view.first < 0, 0, view.first)
    second = np.where(view.second < 0, first, view.second)
    first[-2:] = second[-2:] = m
    last = np.maximum(position[:, first], position[:, second])[:, :-1]
    sure = np.minimum(cured[:, first], cured[:, second])[:, :-1]
    flat = (last + np.arange(states)[:, None] * (m + 1)).ravel()
    solved = np.bincount(flat, (weights[:, :-1] * sure).ravel(), states * (m + 1)).reshape(states, m + 1)
    sorted_price = np.take_along_axis(price, order, axis=1)
    sorted_extra = np.take_along_axis(extra * chance, order, axis=1)
    left = 1.0 - np.cumsum(solved, axis=1)
    reach = np.concatenate([np.ones((states, 1)), left[:, :-1]], axis=1)
    spent = np.cumsum(sorted_price * reach + sorted_extra, axis=1)
    stop_here = spent + visits.hand_over * left
    best: Floats = np.minimum(stop_here.min(axis=1), visits.hand_over)
    return best


def visits_for(
    view: Outlook, prices: Costs, done: frozenset[tuple[str, str]], opened: frozenset[str] = frozenset()
) -> Visits:
    """Prices of dealing with each suspect.

    Parameters
    ----------
    view
        Whose suspects.
    prices
        Prices at this moment.
    done
        (check id, place name) of what cannot be looked at again.
    opened
        Opening work to be taken as done besides what is.
    """
    suspects, knowledge = view.suspects, prices.knowledge
    general = knowledge.general
    repair, look, seen = [], [], []
    for row in view.rows:
        suspect = suspects.each[row]
        repair.append(prices.repair(suspect.cause, opened).total)
        cheapest, shows = np.inf, 1.0
        for name in suspect.cause.confirmed_by:
            check = knowledge.checks[name]
            given = check.given.get(suspect.cause.id)
            if given is None or 1.0 - given[0] < _SURE_LOOK or 1.0 - check.otherwise[0] > _CONFIRMING_FALSE:
                continue
            if any((name, place) in done for place in ("engine", suspect.place.name)):
                continue
            if (price := prices.check(check, opened).total) < cheapest:
                cheapest, shows = price, 1.0 - given[0]
        look.append(cheapest)
        seen.append(shows)
    run = (general.reread_minutes + general.test_minutes) / 60.0 * prices.rate_per_hour
    works = np.full(len(view.rows) + 1, general.repair_works)
    return Visits(
        repair=np.array([*repair, run]),
        look=np.array([*look, np.inf]),
        works=works,
        seen=np.array([*seen, 1.0]),
        hand_over=prices.hand_over(),
    )
