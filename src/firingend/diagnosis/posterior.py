"""Exact posterior over no fault, every single suspect, every pair of suspects, and "nothing listed explains this"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from firingend.diagnosis.suspects import Floats, Suspects
from firingend.diagnosis.terms import Term


@dataclass(frozen=True, slots=True)
class Posterior:
    """Probabilities that sum to 1 over ``healthy``, ``nothing_listed``, ``single`` and ``pair``.

    Attributes
    ----------
    suspects
        What the rows mean.
    single
        (n,) probability that exactly this one suspect is at fault.
    pair
        (n, n) upper triangle: probability that exactly these two are; zeros elsewhere.
    healthy
        Probability that nothing is wrong.
    nothing_listed
        Probability that something is wrong which no listed cause describes.
    """

    suspects: Suspects
    single: Floats = field(repr=False)
    pair: Floats = field(repr=False)
    healthy: float
    nothing_listed: float

    def at_fault(self) -> Floats:
        """(n,) probability that each suspect is at fault, alone or with another."""
        marginal: Floats = self.single + self.pair.sum(axis=0) + self.pair.sum(axis=1)
        return marginal


@dataclass(frozen=True, slots=True)
class Balance:
    """Unnormalised log weights; adding an item of evidence gives a new one and leaves the old one as it was."""

    suspects: Suspects
    single: Floats = field(repr=False)
    pair: Floats | None = field(repr=False)
    healthy: float
    nothing_listed: float

    def add(self, term: Term) -> Balance:
        """Weigh one more item of evidence in."""
        healthy, unlisted = term.neither()
        pair = None
        if self.pair is not None:
            pair = np.log(term.pair())
            pair += self.pair
        return Balance(
            suspects=self.suspects,
            single=self.single + np.log(term.single()),
            pair=pair,
            healthy=self.healthy + float(np.log(healthy)),
            nothing_listed=self.nothing_listed + float(np.log(unlisted)),
        )

    def posterior(self) -> Posterior:
        """Normalise once, with the largest log weight taken out first."""
        top = max(float(self.single.max()), self.healthy, self.nothing_listed)
        if self.pair is not None:
            top = max(top, float(self.pair.max()))
        single = np.exp(self.single - top)
        n = len(self.suspects)
        pair = np.zeros((n, n)) if self.pair is None else np.exp(self.pair - top)
        healthy, unlisted = float(np.exp(self.healthy - top)), float(np.exp(self.nothing_listed - top))
        total = float(single.sum() + pair.sum()) + healthy + unlisted
        return Posterior(self.suspects, single / total, pair / total, healthy / total, unlisted / total)


def prior_balance(found: Suspects, *, pairs: bool = True) -> Balance:
    """Log weights before any evidence.

    The prior of a pair is the product of its two weights, scaled so that ``two_faults`` of the faulty engines
    have two faults.
    """
    general = found.knowledge.general
    pair = None
    if pairs and len(found) > 1:
        product = np.add.outer(found.log_prior, found.log_prior)
        upper = np.triu(np.ones((len(found), len(found)), dtype=bool), k=1)
        total = float(np.exp(product[upper]).sum())
        share = np.log(general.two_faults / (1.0 - general.two_faults) / total)
        pair = np.where(upper, product + share, -np.inf)
    return Balance(
        found,
        found.log_prior.copy(),
        pair,
        float(np.log(general.healthy)),
        float(np.log(general.nothing_listed)),
    )


def weigh(found: Suspects, terms: Sequence[Term], *, pairs: bool = True) -> Posterior:
    """Posterior given every term."""
    balance = prior_balance(found, pairs=pairs)
    for term in terms:
        balance = balance.add(term)
    return balance.posterior()
