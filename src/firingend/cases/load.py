"""A case file becomes a case, or an error that names the line and says what to do."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pydantic import ValidationError

from firingend.cases.case import Case, PlacedPhoto, TypedPlug
from firingend.cases.form import CaseForm, EngineForm, MeasurementForm, OutcomeForm, PhotoForm, PlugForm
from firingend.cases.messages import Complaints, key_name, suggest
from firingend.diagnosis.evidence import Measurement, Outcome, RunBefore
from firingend.engine.build import build_engine
from firingend.engine.engine import Engine, SharedPart
from firingend.errors import CaseError, UserError
from firingend.labels import LABELS, SIGNS, UNREADABLE

if TYPE_CHECKING:
    from firingend.diagnosis.knowledge import Knowledge

LARGEST_FILE: Final = 1_000_000
"""Bytes; a case file is a page of text."""

REPAIR: Final = "repair:"
REPAIR_OUTCOMES: Final = ("no-change", "better", "cured")


def load_case(file: Path) -> Case:
    """Read a case file.

    Raises
    ------
    CaseError
        The file cannot be read, is not TOML, lacks a key, has one too many, names something this engine or the
        troubleshooter does not know, or names a photograph that is not there.
    """
    return parse_case(_read_text(file), file, photos_must_exist=True)


def parse_case(text: str, file: Path | None = None, *, photos_must_exist: bool = False) -> Case:
    """Make a case of the text of a case file.

    Parameters
    ----------
    text
        TOML.
    file
        Where the text came from: messages name it and photographs lie beside it.
    photos_must_exist
        Whether a photograph that is not there is an error.

    Examples
    --------
    >>> case = parse_case('[engine]\\ncylinders = 2\\n[plugs]\\n1 = "wet"\\n2 = "normal-tan"\\n')
    >>> case.engine.layout, case.typed[1].label
    ('inline', 'wet')
    """
    complaints = Complaints(file, text)
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise complaints.toml(error) from error
    try:
        form = CaseForm.model_validate(document)
    except ValidationError as error:
        raise complaints.shape(error.errors(include_url=False), CaseForm) from error
    engine = _engine(form.engine, complaints)
    photos, typed = _plugs(form, engine, file.parent if file else Path(), complaints, photos_must_exist)
    words = _Words(engine, complaints)
    return Case(
        name=form.name,
        engine=engine,
        complaint=form.complaint,
        symptoms=words.symptoms(form.symptoms),
        photos=photos,
        typed=typed,
        outcomes=tuple(words.outcome(i, outcome) for i, outcome in enumerate(form.outcomes)),
        measurements=tuple(words.measurement(i, each) for i, each in enumerate(form.measurements)),
        run=RunBefore(form.run.before, form.run.minutes_on_plugs, form.run.fuel),
        rate_per_hour=form.costs.rate_per_hour,
        currency=form.costs.currency,
        file=file,
    )


def _read_text(file: Path) -> str:
    try:
        if file.is_dir():
            raise CaseError(f"{file} is a folder", "name the case file in it, which ends in .toml")
        if file.stat().st_size > LARGEST_FILE:
            raise CaseError(f"{file} is too large for a case file", "name a case file, which ends in .toml")
        return file.read_text(encoding="utf-8")
    except FileNotFoundError as error:
        raise CaseError(f"there is no case file {file}", "check the name and the folder") from error
    except UnicodeDecodeError as error:
        raise CaseError(f"{file} is not text in UTF-8", "name a case file, and save it as UTF-8") from error
    except OSError as error:
        raise CaseError(f"{file} cannot be opened ({error.strerror})", "check its permissions") from error


def _engine(form: EngineForm, complaints: Complaints) -> Engine:
    try:
        return build_engine(
            form.cylinders,
            name=form.name,
            layout=form.layout,
            strokes=form.strokes,
            fuel_system=form.fuel_system,
            ignition=form.ignition,
            firing_order=form.firing_order,
            banks=form.banks,
            shared=[SharedPart(part.kind, part.name, tuple(part.cylinders)) for part in form.shared],
            one_each=form.one_each,
            aircraft=form.aircraft,
        )
    except UserError as error:
        raise complaints.about(("engine",), error) from error


def _plugs(
    form: CaseForm, engine: Engine, folder: Path, complaints: Complaints, photos_must_exist: bool
) -> tuple[tuple[PlacedPhoto, ...], Mapping[int, TypedPlug]]:
    placing = _Placing(engine, folder, complaints, photos_must_exist)
    photos, typed = [], {}
    for i, photo in enumerate(form.photos):
        photos.append(placing.row(("photos", i), photo))
    for key, plug in form.plugs.items():
        if not (key.isascii() and key.isdigit()):
            raise complaints.error(
                ("plugs", key), f"plugs.{key} is not a cylinder number", 'write for example 1 = "wet"'
            )
        placing.claim(int(key), ("plugs", key))
        entry = placing.plug(key, plug)
        if isinstance(entry, TypedPlug):
            typed[int(key)] = entry
        else:
            photos.append(entry)
    return tuple(photos), typed


class _Placing:
    """Puts photographs and labels on cylinders, each cylinder once."""

    def __init__(self, engine: Engine, folder: Path, complaints: Complaints, photos_must_exist: bool) -> None:
        self._engine = engine
        self._folder = folder
        self._complaints = complaints
        self._photos_must_exist = photos_must_exist
        self._seen: dict[int, str] = {}

    def claim(self, cylinder: int, path: tuple[str | int, ...]) -> None:
        if cylinder not in self._engine.cylinders:
            raise self._complaints.no_such_cylinder(path, cylinder, self._engine)
        if cylinder in self._seen:
            raise self._complaints.error(
                path, f"{key_name(path)} speaks of cylinder {cylinder}, as {self._seen[cylinder]} does", "keep one"
            )
        self._seen[cylinder] = key_name(path)

    def row(self, path: tuple[str | int, ...], photo: PhotoForm) -> PlacedPhoto:
        cylinders = tuple(photo.cylinders) or self._engine.cylinders
        for cylinder in cylinders:
            self.claim(cylinder, (*path, "cylinders") if photo.cylinders else path)
        file = self._find((*path, "file"), photo.file)
        if photo.first in ("right", "bottom"):
            cylinders = cylinders[::-1]
        return PlacedPhoto(file, cylinders, across=photo.first in ("left", "right"))

    def plug(self, key: str, plug: str | PlugForm) -> TypedPlug | PlacedPhoto:
        path = ("plugs", key)
        if isinstance(plug, str):
            is_label = _is_label(plug, path, self._complaints)
            plug = PlugForm(label=plug) if is_label else PlugForm(photo=plug)
        if plug.photo is not None and plug.label is None:
            return PlacedPhoto(self._find(path, plug.photo), (int(key),))
        if plug.photo is not None or plug.label is None:
            raise self._complaints.error(path, f"plugs.{key} needs either photo or label", "write one of the two")
        labels = (*LABELS, UNREADABLE)
        if plug.label not in labels:
            raise self._complaints.error(path, f'there is no label "{plug.label}"', suggest(plug.label, labels))
        for sign in plug.signs:
            if sign not in SIGNS:
                raise self._complaints.error(path, f'there is no sign "{sign}"', suggest(sign, SIGNS))
        return TypedPlug(plug.label, plug.sure, tuple(plug.signs))

    def _find(self, path: tuple[str | int, ...], name: str) -> Path:
        file = self._folder / name
        if self._photos_must_exist and not file.is_file():
            raise self._complaints.error(
                path, f"there is no photograph {name}", f"give its name as seen from {self._folder.resolve()}"
            )
        return file


def _is_label(text: str, path: tuple[str, str], complaints: Complaints) -> bool:
    """Whether a bare text is a label; anything with a suffix, as file names have, is a photograph."""
    if text in (*LABELS, UNREADABLE):
        return True
    if Path(text).suffix:
        return False
    raise complaints.error(
        path,
        f'plugs.{path[1]} is "{text}", neither a label nor a photograph',
        suggest(text, (*LABELS, UNREADABLE)) + ", or give the whole file name, such as plug-1.jpg",
    )


class _Words:
    """Checks ids and places against what the troubleshooter knows."""

    def __init__(self, engine: Engine, complaints: Complaints) -> None:
        self._engine = engine
        self._complaints = complaints

    @cached_property
    def _knowledge(self) -> Knowledge:
        """Loaded only for a case that has words to check."""
        from firingend.diagnosis.knowledge import load

        return load()

    def symptoms(self, said: Mapping[str, str]) -> Mapping[str, bool]:
        found = {}
        for word, answer in said.items():
            knowledge = self._knowledge
            try:
                found[knowledge.symptom_id(word)] = answer == "present"
            except UserError as error:
                raise self._complaints.about(("symptoms", word), error) from error
        return found

    def outcome(self, index: int, form: OutcomeForm) -> Outcome:
        path = ("outcomes", index)
        knowledge = self._knowledge
        try:
            if form.check.startswith(REPAIR):
                check = REPAIR + knowledge.cause_id(form.check.removeprefix(REPAIR))
                outcome = self._repair_outcome(form.outcome)
            else:
                check = knowledge.check_id(form.check)
                outcome = knowledge.outcome_id(check, form.outcome)
        except UserError as error:
            key = "outcome" if "outcome" in error.problem else "check"
            raise self._complaints.about((*path, key), error) from error
        scope = self._scope(check)
        return Outcome(check, self._where(path, form.where, form.cylinder, scope), outcome)

    def measurement(self, index: int, form: MeasurementForm) -> Measurement:
        where = self._where(("measurements", index), form.where, form.cylinder, "cylinder")
        return Measurement(form.what, where, form.value, form.unit, form.condition)

    def _repair_outcome(self, said: str) -> str:
        if said not in REPAIR_OUTCOMES:
            raise CaseError(f'a repair has no outcome "{said}"', suggest(said, REPAIR_OUTCOMES))
        return said

    def _scope(self, check: str) -> str:
        if check.startswith(REPAIR):
            return self._knowledge.causes[check.removeprefix(REPAIR)].scope
        return self._knowledge.checks[check].where

    def _where(self, path: tuple[str | int, ...], where: str | None, cylinder: int | None, scope: str) -> str:
        if where is not None and cylinder is not None:
            raise self._complaints.error(path, f"{key_name(path)} has both where and cylinder", "keep one")
        if cylinder is not None and cylinder not in self._engine.cylinders:
            raise self._complaints.no_such_cylinder((*path, "cylinder"), cylinder, self._engine)
        said = where or (f"cylinder {cylinder}" if cylinder is not None else "engine")
        from firingend.diagnosis.places import find_places

        try:
            find_places(self._engine, scope, said)
        except UserError as error:
            raise self._complaints.about((*path, "where"), error) from error
        return said
