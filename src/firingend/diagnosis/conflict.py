"""Evidence that does not go together, and which item to look at again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firingend.diagnosis.posterior import Balance, prior_balance
from firingend.diagnosis.suspects import Suspects
from firingend.diagnosis.terms import Term

_UNEXPECTED = 0.12
"""An item is at odds with the rest when the rest makes it at least this many times rarer than it is by itself."""
_MOST_NAMED = 2


@dataclass(frozen=True, slots=True)
class Conflict:
    """One item that the rest of the evidence speaks against.

    Attributes
    ----------
    what
        The item in words.
    surprise
        Probability of the item given the rest, over its probability before any evidence.
    """

    what: str
    surprise: float

    def sentence(self) -> str:
        """The same in plain words."""
        return f"“{self.what}” does not go with the rest: check it once more before building on it."


def conflicts(found: Suspects, items: Sequence[Term]) -> tuple[Conflict, ...]:
    """Items at odds with the rest, worst first, two at most.

    For each item: how likely it is given all the others (every fault and every pair weighed in), against how
    likely it is before any evidence.
    """
    if len(items) < 3:
        return ()
    prior = prior_balance(found)
    all_in = prior
    for item in items:
        all_in = all_in.add(item)
    everything = _log_total(all_in)
    found_odd = []
    for item in items:
        alone = _log_total(prior.add(item)) - _log_total(prior)
        given_rest = everything - _log_total(_without(all_in, item))
        surprise = float(np.exp(given_rest - alone))
        if surprise < _UNEXPECTED:
            found_odd.append(Conflict(item.what, surprise))
    return tuple(sorted(found_odd, key=lambda conflict: conflict.surprise)[:_MOST_NAMED])


def _without(balance: Balance, item: Term) -> Balance:
    healthy, unlisted = item.neither()
    pair = None if balance.pair is None else balance.pair - np.log(item.pair())
    return Balance(
        balance.suspects,
        balance.single - np.log(item.single()),
        pair,
        balance.healthy - float(np.log(healthy)),
        balance.nothing_listed - float(np.log(unlisted)),
    )


def _log_total(balance: Balance) -> float:
    logs = [balance.single, np.array([balance.healthy, balance.nothing_listed])]
    if balance.pair is not None:
        logs.append(balance.pair.ravel())
    top = max(float(part.max()) for part in logs)
    return top + float(np.log(sum(float(np.exp(part - top).sum()) for part in logs)))
