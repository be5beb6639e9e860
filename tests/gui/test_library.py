"""The real library behind the viewer: decoding, engines, comparison, diagnosis, files."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from firingend_gui.casework import case_of
from firingend_gui.library import Library
from firingend_gui.session import Plug, RecordedCheck, Session
from gui_fakes import entry, four, photo, reading
from PIL import Image

from firingend.errors import CaseError, PhotoError, UserError


@pytest.fixture
def halves(tmp_path) -> Path:
    """A photograph whose left half is red and right half blue."""
    pixels = np.zeros((400, 800, 3), np.uint8)
    pixels[:, :400, 0] = 200
    pixels[:, 400:, 2] = 200
    file = tmp_path / "halves.png"
    Image.fromarray(pixels).save(file)
    return file


def sooty() -> Session:
    """Four plugs of which the second is sooty."""
    session = Session(four(), "rough when cold")
    for cylinder in (1, 2, 3, 4):
        label = "rich-carbon" if cylinder == 2 else "normal-tan"
        session = session.with_plug(cylinder, Plug(photo(f"{cylinder}.jpg", reading(label, 0.95)), 0))
    return session


def test_a_box_of_a_photo_is_cut_out(halves):
    pixels = Library().pixels(halves, (500, 100, 700, 300), 100)
    assert pixels.shape == (100, 100, 3)
    assert pixels[50, 50].tolist() == pytest.approx([0, 0, 200], abs=3)


def test_a_box_over_the_edge_is_moved_into_the_photo(halves):
    pixels = Library().pixels(halves, (-50, -50, 150, 150), 200)
    assert pixels.shape == (200, 200, 3)
    assert pixels[0, 0].tolist() == pytest.approx([200, 0, 0], abs=3)


def test_a_whole_photo_is_shrunk_and_keeps_its_shape(halves):
    assert Library().pixels(halves, None, 200).shape == (100, 200, 3)


def test_a_file_that_is_no_photo_is_an_error_with_a_remedy(tmp_path):
    file = tmp_path / "note.jpg"
    file.write_text("not a photo")
    with pytest.raises(PhotoError) as caught:
        Library().pixels(file, None, 200)
    assert caught.value.remedy


def test_the_form_becomes_an_engine():
    engine = Library().build_engine(entry(ignition="wasted-spark", firing_order="1-3-4-2"))
    assert [p.name for p in engine.shared if p.kind == "coil"] == ["coil A", "coil B"]


@pytest.mark.parametrize("order", ["1-3-4", "1-3-4-two", "1-1-2-3"])
def test_a_firing_order_that_cannot_be_is_refused(order):
    with pytest.raises(UserError):
        Library().build_engine(entry(firing_order=order))


def test_symptoms_have_ids_and_words():
    found = Library().symptoms()
    assert len(found) > 10
    assert all(choice.id and choice.words for choice in found)


def test_one_sooty_plug_is_seen_and_followed_up():
    answer = Library().assess(sooty())
    assert (answer.comparison.pattern, answer.comparison.cylinders) == ("one-odd", (2,))
    assert answer.diagnosis.next
    steps = [step for step in answer.diagnosis.next if step.kind != "hand-over"]
    assert steps
    assert all(len(answer.outcomes[step.id]) >= 2 for step in steps)


def test_a_repair_tried_in_vain_makes_its_cause_less_likely():
    library = Library()
    before = library.assess(sooty())
    step = next(step for step in before.diagnosis.next if step.kind == "repair")
    assert [choice.id for choice in before.outcomes[step.id]] == ["cured", "better", "no-change"]
    tried = RecordedCheck(step.id, step.name, step.where, "no-change", "no change")
    after = library.assess(sooty().with_check(tried))
    cause = step.id.removeprefix("repair:")
    chance = [{(c.id, c.where): c.probability for c in a.diagnosis.causes} for a in (before, after)]
    assert chance[1].get((cause, step.where), 0.0) < chance[0][cause, step.where]


def test_a_recorded_outcome_changes_what_is_likely():
    library = Library()
    before = library.assess(sooty())
    step = before.diagnosis.next[0]
    found = [o for o in before.outcomes[step.id]][-1]
    check = RecordedCheck(step.id, step.name, step.where, found.id, found.words)
    after = library.assess(sooty().with_check(check))
    likely = [[(c.id, round(c.probability, 3)) for c in a.diagnosis.causes[:5]] for a in (before, after)]
    assert likely[0] != likely[1]


def test_a_saved_case_opens_again(tmp_path, halves):
    library = Library()
    session = Session(four(), "rough when cold", {}).with_mark(1, "wet")
    session = session.with_plug(2, Plug(photo(str(halves), reading("wet")), 0))
    library.save_case(session, tmp_path / "c.toml")
    opened = library.open_case(tmp_path / "c.toml")
    assert opened.session.plugs[1].mark == "wet"
    assert [(p.file.name, p.cylinders) for p in opened.photos] == [("halves.png", (2,))]
    assert case_of(opened.session).engine == session.engine
    assert opened.session.complaint == "rough when cold"


def test_a_case_that_is_wrong_names_its_line(tmp_path):
    file = tmp_path / "c.toml"
    file.write_text("[engine]\ncylinders = 4\nlayout = 'star'\n")
    with pytest.raises(CaseError, match="line 3"):
        Library().open_case(file)


@pytest.mark.parametrize("name", ["r.html", "r.PDF"])
def test_a_report_is_written_as_its_name_says(tmp_path, name):
    library = Library()
    session = Session(four()).with_mark(1, "wet").with_mark(2, "wet").with_mark(3, "wet").with_mark(4, "wet")
    library.save_report(session, library.assess(session), tmp_path / name)
    start = (tmp_path / name).read_bytes()[:64].lower()
    assert start.startswith(b"%pdf" if name.endswith("PDF") else b"<!doctype html")


def test_a_report_of_another_kind_is_refused(tmp_path):
    library = Library()
    with pytest.raises(UserError, match="neither HTML nor PDF"):
        library.save_report(sooty(), library.assess(sooty()), tmp_path / "r.docx")
