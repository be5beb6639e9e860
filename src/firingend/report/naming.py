"""Names of causes, checks and places as a report prints them."""

from __future__ import annotations

from firingend.diagnosis.knowledge import Knowledge
from firingend.report.plain import one_line


def everywhere(where: str) -> bool:
    """Whether a place is no place in particular."""
    return where.strip().lower() in ("", "engine", "all")


def place(where: str) -> str:
    """A place in words."""
    if where.strip().lower() == "all":
        return "everywhere"
    return "whole engine" if everywhere(where) else one_line(where)


def at(name: str, where: str) -> str:
    """A thing and its place on one line."""
    return name if everywhere(where) else f"{name} – {place(where)}"


def spoken(key: str, capital: bool = True) -> str:
    """An id nobody has a name for, as words.

    Examples
    --------
    >>> spoken("plug-gap")
    'Plug gap'
    """
    said = one_line(key.replace("-", " "))
    return said[:1].upper() + said[1:] if capital else said


def cause_name(cause: str, known: Knowledge) -> str:
    """A cause by its id, or in the words somebody wrote."""
    if cause in known.causes:
        return one_line(known.causes[cause].name)
    return spoken(cause) if " " not in cause.strip() else one_line(cause)


def check_name(check: str, known: Knowledge) -> str:
    """A check by its id."""
    return one_line(known.checks[check].name) if check in known.checks else spoken(check)
