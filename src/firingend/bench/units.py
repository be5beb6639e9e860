"""Units of the technician's choice outside; one unit a quantity inside."""

from __future__ import annotations

import math
from functools import cache
from typing import Any, Final

from firingend.errors import UserError

INSIDE: Final = {
    "resistance": "ohm",
    "length": "mm",
    "pressure": "kPa",
    "flow": "ml/min",
    "voltage": "V",
    "share": "percent",
    "temperature": "degC",
}
"""Quantity to the unit used inside."""


@cache
def _registry() -> Any:  # noqa: ANN401
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def to_inside(value: float, unit: str, quantity: str, *, what: str = "measurement") -> float:
    """A value in the unit used inside.

    Parameters
    ----------
    value, unit
        As written down; infinite resistance is an open circuit and stays infinite.
    quantity
        Key of `INSIDE`.
    what
        What to call it in a message.

    Raises
    ------
    UserError
        The unit is unknown or measures something else; the value is not a number.

    Examples
    --------
    >>> round(to_inside(150, "psi", "pressure"), 1)
    1034.2
    >>> round(to_inside(0.028, "inch", "length"), 3)
    0.711
    """
    if math.isnan(value):
        raise UserError(f"{what}: the value is not a number", "write the number that was read")
    if math.isinf(value):
        if value > 0 and quantity == "resistance":
            return value
        raise UserError(f"{what}: the value is infinite", "only an open circuit may be written as inf")
    inside = INSIDE[quantity]
    written = {"Ω": "ohm", "kΩ": "kohm", "MΩ": "Mohm", "%": "percent", "°C": "degC", "°F": "degF", "C": "degC"}
    registry = _registry()
    try:
        return float(registry.Quantity(value, written.get(unit.strip(), unit.strip())).to(inside).magnitude)
    except Exception as error:
        raise UserError(
            f'{what}: "{unit}" is not a unit of {quantity}', f"write it in {inside} or a unit that converts to it"
        ) from error


def from_inside(value: float, quantity: str, unit: str) -> float:
    """A value inside, in the unit a person wants to see.

    Examples
    --------
    >>> round(from_inside(1034.2, "pressure", "psi"))
    150
    """
    registry = _registry()
    return float(registry.Quantity(value, INSIDE[quantity]).to(unit).magnitude)
