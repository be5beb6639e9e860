"""The engine in hand: what has been put in so far, as frozen data; every change makes a new session."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType

from firingend.diagnosis.evidence import RunBefore
from firingend.engine.engine import Engine
from firingend.reading.reading import PhotoReading, Reading, Reason

NO_PLUGS: Mapping[int, Plug] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Plug:
    """One cylinder's plug.

    Attributes
    ----------
    photo
        Reading of the photograph it is on; None without a photograph.
    index
        Which of the photograph's firing ends it is, in row order; None when none was found.
    mark
        Label given by hand, which goes before what the photograph says; None without one.
    file, failure
        A photograph that could not be read, and why.
    trouble
        What is wrong with the photograph where a reading of it is known all the same; empty when nothing is.
    """

    photo: PhotoReading | None = None
    index: int | None = None
    mark: str | None = None
    file: Path | None = None
    failure: Reason | None = None
    trouble: str = ""

    @property
    def seen(self) -> Reading | None:
        """What the photograph says, whatever the hand says."""
        if self.photo is None or self.index is None:
            return None
        return self.photo.readings[self.index]


@dataclass(frozen=True, slots=True)
class RecordedCheck:
    """A check that was done: what it was, where, and what came out of it."""

    id: str
    name: str
    where: str
    outcome: str
    outcome_words: str


@dataclass(frozen=True, slots=True)
class Session:
    """Everything known about the engine in hand.

    Attributes
    ----------
    engine
        The engine.
    name
        What the technician calls the job; empty for the engine's own name.
    complaint
        What the customer says, in free words.
    symptoms
        Symptom id to True (there) or False (asked for and not there).
    plugs
        Plug of each cylinder that has one.
    run
        How the engine was run before the plugs came out.
    checks
        Checks done so far, oldest first.
    source
        The case file's own object, carried along so that saving loses nothing it holds; None for a new engine.
    """

    engine: Engine
    complaint: str = ""
    name: str = ""
    symptoms: Mapping[str, bool] = field(default_factory=dict)
    plugs: Mapping[int, Plug] = field(default_factory=lambda: NO_PLUGS)
    run: RunBefore = field(default_factory=RunBefore)
    checks: tuple[RecordedCheck, ...] = ()
    source: object = None

    def with_plug(self, cylinder: int, plug: Plug | None) -> Session:
        """Return the session with this plug on this cylinder, or with none there."""
        plugs = {n: p for n, p in self.plugs.items() if n != cylinder}
        if plug is not None:
            plugs[cylinder] = plug
        return replace(self, plugs=MappingProxyType(plugs))

    def with_mark(self, cylinder: int, label: str | None) -> Session:
        """Return the session with a label given by hand, or back to what the photograph says."""
        plug = replace(self.plugs.get(cylinder, Plug()), mark=label)
        empty = plug.photo is None and plug.mark is None and plug.failure is None
        return self.with_plug(cylinder, None if empty else plug)

    def with_check(self, check: RecordedCheck) -> Session:
        """Return the session with one more check; doing it again at the same place replaces the old outcome."""
        kept = tuple(c for c in self.checks if (c.id, c.where) != (check.id, check.where))
        return replace(self, checks=(*kept, check))

    def free_cylinders(self) -> tuple[int, ...]:
        """Cylinders without a photograph and without a label, in physical order."""
        return tuple(n for n in self.engine.cylinders if n not in self.plugs)
