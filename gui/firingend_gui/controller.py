"""What happens when a person does something, or when slow work comes back. Knows no Qt."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from firingend.diagnosis.evidence import RunBefore
from firingend.errors import UserError
from firingend_gui import presenting
from firingend_gui.assessing import Assessing
from firingend_gui.history import History
from firingend_gui.intake import Intake
from firingend_gui.jobwork import presenting as jobs
from firingend_gui.jobwork.desk import JobDesk
from firingend_gui.jobwork.keeper import Keeper, Shows
from firingend_gui.jobwork.shelf import Opening, Shelf
from firingend_gui.notices import Notices
from firingend_gui.running import Runner
from firingend_gui.services import Assessment, Choice, EngineEntry, OpenedCase, Services
from firingend_gui.session import RecordedCheck, Session
from firingend_gui.states import FollowUpState, OutcomeState, StepState
from firingend_gui.view import View

if TYPE_CHECKING:
    from firingend.jobs.card import Stage

T = TypeVar("T")


class Controller:
    """Turns intentions into sessions and sessions into what the view shows.

    Parameters
    ----------
    view
        The window, or something that stands for it in a test.
    services
        The library.
    runner
        Runs slow work and hands answers back.
    shelf
        The store of job cards; None for a viewer that keeps none.
    """

    def __init__(self, view: View, services: Services, runner: Runner, shelf: Shelf | None = None) -> None:
        self._view = view
        self._services = services
        self._runner = runner
        self._history = History()
        self._held: tuple[Path, ...] = ()
        self._symptoms: tuple[Choice, ...] = ()
        self._opening = 0
        self._slow = 0
        self.notices = Notices(view.show_notices)
        self._assessing = Assessing(services, runner, self._show_assessment, self.notices.tell)
        self._intake = Intake(services, runner, self._history, self.notices, self._changed, view.show_question)
        self.keeper: Keeper | None = None
        self.desk: JobDesk | None = None
        if shelf is not None:
            shows = Shows(self._job_arrived, self._job_changed, view.show_choice)
            self.keeper = Keeper(shelf, services.read_photo, runner, self._history, self.notices, shows)
            self.desk = JobDesk(view, shelf, runner, self.keeper, self.notices, self.add_photos)

    # What the window may look at

    @property
    def session(self) -> Session | None:
        """The engine in hand, None before there is one."""
        return self._history.now

    @property
    def symptoms(self) -> tuple[Choice, ...]:
        """Symptoms a person can choose from."""
        return self._symptoms

    @property
    def busy(self) -> bool:
        """Whether anything slow is still on its way."""
        keeping = self.desk is not None and self.desk.busy
        return bool(self._intake.reading or self._slow) or self._assessing.working or keeping

    @property
    def unsaved(self) -> bool:
        """Whether leaving now would lose something."""
        if self.keeper is not None and self.keeper.job is not None:
            return self.keeper.not_kept or self._intake.under_way > 0
        return self._history.unsaved

    # Beginning

    def start(self, case: Path | None = None) -> None:
        """Show the first page, or open a case."""
        self._view.show_page("start")
        self._view.show_start(0, "")
        self._show_header()
        self._slowly(self._services.symptoms, self._remember_symptoms)
        if case is not None:
            self.open_case(case)

    def new_engine(self) -> None:
        """Leave the engine in hand and go back to the first page."""
        self._opening += 1
        self._leave(None)
        self._view.show_page("start")
        self._view.show_start(len(self._held), "")
        self._show_header()

    def describe_engine(self, entry: EngineEntry) -> None:
        """Take the form of the first page; photographs dropped there go to the cylinders."""
        try:
            engine = self._services.build_engine(entry)
        except UserError as error:
            self._view.show_start(len(self._held), str(error))
            return
        self._leave(Session(engine, entry.complaint.strip()))
        self._view.show_page("plugs")
        self._changed()
        held, self._held = self._held, ()
        if held:
            self.add_photos(held)

    def open_case(self, file: Path) -> None:
        """Load a case file; the engine in hand stays until it has been loaded."""
        self._opening += 1
        number = self._opening

        def opened(case: OpenedCase) -> None:
            if number != self._opening:
                return
            self._leave(case.session, saved=True)
            self._view.show_page("plugs")
            self._intake.add_placed(case.photos)

        self._slowly(lambda: self._services.open_case(file), opened)

    def open_job(self, which: int | str) -> None:
        """Open a job card; the engine in hand stays until it has been loaded."""
        self._opening += 1
        if self.keeper is not None:
            self.keeper.open(which)

    def keep_as_job(self, opening: Opening) -> None:
        """Open a job for the engine in hand."""
        if self.keeper is not None and self.session is not None and self.keeper.job is None:
            self.keeper.begin(self.session, opening)

    def choose_stage(self, stage: Stage) -> None:
        """Show the plugs of another stage, unless photographs for this one are still on their way."""
        if self.keeper is None:
            return
        if self._intake.under_way:
            self.notices.problem(
                "Photos are still on their way to their cylinders", "Choose the plugs again once they are there"
            )
        else:
            self.keeper.choose_stage(stage)
        self._show_header()

    def likely_causes(self) -> tuple[tuple[str, str, str], ...]:
        """Id, name and place of the causes that are in question, likeliest first."""
        latest = self._assessing.latest
        found = latest.diagnosis.causes if latest is not None else ()
        # A place is kept by its name alone, "coil A", without the cylinders that are said beside it.
        return tuple((cause.id, cause.name, cause.where.partition(" (")[0]) for cause in found)

    def _leave(self, session: Session | None, *, saved: bool = False) -> None:
        if self.keeper is not None:
            self.keeper.close()
        self._intake.clear()
        self._assessing.forget()
        self._history.begin(session, saved=saved)
        self.notices.clear()

    # Plugs

    def add_photos(self, files: Sequence[Path], cylinder: int | None = None) -> None:
        """Take photographs for one cylinder, or for the next free ones; before there is an engine, keep them."""
        if self.session is None:
            self._held = tuple(dict.fromkeys((*self._held, *files)))
            self._view.show_start(len(self._held), "")
            return
        self._intake.add(files, cylinder)

    def answer_question(self, key: str) -> None:
        """Take the answer to the question about a photograph with several firing ends."""
        self._intake.answer(key)

    def mark(self, cylinder: int, label: str | None) -> None:
        """Put a label on a plug by hand; None goes back to what the photograph says."""
        if self.session is None:
            return
        words = f"label of cylinder {cylinder}"
        self._change(self.session.with_mark(cylinder, label), words)

    def remove(self, cylinder: int) -> None:
        """Take photograph and label off a cylinder."""
        if self.session is None:
            return
        self._intake.forget_cylinder(cylinder)
        if cylinder in self.session.plugs:
            self._change(self.session.with_plug(cylinder, None), f"removal on cylinder {cylinder}")
        else:
            self._changed()

    # Complaint and checks

    def set_complaint(self, complaint: str, present: Sequence[str], run: RunBefore) -> None:
        """Write down complaint, symptoms and how the engine ran last; symptoms asked for and absent are kept."""
        session = self.session
        if session is None:
            return
        absent = {s: False for s, there in session.symptoms.items() if not there and s not in present}
        symptoms = {**absent, **dict.fromkeys(present, True)}
        if (complaint.strip(), symptoms, run) != (session.complaint, dict(session.symptoms), session.run):
            changed = replace(session, complaint=complaint.strip(), symptoms=symptoms, run=run)
            self._change(changed, "complaint")

    def record_outcome(self, step: StepState, outcome: OutcomeState) -> None:
        """Write down what came out of a check; the rest is ranked again."""
        if self.session is None:
            return
        check = RecordedCheck(step.id, step.name, step.where, outcome.id, outcome.words)
        self._change(self.session.with_check(check), f"outcome of {step.name}")

    def undo(self) -> None:
        """Take back the last change: of a job, the last one in the store, whoever made it and whenever."""
        if self.keeper is not None and self.keeper.job is not None:
            self.keeper.undo()
        elif self._history.undo():
            self._changed()

    # Files

    def save_case(self, file: Path) -> None:
        """Write the case file."""
        session = self.session
        if session is None:
            return

        def saved(_: None) -> None:
            self._history.mark_saved(session)
            self.notices.note(f"Case saved as {file}")

        self._slowly(lambda: self._services.save_case(session, file), saved)

    def save_report(self, file: Path) -> None:
        """Write the report of what is known by the time the current work is done."""
        session = self.session
        if session is None:
            return

        def write(assessment: Assessment | None) -> None:
            if assessment is None:
                self.notices.problem("There is nothing to report yet", "Add photos of the plugs first")
                return
            self._slowly(
                lambda: self._services.save_report(session, assessment, file),
                lambda _: self.notices.note(f"Report saved as {file}"),
            )

        self._assessing.when_settled(write)

    # The job card

    def _job_arrived(self) -> None:
        """Make way for another job or another stage of one."""
        self._intake.clear()
        self._assessing.forget()
        self.notices.clear()
        self._view.show_page("plugs")

    def _job_changed(self) -> None:
        self._changed()
        self._show_header()

    # Inside

    def _slowly(self, work: Callable[[], T], done: Callable[[T], None]) -> None:
        """Run something elsewhere, counting it as work under way."""
        self._slow += 1

        def finish(answer: T) -> None:
            self._slow -= 1
            done(answer)

        def fail(error: Exception) -> None:
            self._slow -= 1
            self.notices.tell(error)

        self._runner.submit(work, finish, fail)

    def _remember_symptoms(self, choices: tuple[Choice, ...]) -> None:
        self._symptoms = choices
        self._show_header()

    def _change(self, session: Session, words: str) -> None:
        self._history.change(session, words)
        self._changed()

    def _changed(self) -> None:
        """Show the session in hand, and have it assessed once every photograph in it has been read."""
        session = self.session
        if session is None:
            return
        if self.keeper is not None:
            self.keeper.keep(session, self._history.undo_words)
        if not session.plugs:
            self._assessing.forget()
        elif not self._intake.reading:
            self._assessing.request(session)
        self._show_assessment()

    def _show_assessment(self) -> None:
        session = self.session
        self._show_header()
        if session is None:
            return
        latest, working = self._assessing.latest, self._assessing.working or bool(self._intake.reading)
        self._view.show_cards(
            presenting.cards(session, self._intake.waiting_cylinders(), latest, self._intake.asked_cylinders())
        )
        self._view.show_comparison(presenting.comparison(session, latest, working))
        self._view.show_follow_up(self._follow_up(session, latest, working))

    def _show_header(self) -> None:
        words = {choice.id: choice.words for choice in self._symptoms}
        keeper = self.keeper if self.keeper is not None and self.keeper.job is not None else None
        undo = keeper.undo_words if keeper is not None else self._history.undo_words
        job = jobs.head(keeper) if keeper is not None else None
        self._view.show_header(presenting.header(self.session, words, undo, self._intake.reading, job))

    def _follow_up(self, session: Session, latest: Assessment | None, working: bool) -> FollowUpState:
        if self.keeper is None or self.keeper.job is None:
            return presenting.follow_up(session, latest, working)
        shown = presenting.follow_up(session, latest, working, self.keeper.stage)
        return replace(shown, card=jobs.on_the_card(self.keeper.job.card))
