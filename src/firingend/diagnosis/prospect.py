"""What each outcome of a check would make of the causes: exact, every single suspect and every pair weighed in."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from firingend.diagnosis.posterior import Posterior
from firingend.diagnosis.suspects import Bools, Floats
from firingend.diagnosis.tables import Tables

_NEVER = 1e-300


@dataclass(frozen=True, slots=True)
class Prospect:
    """One check at one place before it is done.

    Attributes
    ----------
    chance
        (outcomes,) probability of each outcome, summing to 1.
    at_fault
        (outcomes, n) probability that each suspect is at fault, alone or with another, after each outcome.
    """

    chance: Floats = field(repr=False)
    at_fault: Floats = field(repr=False)


def prospects(posterior: Posterior, choices: Tables, mended: Bools) -> tuple[Prospect, ...]:
    """Foresee every outcome of some checks; the same numbers as weighing each outcome in afresh.

    The rule where two faults meet (`terms.Mixed`) is a sum of products of one number for each of the two. So what
    it comes to over all pairs is a few products of the table of pairs with one vector for each outcome.

    Parameters
    ----------
    posterior
        What is believed.
    choices
        The checks, c of them with r outcomes in all.
    mended
        (n,) suspects repaired already: as one of two they no longer bear on a check.
    """
    relevant = choices.relevant[:, :-1]
    found, plain = choices.finding[:, :-1], choices.otherwise[:, None]
    alone = np.where(relevant[choices.owner], found, plain) * posterior.single
    paired = _paired(posterior.pair + posterior.pair.T, choices, relevant & ~mended)
    chance = alone.sum(axis=1) + 0.5 * paired.sum(axis=1)  # a pair stands in the row of either suspect
    chance += posterior.healthy * choices.otherwise + posterior.nothing_listed * choices.unlisted
    after = (alone + paired) / np.maximum(chance, _NEVER)[:, None]
    cuts = choices.start[1:]
    return tuple(map(Prospect, np.split(chance, cuts), np.split(after, cuts))) if len(choices.choices) else ()


def _paired(both: Floats, choices: Tables, relevant: Bools) -> Floats:
    """(r, n) probability of each outcome together with a pair that the suspect is one of.

    ``both`` (n, n) is the symmetric table of pairs, ``relevant`` (c, n) who bears on each check as one of two.
    """
    owner, start = choices.owner, choices.start
    idle = np.where(relevant, choices.idle[:, :-1], 1.0)
    finding = np.where(relevant[owner], choices.finding[:, :-1], 0.0)
    apart = 1.0 - relevant
    other_idle, other_finding, other_apart = idle @ both, finding @ both, apart @ both
    here = finding * (both.sum(axis=0) + other_idle[owner]) + (1.0 + idle[owner]) * other_finding
    untouched = apart * other_apart
    paired = 0.5 * here
    paired[start] = idle * other_idle - untouched
    return np.asarray(paired + choices.otherwise[:, None] * untouched[owner])
