"""Split answers by something that must not matter: the angle, the size, the light."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from firingend.evaluation.photo_set import Nuisance

EDGES: Final[Mapping[str, tuple[float, ...]]] = {
    "view_degrees": (0, 15, 30, 45, 60, 75, 90),
    "box_px": (0, 48, 64, 96, 128, 192, 256, 384, 512),
}
"""Bands that are the same for every set, so that two sets can be compared; others are split into quarters."""

MOST_WORDS: Final = 12
"""Words shown of one nuisance; the rarer ones are put together as ``others``."""

MOST_NOTES: Final = 24
"""Words shown of a nuisance that has several an item; the rarer ones are left out, as every item would be an other."""

FIRST: Final = ("view_degrees", "box_px", "light", "place", "kind", "notes", "measured focus", "measured brightness")
"""Nuisances to show first."""

OTHERS: Final = "others"

_FEWEST_FOR_QUARTERS: Final = 8


def nuisance_names(nuisances: Sequence[Nuisance]) -> list[str]:
    """Every nuisance that takes at least two values, those of ``FIRST`` first, the rest by name."""
    values: dict[str, set[object]] = {}
    for nuisance in nuisances:
        for name, value in nuisance.items():
            values.setdefault(name, set()).add(value)
    varied = {name for name, seen in values.items() if len(seen) > 1}
    return [name for name in FIRST if name in varied] + sorted(varied.difference(FIRST))


def bands(name: str, nuisances: Sequence[Nuisance]) -> dict[str, list[int]]:
    """Which items fall into which band of a nuisance.

    Numbers go by ``EDGES`` or into quarters; words go by themselves, and an item with several words counts under
    each. Items that do not say are in no band.

    Returns
    -------
    dict
        Indices of the items by the band's wording; bands in rising order of numbers, or most frequent word first.

    Examples
    --------
    >>> bands("light", [{"light": "lamp"}, {"light": "flash"}, {}, {"light": "lamp"}])
    {'lamp': [0, 3], 'flash': [1]}
    """
    known = [(i, nuisance[name]) for i, nuisance in enumerate(nuisances) if name in nuisance]
    numbers = {i: float(value) for i, value in known if isinstance(value, int | float)}
    if len(numbers) == len(known) and (name in EDGES or len(set(numbers.values())) > MOST_WORDS):
        return _by_number(numbers, EDGES.get(name) or _quarters(list(numbers.values())))
    notes = {i: value for i, value in known if isinstance(value, tuple)}
    if len(notes) == len(known):
        return _by_note(notes)
    return _by_word({i: _worded(value) for i, value in known})


def _quarters(values: Sequence[float]) -> tuple[float, ...]:
    shares = (0, 0.25, 0.5, 0.75, 1) if len(values) >= _FEWEST_FOR_QUARTERS else (0, 1)
    return tuple(float(edge) for edge in np.unique(np.quantile(values, shares)))


def _by_number(numbers: Mapping[int, float], edges: tuple[float, ...]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    inner = np.array(edges[1:-1])
    for i, value in sorted(numbers.items(), key=lambda item: (item[1], item[0])):
        # A value on an edge belongs to the band above it, the largest of all to the last band.
        place = int(np.searchsorted(inner, value, side="right"))
        found.setdefault(_band_name(edges, place, numbers), []).append(i)
    return {band: sorted(items) for band, items in found.items()}


def _band_name(edges: tuple[float, ...], place: int, numbers: Mapping[int, float]) -> str:
    if len(edges) == 1:
        return f"{edges[0]:g}"
    last = place == len(edges) - 2
    if last and max(numbers.values()) > edges[-1]:
        return f"{_short(edges[place])} and more"
    return f"{_short(edges[place])} to {_short(edges[place + 1])}"


def _short(number: float) -> str:
    return f"{number:.0f}" if abs(number) >= 100 else f"{number:.3g}"


def _worded(value: float | str | tuple[str, ...]) -> str:
    if isinstance(value, tuple):
        return ", ".join(value)
    return value if isinstance(value, str) else f"{value:g}"


def _by_word(words: Mapping[int, str]) -> dict[str, list[int]]:
    shown = [word for word, _ in Counter(words.values()).most_common(MOST_WORDS)]
    found: dict[str, list[int]] = {word: [] for word in shown}
    for i, word in words.items():
        found.setdefault(word if word in shown else OTHERS, []).append(i)
    return found


def _by_note(notes: Mapping[int, tuple[str, ...]]) -> dict[str, list[int]]:
    counted = Counter(word for of_item in notes.values() for word in set(of_item))
    # Equally frequent ones by name: a set has no order of its own.
    shown = sorted(counted, key=lambda word: (-counted[word], word))[:MOST_NOTES]
    return {word: [i for i, of_item in notes.items() if word in of_item] for word in shown}
