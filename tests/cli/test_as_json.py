"""JSON as people and programs read it."""

from __future__ import annotations

import json
import math

import pytest

from firingend.cli.as_json import as_text

NESTED = {
    "name": 'a "row" in the sun, 20 °C',
    "sets": [["wet", "oil-fouled"], [], ["wet"]],
    "zones": [{"outlines": [[[0.1, 2], [3, 4.25]], []], "lab": None, "sure": True}, {}],
    "cover": {"nose": 0.25, "rim": 1e-9},
    "empty": {},
    "none": [],
}


@pytest.mark.parametrize("value", [NESTED, [NESTED, NESTED], [], {}, "text", 1.5, None, True])
def test_text_says_what_the_standard_library_says(value):
    assert json.loads(as_text(value)) == json.loads(json.dumps(value))


def test_an_outline_takes_one_line_and_nothing_is_longer_than_need_be():
    lines = as_text(NESTED).splitlines()
    assert '      "outlines": [[[0.1, 2], [3, 4.25]], []],' in lines
    assert '  "cover": {"nose": 0.25, "rim": 1e-09},' in lines
    assert as_text(NESTED).isascii()  # whatever the console


@pytest.mark.parametrize("number", [math.nan, math.inf])
def test_what_is_no_number_in_json_is_refused(number):
    with pytest.raises(ValueError, match="JSON"):
        as_text({"label": "wet", "cover": {"nose": number}})
