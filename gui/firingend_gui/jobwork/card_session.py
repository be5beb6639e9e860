"""From a card to the session the window shows, and from what is wanted to the card's plain values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Final

from firingend.cases.case import Case
from firingend.cases.case import PlacedPhoto as CasePhoto
from firingend.cases.run import place_readings
from firingend.diagnosis.knowledge import Knowledge
from firingend.errors import CaseError
from firingend.jobs.as_case import case_of, narrowed, reading_field
from firingend.jobs.card import Fields, JobCard, JobPhoto, Json, Stage, TypedLabel, new_key, read_card, to_json
from firingend.jobs.store import KeptPhoto
from firingend.reading.reading import PhotoReading, Reading, Reason
from firingend_gui.casework import session_of
from firingend_gui.jobwork.wants import DropOutcome, Mark, PutPhoto, RecordOutcome, SetField, TakeOff, Want
from firingend_gui.session import Plug, Session

PHOTO_TROUBLE: Final[Mapping[str, str]] = {
    "missing": "The photo is missing from the store",
    "damaged": "The photo in the store is damaged",
    "absent": "The photo did not come along with the job",
}
"""What is wrong with a kept photograph, by its state."""

TROUBLE_REMEDY: Final = "firingend store check says how to mend it"


@dataclass(frozen=True, slots=True)
class Unread:
    """A photograph on the card that nobody has read yet: its key, and where it lies."""

    key: str
    file: Path
    name: str


@dataclass(frozen=True, slots=True)
class CardView:
    """A card at one stage as the window shows it.

    Attributes
    ----------
    session
        Engine, plugs and what was done.
    unread
        Photographs still to be read.
    nowhere
        Names of photographs that are on no cylinder.
    """

    session: Session
    unread: tuple[Unread, ...]
    nowhere: tuple[str, ...]


def view_of(card: JobCard, kept: Mapping[str, KeptPhoto], stage: Stage, knowledge: Knowledge) -> CardView:
    """Everything on a card at one stage.

    Raises
    ------
    CaseError
        The card says nothing about the engine.
    """
    case, _ = case_of(card, kept, stage)
    session = session_of(replace(case, photos=(), typed={}), knowledge)
    plugs: dict[int, Plug] = {}
    unread = []
    entries: list[tuple[str, JobPhoto | TypedLabel]] = [*card.photos.items(), *card.typed.items()]
    for key, entry in sorted(entries, key=lambda item: item[0]):
        if entry.stage != stage:
            continue
        if isinstance(entry, TypedLabel):
            if entry.cylinder in case.engine.cylinders:
                plugs[entry.cylinder] = replace(plugs.get(entry.cylinder, Plug()), mark=entry.label)
            continue
        plugs |= _plugs_of(card, key, kept.get(key))
        if key not in card.readings and key in kept and kept[key].state == "there" and entry.cylinders:
            unread.append(Unread(key, kept[key].file, entry.name))
    source = replace(case, photos=())
    nowhere = tuple(photo.name for photo in card.photos.values() if photo.stage == stage and not photo.cylinders)
    return CardView(replace(session, plugs=MappingProxyType(plugs), source=source), tuple(unread), nowhere)


def _plugs_of(card: JobCard, key: str, kept: KeptPhoto | None) -> dict[int, Plug]:
    """The plugs that one photograph shows."""
    photo = card.photos[key]
    assert card.engine is not None
    cylinders = tuple(cylinder for cylinder in photo.cylinders if cylinder in card.engine.cylinders)
    file = kept.file if kept is not None else Path(photo.name)
    trouble = PHOTO_TROUBLE.get(kept.state if kept is not None else "missing", "")
    if key not in card.readings:
        reason = Reason("photo", trouble or f"{photo.name} is being read", TROUBLE_REMEDY if trouble else "wait for it")
        return {cylinder: Plug(file=file, failure=reason, trouble=trouble) for cylinder in cylinders}
    reading = replace(card.readings[key].reading, file=file)
    case = Case(name="", engine=card.engine, photos=(CasePhoto(file, photo.cylinders, photo.across),))
    try:
        placed = place_readings(case, [reading])
    except CaseError as error:
        reason = Reason("photo", error.problem, error.remedy)
        return {cylinder: Plug(file=file, failure=reason, trouble=trouble) for cylinder in cylinders}
    return {cylinder: Plug(reading, _index(reading, seen), trouble=trouble) for cylinder, seen in placed.items()}


def _index(photo: PhotoReading, reading: Reading) -> int | None:
    return next((i for i, each in enumerate(photo.readings) if each is reading), None)


def fields_for(fields: Fields, want: Want, stage: Stage) -> dict[str, Json]:
    """Plain values by path that bring a want onto a card; a photograph's own entry is written by the store."""
    card = read_card(fields)
    match want:
        case PutPhoto():
            return _typed_off(card, want.cylinders, stage)
        case TakeOff():
            return _typed_off(card, (want.cylinder,), stage) | _photos_off(card, want.cylinder, stage)
        case Mark():
            return _marked(card, want, stage)
        case RecordOutcome():
            keys = _outcome_keys(card, want.outcome.check, want.outcome.where)
            # The same entry is written over, so that two who did the same check are told of each other.
            return {f"outcomes/{keys[-1] if keys else new_key()}": to_json("outcomes/a", want.outcome)}
        case DropOutcome():
            return {f"outcomes/{key}": None for key in _outcome_keys(card, want.check, want.where)}
        case SetField():
            return {want.path: want.value}


def photo_fields(key: str, want: PutPhoto, networks: str) -> dict[str, Json]:
    """The reading that goes with a photograph."""
    path, value = reading_field(key, want.reading, want.file.name[:500], networks)
    return {path: value}


def _marked(card: JobCard, want: Mark, stage: Stage) -> dict[str, Json]:
    off = _typed_off(card, (want.cylinder,), stage)
    if want.label is None:
        return off
    path = max(off, default=f"typed/{new_key()}")
    if off and _newest_photo(card, want.cylinder, stage) > path.partition("/")[2]:
        path = f"typed/{new_key()}"  # what is written down last counts
    label = TypedLabel(want.cylinder, want.label, want.sure, want.signs, stage)
    return off | {path: to_json("typed/a", label)}


def _newest_photo(card: JobCard, cylinder: int, stage: Stage) -> str:
    keys = (key for key, photo in card.photos.items() if photo.stage == stage and cylinder in photo.cylinders)
    return max(keys, default="")


def _typed_off(card: JobCard, cylinders: Iterable[int], stage: Stage) -> dict[str, Json]:
    return {
        f"typed/{key}": None
        for key, typed in card.typed.items()
        if typed.stage == stage and typed.cylinder in cylinders
    }


def _photos_off(card: JobCard, cylinder: int, stage: Stage) -> dict[str, Json]:
    """Take a plug out of every photograph at a stage; a photograph that shows no other goes altogether."""
    wanted: dict[str, Json] = {}
    for key, photo in card.photos.items():
        if photo.stage != stage or cylinder not in photo.cylinders:
            continue
        rest = tuple(each for each in photo.cylinders if each != cylinder)
        wanted[f"photos/{key}"] = to_json("photos/a", replace(photo, cylinders=rest)) if rest else None
        if key in card.readings:
            wanted[f"readings/{key}"] = _reading_of_rest(card, key, rest) if rest else None
    return wanted


def _reading_of_rest(card: JobCard, key: str, rest: tuple[int, ...]) -> Json:
    """The reading of the plugs that stay; one that did not fit its cylinders stays as it is."""
    kept = card.readings[key]
    try:
        reading = narrowed(card, key, kept.reading, rest)
    except CaseError:
        reading = kept.reading
    return to_json("readings/a", replace(kept, reading=reading))


def _outcome_keys(card: JobCard, check: str, where: str) -> tuple[str, ...]:
    return tuple(sorted(k for k, each in card.outcomes.items() if (each.check, each.where) == (check, where)))


def opening_fields(session: Session, base: Case) -> dict[str, Json]:
    """First fields of a card for an engine in hand, without its plugs, which are put on one by one."""
    from firingend.jobs.as_case import fields_of

    return dict(fields_of(replace(base, engine=session.engine, photos=(), typed={})))
