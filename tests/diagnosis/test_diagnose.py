"""Facts of the trade that the troubleshooter must know. Common practice, no source."""

from __future__ import annotations

import dataclasses

import pytest
from engines import done, inline, plug, plugs, vee

from firingend.diagnosis.diagnose import diagnose
from firingend.diagnosis.evidence import Evidence, RunBefore
from firingend.diagnosis.knowledge import load
from firingend.engine.engine import Engine, SharedPart
from firingend.errors import KnowledgeError, UserError
from firingend.labels import LABELS
from firingend.reading.reading import Reading

SUPPLY = {"clogged-fuel-strainer", "clogged-fuel-filter", "weak-fuel-pump"}


def test_all_rich_with_good_coils_plugs_and_filter_leads_to_the_regulator():
    engine = inline(4)
    diagnosis = diagnose(
        Evidence(
            engine,
            plugs(engine, others="rich-carbon"),
            symptoms={"falling-oil-level": False, "rising-oil-level": False},
            outcomes=(
                done("coil-resistance", "alike"),
                done("plug-part-number", "right"),
                done("plug-gap", "right"),
                done("air-filter", "clean"),
                done("oil-level", "at-mark"),
            ),
        )
    )
    assert diagnosis.causes[0].id == "fuel-pressure-regulator-stuck-high"


def test_all_rich_leads_to_the_regulator_without_any_symptom_asked():
    engine = inline(4)
    outcomes = tuple(done(check, "good") for check in ("coil-resistance", "plug-part-number", "plug-gap", "air-filter"))
    diagnosis = diagnose(Evidence(engine, plugs(engine, others="rich-carbon"), outcomes=outcomes))
    assert diagnosis.causes[0].id == "fuel-pressure-regulator-stuck-high"


def test_all_lean_hunting_without_an_intake_leak_leads_to_the_fuel_supply():
    engine = inline(4)
    diagnosis = diagnose(
        Evidence(
            engine,
            plugs(engine, others="lean-white"),
            symptoms={"surging-idle": True},
            outcomes=(done("intake-leak", "no-leak"),),
        )
    )
    assert {cause.id for cause in diagnosis.causes[:3]} == SUPPLY
    assert sum(cause.probability for cause in diagnosis.causes if cause.id in SUPPLY) > 0.5


FOUR = inline(4)
SIX = inline(6)
WASTED = inline(
    4,
    ignition="wasted-spark",
    shared=(SharedPart("coil", "coil A", (1, 4)), SharedPart("coil", "coil B", (2, 3))),
)
TWIN_CARBURETTORS = inline(
    4,
    fuel="carburettor",
    ignition="distributor",
    shared=(SharedPart("carburettor", "front carburettor", (1, 2)),
            SharedPart("carburettor", "rear carburettor", (3, 4))),
)  # fmt: skip
TWO_STROKE = inline(2, fuel="carburettor", ignition="magneto", strokes=2)

PATTERNS = [
    pytest.param(FOUR, plugs(FOUR, others="rich-carbon"), {
        "clogged-air-filter", "blocked-snorkel", "fuel-pressure-regulator-stuck-high",
        "fuel-pressure-regulator-diaphragm-torn", "coolant-temperature-sensor-reads-cold",
        "intake-temperature-sensor-reads-cold", "enrichment-stuck-on", "oxygen-sensor-reads-lean", "fuel-in-oil",
        "plugs-too-cold", "air-meter-reads-high", "pressure-sensor-hose-off"}, id="all rich"),
    pytest.param(TWIN_CARBURETTORS, plugs(TWIN_CARBURETTORS, others="rich-carbon"), {
        "choke-stuck-on", "clogged-air-filter", "blocked-snorkel", "plugs-too-cold", "fuel-in-oil",
        "contact-points-worn", "distributor-cap-tracking", "worn-plugs", "excessive-idling"},
        id="all rich, carburettors"),
    pytest.param(FOUR, plugs(FOUR, others="lean-white"), {
        "plenum-intake-leak", "brake-servo-hose-leak", "breather-hose-leak", "clogged-fuel-strainer",
        "clogged-fuel-filter", "weak-fuel-pump", "fuel-pressure-regulator-stuck-low", "blocked-tank-vent",
        "air-meter-reads-low", "pressure-sensor-reads-low", "plugs-too-hot", "low-pump-voltage"}, id="all lean"),
    pytest.param(FOUR, plugs(FOUR, others="wet"), {
        "flooded-engine", "trigger-sensor-failed", "ignition-supply-lost", "enrichment-stuck-on",
        "fuel-pressure-regulator-diaphragm-torn"}, id="all wet"),
    pytest.param(FOUR, plugs(FOUR, others="oil-fouled"), {
        "overfilled-oil", "blocked-breather", "general-ring-wear", "turbo-seal-leaking",
        "valve-stem-seals-worn"}, id="all oily"),
    pytest.param(TWO_STROKE, plugs(TWO_STROKE, others="oil-fouled"), {"too-much-oil-in-mix", "general-ring-wear"},
        id="all oily, two-stroke"),
    pytest.param(FOUR, plugs(FOUR, {2: "rich-carbon"}), {
        "injector-dribbling", "injector-stuck-open", "weak-coil", "failed-plug-cap", "wide-plug-gap", "burnt-valve",
        "wide-valve-clearance", "cracked-plug", "wrong-plug-in-one-cylinder", "dead-coil"}, id="one rich"),
    pytest.param(FOUR, plugs(FOUR, {3: "lean-white"}), {
        "injector-clogged", "inlet-joint-leak", "tight-valve", "injector-not-firing", "injector-seal-leak"},
        id="one lean"),
    pytest.param(FOUR, plugs(FOUR, {2: "wet"}), {
        "dead-coil", "weak-coil", "coil-driver-failed", "cracked-plug", "bridged-plug-gap", "injector-stuck-open",
        "burnt-valve", "failed-plug-cap", "wide-plug-gap", "wrong-plug-in-one-cylinder"}, id="one wet"),
    pytest.param(FOUR, plugs(FOUR, {4: "oil-fouled"}), {
        "worn-rings-one-cylinder", "valve-stem-seal-leaking", "head-gasket-oil-gallery", "damaged-piston"},
        id="one oily"),
    pytest.param(FOUR, plugs(FOUR) | {3: plug("lean-white", signs={"coolant-clean": 0.95})}, {
        "head-gasket-leaking-coolant", "cracked-head"}, id="one coolant-clean"),
    pytest.param(WASTED, plugs(WASTED, {1: "wet", 4: "wet"}), {"dead-coil", "weak-coil", "coil-driver-failed"},
        id="a pair on one coil"),
    pytest.param(TWIN_CARBURETTORS, plugs(TWIN_CARBURETTORS, {3: "rich-carbon", 4: "rich-carbon"}), {
        "float-level-high", "float-needle-leaking", "needle-jet-worn", "air-jet-clogged",
        "carburettor-diaphragm-torn"}, id="a pair on one carburettor, rich"),
    pytest.param(TWIN_CARBURETTORS, plugs(TWIN_CARBURETTORS, {3: "lean-white", 4: "lean-white"}), {
        "float-level-low", "pilot-jet-clogged", "main-jet-clogged", "carburettor-stub-cracked"},
        id="a pair on one carburettor, lean"),
]  # fmt: skip


@pytest.mark.parametrize(("engine", "readings", "expected"), PATTERNS)
def test_pattern_points_where_the_trade_looks_first(engine, readings, expected):
    diagnosis = diagnose(Evidence(engine, readings))
    assert diagnosis.causes[0].id in expected
    listed = sum(cause.probability for cause in diagnosis.causes if cause.id in expected)
    assert listed > 0.45
    odd = {n for n, reading in readings.items() if reading.label != "normal-tan"}
    assert set(diagnosis.causes[0].cylinders) == odd


def test_two_sooty_neighbours_with_low_compression_point_to_the_gasket_between_them():
    diagnosis = diagnose(
        Evidence(
            SIX,
            plugs(SIX, {3: "rich-carbon", 4: "rich-carbon"}),
            outcomes=(
                done("compression-dry", "low", "cylinder 3"),
                done("compression-dry", "low", "cylinder 4"),
                done("compression-wet", "no-rise", "cylinders 3 and 4"),
            ),
        )
    )
    assert (diagnosis.causes[0].id, diagnosis.causes[0].cylinders) == ("head-gasket-between-cylinders", (3, 4))


@pytest.mark.parametrize(
    ("label", "expected"),
    [
        ("rich-carbon", {"oxygen-sensor-reads-lean", "restricted-exhaust", "cam-timing-off"}),
        ("lean-white", {"bank-intake-gasket-leak", "oxygen-sensor-reads-rich"}),
    ],
)
def test_one_bank_points_to_what_the_bank_shares(label, expected):
    engine = vee(6)
    diagnosis = diagnose(Evidence(engine, plugs(engine, dict.fromkeys((2, 4, 6), label))))
    assert diagnosis.causes[0].id in expected
    assert diagnosis.causes[0].where == "right bank"


def test_paler_end_cylinders_are_first_taken_for_air_distribution():
    diagnosis = diagnose(Evidence(SIX, plugs(SIX, {1: "lean-white", 6: "lean-white"})))
    assert diagnosis.causes[0].id == "uneven-air-distribution"
    assert "mild" in diagnosis.causes[0].name


def test_scattered_plugs_point_to_mixed_plugs_balance_or_reading_again():
    readings = plugs(FOUR, {1: "rich-carbon", 2: "lean-white", 4: "rich-carbon"})
    leaders = [cause.id for cause in diagnose(Evidence(FOUR, readings)).causes[:4]]
    assert {"mixed-plugs", "recent-cold-starts"} <= set(leaders)


def test_a_wasted_spark_pair_that_is_not_on_one_coil_does_not_blame_a_coil_pair():
    diagnosis = diagnose(Evidence(WASTED, plugs(WASTED, {1: "wet", 4: "wet"})))
    other = diagnose(Evidence(WASTED, plugs(WASTED, {1: "wet", 2: "wet"})))
    assert diagnosis.causes[0].where == "coil A (1 and 4)"
    assert all(cause.probability < 0.3 for cause in other.causes if cause.where.startswith("coil"))


def test_unreadable_plugs_add_nothing_and_are_named():
    engine = inline(4)
    blind = Reading(None, "unreadable", {name: 0.2 for name in LABELS})
    without = diagnose(Evidence(engine))
    diagnosis = diagnose(Evidence(engine, dict.fromkeys(engine.cylinders, blind)))
    assert [c.probability for c in diagnosis.causes] == [c.probability for c in without.causes]
    assert any("could not be read" in note for note in diagnosis.notes)


def test_white_plugs_that_ran_three_minutes_do_not_say_lean():
    engine = inline(4)
    readings = plugs(engine, others="lean-white")
    lean = SUPPLY | {"plenum-intake-leak"}

    def share(run: RunBefore) -> float:
        causes = diagnose(Evidence(engine, readings, run=run)).causes
        return sum(cause.probability for cause in causes if cause.id in lean)

    new = RunBefore(minutes_on_plugs=3)
    assert share(new) < 0.7 * share(RunBefore(minutes_on_plugs=300))
    assert any("too short" in note for note in diagnose(Evidence(engine, readings, run=new)).notes)


def test_idling_to_a_stop_makes_dark_plugs_mean_less():
    engine = inline(4)
    readings = plugs(engine, others="rich-carbon")
    healthy = [
        next((c.probability for c in diagnose(Evidence(engine, readings, run=RunBefore(how))).causes
              if c.id == "healthy"), 0.0)
        for how in ("idled", "clean-cut")
    ]  # fmt: skip
    assert healthy[0] > 5 * healthy[1]


def test_a_prior_behind_the_reading_is_divided_out():
    engine = inline(4)
    common = {name: 0.6 if name == "lean-white" else 0.1 for name in LABELS}
    skewed = Reading(None, "lean-white", common, prior=common)
    flat = Reading(None, "lean-white", dict.fromkeys(LABELS, 0.2))
    first = diagnose(Evidence(engine, dict.fromkeys(engine.cylinders, skewed)))
    second = diagnose(Evidence(engine, dict.fromkeys(engine.cylinders, flat)))
    assert [c.id for c in first.causes] == [c.id for c in second.causes]
    assert [c.probability for c in first.causes] == pytest.approx([c.probability for c in second.causes])


def test_a_repair_that_did_not_help_lowers_its_cause_and_one_that_cured_raises_it():
    engine = inline(4)
    readings = plugs(engine, others="rich-carbon")

    def chance(outcome: str) -> float:
        tried = done("repair:fuel-pressure-regulator-stuck-high", outcome)
        causes = diagnose(Evidence(engine, readings, outcomes=(tried,))).causes
        return sum(c.probability for c in causes if c.id == "fuel-pressure-regulator-stuck-high")

    before = diagnose(Evidence(engine, readings)).causes[0].probability
    assert chance("no-change") < 0.1 < before < 0.9 < chance("cured")


def test_aircraft_engines_are_refused_with_the_reason():
    engine = dataclasses.replace(inline(4, ignition="magneto", fuel="carburettor"), aircraft=True)
    with pytest.raises(UserError, match="licensed maintenance"):
        diagnose(Evidence(engine))


@pytest.mark.parametrize(
    ("evidence", "words"),
    [
        (Evidence(FOUR, symptoms={"purple-smoke": True}), "purple-smoke"),
        (Evidence(FOUR, outcomes=(done("air-filtre", "clean"),)), "did you mean air-filter"),
        (Evidence(FOUR, outcomes=(done("air-filter", "green"),)), "clean, clogged, torn"),
    ],
)
def test_unknown_words_are_named_with_what_there_is(evidence, words):
    with pytest.raises(KnowledgeError, match=words):
        diagnose(evidence)


def test_a_reading_for_a_cylinder_the_engine_lacks_is_refused():
    with pytest.raises(UserError, match="cylinder 9"):
        diagnose(Evidence(FOUR, {9: plug("wet")}))


@pytest.mark.parametrize("engine", [FOUR, SIX, WASTED, TWIN_CARBURETTORS, TWO_STROKE, vee(8), inline(1)])
def test_every_step_and_cause_is_complete_and_probabilities_make_sense(engine: Engine):
    evidence = Evidence(engine, plugs(engine, {engine.cylinders[0]: "rich-carbon"}), symptoms={"rough-idle": True})
    diagnosis = diagnose(evidence)
    assert 0.5 < sum(cause.probability for cause in diagnosis.causes) < 2.0
    assert all(0.0 <= cause.probability <= 1.0 for cause in diagnosis.causes)
    assert [c.probability for c in diagnosis.causes] == sorted((c.probability for c in diagnosis.causes), reverse=True)
    assert diagnosis.next
    assert [s.expected_cost for s in diagnosis.next] == sorted(s.expected_cost for s in diagnosis.next)
    for step in diagnosis.next:
        assert step.minutes > 0 and step.expected_cost > 0 and step.why.endswith(".") and 3 <= len(step.how) <= 6
    assert diagnose(evidence) == diagnosis


def test_no_step_already_done_is_offered_again():
    engine = inline(4)
    first = diagnose(Evidence(engine, plugs(engine, others="rich-carbon")))
    step = first.next[0]
    outcome = next(iter(load().checks[step.id].outcomes))
    again = diagnose(
        Evidence(engine, plugs(engine, others="rich-carbon"), outcomes=(done(step.id, outcome, step.where),))
    )
    assert (step.id, step.where) not in {(s.id, s.where) for s in again.next}


def test_what_plugs_cannot_mean_is_said():
    engine = inline(2, fuel="carburettor", ignition="magneto", strokes=2)
    new = dataclasses.replace(plug("lean-white"), unused=0.9)
    tinted = plug("normal-tan", signs={"additive-tint": 0.9})
    run = RunBefore("idled", fuel="E85")
    notes = " ".join(diagnose(Evidence(engine, {1: new, 2: tinted}, run=run)).notes)
    for words in ("idled to a stop", "Ethanol", "burn oil by design", "looks unused", "additive"):
        assert words in notes


def test_an_unused_plug_says_nothing_of_the_mixture():
    engine = inline(4)
    new = dataclasses.replace(plug("lean-white"), unused=1.0)
    with_new = diagnose(Evidence(engine, dict.fromkeys(engine.cylinders, new)))
    without = diagnose(Evidence(engine))
    assert [c.id for c in with_new.causes] == [c.id for c in without.causes]
