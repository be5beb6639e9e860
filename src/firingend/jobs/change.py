"""Changes to a card: each says what was and what is, so that any state can be had and any change taken back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from firingend.errors import BugError
from firingend.jobs.card import Fields, Json


@dataclass(frozen=True, slots=True)
class Edit:
    """One field of the card before and after, as plain JSON; None where it was or is not there."""

    path: str
    before: Json
    after: Json


@dataclass(frozen=True, slots=True)
class Change:
    """One step in the life of a card.

    Attributes
    ----------
    revision
        1 for the first; no gaps.
    at
        When, in UTC.
    who
        Initials, free; may be empty.
    what
        In words, such as ``note added``.
    edits
        Each path once.
    undoes
        Revision that this change takes back, or None.
    """

    revision: int
    at: datetime
    who: str
    what: str
    edits: tuple[Edit, ...]
    undoes: int | None = None


def edits_between(fields: Fields, wanted: Mapping[str, Json]) -> tuple[Edit, ...]:
    """What changes when ``wanted`` is written over ``fields``; None takes a field away.

    Examples
    --------
    >>> edits_between({"status": "open"}, {"status": "fixed", "mark": None})
    (Edit(path='status', before='open', after='fixed'),)
    """
    return tuple(
        Edit(path, fields.get(path), after) for path, after in sorted(wanted.items()) if fields.get(path) != after
    )


def apply(fields: Fields, edits: Iterable[Edit]) -> dict[str, Json]:
    """The fields after some edits."""
    after = dict(fields)
    for edit in edits:
        if edit.after is None:
            after.pop(edit.path, None)
        else:
            after[edit.path] = edit.after
    return after


def replay(changes: Iterable[Change]) -> dict[str, Json]:
    """The fields that a card's changes add up to, from the first on."""
    fields: dict[str, Json] = {}
    for number, change in enumerate(changes, start=1):
        if change.revision != number:
            raise BugError(f"change {change.revision} follows change {number - 1}")
        fields = apply(fields, change.edits)
    return fields


def inverse(change: Change) -> tuple[Edit, ...]:
    """The edits that take a change back."""
    return tuple(Edit(edit.path, edit.after, edit.before) for edit in change.edits)


def conflicts(fields: Fields, edits: Iterable[Edit]) -> tuple[str, ...]:
    """Paths whose value is no longer what an edit saw, nor already what it wants.

    Examples
    --------
    >>> conflicts({"status": "closed"}, [Edit("status", "open", "fixed")])
    ('status',)
    """
    return tuple(
        edit.path for edit in edits if fields.get(edit.path) != edit.before and fields.get(edit.path) != edit.after
    )


def last_undoable(changes: Sequence[Change]) -> Change | None:
    """The latest change that was neither taken back nor takes one back; the first, which opens the job, stays."""
    taken_back = {change.undoes for change in changes}
    for change in reversed(changes):
        if change.revision > 1 and change.undoes is None and change.revision not in taken_back:
            return change
    return None
