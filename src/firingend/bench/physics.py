"""The few formulas a bench needs."""

from __future__ import annotations

from math import sqrt
from typing import Final

from firingend.errors import UserError

COPPER_CONSTANT: Final = 234.5
"""Temperature in degC below zero at which copper would lose its resistance, by IEC 60228; IEC 60034 uses 235."""


def copper_at_20(resistance: float, temperature: float) -> float:
    """Resistance of a copper winding at 20 degC.

    R20 = R (234.5 + 20) / (234.5 + t), IEC 60228.

    Parameters
    ----------
    resistance
        Ohm, as measured.
    temperature
        Of the winding, degC.

    Examples
    --------
    >>> round(copper_at_20(100.0, 30.0), 3)
    96.219
    """
    if not -60.0 <= temperature <= 250.0:
        raise UserError(f"a winding at {temperature:g} degC is not plausible", "write the temperature in degC")
    return resistance * (COPPER_CONSTANT + 20.0) / (COPPER_CONSTANT + temperature)


def flow_at(flow: float, pressure: float, wanted: float) -> float:
    """Flow of an injector at another pressure across it: it goes with the square root (orifice equation).

    Examples
    --------
    >>> round(flow_at(240.0, 300.0, 350.0), 2)
    259.23
    """
    if pressure <= 0 or wanted <= 0:
        raise UserError("a flow needs a pressure above zero", "write the pressure across the injector")
    return flow * sqrt(wanted / pressure)
