"""A viewer without a window on a real store, and photographs for it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from firingend_gui.controller import Controller
from firingend_gui.jobwork.shelf import Opening, StoreShelf
from gui_fakes import FakeServices, FakeView, StepRunner, entry
from PIL import Image

from firingend.jobs.location import Location
from firingend.jobs.store import Store
from firingend.reading.reading import PhotoReading


class ByContent(FakeServices):
    """Knows a photograph by what is in it, wherever it lies."""

    def __init__(self) -> None:
        super().__init__()
        self.shows: dict[bytes, PhotoReading] = {}
        self.read: list[Path] = []

    def read_photo(self, file: Path) -> PhotoReading:
        from dataclasses import replace

        self.read.append(file)
        return replace(self.shows[file.read_bytes()], file=file)


class Bay:
    """One viewer in the shop; several may share a data folder."""

    def __init__(self, folder: Path, services: ByContent | None = None, who: str = "ab") -> None:
        self.folder = folder
        self.view, self.runner = FakeView(), StepRunner()
        self.services = services or ByContent()
        self.shelf = StoreShelf(lambda: Store(Location(folder / "data"), backups=False))
        self.controller = Controller(self.view, self.services, self.runner, self.shelf)
        self.keeper = self.controller.keeper
        self.keeper.who = who
        self.controller.start()
        self.runner.run_all()

    def photo(self, name: str, reading: PhotoReading) -> Path:
        """A new photograph that shows this."""
        file = self.folder / name
        shade = len(self.services.shows) + 1
        pixels = np.random.default_rng(shade).integers(0, 256, (64, 96, 3), dtype=np.uint8)
        Image.fromarray(pixels).save(file)
        self.services.shows[file.read_bytes()] = reading
        return file

    def with_job(self, cylinders: int = 4, **opening) -> Bay:
        self.controller.describe_engine(entry(cylinders))
        self.controller.keep_as_job(Opening(**opening))
        self.runner.run_all()
        return self

    def open(self, number: int = 1) -> Bay:
        self.controller.open_job(number)
        self.runner.run_all()
        return self

    def do(self, name: str, *args) -> None:
        """Have the controller do something and let everything happen that comes of it."""
        getattr(self.controller, name)(*args)
        self.runner.run_all()

    def look(self) -> None:
        self.keeper.look()
        self.runner.run_all()

    def labels(self) -> list[str]:
        return [card.label for card in self.view.cards.values()]

    def card(self):
        """The card as the store has it."""
        return self.shelf.store.job(self.keeper.job.id).card

    def close(self) -> None:
        self.shelf.close()
