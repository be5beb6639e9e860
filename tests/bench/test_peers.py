"""Robust comparison against published examples."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firingend.bench.peers import compare, modified_z


def test_nist_grubbs_data():
    """NIST/SEMATECH e-Handbook 1.3.5.17 data; median 201.37, MAD .995, M 29.963 (status: computed here)."""
    data = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    assert modified_z(data)[-1] == pytest.approx(29.963, abs=1e-3)
    assert [s.odd for s in compare(data, 0.05)] == [False] * 7 + [True]


def test_iglewicz_and_hoaglin_example_is_not_masked():
    """Attributed to Iglewicz and Hoaglin (1993); M 25.856 and 26.305 (status: computed here)."""
    data = [2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3]
    assert modified_z(data)[-2:] == pytest.approx([25.856, 26.305], abs=1e-3)
    assert [s.odd for s in compare(data, 0.3)] == [False] * 8 + [True, True]


def test_four_cylinders():
    assert modified_z([178, 182, 175, 121]) == pytest.approx([0.289, 1.060, -0.289, -10.696], abs=1e-3)


def test_no_spread_in_the_middle_falls_back_on_the_tolerance():
    assert modified_z([150, 150, 150, 120]) is None
    assert [s.odd for s in compare([150, 150, 150, 150, 120], 0.1)] == [False] * 4 + [True]


def test_a_very_even_set_does_not_make_a_trifle_odd():
    assert not any(s.odd for s in compare([0.600, 0.601, 0.600, 0.601, 0.610], 0.1))


def test_two_that_differ_are_both_odd_and_one_alone_never_is():
    assert [s.odd for s in compare([1.0, 2.0], 0.1)] == [True, True]
    assert [s.odd for s in compare([1.0, 1.105], 0.1)] == [True, True]
    assert [s.odd for s in compare([1.0], 0.1)] == [False]


@given(st.lists(st.floats(1, 100), min_size=2, max_size=12), st.floats(0.01, 1000))
def test_the_unit_does_not_matter(values, factor):
    before = [s.odd for s in compare(values, 0.2)]
    scaled = compare([v * factor for v in values], 0.2)
    close = [abs(abs(s.deviation) - 0.2) < 1e-6 or abs(abs(s.modified_z or 0) - 3.5) < 1e-6 for s in scaled]
    if len(values) == 2:  # the larger over the smaller decides for both
        close = [any(close)] * 2
    assert all(a == s.odd or near for a, s, near in zip(before, scaled, close, strict=True))
