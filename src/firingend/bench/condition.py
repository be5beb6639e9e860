"""What a measurement's condition says: temperature, pressure, the manual's limits, where it hissed."""

from __future__ import annotations

import re
from dataclasses import dataclass

from firingend.bench.units import to_inside
from firingend.errors import UserError

_NUMBER = r"([-+]?\d+(?:\.\d+)?)"
_SPEC = re.compile(rf"spec(?:ification)? {_NUMBER} *(?:to|\.\.|-|–) *{_NUMBER}")
_LEAST = re.compile(rf"spec(?:ification)? at least {_NUMBER}")
_MOST = re.compile(rf"spec(?:ification)? at most {_NUMBER}")
_AT = re.compile(rf"at {_NUMBER} *([^\s;]+)")


@dataclass(frozen=True, slots=True)
class Condition:
    """Parsed condition; ``low`` and ``high`` are in the unit the value was written in, the others inside units."""

    temperature: float | None = None
    pressure: float | None = None
    low: float | None = None
    high: float | None = None
    hiss: str = ""


def parse(text: str, what: str) -> Condition:
    """Read a condition; remarks that say none of this are passed over.

    Raises
    ------
    UserError
        A limit, temperature or pressure that is not written as it should be.

    Examples
    --------
    >>> parse("at 35 degC; spec 0.4 to 0.6", "coil")
    Condition(temperature=35.0, pressure=None, low=0.4, high=0.6, hiss='')
    """
    temperature = pressure = low = high = None
    hiss = ""
    for part in filter(None, (piece.strip() for piece in re.split(r"[;,]", text))):
        if found := _SPEC.fullmatch(part):
            low, high = float(found[1]), float(found[2])
        elif found := _LEAST.fullmatch(part):
            low = float(found[1])
        elif found := _MOST.fullmatch(part):
            high = float(found[1])
        elif part.startswith("hiss"):
            hiss = re.sub(r"^hiss(es|ing)?( at| in| from)?( the)? ?", "", part)
        elif found := _AT.fullmatch(part):
            if found[2] in ("degC", "°C", "C", "degF", "°F", "K"):
                temperature = to_inside(float(found[1]), found[2], "temperature", what=what)
            else:
                pressure = to_inside(float(found[1]), found[2], "pressure", what=what)
        elif part.startswith(("spec", "at ")) and any(c.isdigit() for c in part):
            raise UserError(
                f'{what}: the condition "{part}" is not understood',
                "write such as: at 35 degC; at 300 kPa; spec 0.7 to 0.8; spec at least 2.4; hisses at exhaust",
            )
    if low is not None and high is not None and low > high:
        raise UserError(f"{what}: the limits {low:g} to {high:g} are the wrong way round", "swap them")
    return Condition(temperature, pressure, low, high, hiss)
