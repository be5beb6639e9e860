"""Stand-ins for library, window and thread pool, and the invented engine the viewer's tests work on."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from firingend_gui.services import Assessment, Choice, EngineEntry, OpenedCase, PlacedPhoto
from firingend_gui.session import Session

from firingend.comparison.comparison import Comparison
from firingend.diagnosis.diagnosis import Diagnosis, RankedCause, RankedStep
from firingend.engine.build import build_engine
from firingend.engine.engine import Engine
from firingend.errors import PhotoError, UserError
from firingend.labels import LABELS, UNREADABLE
from firingend.photo.picture import Quality
from firingend.reading.reading import Box, FiringEnd, PhotoReading, Reading, Reason

GOOD = Quality(focus=900.0, clipped_bright=0.0, clipped_dark=0.01, mean_luma=110.0, cast_degrees=2.0)
BLURRED = replace(GOOD, focus=20.0, flags=("out of focus",))


def reading(label: str, probability: float = 0.9, box: Box = (10, 10, 60, 60), **more) -> Reading:
    """A reading that is this sure of its label, and spreads the rest over the others."""
    rest = (1.0 - probability) / (len(LABELS) - 1)
    probabilities = {k: probability if k == label else rest for k in LABELS}
    more.setdefault("quality", GOOD)
    return Reading(FiringEnd(box, (0.0, -1.0), 0.95), label, probabilities, **more)


def refused(box: Box = (10, 10, 60, 60)) -> Reading:
    """A reading that was refused because the photograph is out of focus."""
    even = dict.fromkeys(LABELS, 0.2)
    reason = Reason("focus", "the firing end is out of focus", "hold the phone further away and tap on the nose")
    return Reading(FiringEnd(box, (0.0, -1.0), 0.9), UNREADABLE, even, (reason,), quality=BLURRED)


def photo(name: str, *readings: Reading, width: int = 400, height: int = 100) -> PhotoReading:
    """A photograph that shows these firing ends."""
    return PhotoReading(Path(name), width, height, GOOD, readings)


def row_photo(name: str, *labels: str) -> PhotoReading:
    """A photograph of plugs that lie side by side."""
    ends = [reading(label, box=(100.0 * i, 10, 100.0 * i + 80, 90)) for i, label in enumerate(labels)]
    return photo(name, *ends, width=100 * len(labels))


def four() -> Engine:
    """An in-line four with wasted spark."""
    return build_engine(4, name="grey pickup", ignition="wasted-spark", firing_order=(1, 3, 4, 2))


SOOTY_ONE = Comparison(
    pattern="one-odd",
    probability=0.87,
    patterns={"one-odd": 0.87, "scattered": 0.13},
    label="rich-carbon",
    cylinders=(2,),
    where="",
    sentence="cylinder 2 alone is black with dry soot; 1, 3 and 4 are tan, so look at what cylinder 2 has to itself",
)

BALANCE = RankedStep(
    id="injector-balance",
    name="Compare what the injectors deliver",
    where="cylinder 2",
    why="an injector that stays open is the likeliest cause; a like flow on all four rules it out",
    how=("note the rail pressure", "fire each injector for the same time", "compare the drop in pressure"),
    minutes=25.0,
    parts_cost=0.0,
    expected_cost=84.0,
    cautions=(
        "Release the fuel pressure before opening a line, wear eye protection and catch the fuel.",
        "No spark, flame or hot engine near test fluid.",
    ),
    source="common practice",
)
COMPRESSION = RankedStep(
    id="compression-dry",
    name="Measure the compression",
    where="engine",
    why="low compression on cylinder 2 alone leaves soot",
    how=("all plugs out", "throttle wide open", "crank five turns on each"),
    minutes=40.0,
    parts_cost=3.5,
    expected_cost=97.0,
    cautions=("Fuel system and ignition disabled; hands off while cranking.",),
    source="common practice",
)
CAUSES = (
    RankedCause("injector-open", "Injector stays open", "cylinder 2", 0.46, "clean or replace the injector", (2,)),
    RankedCause("weak-coil", "Weak coil", "coil B (2 and 3)", 0.21, "replace the coil", (2, 3)),
    RankedCause("low-compression", "Low compression", "cylinder 2", 0.12, "find where it leaks", (2,)),
)
DIAGNOSIS = Diagnosis(CAUSES, (BALANCE, COMPRESSION), (), "EUR", ("one plug is weak evidence",))
OUTCOMES = {
    "injector-balance": (Choice("alike", "all alike"), Choice("more", "one delivers more"), Choice("less", "one less")),
    "compression-dry": (Choice("alike", "all alike"), Choice("low", "one low")),
}


@dataclass
class FakeServices:
    """Answers from memory; ``photos`` says what each file shows, anything else cannot be read."""

    photos: dict[str, PhotoReading] = field(default_factory=dict)
    case: OpenedCase | None = None
    assessed: list[Session] = field(default_factory=list)
    saved_cases: list[tuple[Session, Path]] = field(default_factory=list)
    saved_reports: list[Path] = field(default_factory=list)

    def read_photo(self, file: Path) -> PhotoReading:
        if file.name not in self.photos:
            raise PhotoError(f"{file.name} is empty (0 bytes)", "copy it from the phone again")
        return replace(self.photos[file.name], file=file)

    def pixels(self, file: Path, box: Box | None, longest: int):
        return np.full((min(longest, 40), min(longest, 60), 3), 120, np.uint8)

    def build_engine(self, entry: EngineEntry) -> Engine:
        if entry.firing_order == "nonsense":
            raise UserError('the firing order "nonsense" is not a row of numbers', "write it like 1-3-4-2")
        return build_engine(entry.cylinders, name=entry.name, layout=entry.layout)

    def symptoms(self) -> tuple[Choice, ...]:
        return (Choice("rough-idle", "rough idle"), Choice("black-smoke", "black smoke"))

    def assess(self, session: Session) -> Assessment:
        self.assessed.append(session)
        done = {c.id for c in session.checks}
        found = replace(DIAGNOSIS, next=tuple(s for s in DIAGNOSIS.next if s.id not in done))
        return Assessment(SOOTY_ONE, found, OUTCOMES)

    def open_case(self, file: Path) -> OpenedCase:
        if self.case is None:
            raise UserError(f"{file} line 3: cylinders is 40", "give a number from 1 to 16")
        return self.case

    def save_case(self, session: Session, file: Path) -> None:
        self.saved_cases.append((session, file))

    def save_report(self, session: Session, assessment: Assessment, file: Path) -> None:
        self.saved_reports.append(file)


class StepRunner:
    """Keeps work until a test lets it happen, in any order the test likes."""

    def __init__(self) -> None:
        self.jobs: list = []

    def submit(self, work, done, failed) -> None:
        self.jobs.append((work, done, failed))

    def run(self, index: int = 0) -> None:
        """Let one piece of work happen."""
        work, done, failed = self.jobs.pop(index)
        try:
            answer = work()
        except Exception as error:
            failed(error)
        else:
            done(answer)

    def run_all(self) -> None:
        """Let everything happen, and what comes of it."""
        while self.jobs:
            self.run()


class FakeView:
    """Remembers the last thing it was told to show of each kind."""

    def __init__(self) -> None:
        self.page = ""
        self.start = (0, "")
        self.header = self.cards = self.comparison = self.follow_up = self.question = self.choice = None
        self.jobs = self.over_time = self.offer = None
        self.notices: tuple = ()

    def show_page(self, page) -> None:
        self.page = page

    def show_start(self, waiting, problem) -> None:
        self.start = (waiting, problem)

    def show_header(self, state) -> None:
        self.header = state

    def show_cards(self, states) -> None:
        self.cards = {s.cylinder: s for s in states}

    def show_comparison(self, state) -> None:
        self.comparison = state

    def show_follow_up(self, state) -> None:
        self.follow_up = state

    def show_notices(self, notices) -> None:
        self.notices = notices

    def show_question(self, question) -> None:
        self.question = question

    def show_choice(self, choice) -> None:
        self.choice = choice

    def show_jobs(self, state) -> None:
        self.jobs = state

    def show_over_time(self, state) -> None:
        self.over_time = state

    def show_offer(self, offer) -> None:
        self.offer = offer


def entry(cylinders: int = 4, **more) -> EngineEntry:
    """The form of the first page, filled in."""
    facts = {
        "name": "grey pickup",
        "layout": "single" if cylinders == 1 else "inline",
        "strokes": 4,
        "fuel_system": "port-injection",
        "ignition": "coil-per-plug",
        "firing_order": "",
        "complaint": "rough when cold",
    } | more
    return EngineEntry(cylinders=cylinders, **facts)


def case_of_four(*photos: PlacedPhoto, **more) -> OpenedCase:
    """A case of the in-line four."""
    return OpenedCase(Session(four(), "rough when cold", **more), photos)
