"""What the viewer asks of the library, as one protocol, so that tests can answer in its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from firingend.comparison.comparison import Comparison
from firingend.diagnosis.diagnosis import Diagnosis
from firingend.engine.engine import Engine, FuelSystem, Ignition, Layout
from firingend.reading.reading import Box, PhotoReading
from firingend_gui.session import Session


@dataclass(frozen=True, slots=True)
class Choice:
    """Something to choose from a list: an id, and what a person reads."""

    id: str
    words: str


@dataclass(frozen=True, slots=True)
class EngineEntry:
    """An engine as typed into the form; ``firing_order`` is free text such as ``1-3-4-2``, empty if not known."""

    name: str
    cylinders: int
    layout: Layout
    strokes: Literal[2, 4]
    fuel_system: FuelSystem
    ignition: Ignition
    firing_order: str
    complaint: str = ""


@dataclass(frozen=True, slots=True)
class PlacedPhoto:
    """A photograph a case file names, and the cylinders its firing ends belong to, in row order."""

    file: Path
    cylinders: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class OpenedCase:
    """A case file as loaded: labels and outcomes are in the session, its photographs are still to be read."""

    session: Session
    photos: tuple[PlacedPhoto, ...]


@dataclass(frozen=True, slots=True)
class Assessment:
    """What the library makes of a session.

    ``outcomes`` holds the possible outcomes of every check in ``diagnosis.next``; ``result`` is what the report
    writers take.
    """

    comparison: Comparison
    diagnosis: Diagnosis
    outcomes: Mapping[str, tuple[Choice, ...]]
    result: object = None


class Services(Protocol):
    """Everything slow or clever; each call is safe to make away from the GUI thread."""

    def read_photo(self, file: Path) -> PhotoReading:
        """Read every firing end in a photograph."""
        ...

    def pixels(self, file: Path, box: Box | None, longest: int) -> NDArray[np.uint8]:
        """Upright sRGB pixels (height, width, 3) of a photograph or of a box in it, ``longest`` a side at most."""
        ...

    def build_engine(self, entry: EngineEntry) -> Engine:
        """Turn the form into an engine; raises `UserError` naming what does not fit."""
        ...

    def symptoms(self) -> tuple[Choice, ...]:
        """Symptoms the knowledge knows."""
        ...

    def assess(self, session: Session) -> Assessment:
        """Compare the cylinders and rank causes and checks."""
        ...

    def open_case(self, file: Path) -> OpenedCase:
        """Load a case file."""
        ...

    def save_case(self, session: Session, file: Path) -> None:
        """Write the session as a case file that `open_case` loads again."""
        ...

    def save_report(self, session: Session, assessment: Assessment, file: Path) -> None:
        """Write the report; the ending of the name says HTML or PDF."""
        ...
