"""What looking took, against the same order of checks on every engine."""

from __future__ import annotations

import pytest

from firingend.bench.measurement import Measurement
from firingend.cases.case import TypedPlug
from firingend.cases.run import typed_reading
from firingend.diagnosis.evidence import Evidence, Outcome
from firingend.diagnosis.fixed_order import ORDER, order_of_work
from firingend.diagnosis.knowledge import load
from firingend.engine.build import build_engine

ENGINE = build_engine(2, name="pump engine", fuel_system="carburettor", ignition="coil-per-plug")
PLUGS = {1: typed_reading(TypedPlug("oil-fouled")), 2: typed_reading(TypedPlug("normal-tan"))}
RINGS = (("worn-rings", "cylinder 1"),)
WET_TEST = Outcome("compression-wet", "cylinder 1", "rises")


def evidence(*outcomes, **more):
    return Evidence(ENGINE, PLUGS, outcomes=outcomes, **more)


def test_the_order_names_each_check_once_and_none_that_is_not_there():
    assert len(set(ORDER)) == len(ORDER)
    assert set(ORDER) <= set(load().checks)


def test_looking_costs_what_the_checks_cost():
    knowledge = load()
    work = order_of_work(evidence(Outcome("air-filter", "engine", "clean"), WET_TEST), RINGS)
    # The plugs were read, so they are out already.
    assert work.looked.minutes == sum(knowledge.checks[name].minutes for name in ("air-filter", "compression-wet"))
    assert work.saved.minutes == work.fixed.minutes - work.looked.minutes
    assert work.saved.minutes > 100  # ignition, air and fuel come before the mechanical checks


def test_a_check_of_every_cylinder_costs_less_for_the_further_ones():
    check = load().checks["compression-wet"]
    work = order_of_work(evidence(Outcome("compression-wet", "all", "rises")), RINGS)
    assert work.looked.minutes == check.minutes + check.more


def test_the_fixed_order_stops_at_the_check_that_settles_it():
    knowledge, gap = load(), (("wide-plug-gap", "cylinder 1"),)
    work = order_of_work(evidence(Outcome("plug-gap", "cylinder 1", "wide")), gap)
    first_two = [knowledge.checks[name] for name in ORDER[:2]]
    assert [check.id for check in first_two] == ["plug-part-number", "plug-gap"]
    assert work.fixed.minutes == sum(check.minutes for check in first_two)
    assert work.fixed.minutes < order_of_work(evidence(WET_TEST), RINGS).fixed.minutes


def test_of_two_causes_the_later_one_ends_the_fixed_order():
    gap = ("wide-plug-gap", "cylinder 1")
    both = order_of_work(evidence(Outcome("plug-gap", "cylinder 1", "wide"), WET_TEST), (gap, *RINGS))
    assert both.fixed == order_of_work(evidence(WET_TEST), RINGS).fixed


def test_money_follows_the_rate():
    one = order_of_work(evidence(WET_TEST), RINGS)
    other = order_of_work(evidence(WET_TEST, rate_per_hour=120.0), RINGS)
    assert other.looked.minutes == one.looked.minutes
    parts = one.looked.money - one.looked.minutes
    assert other.looked.money == pytest.approx(2 * one.looked.minutes + parts)


def test_a_repair_in_vain_counts_and_the_one_that_cured_does_not():
    plain = order_of_work(evidence(WET_TEST), RINGS)
    vain = order_of_work(
        evidence(Outcome("repair:valve-stem-seal-leaking", "cylinder 1", "no-change"), WET_TEST), RINGS
    )
    cured = order_of_work(evidence(WET_TEST, Outcome("repair:worn-rings", "cylinder 1", "cured")), RINGS)
    assert vain.looked.minutes > plain.looked.minutes
    assert cured == plain


def test_a_cure_settles_it_without_a_check():
    work = order_of_work(evidence(Outcome("repair:worn-rings", "cylinder 1", "cured")), RINGS)
    assert work.looked.minutes == 0
    assert work.saved == work.fixed


def test_a_measurement_counts_as_its_check():
    wide = Measurement("plug-gap", "cylinder 1", 1.6, "mm", "spec 0.6 to 0.8")
    work = order_of_work(evidence(measurements=(wide,)), (("wide-plug-gap", "cylinder 1"),))
    assert work.looked.minutes == load().checks["plug-gap"].minutes


@pytest.mark.parametrize(
    "found",
    [(), (("gremlins", "engine"),), (("worn-rings", "cylinder 7"),), (("worn-rings", "cylinder 2"),)],
)
def test_nothing_is_said_where_it_cannot_be(found):
    assert order_of_work(evidence(WET_TEST), found) is None


def test_nothing_is_said_without_a_check_that_settles_it():
    assert order_of_work(evidence(Outcome("air-filter", "engine", "clean")), RINGS) is None
    assert order_of_work(evidence(), RINGS) is None
    assert order_of_work(evidence(Outcome("no such check", "engine", "x")), RINGS) is None
