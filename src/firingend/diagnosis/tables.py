"""Every check at every place of one engine, stacked so that all their outcomes are weighed at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from firingend.diagnosis.knowledge import Check
from firingend.diagnosis.places import Place, places
from firingend.diagnosis.suspects import Bools, Floats, Suspects, applies, unlisted_row

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """One check at one place; the same object wherever it turns up."""

    check: Check
    place: Place


@dataclass(frozen=True, slots=True)
class Tables:
    """All choices of one engine.

    Attributes
    ----------
    suspects
        Whose columns these are; one more column, the last, stands for no suspect.
    choices
        What can be done, c of them.
    start, owner
        (c,) first row of each choice among all outcomes; (r,) choice that each outcome row belongs to.
    relevant
        (c, n + 1) the suspect bears on the check at that place.
    idle
        (c, n + 1) probability that it leaves the check without a finding; 1 where not relevant.
    finding
        (r, n + 1) probability of the outcome under the suspect; 0 where not relevant.
    otherwise, unlisted
        (r,) probability of the outcome with no fault there; with an unlisted fault.
    """

    suspects: Suspects
    choices: tuple[Choice, ...]
    start: Ints = field(repr=False)
    owner: Ints = field(repr=False)
    relevant: Bools = field(repr=False)
    idle: Floats = field(repr=False)
    finding: Floats = field(repr=False)
    otherwise: Floats = field(repr=False)
    unlisted: Floats = field(repr=False)

    def pick(self, kept: Ints) -> Tables:
        """The same with only some of the choices, by index."""
        rows = np.concatenate([np.flatnonzero(self.owner == k) for k in kept]) if len(kept) else kept
        sizes = np.array([len(self.choices[k].check.outcomes) for k in kept], dtype=np.int64)
        return Tables(
            suspects=self.suspects,
            choices=tuple(self.choices[k] for k in kept),
            start=np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int64) if len(kept) else sizes,
            owner=np.repeat(np.arange(len(kept)), sizes),
            relevant=self.relevant[kept],
            idle=self.idle[kept],
            finding=self.finding[rows],
            otherwise=self.otherwise[rows],
            unlisted=self.unlisted[rows],
        )

    def given(self, first: Ints, second: Ints) -> Floats:
        """(r, h) probability of each outcome under each hypothesis of up to two suspects (-1 for none).

        The rule where two meet is that of `terms.Mixed`.
        """
        one, two = self.idle[self.owner][:, first], self.idle[self.owner][:, second]
        rows: Floats = 0.5 * (self.finding[:, first] * (1.0 + two) + self.finding[:, second] * (1.0 + one))
        idle = self.idle[:, first] * self.idle[:, second]
        rows[self.start] = idle
        touched = self.relevant[:, first] | self.relevant[:, second]
        return np.where(touched[self.owner], rows, self.otherwise[:, None])


def tables(found: Suspects) -> Tables:
    """Stack every check that applies, at every place, that at least one suspect bears on."""
    causes = {cause: k for k, cause in enumerate(found.knowledge.causes)}
    which = np.array([causes[s.cause.id] for s in found.each])
    profiles = [cause.plug for cause in found.knowledge.causes.values()]
    choices, relevant, finding, otherwise, unlisted = [], [], [], [], []
    for check in found.knowledge.checks.values():
        if not applies(check.applies, found.engine):
            continue
        row_of = _rows_by_cause(check, list(causes), profiles)
        bears = ~np.isnan(row_of[:, 0])
        for place in places(found.engine, check.where):
            here = found.within(place) & bears[which]
            if not here.any():
                continue
            choices.append(Choice(check, place))
            relevant.append(np.append(here, False))
            finding.append(np.vstack([np.where(here[:, None], row_of[which], 0.0), np.zeros(row_of.shape[1])]).T)
            plain = np.array(check.otherwise)
            otherwise.append(plain)
            unlisted.append(unlisted_row(found.knowledge, plain))
    sizes = np.array([len(rows) for rows in finding], dtype=np.int64)
    start = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int64)
    bearing = np.array(relevant)
    stacked = np.vstack(finding)
    return Tables(
        suspects=found,
        choices=tuple(choices),
        start=start,
        owner=np.repeat(np.arange(len(sizes)), sizes),
        relevant=bearing,
        idle=np.where(bearing, stacked[start], 1.0),
        finding=stacked,
        otherwise=np.concatenate(otherwise),
        unlisted=np.concatenate(unlisted),
    )


def _rows_by_cause(check: Check, causes: Iterable[str], profiles: list[str]) -> Floats:
    """(causes, outcomes) outcome probabilities of one check under each cause; NaN where it has no bearing."""
    nothing = (np.nan,) * len(check.outcomes)
    return np.array(
        [
            check.given.get(cause) or check.given_profile.get(profile) or nothing
            for cause, profile in zip(causes, profiles, strict=True)
        ]
    )
