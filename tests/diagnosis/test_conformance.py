"""What must hold on every engine with any evidence at all."""

from __future__ import annotations

import numpy as np
from engines import done, inline, plug, vee
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firingend.diagnosis.diagnose import diagnose
from firingend.diagnosis.evidence import Evidence, RunBefore
from firingend.diagnosis.knowledge import load
from firingend.diagnosis.suspects import suspects
from firingend.diagnosis.tables import tables
from firingend.labels import LABELS, SIGNS, UNREADABLE

KNOWLEDGE = load()
ENGINES = [
    inline(1, fuel="carburettor", ignition="magneto"),
    inline(2, fuel="carburettor", ignition="magneto", strokes=2),
    inline(3, fuel="direct-injection"),
    inline(4, ignition="wasted-spark"),
    inline(4, fuel="carburettor", ignition="distributor"),
    vee(6),
]
TABLES = {engine.name: tables(suspects(KNOWLEDGE, engine)) for engine in ENGINES}


@st.composite
def evidence(draw: st.DrawFn) -> Evidence:
    engine = draw(st.sampled_from(ENGINES))
    readings = {}
    for n in engine.cylinders:
        label = draw(st.sampled_from([*LABELS, UNREADABLE, None]))
        if label is not None:
            shown = LABELS[0] if label == UNREADABLE else label
            signs = draw(st.dictionaries(st.sampled_from(SIGNS), st.floats(0, 1), max_size=2))
            reading = plug(shown, draw(st.floats(0.2, 1.0)), signs)
            readings[n] = reading if label != UNREADABLE else plug(UNREADABLE, 0.2)
    symptoms = draw(st.dictionaries(st.sampled_from(list(KNOWLEDGE.symptoms)), st.booleans(), max_size=5))
    choices = draw(st.lists(st.sampled_from(TABLES[engine.name].choices), max_size=5, unique_by=id))
    outcomes = [done(c.check.id, draw(st.sampled_from(list(c.check.outcomes))), c.place.name) for c in choices]
    tried = draw(st.lists(st.sampled_from(TABLES[engine.name].suspects.each), max_size=2))
    outcomes += [
        done(f"repair:{s.cause.id}", draw(st.sampled_from(["no-change", "better"])), s.place.name) for s in tried
    ]
    run = RunBefore(draw(st.sampled_from(["idled", "ridden", "clean-cut", "unknown"])),
                    draw(st.one_of(st.none(), st.floats(0, 500))), draw(st.sampled_from(["", "E85"])))  # fmt: skip
    return Evidence(engine, readings, symptoms, tuple(outcomes), run=run)


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(evidence())
def test_any_evidence_gives_a_sound_diagnosis_and_is_left_alone(given_evidence):
    before = repr(given_evidence)
    diagnosis = diagnose(given_evidence)
    assert repr(given_evidence) == before
    chances = [cause.probability for cause in diagnosis.causes]
    assert all(0.0 <= p <= 1.0 + 1e-12 for p in chances) and chances == sorted(chances, reverse=True)
    assert diagnosis.next and diagnosis.advice.endswith(".")
    for step in diagnosis.next:
        assert np.isfinite([step.expected_cost, step.minutes, step.parts_cost, step.saving]).all()
        assert step.why.endswith(".") and step.source and len(step.how) >= 3
        assert all(text.endswith(".") for text in step.cautions)
    known = {(o.check, o.where) for o in given_evidence.outcomes}
    offered = [(s.id, s.where) for s in diagnosis.next if s.kind == "check"]
    assert not known & set(offered) and len(offered) == len(set(offered))


@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
@given(evidence(), st.data())
def test_a_check_moves_probability_so_that_on_average_nothing_changes(given_evidence, data):
    """The mean of the posterior over the outcomes of a check is the posterior before it."""
    from firingend.diagnosis.posterior import weigh
    from firingend.diagnosis.weighing import check_term, terms

    stacked = TABLES[given_evidence.engine.name]
    found = stacked.suspects
    items = list(terms(found, given_evidence))
    choice = data.draw(st.sampled_from(stacked.choices))
    before = weigh(found, items)
    mean, total = np.zeros(len(found)), 0.0
    for outcome in choice.check.outcomes:
        term = check_term(found, choice.check.id, choice.place, outcome)
        healthy, unlisted = term.neither()
        pairs = np.where(before.pair > 0, term.pair() * before.pair, 0.0).sum()
        chance = float(
            term.single() @ before.single + pairs + healthy * before.healthy + unlisted * before.nothing_listed
        )
        mean += chance * weigh(found, [*items, term]).at_fault()
        total += chance
    assert abs(total - 1.0) < 1e-9
    assert np.allclose(mean, before.at_fault(), atol=1e-9)
