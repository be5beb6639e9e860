"""Jobs in the real window on a real store: kept, listed, written on, set side by side, watched."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from firingend_gui.appearance import TOUCH
from firingend_gui.jobwork.shelf import Opening, StoreShelf
from firingend_gui.parts.jobs_page import JobsPage
from firingend_gui.parts.keep_job import KeepJobWindow
from firingend_gui.parts.key_list import KeyList
from firingend_gui.parts.write_down import NOT_MEASURED, WriteDownWindow, places
from gui_fakes import case_of_four, photo, reading
from PIL import Image
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QWidget
from test_window import unnamed
from window_helpers import Answers, make_window, rest

from firingend.bench.measurement import Measurement
from firingend.engine.build import build_engine
from firingend.jobs import watch
from firingend.jobs.card import to_json
from firingend.jobs.location import Location
from firingend.jobs.store import Store


def picture(folder: Path, name: str, shade: int) -> Path:
    file = folder / name
    pixels = np.random.default_rng(shade).integers(0, 256, (64, 96, 3), dtype=np.uint8)
    Image.fromarray(pixels).save(file)
    return file


@pytest.fixture
def services(services, tmp_path):
    services.photos = {name: photo(name, reading(label)) for name, label in (("a.png", "wet"), ("b.png", "normal-tan"))}
    services.case = case_of_four()
    return services


def open_one(window, kind):
    (found,) = [w for w in window.findChildren(kind) if w.isVisible()]
    return found


@pytest.fixture
def kept(qtbot, window):
    """The window with the in-line four kept as a job."""
    window.controller.open_case(Path("c.toml"))
    rest(qtbot, window)
    window.header._keep.click()
    asked = open_one(window, KeepJobWindow)
    asked.customer.setText("yard 4")
    asked.mark.setText("INV-7")
    asked.initials.setText("ab")
    qtbot.keyClick(asked.mark, Qt.Key.Key_Return)
    rest(qtbot, window)
    window.controller.notices.clear()
    return window


def card(shelf):
    return shelf.store.job(1).card


def test_an_engine_is_kept_as_a_job_and_found_in_the_list(qtbot, kept, shelf):
    assert (card(shelf).customer, card(shelf).mark) == ("yard 4", "INV-7")
    assert shelf.store.history(1)[0].who == "ab"
    assert "Job 1 · yard 4 · INV-7" in kept.header._engine.text()
    assert not kept.header._keep.isVisible()
    kept.new_engine()
    assert kept.start_page.isVisible()
    kept.job_links.show_jobs()
    rest(qtbot, kept)
    page = kept.jobs_page
    assert page.isVisible()
    assert [page.table.item(0, i).text() for i in (0, 2, 5)] == ["1", "open", "yard 4"]
    page.words.setText("nobody")
    page.search_now()
    rest(qtbot, kept)
    assert page.table.rowCount() == 0
    assert page._hint.text() == "No job matches."
    page.words.setText("yar")
    page.search_now()
    rest(qtbot, kept)
    qtbot.keyClick(page.table, Qt.Key.Key_Return)
    rest(qtbot, kept)
    assert kept.controller.keeper.job.number == 1
    assert kept.plugs_page.isVisible()


def test_typing_searches_by_itself(qtbot, kept, shelf):
    kept.job_links.show_jobs()
    rest(qtbot, kept)
    with qtbot.waitSignal(kept.jobs_page.searched):
        qtbot.keyClicks(kept.jobs_page.words, "for")
    qtbot.waitUntil(lambda: kept.jobs_page.table.rowCount() == 0)
    qtbot.keyClick(kept.jobs_page.words, Qt.Key.Key_Escape)
    assert kept.plugs_page.isVisible()


def test_older_jobs_come_page_by_page(qtbot, window, shelf):
    engine = build_engine(1, name="mower")
    for number in range(60):
        shelf.store.new_job({"name": f"job {number}", "engine": to_json("engine", engine)})
    window.job_links.show_jobs()
    rest(qtbot, window)
    assert window.jobs_page.table.rowCount() == 50
    assert window.jobs_page._older.isEnabled()
    window.jobs_page._older.click()
    rest(qtbot, window)
    assert window.jobs_page.table.rowCount() == 60
    assert not window.jobs_page._older.isEnabled()


def test_status_and_stage_are_chosen_at_the_top(qtbot, kept, shelf):
    kept.header._status_actions["waiting"].trigger()
    rest(qtbot, kept)
    assert card(shelf).status == "waiting"
    assert kept.header._status.text() == "Status: waiting"
    kept.header._stage_actions["after"].trigger()
    rest(qtbot, kept)
    assert kept.header._stage.text() == "Plugs: after repair"
    kept.header._undo.click()
    rest(qtbot, kept)
    assert card(shelf).status == "open"
    assert kept.header._stage.text() == "Plugs: after repair"


def test_a_note_a_measurement_a_cause_and_time_are_written_in_one_go(qtbot, kept, shelf):
    kept.controller.mark(1, "wet")
    rest(qtbot, kept)
    kept.job_links.write_down()
    asked = open_one(kept, WriteDownWindow)
    asked.note.setPlainText("lead 3 chafed")
    asked.what.setCurrentIndex(asked.what.findData("compression-dry"))
    asked.where.setCurrentIndex(2)
    asked.value.setText("lots")
    asked.unit.setCurrentText("bar")
    asked.done.click()
    rest(qtbot, kept)
    assert '"lots" is no number' in asked._problem.text()
    assert card(shelf).notes == {}
    asked.value.setText("9,5")
    asked.cause.setCurrentIndex(1)
    asked.cause.activated.emit(1)
    asked.minutes.setValue(40)
    asked.work.setText("looking")
    asked.part.setText("coil")
    asked.cost.setValue(31.5)
    asked.fixed.setText("coil B renewed")
    asked.done.click()
    rest(qtbot, kept)
    now = card(shelf)
    assert [note.text for note in now.notes.values()] == ["lead 3 chafed"]
    assert list(now.measurements.values()) == [Measurement("compression-dry", "cylinder 2", 9.5, "bar")]
    assert [(c.cause, c.where) for c in now.found.values()] == [("weak-coil", "coil B")]
    assert (now.fixed, now.minutes) == ("coil B renewed", 40)
    assert [part.cost_minor for part in now.parts.values()] == [3150]
    assert shelf.store.history(1)[-1].what == "written down: note, measurement, found, time, part, repair"
    said = [line.words for line in kept.follow_up._state.card]
    assert "Compression dry, cylinder 2: 9.5 bar" in said
    assert "Found: Weak coil (coil B)" in said
    assert not [w for w in kept.findChildren(WriteDownWindow) if w.isVisible()]


def test_nothing_to_write_down_is_said(qtbot, kept):
    kept.job_links.write_down()
    asked = open_one(kept, WriteDownWindow)
    assert asked.what.currentData() == NOT_MEASURED
    asked.done.click()
    rest(qtbot, kept)
    assert "nothing to write down" in asked._problem.text()
    asked.close()


def test_before_and_after_stand_side_by_side(qtbot, kept, tmp_path):
    kept.controller.add_photos([picture(tmp_path, "a.png", 1)], 1)
    rest(qtbot, kept)
    kept.controller.keeper.choose_stage("after")
    rest(qtbot, kept)
    kept.controller.add_photos([picture(tmp_path, "b.png", 2)], 1)
    rest(qtbot, kept)
    kept.header._over_time.click()
    rest(qtbot, kept)
    page = kept.over_time
    assert page.isVisible()
    (pair,) = page.pairs
    assert pair.accessibleDescription() == "Cylinder 1: Before repair: Wet; After repair: Normal, tan"
    assert all(shown.has_picture for shown in page._pictures)
    page.back_button.click()
    assert kept.plugs_page.isVisible()


def test_photos_that_come_into_the_watched_folder_are_offered_in_capture_order(
    qtbot, kept, tmp_path, shelf, monkeypatch
):
    folder = tmp_path / "phone"
    folder.mkdir()
    old = picture(folder, "a.png", 9)
    os.utime(old, (1_600_000_000, 1_600_000_000))  # of years ago
    kept.ask = Answers(file=folder)
    kept.job_links.watch()
    watcher = kept.controller.desk.watcher
    qtbot.waitUntil(lambda: not watcher._looking)
    assert not kept.offer.isVisible()
    written = kept.controller.keeper.job.opened_at.timestamp()
    for name, shade, age in (("b.png", 3, 1), ("a.png", 4, 2)):
        inside = folder / f"sync-{shade}"
        inside.mkdir()
        file = picture(inside, name, shade)
        # Arrived in full a while ago, and taken in the other order than their names.
        os.utime(file, (written + 100 - age, written + 100 - age))
    monkeypatch.setattr(watch.time, "time", lambda: written + 1000)
    watcher.look()
    qtbot.waitUntil(kept.offer.isVisible)
    monkeypatch.undo()
    assert "2 photos came" in kept.offer._text.text()
    assert [each.file.name for each in watcher._offered] == ["a.png", "b.png"]
    kept.offer.add.click()
    rest(qtbot, kept)
    assert not kept.offer.isVisible()
    labels = [state.state.label for state in kept.row.cards.values()]
    assert labels == ["wet", "normal-tan", "", ""]
    assert len(card(shelf).photos) == 2


def test_a_change_from_another_program_shows_up(qtbot, kept, shelf):
    shelf.store.change(shelf.store.job(1), {"complaint": "smokes now"}, "cd", "complaint")
    kept.controller.desk.look()
    qtbot.waitUntil(lambda: "smokes now" in kept.header._complaint.text())
    assert kept.notices.isVisible()


def test_a_clash_is_asked_about_in_the_window(qtbot, kept, shelf):
    shelf.store.change(shelf.store.job(1), {"complaint": "smokes now"}, "cd", "complaint")
    kept.controller.set_complaint("knocks", [], kept.controller.session.run)
    rest(qtbot, kept)
    assert kept.choice.isVisible()
    assert "complaint, by cd" in kept.choice.accessibleDescription()
    kept.choice.buttons["theirs"].click()
    rest(qtbot, kept)
    assert not kept.choice.isVisible()
    assert "smokes now" in kept.header._complaint.text()


def test_closing_waits_for_what_is_being_written(qtbot, services, settings, tmp_path):
    shelf = StoreShelf(lambda: Store(Location(tmp_path / "data"), backups=False))
    window = make_window(qtbot, services, settings, shelf=shelf)
    window.controller.open_case(Path("c.toml"))
    rest(qtbot, window)
    window.controller.keep_as_job(Opening())
    rest(qtbot, window)
    window.controller.mark(3, "wet")
    window.close()
    qtbot.waitUntil(lambda: not window.isVisible())
    assert [typed.cylinder for typed in card(shelf).typed.values()] == [3]
    qtbot.waitUntil(lambda: window.runner.idle)
    shelf.close()


def test_initials_are_remembered(qtbot, settings, kept):
    again = JobsPage(settings)
    qtbot.addWidget(again)
    assert again.initials.text() == "ab"


def test_places_of_an_engine_are_its_cylinders_and_what_they_share():
    named = places(build_engine(4, layout="flat", ignition="wasted-spark", firing_order=(1, 3, 2, 4)))
    assert named[:2] == ("engine", "cylinder 1")
    assert "coil A" in named
    assert len(named) == len(set(named))


def test_the_list_of_keys_fits_a_small_screen(qtbot):
    holder = QWidget()
    qtbot.addWidget(holder)
    listed = KeyList(holder)
    assert listed.sizeHint().height() <= 700
    listed.close()


def test_leaving_waits_for_what_is_being_written(qtbot, kept, shelf):
    kept.controller.mark(2, "wet")
    kept.new_engine()
    qtbot.waitUntil(kept.start_page.isVisible)
    assert kept.ask.asked == []
    assert [typed.cylinder for typed in card(shelf).typed.values()] == [2]


def test_every_control_for_jobs_has_a_name_and_fits_a_glove(qtbot, kept):
    kept.job_links.write_down()
    kept.controller.desk.show_over_time()
    rest(qtbot, kept)
    kept.job_links.show_jobs()
    rest(qtbot, kept)
    session = kept.controller.session
    keep = KeepJobWindow(kept, session, "ab")
    keep.show()
    tops = [kept, keep, open_one(kept, WriteDownWindow)]
    assert [w for top in tops for w in unnamed(top)] == []
    buttons = [b for top in tops for b in top.findChildren(QAbstractButton) if not b.objectName().startswith("qt_")]
    assert [b.text() for b in buttons if b.isVisible() and b.height() < TOUCH] == []
    for top in tops[1:]:
        top.close()
