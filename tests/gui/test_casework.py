"""A session becomes a case and a case a session, and nothing a case file holds gets lost on the way."""

from __future__ import annotations

from pathlib import Path

from firingend_gui.casework import case_and_photos, case_of, session_of
from firingend_gui.session import Plug, Session
from gui_fakes import four, photo, reading, row_photo

from firingend.cases.case import TypedPlug
from firingend.cases.load import parse_case
from firingend.cases.run import place_readings
from firingend.diagnosis.knowledge import load

CASE = """
name = "grey pickup"
complaint = "rough when cold"
[engine]
name = "2.0"
cylinders = 4
ignition = "wasted-spark"
firing_order = [1, 3, 4, 2]
[run]
before = "idled"
minutes_on_plugs = 20.0
[plugs]
1 = "normal-tan"
2 = { label = "wet", sure = 0.7, signs = ["ash"] }
[costs]
rate_per_hour = 75.0
currency = "GBP"
"""


def test_labels_of_a_case_keep_how_sure_they_are_and_their_signs():
    case = parse_case(CASE)
    session = session_of(case, load())
    assert session.plugs[2].mark == "wet"
    assert case_of(session).typed == case.typed
    marked_anew = case_of(session.with_mark(2, "oil-fouled"))
    assert marked_anew.typed[2] == TypedPlug("oil-fouled")


def test_what_the_viewer_does_not_show_is_carried_along():
    kept = case_of(session_of(parse_case(CASE), load()))
    assert (kept.run.how, kept.run.minutes_on_plugs) == ("idled", 20.0)
    assert (kept.rate_per_hour, kept.currency) == (75.0, "GBP")


def test_each_cylinder_is_assessed_by_the_one_reading_put_on_it():
    row = row_photo("row.jpg", "wet", "normal-tan", "oil-fouled")
    session = Session(four()).with_plug(1, Plug(row, 2)).with_plug(2, Plug(row, 0)).with_mark(2, "lean-white")
    case, photos = case_and_photos(session)
    readings = place_readings(case, photos)
    assert {n: r.label for n, r in readings.items()} == {1: "oil-fouled", 2: "lean-white"}


def test_a_photo_without_a_firing_end_is_assessed_as_unreadable():
    case, photos = case_and_photos(Session(four()).with_plug(3, Plug(photo("none.jpg"), None)))
    assert place_readings(case, photos)[3].label == "unreadable"


def test_a_whole_row_is_kept_as_one_photo_in_row_order():
    row = row_photo("row.jpg", "wet", "normal-tan")
    session = Session(four()).with_plug(4, Plug(row, 0)).with_plug(3, Plug(row, 1))
    (placed,) = case_of(session).photos
    assert (placed.file, placed.cylinders, placed.across) == (Path("row.jpg"), (4, 3), True)


def test_a_row_of_which_only_some_count_is_kept_as_labels():
    row = row_photo("row.jpg", "wet", "normal-tan")
    kept = case_of(Session(four()).with_plug(1, Plug(row, 0)))
    assert kept.photos == ()
    assert kept.typed == {1: TypedPlug("wet", 0.9)}


def test_single_photos_are_kept_with_their_cylinder():
    kept = case_of(Session(four()).with_plug(2, Plug(photo("p.jpg", reading("wet")), 0)))
    assert [(p.file, p.cylinders) for p in kept.photos] == [(Path("p.jpg"), (2,))]


def test_a_photo_that_could_not_be_read_stays_in_the_case():
    failed = Plug(file=Path("gone.jpg"), failure=object())
    session = Session(four()).with_plug(1, failed).with_plug(2, failed)
    assert [(p.file, p.cylinders) for p in case_of(session).photos] == [(Path("gone.jpg"), (1, 2))]


def test_outcomes_come_back_in_words():
    knowledge = load()
    check = next(c for c in knowledge.checks.values() if c.where == "engine")
    outcome = next(iter(check.outcomes))
    case = parse_case(CASE + f'[[outcomes]]\ncheck = "{check.id}"\noutcome = "{outcome}"\n')
    (recorded,) = session_of(case, knowledge).checks
    assert (recorded.name, recorded.outcome_words) == (check.name, check.outcomes[outcome])
    assert case_of(session_of(case, knowledge)).outcomes == case.outcomes
