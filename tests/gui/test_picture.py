"""Pictures on cards: loaded elsewhere, kept, and never the wrong one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from firingend_gui.parts.picture import PictureButton, PictureStore, to_image
from firingend_gui.states import PictureRef
from gui_fakes import FakeServices, StepRunner


def test_pixels_become_the_same_picture():
    pixels = np.arange(5 * 7 * 3, dtype=np.uint8).reshape(5, 7, 3)
    image = to_image(pixels[:, ::-1])
    assert (image.width(), image.height()) == (7, 5)
    assert image.pixelColor(0, 0).getRgb()[:3] == tuple(pixels[0, 6])


def test_a_picture_that_comes_late_is_not_shown(qtbot):
    runner = StepRunner()
    button = PictureButton(PictureStore(FakeServices(), runner))
    qtbot.addWidget(button)
    button.show_ref(PictureRef(Path("a.jpg"), (0, 0, 9, 9)), "")
    button.show_ref(PictureRef(Path("b.jpg"), (0, 0, 9, 9)), "")
    runner.run(0)
    assert not button.has_picture
    runner.run(0)
    assert button.has_picture


def test_a_picture_is_loaded_once(qtbot):
    runner = StepRunner()
    store = PictureStore(FakeServices(), runner)
    shown = []
    ref = PictureRef(Path("a.jpg"), (0, 0, 9, 9))
    store.fetch(ref, 100, shown.append, shown.append)
    assert store.loading == 1
    runner.run_all()
    store.fetch(ref, 100, shown.append, shown.append)
    assert len(shown) == 2
    assert (store.loading, runner.jobs) == (0, [])


def test_a_picture_that_cannot_be_loaded_says_so(qtbot):
    runner = StepRunner()
    services = FakeServices()
    services.pixels = lambda *_: 1 / 0
    button = PictureButton(PictureStore(services, runner))
    qtbot.addWidget(button)
    button.show_ref(PictureRef(Path("a.jpg"), None), "")
    runner.run_all()
    assert not button.has_picture
    assert button._words == "division by zero"
