"""The words a report uses for labels, signs, engines and running conditions, and what it always says.

Meanings and cautions are common practice, no source.
"""

from __future__ import annotations

from typing import Final

from firingend.engine.build import list_cylinders
from firingend.engine.engine import Engine
from firingend.labels import UNREADABLE

LABEL_WORDS: Final = {
    "lean-white": "Lean, white",
    "normal-tan": "Normal, tan",
    "rich-carbon": "Rich, carbon",
    "oil-fouled": "Oil-fouled",
    "wet": "Wet",
    UNREADABLE: "Cannot be read",
}
"""Each label as a technician would say it."""

LABEL_MEANING: Final = {
    "lean-white": "Too little fuel, too much air, too much heat, or the timing.",
    "normal-tan": "Mixture, heat range and oil control about right.",
    "rich-carbon": "Too much fuel, too little air, a weak spark, low compression, or too cold a plug.",
    "oil-fouled": "Oil in the chamber: sticky, does not wipe clean.",
    "wet": "Fuel arrived and did not burn.",
}
"""What each label points to, in one line."""

SIGN_WORDS: Final = {
    "coolant-clean": "washed clean by coolant",
    "ash": "ash crust",
    "additive-tint": "tint from a fuel additive",
    "specks": "pepper specks",
    "blisters": "blisters",
    "worn": "worn electrodes",
    "bridged": "bridged gap",
}
"""Each sign seen besides the label."""

RUN_WORDS: Final = {
    "idled": "Idled to a stop",
    "ridden": "Ridden or driven home",
    "clean-cut": "Cut clean at load",
    "unknown": "Not known",
}
"""How the engine was run before the plugs came out."""

REPAIR_OUTCOMES: Final = {"no-change": "no change", "better": "better, not cured", "cured": "cured"}
"""What came of a repair that was tried."""

SAFETY: Final = (
    "Let the engine cool before pulling plugs; blow the wells clean first, start new plugs by hand and tighten"
    " them to the manual's torque.",
    "Ignition leads carry tens of kilovolts: insulated pliers, hands off while cranking; people with a pacemaker"
    " keep away.",
    "Fuel vapour and sparks: test spark only with the fuel system disabled, plug or tester firmly grounded, away"
    " from open plug holes and spilt fuel; extinguisher in reach, no smoking, windows and doors open.",
    "Release fuel pressure before opening a line; wear eye protection and catch the fuel.",
    "Carbon monoxide kills: never run an engine in a closed space. Keep clear of belts, hot parts and fans that"
    " start by themselves.",
    "Coolant caps stay shut on a hot engine. Support the vehicle; disconnect the battery before wiring work.",
)
"""General cautions, printed before the first check."""

STANDING: Final = (
    "The engine's service manual, local rules and a licensed technician's judgement come before anything in this"
    " report.",
    "The readings are advice: a program read them off photographs. Until a shop has tested it on its own"
    " photographs and knows its error rate there, look at each plug yourself before spending money on a reading.",
    "A plug shows how the engine ran last. Only fresh plugs, run and read again after the repair, prove it.",
)
"""What a reader must know about how far to trust a report."""

AIRCRAFT: Final = "Aircraft engine: licensed maintenance only. This report suggests no work on it."

SIGNATURES: Final = ("Technician", "Date", "Work approved by")

_LAYOUTS: Final = {"single": "Single cylinder", "inline": "Inline", "vee": "V", "flat": "Flat"}
_FUEL: Final = {
    "carburettor": "carburettor",
    "port-injection": "port injection",
    "direct-injection": "direct injection",
}
_IGNITION: Final = {
    "coil-per-plug": "a coil on each plug",
    "wasted-spark": "wasted spark",
    "distributor": "distributor",
    "magneto": "magneto",
}
_MONTHS: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def label_words(label: str) -> str:
    """Words for a label; a label this project does not know is shown as it is.

    Examples
    --------
    >>> label_words("oil-fouled")
    'Oil-fouled'
    """
    return LABEL_WORDS.get(label, label)


def engine_words(engine: Engine) -> str:
    """One line that says what kind of engine it is."""
    count = len(engine.cylinders)
    kind = _LAYOUTS.get(engine.layout, engine.layout)
    facts = [
        kind if count == 1 else f"{kind}, {count} cylinders",
        "two-stroke" if engine.strokes == 2 else "four-stroke",
        _FUEL.get(engine.fuel_system, engine.fuel_system),
        _IGNITION.get(engine.ignition, engine.ignition),
    ]
    if count > 1 and engine.firing_order:
        facts.append("firing order " + "-".join(str(n) for n in engine.firing_order))
    return " · ".join(facts)


def shared_words(engine: Engine) -> str:
    """What some cylinders share and others do not, one part after the other; may be empty."""
    everyone = set(engine.cylinders)
    parts = (part for part in engine.shared if set(part.cylinders) != everyone)
    return "; ".join(f"{part.name}: {list_cylinders(part.cylinders)}" for part in parts)


def date_words(year: int, month: int, day: int) -> str:
    """A date that no country reads differently.

    Examples
    --------
    >>> date_words(2024, 3, 7)
    '7 March 2024'
    """
    return f"{day} {_MONTHS[month - 1]} {year}"
