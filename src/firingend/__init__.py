"""Reads photographs of spark-plug firing ends, compares the cylinders and ranks the next check.

`read`, `compare` and `diagnose` are the whole of it; everything else is in the rooms below. Importing the package
loads none of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from firingend.cases.case import Case, CaseResult
    from firingend.comparison.comparison import Comparison
    from firingend.engine.engine import Engine
    from firingend.reading.reading import PhotoReading, Reading

__all__ = ["compare", "diagnose", "read"]


def read(photo: str | Path) -> PhotoReading:
    """Read every firing end in a photograph; raises `firingend.errors.PhotoError` when it cannot be read."""
    from firingend.reading.reader import read_photo

    return read_photo(Path(photo))


def compare(engine: Engine, readings: Mapping[int, Reading]) -> Comparison:
    """Say what the cylinders of one engine show together; ``readings`` are by cylinder number."""
    from firingend.comparison.compare import compare as compare_cylinders

    return compare_cylinders(engine, readings)


def diagnose(case: Case | str | Path) -> CaseResult:
    """Read, compare and diagnose a case, or the case file of that name.

    Raises
    ------
    firingend.errors.UserError
        The case file or one of its photographs cannot be used; the message says what to do.
    """
    from firingend.cases.load import load_case
    from firingend.cases.run import run_case

    return run_case(load_case(Path(case)) if isinstance(case, str | Path) else case)
