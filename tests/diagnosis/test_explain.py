"""For and against, what changed, the customer's paragraph, contradictions, questions."""

from __future__ import annotations

import numpy as np
import pytest
from engines import done, inline, plugs

from firingend.diagnosis.conflict import conflicts
from firingend.diagnosis.diagnose import diagnose
from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.explain import explain, for_customer, what_changed
from firingend.diagnosis.knowledge import load
from firingend.diagnosis.posterior import weigh
from firingend.diagnosis.suspects import suspects
from firingend.diagnosis.weighing import terms
from firingend.errors import UserError

FOUR = inline(4)
RICH = plugs(FOUR, others="rich-carbon")


def test_reasons_for_and_against_with_their_weight():
    evidence = Evidence(FOUR, RICH, {"black-smoke": True}, (done("air-filter", "clean"),))
    filter_ = explain(evidence, "clogged-air-filter")
    assert any("Air filter" in r.what and r.factor < 0.2 for r in filter_.speaks_against)
    regulator = explain(evidence, "fuel-pressure-regulator-stuck-high")
    assert any("Black smoke" in r.what for r in regulator.speaks_for)
    assert all(r.factor > 1 and r.words.endswith("for") for r in regulator.speaks_for)
    assert [r.factor for r in regulator.speaks_for] == sorted((r.factor for r in regulator.speaks_for), reverse=True)
    text = " ".join(filter_.sentences())
    assert "against it" in text and "before any evidence" in text


def test_factors_multiply_up_from_before_to_after_for_independent_pieces():
    """With one item of evidence the factor is the change of the odds."""
    evidence = Evidence(FOUR, outcomes=(done("air-filter", "clogged"),))
    told = explain(evidence, "clogged-air-filter")
    odds = lambda p: p / (1 - p)  # noqa: E731
    assert told.speaks_for[0].factor == pytest.approx(odds(told.after) / odds(told.before), rel=1e-9)


@pytest.mark.parametrize("cause", ["clogged-air-filter", "fuel-pressure-regulator-stuck-high"])
def test_each_factor_is_what_the_item_does_to_the_odds_left_by_all_others(cause):
    evidence = Evidence(FOUR, RICH, {"black-smoke": True, "high-fuel-use": True}, (done("air-filter", "clean"),))
    told = explain(evidence, cause)
    found = suspects(load(), FOUR)
    items = list(terms(found, evidence))
    (row,) = found.index(cause, "engine")
    factors = {reason.what: reason.factor for reason in (*told.speaks_for, *told.speaks_against)}
    assert factors
    for k, item in enumerate(items):
        if item.what in factors:
            without = float(weigh(found, items[:k] + items[k + 1 :]).at_fault()[row])
            odds = told.after / (1 - told.after) / (without / (1 - without))
            assert factors[item.what] == pytest.approx(odds, rel=1e-9)


def test_a_cause_that_cannot_be_there_is_refused():
    with pytest.raises(UserError, match="does not apply"):
        explain(Evidence(FOUR, RICH), "choke-stuck-on")


def test_what_changed_names_the_new_leader():
    before = diagnose(Evidence(FOUR, RICH))
    after = diagnose(Evidence(FOUR, RICH, outcomes=(done("air-filter", "clogged"),)))
    lines = what_changed(before, after)
    assert any("Air filter" in line and "→" in line for line in lines)
    assert what_changed(after, after) == ("Nothing moved by more than two per cent.",)


def test_the_customers_paragraph_is_plain():
    evidence = Evidence(FOUR, RICH, outcomes=(done("air-filter", "clean"),))
    text = for_customer(diagnose(evidence), evidence)
    assert text.startswith("We took out and compared 4 spark plugs.")
    assert "chance" in text and "posterior" not in text and "likelihood" not in text


def test_a_check_that_does_not_go_with_the_rest_is_named():
    outcomes = (
        done("oil-level", "at-mark"),
        done("spark-test", "strong", "cylinder 2"),
        done("swap-coil", "follows", "cylinder 2"),
        done("coil-resistance", "open", "cylinder 2"),
    )
    evidence = Evidence(FOUR, plugs(FOUR, {2: "wet"}), {"steady-misfire": True}, outcomes)
    found = suspects(load(), FOUR)
    odd = conflicts(found, list(terms(found, evidence)))
    assert odd and "Spark with a gap tester" in odd[0].what
    assert any("does not go with the rest" in note for note in diagnose(evidence).notes)


def test_evidence_that_goes_together_raises_no_conflict():
    evidence = Evidence(
        FOUR, plugs(FOUR, {2: "wet"}), {"steady-misfire": True}, (done("spark-test", "none", "cylinder 2"),)
    )
    found = suspects(load(), FOUR)
    assert conflicts(found, list(terms(found, evidence))) == ()


def test_questions_are_not_asked_twice_and_tell_something():
    evidence = Evidence(FOUR, plugs(FOUR, others="oil-fouled"))
    asked = diagnose(evidence).questions
    assert asked and all(text.endswith("?") for _, text in asked)
    answered = Evidence(FOUR, evidence.readings, {asked[0][0]: True})
    assert asked[0][0] not in {name for name, _ in diagnose(answered).questions}


def test_probabilities_of_an_explanation_are_those_of_the_table():
    evidence = Evidence(FOUR, RICH)
    told = explain(evidence, "fuel-pressure-regulator-stuck-high")
    assert 0 < told.before < told.after < 1
    nothing_known = Evidence(FOUR)
    for known, said in ((nothing_known, told.before), (evidence, told.after)):
        listed = {cause.id: cause.probability for cause in diagnose(known).causes}
        assert said == pytest.approx(listed["fuel-pressure-regulator-stuck-high"], rel=1e-12)
    assert np.isfinite([r.factor for r in (*told.speaks_for, *told.speaks_against)]).all()
