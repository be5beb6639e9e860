"""How the viewer says labels, money, time and probability in words."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Final, get_args

from firingend.comparison.comparison import Pattern
from firingend.diagnosis.evidence import HowRun
from firingend.engine.engine import Engine
from firingend.labels import LABELS
from firingend.reading.reading import Lab

NBSP: Final = "\u00a0"
"""Keeps a number and its unit on one line."""

SEEN_WORDS: Final[dict[str, str]] = {
    "lean-white": "pale, chalky nose; dry",
    "normal-tan": "light tan to grey-brown nose; dry",
    "rich-carbon": "dull black soot; dry, wipes off",
    "oil-fouled": "black and shiny; sticky, does not dry",
    "wet": "glossy film over the ceramic; dries in minutes",
}
"""What one sees on a firing end of each label."""
assert set(SEEN_WORDS) == set(LABELS)

PATTERN_WORDS: Final[dict[str, str]] = {
    "all-alike": "All alike",
    "one-odd": "One differs",
    "shared-pair": "Those on one shared part differ",
    "bank": "One bank differs",
    "neighbours": "Two neighbours differ",
    "ends-against-middle": "The ends differ from the middle",
    "scattered": "No grouping",
    "too-few-readable": "Too few can be read",
}
"""Each pattern of a comparison in a few words."""
assert set(PATTERN_WORDS) == set(get_args(Pattern))

RUN_WORDS: Final[dict[str, str]] = {
    "unknown": "not known",
    "idled": "idled to a stop",
    "ridden": "driven home and switched off",
    "clean-cut": "cut off clean under load",
}
"""How the engine was run before the plugs came out."""
assert set(RUN_WORDS) == set(get_args(HowRun))

LAYOUT_WORDS: Final = {"single": "single", "inline": "inline", "vee": "V", "flat": "flat"}
_COUNT: Final = ("", "one", "twin", "three", "four", "five", "six", "seven", "eight")
FUEL_WORDS: Final = {
    "carburettor": "carburettor",
    "port-injection": "port injection",
    "direct-injection": "direct injection",
}
IGNITION_WORDS: Final = {
    "coil-per-plug": "a coil on each plug",
    "wasted-spark": "wasted spark",
    "distributor": "distributor",
    "magneto": "magneto",
}


def percent(probability: float) -> str:
    """Probability in whole percent, never claiming certainty that rounding made up.

    Examples
    --------
    >>> [percent(p).replace(NBSP, " ") for p in (0.824, 0.9996, 0.0004, 1.0)]
    ['82 %', 'over 99 %', 'under 1 %', '100 %']
    """
    if 0.995 <= probability < 1.0:
        return f"over 99{NBSP}%"
    if 0.0 < probability < 0.01:
        return f"under 1{NBSP}%"
    return f"{100 * probability:.0f}{NBSP}%"


def lab(colour: Lab) -> str:
    """A CIELAB colour in whole numbers, each with its name.

    Examples
    --------
    >>> lab((51.4, -0.3, -12.6)).replace(NBSP, " ")
    'L* 51  a* 0  b* −13'
    """
    values = zip(("L*", "a*", "b*"), colour, strict=True)
    return f"{NBSP}{NBSP}".join(f"{name}{NBSP}{round(value) or 0}" for name, value in values).replace("-", "−")


def money(amount: float, currency: str) -> str:
    """Amount with its ISO 4217 code, in whole units from ten up.

    Examples
    --------
    >>> money(0, "EUR"), money(7.5, "EUR"), money(1234.4, "GBP")
    ('nothing', '7.50 EUR', '1,234 GBP')
    """
    if abs(amount) < 0.005:
        return "nothing"
    return f"{amount:,.2f} {currency}" if abs(amount) < 10 else f"{amount:,.0f} {currency}"


def duration(minutes: float) -> str:
    """Working time in words.

    Examples
    --------
    >>> duration(5), duration(60), duration(95)
    ('5 min', '1 h', '1 h 35 min')
    """
    whole = max(1, round(minutes))
    hours, rest = divmod(whole, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def cylinders(numbers: tuple[int, ...]) -> str:
    """Cylinder numbers as one says them.

    Examples
    --------
    >>> cylinders((3,)), cylinders((1, 4)), cylinders((1, 2, 3))
    ('cylinder 3', 'cylinders 1 and 4', 'cylinders 1, 2 and 3')
    """
    if len(numbers) == 1:
        return f"cylinder {numbers[0]}"
    head = ", ".join(str(n) for n in numbers[:-1])
    return f"cylinders {head} and {numbers[-1]}"


def engine_words(engine: Engine) -> str:
    """One line that says what kind of engine it is."""
    count = len(engine.cylinders)
    if engine.layout == "single":
        kind = "single cylinder"
    else:
        size = _COUNT[count] if count < len(_COUNT) else f"{count}-cylinder"
        kind = f"{LAYOUT_WORDS[engine.layout]} {size}"
    kind = kind[0].upper() + kind[1:]
    facts = [
        kind,
        "two-stroke" if engine.strokes == 2 else "four-stroke",
        FUEL_WORDS[engine.fuel_system],
        IGNITION_WORDS[engine.ignition],
    ]
    if count > 1 and engine.firing_order:
        facts.append("firing order " + "-".join(str(n) for n in engine.firing_order))
    return " · ".join(facts)


STATUS_WORDS: Final = {
    "open": "open",
    "waiting": "waiting",
    "fixed": "fixed",
    "proved": "proved",
    "closed": "closed",
}
"""The states of a job."""

STAGE_WORDS: Final = {"before": "before repair", "after": "after repair", "later": "later"}
"""When plugs were looked at."""


def when(time: datetime, now: datetime | None = None) -> str:
    """A moment in the clock of this place: the time today, the day with it on any other.

    Examples
    --------
    >>> from datetime import UTC
    >>> noon = datetime(2026, 5, 4, 12, 30, tzinfo=UTC)
    >>> len(when(noon, noon)), when(noon, datetime(2026, 6, 4, tzinfo=UTC))[:10]
    (5, '2026-05-04')
    """
    here = time.astimezone()
    today = (now or datetime.now().astimezone()).astimezone().date()
    return f"{here:%H:%M}" if here.date() == today else f"{here:%Y-%m-%d %H:%M}"


def day(time: datetime) -> str:
    """A day in the calendar of this place: today, or its date.

    Examples
    --------
    >>> from datetime import UTC
    >>> day(datetime.now(UTC)), day(datetime(2020, 5, 4, 12, tzinfo=UTC))
    ('today', '2020-05-04')
    """
    here = time.astimezone().date()
    return "today" if here == datetime.now().astimezone().date() else f"{here:%Y-%m-%d}"


def capital(text: str) -> str:
    """Text with a capital at its beginning, unless it begins with the name of a file.

    Examples
    --------
    >>> capital("all alike"), capital("plug1.jpg is empty")
    ('All alike', 'plug1.jpg is empty')
    """
    first = text.split(maxsplit=1)[:1]
    if first and re.search(r"[./\\]\w", first[0]):
        return text
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """Text as a sentence: a capital at its beginning and a full stop at its end.

    Examples
    --------
    >>> sentence("check the name and the folder"), sentence("Why not?"), sentence("")
    ('Check the name and the folder.', 'Why not?', '')
    """
    text = capital(text.strip())
    return text if not text or text[-1] in ".!?…" else text + "."
