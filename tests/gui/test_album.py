"""Every picture of the documents is taken in one go, of the real window on a real store."""

from __future__ import annotations

from pathlib import Path

from firingend_gui import waiting
from firingend_gui.album import Album
from firingend_gui.services import PlacedPhoto
from gui_fakes import case_of_four, photo, reading
from job_desk import Bay, ByContent
from PySide6.QtGui import QImage

NAMES = ("viewer", "viewer-photo", "viewer-job", "viewer-before-after", "viewer-jobs")


def test_every_picture_is_taken_at_every_size(qtbot, tmp_path, monkeypatch):
    monkeypatch.setattr(waiting, "SETTLE_S", 0.03)
    services = ByContent()
    bay = Bay(tmp_path, services)
    sooty = bay.photo("a.png", photo("a.png", reading("rich-carbon")))
    tan = bay.photo("b.png", photo("b.png", reading("normal-tan")))
    bay.close()
    services.case = case_of_four(PlacedPhoto(sooty, (2,)), PlacedPhoto(tan, (3,)))
    out = tmp_path / "pictures"
    written = Album(services, out, ((800, 600), (1600, 1200)), every=True).take()
    assert [file.name for file in written] == [
        f"{name}-{width}x{height}.png" for name in NAMES for width, height in ((800, 600), (1600, 1200))
    ]
    for file in written:
        image = QImage(str(file))
        width, height = (int(side) for side in file.stem.rpartition("-")[2].split("x"))
        assert (image.width(), image.height()) == (width, height)
        colours = {image.pixelColor(x, y).rgb() for x in range(0, width, 9) for y in range(0, height, 9)}
        assert len(colours) > 5, f"{file.name} shows next to nothing"


def test_documents_name_only_pictures_that_are_taken():
    root = Path(__file__).parents[2]
    taken = {f"{name}-1366x768.png" for name in NAMES} | {"viewer-2560x1440.png"}
    there = {file.name for file in (root / "docs" / "pictures").glob("viewer*.png")}
    assert there == taken
