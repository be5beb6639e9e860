"""What can go wrong with the record, each with what to do about it."""

from __future__ import annotations

from firingend.errors import UserError


class StoreError(UserError):
    """The store cannot be opened, read or written."""


class NewerStoreError(StoreError):
    """The database was written by a newer version of the program."""


class BundleError(UserError):
    """A bundle that is not what it must be; the store was left as it was."""


class ConflictError(UserError):
    """Somebody else has changed the same thing since it was looked at.

    Attributes
    ----------
    paths
        What both changed, such as ``status``.
    """

    def __init__(self, problem: str, remedy: str, paths: tuple[str, ...]) -> None:
        super().__init__(problem, remedy)
        self.paths = paths
