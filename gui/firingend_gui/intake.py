"""Takes photographs in: has them read, asks where needed, and puts their firing ends on cylinders."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from firingend.errors import PhotoError, UserError
from firingend.reading.reading import PhotoReading, Reason
from firingend_gui import placing
from firingend_gui.arrivals import Arrival, Arrivals
from firingend_gui.history import History
from firingend_gui.notices import Notices
from firingend_gui.running import Runner
from firingend_gui.services import PlacedPhoto
from firingend_gui.session import Plug, Session
from firingend_gui.states import QuestionState
from firingend_gui.wording import cylinders as cylinder_words


class ReadsPhotos(Protocol):
    """The one service this needs."""

    def read_photo(self, file: Path) -> PhotoReading:
        """Read every firing end in a photograph."""
        ...


class Intake:
    """Photographs from the moment they are put in until they lie on their cylinders.

    Parameters
    ----------
    services, runner
        The reader, and what runs it elsewhere.
    history, notices
        The session in hand, and where messages go.
    changed
        Called when a card may look different.
    ask
        Called with a question, or None when it is settled.
    """

    def __init__(
        self,
        services: ReadsPhotos,
        runner: Runner,
        history: History,
        notices: Notices,
        changed: Callable[[], None],
        ask: Callable[[QuestionState | None], None],
    ) -> None:
        self._services = services
        self._runner = runner
        self._history = history
        self._notices = notices
        self._changed = changed
        self._ask = ask
        self._arrivals = Arrivals()
        self._asked: Arrival | None = None

    @property
    def reading(self) -> int:
        """How many photographs are being read."""
        return self._arrivals.unread()

    @property
    def under_way(self) -> int:
        """How many photographs lie on no cylinder yet."""
        return self._arrivals.under_way()

    def asked_cylinders(self) -> tuple[int, ...]:
        """Cylinders that may get a plug once the open question is answered."""
        if self._asked is None or self._asked.answer is None:
            return ()
        cylinders = placing.targets(self._session(), self._asked)
        return cylinders[: len(self._asked.answer.readings)]

    def waiting_cylinders(self) -> tuple[int, ...]:
        """Cylinders whose photograph is on its way."""
        session = self._history.now
        return () if session is None else self._arrivals.waiting_cylinders(session.free_cylinders())

    def add(self, files: Sequence[Path], cylinder: int | None = None) -> None:
        """Put photographs in: the first on the given cylinder, the others (or all) on the next free ones."""
        for position, file in enumerate(files):
            self._read(self._arrivals.add(file, cylinder if position == 0 else None))
        self._changed()

    def add_placed(self, photos: Sequence[PlacedPhoto]) -> None:
        """Put in a case file's photographs, whose cylinders are known."""
        for photo in photos:
            self._read(self._arrivals.add(photo.file, placed=photo.cylinders))
        self._changed()

    def forget_cylinder(self, cylinder: int) -> None:
        """Drop what is on its way to one cylinder."""
        self._arrivals.forget_cylinder(cylinder)
        if self._asked is not None and self._arrivals.find(self._asked.number) is None:
            self._settle_question()
        self._place_ready()

    def clear(self) -> None:
        """Drop everything on its way."""
        self._arrivals.clear()
        self._settle_question()

    def answer(self, key: str) -> None:
        """Take the answer to the question."""
        arrival = self._asked
        if arrival is None or arrival.answer is None:
            return
        self._settle_question()
        self._arrivals.take(arrival)
        if key != placing.LEAVE_OUT:
            self._put(arrival, arrival.answer, key)
        self._place_ready()
        self._changed()

    def _settle_question(self) -> None:
        if self._asked is not None:
            self._asked = None
            self._ask(None)

    def _read(self, arrival: Arrival) -> None:
        number, file = arrival.number, arrival.file
        self._runner.submit(
            lambda: self._services.read_photo(file),
            lambda photo: self._came(number, photo, None),
            lambda error: self._came(number, None, error),
        )

    def _came(self, number: int, photo: PhotoReading | None, error: Exception | None) -> None:
        arrival = self._arrivals.find(number)
        if arrival is None:
            return
        arrival.answer, arrival.failure = photo, error
        self._place_ready()
        self._changed()

    def _place_ready(self) -> None:
        while (arrival := self._next_placeable()) is not None:
            self._arrivals.take(arrival)
            if arrival.answer is not None:
                self._put(arrival, arrival.answer, placing.FORWARD)
            elif arrival.failure is not None:
                self._failed(arrival, arrival.failure)

    def _next_placeable(self) -> Arrival | None:
        """The next photograph that can be placed without asking; asks where that must be, one at a time."""
        for arrival in self._arrivals.placeable(self._asked):
            if arrival.answer is None or not self._must_ask(arrival, arrival.answer):
                return arrival
        return None

    def _must_ask(self, arrival: Arrival, photo: PhotoReading) -> bool:
        session = self._session()
        cylinders = placing.targets(session, arrival)
        if not placing.needs_asking(photo, arrival, cylinders):
            return False
        if self._asked is None:
            self._asked = arrival
            self._ask(placing.question(photo, cylinders[0]))
        return True

    def _put(self, arrival: Arrival, photo: PhotoReading, answer: str) -> None:
        session = self._session()
        cylinders = placing.targets(session, arrival)
        if len(cylinders) == 1 and len(photo.readings) > 1 and not arrival.placed:
            answer = placing.LARGEST
        placed = placing.placement(photo, cylinders, answer)
        if arrival.placed:
            self._put_as_stated(arrival, photo, placed)
            return
        if placed.ends:
            words = f"photo on {cylinder_words(tuple(n for n, _ in placed.ends))}"
            self._history.change(placing.place(session, photo, placed), words)
        if placed.left_over:
            self._say_left_over(arrival, placed)

    def _put_as_stated(self, arrival: Arrival, photo: PhotoReading, placed: placing.Placement) -> None:
        """Put a case file's photograph where the file says, unless it shows more or fewer firing ends than that."""
        found, stated = len(photo.readings), len(arrival.placed)
        if found == stated or (stated == 1 and not found):
            self._history.amend(lambda s: placing.place(s, photo, placed, keep_marks=True))
            return
        shown = "1 firing end was" if found == 1 else f"{found or 'no'} firing ends were"
        problem = f"{shown} found in {arrival.file.name}, but the case names {cylinder_words(arrival.placed)} for it"
        # Guessing which one is missing could put a plug's reading on another cylinder.
        remedy = "put a photo on each of these cylinders, or photograph the row again"
        self._failed(arrival, PhotoError(problem, remedy))

    def _say_left_over(self, arrival: Arrival, placed: placing.Placement) -> None:
        if placed.ends:
            count = placed.left_over
            ends = "1 firing end" if count == 1 else f"{count} firing ends"
            self._notices.problem(
                f"{arrival.file.name} shows {ends} more than there are cylinders to put them on",
                "Check the number of cylinders, or photograph the plugs one by one",
            )
        else:
            self._notices.problem(
                f"Every cylinder already has a photo, so {arrival.file.name} was left out",
                "Drop it onto the cylinder whose photo it shall replace",
            )

    def _failed(self, arrival: Arrival, error: Exception) -> None:
        if not arrival.placed:
            # The card keeps what it had: a bad file must not cost a good reading.
            self._notices.tell(error)
            return
        if not isinstance(error, UserError):
            self._notices.tell(error)
        problem = error.problem if isinstance(error, UserError) else f"{arrival.file.name} could not be read"
        remedy = error.remedy if isinstance(error, UserError) else "put another photo on this cylinder"
        reason = Reason("photo", problem, remedy)

        def fail(session: Session) -> Session:
            for cylinder in arrival.placed:
                plug = session.plugs.get(cylinder, Plug())
                session = session.with_plug(cylinder, replace(plug, file=arrival.file, failure=reason))
            return session

        self._history.amend(fail)

    def _session(self) -> Session:
        session = self._history.now
        assert session is not None, "photographs are taken in only for an engine"
        return session
