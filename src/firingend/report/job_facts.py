"""What a shop has written down about a job, as a report takes it in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from firingend.cases.case import CaseResult


@dataclass(frozen=True, slots=True)
class Named:
    """A cause, by its id or in the technician's words, and where."""

    cause: str
    where: str


@dataclass(frozen=True, slots=True)
class Worked:
    """What was done and how many minutes it took."""

    what: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Used:
    """Parts of one kind and what they cost together, in the job's currency."""

    name: str
    count: int
    cost: float


@dataclass(frozen=True, slots=True)
class Look:
    """The plugs at a later time: ``when`` in words such as "after the repair", and what they showed then."""

    when: str
    result: CaseResult


@dataclass(frozen=True, slots=True)
class JobFacts:
    """A job besides its plugs.

    Attributes
    ----------
    number
        What the shop calls the job.
    status
        ``open``, ``waiting``, ``fixed``, ``proved`` or ``closed``.
    found, ruled_out
        Causes.
    fixed
        What was repaired, in words; may be empty.
    rate, spent
        What an hour of work and the whole job cost, in ``currency``.
    digits
        Digits after the point that amounts in the currency have.
    later
        The plugs after the repair and later still.
    """

    number: int
    status: str
    opened: date
    customer: str = ""
    mark: str = ""
    found: tuple[Named, ...] = ()
    ruled_out: tuple[Named, ...] = ()
    fixed: str = ""
    work: tuple[Worked, ...] = ()
    parts: tuple[Used, ...] = ()
    rate: float = 0.0
    spent: float = 0.0
    currency: str = ""
    digits: int = 2
    notes: tuple[str, ...] = ()
    later: tuple[Look, ...] = ()

    @property
    def minutes(self) -> float:
        """Working time."""
        return sum(work.minutes for work in self.work)

    @property
    def repaired(self) -> bool:
        """Whether the work is over."""
        return self.status in ("fixed", "proved", "closed")
