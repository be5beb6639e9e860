"""Sessions never change; they are replaced."""

from __future__ import annotations

from firingend_gui.session import Plug, RecordedCheck, Session
from gui_fakes import four, photo, reading


def test_a_change_leaves_the_old_session_as_it_was():
    before = Session(four())
    after = before.with_plug(1, Plug(mark="wet"))
    assert dict(before.plugs) == {}
    assert after.plugs[1].mark == "wet"
    assert after.free_cylinders() == (2, 3, 4)


def test_a_mark_taken_off_an_otherwise_empty_cylinder_leaves_nothing():
    session = Session(four()).with_mark(3, "wet").with_mark(3, None)
    assert 3 not in session.plugs


def test_a_mark_keeps_the_photo_under_it():
    session = Session(four()).with_plug(1, Plug(photo("p.jpg", reading("wet")), 0)).with_mark(1, "oil-fouled")
    assert session.plugs[1].seen.label == "wet"
    assert session.with_mark(1, None).plugs[1].mark is None


def test_checks_at_two_places_are_two_checks():
    session = Session(four())
    for where in ("cylinder 1", "cylinder 2", "cylinder 1"):
        session = session.with_check(RecordedCheck("spark", "Spark test", where, "good", "good"))
    assert [c.where for c in session.checks] == ["cylinder 2", "cylinder 1"]
