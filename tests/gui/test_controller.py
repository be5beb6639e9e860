"""The whole viewer without a window: a fake view, a fake library, and work that happens when the test says so."""

from __future__ import annotations

from pathlib import Path

import pytest
from firingend_gui.controller import Controller
from firingend_gui.services import PlacedPhoto
from firingend_gui.states import OutcomeState
from gui_fakes import (
    FakeServices,
    FakeView,
    StepRunner,
    case_of_four,
    entry,
    photo,
    reading,
    refused,
    row_photo,
)

from firingend.diagnosis.evidence import RunBefore


class Desk:
    """A controller with its fakes."""

    def __init__(self, **photos) -> None:
        self.view, self.runner = FakeView(), StepRunner()
        self.services = FakeServices({f"{name}.jpg": made for name, made in photos.items()})
        self.controller = Controller(self.view, self.services, self.runner)
        self.controller.start()
        self.runner.run_all()

    def with_engine(self, cylinders: int = 4) -> Desk:
        self.controller.describe_engine(entry(cylinders))
        return self

    def statuses(self) -> list[str]:
        return [card.status for card in self.view.cards.values()]

    def labels(self) -> list[str]:
        return [card.label for card in self.view.cards.values()]


def test_starts_on_the_first_page():
    desk = Desk()
    assert desk.view.page == "start"
    assert not desk.controller.busy


def test_describing_an_engine_shows_one_empty_card_a_cylinder():
    desk = Desk().with_engine(6)
    assert desk.view.page == "plugs"
    assert desk.statuses() == ["empty"] * 6
    assert desk.view.header.title == "grey pickup"
    assert "rough when cold" in desk.view.header.complaint


def test_a_form_that_does_not_fit_says_so_and_stays():
    desk = Desk()
    desk.controller.describe_engine(entry(firing_order="nonsense"))
    assert desk.view.page == "start"
    assert "nonsense" in desk.view.start[1]


def test_photos_dropped_before_there_is_an_engine_wait_for_it():
    desk = Desk(a=photo("a.jpg", reading("wet")))
    desk.controller.add_photos([Path("a.jpg")])
    assert desk.view.start == (1, "")
    desk.with_engine(2)
    desk.runner.run_all()
    assert desk.labels() == ["wet", ""]


def test_photos_go_to_the_next_free_cylinders_in_order():
    desk = Desk(a=photo("a.jpg", reading("wet")), b=photo("b.jpg", reading("normal-tan"))).with_engine(3)
    desk.controller.add_photos([Path("a.jpg"), Path("b.jpg")])
    assert desk.statuses() == ["waiting", "waiting", "empty"]
    assert desk.view.header.progress == "Reading 2 photos"
    desk.runner.run(1)  # the second one comes back first
    desk.runner.run_all()
    assert desk.labels() == ["wet", "normal-tan", ""]


def test_a_photo_put_on_a_cylinder_replaces_what_is_there():
    desk = Desk(a=photo("a.jpg", reading("wet")), b=photo("b.jpg", reading("normal-tan"))).with_engine(2)
    desk.controller.add_photos([Path("a.jpg")], 2)
    desk.runner.run_all()
    desk.controller.add_photos([Path("b.jpg")], 2)
    desk.runner.run_all()
    assert desk.labels() == ["", "normal-tan"]


def test_an_answer_for_a_photo_that_was_replaced_meanwhile_is_dropped():
    desk = Desk(a=photo("a.jpg", reading("wet")), b=photo("b.jpg", reading("normal-tan"))).with_engine(2)
    desk.controller.add_photos([Path("a.jpg")], 1)
    desk.controller.add_photos([Path("b.jpg")], 1)
    desk.runner.run(1)
    assert desk.labels()[0] == "normal-tan"
    desk.runner.run_all()  # the older one comes late
    assert desk.labels()[0] == "normal-tan"


def test_an_answer_for_an_engine_that_was_left_is_dropped():
    desk = Desk(a=photo("a.jpg", reading("wet"))).with_engine(2)
    desk.controller.add_photos([Path("a.jpg")])
    desk.controller.new_engine()
    desk.with_engine(2)
    desk.runner.run_all()
    assert desk.statuses() == ["empty", "empty"]


def test_removing_a_cylinder_drops_its_photo_on_the_way():
    desk = Desk(a=photo("a.jpg", reading("wet"))).with_engine(2)
    desk.controller.add_photos([Path("a.jpg")], 1)
    desk.controller.remove(1)
    desk.runner.run_all()
    assert desk.statuses() == ["empty", "empty"]


@pytest.mark.parametrize(
    ("answer", "labels"),
    [
        ("forward", ["wet", "normal-tan", "oil-fouled", ""]),
        ("backward", ["oil-fouled", "normal-tan", "wet", ""]),
        ("leave-out", ["", "", "", ""]),
    ],
)
def test_a_row_of_plugs_asks_which_end_is_the_first_cylinder(answer, labels):
    desk = Desk(row=row_photo("row.jpg", "wet", "normal-tan", "oil-fouled")).with_engine(4)
    desk.controller.add_photos([Path("row.jpg")])
    desk.runner.run_all()
    assert "3 firing ends" in desk.view.question.text
    assert "cylinder 1" in desk.view.question.text
    desk.controller.answer_question(answer)
    assert desk.view.question is None
    assert desk.labels() == labels


def test_of_several_firing_ends_only_the_largest_may_count():
    ends = (reading("wet", box=(0, 0, 20, 20)), reading("rich-carbon", box=(50, 0, 150, 100)))
    desk = Desk(two=photo("two.jpg", *ends)).with_engine(4)
    desk.controller.add_photos([Path("two.jpg")], 3)
    desk.runner.run_all()
    desk.controller.answer_question("largest")
    assert desk.labels() == ["", "", "rich-carbon", ""]


def test_photos_behind_a_question_wait_for_its_answer():
    desk = Desk(row=row_photo("row.jpg", "wet", "wet"), one=photo("one.jpg", reading("lean-white"))).with_engine(3)
    desk.controller.add_photos([Path("row.jpg"), Path("one.jpg")])
    desk.runner.run_all()
    assert "lean-white" not in desk.labels()
    desk.controller.answer_question("forward")
    assert desk.labels() == ["wet", "wet", "lean-white"]


def test_what_waits_for_nobody_goes_past_an_open_question():
    desk = Desk(row=row_photo("row.jpg", "wet", "wet"), one=photo("one.jpg", reading("lean-white"))).with_engine(4)
    desk.controller.add_photos([Path("row.jpg")])
    desk.runner.run_all()
    assert desk.statuses() == ["asked", "asked", "empty", "empty"]
    desk.controller.add_photos([Path("one.jpg")], 4)
    desk.controller.add_photos([Path("broken.jpg")])
    desk.runner.run_all()
    assert desk.labels()[3] == "lean-white"
    assert "broken.jpg" in desk.view.notices[-1].text
    assert desk.view.question is not None


def test_two_rows_are_asked_about_one_after_the_other():
    desk = Desk(a=row_photo("a.jpg", "wet", "wet"), b=row_photo("b.jpg", "normal-tan", "lean-white")).with_engine(4)
    desk.controller.add_photos([Path("a.jpg")], 1)
    desk.controller.add_photos([Path("b.jpg")], 3)
    desk.runner.run_all()
    assert "a.jpg" in desk.view.question.text
    desk.controller.answer_question("forward")
    assert "b.jpg" in desk.view.question.text
    desk.controller.answer_question("backward")
    assert desk.labels() == ["wet", "wet", "lean-white", "normal-tan"]


def test_firing_ends_without_a_cylinder_are_told():
    desk = Desk(row=row_photo("row.jpg", "wet", "wet", "wet")).with_engine(2)
    desk.controller.add_photos([Path("row.jpg")])
    desk.runner.run_all()
    desk.controller.answer_question("forward")
    assert "1 firing end more" in desk.view.notices[-1].text
    assert desk.view.notices[-1].remedy


def test_a_file_that_is_no_photo_is_told_and_costs_no_reading():
    desk = Desk(a=photo("a.jpg", reading("wet"))).with_engine(2)
    desk.controller.add_photos([Path("a.jpg")], 1)
    desk.runner.run_all()
    desk.controller.add_photos([Path("broken.jpg")], 1)
    desk.runner.run_all()
    assert desk.labels()[0] == "wet"
    assert desk.view.notices[-1].text == "broken.jpg is empty (0 bytes)"
    assert desk.view.notices[-1].remedy == "copy it from the phone again"
    desk.controller.notices.put_away(desk.view.notices[-1].number)
    assert desk.view.notices == ()


def test_a_photo_without_a_firing_end_is_refused_on_its_card():
    desk = Desk(none=photo("none.jpg")).with_engine(2)
    desk.controller.add_photos([Path("none.jpg")])
    desk.runner.run_all()
    card = desk.view.cards[1]
    assert card.status == "refused"
    assert "firing end" in card.doubts[0].text
    assert card.doubts[0].remedy


def test_comparison_and_checks_come_once_everything_is_read():
    desk = Desk(a=photo("a.jpg", reading("wet")), b=photo("b.jpg", reading("normal-tan"))).with_engine(2)
    desk.controller.add_photos([Path("a.jpg"), Path("b.jpg")])
    desk.runner.run(0)
    assert desk.services.assessed == []
    desk.runner.run_all()
    assert len(desk.services.assessed) == 1
    assert desk.view.comparison.headline == "Cylinder 2 alone is black with dry soot."
    assert [s.rank for s in desk.view.follow_up.steps] == [1, 2]
    assert desk.view.cards[2].stands_out
    assert not desk.controller.busy


def test_an_older_assessment_that_comes_late_is_dropped():
    desk = Desk().with_engine(2)
    desk.controller.mark(1, "wet")
    desk.controller.mark(1, "lean-white")
    desk.runner.run(1)
    newest = desk.controller.session
    assert desk.services.assessed == [newest]
    shown = desk.view.follow_up
    desk.runner.run_all()
    assert desk.view.follow_up is shown


def test_a_label_by_hand_goes_before_the_photo_and_can_be_taken_back():
    desk = Desk(a=photo("a.jpg", reading("wet"))).with_engine(2)
    desk.controller.add_photos([Path("a.jpg")])
    desk.runner.run_all()
    desk.controller.mark(1, "oil-fouled")
    assert (desk.view.cards[1].status, desk.view.cards[1].label) == ("marked", "oil-fouled")
    assert desk.view.cards[1].probability is None
    desk.controller.mark(1, None)
    assert (desk.view.cards[1].status, desk.view.cards[1].label) == ("read", "wet")
    desk.controller.mark(2, None)
    assert desk.view.cards[2].status == "empty"


def test_an_outcome_is_written_down_ranked_again_and_undone():
    desk = Desk().with_engine(2)
    desk.controller.mark(1, "wet")
    desk.runner.run_all()
    step = desk.view.follow_up.steps[0]
    desk.controller.record_outcome(step, step.outcomes[0])
    desk.runner.run_all()
    assert [s.id for s in desk.view.follow_up.steps] == ["compression-dry"]
    assert desk.view.follow_up.done[0].words == "Compare what the injectors deliver, cylinder 2: All alike"
    assert "injectors" in desk.view.header.undo_words
    desk.controller.undo()
    desk.runner.run_all()
    assert [s.id for s in desk.view.follow_up.steps] == ["injector-balance", "compression-dry"]
    assert desk.view.follow_up.done == ()


def test_doing_a_check_again_at_the_same_place_replaces_its_outcome():
    desk = Desk().with_engine(2)
    desk.controller.mark(1, "wet")
    desk.runner.run_all()
    step = desk.view.follow_up.steps[0]
    desk.controller.record_outcome(step, step.outcomes[0])
    desk.controller.record_outcome(step, OutcomeState("less", "One less"))
    assert [c.outcome for c in desk.controller.session.checks] == ["less"]


def test_undo_goes_back_through_photos_labels_and_removals():
    desk = Desk(a=photo("a.jpg", reading("wet"))).with_engine(2)
    desk.controller.add_photos([Path("a.jpg")])
    desk.runner.run_all()
    desk.controller.mark(1, "lean-white")
    desk.controller.remove(1)
    assert desk.labels()[0] == ""
    for expected in ("lean-white", "wet", ""):
        desk.controller.undo()
        assert desk.labels()[0] == expected
    desk.controller.undo()  # nothing left to undo: nothing happens
    assert desk.view.header.undo_words == ""


def test_complaint_and_symptoms_are_written_down():
    desk = Desk().with_engine(2)
    desk.controller.set_complaint("smokes", ["black-smoke"], RunBefore("idled", 20.0))
    assert desk.view.header.complaint == "smokes"
    assert desk.view.header.symptoms == "black smoke"
    assert desk.controller.session.symptoms == {"black-smoke": True}
    assert desk.controller.session.run == RunBefore("idled", 20.0)
    desk.controller.set_complaint("smokes", ["black-smoke"], RunBefore("idled", 20.0))
    desk.controller.undo()  # writing down the same again was no change
    assert desk.view.header.complaint == "rough when cold"


def test_a_symptom_asked_for_and_absent_stays_so():
    desk = Desk()
    desk.services.case = case_of_four(symptoms={"black-smoke": False, "rough-idle": True})
    desk.controller.open_case(Path("c.toml"))
    desk.runner.run_all()
    desk.controller.set_complaint("rough when cold", [], RunBefore())
    assert desk.controller.session.symptoms == {"black-smoke": False}


def test_opening_a_case_reads_its_photos_onto_their_cylinders():
    desk = Desk(row=row_photo("row.jpg", "wet", "normal-tan"), one=photo("one.jpg", refused()))
    desk.services.case = case_of_four(PlacedPhoto(Path("row.jpg"), (4, 3)), PlacedPhoto(Path("one.jpg"), (1,)))
    desk.controller.open_case(Path("c.toml"))
    desk.runner.run(0)
    assert desk.statuses() == ["waiting", "empty", "waiting", "waiting"]
    desk.runner.run_all()
    assert desk.labels() == ["unreadable", "", "normal-tan", "wet"]
    assert desk.view.question is None
    assert not desk.controller.unsaved
    assert desk.view.header.undo_words == ""


def test_a_row_that_does_not_match_its_case_is_not_guessed_at():
    desk = Desk(row=row_photo("row.jpg", "wet", "normal-tan"))
    desk.services.case = case_of_four(PlacedPhoto(Path("row.jpg"), (1, 2, 3)))
    desk.controller.open_case(Path("c.toml"))
    desk.runner.run_all()
    assert desk.statuses() == ["refused", "refused", "refused", "empty"]
    assert "2 firing ends were found" in desk.view.cards[1].doubts[0].text
    assert desk.view.cards[1].picture is None


def test_a_case_photo_that_cannot_be_read_is_refused_on_its_card():
    desk = Desk()
    desk.services.case = case_of_four(PlacedPhoto(Path("gone.jpg"), (2,)))
    desk.controller.open_case(Path("c.toml"))
    desk.runner.run_all()
    assert desk.view.cards[2].status == "refused"
    assert desk.view.cards[2].doubts[0].text == "gone.jpg is empty (0 bytes)."


def test_a_case_that_cannot_be_opened_leaves_the_engine_in_hand():
    desk = Desk().with_engine(3)
    desk.controller.open_case(Path("bad.toml"))
    desk.runner.run_all()
    assert len(desk.view.cards) == 3
    assert desk.view.page == "plugs"
    assert "line 3" in desk.view.notices[-1].text


def test_of_two_cases_opened_at_once_the_last_one_counts():
    desk = Desk()
    desk.services.case = case_of_four()
    desk.controller.open_case(Path("first.toml"))
    desk.controller.open_case(Path("second.toml"))
    desk.runner.run(1)
    opened = desk.controller.session
    desk.runner.run_all()
    assert desk.controller.session is opened


def test_saving_a_case_settles_that_nothing_would_be_lost():
    desk = Desk().with_engine(2)
    assert desk.controller.unsaved
    desk.controller.save_case(Path("c.toml"))
    desk.runner.run_all()
    assert desk.services.saved_cases[0][1] == Path("c.toml")
    assert not desk.controller.unsaved
    desk.controller.mark(1, "wet")
    assert desk.controller.unsaved


def test_a_report_waits_for_the_assessment_under_way():
    desk = Desk().with_engine(2)
    desk.controller.mark(1, "wet")
    desk.controller.save_report(Path("r.pdf"))
    assert desk.services.saved_reports == []
    desk.runner.run_all()
    assert desk.services.saved_reports == [Path("r.pdf")]
    assert "r.pdf" in desk.view.notices[-1].text


def test_a_report_on_nothing_is_refused_in_words():
    desk = Desk().with_engine(2)
    desk.controller.save_report(Path("r.pdf"))
    desk.runner.run_all()
    assert desk.services.saved_reports == []
    assert desk.view.notices[-1].remedy == "Add photos of the plugs first"


def test_a_mistake_of_the_program_is_told_as_one(monkeypatch):
    desk = Desk().with_engine(2)

    def broken(session):
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(desk.services, "assess", broken)
    desk.controller.mark(1, "wet")
    desk.runner.run_all()
    assert "mistake of its own (ZeroDivisionError: division by zero)" in desk.view.notices[-1].text
    assert desk.view.follow_up.steps == ()
