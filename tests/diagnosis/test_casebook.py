"""Invented cases with the cause a seasoned technician would put first. Common practice, no source."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

import pytest

from firingend.cases.case import CaseResult
from firingend.cases.load import load_case
from firingend.cases.run import run_case
from firingend.diagnosis.places import find_places

HERE = Path(__file__).parent
EXPECTED = tomllib.loads((HERE / "casebook_expected.toml").read_text(encoding="utf-8"))
LONG = 180.0
"""Minutes of work, opening included, that make a step a strip-down."""


@cache
def result(name: str) -> CaseResult:
    return run_case(load_case(HERE / "casebook" / f"{name}.toml"))


def place_of(name: str) -> set[int] | None:
    """Cylinders of the expected place; None when it does not matter."""
    where = EXPECTED[name].get("where")
    if where is None:
        return None
    engine = result(name).case.engine
    scope = next(
        (s for s in ("coil", "ends", "carburettor", "bank") if s in where), "coil" if where.isdigit() else "cylinder"
    )
    scope = "ends" if where.startswith("end") else scope
    return {n for place in find_places(engine, scope, where) for n in place.cylinders}


def rank(name: str) -> int:
    """Rank of the expected cause, 1 for the first; 99 when it is not listed."""
    place = place_of(name)
    for k, cause in enumerate(result(name).diagnosis.causes, 1):
        if cause.id == EXPECTED[name]["cause"] and (place is None or set(cause.cylinders) == place):
            return k
    return 99


def test_the_book_is_complete():
    assert {path.stem for path in (HERE / "casebook").glob("*.toml")} == set(EXPECTED)
    assert len(EXPECTED) >= 30


@pytest.mark.parametrize("name", EXPECTED)
def test_expected_cause_is_among_the_first_three(name):
    assert rank(name) <= 3, [(c.id, c.where, round(c.probability, 3)) for c in result(name).diagnosis.causes[:5]]


def test_expected_cause_leads_in_four_of_five_cases():
    first = [name for name in EXPECTED if rank(name) == 1]
    assert len(first) >= 0.8 * len(EXPECTED), set(EXPECTED) - set(first)


@pytest.mark.parametrize("name", EXPECTED)
def test_no_strip_down_first_while_a_quick_look_could_settle_it(name):
    steps = result(name).diagnosis.next
    assert steps
    if steps[0].minutes < LONG:
        return
    lead = result(name).diagnosis.causes[0]
    assert lead.probability >= 0.95, [(s.id, s.minutes) for s in steps[:4]]
