"""The main window: puts the panels together and turns what they say into calls of the controller."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

from PySide6.QtCore import QSettings, QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QFrame, QMainWindow, QScrollArea, QScroller, QStackedWidget, QVBoxLayout, QWidget

from firingend_gui import asking
from firingend_gui.appearance import Look
from firingend_gui.controller import Controller
from firingend_gui.job_links import JobLinks
from firingend_gui.jobwork.shelf import Shelf
from firingend_gui.menus import build_menus
from firingend_gui.parts.complaint import ComplaintWindow
from firingend_gui.parts.dropping import dropped_files, offers_files
from firingend_gui.parts.followup import FollowUpPanel
from firingend_gui.parts.header import Header
from firingend_gui.parts.jobs_page import JobsPage
from firingend_gui.parts.messages import ChoicePanel, NoticePanel, OfferPanel, QuestionPanel
from firingend_gui.parts.outlines import OutlineSwitch
from firingend_gui.parts.over_time import OverTimePage
from firingend_gui.parts.photo_window import PhotoWindow
from firingend_gui.parts.picture import PictureStore
from firingend_gui.parts.row import PlugRow
from firingend_gui.parts.start import StartPage
from firingend_gui.parts.together import TogetherPanel
from firingend_gui.runner import PoolRunner
from firingend_gui.services import Services
from firingend_gui.states import (
    CardState,
    ChoiceState,
    ComparisonState,
    FollowUpState,
    HeaderState,
    JobListState,
    NoticeState,
    OfferState,
    OverTimeState,
    Page,
    QuestionState,
)

PAGES: Final[tuple[Page, ...]] = ("start", "plugs", "jobs", "over-time")
LEAST_PICTURE: Final = 200
MOST_PICTURE: Final = 520
PICTURE_SHARE: Final = 0.4
TAKEN: Final = 270
"""Pictures get this share of the window's height less this many pixels, so that on a small screen the sentence
under them is still in sight, and on a large one the first check."""


class MainWindow(QMainWindow):
    """The window. It is the controller's view, and its owner.

    Parameters
    ----------
    services
        The library.
    look, settings
        Appearance, and where the window remembers its place.
    demos
        Words and case file of each example to offer.
    shelf
        The store of job cards; None for a viewer that keeps none.
    """

    def __init__(
        self,
        services: Services,
        look: Look,
        settings: QSettings,
        demos: tuple[tuple[str, Path], ...] = (),
        shelf: Shelf | None = None,
    ) -> None:
        super().__init__()
        self.setWindowTitle("firingend")
        self.setAccessibleName("firingend")
        self.setAcceptDrops(True)
        self.setMinimumSize(QSize(720, 480))
        self.settings = settings
        self.look = look
        self.ask: asking.Asks = asking.FileDialogs(self, settings)
        self.runner = PoolRunner(self)
        self.outlines = OutlineSwitch(settings)
        self.store = PictureStore(services, self.runner, self.outlines)
        self._build(demos, jobs=shelf is not None)
        self.controller = Controller(self, services, self.runner, shelf)
        self._connect()
        self.job_links = JobLinks(self, self.controller) if shelf is not None else None
        build_menus(self)
        self._restore()

    # Building

    def _build(self, demos: tuple[tuple[str, Path], ...], *, jobs: bool) -> None:
        self.header = Header(jobs=jobs)
        self.notices = NoticePanel()
        self.choice = ChoicePanel()
        self.question = QuestionPanel(self.store)
        self.offer = OfferPanel(self.store)
        self.start_page = StartPage(demos, jobs=jobs)
        self.row = PlugRow(self.store)
        self.together = TogetherPanel()
        self.follow_up = FollowUpPanel()
        plugs = QWidget()
        column = QVBoxLayout(plugs)
        column.setContentsMargins(0, 0, 6, 0)
        column.setSpacing(12)
        for panel in (self.row, self.together, self.follow_up):
            column.addWidget(panel)
        column.addStretch(1)
        self.plugs_page = _scrolling(plugs, "Plugs and checks")
        self.pages = QStackedWidget()
        self.pages.addWidget(_scrolling(self.start_page, "Start"))
        self.pages.addWidget(self.plugs_page)
        self.jobs_page = JobsPage(self.settings)
        self.pages.addWidget(self.jobs_page)
        self.over_time = OverTimePage(self.store)
        self.over_time_page = _scrolling(self.over_time, "Plugs and jobs over time")
        self.pages.addWidget(self.over_time_page)
        middle = QWidget()
        outer = QVBoxLayout(middle)
        outer.setContentsMargins(12, 8, 12, 8)
        outer.setSpacing(8)
        outer.addWidget(self.header)
        outer.addWidget(self.notices)
        outer.addWidget(self.choice)
        outer.addWidget(self.offer)
        outer.addWidget(self.question)
        outer.addWidget(self.pages, 1)
        self.setCentralWidget(middle)

    def _connect(self) -> None:
        controller = self.controller
        self.header.add_photos.connect(self.choose_photos)
        self.header.edit_complaint.connect(self.edit_complaint)
        self.header.save_report.connect(self.save_report)
        self.header.undo.connect(controller.undo)
        self.header.turn_outlines.connect(self.outlines.turn)
        self.outlines.changed.connect(lambda: self.header.show_outlines(self.outlines.on))
        self.header.show_outlines(self.outlines.on)
        self.notices.put_away.connect(controller.notices.put_away)
        self.question.answered.connect(controller.answer_question)
        self.start_page.described.connect(controller.describe_engine)
        self.start_page.open_case.connect(self.open_case)
        self.start_page.open_demo.connect(controller.open_case)
        self.start_page.choose_photos.connect(self.choose_photos)
        self.row.open_photo.connect(self.open_photo)
        self.row.choose_photo.connect(self.choose_photo)
        self.row.drop_photos.connect(lambda cylinder, files: controller.add_photos(files, cylinder))
        self.row.mark.connect(controller.mark)
        self.row.remove.connect(controller.remove)
        self.follow_up.outcome_chosen.connect(controller.record_outcome)
        self.follow_up.undo_wanted.connect(controller.undo)
        self.follow_up.ranked_anew.connect(self._bring_into_sight)
        for position in range(9):
            shortcut = QShortcut(QKeySequence(f"Alt+{position + 1}"), self)
            shortcut.activated.connect(lambda position=position: self.row.focus_card(position))

    def _restore(self) -> None:
        geometry = self.settings.value("window/geometry")
        if geometry is None or not self.restoreGeometry(geometry):
            self.resize(QSize(1360, 900).boundedTo(self.screen().availableSize()))

    # What the controller shows

    def show_page(self, page: Page) -> None:
        """Show one of the pages."""
        self.pages.setCurrentIndex(PAGES.index(page))
        self.header.setVisible(page == "plugs")
        if page == "start":
            self.start_page.name.setFocus()
        elif page == "jobs":
            self.jobs_page.words.setFocus()
        elif page == "over-time":
            self.over_time_page.verticalScrollBar().setValue(0)
            self.over_time.back_button.setFocus()
        else:
            self.plugs_page.verticalScrollBar().setValue(0)
            self.header.first.setFocus()

    def show_start(self, waiting: int, problem: str) -> None:
        """Say what the start page has to say."""
        self.start_page.show_start(waiting, problem)

    def show_header(self, state: HeaderState) -> None:
        """Show engine and complaint."""
        self.header.show_state(state)
        self.setWindowTitle(f"{state.title} · firingend" if state.can_save else "firingend")

    def show_cards(self, states: tuple[CardState, ...]) -> None:
        """Show the row of plugs."""
        self.row.show_cards(states)

    def show_comparison(self, state: ComparisonState) -> None:
        """Show what the cylinders say together."""
        self.together.show_state(state)

    def show_follow_up(self, state: FollowUpState) -> None:
        """Show checks and causes."""
        self.follow_up.show_state(state)

    def show_notices(self, notices: tuple[NoticeState, ...]) -> None:
        """Show messages."""
        self.notices.show_notices(notices)

    def show_question(self, question: QuestionState | None) -> None:
        """Ask, or stop asking."""
        self.question.show_question(question)

    def show_choice(self, choice: ChoiceState | None) -> None:
        """Ask what must be decided about the job card, or stop asking."""
        self.choice.show_choice(choice)

    def show_jobs(self, state: JobListState) -> None:
        """Show the list of jobs."""
        self.jobs_page.show_state(state)

    def show_over_time(self, state: OverTimeState) -> None:
        """Show before beside after, and the engine's history."""
        self.over_time.show_state(state)

    def show_offer(self, offer: OfferState | None) -> None:
        """Offer photographs of the watched folder, or stop offering."""
        self.offer.show_offer(offer)

    def show_last_page(self) -> None:
        """Go back to the plugs, or to the first page where there is no engine."""
        self.show_page("plugs" if self.controller.session is not None else "start")

    # What a person wants that needs a window of its own

    def new_engine(self) -> None:
        """Begin with another engine."""
        self.when_kept(lambda: self.controller.new_engine() if self.may_leave() else None)

    def open_case(self) -> None:
        """Ask for a case file and open it."""

        def ask() -> None:
            if self.may_leave() and (file := self.ask.case_to_open()) is not None:
                self.controller.open_case(file)

        self.when_kept(ask)

    def save_case(self) -> bool:
        """Ask where to and save the case; False when the person thought better of it."""
        if self.controller.session is None:
            return False
        file = self.ask.case_to_save()
        if file is None:
            return False
        self.controller.save_case(file)
        return True

    def save_report(self) -> None:
        """Ask where to and save the report."""
        if self.controller.session is not None and (file := self.ask.report_to_save()) is not None:
            self.controller.save_report(file)

    def choose_photos(self) -> None:
        """Ask for photographs for the next free cylinders."""
        if files := self.ask.photos():
            self.controller.add_photos(files)

    def choose_photo(self, cylinder: int) -> None:
        """Ask for a photograph for one cylinder."""
        if files := self.ask.photos():
            self.controller.add_photos(files, cylinder)

    def open_photo(self, cylinder: int) -> None:
        """Open the whole photograph of a cylinder."""
        state = self.row.cards[cylinder].state
        if state is not None and state.picture is not None:
            PhotoWindow(self, self.store, state.picture, state.title, state.spoken, state.swatch).show()

    def edit_complaint(self) -> None:
        """Open the window for complaint and symptoms."""
        session = self.controller.session
        if session is None:
            return
        window = ComplaintWindow(self, session, self.controller.symptoms)
        window.settled.connect(self.controller.set_complaint)
        window.show()

    def when_kept(self, act: Callable[[], None]) -> None:
        """Do something that leaves the engine in hand, once what is being written on its card has been written."""
        if self.job_links is not None:
            self.job_links.when_kept(act)
        else:
            act()

    def may_leave(self) -> bool:
        """Whether the engine in hand may be left: nothing would be lost, or the person says so."""
        return not self.controller.unsaved or self.ask.may_leave()

    def move_region(self, by: int) -> None:
        """Move the focus to the next or previous part of the window."""
        regions = self._regions()
        if not regions:
            return
        now = self.focusWidget()
        at = next((i for i, (part, _) in enumerate(regions) if now is not None and _within(part, now)), -1)
        _, target = regions[(at + by) % len(regions)] if at >= 0 else regions[0]
        target.setFocus(Qt.FocusReason.TabFocusReason)
        self.plugs_page.ensureWidgetVisible(target)

    def _bring_into_sight(self, card: QWidget) -> None:
        """Scroll to a card once its place is known."""
        QTimer.singleShot(0, card, lambda: self.plugs_page.ensureWidgetVisible(card))

    def _regions(self) -> list[tuple[QWidget, QWidget]]:
        """Each part in sight with the widget in it that takes the focus."""
        cards = list(self.row.cards.values())
        steps = self.follow_up.step_cards
        parts: list[tuple[QWidget, QWidget | None]] = [
            (self.header, self.header.first),
            (self.notices, self.notices.first),
            (self.question, next(iter(self.question.buttons.values()), None)),
            (self.choice, next(iter(self.choice.buttons.values()), None)),
            (self.offer, self.offer.add),
            (self.start_page, self.start_page.name),
            (self.jobs_page, self.jobs_page.words),
            (self.over_time, self.over_time.back_button),
            (self.row, cards[0].picture if cards else None),
            (self.together, self.together),
            (self.follow_up, steps[0].toggle if steps else None),
        ]
        return [(part, to) for part, to in parts if to is not None and part.isVisible()]

    # Qt's own events

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files anywhere."""
        if offers_files(event.mimeData()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Open a dropped case, or put dropped photographs on the next free cylinders."""
        files = dropped_files(event.mimeData())
        cases = [f for f in files if f.suffix.lower() == ".toml"]
        if cases:
            self.when_kept(lambda: self.controller.open_case(cases[0]) if self.may_leave() else None)
        elif files:
            self.controller.add_photos(files)
            self.show_last_page()
        event.acceptProposedAction()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Give the pictures their share of the height."""
        super().resizeEvent(event)
        share = round((self.height() - TAKEN) * PICTURE_SHARE)
        self.row.set_picture_height(min(max(share, LEAST_PICTURE), MOST_PICTURE))

    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask once if something would be lost, then stop all work."""
        if self.job_links is not None and self.job_links.closes_later():
            event.ignore()
            return
        if not self.may_leave():
            event.ignore()
            return
        self.settings.setValue("window/geometry", self.saveGeometry())
        self.runner.close()
        super().closeEvent(event)


def _within(part: QWidget, widget: QWidget) -> bool:
    return part is widget or part.isAncestorOf(widget)


def _scrolling(inside: QWidget, name: str) -> QScrollArea:
    area = QScrollArea()
    area.setAccessibleName(name)
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setWidget(inside)
    QScroller.grabGesture(area.viewport(), QScroller.ScrollerGestureType.TouchGesture)
    return area
