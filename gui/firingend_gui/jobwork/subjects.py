"""What a change on a card is about: two people who change the same subject must be told.

A path alone does not say it: two labels by hand for one cylinder have two keys, and are about one plug.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from firingend.jobs.card import Json, Stage
from firingend.jobs.change import Change
from firingend.report.words import LABEL_WORDS
from firingend_gui.jobwork.wants import DropOutcome, Mark, PutPhoto, RecordOutcome, SetField, TakeOff, Want

Subject = tuple[str, ...]


def of_want(want: Want, stage: Stage) -> frozenset[Subject]:
    """Subjects of something a person did while this stage was shown."""
    match want:
        case PutPhoto():
            return frozenset(_plug(stage, cylinder) for cylinder in want.cylinders)
        case TakeOff() | Mark():
            return frozenset({_plug(stage, want.cylinder)})
        case RecordOutcome():
            return frozenset({_check(want.outcome.check, want.outcome.where)})
        case DropOutcome():
            return frozenset({_check(want.check, want.where)})
        case SetField():
            return frozenset({(want.path,)})


def of_change(change: Change) -> frozenset[Subject]:
    """Subjects of a change in the store."""
    return frozenset(
        subject
        for edit in change.edits
        for value in (edit.before, edit.after)
        if value is not None
        for subject in _of_value(edit.path, value)
    )


def clashing(changes: Iterable[Change], wants: Iterable[Want], stage: Stage) -> tuple[Change, ...]:
    """The changes that are about something wanted as well."""
    mine = frozenset(subject for want in wants for subject in of_want(want, stage))
    return tuple(change for change in changes if of_change(change) & mine)


def _of_value(path: str, value: Json) -> Iterator[Subject]:
    name = path.partition("/")[0]
    if name == "photos":
        yield from (_plug(value["stage"], cylinder) for cylinder in value["cylinders"])
    elif name == "typed":
        yield _plug(value["stage"], value["cylinder"])
    elif name == "outcomes":
        yield _check(value["check"], value["where"])
    elif name != "readings":  # goes with its photograph
        yield (path,)


def _plug(stage: str, cylinder: int) -> Subject:
    return "plug", stage, str(cylinder)


def _check(check: str, where: str) -> Subject:
    return "check", check, where


LONGEST_SAID = 60
"""Letters of a value that are quoted where two changes are set against each other."""


def said_in_change(change: Change) -> str:
    """What a change wrote, in a few words; empty where that is no matter of words."""
    return _joined(_said(edit.after) for edit in change.edits if not edit.path.startswith("readings/"))


def said_in_wants(wants: Iterable[Want]) -> str:
    """What is wanted, in a few words; empty where that is no matter of words."""
    said = []
    for want in wants:
        match want:
            case Mark():
                said.append(_said(want.label))
            case RecordOutcome():
                said.append(_said(want.outcome.outcome))
            case SetField():
                said.append(_said(want.value))
    return _joined(said)


def _said(value: Json) -> str:
    if isinstance(value, dict):
        value = next((value[key] for key in ("label", "outcome", "text", "cause", "what", "name") if key in value), "")
    words = LABEL_WORDS.get(value, value) if isinstance(value, str) else ""
    return words if len(words) <= LONGEST_SAID else words[: LONGEST_SAID - 1] + "…"


def _joined(said: Iterable[str]) -> str:
    return ", ".join(words for words in said if words)
