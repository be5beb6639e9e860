"""The store as the viewer uses it: slow, so every call is made away from the window, and safe to make there.

The database is imported when it is first needed, so that the window comes up at once.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from firingend.jobs.card import Stage
    from firingend.jobs.change import Change
    from firingend.jobs.job import Job, JobLine, Query
    from firingend.jobs.over_time import Seen, Visit
    from firingend.jobs.store import Store
    from firingend.jobs.watch import Hashes, Offered
    from firingend.reading.reading import PhotoReading
    from firingend_gui.jobwork.card_session import CardView, Unread
    from firingend_gui.jobwork.wants import Want
    from firingend_gui.session import Session

WHO_VARIABLE = "FIRINGEND_WHO"


@dataclass(frozen=True, slots=True)
class Opening:
    """What the head of a new card says beside the engine; each may be empty."""

    name: str = ""
    customer: str = ""
    mark: str = ""


@dataclass(frozen=True, slots=True)
class OpenJob:
    """A job at one stage as it stands in the store; ``undo_words`` say what undoing would take back."""

    job: Job
    stage: Stage
    view: CardView
    undo_words: str


@dataclass(frozen=True, slots=True)
class Written:
    """What came of writing.

    Attributes
    ----------
    job
        The job now.
    mine
        Revisions that this made.
    others
        What others changed since the job was shown.
    clash
        Those of them that are about the same thing; nothing was written then.
    undo_words
        What undoing would take back now.
    """

    job: Job
    mine: tuple[int, ...]
    others: tuple[Change, ...]
    clash: tuple[Change, ...]
    undo_words: str


@dataclass(frozen=True, slots=True)
class OverTime:
    """A job's plugs before and after, its engine's visits oldest first, and its own changes oldest first."""

    job: Job
    plugs: Mapping[int, Mapping[Stage, Seen]]
    visits: tuple[Visit, ...]
    changes: tuple[Change, ...]


class Shelf(Protocol):
    """Everything the viewer asks of the store."""

    def lines(self, query: Query) -> tuple[JobLine, ...]:
        """Jobs that match, newest first."""
        ...

    def open(self, which: int | str, stage: Stage) -> OpenJob:
        """A job by number or id."""
        ...

    def new(self, session: Session, opening: Opening, who: str) -> OpenJob:
        """Open a job for an engine in hand, without its plugs."""
        ...

    def write(
        self, seen: Job, mine: Collection[int], stage: Stage, wants: tuple[Want, ...], words: str, who: str, over: bool
    ) -> Written:
        """Write on a card; unless ``over``, nothing is written where somebody else changed the same thing.

        ``seen`` is the job as it was shown, ``mine`` the revisions this window has made since.
        """
        ...

    def undo(self, job_id: str, who: str) -> None:
        """Take the latest change back."""
        ...

    def news(self, job_id: str, revision: int) -> tuple[Change, ...]:
        """Changes after a revision."""
        ...

    def keep_reading(self, job_id: str, unread: Unread, reading: PhotoReading, who: str) -> None:
        """Write down what was read of a photograph on a card."""
        ...

    def over_time(self, job_id: str) -> OverTime:
        """Before beside after, and the engine's history."""
        ...

    def offered(self, folder: Path, known: Collection[str], hashes: Hashes) -> tuple[Offered, ...]:
        """New photographs in a folder, in the order they were taken."""
        ...


class StoreShelf:
    """The real store, opened when it is first asked for.

    Parameters
    ----------
    open_store
        Opens it; the place that environment and config file lead to when not given.
    """

    def __init__(self, open_store: Callable[[], Store] | None = None) -> None:
        self._open_store = open_store or _usual_store
        self._store: Store | None = None
        self._lock = threading.Lock()

    def close(self) -> None:
        """Give the store back."""
        with self._lock:
            if self._store is not None:
                self._store.close()
                self._store = None

    @property
    def store(self) -> Store:
        """The store."""
        with self._lock:
            if self._store is None:
                self._store = self._open_store()
            return self._store

    def lines(self, query: Query) -> tuple[JobLine, ...]:
        """Jobs that match, newest first."""
        return self.store.list(query)

    def open(self, which: int | str, stage: Stage) -> OpenJob:
        """A job by number or id, with every photograph of it looked at in full."""
        from firingend.diagnosis.knowledge import load
        from firingend_gui.jobwork.card_session import view_of

        job = self.store.job(which)
        view = view_of(job.card, self.store.photos_looked_at(job), stage, load())
        return OpenJob(job, stage, view, self._undo_words(job))

    def new(self, session: Session, opening: Opening, who: str) -> OpenJob:
        """Open a job for an engine in hand, without its plugs."""
        from firingend_gui.casework import base_case
        from firingend_gui.jobwork.card_session import opening_fields

        fields = opening_fields(session, base_case(session))
        said = {"name": opening.name, "customer": opening.customer, "mark": opening.mark}
        job = self.store.new_job({**fields, **{key: text for key, text in said.items() if text}}, who)
        return self.open(job.id, "before")

    def write(
        self, seen: Job, mine: Collection[int], stage: Stage, wants: tuple[Want, ...], words: str, who: str, over: bool
    ) -> Written:
        """Write on a card, photographs one by one and everything else in one change."""
        from firingend.jobs.problems import ConflictError
        from firingend_gui.jobwork.subjects import clashing

        made: list[int] = []
        others = self._others(seen, mine)
        clash = () if over else clashing(others, wants, stage)
        job = self.store.job(seen.id)
        if not clash:
            try:
                job = self._put(job, stage, wants, words, who, made)
            except ConflictError:
                # Somebody was quicker by a moment: told like any other.
                clash = clashing(self._others(seen, (*mine, *made)), wants, stage)
                if not clash:
                    raise
            others = self._others(seen, (*mine, *made))
        return Written(job, tuple(made), others, clash, self._undo_words(job))

    def _put(self, job: Job, stage: Stage, wants: tuple[Want, ...], words: str, who: str, made: list[int]) -> Job:
        from firingend.report.versions import networks_version
        from firingend_gui.jobwork.card_session import fields_for, photo_fields
        from firingend_gui.jobwork.wants import PutPhoto
        from firingend_gui.wording import cylinders

        plain: dict[str, object] = {}
        several = sum(isinstance(want, PutPhoto) for want in wants) > 1
        for want in wants:
            if not isinstance(want, PutPhoto):
                continue
            off = fields_for(job.fields, want, stage)

            def along(key: str, want: PutPhoto = want, off: Mapping[str, object] = off) -> dict[str, object]:
                return {**off, **photo_fields(key, want, networks_version())}

            before = job.revision
            job, _ = self.store.add_photo(
                job,
                want.file,
                cylinders=want.cylinders,
                across=want.across,
                stage=stage,
                who=who,
                along=along,
                what=f"photo on {cylinders(want.cylinders)}" if several else words,
            )
            made += [job.revision] if job.revision > before else []
        fields = dict(job.fields)
        for want in wants:
            if not isinstance(want, PutPhoto):
                wanted = fields_for(fields, want, stage)
                plain |= wanted
                fields = {k: v for k, v in {**fields, **wanted}.items() if v is not None}
        if plain:
            before = job.revision
            job = self.store.change(job, plain, who, words)
            made += [job.revision] if job.revision > before else []
        return job

    def _others(self, seen: Job, mine: Collection[int]) -> tuple[Change, ...]:
        return tuple(c for c in self.store.history(seen.id, seen.revision) if c.revision not in mine)

    def _undo_words(self, job: Job) -> str:
        from firingend.jobs.change import last_undoable

        change = last_undoable(self.store.history(job.id))
        if change is None:
            return ""
        return f"{change.what} ({change.who})" if change.who else change.what

    def undo(self, job_id: str, who: str) -> None:
        """Take the latest change back."""
        self.store.undo(job_id, who)

    def news(self, job_id: str, revision: int) -> tuple[Change, ...]:
        """Changes after a revision."""
        if self.store.job(job_id).revision == revision:
            return ()
        return self.store.history(job_id, revision)

    def keep_reading(self, job_id: str, unread: Unread, reading: PhotoReading, who: str) -> None:
        """Write down what was read of a photograph on a card, unless somebody else has."""
        from firingend.jobs.as_case import reading_field
        from firingend.report.versions import networks_version

        job = self.store.job(job_id)
        path, value = reading_field(unread.key, reading, unread.name, networks_version())
        if f"photos/{unread.key}" in job.fields and path not in job.fields:
            self.store.change(job, {path: value}, who, f"read: {unread.name[:200]}")

    def over_time(self, job_id: str) -> OverTime:
        """Before beside after, and the engine's history."""
        from firingend.jobs.over_time import engine_history, side_by_side

        job = self.store.job(job_id)
        card = job.card
        engine = card.engine.name if card.engine else ""
        visits = engine_history(self.store, engine, card.mark, "" if card.mark else card.customer)
        return OverTime(job, side_by_side(self.store, job), visits, self.store.history(job.id))

    def offered(self, folder: Path, known: Collection[str], hashes: Hashes) -> tuple[Offered, ...]:
        """New photographs in a folder, in the order they were taken."""
        from firingend.jobs.watch import offered

        return offered(folder, known, hashes=hashes)


def _usual_store() -> Store:
    from firingend.jobs.location import find_location
    from firingend.jobs.store import Store

    return Store(find_location())


def usual_initials() -> str:
    """Initials of whoever works here, as far as the environment says."""
    return os.environ.get(WHO_VARIABLE, "")[:200]
