"""Zones on the photograph and their colours."""

from __future__ import annotations

import numpy as np
import pytest

from firingend.labels import PARTS
from firingend.photo.colour import ciede2000, srgb_to_lab
from firingend.reading.parts import zones_of
from firingend.reading.reading import FiringEnd, Reading, Zone
from firingend.reading.zone_colour import FROM_PATCH, estimated_neutral, patch_neutral, zone_difference


def _parts():
    parts = np.full((16, 16), PARTS.index("background"))
    parts[0:4, 4:12] = PARTS.index("nose")
    return parts


def _nose(axis, crop, neutral):
    return zones_of(crop, _parts(), FiringEnd((100, 100, 164, 164), axis, 0.9), 1.0, neutral)


def test_outline_lies_where_the_crop_was_cut():
    crop = np.full((64, 64, 3), 128, np.uint8)
    (upright,) = _nose((0, -1), crop, estimated_neutral(crop))
    assert upright.part == "nose"
    assert set(upright.outlines[0]) == {(116, 100), (148, 100), (148, 116), (116, 116)}
    (to_the_right,) = _nose((1, 0), crop, estimated_neutral(crop))
    assert set(to_the_right.outlines[0]) == {(164, 116), (164, 148), (148, 148), (148, 116)}


def test_colour_of_the_light_is_taken_out_by_a_grey_patch():
    crop = np.full((64, 64, 3), (150, 120, 80), np.uint8)
    (zone,) = _nose((0, -1), crop, patch_neutral(crop, (0, 0, 8, 8)))
    assert zone.neutral == FROM_PATCH
    assert zone.lab[0] == pytest.approx(srgb_to_lab(np.array([120, 120, 120], np.uint8))[0], abs=0.5)
    assert zone.lab[1:] == pytest.approx((0, 0), abs=0.5)


def test_a_nose_on_a_warm_table_keeps_its_colour():
    """The table is no coloured light: a tan nose on it stays tan, and how sure that is falls with the table's say."""
    grey, table, nose = np.array([140, 140, 140]), np.array([190, 140, 90]), np.array([150, 115, 85])
    crop = np.empty((64, 64, 3), np.uint8)
    crop[:], crop[0:16, 16:48], crop[40:48, 16:48] = table, nose, grey
    (zone,) = _nose((0, -1), crop, estimated_neutral(crop))
    assert zone.lab == pytest.approx(srgb_to_lab(nose.astype(np.uint8)), abs=1.0)
    metal = np.full((64, 64, 3), 140, np.uint8)
    assert estimated_neutral(crop).sure < estimated_neutral(metal).sure == pytest.approx(0.93)


def test_blown_out_parts_have_no_colour():
    crop = np.full((64, 64, 3), 255, np.uint8)
    assert _nose((0, -1), crop, estimated_neutral(crop))[0].lab is None


def test_the_odd_nose_differs_from_the_others():
    labs = [(80.0, 2.0, 10.0), (25.0, 0.0, 2.0), (80.0, 2.0, 10.0), None]
    readings = [Reading(None, "wet", {}, zones=(Zone("nose", (), 0.1, lab, "a patch", 0.9),)) for lab in labs]
    same, odd, again, unknown = zone_difference(readings)
    assert unknown is None
    assert odd == pytest.approx(float(ciede2000(labs[1], labs[0])))
    assert odd > same == again
    assert zone_difference(readings[:1]) == (None,)
