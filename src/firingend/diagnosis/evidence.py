"""What is known about one engine: readings, symptoms, outcomes of checks, measurements, how it was run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from firingend.bench.measurement import Measurement
from firingend.engine.engine import Engine
from firingend.reading.reading import Reading

__all__ = ["Evidence", "HowRun", "Measurement", "Outcome", "RunBefore"]

HowRun = Literal["idled", "ridden", "clean-cut", "unknown"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one check gave.

    Attributes
    ----------
    check
        Id of a check, or ``repair:`` and the id of a cause for a repair that was tried.
    where
        Where it was done: ``engine``, ``cylinder 3``, ``coil A``, ``left bank``, ``all``.
    outcome
        Id of one of the check's outcomes; of a repair: ``no-change``, ``better`` or ``cured``.
    """

    check: str
    where: str
    outcome: str


@dataclass(frozen=True, slots=True)
class RunBefore:
    """How the engine was run before the plugs came out.

    Attributes
    ----------
    how
        ``idled`` to a stop, ``ridden`` home, ``clean-cut`` at load, or ``unknown``.
    minutes_on_plugs
        Running time on these plugs in minutes; None when not known.
    fuel
        What is in the tank, in words, such as ``E10``, ``E85``, ``petrol``; may be empty.
    """

    how: HowRun = "unknown"
    minutes_on_plugs: float | None = None
    fuel: str = ""


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything known about one engine at one moment.

    Attributes
    ----------
    engine
        The engine.
    readings
        Reading of each plug by cylinder number; cylinders without a reading are left out.
    symptoms
        Symptom id to True (present) or False (asked and absent); symptoms not asked are left out.
    outcomes
        Outcomes of checks and of repairs already tried, in the order they were done.
    measurements
        Numbers taken.
    run
        How the engine was run before the plugs came out.
    rate_per_hour
        What an hour of work costs, in ``currency``.
    currency
        ISO 4217 code.
    """

    engine: Engine
    readings: Mapping[int, Reading] = field(default_factory=dict)
    symptoms: Mapping[str, bool] = field(default_factory=dict)
    outcomes: tuple[Outcome, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    run: RunBefore = RunBefore()
    rate_per_hour: float = 60.0
    currency: str = "EUR"
