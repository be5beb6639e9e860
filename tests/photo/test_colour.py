"""Colour arithmetic against published values and two independent libraries."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage import color as skimage_color

with warnings.catch_warnings():  # it warns about its optional plotting when imported
    warnings.simplefilter("ignore")
    import colour

from firingend.photo.colour import ciede2000, linear_to_srgb, srgb_to_lab, srgb_to_linear, xyz_to_lab

# Sharma, Wu & Dalal 2005, Color Res. Appl. 30(1) 21-30, Table 1. Pairs 1 and 17: computed and equal to the
# published value as independent public copies print it. Pairs 10, 11 and 34: value from memory.
SHARMA = [
    ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
    ((50, 2.49, -0.001), (50, -2.49, 0.0010), 7.1792),
    ((50, 2.49, -0.001), (50, -2.49, 0.0011), 7.2195),
    ((50, 2.5, 0), (73, 25, -18), 27.1492),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
]


@pytest.mark.parametrize(("first", "second", "difference"), SHARMA)
def test_ciede2000_published_pairs(first, second, difference):
    assert float(ciede2000(first, second)) == pytest.approx(difference, abs=5e-5)
    assert float(ciede2000(second, first)) == pytest.approx(difference, abs=5e-5)


def test_ciede2000_equals_two_libraries():
    rng = np.random.default_rng(0)
    lab1 = rng.uniform((0, -110, -110), (100, 110, 110), (5000, 3))
    lab2 = rng.uniform((0, -110, -110), (100, 110, 110), (5000, 3))
    lab2[::5] = lab1[::5] + rng.normal(0, 0.5, (1000, 3))  # neighbours are what readings are compared on
    lab1[::7, 1:] = 0  # greys take branches of their own
    assert np.allclose(ciede2000(lab1, lab2), skimage_color.deltaE_ciede2000(lab1, lab2), atol=1e-10)
    assert np.allclose(ciede2000(lab1, lab2), colour.delta_E(lab1, lab2, method="CIE 2000"), atol=1e-10)


lab_colours = st.tuples(st.floats(0, 100), st.floats(-128, 127), st.floats(-128, 127))


@given(lab_colours, lab_colours)
def test_ciede2000_is_a_symmetric_difference(first, second):
    there, back = float(ciede2000(first, second)), float(ciede2000(second, first))
    assert there >= 0
    assert there == pytest.approx(back, abs=1e-9)
    assert float(ciede2000(first, first)) == 0


def test_srgb_decode_and_encode():
    # IEC 61966-2-1:1999, computed from its formula.
    bytes_, linear = (
        [0, 10, 11, 119, 128, 188, 255],
        [0, 0.00303527, 0.00334654, 0.18447499, 0.21586050, 0.50288646, 1],
    )
    assert np.allclose(srgb_to_linear(np.array(bytes_) / 255), linear, atol=5e-9)
    assert np.allclose(linear_to_srgb([0.18, 0.5, 0.0031308]), [0.46135613, 0.73535698, 0.0404499], atol=5e-8)


@given(st.floats(0, 1))
def test_srgb_round_trip(value):
    # The standard's two branches miss each other by less than 1e-7 at the join.
    assert float(linear_to_srgb(srgb_to_linear(value))) == pytest.approx(value, abs=1e-6)


def test_lab_of_primaries_and_greys():
    # Computed with scikit-image, whose rounded matrix differs by up to 0.03.
    primaries = np.array([(255, 0, 0), (0, 255, 0), (0, 0, 255)], np.uint8)
    expected = [(53.24, 80.09, 67.20), (87.74, -86.18, 83.18), (32.30, 79.19, -107.86)]
    assert np.allclose(srgb_to_lab(primaries), expected, atol=0.03)
    greys = srgb_to_lab(np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1))
    assert np.abs(greys[:, 1:]).max() < 0.01
    assert greys[119, 0] == pytest.approx(50.034, abs=2e-3)  # computed, two libraries agree
    assert greys[128, 0] == pytest.approx(53.585, abs=2e-3)


def test_lab_equals_scikit_image_over_the_cube():
    levels = np.arange(0, 256, 15, dtype=np.uint8)
    cube = np.stack(np.meshgrid(levels, levels, levels), axis=-1)
    assert np.allclose(srgb_to_lab(cube), skimage_color.rgb2lab(cube), atol=0.04)
    assert np.allclose(srgb_to_lab(cube / 255), srgb_to_lab(cube), atol=1e-4)


def test_xyz_to_lab_of_a_colour_checker():
    # Dark skin and neutral 5 of the 24-patch chart (November 2014 on), equal to the manufacturer's table to 0.01.
    chart = colour.CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"]
    white = colour.xy_to_XYZ(chart.illuminant)
    for patch, expected in (("dark skin", (37.54, 14.37, 14.92)), ("neutral 5 (.70 D)", (50.76, -0.13, 0.14))):
        xyz = colour.xyY_to_XYZ(chart.data[patch])
        # Scaling to our white makes f(X/Xn) the same as under the chart's D50.
        scaled = xyz / white * np.array((0.95046, 1.0, 1.08906))
        assert np.allclose(xyz_to_lab(scaled), expected, atol=0.02)
