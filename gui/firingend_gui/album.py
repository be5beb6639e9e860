"""Every picture of the viewer that the documents show, taken in one go from the demo engines.

The jobs are made by doing in the window what a person would do; customers, names and numbers are invented.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QWidget

from firingend.engine.build import build_engine
from firingend.errors import UserError
from firingend.jobs.card import Cause, Part, Status, Work, new_key, to_json
from firingend.jobs.location import Location
from firingend.jobs.store import Store
from firingend_gui.appearance import USUAL_TEXT, USUAL_TEXT_LARGE_SCREEN, Appearance
from firingend_gui.desktop import application, demos, open_window
from firingend_gui.jobwork.shelf import Opening, StoreShelf
from firingend_gui.jobwork.written_down import Entries
from firingend_gui.parts.photo_window import PhotoWindow
from firingend_gui.services import Services
from firingend_gui.session import Plug
from firingend_gui.waiting import spin, wait
from firingend_gui.window import MainWindow

SIZES: Final = ((1366, 768), (2560, 1440))
"""A small workshop laptop and a large screen, in device-independent pixels."""

FIRST: Final = "viewer"
"""The picture that the documents show in every size."""

EARLIER: Final[tuple[tuple[str, str, str, int, Status], ...]] = (
    ("Mower, hard to start", "garden service", "INV-12", 1, "closed"),
    ("Generator, hunts under load", "site 7", "INV-31", 1, "proved"),
    ("Pump set, black smoke", "yard 4", "INV-7", 2, "fixed"),
    ("Pickup, rough when cold", "farm", "INV-40", 4, "waiting"),
    ("Motorcycle, left side weak", "walk-in", "", 2, "open"),
    ("Forklift, stalls when warm", "warehouse", "INV-22", 4, "closed"),
)
"""Name, customer, mark, cylinders and status of jobs that make up the rest of the list."""


class Album:
    """Takes pictures of one window at every size.

    Parameters
    ----------
    services
        The library, or something that stands for it.
    out
        Folder the pictures go into.
    sizes
        Sizes of the window, the usual one first.
    every
        Whether every picture is taken at every size, to look at; the documents show others than the first in one size
        only, since pictures of photographs are large.
    """

    def __init__(
        self, services: Services, out: Path, sizes: tuple[tuple[int, int], ...] = SIZES, *, every: bool = False
    ) -> None:
        self._services = services
        self._out = out
        self._sizes = sizes
        self._every = every
        self.written: list[Path] = []

    def take(self) -> list[Path]:
        """Do what a person would do and take every picture; the files written."""
        app = application()
        self._out.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory() as folder:
            location = Location(Path(folder) / "data")
            _earlier_jobs(location)
            settings = QSettings(str(Path(folder) / "viewer.ini"), QSettings.Format.IniFormat)
            settings.setValue("look/appearance", Appearance.LIGHT.name)
            settings.setValue("look/text-size", USUAL_TEXT)
            settings.setValue("jobs/initials", "ab")
            shelf = StoreShelf(lambda: Store(location, backups=False))
            window = open_window(app, self._services, None, settings, shelf)
            try:
                self._scenes(window)
            finally:
                window.runner.close()
                window.hide()
                window.deleteLater()
                shelf.close()
                settings.sync()
        return self.written

    def _scenes(self, window: MainWindow) -> None:
        first, second = (case for _, case in demos()[:2])
        wait(window)
        controller, desk = window.controller, window.controller.desk
        keeper = window.controller.keeper
        assert desk is not None and keeper is not None
        controller.open_case(second)
        wait(window)
        controller.keep_as_job(Opening(customer="walk-in", mark="INV-51"))
        wait(window)
        controller.open_case(first)
        wait(window)
        self._picture(window, window, FIRST)
        self._photo(window, _telling_cylinder(window))
        controller.keep_as_job(Opening(customer="yard 4", mark="INV-18"))
        wait(window)
        desk.write_down(
            Entries(
                what="plug-gap", where="cylinder 1", value="0.9", unit="mm", condition="spec 0.7 to 0.8",
                note="Swap leads before ordering parts", minutes=25, work="looking", customer="yard 4", mark="INV-18",
            ),
            _nothing, window.controller.notices.note,
        )  # fmt: skip
        wait(window)
        window.controller.notices.clear()
        self._picture(window, window, "viewer-job")
        identity, _, place = next(iter(controller.likely_causes()), ("coil-weak", "", "coil A"))
        desk.write_down(
            Entries(found=identity, cause_where=place, fixed=f"Renewed what was found at {place}", customer="yard 4",
                    mark="INV-18", minutes=20, work="repair"),
            _nothing, window.controller.notices.note,
        )  # fmt: skip
        wait(window)
        desk.set_status("fixed")
        wait(window)
        before = {n: plug.photo.file for n, plug in _plugs(window) if plug.photo is not None}
        good = [n for n, plug in _plugs(window) if plug.seen is not None and plug.seen.label == "normal-tan"]
        keeper.choose_stage("after")
        wait(window)
        self._after(window, before, good)
        desk.show_over_time()
        wait(window)
        self._picture(window, window, "viewer-before-after")
        desk.show_list()
        wait(window)
        self._picture(window, window, "viewer-jobs")

    def _after(self, window: MainWindow, before: dict[int, Path], good: list[int]) -> None:
        """Second photographs: the demo has none, so that good plugs stand for those that have become good."""
        files = list(before)
        for position, cylinder in enumerate(files):
            source = before[good[(position + 1) % len(good)]] if good else before[cylinder]
            window.controller.add_photos([source], cylinder)
        wait(window)

    def _photo(self, window: MainWindow, cylinder: int) -> None:
        window.open_photo(cylinder)
        (photo,) = window.findChildren(PhotoWindow)
        wait(window)
        self._picture(window, photo, "viewer-photo")
        photo.close()

    def _picture(self, window: MainWindow, shown: QWidget, name: str) -> None:
        """Save a widget at each size; on a large screen with the larger type that it has by itself."""
        for width, height in self._sizes if name == FIRST or self._every else self._sizes[:1]:
            steps = USUAL_TEXT_LARGE_SCREEN - USUAL_TEXT if height >= 1200 else 0
            window.look.step_text(steps)
            shown.resize(width, height)
            wait(window)
            file = self._out / f"{name}-{width}x{height}.png"
            if not shown.grab().save(str(file)):
                raise OSError(f"{file} could not be written")
            self.written.append(file)
            window.look.step_text(-steps)
        spin(0.1)


def _telling_cylinder(window: MainWindow) -> int:
    """The cylinder whose photograph is shown large: the last of those that stand out, or the first with one."""
    states = [card.state for card in window.row.cards.values() if card.state is not None and card.state.picture]
    if not states:
        raise UserError("no plug of the demo engines could be read", "run firingend demo, which says why")
    return next((state for state in reversed(states) if state.stands_out), states[0]).cylinder


def _plugs(window: MainWindow) -> Iterator[tuple[int, Plug]]:
    session = window.controller.session
    assert session is not None
    yield from session.plugs.items()


def _nothing() -> None:
    pass


def _earlier_jobs(location: Location) -> None:
    """Jobs of the weeks before."""
    moment = [datetime.now(UTC) - timedelta(days=40)]
    with Store(location, backups=False, clock=lambda: moment[0]) as store:
        for name, customer, mark, cylinders, status in EARLIER:
            engine = build_engine(cylinders, name=name.partition(",")[0])
            fields: dict[str, object] = {"name": name, "customer": customer, "engine": to_json("engine", engine)}
            if mark:
                fields["mark"] = mark
            job = store.new_job(fields, "cd")
            moment[0] += timedelta(days=1, hours=3)
            if status in ("fixed", "proved", "closed"):
                found = {
                    f"found/{new_key()}": to_json("found/a", Cause("plug-fouled", "cylinder 1")),
                    f"work/{new_key()}": to_json("work/a", Work("repair", 35)),
                    f"parts/{new_key()}": to_json("parts/a", Part("plug", cylinders, 900 * cylinders)),
                }
                job = store.change(job, found, "cd", "written down: found, time, part")
            store.change(job, {"status": status}, "cd", f"status: {status}")
            moment[0] += timedelta(days=4)


def take_all(services: Services, out: Path, *, every: bool = False) -> list[Path]:
    """Every picture that the documents show, or every one at every size; the files written."""
    return Album(services, out, every=every).take()
