"""One engine on the bench with everything written down about it, and what comes out of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from firingend.comparison.comparison import Comparison
from firingend.diagnosis.diagnosis import Diagnosis
from firingend.diagnosis.evidence import Evidence, Measurement, Outcome, RunBefore
from firingend.engine.engine import Engine
from firingend.reading.reading import PhotoReading, Reading

DEFAULT_SURENESS = 0.95
"""How sure a label typed in by hand is taken to be where nothing is said."""


@dataclass(frozen=True, slots=True)
class PlacedPhoto:
    """A photograph and the cylinders whose plugs it shows.

    Attributes
    ----------
    file
        The photograph.
    cylinders
        In row order as the picture shows them: left to right, or top to bottom.
    across
        True when the row runs left to right, False when it runs top to bottom; means nothing for one plug.
    """

    file: Path
    cylinders: tuple[int, ...]
    across: bool = True


@dataclass(frozen=True, slots=True)
class TypedPlug:
    """What a person saw on one plug.

    Attributes
    ----------
    label
        One of ``labels.LABELS``, or ``labels.UNREADABLE``.
    sure
        Probability that it is right, 0.2 to 1.
    signs
        Signs of ``labels.SIGNS`` that the person saw.
    """

    label: str
    sure: float = DEFAULT_SURENESS
    signs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Case:
    """One engine and everything written down about it.

    Attributes
    ----------
    name
        What the technician calls the job.
    engine
        The engine.
    complaint
        In the customer's words.
    symptoms
        Symptom id to True (present) or False (absent).
    photos
        Photographs to read, in the order they were written down.
    typed
        Plugs whose label was typed in, by cylinder; no cylinder is in both ``photos`` and ``typed``.
    outcomes, measurements, run, rate_per_hour, currency
        As in `Evidence`.
    file
        The case file it came from, or None.
    """

    name: str
    engine: Engine
    complaint: str = ""
    symptoms: Mapping[str, bool] = field(default_factory=dict)
    photos: tuple[PlacedPhoto, ...] = ()
    typed: Mapping[int, TypedPlug] = field(default_factory=dict)
    outcomes: tuple[Outcome, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    run: RunBefore = field(default_factory=RunBefore)
    rate_per_hour: float = 60.0
    currency: str = "EUR"
    file: Path | None = None

    def evidence(self, readings: Mapping[int, Reading]) -> Evidence:
        """Everything the troubleshooter takes, with these readings of the plugs."""
        return Evidence(
            engine=self.engine,
            readings=readings,
            symptoms=self.symptoms,
            outcomes=self.outcomes,
            measurements=self.measurements,
            run=self.run,
            rate_per_hour=self.rate_per_hour,
            currency=self.currency,
        )


@dataclass(frozen=True, slots=True)
class CaseResult:
    """What comes out of a case.

    Attributes
    ----------
    case
        The case.
    photo_readings
        One for each of ``case.photos``, in the same order.
    readings
        By cylinder; cylinders nothing is written about are left out.
    comparison, diagnosis
        What the cylinders say together, and what to check next.
    """

    case: Case
    photo_readings: tuple[PhotoReading, ...]
    readings: Mapping[int, Reading]
    comparison: Comparison
    diagnosis: Diagnosis

    def photo_file(self, cylinder: int) -> Path | None:
        """The photograph that shows this cylinder's plug; None for a label typed in."""
        for photo in self.case.photos:
            if cylinder in photo.cylinders:
                return photo.file
        return None
