"""Engines with faults drawn from the knowledge, in a world whose probabilities are off by up to half.

Every probability of the knowledge (prior weights, label rows, symptom strengths, outcome rows) is multiplied by a
factor drawn log-uniformly from 1/1.5 to 1.5 and the rows are scaled back to sum to 1, anew for each engine. The
policies know only the unperturbed knowledge. Outcomes are fixed when the engine is drawn, so that every policy that
does the same check on the same engine sees the same outcome.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import numpy as np

from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.knowledge import Knowledge, load
from firingend.diagnosis.suspects import Suspects, suspects
from firingend.diagnosis.tables import Tables, tables
from firingend.engine.engine import Bank, Engine, FuelSystem, Ignition, SharedPart
from firingend.labels import LABELS
from firingend.reading.reading import Reading

SPREAD = np.log(1.5)
READER = 0.93
"""Probability with which a simulated reading gives the plug's label, and says so."""


def _inline(count: int, fuel: FuelSystem, ignition: Ignition, strokes: int = 4, shared: tuple = ()) -> Engine:
    numbers = tuple(range(1, count + 1))
    order = {4: (1, 3, 4, 2), 3: (1, 3, 2), 6: (1, 5, 3, 6, 2, 4)}.get(count, numbers)
    layout = "inline" if count > 1 else "single"
    return Engine(f"{fuel} {count}", numbers, layout, strokes, fuel, ignition, order, (Bank("", numbers),), shared)


def _vee(count: int, fuel: FuelSystem) -> Engine:
    numbers = tuple(range(1, count + 1))
    banks = (Bank("left", numbers[::2]), Bank("right", numbers[1::2]))
    return Engine(f"vee {count}", numbers, "vee", 4, fuel, "coil-per-plug", numbers, banks, ())


ENGINES = (
    _inline(4, "port-injection", "coil-per-plug"),
    _inline(4, "port-injection", "wasted-spark",
            shared=(SharedPart("coil", "coil A", (1, 4)), SharedPart("coil", "coil B", (2, 3)))),
    _inline(3, "direct-injection", "coil-per-plug"),
    _vee(6, "port-injection"),
    _inline(4, "carburettor", "distributor", shared=(SharedPart("carburettor", "carburettor", (1, 2, 3, 4)),)),
    _inline(2, "carburettor", "wasted-spark", shared=(SharedPart("coil", "coil", (1, 2)),)),
    _inline(2, "carburettor", "magneto", strokes=2),
    _inline(1, "carburettor", "magneto"),
)  # fmt: skip


@cache
def engine_tables(which: int) -> Tables:
    """All checks of one of the engines, worked out once."""
    knowledge: Knowledge = load()
    return tables(suspects(knowledge, ENGINES[which]))


@dataclass(frozen=True, slots=True)
class SimulatedEngine:
    """One engine with one or two faults.

    Attributes
    ----------
    tables
        Suspects and checks of the engine, as the policies know them.
    faults
        Indices of the suspects that are at fault.
    evidence
        Plugs and symptoms, all of them asked: what there is before the first check.
    outcomes
        Outcome of each choice with all faults in place, with the first alone and with the second alone.
    repairable
        Whether the first, second … attempt at a right repair works.
    chatter
        One number in 0..1 for what an in-vain repair seems to do.
    """

    tables: Tables = field(repr=False)
    faults: tuple[int, ...]
    evidence: Evidence = field(repr=False)
    outcomes: dict[frozenset[int], np.ndarray] = field(repr=False)
    repairable: tuple[bool, ...]
    chatter: float

    @property
    def suspects(self) -> Suspects:
        """All suspects."""
        return self.tables.suspects


def draw(seed: int) -> SimulatedEngine:
    """One engine from a seed."""
    rng = np.random.default_rng(seed)
    everything = engine_tables(int(rng.integers(len(ENGINES))))
    found = everything.suspects
    faults = _draw_faults(rng, found)
    readings = _draw_plugs(rng, found, faults)
    symptoms = {}
    for symptom in found.knowledge.symptoms.values():
        strengths = _shake(rng, found.symptom_strengths(symptom.id)[list(faults)])
        absent = (1.0 - _shake(rng, np.array([symptom.leak]))[0]) * np.prod(1.0 - strengths)
        symptoms[symptom.id] = bool(rng.random() > absent)
    works = found.knowledge.general.repair_works
    return SimulatedEngine(
        tables=everything,
        faults=faults,
        evidence=Evidence(found.engine, readings, symptoms),
        outcomes=_draw_outcomes(rng, everything, faults),
        repairable=tuple(bool(rng.random() < works) for _ in range(20)),
        chatter=float(rng.random()),
    )


def _shake(rng: np.random.Generator, chance: np.ndarray) -> np.ndarray:
    return np.minimum(chance * np.exp(rng.uniform(-SPREAD, SPREAD, chance.shape)), 0.98)


def _shake_rows(rng: np.random.Generator, rows: np.ndarray) -> np.ndarray:
    shaken = rows * np.exp(rng.uniform(-SPREAD, SPREAD, rows.shape))
    return shaken / shaken.sum(axis=-1, keepdims=True)


def _draw_faults(rng: np.random.Generator, found: Suspects) -> tuple[int, ...]:
    weights = _shake(rng, np.exp(found.log_prior))
    count = 2 if rng.random() < found.knowledge.general.two_faults else 1
    chosen = rng.choice(len(found), size=min(count, len(found)), replace=False, p=weights / weights.sum())
    return tuple(int(k) for k in chosen)


def _mixed(rng: np.random.Generator, rows: np.ndarray, none: int) -> int:
    """One outcome where faults with these rows meet: each acts or not; if both act one shows, half and half."""
    drawn = [int(rng.choice(len(row), p=row)) for row in rows]
    acting = [k for k in drawn if k != none]
    return int(rng.choice(acting)) if acting else none


def _draw_plugs(rng: np.random.Generator, found: Suspects, faults: tuple[int, ...]) -> dict[int, Reading]:
    none = LABELS.index("normal-tan")
    rows = {k: _shake_rows(rng, found.labels[k]) for k in faults}
    healthy = _shake_rows(rng, found.healthy_labels())
    readings = {}
    for column, cylinder in enumerate(found.engine.cylinders):
        here = [rows[k] for k in faults if found.marks[k] and found.reach[k, column]]
        label = _mixed(rng, np.array(here), none) if here else int(rng.choice(len(LABELS), p=healthy))
        if rng.random() > READER:
            label = int(rng.choice([k for k in range(len(LABELS)) if k != label]))
        rest = (1.0 - READER) / (len(LABELS) - 1)
        chance = {name: READER if k == label else rest for k, name in enumerate(LABELS)}
        readings[cylinder] = Reading(None, LABELS[label], chance)
    return readings


def _draw_outcomes(
    rng: np.random.Generator, everything: Tables, faults: tuple[int, ...]
) -> dict[frozenset[int], np.ndarray]:
    """Outcome index of every choice, for every set of faults that may be left after a repair."""
    left = {frozenset(faults), *(frozenset({k}) for k in faults)}
    drawn = {faults_left: np.zeros(len(everything.choices), dtype=int) for faults_left in left}
    for c, choice in enumerate(everything.choices):
        size = len(choice.check.outcomes)
        rows = slice(everything.start[c], everything.start[c] + size)
        otherwise = _shake_rows(rng, everything.otherwise[rows])
        shaken = {k: _shake_rows(rng, everything.finding[rows, k]) for k in faults if everything.relevant[c, k]}
        plain = int(rng.choice(size, p=otherwise))
        for faults_left, outcome in drawn.items():
            here = [shaken[k] for k in faults_left if k in shaken]
            outcome[c] = _mixed(rng, np.array(here), 0) if here else plain
    return drawn
