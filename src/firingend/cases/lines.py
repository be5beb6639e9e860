"""On which line of a TOML text each key stands, so that messages can name it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final

KeyPath = tuple[str | int, ...]

_KEY: Final = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\]|\\.)*"|'[^']*')"""
_DOTTED: Final = rf"{_KEY}(?:\s*\.\s*{_KEY})*"
_HEADER: Final = re.compile(rf"\s*(\[\[?)\s*({_DOTTED})\s*\]")
_ASSIGNMENT: Final = re.compile(rf"\s*({_DOTTED})\s*=\s*(.*)")
_LONG_STRING: Final = re.compile(r'"""|' + "'''")


def key_lines(text: str) -> Mapping[KeyPath, int]:
    """Line number, from 1, of every table header and key of a TOML text.

    Keys within inline tables and arrays are not listed: they are on, or just below, the line of the key that
    holds them.

    Examples
    --------
    >>> key_lines('name = "x"\\n[[photos]]\\nfile = "a.jpg"\\n')
    {('name',): 1, ('photos',): 2, ('photos', 0): 2, ('photos', 0, 'file'): 3}
    """
    lines: dict[KeyPath, int] = {}
    entries: dict[KeyPath, int] = {}
    table: KeyPath = ()
    inside_long_string = False
    for number, line in enumerate(text.splitlines(), start=1):
        if not inside_long_string:
            if header := _HEADER.match(line):
                table = _open_table(_split(header[2]), header[1] == "[[", entries)
                for depth in range(1, len(table) + 1):
                    lines.setdefault(table[:depth], number)
            elif assignment := _ASSIGNMENT.match(line):
                path = table + _split(assignment[1])
                for depth in range(len(table) + 1, len(path) + 1):
                    lines.setdefault(path[:depth], number)
        if len(_LONG_STRING.findall(line)) % 2:
            inside_long_string = not inside_long_string
    return lines


def line_of(lines: Mapping[KeyPath, int], path: Sequence[str | int]) -> int | None:
    """Line of a key, or of the nearest one that holds it; None for a key that is nowhere in the text."""
    for depth in range(len(path), 0, -1):
        if line := lines.get(tuple(path[:depth])):
            return line
    return None


def _split(dotted: str) -> tuple[str, ...]:
    return tuple(key.strip("\"'") for key in re.findall(_KEY, dotted))


def _open_table(names: tuple[str, ...], is_entry: bool, entries: dict[KeyPath, int]) -> KeyPath:
    """Path of a header, with the number of the entry after the name of each array of tables."""
    path: KeyPath = ()
    for depth, name in enumerate(names, start=1):
        path += (name,)
        if is_entry and depth == len(names):
            entries[path] = entries.get(path, -1) + 1
        if path in entries:
            path += (entries[path],)
    return path
