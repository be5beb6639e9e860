"""One item of evidence at a time: its likelihood under every single suspect and every pair of them.

Two rules say what happens where two faults meet.

*Mixed* (labels of a plug, outcomes of a check): each fault acts or does not, independently; one outcome is the
one without a finding. When neither acts there is no finding, when one acts its finding shows, when both act one
or the other shows, half and half. With two outcomes this is a noisy-OR.

*Noisy-OR* (symptoms, signs): absent only if neither the leak nor any fault raises it,
P(absent) = (1 - leak) (1 - w_i) (1 - w_j).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from firingend.diagnosis.suspects import Bools, Floats


class Term(Protocol):
    """One item of evidence."""

    @property
    def what(self) -> str:
        """The item in plain words."""
        ...

    def single(self) -> Floats:
        """(n,) likelihood under each suspect alone."""
        ...

    def pair(self) -> Floats:
        """(n, n) likelihood under each pair, symmetric; the diagonal means nothing."""
        ...

    def neither(self) -> tuple[float, float]:
        """Likelihood under "healthy" and under "nothing listed explains this"."""
        ...


@dataclass(frozen=True, slots=True)
class Mixed:
    """A finding with several outcomes, of which we hold a likelihood each.

    Attributes
    ----------
    what
        In plain words.
    likelihood
        (m,) likelihood of what was seen under each outcome; the outcome that happened has 1 and the others 0
        when it was seen outright.
    none
        Index of the outcome without a finding.
    rows
        (n, m) probability of each outcome under each suspect.
    relevant
        (n,) suspects that bear on it; the others leave it as ``otherwise`` says.
    otherwise, unlisted
        (m,) outcome probabilities with no fault there; with an unlisted fault.
    mended
        (n,) suspects repaired before: as one of two they no longer bear on it. Alone they still do, for had the
        repair worked the engine would run.
    """

    what: str
    likelihood: Floats = field(repr=False)
    none: int
    rows: Floats = field(repr=False)
    relevant: Bools = field(repr=False)
    otherwise: Floats = field(repr=False)
    unlisted: Floats = field(repr=False)
    mended: Bools | None = field(default=None, repr=False)

    def single(self) -> Floats:
        plain = float(self.otherwise @ self.likelihood)
        return np.where(self.relevant, self.rows @ self.likelihood, plain)

    def pair(self) -> Floats:
        relevant = self.relevant if self.mended is None else self.relevant & ~self.mended
        idle = np.where(relevant, self.rows[:, self.none], 1.0)
        seen = np.where(relevant, self.rows @ self.likelihood, 0.0)
        finding = np.where(relevant, seen - idle * self.likelihood[self.none], 0.0)
        lean = np.multiply.outer(finding, 0.5 * (1.0 + idle))
        lean += lean.T
        lean += np.multiply.outer(self.likelihood[self.none] * idle, idle)
        untouched = ~relevant
        lean[np.ix_(untouched, untouched)] = float(self.otherwise @ self.likelihood)
        return lean

    def neither(self) -> tuple[float, float]:
        return float(self.otherwise @ self.likelihood), float(self.unlisted @ self.likelihood)


@dataclass(frozen=True, slots=True)
class NoisyOr:
    """Something present or absent.

    Attributes
    ----------
    what
        In plain words.
    present, absent
        Likelihood of what was seen if it is there and if it is not: 1 and 0 when it was seen outright.
    leak
        Chance that it is there without any fault raising it.
    strengths
        (n,) chance that each suspect alone raises it.
    unlisted
        Chance that it is there with an unlisted fault.

    Examples
    --------
    >>> soot = NoisyOr("soot", 1.0, 0.0, 0.02, np.array([0.8, 0.6]), 0.3)
    >>> [round(float(p), 6) for p in soot.single()], round(float(soot.pair()[0, 1]), 6)
    ([0.804, 0.608], 0.9216)
    """

    what: str
    present: float
    absent: float
    leak: float
    strengths: Floats = field(repr=False)
    unlisted: float

    def single(self) -> Floats:
        off = (1.0 - self.leak) * (1.0 - self.strengths)
        return self.present + (self.absent - self.present) * off

    def pair(self) -> Floats:
        kept = 1.0 - self.strengths
        off = (1.0 - self.leak) * np.multiply.outer(kept, kept)
        off *= self.absent - self.present
        off += self.present
        return off

    def neither(self) -> tuple[float, float]:
        healthy, unlisted = 1.0 - self.leak, 1.0 - self.unlisted
        slope = self.absent - self.present
        return self.present + slope * healthy, self.present + slope * unlisted


@dataclass(frozen=True, slots=True)
class Tried:
    """A repair that was tried at some suspects, and what came of it.

    Attributes
    ----------
    what
        In plain words.
    these
        (n,) suspects that the repair puts right.
    alone, one_of_two, missed
        Likelihood of what came of it when it should have put everything right, one of two faults, or none.
    mended
        (n,) suspects repaired before it.
    """

    what: str
    these: Bools = field(repr=False)
    alone: float
    one_of_two: float
    missed: float
    mended: Bools | None = field(default=None, repr=False)

    def single(self) -> Floats:
        return np.where(self.these, self.alone, self.missed)

    def pair(self) -> Floats:
        mended = np.zeros_like(self.these) if self.mended is None else self.mended
        covered, fresh = self.these | mended, self.these & ~mended
        tried = self.these[:, None] | self.these[None, :]
        all_covered = tried & covered[:, None] & covered[None, :]
        one_more = fresh[:, None] ^ fresh[None, :]
        return np.where(all_covered, self.alone, np.where(one_more, self.one_of_two, self.missed))

    def neither(self) -> tuple[float, float]:
        return self.missed, self.missed
