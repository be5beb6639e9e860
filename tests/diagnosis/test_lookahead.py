"""Looking ahead: consistent with the inference, never dearer than handing over, near the cheapest plan of all."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from engines import done, inline, plugs, vee

from firingend.diagnosis.costs import costs
from firingend.diagnosis.diagnose import diagnose
from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.knowledge import load
from firingend.diagnosis.lookahead import look_ahead
from firingend.diagnosis.next_step import checks_done
from firingend.diagnosis.outlook import Outlook, outlook
from firingend.diagnosis.posterior import weigh
from firingend.diagnosis.suspects import suspects
from firingend.diagnosis.tables import tables
from firingend.diagnosis.weighing import check_term, terms

BENCHMARKS = Path(__file__).parents[2] / "benchmarks"
KNOWLEDGE = load()
ENGINES = [inline(4), inline(2, fuel="carburettor", ignition="magneto", strokes=2), vee(6), inline(1)]


def belief(evidence: Evidence):
    found = suspects(KNOWLEDGE, evidence.engine)
    return weigh(found, list(terms(found, evidence)))


def ahead_of(evidence: Evidence, **options):
    posterior = belief(evidence)
    found = posterior.suspects
    view = outlook(posterior)
    return look_ahead(view, tables(found), costs(KNOWLEDGE, evidence), checks_done(found, evidence), **options)


@pytest.mark.parametrize("engine", ENGINES, ids=lambda e: e.name)
def test_stacked_tables_say_the_same_as_the_terms_of_the_inference(engine):
    found = suspects(KNOWLEDGE, engine)
    stacked = tables(found)
    n = len(found)
    first, second = np.triu_indices(n, k=1)
    singles = stacked.given(np.arange(n), np.full(n, n))
    pairs = stacked.given(first, second)
    rng = np.random.default_rng(3)
    for k in rng.choice(len(stacked.choices), 12, replace=False):
        choice = stacked.choices[k]
        for i, outcome in enumerate(choice.check.outcomes):
            term = check_term(found, choice.check.id, choice.place, outcome)
            row = stacked.start[k] + i
            assert singles[row] == pytest.approx(term.single())
            assert pairs[row] == pytest.approx(term.pair()[first, second])


@pytest.mark.parametrize("engine", ENGINES, ids=lambda e: e.name)
def test_outcomes_of_a_check_are_exhaustive_under_every_hypothesis(engine):
    stacked = tables(suspects(KNOWLEDGE, engine))
    view = outlook(belief(Evidence(engine)))
    total = np.add.reduceat(stacked.given(*view.columns()), stacked.start, axis=0)
    assert total == pytest.approx(1.0)


@pytest.mark.parametrize("engine", ENGINES, ids=lambda e: e.name)
def test_no_step_in_front_is_dearer_than_handing_over(engine):
    ahead = ahead_of(Evidence(engine, plugs(engine, {1: "wet"})))
    assert 0 < ahead.best() <= ahead.hand_over + 1e-9


def test_two_steps_are_never_valued_worse_than_one_for_the_step_in_front():
    evidence = Evidence(inline(4), plugs(inline(4), {3: "lean-white"}))
    assert ahead_of(evidence).best() <= ahead_of(evidence, wide=0).best() + 1e-9


def test_opening_work_is_paid_once():
    engine = inline(4)
    shut = Evidence(engine, plugs(engine))
    opened = replace(shut, outcomes=(done("injector-dribble", "dry", "cylinder 1"),))
    price = {
        name: costs(KNOWLEDGE, evidence).check(KNOWLEDGE.checks["injector-spray"]).minutes
        for name, evidence in {"shut": shut, "opened": opened}.items()
    }
    assert price["shut"] - price["opened"] == KNOWLEDGE.openings["rail-off"].minutes


def test_plugs_that_were_read_are_out():
    engine = inline(4)
    dry = KNOWLEDGE.checks["compression-dry"]
    out = costs(KNOWLEDGE, Evidence(engine, plugs(engine))).check(dry).minutes
    assert costs(KNOWLEDGE, Evidence(engine)).check(dry).minutes - out == KNOWLEDGE.openings["plugs-out"].minutes


def test_a_further_cylinder_takes_less():
    engine = inline(4)
    evidence = Evidence(engine, plugs(engine), outcomes=(done("compression-dry", "good", "cylinder 1"),))
    check = KNOWLEDGE.checks["compression-dry"]
    assert costs(KNOWLEDGE, evidence).check(check).minutes == check.more


def test_an_outlook_keeps_what_a_pair_becomes_when_one_of_it_is_repaired():
    engine = vee(6)
    view: Outlook = outlook(belief(Evidence(engine, plugs(engine, {2: "oil-fouled", 5: "lean-white"}))), kept=300)
    singles = {int(a) for a, b in zip(view.first, view.second, strict=True) if b < 0 <= a}
    partners = {int(k) for a, b in zip(view.first, view.second, strict=True) if b >= 0 for k in (a, b)}
    assert partners and partners <= singles


def test_a_confirmed_cause_is_repaired_and_said_to_be_confirmed():
    engine = inline(4)
    outcomes = (
        done("plug-gap", "right", "cylinder 2"),
        done("spark-test", "none", "cylinder 2"),
        done("swap-coil", "follows", "cylinder 2"),
        done("coil-resistance", "open", "cylinder 2"),
    )
    diagnosis = diagnose(Evidence(engine, plugs(engine, {2: "wet"}), outcomes=outcomes))
    assert diagnosis.next[0].id == "repair:dead-coil" and diagnosis.next[0].kind == "repair"
    assert "confirmed" in diagnosis.advice and diagnosis.next[0].cautions


def test_an_engine_that_fits_nothing_is_handed_over():
    engine = inline(1, fuel="carburettor", ignition="magneto")
    odd = ("black-smoke", "white-sweet-smoke", "valve-tick", "blue-smoke-on-overrun", "runs-on", "intake-hiss")
    passed = tuple(
        done(check, "ok")
        for check in KNOWLEDGE.checks
        if any(c.check.id == check for c in tables(suspects(KNOWLEDGE, engine)).choices)
    )
    diagnosis = diagnose(Evidence(engine, plugs(engine), dict.fromkeys(odd, True), passed))
    assert diagnosis.causes[0].id == "nothing-listed"
    assert not diagnosis.next or diagnosis.next[0].kind == "hand-over"
    assert "specialist" in diagnosis.advice


@pytest.mark.parametrize("seed", range(8))
def test_the_step_in_front_leads_near_the_cheapest_plan_of_all(seed, monkeypatch):
    """Optimum by brute force over seven actions; own problems, computed here."""
    monkeypatch.syspath_prepend(str(BENCHMARKS))
    from small_problems import solve

    result = solve(seed)
    assert result.optimum - 1e-9 <= result.ours <= 1.05 * result.optimum
    sys.modules.pop("small_problems", None)
