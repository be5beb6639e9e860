"""What the controller asks of the window: one call for each thing shown."""

from __future__ import annotations

from typing import Protocol

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


class View(Protocol):
    """The window; every call is made on the thread that owns it."""

    def show_page(self, page: Page) -> None:
        """Show the start page or the plugs."""
        ...

    def show_start(self, waiting: int, problem: str) -> None:
        """Say on the start page how many photographs wait for an engine, and what is wrong with the form."""
        ...

    def show_header(self, state: HeaderState) -> None:
        """Show engine, complaint and what can be done."""
        ...

    def show_cards(self, states: tuple[CardState, ...]) -> None:
        """Show the row of plugs."""
        ...

    def show_comparison(self, state: ComparisonState) -> None:
        """Show what the cylinders say together."""
        ...

    def show_follow_up(self, state: FollowUpState) -> None:
        """Show checks and causes."""
        ...

    def show_notices(self, notices: tuple[NoticeState, ...]) -> None:
        """Show messages, oldest first."""
        ...

    def show_question(self, question: QuestionState | None) -> None:
        """Ask, or stop asking."""
        ...

    def show_choice(self, choice: ChoiceState | None) -> None:
        """Ask what must be decided about the job card, or stop asking."""
        ...

    def show_jobs(self, state: JobListState) -> None:
        """Show the list of jobs."""
        ...

    def show_over_time(self, state: OverTimeState) -> None:
        """Show before beside after, and the engine's history."""
        ...

    def show_offer(self, offer: OfferState | None) -> None:
        """Offer photographs of the watched folder, or stop offering."""
        ...
