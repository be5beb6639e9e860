"""The posterior against an exact-inference library and against the rules of probability."""

from __future__ import annotations

import logging
import warnings

import numpy as np
import pytest
from engines import done, inline, plug, plugs, vee
from hypothesis import given, settings
from hypothesis import strategies as st

from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.knowledge import load
from firingend.diagnosis.posterior import prior_balance, weigh
from firingend.diagnosis.suspects import suspects
from firingend.diagnosis.terms import Mixed, NoisyOr
from firingend.diagnosis.weighing import terms
from firingend.labels import LABELS
from firingend.reading.reading import Reading

KNOWLEDGE = load()


def random_evidence(rng: np.random.Generator) -> Evidence:
    """An engine with soft readings, symptoms and outcomes drawn at random."""
    engine = (inline(3), inline(4), inline(2, fuel="carburettor", ignition="distributor"))[rng.integers(3)]
    readings = {}
    for n in engine.cylinders:
        chance = rng.dirichlet(np.full(len(LABELS), 0.4)) * 0.99 + 0.002
        readings[n] = Reading(None, LABELS[int(chance.argmax())], dict(zip(LABELS, chance / chance.sum(), strict=True)))
    symptoms = {str(s): bool(rng.integers(2)) for s in rng.choice(list(KNOWLEDGE.symptoms), 4, replace=False)}
    outcomes = []
    for check_id in rng.choice(["air-filter", "plug-gap", "spark-test", "compression-dry", "fuel-quality"], 3, False):
        names = list(KNOWLEDGE.checks[check_id].outcomes)
        where = f"cylinder {rng.integers(1, 3)}" if KNOWLEDGE.checks[check_id].where == "cylinder" else "engine"
        outcomes.append(done(str(check_id), str(rng.choice(names)), where))
    return Evidence(engine, readings, symptoms, tuple(outcomes))


def reference_posterior(evidence: Evidence) -> np.ndarray:
    """Single-fault posterior by variable elimination, every likelihood table written out from the knowledge."""
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

    found = suspects(KNOWLEDGE, evidence.engine)
    general = KNOWLEDGE.general
    prior = np.concatenate([np.exp(found.log_prior), [general.healthy, general.nothing_listed]])
    states = len(prior)
    network = DiscreteBayesianNetwork()
    network.add_node("fault")
    tables = [TabularCPD("fault", states, (prior / prior.sum())[:, None])]
    observed = {}
    for k, term in enumerate(terms(found, evidence)):
        name = f"e{k}"
        network.add_edge("fault", name)
        if isinstance(term, NoisyOr):
            off = (1 - term.leak) * (1 - np.append(term.strengths, 0.0))
            off = np.append(off, 1 - term.unlisted)
            table, likelihood = np.array([1 - off, off]), [term.present, term.absent]
        else:
            assert isinstance(term, Mixed)
            columns = [term.rows[i] if term.relevant[i] else term.otherwise for i in range(len(found))]
            table = np.array([*columns, term.otherwise, term.unlisted]).T
            likelihood = list(term.likelihood)
        tables.append(TabularCPD(name, len(table), table, ["fault"], [states]))
        # A soft finding is a virtual child: seen with a probability proportional to the likelihood.
        seen = np.array(likelihood) / max(likelihood)
        network.add_edge(name, f"v{k}")
        tables.append(TabularCPD(f"v{k}", 2, np.array([1 - seen, seen]), [name], [len(table)]))
        observed[f"v{k}"] = 1
    network.add_cpds(*tables)
    answer = VariableElimination(network).query(["fault"], observed, show_progress=False)
    return np.asarray(answer.values)


@pytest.mark.parametrize("seed", range(50))
def test_single_fault_posterior_equals_variable_elimination(seed):
    evidence = random_evidence(np.random.default_rng(seed))
    found = suspects(KNOWLEDGE, evidence.engine)
    ours = weigh(found, list(terms(found, evidence)), pairs=False)
    logging.disable(logging.CRITICAL)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        reference = reference_posterior(evidence)
    logging.disable(logging.NOTSET)
    mine = np.concatenate([ours.single, [ours.healthy, ours.nothing_listed]])
    assert np.abs(mine - reference).max() <= 1e-9


def test_two_fault_share_of_the_prior_is_as_stated():
    found = suspects(KNOWLEDGE, inline(4))
    prior = prior_balance(found).posterior()
    share = prior.pair.sum() / (prior.pair.sum() + prior.single.sum())
    assert share == pytest.approx(KNOWLEDGE.general.two_faults)


def test_pairs_match_a_sum_written_out_hypothesis_by_hypothesis():
    """Three causes of soot and wet with priors .3, .1, .15: own example, computed here.

    P(soot) .3523964; given soot .706231, .205571, .276653 for rich, oil, coil; given soot and wet
    .455761, .823252, .198563. Written out over all eight states, of which ours holds none, one and two.
    """
    priors, soot, wet = np.array([0.3, 0.1, 0.15]), np.array([0.8, 0.6, 0.5]), np.array([0.05, 0.9, 0.05])
    states = np.array([[i >> k & 1 for k in range(3)] for i in range(8)])
    weight = np.prod(np.where(states, priors, 1 - priors), axis=1)
    p_soot = 1 - 0.98 * np.prod(np.where(states, 1 - soot, 1.0), axis=1)
    assert weight @ p_soot == pytest.approx(0.3523964)
    given_soot = (weight * p_soot) @ states / (weight @ p_soot)
    assert given_soot == pytest.approx([0.706231, 0.205571, 0.276653], abs=1e-6)
    p_wet = np.where(states[:, 1] == 1, wet[1], 0.05)
    both = weight * p_soot * p_wet
    assert both @ states / both.sum() == pytest.approx([0.455761, 0.823252, 0.198563], abs=1e-6)
    term = NoisyOr("soot", 1.0, 0.0, 0.02, soot, 0.3)
    ours = {(0, 1): term.pair()[0, 1], (0, 2): term.pair()[0, 2], (1, 2): term.pair()[1, 2]}
    for (i, j), value in ours.items():
        assert value == pytest.approx(p_soot[(1 << i) + (1 << j)])


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_posterior_sums_to_one_and_does_not_depend_on_the_order_of_evidence(seed):
    rng = np.random.default_rng(seed)
    evidence = random_evidence(rng)
    found = suspects(KNOWLEDGE, evidence.engine)
    items = list(terms(found, evidence))
    first = weigh(found, items)
    second = weigh(found, [items[k] for k in rng.permutation(len(items))])
    total = first.single.sum() + first.pair.sum() + first.healthy + first.nothing_listed
    assert total == pytest.approx(1.0, abs=1e-12)
    assert np.allclose(first.at_fault(), second.at_fault(), atol=1e-12)
    assert (first.at_fault() <= 1 + 1e-12).all()


def test_two_independent_faults_are_found_as_a_pair():
    engine = vee(6)
    readings = plugs(engine, {2: "oil-fouled", 5: "lean-white"})
    found = suspects(KNOWLEDGE, engine)
    outcomes = (
        done("leak-down", "breather", "cylinder 2"),
        done("compression-wet", "rises", "cylinder 2"),
        done("swap-injector", "follows", "cylinder 5"),
        done("injector-balance", "low", "cylinder 5"),
    )
    posterior = weigh(found, list(terms(found, Evidence(engine, readings, outcomes=outcomes))))
    assert posterior.pair.sum() > 0.5
    likeliest = np.unravel_index(int(posterior.pair.argmax()), posterior.pair.shape)
    assert {found.each[k].place.cylinders for k in likeliest} == {(2,), (5,)}


def test_evidence_is_left_unchanged():
    engine = inline(4)
    readings = {n: plug("wet") for n in engine.cylinders}
    symptoms = {"rough-idle": True}
    evidence = Evidence(engine, readings, symptoms)
    found = suspects(KNOWLEDGE, engine)
    weigh(found, list(terms(found, evidence)))
    assert readings == {n: plug("wet") for n in engine.cylinders} and symptoms == {"rough-idle": True}
