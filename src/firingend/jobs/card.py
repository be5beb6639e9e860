"""The job card: what is written down about one engine in the shop."""

from __future__ import annotations

import json
import re
import secrets
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from typing import Annotated, Any, ClassVar, Final, Literal

from pydantic import ConfigDict, Field, StringConstraints, TypeAdapter, ValidationError

from firingend.bench.measurement import Measurement
from firingend.cases.case import DEFAULT_SURENESS, TypedPlug
from firingend.diagnosis.evidence import Outcome, RunBefore
from firingend.engine.build import build_engine
from firingend.engine.engine import Engine
from firingend.errors import CaseError, UserError
from firingend.labels import LABELS, SIGNS, UNREADABLE
from firingend.reading.reading import PhotoReading

Status = Literal["open", "waiting", "fixed", "proved", "closed"]
Stage = Literal["before", "after", "later"]

STATUSES: Final[tuple[Status, ...]] = ("open", "waiting", "fixed", "proved", "closed")
STAGES: Final[tuple[Stage, ...]] = ("before", "after", "later")
"""When plugs were looked at: as the engine came in, after the repair, some time later."""

SHA256: Final = "^[0-9a-f]{64}$"
LONGEST_TEXT: Final = 20_000

_CONTROLS: Final = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]")
Line = Annotated[str, StringConstraints(max_length=500, pattern=r"^[^\n\t]*$")]
Text = Annotated[str, StringConstraints(max_length=LONGEST_TEXT)]
Hash = Annotated[str, StringConstraints(pattern=SHA256)]
Cylinders = Annotated[tuple[Annotated[int, Field(ge=0, le=999)], ...], Field(max_length=16)]
Minor = Annotated[int, Field(ge=0, le=10**12)]
Currency = Annotated[str, StringConstraints(pattern="^[A-Z]{3}$")]

_STRICT: Final = ConfigDict(extra="forbid", strict=True)


@dataclass(frozen=True, slots=True)
class JobPhoto:
    """One photograph on the card.

    Attributes
    ----------
    sha256
        Hash of its bytes, which is also its name in the store.
    name
        What the file was called.
    cylinders
        Whose plugs it shows, in row order; empty when nobody has said.
    across
        True when the row runs left to right, False when it runs top to bottom.
    stage
        When it was taken, as seen from the repair.
    taken
        The camera's clock, without time zone; None when the file does not say.
    """

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT

    sha256: Hash
    name: Line
    cylinders: Cylinders = ()
    across: bool = True
    stage: Stage = "before"
    taken: datetime | None = None


@dataclass(frozen=True, slots=True)
class JobReading:
    """What the reader made of a photograph on the card.

    Attributes
    ----------
    reading
        Without the outlines of its zones, which can be had again at will.
    networks
        Version of the networks that read it; may be empty.
    """

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT

    reading: PhotoReading
    networks: Line = ""


@dataclass(frozen=True, slots=True)
class TypedLabel:
    """What a person saw on one plug."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT

    cylinder: Annotated[int, Field(ge=0, le=999)]
    label: Line
    sure: Annotated[float, Field(ge=0.2, le=1)] = DEFAULT_SURENESS
    signs: Annotated[tuple[Line, ...], Field(max_length=20)] = ()
    stage: Stage = "before"

    def as_plug(self) -> TypedPlug:
        """As a case takes it."""
        return TypedPlug(self.label, self.sure, self.signs)


@dataclass(frozen=True, slots=True)
class Part:
    """A part used: what it is, how many, what they cost together in minor units (cents) of the job's currency."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT

    name: Line
    count: Annotated[int, Field(ge=1, le=10_000)] = 1
    cost_minor: Minor = 0


@dataclass(frozen=True, slots=True)
class Work:
    """Working time: what was done and how many minutes it took."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT

    what: Line
    minutes: Annotated[float, Field(ge=0, le=100_000, allow_inf_nan=False)]


@dataclass(frozen=True, slots=True)
class Note:
    """Free text."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT

    text: Text


@dataclass(frozen=True, slots=True)
class Cause:
    """A cause found or ruled out: its id or the technician's words, and where."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT

    cause: Line
    where: Line = "engine"


@dataclass(frozen=True, slots=True)
class Rates:
    """What an hour of work costs, in minor units (cents) of a currency."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT

    hour_minor: Minor = 6000
    currency: Currency = "EUR"


@dataclass(frozen=True, slots=True)
class JobCard:
    """Everything on the card at one moment.

    Attributes
    ----------
    name
        What the job is called.
    customer
        Customer reference, free text; may be empty.
    engine
        The engine; None when nobody has said.
    mark
        What tells this engine from others of its kind, such as an inventory number; may be empty.
    complaint
        In the customer's words.
    fixed
        What was repaired, in words; may be empty.
    symptoms
        Symptom id to present (True) or absent (False).
    photos, readings
        By key; a reading has the key of its photograph.
    typed, outcomes, measurements, found, ruled_out, parts, work, notes
        By key; keys sort in the order in which things were written down.
    """

    name: str = "job"
    customer: str = ""
    engine: Engine | None = None
    mark: str = ""
    complaint: str = ""
    status: Status = "open"
    fixed: str = ""
    run: RunBefore = field(default_factory=RunBefore)
    rates: Rates = field(default_factory=Rates)
    symptoms: Mapping[str, bool] = field(default_factory=dict)
    photos: Mapping[str, JobPhoto] = field(default_factory=dict)
    readings: Mapping[str, JobReading] = field(default_factory=dict)
    typed: Mapping[str, TypedLabel] = field(default_factory=dict)
    outcomes: Mapping[str, Outcome] = field(default_factory=dict)
    measurements: Mapping[str, Measurement] = field(default_factory=dict)
    found: Mapping[str, Cause] = field(default_factory=dict)
    ruled_out: Mapping[str, Cause] = field(default_factory=dict)
    parts: Mapping[str, Part] = field(default_factory=dict)
    work: Mapping[str, Work] = field(default_factory=dict)
    notes: Mapping[str, Note] = field(default_factory=dict)

    @property
    def minutes(self) -> float:
        """Working time of the job."""
        return sum(work.minutes for work in self.work.values())

    @property
    def spent_minor(self) -> int:
        """What parts and working time cost, in minor units of the job's currency."""
        parts = sum(part.cost_minor for part in self.parts.values())
        return parts + round(self.minutes * self.rates.hour_minor / 60)


SINGLE: Final[Mapping[str, Any]] = {
    "name": Line,
    "customer": Line,
    "engine": Engine,
    "mark": Line,
    "complaint": Text,
    "status": Status,
    "fixed": Text,
    "run": RunBefore,
    "rates": Rates,
}
"""Fields of the card that hold one thing, and its type."""

MANY: Final[Mapping[str, Any]] = {
    "symptoms": bool,
    "photos": JobPhoto,
    "readings": JobReading,
    "typed": TypedLabel,
    "outcomes": Outcome,
    "measurements": Measurement,
    "found": Cause,
    "ruled_out": Cause,
    "parts": Part,
    "work": Work,
    "notes": Note,
}
"""Fields that hold many things by key, and the type of one."""

Json = Any
Fields = Mapping[str, Json]
"""A card as plain JSON values by path: ``status``, ``photos/0192ab…``."""

_KEY: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,79}")


def new_key() -> str:
    """A key no other program makes at the same moment; keys sort by the time they were made."""
    return f"{time.time_ns() // 1000:014x}-{secrets.token_hex(4)}"


def to_json(path: str, value: object) -> Json:
    """A typed value as plain JSON, checked against what the path may hold.

    Examples
    --------
    >>> to_json("notes/a", Note("Plug 3 cross-threaded"))
    {'text': 'Plug 3 cross-threaded'}
    """
    return check_json(path, _adapter(path).dump_python(value, mode="json"))


def check_json(path: str, value: Json) -> Json:
    """The same value in its one plain form, or an error that names the path.

    Raises
    ------
    CaseError
        There is no such path, or the value does not fit it.
    """
    _check_texts(path, value)
    typed = from_json(path, value)
    plain = _adapter(path).dump_python(typed, mode="json")
    if unknown := _unknown_key(value, plain):
        raise CaseError(f'{path} has a key "{unknown}" that is not known', "leave it out")
    return plain


def from_json(path: str, value: Json) -> Any:  # noqa: ANN401 - the type is the path's
    """What a path holds, typed."""
    try:
        found = _adapter(path).validate_json(json.dumps(value, allow_nan=False), strict=True)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(step) for step in first["loc"])
        raise CaseError(f"{path}{'.' + where if where else ''}: {first['msg']}", "correct the value") from error
    except (ValueError, RecursionError) as error:
        raise CaseError(f"{path} holds what is no plain value", "correct the value") from error
    return _CHECKS.get(path.partition("/")[0], _as_it_is)(path, found)


def read_card(fields: Fields) -> JobCard:
    """The card of plain values; a value that does not fit is an error that names its path."""
    found: dict[str, Any] = {}
    for path in sorted(fields):
        name, _, key = path.partition("/")
        value = from_json(path, fields[path])
        if key:
            found.setdefault(name, {})[key] = value
        else:
            found[name] = value
    return JobCard(**found)


@cache
def _type_adapter(name: str) -> TypeAdapter[Any]:
    return TypeAdapter(SINGLE[name] if name in SINGLE else MANY[name])


def _adapter(path: str) -> TypeAdapter[Any]:
    name, slash, key = path.partition("/")
    fits = (name in MANY and _KEY.fullmatch(key)) if slash else name in SINGLE
    if not fits:
        raise CaseError(f'a job card has no field "{path[:100]}"', "correct the name of the field")
    return _type_adapter(name)


def _check_texts(path: str, value: Json) -> None:
    """Refuse characters that databases, pages and spreadsheets disagree about, and endless texts."""
    if isinstance(value, str):
        if len(value) > LONGEST_TEXT:
            raise CaseError(f"{path} is longer than {LONGEST_TEXT} characters", "shorten it")
        if _CONTROLS.search(value):
            raise CaseError(f"{path} holds control characters", "leave them out")
    elif isinstance(value, dict):
        for key, inner in value.items():
            _check_texts(path, key)
            _check_texts(path, inner)
    elif isinstance(value, list):
        for inner in value:
            _check_texts(path, inner)


def _unknown_key(given: Json, known: Json) -> str | None:
    """A key of ``given`` that validation dropped."""
    if isinstance(given, dict) and isinstance(known, dict):
        for key, value in given.items():
            if key not in known:
                return str(key)[:100]
            if inner := _unknown_key(value, known[key]):
                return inner
    elif isinstance(given, list) and isinstance(known, list):
        for one, other in zip(given, known, strict=False):
            if inner := _unknown_key(one, other):
                return inner
    return None


def _as_it_is(path: str, value: Any) -> Any:  # noqa: ANN401
    return value


def _check_engine(path: str, engine: Engine) -> Engine:
    """Refuse an engine whose facts contradict each other."""
    try:
        built = build_engine(
            engine.cylinders,
            name=engine.name,
            layout=engine.layout,
            strokes=engine.strokes,
            fuel_system=engine.fuel_system,
            ignition=engine.ignition,
            firing_order=engine.firing_order,
            banks={bank.name: bank.cylinders for bank in engine.banks} if len(engine.banks) > 1 else {},
            shared=engine.shared,
            one_each=("coil", "carburettor", "throttle-body", "fuel-rail", "head"),
            aircraft=engine.aircraft,
        )
    except UserError as error:
        raise CaseError(f"{path}: {error.problem}", error.remedy) from error
    return built


def _check_typed(path: str, typed: TypedLabel) -> TypedLabel:
    if typed.label not in (*LABELS, UNREADABLE):
        raise CaseError(f'{path}: there is no label "{typed.label}"', f"use one of {', '.join(LABELS)}")
    if unknown := set(typed.signs) - set(SIGNS):
        raise CaseError(f'{path}: there is no sign "{min(unknown)}"', f"use one of {', '.join(SIGNS)}")
    return typed


def _check_reading(path: str, kept: JobReading) -> JobReading:
    for reading in kept.reading.readings:
        if reading.label not in (*LABELS, UNREADABLE) or set(reading.probabilities) != set(LABELS):
            raise CaseError(f"{path}: a reading needs the five labels", "correct the value")
        total = sum(reading.probabilities.values())
        if not (abs(total - 1) < 0.01 and min(reading.probabilities.values()) >= 0):
            raise CaseError(f"{path}: the probabilities of a reading do not sum to 1", "correct the value")
    return kept


_CHECKS: Final[Mapping[str, Callable[[str, Any], Any]]] = {
    "engine": _check_engine,
    "typed": _check_typed,
    "readings": _check_reading,
}

__all__ = [
    "MANY",
    "SINGLE",
    "STAGES",
    "STATUSES",
    "Cause",
    "Fields",
    "JobCard",
    "JobPhoto",
    "JobReading",
    "Note",
    "Part",
    "Rates",
    "Stage",
    "Status",
    "TypedLabel",
    "Work",
    "check_json",
    "from_json",
    "new_key",
    "read_card",
    "to_json",
]
