"""Measurements reach the inference as outcomes of the checks they settle."""

from __future__ import annotations

from engines import done, inline, plugs

from firingend.bench.kinds import KINDS
from firingend.diagnosis.diagnose import diagnose
from firingend.diagnosis.evidence import Evidence, Measurement
from firingend.diagnosis.knowledge import load
from firingend.diagnosis.measured import with_measured_outcomes

FOUR = inline(4)
READINGS = plugs(FOUR, {2: "rich-carbon", 3: "rich-carbon"})


def across(what, values, unit):
    return tuple(Measurement(what, f"cylinder {k}", v, unit) for k, v in enumerate(values, 1))


def test_every_kind_settles_a_check_that_exists_with_outcomes_that_exist():
    checks = load().checks
    for kind in KINDS.values():
        names = set(checks[kind.check].outcomes)
        assert {kind.passed, kind.below, kind.above} - {""} <= names, kind.id


def test_two_low_neighbours_that_do_not_rise_with_oil_point_to_the_gasket_between_them():
    measured = across("compression-dry", [178, 120, 118, 180], "psi") + across(
        "compression-wet", [181, 123, 121, 184], "psi"
    )
    diagnosis = diagnose(Evidence(FOUR, READINGS, measurements=measured))
    assert (diagnosis.causes[0].id, diagnosis.causes[0].cylinders) == ("head-gasket-between-cylinders", (2, 3))
    assert any("75%" in note for note in diagnosis.notes)


def test_measuring_says_the_same_as_writing_the_outcome_down():
    measured = Evidence(FOUR, READINGS, measurements=across("plug-gap", [0.7, 0.72, 0.7, 1.3], "mm"))
    written = Evidence(
        FOUR,
        READINGS,
        outcomes=tuple(done("plug-gap", "wide" if n == 4 else "right", f"cylinder {n}") for n in range(1, 5)),
    )
    assert diagnose(measured).causes == diagnose(written).causes


def test_a_written_outcome_comes_before_a_measured_one():
    evidence = Evidence(
        FOUR,
        outcomes=(done("fuel-pressure-idle", "in-range"),),
        measurements=(Measurement("fuel-pressure-idle", "engine", 4.5, "bar", "spec 2.8 to 3.2"),),
    )
    assert with_measured_outcomes(evidence, load()).outcomes == evidence.outcomes


def test_of_two_measurements_of_one_coil_the_finding_counts():
    measured = across("coil-primary-resistance", [0.6, 0.6, 0.6, 0.6], "ohm") + across(
        "coil-secondary-resistance", [9.8, 9.9, 4.1, 9.8], "kohm"
    )
    outcomes = {
        o.where: o.outcome for o in with_measured_outcomes(Evidence(FOUR, measurements=measured), load()).outcomes
    }
    assert outcomes["coil of cylinder 3"] == "off" and outcomes["coil of cylinder 1"] == "alike"


def test_high_fuel_pressure_by_gauge_leads_to_the_regulator():
    gauge = Measurement("fuel-pressure-idle", "engine", 62, "psi", "spec 38 to 44")
    diagnosis = diagnose(Evidence(FOUR, plugs(FOUR, others="rich-carbon"), measurements=(gauge,)))
    assert diagnosis.causes[0].id == "fuel-pressure-regulator-stuck-high"
    assert diagnosis.causes[0].probability > 0.7
