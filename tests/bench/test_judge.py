"""Measurements judged as a technician would."""

from __future__ import annotations

import math

import pytest

from firingend.bench.judge import chart_resistance, judge
from firingend.bench.measurement import Measurement
from firingend.errors import UserError


def across(what, values, unit, condition=""):
    return [Measurement(what, f"cylinder {k}", v, unit, condition) for k, v in enumerate(values, 1)]


def outcomes(*groups):
    return [finding.outcome for finding in judge([m for group in groups for m in group])]


def test_one_coil_far_off_its_peers_is_the_suspect():
    assert outcomes(across("coil-primary-resistance", [0.62, 0.60, 0.41, 0.61], "ohm")) == [
        "alike",
        "alike",
        "off",
        "alike",
    ]


def test_coils_alike_and_within_limits_pass():
    findings = judge(across("coil-primary-resistance", [0.60, 0.61, 0.60], "ohm", "spec 0.5 to 0.7"))
    assert {f.outcome for f in findings} == {"alike"} and "within limits" in findings[0].reason


def test_coils_at_different_temperatures_are_compared_at_20_degrees():
    cold = Measurement("coil-primary-resistance", "cylinder 1", 0.60, "ohm", "at 20 degC")
    hot = Measurement("coil-primary-resistance", "cylinder 2", 0.60 * 324.5 / 254.5, "ohm", "at 90 degC")
    warm = Measurement("coil-primary-resistance", "cylinder 3", 0.60, "ohm", "at 20 degC")
    findings = judge([cold, hot, warm])
    assert [f.outcome for f in findings] == ["alike"] * 3
    assert findings[1].value == pytest.approx(0.60)


def test_a_good_coil_is_not_low_because_the_other_is_faulty():
    good, bad = judge(across("coil-primary-resistance", [0.5, 1.9], "ohm", "spec 0.4 to 0.6"))
    assert (good.verdict, good.outcome) == ("in order", "alike") and "against" not in good.reason
    assert (bad.verdict, bad.outcome) == ("high", "off") and "over the limit of 0.6" in bad.reason


def test_within_limits_peers_add_a_note_and_no_more():
    findings = judge(across("coil-primary-resistance", [0.58, 0.58, 0.42, 0.58], "ohm", "spec 0.4 to 0.6"))
    assert {(f.verdict, f.outcome) for f in findings} == {("in order", "alike")}
    assert ["against the others" in f.reason for f in findings] == [False, False, True, False]


def test_two_coils_without_limits_differ_and_neither_is_blamed():
    findings = judge(across("coil-primary-resistance", [0.5, 1.9], "ohm"))
    assert [(f.verdict, f.check, f.outcome) for f in findings] == [("differs", "", "")] * 2
    assert all("cannot tell which is off" in f.reason for f in findings)


def test_two_coils_just_apart_get_the_same_verdict():
    """1.105 is 10.5 % over 1, but 1 only 9.5 % under 1.105."""
    assert [f.verdict for f in judge(across("coil-primary-resistance", [1.0, 1.105], "ohm"))] == ["differs"] * 2


def test_four_coils_without_limits_show_the_odd_one():
    findings = judge(across("coil-primary-resistance", [0.5, 0.51, 1.9, 0.5], "ohm"))
    assert [f.verdict for f in findings] == ["in order", "in order", "high", "in order"]
    assert [f.outcome for f in findings] == ["alike", "alike", "off", "alike"]


def test_one_beyond_its_limits_is_no_peer_for_one_without():
    limited = Measurement("coil-primary-resistance", "cylinder 1", 1.9, "ohm", "spec 0.4 to 0.6")
    free = [Measurement("coil-primary-resistance", f"cylinder {k}", 0.5, "ohm") for k in (2, 3)]
    assert [f.verdict for f in judge([limited, free[0]])] == ["high", "not judged"]
    assert [f.verdict for f in judge([limited, *free])] == ["high", "in order", "in order"]


def test_a_one_sided_limit_leaves_the_other_side_to_the_peers():
    findings = judge(across("coil-primary-resistance", [0.55, 0.05, 0.55, 0.55], "ohm", "spec at most 0.6"))
    assert [f.verdict for f in findings] == ["in order", "low", "in order", "in order"]
    findings = judge(across("coil-primary-resistance", [0.5, 1.0, 0.5, 0.5], "ohm", "spec at most 1.2"))
    assert [f.verdict for f in findings] == ["in order"] * 4


@pytest.mark.parametrize("value", [math.inf, 5e6])
def test_an_open_winding_is_open_and_does_not_drag_the_others(value):
    assert outcomes(across("coil-secondary-resistance", [9800, value, 9900, 9850], "ohm")) == [
        "alike",
        "open",
        "alike",
        "alike",
    ]


def test_compression_lowest_must_reach_75_percent_of_the_highest():
    """US Army TM 5-4210-230-14&P-1 (status: published source)."""
    assert outcomes(across("compression-dry", [178, 182, 175, 121], "psi")) == ["good", "good", "good", "low"]
    assert outcomes(across("compression-dry", [1200, 901], "kPa")) == ["good", "good"]
    assert outcomes(across("compression-dry", [1200, 899], "kPa")) == ["good", "low"]


def test_compression_within_limits_may_still_be_too_far_below_the_highest():
    findings = judge(across("compression-dry", [1300, 1290, 940], "kPa", "spec 900 to 1400"))
    assert [f.outcome for f in findings] == ["good", "good", "low"] and "72% of the highest" in findings[2].reason


def test_compression_over_its_limit_is_no_measure_for_the_others():
    findings = judge(across("compression-dry", [1800, 1200, 1150], "kPa", "spec 1000 to 1400"))
    assert [(f.verdict, f.outcome) for f in findings] == [("high", ""), ("in order", "good"), ("in order", "good")]


def test_a_rise_with_oil_points_to_rings_and_none_to_valves():
    dry = across("compression-dry", [12.0, 12.1, 7.0, 7.2], "bar")
    wet = across("compression-wet", [12.5, 12.4, 9.5, 7.3], "bar")
    assert outcomes(dry, wet)[4:] == ["not-low", "not-low", "rises", "no-rise"]


def test_leak_down_over_25_percent_with_where_it_hisses():
    """60 of 80 psi held is 25 percent lost (FAA AC 43.13-1B; status: value agrees)."""
    lost = [8, 24, 60, 70]
    hiss = ["", "", "hisses at exhaust", "hisses at the oil filler"]
    given = [Measurement("leak-down", f"cylinder {k + 1}", lost[k], "%", hiss[k]) for k in range(4)]
    assert [f.outcome for f in judge(given)] == ["tight", "tight", "exhaust", "breather"]
    silent = judge([Measurement("leak-down", "cylinder 1", 60, "%")])[0]
    assert silent.outcome == "" and "not written down" in silent.reason


def test_plug_gap_in_inches_against_the_manual():
    given = across("plug-gap", [0.028, 0.045, 0.005], "inch", "spec 0.024 to 0.032")
    assert outcomes(given) == ["right", "wide", "closed"]


@pytest.mark.parametrize(
    ("value", "unit", "outcome"),
    [(3.0, "bar", "in-range"), (4.4, "bar", "high"), (1.9, "bar", "low"), (0, "bar", "none")],
)
def test_fuel_pressure_against_the_manual(value, unit, outcome):
    given = Measurement("fuel-pressure-idle", "engine", value, unit, "spec 2.7 to 3.3")
    assert judge([given])[0].outcome == outcome


def test_fuel_pressure_without_limits_is_not_judged():
    assert judge([Measurement("fuel-pressure-idle", "engine", 300, "kPa")])[0].verdict == "not judged"


def test_pressure_that_falls_after_stop():
    run = Measurement("fuel-pressure-idle", "engine", 300, "kPa")
    assert judge([run, Measurement("fuel-pressure-after-stop", "engine", 120, "kPa")])[1].outcome == "falls"
    assert judge([run, Measurement("fuel-pressure-after-stop", "engine", 260, "kPa")])[1].outcome == "holds"


def test_injector_flow_at_different_pressures_is_compared_at_one():
    flows = [Measurement("injector-flow", "cylinder 1", 240.0, "ml/min", "at 300 kPa"),
             Measurement("injector-flow", "cylinder 2", 259.23, "ml/min", "at 350 kPa"),
             Measurement("injector-flow", "cylinder 3", 180.0, "ml/min", "at 300 kPa")]  # fmt: skip
    assert [f.outcome for f in judge(flows)] == ["even", "even", "low"]


def test_injectors_within_limits_but_uneven_are_neither_even_nor_low():
    findings = judge(across("injector-flow", [240, 241, 205, 240], "ml/min", "spec 200 to 260"))
    assert [f.outcome for f in findings] == ["even", "even", "", "even"]
    assert findings[2].verdict == "differs" and "within limits, though -15%" in findings[2].reason


def test_two_injectors_without_limits_differ():
    assert outcomes(across("injector-flow", [240, 200], "ml/min")) == ["", ""]


def test_a_sensor_far_above_its_chart_reads_cold():
    kind = "coolant-temperature-sensor-resistance"
    assert judge([Measurement(kind, "engine", 9.0, "kohm", "at 20 degC")])[0].outcome == "reads-cold"
    assert judge([Measurement(kind, "engine", 2450, "ohm", "at 68 degF")])[0].outcome == "on-chart"
    assert judge([Measurement(kind, "engine", 300, "ohm", "at 20 degC")])[0].outcome == "reads-hot"
    assert chart_resistance(50.0) == pytest.approx((1180.0 * 600.0) ** 0.5)


def test_valve_clearance():
    given = Measurement("valve-clearance-exhaust", "cylinder 2", 0.05, "mm", "spec 0.20 to 0.30")
    assert judge([given])[0].outcome == "tight"


@pytest.mark.parametrize(
    ("measurement", "words"),
    [
        (Measurement("plug-gap", "cylinder 1", 70, "mm"), "70 mm cannot be"),
        (Measurement("plug-gap", "cylinder 1", 0.7, "bar"), '"bar" is not a unit of length'),
        (Measurement("plug-gap", "cylinder 1", 0.7, "furlongish"), '"furlongish" is not a unit'),
        (Measurement("compression-dry", "cylinder 1", -3, "bar"), "cannot be"),
        (Measurement("compression-dry", "cylinder 1", math.nan, "bar"), "not a number"),
        (Measurement("compression-dry", "cylinder 1", math.inf, "bar"), "infinite"),
        (Measurement("leak-down", "cylinder 1", 130, "%"), "cannot be"),
        (Measurement("coil-primary-resistance", "coil A", 0.6, "ohm", "at 900 degC"), "not plausible"),
        (Measurement("plug-gap", "cylinder 1", 0.7, "mm", "spec 0.7 or so"), "is not understood"),
        (Measurement("plug-gap", "cylinder 1", 0.7, "mm", "spec 0.9 to 0.6"), "wrong way round"),
        (Measurement("plug-colour", "cylinder 1", 0.7, "mm"), "not a measurement that can be judged"),
    ],
)
def test_nonsense_is_refused_with_the_reason(measurement, words):
    with pytest.raises(UserError, match=words):
        judge([measurement])
