"""The exception family: what the user can mend, and what is our own bug."""

from __future__ import annotations


class FiringendError(Exception):
    """Base of every error this project raises on purpose."""


class UserError(FiringendError):
    """Something the user can mend; the message says what is wrong and what to do about it.

    Parameters
    ----------
    problem
        What is wrong, naming the file, line or key, as one sentence without a full stop.
    remedy
        What to do about it, as one sentence without a full stop.

    Examples
    --------
    >>> str(UserError("plug3.jpg is empty (0 bytes)", "copy it from the phone again"))
    'plug3.jpg is empty (0 bytes): copy it from the phone again'
    """

    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(f"{problem}: {remedy}" if remedy else problem)
        self.problem = problem
        self.remedy = remedy


class PhotoError(UserError):
    """A photograph that cannot be read."""


class CaseError(UserError):
    """A case file that does not say what it must; names the line or key."""


class KnowledgeError(UserError):
    """A knowledge file that is inconsistent; names the entry."""


class BugError(FiringendError):
    """A state that only a mistake in this project can produce."""
