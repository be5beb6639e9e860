"""Steps can be taken back, skipped, pinned, kept and taken up again."""

from __future__ import annotations

import pytest
from engines import inline, plugs
from hypothesis import given, settings
from hypothesis import strategies as st

from firingend.diagnosis.evidence import Evidence, Measurement
from firingend.diagnosis.knowledge import load
from firingend.diagnosis.posterior import weigh
from firingend.diagnosis.session import Session
from firingend.diagnosis.suspects import suspects
from firingend.diagnosis.weighing import terms
from firingend.errors import UserError

TWO = inline(2, fuel="carburettor", ignition="wasted-spark")
START = Evidence(TWO, plugs(TWO, {2: "rich-carbon"}), {"rough-idle": True})
CHECKS = ["air-filter", "choke-return", "fuel-quality", "tank-vent", "snorkel"]


def steps() -> st.SearchStrategy[tuple[str, ...]]:
    checks = load().checks
    answers = [("outcome", c, "engine", o) for c in CHECKS for o in checks[c].outcomes]
    symptoms = [("symptom", s, p) for s in ("black-smoke", "stalling", "low-power") for p in ("present", "absent")]
    return st.sampled_from([*answers, *symptoms, ("skip", "jets"), ("pin", "plug-gap"), ("undo",), ("redo",)])


def take(session: Session, step: tuple[str, ...]) -> Session:
    kind, *words = step
    if kind == "outcome":
        return session.outcome(*words)
    if kind == "symptom":
        return session.symptom(words[0], words[1] == "present")
    if kind in ("skip", "pin"):
        return getattr(session, kind)(words[0])
    if kind == "undo":
        return session.undo() if session.entries else session
    return session.redo() if session.undone else session


def state(session: Session) -> tuple[str, bytes, bytes]:
    """What was said, and every probability, to the last bit."""
    evidence = session.evidence()
    found = suspects(load(), evidence.engine)
    posterior = weigh(found, list(terms(found, evidence)))
    return session.dumps(), posterior.single.tobytes(), posterior.pair.tobytes()


@settings(max_examples=40, deadline=None)
@given(
    st.lists(steps(), max_size=8),
    st.lists(steps().filter(lambda s: s[0] not in ("undo", "redo")), min_size=1, max_size=5),
)
def test_undo_gives_back_the_very_same_state_and_redo_the_one_after(before, after):
    session = Session(START)
    for step in before:
        session = take(session, step)
    session = Session(session.start, session.entries)
    was = state(session)
    walked = session
    for step in after:
        walked = take(walked, step)
    end = state(walked)
    back = walked
    for _ in after:
        back = back.undo()
    assert state(Session(back.start, back.entries)) == was
    for _ in after:
        back = back.redo()
    assert state(back) == end


def test_the_diagnosis_after_undo_equals_the_one_before():
    session = Session(START)
    before = session.diagnosis()
    assert session.outcome("air-filter", "engine", "clogged").undo().diagnosis() == before


def test_any_step_can_be_taken_back_not_only_the_last():
    session = Session(START).outcome("air-filter", "engine", "clogged").outcome("snorkel", "engine", "clear")
    without = session.undo(0)
    assert [entry.words[0] for entry in without.entries] == ["snorkel"]
    assert without.evidence() == Session(START).outcome("snorkel", "engine", "clear").evidence()


def test_a_skipped_check_is_not_offered_and_comes_back_when_the_skip_is_taken_back():
    session = Session(START)
    first = session.diagnosis().next[0].id
    skipped = session.skip(first)
    assert first not in {step.id for step in skipped.diagnosis().next}
    assert skipped.undo().diagnosis().next[0].id == first


def test_a_pinned_check_comes_first_whatever_it_costs():
    pinned = Session(START).pin("compression-dry")
    assert pinned.diagnosis().next[0].id == "compression-dry"


def test_a_session_is_taken_up_again_where_it_was_left():
    gauge = Measurement("compression-dry", "cylinder 1", 11.5, "bar")
    session = (
        Session(START).outcome("air-filter", "engine", "clean").measurement(gauge).symptom("stalling", False).undo()
    )
    again = Session.loads(session.dumps(), START)
    assert again == session and again.diagnosis() == session.diagnosis()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "not JSON"),
        ("[]", "unknown format"),
        ('{"format": 9}', "unknown format"),
        ('{"format": 1, "entries": 3, "undone": []}', "lists no entries"),
        ('{"format": 1, "entries": [["outcome", "x"]], "undone": []}', "says nothing"),
        ('{"format": 1, "entries": [["sing", "x"]], "undone": []}', "says nothing"),
    ],
)
def test_a_damaged_session_is_refused_with_the_reason(text, words):
    with pytest.raises(UserError, match=words):
        Session.loads(text, START)


def test_nothing_to_undo_or_redo_is_said():
    with pytest.raises(UserError, match="nothing to take back"):
        Session(START).undo()
    with pytest.raises(UserError, match="nothing to say again"):
        Session(START).redo()
