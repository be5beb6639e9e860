"""Undo, and knowing what would be lost."""

from __future__ import annotations

from firingend_gui.history import History
from firingend_gui.session import Plug, Session
from gui_fakes import four


def test_changes_are_undone_last_first():
    history = History()
    history.begin(Session(four()))
    history.change(history.now.with_mark(1, "wet"), "first")
    history.change(history.now.with_mark(2, "wet"), "second")
    assert history.undo() == "second"
    assert history.undo_words == "first"
    assert set(history.now.plugs) == {1}
    history.undo()
    assert history.undo() == ""


def test_what_is_amended_survives_undo_and_needs_no_saving():
    history = History()
    history.begin(Session(four()), saved=True)
    history.amend(lambda s: s.with_plug(4, Plug(mark="wet")))
    assert not history.unsaved
    history.change(history.now.with_mark(1, "wet"), "label")
    history.amend(lambda s: s.with_plug(3, Plug(mark="wet")))
    history.undo()
    assert set(history.now.plugs) == {3, 4}


def test_undoing_back_to_what_was_saved_leaves_nothing_to_lose():
    history = History()
    history.begin(Session(four()), saved=True)
    history.change(history.now.with_mark(1, "wet"), "label")
    assert history.unsaved
    history.undo()
    assert not history.unsaved
