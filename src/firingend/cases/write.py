"""A case written down as a case file that `load_case` reads back."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from firingend.cases.case import Case, PlacedPhoto, TypedPlug
from firingend.engine.engine import Engine
from firingend.errors import UserError

Value = str | int | float | bool | tuple[int, ...] | tuple[str, ...]
Keys = Mapping[str, Value]


def write_case(case: Case, file: Path) -> None:
    """Write a case file; photographs are named as seen from its folder where they lie below it.

    Raises
    ------
    UserError
        The file cannot be written.
    """
    text = case_text(case, file.parent)
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise UserError(f"{file} cannot be written ({error.strerror})", "choose another folder or name") from error


def case_text(case: Case, folder: Path) -> str:
    """The text of a case file that is to lie in ``folder``."""
    head = {"name": case.name, "complaint": case.complaint}
    run = {"before": case.run.how, "minutes_on_plugs": case.run.minutes_on_plugs, "fuel": case.run.fuel}
    lines = [
        *_keys(head),
        *_engine(case.engine),
        *_table("run", {key: value for key, value in run.items() if value not in ("unknown", None, "")}),
        *_table("symptoms", {key: "present" if there else "absent" for key, there in case.symptoms.items()}),
        *_photos(case.photos, folder),
        *_plugs(case, folder),
    ]
    for outcome in case.outcomes:
        lines += _entry("outcomes", {"check": outcome.check, "where": outcome.where, "outcome": outcome.outcome})
    for taken in case.measurements:
        entry: Keys = {"what": taken.what, "where": taken.where, "value": taken.value, "unit": taken.unit}
        lines += _entry("measurements", {**entry, **({"condition": taken.condition} if taken.condition else {})})
    lines += _table("costs", {"rate_per_hour": case.rate_per_hour, "currency": case.currency})
    return "\n".join(lines) + "\n"


def _engine(engine: Engine) -> Iterator[str]:
    yield from _table(
        "engine",
        {
            "name": engine.name,
            "cylinders": engine.cylinders,
            "layout": engine.layout,
            "strokes": engine.strokes,
            "fuel_system": engine.fuel_system,
            "ignition": engine.ignition,
            **({"firing_order": engine.firing_order} if engine.firing_order else {}),
            # Every kind is stated outright below, so that nothing is filled in on reading back.
            "one_each": ("coil", "carburettor", "throttle-body", "fuel-rail", "head"),
            "aircraft": engine.aircraft,
        },
    )
    if len(engine.banks) > 1:
        yield from _table("engine.banks", {bank.name: bank.cylinders for bank in engine.banks})
    for part in engine.shared:
        yield from _entry("engine.shared", {"kind": part.kind, "name": part.name, "cylinders": part.cylinders})


def _photos(photos: Iterable[PlacedPhoto], folder: Path) -> Iterator[str]:
    for photo in photos:
        if len(photo.cylinders) > 1:
            first = "left" if photo.across else "top"
            yield from _entry(
                "photos",
                {"file": _seen_from(folder, photo.file), "first": first, "cylinders": photo.cylinders},
            )


def _plugs(case: Case, folder: Path) -> Iterator[str]:
    single = {p.cylinders[0]: _text(_seen_from(folder, p.file)) for p in case.photos if len(p.cylinders) == 1}
    plugs = {cylinder: f"{{ photo = {name} }}" for cylinder, name in single.items()}
    plugs |= {cylinder: _typed(plug) for cylinder, plug in case.typed.items()}
    if plugs:
        yield from ("", "[plugs]")
        yield from (f"{cylinder} = {plugs[cylinder]}" for cylinder in case.engine.cylinders if cylinder in plugs)


def _typed(plug: TypedPlug) -> str:
    keys: Keys = {"label": plug.label, "sure": plug.sure, "signs": plug.signs}
    return "{ " + ", ".join(f"{key} = {_value(value)}" for key, value in keys.items()) + " }"


def _seen_from(folder: Path, file: Path) -> str:
    full, base = file.resolve(), folder.resolve()
    return full.relative_to(base).as_posix() if full.is_relative_to(base) else full.as_posix()


def _table(name: str, keys: Keys) -> list[str]:
    return ["", f"[{name}]", *_keys(keys)] if keys else []


def _entry(name: str, keys: Keys) -> list[str]:
    return ["", f"[[{name}]]", *_keys(keys)]


def _keys(keys: Keys) -> list[str]:
    return [f"{_key(key)} = {_value(value)}" for key, value in keys.items()]


def _key(key: str) -> str:
    bare = key.isascii() and key.replace("-", "").replace("_", "").isalnum()
    return key if bare else _text(key)


def _value(value: Value) -> str:
    if isinstance(value, tuple):
        return "[" + ", ".join(_value(each) for each in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return _text(value) if isinstance(value, str) else repr(value)


def _text(text: str) -> str:
    """A TOML basic string: JSON's escapes are a subset of TOML's, except that TOML wants DEL escaped too."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
