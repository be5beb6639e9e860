"""Outlines lie where the parts are, show on dark and light alike, and can be switched off."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from firingend_gui.parts.outlines import OutlineLegend, OutlineSwitch
from firingend_gui.parts.photo_window import PhotoWindow
from firingend_gui.parts.picture import PictureButton, PictureStore
from firingend_gui.states import PartState, PictureRef, SwatchState
from gui_fakes import FakeServices, StepRunner
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

NOSE = PartState("nose", (((40.0, 40.0), (60.0, 40.0), (60.0, 60.0), (40.0, 60.0)),))
REF = PictureRef(Path("a.jpg"), (25.0, 25.0, 75.0, 75.0), full_width=100, full_height=100, parts=(NOSE,))


class Flat(FakeServices):
    """Gives pictures of one grey."""

    grey = 10

    def pixels(self, file, box, longest):
        return np.full((100, 100, 3), self.grey, np.uint8)


def shown(qtbot, grey: int) -> tuple[PictureButton, PictureStore]:
    runner, services = StepRunner(), Flat()
    services.grey = grey
    store = PictureStore(services, runner)
    button = PictureButton(store)
    qtbot.addWidget(button)
    button.setFixedSize(200, 200)
    button.show_ref(REF, "")
    runner.run_all()
    return button, store


def greys(button: PictureButton) -> np.ndarray:
    image = button.grab().toImage()
    return np.array([[image.pixelColor(x, y).lightness() for x in range(200)] for y in range(200)])


@pytest.mark.parametrize("grey", [10, 245])
def test_an_outline_shows_on_soot_and_on_white(qtbot, grey):
    button, store = shown(qtbot, grey)
    before = greys(button)
    # The box of 50 with a fifth of room fills 200: the nose's edge of 20 is 67 long, its left edge at 67.
    changed = np.argwhere(np.abs(before - grey) > 60)
    assert abs(changed[:, 1].min() - 66) <= 3
    assert abs(changed[:, 0].max() - 133) <= 3
    assert np.abs(before[95:105, 95:105] - grey).max() < 5
    store.outlines.turn()
    assert np.abs(greys(button) - grey).max() < 5


def test_parts_that_come_later_are_drawn_without_loading_again(qtbot):
    button, _ = shown(qtbot, 10)
    image = button._image
    button.show_ref(PictureRef(REF.file, REF.box, full_width=100, full_height=100), "")
    assert button._image is image
    assert np.abs(greys(button) - 10).max() < 5


def test_the_switch_is_remembered(settings):
    switch = OutlineSwitch(settings)
    assert switch.on
    switch.turn()
    assert not OutlineSwitch(settings).on


def test_the_whole_photo_outlines_the_parts_and_names_them(qtbot):
    runner = StepRunner()
    store = PictureStore(Flat(), runner)
    parent = QWidget()
    qtbot.addWidget(parent)
    swatch = SwatchState((120, 100, 80), "Nose L* 40", "Neutral: grey patch, 95 % sure", "short")
    window = PhotoWindow(parent, store, REF, "Cylinder 1", "Cylinder 1: Wet.", swatch)
    with qtbot.waitActive(window):
        window.show()
        window.activateWindow()
    runner.run_all()
    assert window.view.parts_outlined == 1
    assert window.legend.isVisible()
    assert "nose" in window.legend.accessibleName()
    assert "95 % sure" in window.swatch.accessibleDescription()
    qtbot.keyClick(window, Qt.Key.Key_O)
    assert window.view.parts_outlined == 0
    assert not window.legend.isVisible()
    window.close()


def test_a_legend_names_parts_in_their_order_from_the_nose_out(qtbot):
    legend = OutlineLegend(("threads", "nose", "rim"))
    qtbot.addWidget(legend)
    assert legend.accessibleName() == "Outlined: nose, rim, threads"
    assert not legend.grab().isNull()
