"""The screenshot shows the case, read, at the size asked for."""

from __future__ import annotations

from pathlib import Path

import pytest
from firingend_gui.screenshot import screenshot
from firingend_gui.services import PlacedPhoto
from gui_fakes import case_of_four, photo, reading
from PySide6.QtGui import QImage

from firingend.errors import UserError


def test_a_case_that_does_not_open_gives_no_screenshot(qtbot, services, tmp_path):
    with pytest.raises(UserError, match="was not opened"):
        screenshot(services, Path("bad.toml"), tmp_path / "shot.png", (800, 600))
    assert not (tmp_path / "shot.png").exists()


def test_a_screenshot_is_taken_once_everything_is_read(qtbot, services, tmp_path):
    services.photos = {"a.jpg": photo("a.jpg", reading("wet"))}
    services.case = case_of_four(PlacedPhoto(Path("a.jpg"), (1,)))
    out = tmp_path / "shot.png"
    screenshot(services, Path("c.toml"), out, (1366, 768))
    image = QImage(str(out))
    assert (image.width(), image.height()) == (1366, 768)
    assert len(services.assessed) == 1
    colours = {image.pixelColor(x, y).rgb() for x in range(0, 1366, 7) for y in range(0, 768, 7)}
    assert len(colours) > 20
