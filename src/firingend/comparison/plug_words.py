"""What is said of one plug besides its label: how far the deposit climbs, what else it could be, its colour.

One wording for the command line, the viewer and the report.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from firingend.comparison.sentence import LABEL_WORDS
from firingend.engine.build import list_cylinders
from firingend.labels import UNREADABLE
from firingend.reading.reading import Lab, Reading
from firingend.reading.zone_colour import part_lab, zone_difference

PART_WORDS: Final[Mapping[str, str]] = {
    "nose": "nose",
    "centre-electrode": "centre electrode",
    "strap": "strap",
    "rim": "rim",
    "threads": "threads",
}
"""Each part of a firing end as the trade says it."""

_DEPOSIT: Final = {"rich-carbon": "soot", "oil-fouled": "oil"}
_ON_RIM: Final = {"rich-carbon": 0.30, "oil-fouled": 0.0}
_ON_THREADS: Final = {"rich-carbon": 0.58, "oil-fouled": 0.40}
"""Severity from which more than half of that part is covered on the plugs the reader learnt from."""

_SAME: Final = 3.0
_OTHER: Final = 12.0
"""CIEDE2000 up to which two noses pass for the same colour, and from which nobody would; common practice, no source."""

_SIDE: Final = 4.0
"""CIELAB units from which darker, lighter and the like are worth saying; common practice, no source."""


def climbed_to(reading: Reading) -> str:
    """The farthest part that soot or oil has reached: ``nose``, ``rim`` or ``threads``; empty where none is judged.

    Examples
    --------
    >>> sooty = dict.fromkeys(("lean-white", "normal-tan", "oil-fouled", "wet"), 0.0) | {"rich-carbon": 1.0}
    >>> [climbed_to(Reading(None, "rich-carbon", sooty, severity=s)) for s in (None, 0.2, 0.5, 0.9)]
    ['', 'nose', 'rim', 'threads']
    """
    if reading.severity is None or reading.label not in _DEPOSIT:
        return ""
    if reading.severity >= _ON_THREADS[reading.label]:
        return "threads"
    return "rim" if reading.severity >= _ON_RIM[reading.label] else "nose"


def severity_words(reading: Reading) -> str:
    """How far soot or oil climbs, without a full stop; empty for labels that do not climb and where not judged.

    Examples
    --------
    >>> sooty = dict.fromkeys(("lean-white", "normal-tan", "oil-fouled", "wet"), 0.0) | {"rich-carbon": 1.0}
    >>> severity_words(Reading(None, "rich-carbon", sooty, severity=0.9))
    'soot over nose and rim and up the threads'
    """
    farthest = climbed_to(reading)
    if not farthest:
        return ""
    where = {"nose": "on the nose only", "rim": "over nose and rim", "threads": "over nose and rim and up the threads"}
    return f"{_DEPOSIT[reading.label]} {where[farthest]}"


def could_also_be(reading: Reading) -> str:
    """The labels it could be besides the one given, in words without a full stop; empty where there are none.

    Examples
    --------
    >>> even = dict.fromkeys(("lean-white", "normal-tan", "rich-carbon", "oil-fouled", "wet"), 0.2)
    >>> could_also_be(Reading(None, "wet", even, label_set=("wet", "rich-carbon", "oil-fouled")))
    'could also be sooty or oily'
    >>> could_also_be(Reading(None, "unreadable", even, label_set=("wet", "rich-carbon")))
    'could be wet or sooty'
    """
    others = [LABEL_WORDS[label] for label in reading.label_set if label != reading.label]
    if not others or len(others) >= len(LABEL_WORDS):
        return ""
    listed = " or ".join([", ".join(others[:-1]), others[-1]] if len(others) > 1 else others)
    return f"could be {listed}" if reading.label == UNREADABLE else f"could also be {listed}"


def colour_sentence(readings: Mapping[int, Reading], cylinder: int, part: str = "nose") -> str:
    """How far the colour of one cylinder's part is from the other cylinders', as a sentence; empty where not known.

    Parameters
    ----------
    readings
        Plugs photographed in one light, by cylinder; those that could not be read are passed over.
    cylinder
        The one that stands out.
    part
        One of ``PART_WORDS``.
    """
    seen = {c: r for c, r in readings.items() if part_lab(r.zones, part) is not None and r.label != UNREADABLE}
    if cylinder not in seen or len(seen) < 2:
        return ""
    difference = zone_difference(list(seen.values()), part)[list(seen).index(cylinder)]
    others = {c: part_lab(r.zones, part) for c, r in seen.items() if c != cylinder}
    if difference is None:
        return ""
    own, rest = part_lab(seen[cylinder].zones, part), np.median([lab for lab in others.values() if lab], axis=0)
    assert own is not None
    many = part == "threads"
    whose = f"{'those' if many or len(others) > 1 else 'that'} of {list_cylinders(tuple(others))}"
    be = "are" if many else "is"
    subject = f"The {PART_WORDS[part]} of cylinder {cylinder}"
    figure = f"colour difference {difference:.0f} by CIEDE2000"
    if difference < _SAME:
        return f"{subject} {be} hardly another colour than {whose} ({figure})."
    how = _side(own, (float(rest[0]), float(rest[1]), float(rest[2])))
    if not how:
        return f"{subject} {be} of another colour than {whose} ({figure})."
    return f"{subject} {be} {'far ' if difference >= _OTHER else ''}{how} than {whose} ({figure})."


def _side(own: Lab, rest: Lab) -> str:
    """To which side a colour lies, by its largest step; empty where no step is large."""
    lightness, warmth = own[0] - rest[0], own[2] - rest[2]
    if abs(lightness) >= max(_SIDE, abs(warmth)):
        return "lighter" if lightness > 0 else "darker"
    if abs(warmth) >= _SIDE:
        return "browner" if warmth > 0 else "greyer"
    return ""
