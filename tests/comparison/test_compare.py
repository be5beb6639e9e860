"""Comparison of cylinders: the trade's table of patterns, and what must hold for any readings."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import isclose, prod

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firingend.comparison.compare import compare, label_likelihood
from firingend.comparison.hypotheses import ONE_ODD_LABEL, REST_LABEL, TWO_LABEL_SHARE, places
from firingend.engine.build import build_engine
from firingend.engine.engine import Bank, Engine, SharedPart
from firingend.errors import UserError
from firingend.labels import LABELS, UNREADABLE
from firingend.reading.reading import Reading

LETTERS = dict(zip("ltrow", LABELS, strict=True))

FOUR = build_engine(4)
WASTED = build_engine(4, ignition="wasted-spark")
FLAT = build_engine(4, layout="flat", ignition="wasted-spark", firing_order=(1, 3, 2, 4))
VEE = build_engine(6, layout="vee")
TWIN_CARBURETTORS = build_engine(
    4,
    fuel_system="carburettor",
    ignition="distributor",
    shared=(
        SharedPart("carburettor", "left carburettor", (1, 2)),
        SharedPart("carburettor", "right carburettor", (3, 4)),
    ),
)
ENGINES = (build_engine(2), build_engine(3), FOUR, WASTED, FLAT, VEE, TWIN_CARBURETTORS)


def reading(label: str, sure: float = 0.95, **facts: object) -> Reading:
    rest = (1 - sure) / 4
    return replace(Reading(None, label, {each: sure if each == label else rest for each in LABELS}), **facts)


def plugs(engine: Engine, letters: str, sure: float = 0.95) -> dict[int, Reading]:
    """One letter a cylinder: l, t, r, o, w for the labels, - for an unreadable plug."""
    even = dict.fromkeys(LABELS, 0.2)
    return {
        cylinder: Reading(None, UNREADABLE, even) if letter == "-" else reading(LETTERS[letter], sure)
        for cylinder, letter in zip(engine.cylinders, letters, strict=True)
    }


# Patterns across cylinders and what to look at first: common practice, no source.
@pytest.mark.parametrize(
    ("engine", "letters", "pattern", "cylinders", "where", "first"),
    [
        (FOUR, "rrrr", "all-alike", (1, 2, 3, 4), "", "fuel pressure and its regulator, air filter"),
        (TWIN_CARBURETTORS, "rrrr", "all-alike", (1, 2, 3, 4), "", "air filter, choke, float height"),
        (FOUR, "llll", "all-alike", (1, 2, 3, 4), "", "fuel strainer, filter, pump and pressure, an intake leak"),
        (TWIN_CARBURETTORS, "llll", "all-alike", (1, 2, 3, 4), "", "fuel strainer, tank vent, an intake leak"),
        (FOUR, "wwww", "all-alike", (1, 2, 3, 4), "", "flooding, enrichment, and whether there is any spark"),
        (FOUR, "oooo", "all-alike", (1, 2, 3, 4), "", "oil level, breather, and general wear"),
        (build_engine(2, strokes=2), "oo", "all-alike", (1, 2), "", "the oil ratio"),
        (FOUR, "tttt", "all-alike", (1, 2, 3, 4), "", "mixture, heat range and oil control look right"),
        (FOUR, "trtt", "one-odd", (2,), "", "spark there (coil, lead, plug), injector dribbling, compression"),
        (FOUR, "tttl", "one-odd", (4,), "", "clogged injector, leak at that inlet stub or manifold joint"),
        (build_engine(3), "twt", "one-odd", (2,), "", "spark there (coil, lead, plug), injector stuck open"),
        (FOUR, "ottt", "one-odd", (1,), "", "rings, valve stem seal, head gasket at an oil gallery"),
        (FOUR, "rtrr", "one-odd", (2,), "", "what the others share and it does not"),
        (FOUR, "wwtt", "neighbours", (1, 2), "between cylinders 1 and 2", "head gasket between them"),
        (VEE, "rtrttt", "neighbours", (1, 3), "between cylinders 1 and 3", "head gasket between them"),
        (WASTED, "wttw", "shared-pair", (1, 4), "coil A", "look at coil A first"),
        (FLAT, "rrtt", "shared-pair", (1, 2), "coil A", "look at coil A first"),
        (FLAT, "rtrt", "bank", (1, 3), "bank 1", "oxygen sensor, fuel rail, intake gasket, exhaust, cam timing"),
        (VEE, "tltltl", "bank", (2, 4, 6), "bank 2", "oxygen sensor, fuel rail, intake gasket"),
        (TWIN_CARBURETTORS, "ttrr", "shared-pair", (3, 4), "right carburettor", "look at the right carburettor"),
        (FOUR, "lttl", "ends-against-middle", (1, 4), "end cylinders", "air distribution and cooling"),
        (VEE, "ttlltt", "ends-against-middle", (3, 4), "middle cylinders", "air distribution and cooling"),
        (FOUR, "rtrt", "scattered", (), "", "read again after a proper run"),
        (FOUR, "lrtw", "scattered", (), "", "mixed plugs or gaps, general wear or recent cold starts"),
        (VEE, "rttrtt", "scattered", (), "", "read again after a proper run"),
    ],
)
def test_table_of_patterns(engine, letters, pattern, cylinders, where, first):
    result = compare(engine, plugs(engine, letters))
    assert (result.pattern, result.cylinders, result.where) == (pattern, cylinders, where)
    assert first in result.sentence
    assert result.label == (LETTERS[letters[engine.cylinders.index(cylinders[0])]] if cylinders else "")


@pytest.mark.parametrize("letters", ["----", "r---"])
def test_too_few_readable(letters: str):
    result = compare(FOUR, plugs(FOUR, letters))
    assert (result.pattern, result.probability, result.cylinders) == ("too-few-readable", 1.0, ())
    assert "photograph" in result.sentence


def test_half_of_the_plugs_are_enough():
    assert compare(FOUR, plugs(FOUR, "r--r")).pattern == "all-alike"
    assert compare(VEE, plugs(VEE, "rr----")).pattern == "too-few-readable"


def test_single_cylinder_has_nothing_to_compare_with():
    single = build_engine(1)
    assert "no other to be compared with" in compare(single, plugs(single, "r")).sentence


def test_more_specific_sharing_wins_when_it_explains_as_well():
    """Cylinders 2 and 3 are neighbours, the middle, and on coil B: the coil is the narrowest."""
    result = compare(WASTED, plugs(WASTED, "twwt"))
    assert result.where == "coil B"
    assert result.patterns["shared-pair"] > result.patterns["neighbours"] > 0


def test_two_parts_on_the_same_cylinders_are_both_named():
    parts = (
        SharedPart("coil", "coil A", (1, 2)),
        SharedPart("coil", "coil B", (3, 4)),
        SharedPart("carburettor", "front carburettor", (1, 2)),
        SharedPart("carburettor", "rear carburettor", (3, 4)),
    )
    engine = build_engine(4, fuel_system="carburettor", shared=parts)
    sentence = compare(engine, plugs(engine, "rrtt")).sentence
    assert "1 and 2 share" in sentence
    assert "coil A" in sentence
    assert "the front carburettor" in sentence


def test_pair_on_one_coil_may_be_wet_and_sooty():
    result = compare(FLAT, plugs(FLAT, "wrtt"))
    assert (result.pattern, result.where, result.cylinders) == ("shared-pair", "coil A", (1, 2))
    assert result.sentence.startswith("Cylinder 1 is wet, 2 is sooty, 3 and 4 are tan; 1 and 2 share coil A, so")


def test_close_call_names_the_runner_up():
    result = compare(FOUR, plugs(FOUR, "trrt"))
    assert result.probability < 0.7
    assert "next comes end cylinders against middle ones" in result.sentence


def test_probabilities_count_not_hard_labels():
    """A plug just over the line to sooty does not stand out from tan neighbours; a sure one does."""
    split = {**dict.fromkeys(LABELS, 0.02), "rich-carbon": 0.5, "normal-tan": 0.44}
    result = compare(FOUR, {**plugs(FOUR, "tttt"), 3: Reading(None, "rich-carbon", split)})
    assert result.pattern == "all-alike"
    assert "Cylinder 3 was read as sooty, but not surely enough" in result.sentence
    assert compare(FOUR, plugs(FOUR, "ttrt")).pattern == "one-odd"


def test_prior_behind_a_reading_is_divided_out():
    prior = {**dict.fromkeys(LABELS, 0.05), "normal-tan": 0.8}
    swayed = Reading(None, "normal-tan", prior, prior=prior)
    assert label_likelihood(swayed) == pytest.approx((0.2,) * 5)


def test_washed_plug_is_warned_about():
    seen = plugs(FOUR, "rrlr")
    seen[3] = replace(seen[3], signs={"coolant-clean": 0.9})
    sentence = compare(FOUR, seen).sentence
    assert "Cylinder 3 looks washed clean: check for coolant (head gasket, cracked head)" in sentence


def test_unreadable_and_missing_plugs_add_nothing():
    blank = {**plugs(WASTED, "wt-w")}
    biased = {**blank, 3: Reading(None, UNREADABLE, {"wet": 1.0})}
    missing = {cylinder: seen for cylinder, seen in blank.items() if cylinder != 3}
    assert compare(WASTED, blank) == compare(WASTED, biased) == compare(WASTED, missing)


def test_reading_of_a_cylinder_the_engine_lacks_is_refused():
    with pytest.raises(UserError, match="cylinder 7, which engine does not have: use only 1, 2, 3 and 4"):
        compare(FOUR, {7: reading("wet")})


@st.composite
def any_readings(draw, engine: Engine) -> dict[int, Reading]:
    seen = {}
    for cylinder in engine.cylinders:
        weights = draw(st.lists(st.floats(0.001, 1), min_size=5, max_size=5))
        probabilities = {label: w / sum(weights) for label, w in zip(LABELS, weights, strict=True)}
        best = max(probabilities, key=probabilities.__getitem__)
        label = draw(st.sampled_from([best, best, best, UNREADABLE]))
        seen[cylinder] = Reading(None, label, probabilities)
    return seen


@settings(max_examples=60)
@given(st.data())
def test_probabilities_sum_to_one_and_the_best_is_named(data):
    engine = data.draw(st.sampled_from(ENGINES))
    readings = data.draw(any_readings(engine))
    before = dict(readings)
    result = compare(engine, readings)
    assert isclose(sum(result.patterns.values()), 1, abs_tol=1e-9)
    assert result.probability == result.patterns[result.pattern] == max(result.patterns.values())
    assert all(0 <= probability <= 1 for probability in result.patterns.values())
    assert result.sentence[0].isupper() and result.sentence.endswith(".")
    assert readings == before
    assert compare(engine, readings) == result


@settings(max_examples=60)
@given(st.data())
def test_renaming_cylinders_renames_the_answer(data):
    engine = data.draw(st.sampled_from(ENGINES))
    readings = data.draw(any_readings(engine))
    new = dict(zip(engine.cylinders, data.draw(st.permutations(engine.cylinders)), strict=True))
    renamed = replace(
        engine,
        cylinders=tuple(new[c] for c in engine.cylinders),
        firing_order=tuple(new[c] for c in engine.firing_order),
        banks=tuple(Bank(bank.name, tuple(new[c] for c in bank.cylinders)) for bank in engine.banks),
        shared=tuple(SharedPart(p.kind, p.name, tuple(new[c] for c in p.cylinders)) for p in engine.shared),
    )
    result = compare(engine, readings)
    answer = compare(renamed, {new[c]: seen for c, seen in readings.items()})
    assert answer.patterns == pytest.approx(result.patterns)
    assert answer.label == result.label
    assert answer.cylinders == tuple(new[c] for c in result.cylinders)


@settings(max_examples=25)
@given(st.data())
def test_posterior_equals_sum_over_every_assignment(data):
    """Exact by enumeration: give each of the 5^n assignments its prior under each pattern and add up."""
    engine = data.draw(st.sampled_from([engine for engine in ENGINES if len(engine.cylinders) <= 4]))
    readings = {c: replace(seen, label="wet") for c, seen in data.draw(any_readings(engine)).items()}
    likelihoods = [label_likelihood(readings[c]) for c in engine.cylinders]
    found, scattered_prior = places(engine, engine.cylinders)
    prior: dict[tuple[str, tuple[int, ...]], float] = {}
    for place in found:
        for assignment, weight in place.assignments(engine.cylinders):
            key = place.pattern, assignment.labels
            prior[key] = prior.get(key, 0.0) + weight
    covered = {labels for _, labels in prior}
    free = [a for a in product(range(5), repeat=len(engine.cylinders)) if a not in covered]
    for labels, weight in scattered_assignments(free).items():
        prior["scattered", labels] = scattered_prior * weight
    joint = {
        key: weight * prod(each[label] for each, label in zip(likelihoods, key[1], strict=True))
        for key, weight in prior.items()
    }
    total = sum(joint.values())
    patterns = compare(engine, readings).patterns
    for pattern, probability in patterns.items():
        expected = sum(weight for (name, _), weight in joint.items() if name == pattern) / total
        assert probability == pytest.approx(expected, abs=1e-9)


def scattered_assignments(free: list[tuple[int, ...]]) -> dict[tuple[int, ...], float]:
    """Prior of each assignment no pattern covers, straight from its description in words."""
    by_pair: dict[frozenset[int], list[tuple[int, ...]]] = {}
    for labels in free:
        if len(set(labels)) == 2:
            by_pair.setdefault(frozenset(labels), []).append(labels)
    many = [labels for labels in free if len(set(labels)) > 2]
    pair_weight = {
        pair: sum(REST_LABEL[a] * ONE_ODD_LABEL[b] for a, b in (tuple(pair), tuple(pair)[::-1])) for pair in by_pair
    }
    two_share = 0.0 if not by_pair else TWO_LABEL_SHARE if many else 1.0
    weights = {labels: (1 - two_share) / len(many) for labels in many}
    for pair, splits in by_pair.items():
        for labels in splits:
            weights[labels] = two_share * pair_weight[pair] / sum(pair_weight.values()) / len(splits)
    return weights
