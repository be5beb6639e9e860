"""What a person did to the engine in hand, one piece at a time, so that it can be written on a card.

Two sessions one after the other are set against each other; what differs is wanted on the card.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from firingend.cases.case import DEFAULT_SURENESS, Case
from firingend.diagnosis.evidence import Outcome, RunBefore
from firingend.jobs.card import Json, to_json
from firingend.reading.reading import PhotoReading
from firingend_gui.arrivals import lies_across
from firingend_gui.session import Plug, Session


@dataclass(frozen=True, slots=True)
class PutPhoto:
    """A photograph on cylinders, with what was read of their plugs, in row order."""

    file: Path
    reading: PhotoReading
    cylinders: tuple[int, ...]
    across: bool


@dataclass(frozen=True, slots=True)
class TakeOff:
    """Photograph and label off a cylinder."""

    cylinder: int


@dataclass(frozen=True, slots=True)
class Mark:
    """A label by hand on a cylinder; None goes back to what the photograph says.

    ``sure`` and ``signs`` are as `TypedPlug` has them.
    """

    cylinder: int
    label: str | None
    sure: float = DEFAULT_SURENESS
    signs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RecordOutcome:
    """What came out of a check."""

    outcome: Outcome


@dataclass(frozen=True, slots=True)
class DropOutcome:
    """A check that was not done after all."""

    check: str
    where: str


@dataclass(frozen=True, slots=True)
class SetField:
    """A plain value at a path of the card; None takes it away."""

    path: str
    value: Json


Want = PutPhoto | TakeOff | Mark | RecordOutcome | DropOutcome | SetField


def wants_between(old: Session, new: Session) -> tuple[Want, ...]:
    """Everything that differs between two sessions of one engine."""
    return (*_plugs(old, new), *_checks(old, new), *_words(old, new))


def _plugs(old: Session, new: Session) -> Iterator[Want]:
    replaced: dict[Path, list[tuple[int, Plug]]] = {}
    marks = []
    for cylinder in new.engine.cylinders:
        before, after = old.plugs.get(cylinder, Plug()), new.plugs.get(cylinder)
        if after is None:
            if cylinder in old.plugs:
                yield TakeOff(cylinder)
            continue
        fresh = after.photo is not None and _shown(after) != _shown(before)
        if fresh and after.photo is not None:
            replaced.setdefault(after.photo.file, []).append((cylinder, after))
        if after.mark != (None if fresh else before.mark):
            marks.append(_mark(new, cylinder, after.mark))
    for file, plugs in replaced.items():
        yield _put(file, plugs)
    # Labels after photographs: a photograph takes older labels off its cylinders.
    yield from marks


def _mark(session: Session, cylinder: int, label: str | None) -> Mark:
    """A label by hand; one that a case file holds keeps how sure it was, and its signs."""
    typed = session.source.typed.get(cylinder) if isinstance(session.source, Case) else None
    if typed is not None and typed.label == label:
        return Mark(cylinder, label, typed.sure, typed.signs)
    return Mark(cylinder, label)


def _shown(plug: Plug) -> tuple[Path, int | None] | None:
    return (plug.photo.file, plug.index) if plug.photo is not None else None


def _put(file: Path, plugs: list[tuple[int, Plug]]) -> PutPhoto:
    """The photograph with just those of its firing ends that lie on cylinders."""
    row = sorted(plugs, key=lambda item: item[1].index or 0)
    photo = row[0][1].photo
    assert photo is not None
    readings = tuple(plug.seen for _, plug in row if plug.seen is not None)
    return PutPhoto(
        file, replace(photo, readings=readings), tuple(cylinder for cylinder, _ in row), lies_across(readings)
    )


def _checks(old: Session, new: Session) -> Iterator[Want]:
    before = {(check.id, check.where): check.outcome for check in old.checks}
    after = {(check.id, check.where): check.outcome for check in new.checks}
    for (check, where), outcome in after.items():
        if before.get((check, where)) != outcome:
            yield RecordOutcome(Outcome(check, where, outcome))
    for check, where in before:
        if (check, where) not in after:
            yield DropOutcome(check, where)


def _words(old: Session, new: Session) -> Iterator[Want]:
    if new.complaint != old.complaint:
        yield SetField("complaint", new.complaint)
    if new.run != old.run:
        yield SetField("run", None if new.run == RunBefore() else to_json("run", new.run))
    for symptom in sorted({*old.symptoms, *new.symptoms}):
        if old.symptoms.get(symptom) != new.symptoms.get(symptom):
            yield SetField(f"symptoms/{symptom}", new.symptoms.get(symptom))
