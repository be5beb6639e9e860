"""What a comparison says, in one plain sentence, with a second one only where doubt or a warning needs it.

What to look at first for each pattern: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from firingend.comparison.comparison import Pattern
from firingend.comparison.hypotheses import Place
from firingend.engine.build import list_cylinders
from firingend.engine.engine import Engine
from firingend.reading.reading import Reading

LABEL_WORDS: Final[Mapping[str, str]] = {
    "lean-white": "white",
    "normal-tan": "tan",
    "rich-carbon": "sooty",
    "oil-fouled": "oily",
    "wet": "wet",
}
"""What a technician calls a plug with this label."""

PATTERN_WORDS: Final[Mapping[str, str]] = {
    "all-alike": "all cylinders alike",
    "one-odd": "one odd cylinder",
    "shared-pair": "cylinders on one shared part",
    "bank": "one bank against the other",
    "neighbours": "two neighbours",
    "ends-against-middle": "end cylinders against middle ones",
    "scattered": "no grouping",
    "too-few-readable": "too few readable plugs",
}

NUMBER_WORDS: Final = dict(enumerate(("three", "four", "five", "six", "seven", "eight"), start=3))

SURE_ENOUGH: Final = 0.7
"""Below this the sentence names the pattern that explains the plugs nearly as well."""

WASHED: Final = 0.5
"""Probability of the sign ``coolant-clean`` from which the sentence warns of coolant."""


def pattern_sentence(
    engine: Engine,
    readings: Mapping[int, Reading],
    patterns: Mapping[str, float],
    pattern: Pattern,
    ties: tuple[Place, ...],
    label: str,
    seen: Mapping[int, str],
) -> str:
    """Say what was seen and why it is this pattern.

    Parameters
    ----------
    engine, readings
        What was compared.
    patterns
        Probability of every pattern.
    pattern
        The most probable one.
    ties
        Its places that explain the plugs about as well, best first; empty for ``scattered``.
    label
        The label that stands out, or that all share; empty for ``scattered``.
    seen
        What each readable plug most likely is under this pattern, in the engine's order.
    """
    readable = tuple(seen)
    if pattern == "scattered":
        said = _by_label(seen, start=True)
        why = (
            "no grouping fits, which points to mixed plugs or gaps, general wear or recent cold starts, "
            "so fit matching plugs and read again after a proper run"
        )
    elif pattern == "all-alike":
        said = _all_alike_seen(engine, readable, label)
        why = _all_alike_why(engine, label)
    else:
        inside = {c: each for c, each in seen.items() if c in ties[0].cylinders}
        outside = {c: each for c, each in seen.items() if c not in inside}
        said = f"{_by_label(inside, start=True)}, {_by_label(outside)}"
        why = _group_why(engine, pattern, ties, label)
    sentences = [f"{said}; {why}.", *_doubts(readings, seen)]
    sentences += _not_read(engine, readable)
    sentences += _second_best(patterns, pattern)
    sentences += _washed(readings, readable)
    return " ".join(sentences)


def with_article(part: str) -> str:
    """A part's name as it stands in a sentence: lettered and numbered parts go without an article.

    Examples
    --------
    >>> with_article("coil A"), with_article("left carburettor")
    ('coil A', 'the left carburettor')
    """
    last = part.split()[-1] if part.split() else ""
    return part if len(last) <= 2 or last.isdigit() or part.lower().startswith("the ") else f"the {part}"


def too_few_sentence(engine: Engine, readings: Mapping[int, Reading], readable: tuple[int, ...]) -> str:
    """Say that there is too little to compare."""
    if len(engine.cylinders) == 1:
        cylinder = engine.cylinders[0]
        if cylinder in readable:
            word = LABEL_WORDS[readings[cylinder].label]
            return f"The plug is {word}; a single cylinder has no other to be compared with."
        return "The plug could not be read; photograph it again."
    if not readable:
        return "No plug could be read, so there is nothing to compare; photograph them again."
    count = len(engine.cylinders)
    which = f"cylinder{'s' if len(readable) > 1 else ''} {list_cylinders(readable)}"
    return f"Only {which} of {count} could be read, too few to compare; photograph the others again."


def _are(cylinders: tuple[int, ...], label: str, start: bool = False) -> str:
    many = len(cylinders) > 1
    subject = f"Cylinder{'s' if many else ''} " if start else ""
    return f"{subject}{list_cylinders(cylinders)} {'are' if many else 'is'} {LABEL_WORDS[label]}"


def _all_alike_seen(engine: Engine, readable: tuple[int, ...], label: str) -> str:
    if len(readable) == len(engine.cylinders):
        count = NUMBER_WORDS.get(len(readable), str(len(readable)))
        subject = "Both cylinders" if len(readable) == 2 else f"All {count} cylinders"
    else:
        subject = f"Cylinders {list_cylinders(readable)}"
    return f"{subject} are {LABEL_WORDS[label]}"


def _by_label(seen: Mapping[int, str], start: bool = False) -> str:
    """Cylinders grouped by what they are, the group with the first cylinder first."""
    groups: dict[str, list[int]] = {}
    for cylinder, label in seen.items():
        groups.setdefault(label, []).append(cylinder)
    return ", ".join(_are(tuple(c), label, start=start and i == 0) for i, (label, c) in enumerate(groups.items()))


def _all_alike_why(engine: Engine, label: str) -> str:
    first = "they are alike, so look first at what they all share: "
    if label == "normal-tan":
        return "they are alike and as they should be, so mixture, heat range and oil control look right"
    if label == "rich-carbon":
        if engine.fuel_system == "carburettor":
            return first + "air filter, choke, float height, and plugs of too cold a heat range"
        return first + "fuel pressure and its regulator, air filter, temperature sensor, and plug heat range"
    if label == "lean-white":
        if engine.fuel_system == "carburettor":
            return first + "fuel strainer, tank vent, an intake leak, jets, and plugs of too hot a heat range"
        return first + "fuel strainer, filter, pump and pressure, an intake leak, and plug heat range"
    if label == "oil-fouled":
        if engine.strokes == 2:
            return first + "the oil ratio, though a light brown oily film is normal on a two-stroke"
        return first + "oil level, breather, and general wear"
    return first + "flooding, enrichment, and whether there is any spark at all"


def _group_why(engine: Engine, pattern: Pattern, ties: tuple[Place, ...], label: str) -> str:
    place = ties[0]
    cylinders = list_cylinders(place.cylinders)
    if pattern == "one-odd":
        return _one_odd_why(engine, place.cylinders[0], label)
    if pattern == "shared-pair":
        named = [with_article(tie.where) for tie in ties if tie.cylinders == place.cylinders]
        then = "".join(f", then at {name}" for name in named[1:])
        shared = " and ".join(named)
        return f"{cylinders} share {shared}, so look at {named[0]} first{then}"
    if pattern == "bank":
        return (
            f"{cylinders} are on {with_article(place.where)}, so look first at what that bank has to itself: "
            + ("carburettor" if engine.fuel_system == "carburettor" else "oxygen sensor, fuel rail")
            + ", intake gasket, exhaust, cam timing"
        )
    if pattern == "neighbours" and label == "lean-white":
        return f"{cylinders} lie side by side, so look for a leak at the intake joint and head gasket between them"
    if pattern == "neighbours":
        return f"{cylinders} lie side by side, so suspect the head gasket between them and test compression"
    return (
        "end and middle cylinders differ, which is normal when mild, "
        "so look at air distribution and cooling only where it is marked"
    )


def _one_odd_why(engine: Engine, cylinder: int, label: str) -> str:
    if label == "normal-tan":
        return "that cylinder alone looks right, so look first at what the others share and it does not"
    injected = engine.fuel_system != "carburettor"
    own_carburettor = not any(p.kind == "carburettor" and cylinder in p.cylinders for p in engine.shared)
    spark = "spark there (coil, lead, plug)"
    if label == "rich-carbon":
        fuel = "injector dribbling" if injected else "float valve" if own_carburettor else ""
        parts = [spark, fuel, "compression"]
    elif label == "wet":
        parts = [spark, "injector stuck open" if injected else "", "compression"]
    elif label == "lean-white":
        fuel = "clogged injector" if injected else "clogged jet" if own_carburettor else ""
        parts = [fuel, "leak at that inlet stub or manifold joint", "tight valve"]
    else:
        parts = ["rings", "valve stem seal", "head gasket at an oil gallery"]
        if engine.strokes == 2:
            parts = ["crankshaft seal", "rings"]
    listed = ", ".join(part for part in parts if part)
    return f"it is alone, so look first at what that cylinder has to itself: {listed}"


def _doubts(readings: Mapping[int, Reading], expected: Mapping[int, str]) -> list[str]:
    doubtful = [(c, readings[c].label) for c, label in expected.items() if readings[c].label != label]
    return [
        f"Cylinder {c} was read as {LABEL_WORDS[label]}, but not surely enough to set it apart."
        for c, label in doubtful
    ]


def _not_read(engine: Engine, readable: tuple[int, ...]) -> list[str]:
    missing = tuple(cylinder for cylinder in engine.cylinders if cylinder not in readable)
    if not missing:
        return []
    return [f"Cylinder{'s' if len(missing) > 1 else ''} {list_cylinders(missing)} could not be read."]


def _second_best(patterns: Mapping[str, float], pattern: Pattern) -> list[str]:
    if patterns[pattern] >= SURE_ENOUGH:
        return []
    second = max((each for each in patterns if each != pattern), key=patterns.__getitem__)
    share = f"{100 * patterns[pattern]:.0f} %"
    other = f"{100 * patterns[second]:.0f} %"
    return [f"This is {share} sure; next comes {PATTERN_WORDS[second]} with {other}."]


def _washed(readings: Mapping[int, Reading], readable: Iterable[int]) -> list[str]:
    washed = tuple(c for c in readable if readings[c].signs.get("coolant-clean", 0.0) >= WASHED)
    if not washed:
        return []
    many = len(washed) > 1
    return [
        f"Cylinder{'s' if many else ''} {list_cylinders(washed)} {'look' if many else 'looks'} washed clean: "
        "check for coolant (head gasket, cracked head) before calling it lean."
    ]
