"""Money in minor units, and how many of them make one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

# ISO 4217; every other currency in use has two digits.
_DIGITS: Final[Mapping[str, int]] = {
    **dict.fromkeys(("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND"), 0),
    **dict.fromkeys(("VUV", "XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
}


def minor(amount: float, currency: str) -> int:
    """An amount in minor units.

    Examples
    --------
    >>> minor(12.34, "EUR"), minor(1200, "JPY")
    (1234, 1200)
    """
    return round(amount * float(10 ** _DIGITS.get(currency, 2)))


def major(amount: int, currency: str) -> float:
    """Minor units as an amount.

    Examples
    --------
    >>> major(1234, "EUR"), major(1200, "JPY")
    (12.34, 1200.0)
    """
    return float(amount / 10 ** _DIGITS.get(currency, 2))
