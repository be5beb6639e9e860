"""What is wrong with a case file, in words that name the line and the key."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from firingend.cases.lines import KeyPath, key_lines, line_of
from firingend.engine.build import list_cylinders
from firingend.engine.engine import Engine
from firingend.errors import CaseError, UserError

_TYPE_WORDS: Final[Mapping[str, str]] = {
    "int_type": "a whole number",
    "float_type": "a number",
    "string_type": "text in quotes",
    "list_type": "a list in square brackets",
    "dict_type": "a table",
    "bool_type": "true or false",
    "model_type": "a table",
}
_UNION_BRANCH: Final = re.compile(r"^(int|str|float|list\[.*\]|[A-Za-z]+Form|literal\[.*\])$")


class Complaints:
    """Makes errors that say where in one case file something is wrong."""

    def __init__(self, file: Path | None, text: str) -> None:
        self._name = file.name if file else "the case"
        self._lines = key_lines(text)

    def error(self, path: Sequence[str | int], problem: str, remedy: str) -> CaseError:
        """An error at a key."""
        line = line_of(self._lines, path)
        where = f"{self._name}, line {line}" if line else self._name
        return CaseError(f"{where}: {problem}", remedy)

    def about(self, path: Sequence[str | int], error: UserError) -> CaseError:
        """Someone else's complaint, placed at a key; at the key of that table which it names first, if any."""
        first_word = error.problem.split()[0] if error.problem else ""
        named = (*path, first_word)
        place = named if named in self._lines else path
        return self.error(place, error.problem, error.remedy)

    def no_such_cylinder(self, path: Sequence[str | int], cylinder: int, engine: Engine) -> CaseError:
        """A cylinder the engine does not have."""
        return self.error(
            path,
            f"{key_name(path)} speaks of cylinder {cylinder}, which the engine does not have",
            f"use only {list_cylinders(engine.cylinders)}",
        )

    def toml(self, error: tomllib.TOMLDecodeError) -> CaseError:
        """A text that is not TOML."""
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        said = re.sub(r"\s*\(at .*\)$", "", str(error))
        said = said[:1].lower() + said[1:]
        where = f"{self._name}, line {found[1]}, column {found[2]}" if found else self._name
        return CaseError(f"{where}: {said}", 'mend that line: keys are written name = value, with text in "quotes"')

    def shape(self, errors: Sequence[ErrorDetails], form: type[BaseModel]) -> CaseError:
        """The first thing pydantic finds wrong, in plain words."""
        # Of the branches of "text or table" the one that got furthest is the one that was meant.
        stem = errors[0]["loc"][:-1]
        first = max((e for e in errors if e["loc"][: len(stem)] == stem), key=lambda e: len(e["loc"]))
        kind, context = first["type"], first.get("ctx", {})
        path = tuple(part for part in first["loc"] if not _UNION_BRANCH.match(str(part)))
        if kind == "extra_forbidden" and (not path or path[-1] != first["loc"][-1]):
            path = (*path, first["loc"][-1])  # a key that somebody has called "int"
        key = key_name(path)
        if kind == "extra_forbidden":
            return self.error(path, f"there is no key {key}", suggest(str(path[-1]), _keys_at(form, path[:-1])))
        if kind == "missing":
            return self.error(path[:-1] or path, f"{key} is missing", "add it")
        if kind == "literal_error":
            return self.error(
                path, f"{key} is {_shown(first['input'])}", _choose(str(first["input"]), str(context["expected"]))
            )
        if kind in _TYPE_WORDS:
            wanted = [_TYPE_WORDS[e["type"]] for e in errors if e["type"] in _TYPE_WORDS and _same(e, first)]
            return self.error(path, f"{key} is {_shown(first['input'])}", "write " + " or ".join(dict.fromkeys(wanted)))
        if kind == "string_pattern_mismatch":
            return self.error(path, f"{key} is {_shown(first['input'])}", "write three capitals, such as EUR")
        if kind == "string_too_short":
            return self.error(path, f"{key} is empty", "fill it in or leave it out")
        message = first["msg"].replace("Input", "it")
        return self.error(path, f"{key} is {_shown(first['input'])}", message[:1].lower() + message[1:])


def key_name(path: Sequence[str | int]) -> str:
    """A key as the technician finds it: entries of a list are counted from 1.

    Examples
    --------
    >>> key_name(("outcomes", 1, "check")), key_name(("engine", "layout"))
    ('outcomes[2].check', 'engine.layout')
    """
    words = ""
    for part in path:
        words += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if words else str(part)
    return words


def suggest(word: str, known: Iterable[str]) -> str:
    """The nearest known word as a remedy, or all of them.

    Examples
    --------
    >>> suggest("wett", ("wet", "normal-tan"))
    'did you mean wet'
    """
    names = list(known)
    near = difflib.get_close_matches(word, names, n=1, cutoff=0.6)
    return f"did you mean {near[0]}" if near else "use one of: " + ", ".join(names)


def _choose(word: str, expected: str) -> str:
    choices = re.findall(r"'([^']*)'", expected)
    return suggest(word, choices) if choices else f"write {expected}"


def _shown(value: Any) -> str:  # noqa: ANN401
    if isinstance(value, str):
        return f'"{value}"'
    return str(value).lower() if isinstance(value, bool) else str(value)


def _same(error: ErrorDetails, first: ErrorDetails) -> bool:
    return error["input"] is first["input"]


def _keys_at(form: type[BaseModel], path: KeyPath) -> list[str]:
    """Names of the keys a table of the form may have."""
    model: type[BaseModel] = form
    for part in path:
        if isinstance(part, str) and part in model.model_fields:
            found = _model_in(model.model_fields[part].annotation)
            model = found or model
    return list(model.model_fields)


def _model_in(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for argument in getattr(annotation, "__args__", ()):
        if found := _model_in(argument):
            return found
    return None
