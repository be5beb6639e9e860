"""A folder that a phone puts photographs into: what arrives is offered to the open job. Knows no Qt."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from firingend_gui.jobwork.keeper import Keeper
from firingend_gui.jobwork.presenting import offer
from firingend_gui.jobwork.shelf import Shelf
from firingend_gui.running import Runner
from firingend_gui.states import OfferState

if TYPE_CHECKING:
    from firingend.jobs.watch import Offered


class Watcher:
    """Looks into a folder again and again while a job is open.

    What lay there before the job was opened is not offered: a phone's folder holds the photographs of years.

    Parameters
    ----------
    shelf, runner, keeper
        The store, what runs it elsewhere, and the open job.
    show
        Called with an offer, or None when there is none any more.
    add
        Called with the files that are wanted, in the order they were taken.
    tell
        Called with an exception; the folder is not looked at any more then.
    """

    def __init__(
        self,
        shelf: Shelf,
        runner: Runner,
        keeper: Keeper,
        show: Callable[[OfferState | None], None],
        add: Callable[[Sequence[Path]], None],
        tell: Callable[[Exception], None],
    ) -> None:
        self._shelf = shelf
        self._runner = runner
        self._keeper = keeper
        self._show = show
        self._add = add
        self._tell = tell
        self.folder: Path | None = None
        self._hashes: dict[tuple[Path, int, int], str] = {}
        self._known: set[str] = set()
        self._lay_there: set[Path] | None = None
        self._offered: tuple[Offered, ...] = ()
        self._looking = False

    def watch(self, folder: Path | None) -> None:
        """Watch a folder from now on, or none."""
        self.folder = folder
        self._lay_there = None
        self._known.clear()
        self._stop_offering()
        self.look()

    def look(self) -> None:
        """See what has arrived."""
        folder, job = self.folder, self._keeper.job
        if folder is None or self._looking:
            return
        if job is None:
            self._stop_offering()
            return
        from firingend.jobs.rows import photo_keys

        known = {*self._known, *photo_keys(job.fields).values()}
        opened = job.opened_at
        self._looking = True

        def looked(found: tuple[Offered, ...]) -> None:
            self._looking = False
            if folder == self.folder and self._keeper.job is not None:
                self._offer(folder, self._new(found, opened))

        def failed(error: Exception) -> None:
            self._looking = False
            self.folder = None
            self._stop_offering()
            self._tell(error)

        self._runner.submit(lambda: self._shelf.offered(folder, known, self._hashes), looked, failed)

    def accept(self) -> None:
        """Add what is offered."""
        files = [each.file for each in self._offered]
        self._settle()
        if files:
            self._add(files)

    def decline(self) -> None:
        """Leave what is offered out, and do not offer it again."""
        self._settle()

    def _settle(self) -> None:
        self._known.update(each.sha256 for each in self._offered)
        self._stop_offering()

    def _new(self, found: tuple[Offered, ...], opened: datetime) -> tuple[Offered, ...]:
        if self._lay_there is None:
            self._lay_there = {each.file for each in found if _written(each.file) < opened.timestamp()}
        return tuple(each for each in found if each.file not in self._lay_there and each.sha256 not in self._known)

    def _offer(self, folder: Path, photos: tuple[Offered, ...]) -> None:
        if tuple(each.sha256 for each in photos) == tuple(each.sha256 for each in self._offered):
            return
        self._offered = photos
        self._show(offer(folder, photos, self._keeper.stage) if photos else None)

    def _stop_offering(self) -> None:
        if self._offered:
            self._offered = ()
            self._show(None)


def _written(file: Path) -> float:
    try:
        return file.stat().st_mtime
    except OSError:  # gone again
        return 0.0
