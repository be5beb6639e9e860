"""Every cause at every place it can sit on one engine, with its prior and what it does there, as arrays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from firingend.diagnosis.knowledge import Applies, Cause, Check, Knowledge
from firingend.diagnosis.places import Place, find_places, places
from firingend.engine.engine import Engine
from firingend.errors import UserError
from firingend.labels import LABELS, SIGNS

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

HEALTHY = "healthy"
NOTHING_LISTED = "nothing-listed"


@dataclass(frozen=True, slots=True)
class Suspect:
    """One cause at one place."""

    cause: Cause
    place: Place


@dataclass(frozen=True, slots=True)
class Suspects:
    """All suspects of one engine.

    Arrays have one row a suspect, in the order of ``each``.

    Attributes
    ----------
    engine, knowledge
        Where they come from.
    each
        The suspects.
    log_prior
        (n,) natural log of the prior weight of each, summing to 1 before the log.
    reach
        (n, cylinders) bool: the place reaches the cylinder.
    marks
        (n,) bool: the cause changes what the plugs it reaches show.
    labels
        (n, 5) probability of each label on a plug it marks.
    signs
        (n, signs) chance of raising each sign on a plug it marks.
    """

    engine: Engine
    knowledge: Knowledge
    each: tuple[Suspect, ...]
    log_prior: Floats = field(repr=False)
    reach: Bools = field(repr=False)
    marks: Bools = field(repr=False)
    labels: Floats = field(repr=False)
    signs: Floats = field(repr=False)

    def __len__(self) -> int:
        return len(self.each)

    def healthy_labels(self) -> Floats:
        """(5,) label probabilities of a plug that no fault marks."""
        profiles = self.knowledge.profiles
        two_stroke = profiles.get("healthy-two-stroke") if self.engine.strokes == 2 else None
        return label_row((two_stroke or profiles["healthy"]).labels)

    def symptom_strengths(self, symptom: str) -> Floats:
        """(n,) chance that each suspect alone raises the symptom."""
        return np.array([s.cause.symptoms.get(symptom, 0.0) for s in self.each])

    def within(self, place: Place) -> Bools:
        """(n,) suspects that reach a cylinder which the place reaches."""
        columns = [k for k, n in enumerate(self.engine.cylinders) if n in place.cylinders]
        return np.asarray(self.reach[:, columns].any(axis=1), dtype=bool)

    def index(self, cause: str, where: str) -> tuple[int, ...]:
        """Suspects with this cause at the places the words mean."""
        scope = self.knowledge.causes[cause].scope
        names = {place.name for place in find_places(self.engine, scope, where)}
        return tuple(k for k, s in enumerate(self.each) if s.cause.id == cause and s.place.name in names)


def suspects(knowledge: Knowledge, engine: Engine) -> Suspects:
    """Set every applicable cause at every place of its scope on this engine.

    Raises
    ------
    UserError
        An aircraft engine, or an engine no listed cause applies to.
    """
    if engine.aircraft:
        raise UserError(
            "this is an aircraft engine, which this program does not troubleshoot",
            "leave it to licensed maintenance",
        )
    each = tuple(
        Suspect(cause, place)
        for cause in knowledge.causes.values()
        if applies(cause.applies, engine)
        for place in places(engine, cause.scope)
    )
    if not each:
        raise UserError("no listed cause applies to this engine", "check its fuel system, ignition and strokes")
    weights = np.array([s.cause.weight for s in each])
    signs = np.zeros((len(each), len(SIGNS)))
    for row, suspect in enumerate(each):
        profile = knowledge.profiles[suspect.cause.plug]
        for column, sign in enumerate(SIGNS):
            by_profile, by_cause = profile.signs.get(sign, 0.0), suspect.cause.signs.get(sign, 0.0)
            signs[row, column] = 1.0 - (1.0 - by_profile) * (1.0 - by_cause)
    return Suspects(
        engine=engine,
        knowledge=knowledge,
        each=each,
        log_prior=np.log(weights / weights.sum()),
        reach=np.array([[n in s.place.cylinders for n in engine.cylinders] for s in each]),
        marks=np.array([s.cause.plug != HEALTHY for s in each]),
        labels=np.array([label_row(knowledge.profiles[s.cause.plug].labels) for s in each]),
        signs=signs,
    )


def label_row(labels: Mapping[str, float]) -> Floats:
    """Label probabilities in the fixed order of `LABELS`."""
    return np.array([labels[name] for name in LABELS])


def unlisted_row(knowledge: Knowledge, otherwise: Floats) -> Floats:
    """Outcome probabilities of a check under a fault that no cause describes: mostly as with no fault there."""
    share = knowledge.general.nothing_listed_finding
    return np.asarray((1.0 - share) * otherwise + share / len(otherwise))


def applies(limits: Applies, engine: Engine) -> bool:
    """Whether an entry makes sense on this engine."""
    return (
        (not limits.fuel or engine.fuel_system in limits.fuel)
        and (not limits.ignition or engine.ignition in limits.ignition)
        and (not limits.strokes or engine.strokes in limits.strokes)
        and (not limits.layout or engine.layout in limits.layout)
        and len(engine.cylinders) >= limits.min_cylinders
    )


def check_rows(found: Suspects, check: Check, place: Place) -> tuple[Bools, Floats]:
    """What one check at one place gives under each suspect.

    Returns
    -------
    relevant
        (n,) bool: the suspect sits within the place and bears on the check.
    rows
        (n, outcomes) probability of each outcome; the ``otherwise`` row where not relevant.
    """
    relevant = np.zeros(len(found), dtype=bool)
    rows = np.tile(np.array(check.otherwise), (len(found), 1))
    within = found.within(place)
    for k, suspect in enumerate(found.each):
        row = check.given.get(suspect.cause.id) or check.given_profile.get(suspect.cause.plug)
        if within[k] and row is not None:
            relevant[k], rows[k] = True, row
    return relevant, rows
