"""Invented engines and hand-typed readings for the tests of the troubleshooter."""

from __future__ import annotations

from collections.abc import Mapping

from firingend.diagnosis.evidence import Outcome
from firingend.engine.engine import Bank, Engine, FuelSystem, Ignition, SharedPart
from firingend.labels import LABELS
from firingend.reading.reading import Reading


def inline(
    count: int,
    fuel: FuelSystem = "port-injection",
    ignition: Ignition = "coil-per-plug",
    strokes: int = 4,
    shared: tuple[SharedPart, ...] = (),
) -> Engine:
    """An inline engine with cylinders numbered from the front."""
    cylinders = tuple(range(1, count + 1))
    order = {3: (1, 3, 2), 4: (1, 3, 4, 2), 6: (1, 5, 3, 6, 2, 4)}.get(count, cylinders)
    return Engine(
        name=f"inline {count}",
        cylinders=cylinders,
        layout="single" if count == 1 else "inline",
        strokes=4 if strokes == 4 else 2,
        fuel_system=fuel,
        ignition=ignition,
        firing_order=order,
        banks=(Bank("", cylinders),),
        shared=shared,
    )


def vee(count: int, fuel: FuelSystem = "port-injection") -> Engine:
    """A vee engine, odd numbers left, even numbers right."""
    cylinders = tuple(range(1, count + 1))
    return Engine(
        name=f"vee {count}",
        cylinders=cylinders,
        layout="vee",
        strokes=4,
        fuel_system=fuel,
        ignition="coil-per-plug",
        firing_order=cylinders,
        banks=(Bank("left", cylinders[::2]), Bank("right", cylinders[1::2])),
        shared=(),
    )


def plug(label: str, probability: float = 0.95, signs: Mapping[str, float] | None = None) -> Reading:
    """A reading that says one label with one probability and shares out the rest evenly."""
    rest = (1.0 - probability) / (len(LABELS) - 1)
    return Reading(
        firing_end=None,
        label=label,
        probabilities={name: probability if name == label else rest for name in LABELS},
        signs=signs or {},
    )


def plugs(engine: Engine, odd: Mapping[int, str] | None = None, others: str = "normal-tan") -> dict[int, Reading]:
    """Readings of every cylinder: those named in ``odd``, and the others alike."""
    odd = odd or {}
    return {n: plug(odd.get(n, others)) for n in engine.cylinders}


def done(check: str, outcome: str, where: str = "all") -> Outcome:
    """An outcome, everywhere unless said otherwise."""
    return Outcome(check, where, outcome)
