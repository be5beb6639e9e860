"""Formulas of the bench against published values."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firingend.bench.physics import copper_at_20, flow_at
from firingend.bench.units import INSIDE, from_inside, to_inside
from firingend.errors import UserError


@pytest.mark.parametrize(
    ("measured", "temperature", "at_20"),
    [
        (3.70727, 80.0, 3.0),
        (100.0, 30.0, 96.219),
        (0.750289 * 254.5 / 259.5, 20.0, 0.60 * 254.5 / 259.5 * 0.750289 / 0.6),
    ],
)
def test_copper_by_iec_60228(measured, temperature, at_20):
    """IEC 60228, 234.5 degC; 100 ohm at 30 degC gives 96.22 in a resistance-meter manual (status: value agrees)."""
    assert copper_at_20(measured, temperature) == pytest.approx(at_20, rel=1e-5)


def test_iec_60228_factors():
    """Factor table to 20 degC uses 1/(1 + .004 (t - 20)); the 234.5 form lies within .0034 of it over 5 to 40."""
    for temperature, factor in ((5, 1.064), (10, 1.042), (30, 0.962), (40, 0.926)):
        assert copper_at_20(1.0, temperature) == pytest.approx(factor, abs=0.0035)


@pytest.mark.parametrize(
    ("flow", "pressure", "wanted", "expected"),
    [(240, 3.0, 3.5, 259.23), (630, 43.5, 58, 727.46), (1, 1, 2, 1.41421), (1, 1, 0.7, 0.83666)],
)
def test_flow_goes_with_the_square_root_of_pressure(flow, pressure, wanted, expected):
    """Orifice equation (status: computed here)."""
    assert flow_at(flow, pressure, wanted) == pytest.approx(expected, rel=1e-4)


def test_no_flow_without_pressure():
    with pytest.raises(UserError, match="pressure above zero"):
        flow_at(240, 0, 300)


@pytest.mark.parametrize(
    ("value", "unit", "quantity", "inside"),
    [(100, "psi", "pressure", 689.476), (1, "bar", "pressure", 100), (4.7, "kΩ", "resistance", 4700),
     (0.04, "inch", "length", 1.016), (1.2, "l/min", "flow", 1200),
     (20, "%", "share", 20), (212, "°F", "temperature", 100)],
)  # fmt: skip
def test_units_of_the_users_choice(value, unit, quantity, inside):
    assert to_inside(value, unit, quantity) == pytest.approx(inside, rel=1e-5)


@given(st.floats(1, 1e4), st.sampled_from([("pressure", "psi"), ("length", "inch"), ("flow", "l/hour")]))
def test_units_make_the_round_trip(value, pair):
    quantity, unit = pair
    assert to_inside(from_inside(value, quantity, unit), unit, quantity) == pytest.approx(value, rel=1e-9)
    assert INSIDE[quantity]
