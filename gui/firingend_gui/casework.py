"""Between a session of the viewer and a case of the library."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from firingend.cases.case import Case, PlacedPhoto, TypedPlug
from firingend.diagnosis.evidence import Outcome
from firingend.diagnosis.knowledge import Knowledge
from firingend.reading.reading import PhotoReading
from firingend_gui.arrivals import lies_across
from firingend_gui.session import Plug, RecordedCheck, Session

LEAST_SURE = 0.2
"""A case file takes no label that is less sure than one of five."""

_REPAIR = "repair:"


def session_of(case: Case, knowledge: Knowledge) -> Session:
    """What a case file says, without its photographs, which are still to be read."""
    return Session(
        engine=case.engine,
        complaint=case.complaint,
        name=case.name,
        symptoms=dict(case.symptoms),
        run=case.run,
        plugs={cylinder: Plug(mark=plug.label) for cylinder, plug in case.typed.items()},
        checks=tuple(_recorded(outcome, knowledge) for outcome in case.outcomes),
        source=case,
    )


def _recorded(outcome: Outcome, knowledge: Knowledge) -> RecordedCheck:
    if outcome.check.startswith(_REPAIR):
        cause = knowledge.causes.get(outcome.check.removeprefix(_REPAIR))
        name = f"Repair: {cause.name}" if cause else outcome.check
        words = outcome.outcome.replace("-", " ")
    else:
        check = knowledge.checks.get(outcome.check)
        name = check.name if check else outcome.check
        words = check.outcomes.get(outcome.outcome, outcome.outcome) if check else outcome.outcome
    return RecordedCheck(outcome.check, name, outcome.where, outcome.outcome, words)


def case_and_photos(session: Session) -> tuple[Case, tuple[PhotoReading, ...]]:
    """A case with one photograph a cylinder, and the one reading that was put on it.

    A photograph of a row stands there once for each of its cylinders, so that a person may put only some of its
    firing ends on cylinders, and give a label by hand to one of them.
    """
    photos, readings = [], []
    for cylinder, plug in _photographed(session).items():
        assert plug.photo is not None
        seen = (plug.seen,) if plug.seen is not None else ()
        photos.append(PlacedPhoto(plug.photo.file, (cylinder,)))
        readings.append(replace(plug.photo, readings=seen))
    return replace(base_case(session), photos=tuple(photos), typed=_typed(session)), tuple(readings)


def case_of(session: Session) -> Case:
    """A case as a case file can hold it: every photograph whole, with the cylinders its firing ends belong to.

    A photograph of several plugs of which only some are used, or of which one was labelled by hand, cannot be
    written down so; its plugs are then kept as labels with the probability the reader gave them.
    """
    groups: dict[Path, list[tuple[int, Plug]]] = {}
    for cylinder, plug in _photographed(session).items():
        assert plug.photo is not None
        groups.setdefault(plug.photo.file, []).append((cylinder, plug))
    photos, typed = [], dict(_typed(session))
    for file, plugs in groups.items():
        placed = _whole_row(file, plugs)
        if placed is not None:
            photos.append(placed)
        else:
            typed |= {cylinder: _as_typed(plug) for cylinder, plug in plugs}
    photos += _failed(session, groups)
    return replace(base_case(session), photos=tuple(photos), typed=typed)


def _photographed(session: Session) -> dict[int, Plug]:
    return {
        n: session.plugs[n]
        for n in session.engine.cylinders
        if n in session.plugs and session.plugs[n].photo is not None and session.plugs[n].mark is None
    }


def _failed(session: Session, known: Mapping[Path, object]) -> list[PlacedPhoto]:
    """Photographs that could not be read this time are still part of the case."""
    rows: dict[Path, list[int]] = {}
    for cylinder, plug in session.plugs.items():
        if plug.failure is not None and plug.file is not None and plug.mark is None and plug.file not in known:
            rows.setdefault(plug.file, []).append(cylinder)
    source = session.source.photos if isinstance(session.source, Case) else ()
    stated = {photo.file: photo for photo in source}
    return [stated.get(file, PlacedPhoto(file, tuple(row))) for file, row in rows.items()]


def base_case(session: Session) -> Case:
    """Everything about the engine in hand but its plugs, on top of what its case file held."""
    source = session.source
    return replace(
        source if isinstance(source, Case) else Case(name=session.name or session.engine.name, engine=session.engine),
        engine=session.engine,
        complaint=session.complaint,
        symptoms=dict(session.symptoms),
        run=session.run,
        outcomes=tuple(Outcome(c.id, c.where, c.outcome) for c in session.checks),
    )


def _typed(session: Session) -> dict[int, TypedPlug]:
    """Labels given by hand; one that the case file already held keeps how sure it was and its signs."""
    before = session.source.typed if isinstance(session.source, Case) else {}
    typed = {}
    for cylinder, plug in session.plugs.items():
        if plug.mark is not None:
            old = before.get(cylinder)
            typed[cylinder] = old if old is not None and old.label == plug.mark else TypedPlug(plug.mark)
    return typed


def _whole_row(file: Path, plugs: list[tuple[int, Plug]]) -> PlacedPhoto | None:
    """The photograph with its cylinders in row order; None when not every firing end is on a cylinder."""
    photo = plugs[0][1].photo
    assert photo is not None
    if not photo.readings and len(plugs) == 1:
        return PlacedPhoto(file, (plugs[0][0],))
    by_index = {plug.index: cylinder for cylinder, plug in plugs}
    if set(by_index) != set(range(len(photo.readings))) or len(plugs) != len(photo.readings):
        return None
    row = tuple(by_index[i] for i in range(len(photo.readings)))
    return PlacedPhoto(file, row, across=lies_across(photo.readings))


def _as_typed(plug: Plug) -> TypedPlug:
    reading = plug.seen
    if reading is None:
        return TypedPlug("unreadable")
    sure = max(LEAST_SURE, min(1.0, reading.probabilities.get(reading.label, 1.0)))
    return TypedPlug(reading.label, sure)
