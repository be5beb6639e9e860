"""From readings to what the cards say."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from firingend_gui import presenting
from firingend_gui.services import Assessment
from firingend_gui.session import Plug, RecordedCheck, Session
from firingend_gui.wording import NBSP
from gui_fakes import BLURRED, DIAGNOSIS, GOOD, OUTCOMES, SOOTY_ONE, four, photo, reading, refused

from firingend.reading.reading import Reason, Zone

ASSESSED = Assessment(SOOTY_ONE, DIAGNOSIS, OUTCOMES)


def card(seen, **plug):
    session = Session(four()).with_plug(2, Plug(photo("p.jpg", seen), 0, **plug))
    return presenting.cards(session, (), None)[1]


def test_a_plain_reading_says_label_probability_and_runner_up():
    probabilities = {"lean-white": 0.01, "normal-tan": 0.1, "rich-carbon": 0.8, "oil-fouled": 0.05, "wet": 0.04}
    shown = card(replace(reading("rich-carbon"), probabilities=probabilities))
    assert shown.status == "read"
    assert shown.label_words == "Rich, carbon"
    assert shown.probability == 0.8
    assert shown.probability_words == f"80{NBSP}%"
    assert shown.second_words == f"Next likeliest: Normal, tan (10{NBSP}%)"
    assert "soot" in shown.seen_words
    assert shown.shares == "coil B"


def test_a_doubted_reading_keeps_its_label_and_says_why():
    doubt = Reason("new", "may be new", "run the engine for ten minutes")
    shown = card(replace(reading("lean-white"), reasons=(doubt,)))
    assert shown.status == "doubted"
    assert shown.label == "lean-white"
    assert (shown.doubts[0].text, shown.doubts[0].remedy) == ("May be new.", "Run the engine for ten minutes.")


def test_a_refused_reading_claims_no_probability():
    shown = card(refused())
    assert shown.status == "refused"
    assert shown.label_words == "Cannot be read"
    assert shown.probability is None
    assert shown.second_words == ""
    assert shown.doubts[0].remedy == "Hold the phone further away and tap on the nose."


def test_a_quality_flag_is_not_said_twice():
    assert card(refused()).flags == ()
    assert card(replace(reading("wet"), quality=BLURRED)).flags == ("out of focus",)
    assert card(replace(reading("wet"), quality=GOOD)).flags == ()


def test_signs_that_are_likelier_than_not_are_mentioned():
    shown = card(replace(reading("normal-tan"), signs={"ash": 0.9, "specks": 0.2}))
    assert shown.signs_words == "Also seen: ash crust"


def test_a_card_is_spoken_in_one_sentence():
    shown = card(refused())
    assert shown.spoken.startswith("Cylinder 2: Cannot be read. The firing end is out of focus.")


def test_the_picture_is_the_firing_end_and_knows_the_others():
    ends = (reading("wet", box=(0, 0, 10, 10)), reading("wet", box=(50, 0, 60, 10)))
    session = Session(four()).with_plug(1, Plug(photo("p.jpg", *ends), 1))
    ref = presenting.cards(session, (), None)[0].picture
    assert (ref.file, ref.box, ref.others, ref.full_width) == (Path("p.jpg"), (50, 0, 60, 10), ((0, 0, 10, 10),), 400)


def test_only_cylinders_that_differ_stand_out():
    session = Session(four()).with_plug(2, Plug(mark="wet"))
    assert [c.stands_out for c in presenting.cards(session, (), ASSESSED)] == [False, True, False, False]
    alike = replace(ASSESSED, comparison=replace(SOOTY_ONE, pattern="all-alike", cylinders=(1, 2, 3, 4)))
    assert not any(c.stands_out for c in presenting.cards(session, (), alike))


def test_steps_carry_costs_cautions_and_outcomes():
    shown = presenting.follow_up(Session(four()), ASSESSED, working=False)
    first = shown.steps[0]
    assert (first.rank, first.minutes, first.parts, first.expected) == (1, "25 min", "nothing", "84 EUR")
    assert first.cautions == DIAGNOSIS.next[0].cautions
    assert [o.words for o in first.outcomes] == ["All alike", "One delivers more", "One less"]
    assert first.how[0] == "Note the rail pressure."
    assert shown.causes[0].probability_words == f"46{NBSP}%"
    assert shown.notes == ("One plug is weak evidence.",)


def test_nothing_read_yet_says_what_is_missing():
    shown = presenting.follow_up(Session(four()), None, working=False)
    assert shown.steps == ()
    assert "plugs have been read" in shown.hint
    assert "Add photos" in presenting.comparison(Session(four()), None, working=False).headline


def test_no_check_left_is_said():
    none = replace(ASSESSED, diagnosis=replace(DIAGNOSIS, next=()))
    assert "No check is left" in presenting.follow_up(Session(four()), none, working=False).hint


def test_checks_done_at_the_whole_engine_need_no_place():
    checks = (
        RecordedCheck("a", "Air filter", "engine", "clean", "clean"),
        RecordedCheck("b", "Spark test", "cylinder 2", "good", "good"),
    )
    shown = presenting.follow_up(Session(four(), checks=checks), ASSESSED, working=False)
    assert [d.words for d in shown.done] == ["Air filter: clean", "Spark test, cylinder 2: good"]


TRIANGLE = ((10.0, 10.0), (50.0, 10.0), (30.0, 50.0))
NOSE = Zone("nose", (TRIANGLE,), 0.3, (60.0, 8.0, 16.0), "estimated from the picture", 0.6)


def test_the_nose_is_outlined_and_its_colour_told():
    shown = card(replace(reading("normal-tan"), zones=(NOSE, replace(NOSE, part="body"))))
    assert [(p.part, p.outlines) for p in shown.picture.parts] == [("nose", NOSE.outlines)]
    assert shown.swatch.rgb is not None
    red, green, blue = shown.swatch.rgb
    assert red > green > blue
    assert shown.swatch.lab_words.replace(NBSP, " ") == "Nose L* 60  a* 8  b* 16"
    assert shown.swatch.neutral_words == f"Neutral: estimated from the picture, 60{NBSP}% sure"
    hidden = card(replace(reading("normal-tan"), zones=(replace(NOSE, lab=None),)))
    assert hidden.swatch.rgb is None
    assert "glare" in hidden.swatch.lab_words
    assert card(reading("normal-tan")).swatch is None


def test_how_far_soot_climbs_and_what_else_it_could_be_are_said():
    shown = card(replace(reading("rich-carbon"), severity=0.9, label_set=("rich-carbon", "oil-fouled")))
    assert shown.severity_words == "soot over nose and rim and up the threads"
    assert shown.second_words == "Could also be oily"
    assert "up the threads" in shown.spoken
    alone = card(replace(reading("rich-carbon"), label_set=("rich-carbon",)))
    assert alone.second_words == ""


def test_the_nose_that_stands_out_is_set_against_the_others_of_its_photo():
    def nose(lab, label):
        return replace(reading(label), zones=(replace(NOSE, lab=lab),))

    row = photo("row.jpg", nose((60.0, 8.0, 16.0), "normal-tan"), nose((15.0, 0.0, 0.0), "rich-carbon"))
    session = Session(four()).with_plug(1, Plug(row, 0)).with_plug(2, Plug(row, 1))
    far = photo("far.jpg", nose((30.0, 0.0, 0.0), "normal-tan"))
    (said,) = presenting.comparison(session.with_plug(3, Plug(far, 0)), ASSESSED, working=False).colours
    assert said.startswith("The nose of cylinder 2 is far darker than that of 1 (colour difference")
    apart = session.with_plug(1, None).with_plug(3, Plug(far, 0))
    (said,) = presenting.comparison(apart, ASSESSED, working=False).colours
    assert said.endswith(presenting.APART)
    assert presenting.comparison(session.with_mark(2, "wet"), ASSESSED, working=False).colours == ()
