"""The open job: what is done in the window is written down as it happens, what others do is shown. Knows no Qt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from firingend.errors import UserError
from firingend.reading.reading import PhotoReading
from firingend_gui.history import History
from firingend_gui.jobwork.outlines_again import files_without_outlines, with_outlines
from firingend_gui.jobwork.shelf import Opening, OpenJob, Shelf, Written
from firingend_gui.notices import Notices
from firingend_gui.running import Runner
from firingend_gui.session import Session
from firingend_gui.states import ChoiceState
from firingend_gui.wording import capital, when

if TYPE_CHECKING:
    from firingend.jobs.card import Stage
    from firingend.jobs.change import Change
    from firingend.jobs.job import Job
    from firingend_gui.jobwork.wants import Want

T = TypeVar("T")

MINE, THEIRS, AGAIN, LET_GO = "mine", "theirs", "again", "let-go"
"""Answers to what must be decided before writing goes on."""


@dataclass(slots=True)
class _Entry:
    """Something to be written, which the session may not show yet; with no wants, the latest change is taken back."""

    wants: tuple[Want, ...]
    words: str
    over: bool = False
    show_after: bool = False


@dataclass(frozen=True, slots=True)
class Shows:
    """What the keeper calls in the window and around it.

    Attributes
    ----------
    arrived
        Another job is about to be shown: whatever belongs to the engine in hand goes.
    changed
        Session, job or state of writing changed.
    ask
        Something must be decided, or need not be any more.
    """

    arrived: Callable[[], None]
    changed: Callable[[], None]
    ask: Callable[[ChoiceState | None], None]


class Keeper:
    """Keeps the session in hand and the card in the store alike.

    Parameters
    ----------
    shelf, read_photo, runner
        The store, the reader, and what runs both elsewhere.
    history, notices
        The session in hand, and where messages go.
    shows
        What to call.
    """

    def __init__(
        self,
        shelf: Shelf,
        read_photo: Callable[[Path], PhotoReading],
        runner: Runner,
        history: History,
        notices: Notices,
        shows: Shows,
    ) -> None:
        self._shelf = shelf
        self._read_photo = read_photo
        self._runner = runner
        self._history = history
        self._notices = notices
        self._shows = shows
        self._open: OpenJob | None = None
        self._job: Job | None = None
        self._mine: set[int] = set()
        self._undo_words = ""
        self._stage: Stage = "before"
        self._kept: Session | None = None
        self._queue: list[_Entry] = []
        self._generation = 0
        self._under_way = 0
        self._writing = self._halted = self._stale = self._looking = self._told_of_failure = False
        self._read_again: dict[Path, PhotoReading] = {}
        self._reading: set[Path] = set()
        self._settled: list[Callable[[], None]] = []
        self.who = ""

    # What may be looked at

    @property
    def job(self) -> Job | None:
        """The open job as it stands in the store, None while there is none."""
        return self._job

    @property
    def stage(self) -> Stage:
        """Which plugs are shown."""
        return self._stage

    @property
    def undo_words(self) -> str:
        """What undoing would take back."""
        return self._undo_words

    @property
    def not_kept(self) -> bool:
        """Whether something done is not in the store yet."""
        return bool(self._queue)

    @property
    def writing(self) -> bool:
        """Whether something is being written that nobody has to decide about."""
        return bool(self._queue) and not self._halted

    @property
    def busy(self) -> bool:
        """Whether anything slow is on its way."""
        return self._under_way > 0

    # Opening

    def open(self, which: int | str, then: Callable[[], None] | None = None) -> None:
        """Load a job; what is in hand stays until it has been loaded."""
        self._load(lambda: self._shelf.open(which, "before"), then)

    def begin(self, session: Session, opening: Opening) -> None:
        """Open a job for the engine in hand and put its plugs on the card."""
        bare = Session(session.engine, session.complaint, session.name, session.symptoms, run=session.run)

        def begun(opened: OpenJob) -> None:
            self._take(opened, "before")
            now = self._history.now or session
            self._kept = Session(
                bare.engine, bare.complaint, bare.name, bare.symptoms, run=bare.run, checks=session.checks
            )
            self._history.mark_saved(now)
            self.keep(now, "plugs in hand")
            self._shows.changed()

        generation = self._next_generation()
        self._slowly(
            lambda: self._shelf.new(session, opening, self.who),
            lambda opened: begun(opened) if generation == self._generation else None,
            self._notices.tell,
        )

    def close(self) -> None:
        """Put the job away."""
        self._next_generation()
        self._open = self._job = self._kept = None
        self._undo_words = ""
        self._queue.clear()
        self._mine.clear()
        self._stage = "before"
        self._writing = self._halted = self._stale = self._looking = False
        self._shows.ask(None)
        self._call_settled()

    def choose_stage(self, stage: Stage) -> None:
        """Show the plugs of another stage."""
        if self._job is None or stage == self._stage:
            return
        job, generation = self._job, self._generation

        def go() -> None:
            if generation == self._generation:
                self._load(lambda: self._shelf.open(job.id, stage), None)

        self.when_settled(go)

    def _load(self, work: Callable[[], OpenJob], then: Callable[[], None] | None) -> None:
        generation = self._next_generation()

        def loaded(opened: OpenJob) -> None:
            if generation != self._generation:
                return
            self._shows.arrived()
            self._take(opened, opened.stage)
            self._show(opened)
            if then is not None:
                then()

        self._slowly(work, loaded, self._notices.tell)

    def _next_generation(self) -> int:
        self._generation += 1
        return self._generation

    def _take(self, opened: OpenJob, stage: Stage) -> None:
        self._open, self._job, self._stage = opened, opened.job, stage
        self._mine.clear()
        self._undo_words = opened.undo_words
        self._stale = False

    def _show(self, opened: OpenJob) -> None:
        self._history.begin(self._outlined(opened.view.session), saved=True)
        self._kept = self._history.now
        if opened.view.nowhere:
            names = ", ".join(opened.view.nowhere[:3])
            self._notices.problem(f"{names}: on the card, but on no cylinder", "add it to the cylinder it shows")
        self._shows.changed()
        self._read_what_is_missing(opened)

    # Writing

    def keep(self, session: Session, words: str) -> None:
        """Write down what was done since the last time; ``words`` say what."""
        if self._job is None or self._kept is None or session is self._kept:
            return
        from firingend_gui.jobwork.wants import wants_between

        wants = wants_between(self._kept, session)
        self._kept = session
        if wants:
            self._queue.append(_Entry(wants, words or "changed"))
            self._step()

    def write(self, wants: tuple[Want, ...], words: str) -> None:
        """Write something on the card of the open job, and show the card as it is then."""
        if self._job is not None and wants:
            self._queue.append(_Entry(wants, words or "changed", show_after=True))
            self._step()

    def undo(self) -> None:
        """Take the latest change on the card back, whoever made it."""
        if self._job is not None and self._undo_words:
            self._queue.append(_Entry((), "undo"))
            self._step()

    def when_settled(self, act: Callable[[], None]) -> None:
        """Call at once, or as soon as everything has been written."""
        if self._queue:
            self._settled.append(act)
        else:
            act()

    def _step(self) -> None:
        if self._writing or self._halted or self._open is None or self._job is None:
            return
        if not self._queue:
            if self._stale:
                self._reload()
            self._call_settled()
            self._shows.changed()
            return
        self._writing = True
        entry, seen, job_id, generation = self._queue[0], self._open.job, self._job.id, self._generation
        mine, stage, who = tuple(self._mine), self._stage, self.who

        def work() -> Written | None:
            if not entry.wants:
                self._shelf.undo(job_id, who)
                return None
            return self._shelf.write(seen, mine, stage, entry.wants, entry.words, who, entry.over)

        self._slowly(
            work,
            lambda written: self._written(entry, written) if generation == self._generation else None,
            lambda error: self._failed(entry, error) if generation == self._generation else None,
        )

    def _written(self, entry: _Entry, written: Written | None) -> None:
        self._writing = False
        if written is not None and written.clash:
            self._halt(_clash_question(entry, written.clash))
            return
        self._queue.pop(0)
        if written is None:
            self._stale = True
        else:
            self._job, self._undo_words = written.job, written.undo_words
            self._mine.update(written.mine)
            self._tell_others(written.others)
            self._stale = self._stale or entry.show_after
        self._step()

    def _failed(self, entry: _Entry, error: Exception) -> None:
        self._writing = False
        if not entry.wants:
            self._queue.pop(0)
            self._stale = True
            self._notices.tell(error)
            self._step()
            return
        problem = error.problem if isinstance(error, UserError) else f"{type(error).__name__}: {error}"
        remedy = error.remedy if isinstance(error, UserError) else "report the words before the colon"
        text = f"Not kept: {entry.words}. {capital(problem)}"
        self._halt(ChoiceState(text, capital(remedy), ((AGAIN, "Try again"), (LET_GO, "Let it go"))))

    def _halt(self, question: ChoiceState) -> None:
        self._halted = True
        self._shows.ask(question)
        self._shows.changed()

    def answer(self, key: str) -> None:
        """Take the answer to what had to be decided."""
        if not self._halted or not self._queue:
            return
        self._halted = False
        self._shows.ask(None)
        if key == MINE:
            self._queue[0].over = True
        elif key in (THEIRS, LET_GO):
            self._queue.pop(0)
            self._stale = True
        self._step()

    # What others do

    def look(self) -> None:
        """See whether somebody else has changed the job."""
        if self._job is None or self._queue or self._halted or self._looking:
            return
        self._looking = True
        job_id, revision, generation = self._job.id, self._job.revision, self._generation

        def looked(changes: tuple[Change, ...]) -> None:
            self._looking = self._told_of_failure = False
            fresh = tuple(c for c in changes if c.revision not in self._mine)
            if generation == self._generation and fresh and not self._queue:
                self._tell_others(fresh)
                self._reload()

        def failed(error: Exception) -> None:
            self._looking = False
            # The next look is soon, and what stays wrong need not be said again.
            if generation == self._generation and not self._told_of_failure:
                self._told_of_failure = True
                self._notices.tell(error)

        self._runner.submit(lambda: self._shelf.news(job_id, revision), looked, failed)

    def _tell_others(self, changes: tuple[Change, ...]) -> None:
        if changes:
            self._stale = True
            said = "; ".join(change_words(change) for change in changes[-3:])
            more = f" and {len(changes) - 3} more" if len(changes) > 3 else ""
            self._notices.note(f"Changed elsewhere: {said}{more}")

    def _reload(self) -> None:
        assert self._job is not None
        job_id, stage, generation = self._job.id, self._stage, self._generation
        self._stale = False

        def loaded(opened: OpenJob) -> None:
            if generation != self._generation:
                return
            if self._queue or (self._history.now is not self._kept and self._pending()):
                self._stale = True  # something was done meanwhile: shown once that is written
                self._step()
                return
            self._take(opened, stage)
            self._show(opened)

        self._slowly(lambda: self._shelf.open(job_id, stage), loaded, self._notices.tell)

    def _pending(self) -> bool:
        from firingend_gui.jobwork.wants import wants_between

        now = self._history.now
        return now is not None and self._kept is not None and bool(wants_between(self._kept, now))

    # Reading what the card does not hold

    def _read_what_is_missing(self, opened: OpenJob) -> None:
        job_id, who = opened.job.id, self.who
        for unread in opened.view.unread:
            if unread.file not in self._reading:
                self._reading.add(unread.file)
                self._slowly(
                    lambda unread=unread: self._shelf.keep_reading(  # type: ignore[misc]
                        job_id, unread, self._read_photo(unread.file), who
                    ),
                    lambda _: self.look(),
                    self._notices.tell,
                )
        self._read_outlines()

    def _read_outlines(self) -> None:
        """Read one photograph again for the outlines that a card does not hold; the reading kept stays as it is."""
        session, generation = self._history.now, self._generation
        if session is None:
            return
        wanted = [file for file in files_without_outlines(session) if file not in self._reading]
        if not wanted:
            return
        file = wanted[0]
        self._reading.add(file)

        def came(photo: PhotoReading) -> None:
            self._read_again[file] = photo
            if generation == self._generation:
                self._history.amend(lambda s: with_outlines(s, file, photo))
                self._shows.changed()
                self._read_outlines()

        # One that cannot be read any more says so on its card.
        self._slowly(lambda: self._read_photo(file), came, lambda _: self._read_outlines())

    def _outlined(self, session: Session) -> Session:
        for file in files_without_outlines(session):
            if file in self._read_again:
                session = with_outlines(session, file, self._read_again[file])
        return session

    # Inside

    def _slowly(self, work: Callable[[], T], done: Callable[[T], None], failed: Callable[[Exception], None]) -> None:
        self._under_way += 1

        def finish(answer: T) -> None:
            self._under_way -= 1
            done(answer)

        def fail(error: Exception) -> None:
            self._under_way -= 1
            failed(error)

        self._runner.submit(work, finish, fail)

    def _call_settled(self) -> None:
        settled, self._settled = self._settled, []
        for act in settled:
            act()


def change_words(change: Change) -> str:
    """Who changed what, and when."""
    return f"{change.what}, by {change.who or 'somebody'} at {when(change.at)}"


def _clash_question(entry: _Entry, clash: tuple[Change, ...]) -> ChoiceState:
    from firingend_gui.jobwork.subjects import said_in_change, said_in_wants

    theirs = "; ".join(f"{change_words(change)}{_quoted(said_in_change(change))}" for change in clash[-2:])
    mine = f"{entry.words}{_quoted(said_in_wants(entry.wants))}"
    return ChoiceState(
        f"Somebody else changed the same thing: {theirs}",
        f"You did: {mine}. It is not written down yet, and nothing of theirs was lost",
        ((MINE, "Write mine down"), (THEIRS, "Keep theirs")),
    )


def _quoted(said: str) -> str:
    return f" (“{said}”)" if said else ""
