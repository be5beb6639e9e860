"""What the troubleshooter knows: causes, checks, symptoms and their numbers, loaded from TOML and checked."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, ClassVar, Final

from pydantic import ConfigDict, TypeAdapter, ValidationError

from firingend.diagnosis.places import Scope
from firingend.errors import KnowledgeError
from firingend.labels import LABELS, SIGNS

SHIPPED: Final = Path(__file__).parent / "knowledge"
SHOP_FILES: Final = "FIRINGEND_KNOWLEDGE"
"""Environment variable that names a shop's own files, separated as in PATH."""
FLOOR: Final = 0.001
"""No label and no outcome is ever impossible: every stated probability is at least this."""
_STRICT = ConfigDict(extra="forbid", frozen=True)


@dataclass(frozen=True, slots=True)
class Applies:
    """On which engines an entry makes sense; an empty list means on all."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    fuel: tuple[str, ...] = ()
    ignition: tuple[str, ...] = ()
    strokes: tuple[int, ...] = ()
    layout: tuple[str, ...] = ()
    min_cylinders: int = 1


@dataclass(frozen=True, slots=True)
class Symptom:
    """Something the driver or rider notices.

    ``leak`` is the probability that a complaint engine shows it without any listed fault raising it; ``also``
    are other words for the same thing; ``ask`` is the question to put.
    """

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    id: str
    name: str
    leak: float
    source: str
    also: tuple[str, ...] = ()
    ask: str = ""


@dataclass(frozen=True, slots=True)
class Opening:
    """Work that has to be done once before several checks or repairs can be: tank off, plugs out."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    id: str
    name: str
    minutes: float
    source: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A safety caution in full sentences."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    id: str
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Profile:
    """What a plug shows: probability of each label, and the chance that each sign is raised."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    id: str
    labels: Mapping[str, float]
    source: str
    signs: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Shift:
    """How the last running condition changes what a plug shows: from label to label with a probability."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    id: str
    moves: Mapping[str, Mapping[str, float]]
    says: str
    source: str


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that can be wrong.

    Attributes
    ----------
    scope
        Where it can sit: the whole engine, a bank, a shared part, a cylinder, two neighbours, the ends.
    weight
        How often it is met at one such place, relative to the other causes.
    plug
        Id of the profile its cylinders show; ``healthy`` when it leaves the plugs alone.
    signs
        Chance that it raises a sign on its cylinders, over and above the profile's.
    symptoms
        Chance that it alone raises a symptom (a noisy-OR strength).
    repair, minutes, parts
        How to put it right, working time, and cost of parts in the shop's currency.
    confirmed_by
        Checks that settle it.
    """

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    id: str
    name: str
    scope: Scope
    weight: float
    plug: str
    repair: str
    minutes: float
    parts: float
    source: str
    confirmed_by: tuple[str, ...] = ()
    symptoms: Mapping[str, float] = field(default_factory=dict)
    signs: Mapping[str, float] = field(default_factory=dict)
    applies: Applies = Applies()
    opens: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that can be looked at, listened to, measured or tried.

    Attributes
    ----------
    where
        The scope at which it is done once.
    outcomes
        Outcome id to plain words; the first is the one without a finding.
    otherwise
        Probability of each outcome when none of the causes below is at that place.
    given
        Probability of each outcome under a cause at that place, by cause id.
    given_profile
        The same for every cause with that plug profile that ``given`` does not name.
    minutes, more, parts
        Working time for one place and for each further place done in the same go (the same when left out),
        and what it uses up in the shop's currency.
    opens
        Opening work that must be done first.
    """

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    id: str
    name: str
    where: Scope
    outcomes: Mapping[str, str]
    otherwise: tuple[float, ...]
    minutes: float
    how: tuple[str, ...]
    source: str
    given: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    given_profile: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    parts: float = 0.0
    more: float | None = None
    tools: tuple[str, ...] = ()
    opens: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    applies: Applies = Applies()
    also: tuple[str, ...] = ()
    also_outcomes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class General:
    """Numbers that belong to no single entry.

    Attributes
    ----------
    two_faults
        Share of faulty engines that have two faults at once.
    healthy, nothing_listed
        Prior weight that nothing is wrong; that something is wrong which no cause describes. Both against the
        summed weights of the causes on that engine.
    nothing_listed_symptom, nothing_listed_finding
        Chance that an unlisted fault raises any one symptom; that it makes any one check come out at random.
    sign_leak, sign_prior
        Chance of a sign without a fault behind it; how common the reader took each sign to be.
    settle_minutes
        Running time in minutes after which half of the plugs have taken on their colour.
    hand_over
        Cost of handing the engine to a specialist, in the shop's currency.
    test_minutes
        Working time of the run that shows whether a repair worked.
    reread_minutes
        Working time of a proper run and a second reading of the plugs, where nothing seems wrong.
    repair_works
        Probability that a repair of the true cause cures it.
    """

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    two_faults: float
    healthy: float
    nothing_listed: float
    nothing_listed_symptom: float
    nothing_listed_finding: float
    sign_leak: float
    sign_prior: float
    settle_minutes: float
    hand_over: float
    test_minutes: float
    reread_minutes: float
    repair_works: float
    source: str


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Everything loaded, by id."""

    general: General
    causes: Mapping[str, Cause]
    checks: Mapping[str, Check]
    symptoms: Mapping[str, Symptom]
    profiles: Mapping[str, Profile]
    openings: Mapping[str, Opening]
    cautions: Mapping[str, Caution]
    shifts: Mapping[str, Shift]

    def symptom_id(self, said: str) -> str:
        """The symptom a technician's words mean; raises `KnowledgeError` when there is none."""
        return _by_any_name(said, self.symptoms, "symptom")

    def check_id(self, said: str) -> str:
        """The check a technician's words mean; raises `KnowledgeError` when there is none."""
        return _by_any_name(said, self.checks, "check")

    def cause_id(self, said: str) -> str:
        """The cause a technician's words mean; raises `KnowledgeError` when there is none."""
        return _by_any_name(said, self.causes, "cause")

    def outcome_id(self, check: str, said: str) -> str:
        """The outcome of one check that a technician's words mean; raises `KnowledgeError` when there is none."""
        entry = self.checks[check]
        word = kebab(said)
        if word in entry.outcomes:
            return word
        by_name = {kebab(text): key for key, text in entry.outcomes.items()}
        by_name |= {kebab(other): key for other, key in entry.also_outcomes.items()}
        if word in by_name:
            return by_name[word]
        if word in _PASSED:
            return next(iter(entry.outcomes))
        if word in _FAILED and len(entry.outcomes) == 2:
            return list(entry.outcomes)[1]
        near = [key for key in entry.outcomes if _shares_words(word, key)]
        if len(near) == 1:
            return near[0]
        raise KnowledgeError(f'check "{check}" has no outcome "{said}"', "say one of: " + ", ".join(entry.outcomes))


_PASSED: Final = frozenset({"ok", "pass", "passed", "good", "normal", "fine", "in-order", "nothing-found"})
_FAILED: Final = frozenset({"bad", "fail", "failed", "faulty", "fault", "out-of-range", "abnormal", "not-ok"})
_TABLES: Final[dict[str, TypeAdapter[Any]]] = {
    "cause": TypeAdapter(Cause),
    "check": TypeAdapter(Check),
    "symptom": TypeAdapter(Symptom),
    "profile": TypeAdapter(Profile),
    "opening": TypeAdapter(Opening),
    "caution": TypeAdapter(Caution),
    "shift": TypeAdapter(Shift),
}
_GENERAL: Final = TypeAdapter(General)


def kebab(text: str) -> str:
    """Lower case with hyphens: how ids are written.

    Examples
    --------
    >>> kebab("Fuel pressure (at idle)")
    'fuel-pressure-at-idle'
    """
    return "-".join("".join(c if c.isalnum() else " " for c in text.lower().replace("'", "")).split())


def _shares_words(said: str, key: str) -> bool:
    """Whether one of the two has all the words of the other, unless one of them denies and the other does not.

    Examples
    --------
    >>> _shares_words("pressure-too-high", "high"), _shares_words("no-leak", "leak")
    (True, False)
    """
    one, two = set(said.split("-")), set(key.split("-"))
    denied = {"no", "not", "none", "without"}
    return (one <= two or two <= one) and bool(one & denied) == bool(two & denied)


def _by_any_name(said: str, entries: Mapping[str, Any], kind: str) -> str:
    word = kebab(said)
    if word in entries:
        return word
    for key, entry in entries.items():
        if word == kebab(entry.name) or word in {kebab(other) for other in entry.also}:
            return key
    import difflib

    near = difflib.get_close_matches(word, list(entries), n=4, cutoff=0.4)
    raise KnowledgeError(
        f'no {kind} is called "{said}"',
        f"did you mean {', '.join(near)}" if near else f"see the list of {kind}s in the knowledge files",
    )


def load(extra: Iterable[Path] = ()) -> Knowledge:
    """Load the shipped knowledge and a shop's own files on top of it.

    Parameters
    ----------
    extra
        TOML files in the same form. An entry with an id that exists changes only the keys it gives. When none is
        given, the files named by the environment variable ``FIRINGEND_KNOWLEDGE`` are taken, if it is set.

    Raises
    ------
    KnowledgeError
        A file cannot be read, or an entry is not consistent; names file, entry and key.
    """
    files = tuple(Path(path) for path in extra)
    if not files:
        files = tuple(Path(name) for name in os.environ.get(SHOP_FILES, "").split(os.pathsep) if name)
    return _load_laid_over(files)


@lru_cache(maxsize=8)
def _load_known(files: tuple[Path, ...], changed: tuple[int, ...]) -> Knowledge:
    """``changed`` makes an edited file count as another one."""
    return _load_files(tuple(sorted(SHIPPED.glob("*.toml"))) + files)


def _load_laid_over(files: tuple[Path, ...]) -> Knowledge:
    try:
        changed = tuple(file.stat().st_mtime_ns for file in files)
    except OSError as error:
        raise KnowledgeError(f"{error.filename} cannot be read ({error.strerror})", "check the path") from error
    return _load_known(files, changed)


def _load_files(files: tuple[Path, ...]) -> Knowledge:
    raw: dict[str, dict[str, dict[str, Any]]] = {table: {} for table in _TABLES}
    origin: dict[tuple[str, str], Path] = {}
    general: dict[str, Any] = {}
    for file in files:
        document = _parse(file)
        source = document.pop("source", None)
        if not isinstance(source, str) or not source.strip():
            raise KnowledgeError(
                f"{file.name} does not say where its numbers come from",
                'put source = "common practice, no source" or a publication at the top',
            )
        if "general" in document:
            general |= {"source": source, **document.pop("general")}
        for table, entries in document.items():
            if table not in _TABLES or not isinstance(entries, dict):
                raise KnowledgeError(
                    f'{file.name}: there is no table "{table}"', "use one of: general, " + ", ".join(_TABLES)
                )
            for key, entry in entries.items():
                if not isinstance(entry, dict):
                    raise KnowledgeError(f"{file.name}: {table}.{key} is not a table", f"write [{table}.{key}]")
                raw[table][key] = {**raw[table].get(key, {"source": source}), "id": key, **entry}
                origin[table, key] = file
    built = {
        table: {key: _build(table, key, entry, origin[table, key]) for key, entry in entries.items()}
        for table, entries in raw.items()
    }
    knowledge = Knowledge(
        general=_validated(_GENERAL, general, "general", SHIPPED),
        causes=built["cause"],
        checks=built["check"],
        symptoms=built["symptom"],
        profiles=built["profile"],
        openings=built["opening"],
        cautions=built["caution"],
        shifts=built["shift"],
    )
    _Consistency(knowledge, origin).check()
    return knowledge


def _parse(file: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise KnowledgeError(f"{file} cannot be read ({error})", "check the path and save it as UTF-8") from error
    except tomllib.TOMLDecodeError as error:
        raise KnowledgeError(f"{file.name} is not valid TOML: {error}", "mend that line") from error


def _build(table: str, key: str, entry: dict[str, Any], file: Path) -> Any:  # noqa: ANN401
    if kebab(key) != key:
        raise KnowledgeError(f'{file.name}: id "{key}" is not in lower case with hyphens', f'call it "{kebab(key)}"')
    return _validated(_TABLES[table], entry, f"{table}.{key}", file)


def _validated(adapter: TypeAdapter[Any], entry: dict[str, Any], what: str, file: Path) -> Any:  # noqa: ANN401
    try:
        return adapter.validate_python(entry)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        key = ".".join(str(part) for part in first["loc"])
        raise KnowledgeError(f"{file.name}: {what}: key {key}: {first['msg'].lower()}", "mend that key") from error


class _Consistency:
    """Checks that need more than one entry: references, sums, ranges."""

    def __init__(self, knowledge: Knowledge, origin: Mapping[tuple[str, str], Path]) -> None:
        self.k = knowledge
        self.origin = origin

    def check(self) -> None:
        if "healthy" not in self.k.profiles:
            raise KnowledgeError('there is no profile "healthy"', "add [profile.healthy]")
        for symptom in self.k.symptoms.values():
            self._chance("symptom", symptom.id, "leak", symptom.leak, low=FLOOR, high=0.9)
        for profile in self.k.profiles.values():
            self._profile(profile)
        for cause in self.k.causes.values():
            self._cause(cause)
        for check in self.k.checks.values():
            self._check(check)

    def _fail(self, table: str, entry: str, key: str, problem: str, remedy: str) -> None:
        file = self.origin.get((table, entry))
        name = f"{file.name}: " if file else ""
        raise KnowledgeError(f"{name}{table}.{entry}: key {key}: {problem}", remedy)

    def _known(self, table: str, entry: str, key: str, said: Iterable[str], known: Iterable[str]) -> None:
        have = set(known)
        for word in said:
            if word not in have:
                self._fail(table, entry, key, f'"{word}" is not known', "spell it as it is listed, or add it")

    def _chance(self, table: str, entry: str, key: str, value: float, low: float = 0.0, high: float = 0.999) -> None:
        if not low <= value <= high:
            self._fail(table, entry, key, f"{value} is not between {low} and {high}", "give a probability")

    def _row(self, table: str, entry: str, key: str, row: Iterable[float], size: int) -> None:
        values = tuple(row)
        if len(values) != size:
            self._fail(table, entry, key, f"{len(values)} numbers for {size} outcomes", "give one an outcome")
        for value in values:
            self._chance(table, entry, key, value, low=FLOOR)
        if abs(sum(values) - 1.0) > 1e-6:
            self._fail(table, entry, key, f"the numbers sum to {sum(values):.6g}", "make them sum to 1")

    def _positive(self, table: str, entry: str, **values: float) -> None:
        for key, value in values.items():
            if not 0 <= value < 1e7:
                self._fail(table, entry, key, f"{value} is not a cost, time or weight", "give a number from 0 up")

    def _profile(self, profile: Profile) -> None:
        self._known("profile", profile.id, "labels", profile.labels, LABELS)
        self._row("profile", profile.id, "labels", profile.labels.values(), len(LABELS))
        self._known("profile", profile.id, "signs", profile.signs, SIGNS)
        for sign, value in profile.signs.items():
            self._chance("profile", profile.id, f"signs.{sign}", value)

    def _cause(self, cause: Cause) -> None:
        k = self.k
        self._known("cause", cause.id, "plug", [cause.plug], k.profiles)
        self._known("cause", cause.id, "symptoms", cause.symptoms, k.symptoms)
        self._known("cause", cause.id, "signs", cause.signs, SIGNS)
        self._known("cause", cause.id, "confirmed_by", cause.confirmed_by, k.checks)
        self._known("cause", cause.id, "opens", cause.opens, k.openings)
        self._known("cause", cause.id, "cautions", cause.cautions, k.cautions)
        for name, value in [*cause.symptoms.items(), *cause.signs.items()]:
            self._chance("cause", cause.id, name, value)
        self._positive("cause", cause.id, weight=cause.weight, minutes=cause.minutes, parts=cause.parts)
        if cause.weight == 0:
            self._fail("cause", cause.id, "weight", "a cause of weight 0 can never be found", "give it a weight")

    def _check(self, check: Check) -> None:
        k = self.k
        size = len(check.outcomes)
        if size < 2:
            self._fail("check", check.id, "outcomes", "fewer than two outcomes", "a check must be able to differ")
        self._row("check", check.id, "otherwise", check.otherwise, size)
        self._known("check", check.id, "given", check.given, k.causes)
        self._known("check", check.id, "given_profile", check.given_profile, k.profiles)
        for cause, row in check.given.items():
            self._row("check", check.id, f"given.{cause}", row, size)
        for profile, row in check.given_profile.items():
            self._row("check", check.id, f"given_profile.{profile}", row, size)
        self._known("check", check.id, "opens", check.opens, k.openings)
        self._known("check", check.id, "cautions", check.cautions, k.cautions)
        self._known("check", check.id, "also_outcomes", check.also_outcomes.values(), check.outcomes)
        self._positive("check", check.id, minutes=check.minutes, parts=check.parts)
        if not 3 <= len(check.how) <= 6:
            self._fail("check", check.id, "how", f"{len(check.how)} lines", "say how in three to six lines")
