"""One number from the bench, and what was made of it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Measurement:
    """One number the technician took.

    Attributes
    ----------
    what
        Id of a kind of measurement, such as ``coil-primary-resistance`` or ``compression-dry``.
    where
        Where it was taken: ``engine``, ``cylinder 3``, ``coil A``.
    value, unit
        The number and the unit it was written in, such as 1250 and ``kPa``, or 181 and ``psi``.
    condition
        What else matters, parts separated by commas or semicolons; may be empty. ``at 35 degC`` is the temperature
        it was taken at, ``at 300 kPa`` the pressure, ``spec 0.7 to 0.8`` (also ``spec at least 2.4``, ``spec at most
        25``) the manual's limits in the unit of the value, ``hisses at exhaust`` where it hissed.
    """

    what: str
    where: str
    value: float
    unit: str
    condition: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """What one measurement says.

    Attributes
    ----------
    what, where
        As measured.
    value, unit
        Inside units: kPa, ohm, mm, ml/min, V, percent; resistance of copper at 20 degC.
    verdict
        ``in order``, ``low``, ``high``, ``open`` … or ``not judged``.
    reason
        One sentence: the rule, its numbers and its source.
    check, outcome
        The check this settles and its outcome, as the troubleshooter names them; empty when not judged.
    """

    what: str
    where: str
    value: float
    unit: str
    verdict: str
    reason: str
    check: str = ""
    outcome: str = ""
