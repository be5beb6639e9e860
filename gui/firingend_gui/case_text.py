"""A case as the text of a case file."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from firingend.cases.case import DEFAULT_SURENESS, Case, PlacedPhoto, TypedPlug
from firingend.engine.engine import Engine


def case_text(case: Case, folder: Path) -> str:
    """Write a case as TOML that `firingend.cases.load.parse_case` reads back as the same case.

    Parameters
    ----------
    case
        The case.
    folder
        Where the file will lie; photographs are named as seen from there.
    """
    blocks = [
        _keys({"name": case.name, "complaint": case.complaint}),
        *_engine(case.engine),
        _table(
            "run",
            {"before": case.run.how, "minutes_on_plugs": case.run.minutes_on_plugs, "fuel": case.run.fuel},
        ),
        _table("symptoms", {i: "present" if there else "absent" for i, there in case.symptoms.items()}),
        *(_photo(photo, folder) for photo in case.photos if len(photo.cylinders) > 1),
        _plugs(case, folder),
        *(_table("[outcomes]", {"check": o.check, "where": o.where, "outcome": o.outcome}) for o in case.outcomes),
        *(
            _table(
                "[measurements]",
                {"what": m.what, "where": m.where, "value": m.value, "unit": m.unit, "condition": m.condition},
                keep=("unit",),
            )
            for m in case.measurements
        ),
        _table("costs", {"rate_per_hour": case.rate_per_hour, "currency": case.currency}),
    ]
    return "\n".join(block for block in blocks if block)


def _engine(engine: Engine) -> Iterable[str]:
    one_each = _one_each(engine)
    yield _table(
        "engine",
        {
            "name": engine.name,
            "cylinders": list(engine.cylinders),
            "layout": engine.layout,
            "strokes": engine.strokes,
            "fuel_system": engine.fuel_system,
            "ignition": engine.ignition,
            "firing_order": list(engine.firing_order),
            "one_each": one_each,
            "aircraft": engine.aircraft or None,
        },
    )
    if len(engine.banks) > 1:
        yield _table("engine.banks", {bank.name: list(bank.cylinders) for bank in engine.banks})
    for part in engine.shared:
        facts = {"kind": part.kind, "name": part.name, "cylinders": list(part.cylinders)}
        yield _table("[engine.shared]", facts)


def _one_each(engine: Engine) -> list[str]:
    """Kinds of part that no cylinders share, which must be said or the trade's default would come back."""
    kinds = ["coil", "fuel-rail", "head"]
    kinds.insert(1, "carburettor" if engine.fuel_system == "carburettor" else "throttle-body")
    shared = {part.kind for part in engine.shared}
    return [kind for kind in kinds if kind not in shared] if len(engine.cylinders) > 1 else []


def _photo(photo: PlacedPhoto, folder: Path) -> str:
    facts = {
        "file": _seen_from(photo.file, folder),
        "first": "left" if photo.across else "top",
        "cylinders": list(photo.cylinders),
    }
    return _table("[photos]", facts)


def _plugs(case: Case, folder: Path) -> str:
    plugs: dict[int, Any] = {
        photo.cylinders[0]: {"photo": _seen_from(photo.file, folder)}
        for photo in case.photos
        if len(photo.cylinders) == 1
    }
    plugs |= {cylinder: _typed(plug) for cylinder, plug in case.typed.items()}
    return _table("plugs", {str(n): plugs[n] for n in sorted(plugs)})


def _typed(plug: TypedPlug) -> str | Mapping[str, Any]:
    if plug.sure == DEFAULT_SURENESS and not plug.signs:
        return plug.label
    return {"label": plug.label, "sure": plug.sure, "signs": list(plug.signs)}


def _seen_from(file: Path, folder: Path) -> str:
    """Name of a file as seen from a folder: relative where it lies below it, otherwise whole."""
    whole, home = file.resolve(), folder.resolve()
    if whole.is_relative_to(home):
        return whole.relative_to(home).as_posix()
    same_drive = whole.drive == home.drive
    return Path(os.path.relpath(whole, home)).as_posix() if same_drive else whole.as_posix()


def _table(name: str, facts: Mapping[str, Any], keep: Sequence[str] = ()) -> str:
    lines = _keys(facts, keep)
    return f"[{name}]\n{lines}" if lines else ""


def _keys(facts: Mapping[str, Any], keep: Sequence[str] = ()) -> str:
    """Lines of a table; what says nothing is left out."""
    said = {k: v for k, v in facts.items() if k in keep or v not in (None, "", [], {})}
    return "".join(f"{_key(k)} = {_value(v)}\n" for k, v in said.items())


def _key(key: str) -> str:
    bare = key.isascii() and key.replace("-", "").replace("_", "").isalnum()
    return key if bare else _value(key)


def _value(value: Any) -> str:  # noqa: ANN401 - a TOML value is any of these
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        # TOML's basic strings are JSON's, but for the delete character.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items() if v not in ([], None, ""))
        return "{ " + inner + " }"
    return "[" + ", ".join(_value(v) for v in value) + "]"
