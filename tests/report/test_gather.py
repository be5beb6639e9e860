"""What a report says of a case, before anything decides how it looks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from firingend.cases.case import Case, CaseResult
from firingend.comparison.comparison import Pattern
from firingend.diagnosis.diagnosis import RankedCause, RankedStep
from firingend.diagnosis.knowledge import Knowledge
from firingend.labels import LABELS, SIGNS, UNREADABLE
from firingend.reading.reading import Reason
from firingend.report import words
from firingend.report.content import Content, Fact, Measured
from firingend.report.gather import MOST_CAUSES, MOST_STEPS, gather
from firingend.report.versions import networks_version

DAY = date(2024, 3, 7)


@pytest.fixture
def content(result: CaseResult, knowledge: Knowledge) -> Content:
    return gather(result, DAY, knowledge)


def with_reading(result: CaseResult, cylinder: int, **changes: Any) -> CaseResult:
    changed = replace(result.readings[cylinder], **changes)
    return replace(result, readings={**result.readings, cylinder: changed})


def test_every_label_and_sign_has_words() -> None:
    assert set(words.LABEL_WORDS) == {*LABELS, UNREADABLE}
    assert set(words.LABEL_MEANING) == set(LABELS)
    assert set(words.SIGN_WORDS) == set(SIGNS)


def test_head_of_the_report(content: Content) -> None:
    assert content.title == "Blue delivery van"
    assert dict((fact.name, fact.value) for fact in content.facts) == {
        "Engine": "bench four\nInline, 4 cylinders · four-stroke · port injection · wasted spark"
        " · firing order 1-3-4-2",
        "Complaint": "Hunts at idle.\nPops in the intake.",
        "Symptoms": "Surging or hunting idle; Unheard of",
        "Asked and not there": "Hard cold start",
        "Before the plugs came out": "Idled to a stop; 5\xa0min on these plugs; fuel: E10",
        "Shared parts": "coil A: 1 and 4; coil B: 2 and 3",
        "Photographs": "row.jpg",
        "Date": "7 March 2024",
    }


def test_first_sentence_is_set_apart(content: Content) -> None:
    assert content.sentence.startswith("Cylinder 2 is white")
    assert content.sentence_more == "Cylinder 3 could not be read."
    assert content.pattern == "One odd cylinder: 83\xa0%"


def test_plugs_lie_in_the_engines_order(result: CaseResult, knowledge: Knowledge) -> None:
    engine = replace(result.case.engine, cylinders=(4, 2, 3, 1))
    content = gather(replace(result, case=replace(result.case, engine=engine)), DAY, knowledge)
    assert [plug.cylinder for plug in content.plugs] == [f"Cylinder\xa0{n}" for n in (4, 2, 3, 1)]


def test_only_the_odd_one_stands_out(content: Content) -> None:
    assert [plug.stands_out for plug in content.plugs] == [False, True, False, False]


@pytest.mark.parametrize("pattern", ["all-alike", "scattered", "too-few-readable"])
def test_nothing_stands_out_where_there_is_no_group(result: CaseResult, knowledge: Knowledge, pattern: Pattern) -> None:
    alike = replace(result.comparison, pattern=pattern, cylinders=(1, 2, 3, 4))
    content = gather(replace(result, comparison=alike), DAY, knowledge)
    assert not any(plug.stands_out for plug in content.plugs)


def test_a_label_given_by_hand_is_no_reading(content: Content) -> None:
    plug = content.plugs[3]
    assert plug.label == "Normal, tan"
    assert plug.chance is None
    assert plug.chance_words == "Label given by hand, taken as 90\xa0% sure"
    assert plug.picture is None
    assert plug.picture_words == "No photograph: label given by hand"
    assert plug.runner_up == ""


def test_a_refusal_gives_reason_and_remedy_and_no_number(content: Content) -> None:
    plug = content.plugs[2]
    assert plug.label == "Cannot be read"
    assert plug.chance is None
    assert plug.chance_words == ""
    assert [(d.text, d.remedy) for d in plug.doubts] == [("Out of focus.", "Tap on the plug and take it again.")]


def test_a_refusal_between_two_names_both(result: CaseResult, knowledge: Knowledge) -> None:
    torn = {"oil-fouled": 0.48, "rich-carbon": 0.44, "wet": 0.06, "normal-tan": 0.01, "lean-white": 0.01}
    content = gather(with_reading(result, 3, probabilities=torn), DAY, knowledge)
    assert content.plugs[2].runner_up == "Not trusted: oil-fouled (48\xa0%) or rich, carbon (44\xa0%)."
    nothing_there = with_reading(result, 3, probabilities=torn, not_a_plug=0.9)
    assert gather(nothing_there, DAY, knowledge).plugs[2].runner_up == ""


def test_a_quality_flag_is_shown_once(result: CaseResult, knowledge: Knowledge) -> None:
    quality = result.readings[1].quality
    assert quality is not None
    flagged = replace(quality, flags=("too dark", "strong colour cast"))
    reason = Reason("dark", "the picture is too dark", "use a lamp")
    content = gather(with_reading(result, 1, quality=flagged, reasons=(reason,)), DAY, knowledge)
    assert [d.text for d in content.plugs[0].doubts] == [
        "The picture is too dark.",
        "Picture: strong colour cast.",
    ]


def test_only_signs_that_were_seen(content: Content) -> None:
    assert content.plugs[1].signs == ("blisters (71\xa0%)",)


def test_a_cylinder_nothing_is_written_about(result: CaseResult, knowledge: Knowledge) -> None:
    readings = {c: r for c, r in result.readings.items() if c != 4}
    bare = replace(result, readings=readings, case=replace(result.case, typed={}))
    plug = gather(bare, DAY, knowledge).plugs[3]
    assert (plug.label, plug.picture, plug.picture_words) == ("Not recorded", None, "No photograph and no label")


def test_photograph_without_a_firing_end_is_shown_whole(result: CaseResult, knowledge: Knowledge) -> None:
    plug = gather(with_reading(result, 3, firing_end=None), DAY, knowledge).plugs[2]
    assert plug.picture is not None
    assert plug.picture_words == "Photograph of cylinder 3, row.jpg; no firing end was found in it"


@pytest.mark.parametrize("harm", ["missing", "empty", "no picture"])
def test_photograph_that_has_gone_never_stops_the_report(result: CaseResult, knowledge: Knowledge, harm: str) -> None:
    file: Path = result.case.photos[0].file
    if harm == "missing":
        file.unlink()
    else:
        file.write_bytes(b"" if harm == "empty" else b"GET OUT" * 100)
    content = gather(result, DAY, knowledge)
    assert [plug.picture for plug in content.plugs] == [None] * 4
    assert content.plugs[0].picture_words == "Photograph cannot be opened any more: row.jpg"
    assert content.plugs[0].label == "Normal, tan"


@pytest.mark.parametrize(("count", "columns"), [(1, 1), (3, 3), (5, 5), (6, 3), (8, 4), (10, 4), (16, 4)])
def test_plugs_side_by_side(
    engine_of: Callable[[int], CaseResult], knowledge: Knowledge, count: int, columns: int
) -> None:
    assert gather(engine_of(count), DAY, knowledge).columns == columns


def test_meanings_only_of_labels_seen(content: Content) -> None:
    assert [fact.name for fact in content.meanings] == ["Lean, white", "Normal, tan"]
    assert content.meanings[0] == Fact("Lean, white", words.LABEL_MEANING["lean-white"])


def steps_of(result: CaseResult, count: int, **changes: Any) -> tuple[RankedStep, ...]:
    return tuple(replace(result.diagnosis.next[0], id=f"s{i}", name=f"Check {i}", **changes) for i in range(count))


def test_the_first_checks_are_shown_and_the_rest_counted(result: CaseResult, knowledge: Knowledge) -> None:
    many = replace(result.diagnosis, next=steps_of(result, MOST_STEPS + 3))
    content = gather(replace(result, diagnosis=many), DAY, knowledge)
    assert [step.number for step in content.steps] == list(range(1, MOST_STEPS + 1))
    assert content.more_steps.startswith("3 further checks can follow")
    exact = replace(result.diagnosis, next=steps_of(result, MOST_STEPS))
    assert gather(replace(result, diagnosis=exact), DAY, knowledge).more_steps == ""


def test_source_is_said_once_when_it_is_one(result: CaseResult, knowledge: Knowledge, content: Content) -> None:
    assert "Times and costs: common practice, no source." in content.order_words
    assert [step.source for step in content.steps] == ["", ""]
    first, second = result.diagnosis.next
    mixed = replace(result.diagnosis, next=(first, replace(second, source="a manual")))
    other = gather(replace(result, diagnosis=mixed), DAY, knowledge)
    assert "Times and costs" not in other.order_words
    assert [step.source for step in other.steps] == ["common practice, no source", "a manual"]


def test_causes_left_off_are_added_up(result: CaseResult, knowledge: Knowledge) -> None:
    causes = tuple(RankedCause(f"c{i}", f"Cause {i}", "engine", 0.1, "", ()) for i in range(MOST_CAUSES + 2))
    content = gather(replace(result, diagnosis=replace(result.diagnosis, causes=causes)), DAY, knowledge)
    assert len(content.causes) == MOST_CAUSES
    assert content.more_causes == "2 other causes share 20\xa0%."
    assert content.causes[0].where == "whole engine"


def test_what_was_done_and_measured(content: Content) -> None:
    assert [(done.name, done.where, done.outcome) for done in content.done] == [
        ("Coil resistance", "everywhere", "alike and within the range"),
        ("Plug gap", "cylinder 2", "too wide"),
        ("Repair tried: Injector clogged", "cylinder 2", "better, not cured"),
    ]
    assert content.ruled_out == "Weak coil – coil A (1 and 4)."
    assert content.measured == (
        Measured(
            "Coil primary resistance",
            "coil A",
            "0.8\xa0Ω, at 20 °C",
            verdict="Not judged",
            reason="No limits given and nothing to compare with.",
        ),
    )


def test_a_long_list_of_what_is_ruled_out_is_cut(result: CaseResult, knowledge: Knowledge) -> None:
    out = tuple(RankedCause(f"c{i}", f"Cause {i}", "engine", 0.0, "", ()) for i in range(15))
    content = gather(replace(result, diagnosis=replace(result.diagnosis, ruled_out=out)), DAY, knowledge)
    assert content.ruled_out.startswith("Cause 0; Cause 1; ")
    assert content.ruled_out.endswith("; Cause 11; and 3 more.")
    nothing = replace(result, diagnosis=replace(result.diagnosis, ruled_out=()))
    assert gather(nothing, DAY, knowledge).ruled_out == ""


def test_aircraft_are_left_to_licensed_maintenance(result: CaseResult, knowledge: Knowledge) -> None:
    case: Case = replace(result.case, engine=replace(result.case.engine, aircraft=True))
    refused = replace(result.diagnosis, next=(), causes=())
    content = gather(replace(result, case=case, diagnosis=refused), DAY, knowledge)
    assert content.notes[0] == words.AIRCRAFT
    assert content.steps == ()
    assert content.no_steps


def test_networks_are_told_apart_by_their_files(tmp_path: Path) -> None:
    assert networks_version(tmp_path) == ""
    one, other = tmp_path / "one", tmp_path / "other"
    for folder, weights in ((one, b"weights"), (other, b"tuned weights")):
        folder.mkdir()
        (folder / "reader.onnx").write_bytes(weights)
    assert len(networks_version(one)) == 8
    assert networks_version(one) != networks_version(other)


def test_made_says_whether_a_network_read(result: CaseResult, knowledge: Knowledge, content: Content) -> None:
    assert content.made.startswith("Made on 7 March 2024 by firingend ")
    by_hand = replace(result, case=replace(result.case, photos=()), photo_readings=())
    assert "labels were given by hand" in gather(by_hand, DAY, knowledge).made
