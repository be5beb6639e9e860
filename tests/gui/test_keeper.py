"""A job in the viewer on a real store: kept as it happens, undone across restarts, shared, and never silently lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from firingend_gui.jobwork.shelf import Opening
from firingend_gui.jobwork.wants import SetField
from gui_fakes import entry, photo, reading, row_photo
from job_desk import Bay, ByContent

from firingend.diagnosis.evidence import Outcome, RunBefore
from firingend.errors import UserError
from firingend.jobs.as_case import assess_job
from firingend.jobs.problems import StoreError
from firingend.reading.reading import Zone


@pytest.fixture
def bays(tmp_path):
    """Makes viewers that share one store and one set of photographs."""
    made, services = [], ByContent()

    def make(who: str = "ab") -> Bay:
        made.append(Bay(tmp_path, services, who))
        return made[-1]

    yield make
    for bay in made:
        bay.close()


@pytest.fixture
def bay(bays):
    return bays()


def test_an_engine_in_hand_becomes_a_job_with_everything_on_it(bay):
    row = bay.photo("row.png", row_photo("row.png", "wet", "normal-tan", "oil-fouled"))
    bay.controller.describe_engine(entry(4))
    bay.do("add_photos", [row])
    bay.do("answer_question", "backward")
    bay.do("mark", 4, "lean-white")
    bay.do("set_complaint", "smokes", ["black-smoke"], RunBefore("idled", 20.0))
    step = bay.view.follow_up.steps[0]
    bay.do("record_outcome", step, step.outcomes[0])
    bay.do("keep_as_job", Opening(customer="yard 4", mark="INV-7"))
    card = bay.card()
    assert (card.customer, card.mark, card.complaint) == ("yard 4", "INV-7", "smokes")
    assert card.run == RunBefore("idled", 20.0)
    (kept,) = card.photos.values()
    assert (kept.cylinders, kept.name, kept.stage) == ((3, 2, 1), "row.png", "before")
    assert list(card.outcomes.values()) == [Outcome("injector-balance", "cylinder 2", "alike")]
    found = assess_job(bay.shelf.store, bay.shelf.store.job(1)).readings
    assert {c: r.label for c, r in found.items()} == {1: "oil-fouled", 2: "normal-tan", 3: "wet", 4: "lean-white"}
    assert bay.view.header.job.number == 1
    assert not bay.controller.unsaved


def test_what_is_done_is_in_the_store_at_once_and_there_after_a_restart(bays):
    first = bays().with_job(2)
    plug = first.photo("a.png", photo("a.png", reading("wet")))
    first.do("add_photos", [plug])
    first.do("mark", 2, "lean-white")
    step = first.view.follow_up.steps[0]
    first.do("record_outcome", step, step.outcomes[1])
    again = bays().open()
    assert again.labels() == ["wet", "lean-white"]
    assert again.view.page == "plugs"
    assert [done.outcome for done in again.controller.session.checks] == ["more"]
    assert again.view.header.job.head == "Job 1"
    assert again.controller.session.plugs[1].photo.file.parent.parent.name == "photos"


def test_undo_takes_back_one_thing_after_the_other_across_restarts(bays):
    first = bays().with_job(2)
    plug = first.photo("a.png", photo("a.png", reading("wet")))
    first.do("add_photos", [plug])
    first.do("mark", 1, "lean-white")
    first.do("remove", 1)
    assert first.labels() == ["", ""]
    again = bays("cd").open()
    assert again.view.header.undo_words == "removal on cylinder 1 (ab)"
    for expected in ("lean-white", "wet", ""):
        again.do("undo")
        assert again.labels()[0] == expected
    assert again.view.header.undo_words == ""
    again.do("undo")  # nothing is left to take back: nothing happens
    assert again.view.notices == ()


def test_a_plug_removed_from_a_row_leaves_the_others(bays):
    bay = bays().with_job(3)
    row = bay.photo("row.png", row_photo("row.png", "wet", "normal-tan", "oil-fouled"))
    bay.do("add_photos", [row])
    bay.do("answer_question", "forward")
    bay.do("remove", 2)
    assert bays().open().labels() == ["wet", "", "oil-fouled"]


def test_a_photo_put_in_place_of_another_counts_and_takes_the_label_by_hand_away(bays):
    bay = bays().with_job(2)
    old = bay.photo("old.png", row_photo("old.png", "wet", "wet"))
    bay.do("add_photos", [old])
    bay.do("answer_question", "forward")
    bay.do("mark", 1, "oil-fouled")
    bay.do("add_photos", [bay.photo("new.png", photo("new.png", reading("normal-tan")))], 1)
    again = bays().open()
    assert again.labels() == ["normal-tan", "wet"]
    again.do("mark", 1, "lean-white")
    assert bays().open().labels() == ["lean-white", "wet"]
    again.do("mark", 1, None)
    assert bays().open().labels() == ["normal-tan", "wet"]


def test_another_viewers_change_shows_up(bays):
    here, there = bays("ab").with_job(2), bays("cd").open()
    there.do("mark", 2, "wet")
    here.look()
    assert here.labels() == ["", "wet"]
    assert "label of cylinder 2, by cd at" in here.view.notices[-1].text
    here.do("mark", 1, "lean-white")  # of another plug: both are kept
    there.look()
    assert there.labels() == ["lean-white", "wet"]
    assert here.view.choice is None


@pytest.mark.parametrize(("answer", "label"), [("mine", "lean-white"), ("theirs", "wet")])
def test_two_who_label_one_plug_are_told_and_choose(bays, answer, label):
    here, there = bays("ab").with_job(2), bays("cd").open()
    there.do("mark", 2, "wet")
    here.do("mark", 2, "lean-white")
    assert "label of cylinder 2, by cd" in here.view.choice.text
    assert "(“Wet”)" in here.view.choice.text
    assert "label of cylinder 2 (“Lean, white”)" in here.view.choice.detail
    assert here.controller.unsaved
    assert [t.label for t in here.card().typed.values()] == ["wet"]
    here.keeper.answer(answer)
    here.runner.run_all()
    assert here.view.choice is None
    assert here.labels() == ["", label]
    assert not here.controller.unsaved
    there.look()
    assert there.labels() == ["", label]
    changes = [change.what for change in here.shelf.store.history(1)]
    assert changes.count("label of cylinder 2") == (2 if answer == "mine" else 1)


def test_two_who_do_the_same_check_are_told(bays):
    here, there = bays("ab").with_job(2), bays("cd").open()
    for bay in (here, there):
        bay.do("mark", 1, "wet") if bay is here else bay.look()
    step = there.view.follow_up.steps[0]
    there.do("record_outcome", step, step.outcomes[0])
    here.do("record_outcome", step, step.outcomes[1])
    assert here.view.choice is not None
    here.keeper.answer("mine")
    here.runner.run_all()
    assert [o.outcome for o in here.card().outcomes.values()] == ["more"]


def test_a_field_changed_at_the_same_moment_is_told(bays):
    here, there = bays("ab").with_job(2), bays("cd").open()
    there.keeper.write((SetField("status", "waiting"),), "status")
    there.runner.run_all()
    here.keeper.write((SetField("status", "fixed"), SetField("notes/a1", {"text": "mine"})), "status and note")
    here.runner.run_all()
    assert "status, by cd" in here.view.choice.text
    assert here.card().notes == {}
    here.keeper.answer("mine")
    here.runner.run_all()
    assert (here.card().status, here.card().notes["a1"].text) == ("fixed", "mine")


def test_what_cannot_be_written_is_asked_about_and_tried_again(bay, monkeypatch):
    bay.with_job(2)
    write = bay.shelf.write

    def full(*_, **__):
        raise StoreError("the disk is full", "free space")

    monkeypatch.setattr(bay.shelf, "write", full)
    bay.do("mark", 1, "wet")
    assert bay.view.choice.text == "Not kept: label of cylinder 1. The disk is full"
    assert bay.controller.unsaved
    monkeypatch.setattr(bay.shelf, "write", write)
    bay.keeper.answer("again")
    bay.runner.run_all()
    assert [t.label for t in bay.card().typed.values()] == ["wet"]
    assert not bay.controller.unsaved


def test_what_is_let_go_leaves_the_window_as_the_store_has_it(bay, monkeypatch):
    bay.with_job(2)
    monkeypatch.setattr(bay.shelf, "write", lambda *_: (_ for _ in ()).throw(UserError("no", "do")))
    bay.do("mark", 1, "wet")
    bay.keeper.answer("let-go")
    bay.runner.run_all()
    assert bay.labels() == ["", ""]


@pytest.mark.parametrize("spoil", ["missing", "damaged"])
def test_a_missing_or_damaged_photo_is_shown_as_such_and_hides_nothing(bays, spoil):
    bay = bays().with_job(2)
    bay.do("add_photos", [bay.photo("a.png", photo("a.png", reading("wet")))])
    bay.do("mark", 2, "normal-tan")
    bay.open()
    file = bay.controller.session.plugs[1].photo.file
    if spoil == "missing":
        file.unlink()
    else:
        file.write_bytes(file.read_bytes()[:-1] + b"x")  # of the same size
    again = bays().open()
    assert again.labels() == ["wet", "normal-tan"]
    shown = again.view.cards[1]
    assert shown.picture is None
    assert spoil in shown.picture_words
    assert spoil in shown.doubts[0].text


def test_a_photo_nobody_has_read_is_read_and_written_down(bays):
    bay = bays().with_job(2)
    file = bay.photo("a.png", photo("a.png", reading("oil-fouled")))
    bay.shelf.store.add_photo(bay.keeper.job, file, cylinders=(2,))
    again = bays().open()
    assert again.labels() == ["", "oil-fouled"]
    assert len(again.card().readings) == 1


def test_outlines_are_read_again_and_change_no_reading(bays):
    square = ((10.0, 10.0), (60.0, 10.0), (60.0, 60.0), (10.0, 60.0))
    seen = reading("wet", zones=(Zone("nose", (square,), 0.3, (40.0, 0.0, 0.0), "grey", 0.5),))
    bay = bays().with_job(2)
    file = bay.photo("a.png", photo("a.png", seen))
    bay.do("add_photos", [file])
    bay.services.shows[file.read_bytes()] = photo("a.png", reading("lean-white", zones=seen.zones))
    again = bays().open()
    assert again.labels() == ["wet", ""]
    assert again.view.cards[1].picture.parts[0].outlines == (square,)
    assert not again.controller.unsaved
    assert again.keeper.job.revision == bay.keeper.job.revision


def test_plugs_after_the_repair_are_kept_apart(bays):
    bay = bays().with_job(2)
    bay.do("mark", 1, "wet")
    bay.keeper.choose_stage("after")
    bay.runner.run_all()
    assert bay.labels() == ["", ""]
    bay.do("add_photos", [bay.photo("b.png", photo("b.png", reading("normal-tan")))])
    assert bay.labels() == ["normal-tan", ""]
    assert bay.view.follow_up.steps == ()
    assert "before repair" in bay.view.follow_up.hint
    bay.keeper.choose_stage("before")
    bay.runner.run_all()
    assert bay.labels() == ["wet", ""]
    over = bay.shelf.over_time(bay.keeper.job.id)
    assert {s: seen.reading.label for s, seen in over.plugs[1].items()} == {"before": "wet", "after": "normal-tan"}
    assert [visit.number for visit in over.visits] == [1]


def test_a_stage_waits_for_what_is_being_written(bays):
    bay = bays().with_job(2)
    bay.controller.mark(1, "wet")
    bay.keeper.choose_stage("after")
    bay.runner.run_all()
    assert bay.keeper.stage == "after"
    assert [t.stage for t in bay.card().typed.values()] == ["before"]


def test_leaving_a_job_leaves_a_viewer_without_one(bays):
    bay = bays().with_job(2)
    bay.controller.new_engine()
    bay.controller.describe_engine(entry(2))
    bay.do("mark", 1, "wet")
    assert bay.view.header.job is None
    assert bay.shelf.store.job(1).revision == 1
    bay.do("undo")
    assert bay.labels() == ["", ""]


def test_a_job_that_is_not_there_leaves_the_engine_in_hand(bay):
    bay.controller.describe_engine(entry(3))
    bay.open(99)
    assert len(bay.view.cards) == 3
    assert "no job 99" in bay.view.notices[-1].text


def test_labels_of_a_case_file_keep_how_sure_they_were(bay):
    from firingend_gui.casework import session_of
    from firingend_gui.services import OpenedCase
    from test_casework import CASE

    from firingend.cases.load import parse_case
    from firingend.diagnosis.knowledge import load

    bay.services.case = OpenedCase(session_of(parse_case(CASE), load()), ())
    bay.do("open_case", Path("c.toml"))
    bay.do("keep_as_job", Opening())
    typed = {each.cylinder: each for each in bay.card().typed.values()}
    assert (typed[2].label, typed[2].sure, typed[2].signs) == ("wet", 0.7, ("ash",))
    assert bay.card().rates.currency == "GBP"
    bay.open()
    assert bay.controller.session.source.typed[2].sure == 0.7


def test_a_photo_that_has_gone_before_it_was_kept_is_asked_about(bay):
    file = bay.photo("a.png", photo("a.png", reading("wet")))
    bay.controller.describe_engine(entry(2))
    bay.do("add_photos", [file])
    file.unlink()
    bay.do("keep_as_job", Opening())
    assert "Not kept" in bay.view.choice.text
    assert "a.png" in bay.view.choice.text
    bay.keeper.answer("let-go")
    bay.runner.run_all()
    assert bay.card().photos == {}
    assert bay.labels() == ["", ""]


def test_a_store_that_cannot_be_opened_is_told_and_the_engine_in_hand_stays(bay, monkeypatch):
    def closed():
        raise StoreError("a newer version of the program wrote this database", "update the program")

    bay.controller.describe_engine(entry(2))
    monkeypatch.setattr(bay.shelf, "_open_store", closed)
    bay.controller.desk.show_list()
    bay.runner.run_all()
    assert "newer version" in bay.view.notices[-1].text
    bay.do("keep_as_job", Opening())
    bay.do("mark", 1, "wet")
    assert bay.labels() == ["wet", ""]
    assert bay.view.header.job is None


def test_photos_on_their_way_hold_the_stage(bays):
    bay = bays().with_job(2)
    bay.controller.add_photos([bay.photo("a.png", photo("a.png", reading("wet")))])
    assert bay.controller.unsaved
    bay.controller.choose_stage("after")
    assert "still on their way" in bay.view.notices[-1].text
    bay.runner.run_all()
    assert bay.keeper.stage == "before"
    assert bay.labels() == ["wet", ""]
    bay.do("choose_stage", "after")
    assert bay.keeper.stage == "after"


def test_a_store_that_is_gone_is_told_once(bay, monkeypatch):
    bay.with_job(2)

    def gone(*_):
        raise StoreError("the database server does not answer", "check it")

    monkeypatch.setattr(bay.shelf, "news", gone)
    bay.look()
    bay.controller.notices.clear()
    bay.look()
    assert bay.view.notices == ()
    monkeypatch.undo()
    bay.look()
    monkeypatch.setattr(bay.shelf, "news", gone)
    bay.look()
    assert "does not answer" in bay.view.notices[-1].text
