"""A job as it stands in the store."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from firingend.jobs.card import Fields, JobCard, Status, read_card


@dataclass(frozen=True, slots=True)
class Job:
    """One job at one revision.

    Attributes
    ----------
    id
        The same wherever the job goes.
    number
        What this store calls it.
    revision
        How many changes led here.
    opened_at, changed_at
        UTC.
    fields
        The card as plain values.
    """

    id: str
    number: int
    revision: int
    opened_at: datetime
    changed_at: datetime
    fields: Fields

    @property
    def card(self) -> JobCard:
        """The card, typed."""
        return read_card(self.fields)


@dataclass(frozen=True, slots=True)
class JobLine:
    """One job in a list."""

    id: str
    number: int
    revision: int
    opened_at: datetime
    changed_at: datetime
    status: Status
    name: str
    customer: str
    engine: str
    photos: int


@dataclass(frozen=True, slots=True)
class Query:
    """Which jobs to list: all that is given must hold.

    Attributes
    ----------
    words
        Beginnings of words of name, customer, engine, mark or complaint.
    engine, mark, customer, label, cause
        The whole of it, case aside.
    status
        One of the five.
    opened_from, opened_before
        UTC.
    before_number
        Jobs that come after this one in the list: its next page. A number there is no job of hides none.
    most
        Length of the list.
    """

    words: str = ""
    engine: str = ""
    mark: str = ""
    customer: str = ""
    label: str = ""
    cause: str = ""
    status: Status | None = None
    opened_from: datetime | None = None
    opened_before: datetime | None = None
    before_number: int | None = None
    most: int = 50
