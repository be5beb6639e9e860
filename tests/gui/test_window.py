"""The real window on a fake library: dropping, keys, names, messages, leaving."""

from __future__ import annotations

from pathlib import Path

import pytest
from firingend_gui.appearance import TOUCH, Appearance
from firingend_gui.keys import KEYS, Intention
from firingend_gui.parts.complaint import ComplaintWindow
from firingend_gui.parts.key_list import KeyList
from firingend_gui.parts.marks import ProbabilityBar
from firingend_gui.parts.photo_window import PhotoWindow
from firingend_gui.parts.picture import PictureButton
from firingend_gui.parts.plain import Panel
from firingend_gui.services import PlacedPhoto
from gui_fakes import case_of_four, photo, reading, row_photo
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QLineEdit,
    QProgressBar,
    QScrollArea,
    QWidget,
)
from window_helpers import Answers, drop, make_window, rest

from firingend.diagnosis.evidence import RunBefore

CONTROLS = (
    QAbstractButton,
    QLineEdit,
    QComboBox,
    QAbstractSpinBox,
    QProgressBar,
    QScrollArea,
    PictureButton,
    ProbabilityBar,
    Panel,
)


@pytest.fixture
def services(services):
    services.photos = {
        "a.jpg": photo("a.jpg", reading("normal-tan")),
        "b.jpg": photo("b.jpg", reading("rich-carbon")),
        "row.jpg": row_photo("row.jpg", "wet", "normal-tan", "wet", "normal-tan"),
    }
    services.case = case_of_four(PlacedPhoto(Path("a.jpg"), (1,)), PlacedPhoto(Path("b.jpg"), (2,)))
    return services


@pytest.fixture
def opened(qtbot, window):
    """The window with the in-line four: two photos read, two cylinders empty."""
    window.controller.open_case(Path("c.toml"))
    rest(qtbot, window)
    return window


def labels(window) -> list[str]:
    return [card.state.label for card in window.row.cards.values()]


def open_one(window, kind):
    """The one window of this kind that is open."""
    (found,) = [w for w in window.findChildren(kind) if w.isVisible()]
    return found


def press(qtbot, widget, key, modifier=Qt.KeyboardModifier.NoModifier):
    qtbot.keyClick(widget, key, modifier)


# Names and sizes


def unnamed(top: QWidget) -> list[QWidget]:
    inside = [w for w in top.findChildren(QWidget) if isinstance(w, CONTROLS)]
    # Qt builds some fields from smaller ones of its own, which the field's name covers.
    own = [w for w in inside if w.objectName().startswith("qt_") is False]
    return [w for w in own if not w.accessibleName()]


def test_every_control_has_a_name(opened):
    opened.open_photo(1)
    opened.edit_complaint()
    KeyList(opened).show()
    opened.controller.add_photos([Path("missing.jpg")])
    tops = [opened, *(w for w in QApplication.topLevelWidgets() if w.isVisible() and w is not opened)]
    assert len(tops) >= 4
    assert [w for top in tops for w in unnamed(top)] == []
    for top in tops[1:]:
        top.close()


def test_everything_to_press_is_large_enough_for_a_glove(opened):
    buttons = [b for b in opened.findChildren(QAbstractButton) if not b.objectName().startswith("qt_")]
    assert len(buttons) > 15
    assert [b.text() for b in buttons if b.isVisible() and b.height() < TOUCH] == []


def test_cards_say_in_words_what_their_marks_say_in_colour(opened):
    spoken = opened.row.cards[2].picture.accessibleDescription()
    assert spoken.startswith("Cylinder 2: Rich, carbon")
    assert "stands out" in spoken
    assert "Alt+2" in spoken


def test_buddies_lead_to_their_fields(window):
    form = window.start_page._form
    for line in range(form.rowCount()):
        label = form.itemAt(line, form.ItemRole.LabelRole).widget()
        field = form.itemAt(line, form.ItemRole.FieldRole).widget()
        assert label.buddy() in (field, *field.findChildren(QWidget))
        assert "&" in label.text()


def test_every_intention_is_in_a_menu_with_its_key(window):
    for intention in Intention:
        action = window.findChild(QAction, intention.name)
        assert action is not None
        assert KEYS[intention] in [k.toString() for k in action.shortcuts()]


# Photos


def test_photos_dropped_on_the_window_fill_free_cylinders(qtbot, opened):
    drop(opened, "b.jpg", "a.jpg")
    rest(qtbot, opened)
    assert labels(opened) == ["normal-tan", "rich-carbon", "rich-carbon", "normal-tan"]


def test_a_photo_dropped_on_a_card_goes_to_that_cylinder(qtbot, opened):
    drop(opened.row.cards[4], "a.jpg")
    rest(qtbot, opened)
    assert labels(opened) == ["normal-tan", "rich-carbon", "", "normal-tan"]


def test_a_dropped_case_is_opened(qtbot, window):
    drop(window, "c.toml")
    rest(qtbot, window)
    assert len(window.row.cards) == 4


def test_a_row_asks_in_the_window_and_is_answered_by_key(qtbot, opened):
    drop(opened.row.cards[1], "row.jpg")
    rest(qtbot, opened)
    assert opened.question.isVisible()
    first = next(iter(opened.question.buttons.values()))
    assert opened.focusWidget() is first
    press(qtbot, opened.question.buttons["backward"], Qt.Key.Key_Space)
    rest(qtbot, opened)
    assert not opened.question.isVisible()
    assert labels(opened) == ["normal-tan", "wet", "normal-tan", "wet"]


def test_photos_chosen_by_dialog_go_where_the_button_says(qtbot, opened):
    opened.ask = Answers(files=[Path("b.jpg")])
    opened.row.cards[3]._photo_button.click()
    rest(qtbot, opened)
    assert labels(opened)[2] == "rich-carbon"
    opened.header._photos.click()
    rest(qtbot, opened)
    assert labels(opened)[3] == "rich-carbon"


def test_a_file_that_is_no_photo_is_told_in_the_window(qtbot, opened):
    drop(opened.row.cards[1], "broken.jpg")
    rest(qtbot, opened)
    assert opened.notices.isVisible()
    assert labels(opened)[0] == "normal-tan"
    opened.notices.first.click()
    assert not opened.notices.isVisible()


# Keys alone


def test_an_engine_is_described_by_keys_alone(qtbot, window):
    assert window.focusWidget() is window.start_page.name
    qtbot.keyClicks(window.start_page.name, "grey pickup")
    press(qtbot, window.start_page.name, Qt.Key.Key_Return)
    rest(qtbot, window)
    assert window.pages.currentIndex() == 1
    assert len(window.row.cards) == 4


def test_cards_are_walked_labelled_and_emptied_by_keys(qtbot, opened):
    press(qtbot, opened, Qt.Key.Key_2, Qt.KeyboardModifier.AltModifier)
    second = opened.row.cards[2].picture
    assert second.hasFocus()
    press(qtbot, second, Qt.Key.Key_Right)
    assert opened.row.cards[3].picture.hasFocus()
    press(qtbot, opened.row.cards[3].picture, Qt.Key.Key_Left)
    press(qtbot, second, Qt.Key.Key_Delete)
    rest(qtbot, opened)
    assert labels(opened)[1] == ""
    press(qtbot, opened, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    rest(qtbot, opened)
    assert labels(opened)[1] == "rich-carbon"


def test_return_opens_the_whole_photo_and_escape_closes_it(qtbot, opened):
    press(qtbot, opened.row.cards[1].picture, Qt.Key.Key_Return)
    whole = open_one(opened, PhotoWindow)
    qtbot.waitUntil(lambda: whole.view.outlines == 1)
    before = whole.view.transform().m11()
    press(qtbot, whole, Qt.Key.Key_Plus)
    assert whole.view.transform().m11() > before
    press(qtbot, whole, Qt.Key.Key_Escape)
    assert not [w for w in opened.findChildren(PhotoWindow) if w.isVisible()]


def test_return_on_an_empty_cylinder_asks_for_a_photo(qtbot, opened):
    press(qtbot, opened.row.cards[3].picture, Qt.Key.Key_Return)
    assert opened.ask.asked == ["photos"]


def test_a_label_is_given_by_hand_from_the_menu(qtbot, opened):
    opened.row.cards[3]._label_actions["oil-fouled"].trigger()
    rest(qtbot, opened)
    assert labels(opened)[2] == "oil-fouled"
    assert opened.row.cards[3]._percent.text() == "by hand"


def test_regions_are_walked_in_a_ring(qtbot, opened):
    seen = []
    for _ in range(8):
        opened.move_region(1)
        seen.append(opened.focusWidget())
    assert len(set(seen)) == 4  # header, plugs, sentence, checks
    assert seen[:4] == seen[4:]
    opened.move_region(-1)
    assert opened.focusWidget() is seen[2]


# Checks


def test_cautions_are_in_sight_before_and_beside_the_work(opened):
    for card in opened.follow_up.step_cards:
        shown = [w for w in card.findChildren(QWidget) if w.isVisible() and hasattr(w, "text")]
        texts = [w.text() for w in shown]
        for caution in card.state.cautions:
            assert caution in texts


def test_an_outcome_is_recorded_by_key_and_the_rest_is_ranked_again(qtbot, opened):
    first = opened.follow_up.step_cards[0]
    first.outcome_buttons[1].setFocus()
    press(qtbot, first.outcome_buttons[1], Qt.Key.Key_Space)
    rest(qtbot, opened)
    assert [c.state.id for c in opened.follow_up.step_cards] == ["compression-dry"]
    assert opened.controller.session.checks[0].outcome == "more"
    again = opened.follow_up.step_cards[0]
    assert again.toggle.hasFocus()
    qtbot.waitUntil(lambda: not again.toggle.visibleRegion().isEmpty())


def test_a_check_opens_and_closes(qtbot, opened):
    second = opened.follow_up.step_cards[1]
    assert not second.outcome_buttons[0].isVisible()
    press(qtbot, second.toggle, Qt.Key.Key_Space)
    assert second.outcome_buttons[0].isVisible()
    press(qtbot, second.toggle, Qt.Key.Key_Space)
    assert not second.outcome_buttons[0].isVisible()


def test_symptoms_are_ticked_in_a_window_of_their_own(qtbot, opened):
    opened.header._edit.click()
    asked = open_one(opened, ComplaintWindow)
    asked.boxes["black-smoke"].click()
    asked.how.setCurrentIndex(asked.how.findData("idled"))
    asked.minutes.setValue(30)
    press(qtbot, asked.complaint, Qt.Key.Key_Return)
    assert opened.controller.session.run == RunBefore("idled", 30.0)
    assert opened.controller.session.symptoms == {"black-smoke": True}


# Files and leaving


def test_report_and_case_are_saved_where_one_says(qtbot, opened, services, tmp_path):
    opened.ask = Answers(file=tmp_path / "r.html")
    opened.header._report.click()
    rest(qtbot, opened)
    assert services.saved_reports == [tmp_path / "r.html"]
    opened.ask = Answers(file=tmp_path / "c.toml")
    assert opened.save_case()
    rest(qtbot, opened)
    assert services.saved_cases[0][1] == tmp_path / "c.toml"
    assert opened.notices.isVisible()


def test_leaving_asks_only_when_something_would_be_lost(qtbot, opened):
    opened.ask = Answers(leave=False)
    opened.new_engine()  # nothing changed since it was opened
    assert opened.ask.asked == []
    opened.start_page._describe()
    opened.close()
    assert opened.ask.asked == ["leave"]
    assert opened.isVisible()


def test_closing_while_photos_are_read_leaves_no_thread(qtbot, services, settings):
    window = make_window(qtbot, services, settings)
    window.start_page._describe()
    window.controller.add_photos([Path("a.jpg"), Path("b.jpg")])
    window.close()
    assert window.runner.idle
    QApplication.processEvents()
    assert labels(window) == ["", "", "", ""]


# Look


def test_appearance_and_text_size_apply_at_once_and_are_remembered(qtbot, opened, settings):
    app = QApplication.instance()
    opened.look.choose(Appearance.DARK)
    assert app.palette().window().color().lightness() < 100
    opened.look.choose(Appearance.LIGHT)
    assert app.palette().window().color().lightness() > 200
    assert settings.value("look/appearance") == "LIGHT"
    opened.look.choose(Appearance.SYSTEM)


def test_text_grows_and_shrinks_everywhere_at_once(qtbot, opened, settings):
    parts = (opened.together._headline, opened.header._photos, opened.header._edit, opened.row.cards[1]._label)

    def sizes() -> list[float]:
        return [part.font().pointSizeF() for part in parts]

    before = sizes()
    opened.look.step_text(1)
    qtbot.waitUntil(lambda: all(new > old for new, old in zip(sizes(), before, strict=True)))
    opened.look.step_text(-1)
    qtbot.waitUntil(lambda: sizes() == before)
    assert settings.value("look/text-size", type=int) == opened.look._size


@pytest.mark.parametrize("count", [1, 16])
def test_any_number_of_cylinders_fits_by_scrolling(qtbot, window, count):
    window.resize(1366, 768)
    window.start_page.cylinders.setValue(count)
    window.start_page.layout_kind.setCurrentIndex(
        window.start_page.layout_kind.findData("single" if count == 1 else "vee")
    )
    window.start_page._describe()
    rest(qtbot, window)
    assert len(window.row.cards) == count
    widths = {card.width() for card in window.row.cards.values()}
    assert min(widths) >= 280
    qtbot.waitUntil(lambda: window.row.horizontalScrollBar().maximum() > 0 or count == 1)
    window.row.focus_card(count - 1)
    last = list(window.row.cards.values())[-1]
    assert not last.picture.visibleRegion().isEmpty()


def test_outlines_are_switched_by_key_and_by_button(qtbot, opened):
    button, action = opened.header._outlines, opened.findChild(QAction, Intention.OUTLINES.name)
    assert button.isChecked()
    button.click()
    assert not opened.outlines.on
    assert not action.isChecked()
    action.trigger()
    assert opened.outlines.on
    assert button.isChecked()
