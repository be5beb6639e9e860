"""Numbers as a report prints them: percentages, minutes, money."""

from __future__ import annotations

import math
from dataclasses import dataclass

NBSP = "\u00a0"


@dataclass(frozen=True, slots=True)
class Chance:
    """A probability as number and as bar: ``text`` such as "94 %", ``share`` in 0..1."""

    text: str
    share: float


def chance(probability: float) -> Chance:
    """A probability to print.

    Never says 0 % or 100 %: neither would be true of an estimate.

    Examples
    --------
    >>> chance(0.9361)
    Chance(text='94\\xa0%', share=0.9361)
    >>> chance(0.9999).text
    'over 99\\xa0%'
    >>> chance(0.0004).text
    'under 1\\xa0%'
    """
    share = min(1.0, max(0.0, probability)) if math.isfinite(probability) else 0.0
    if not math.isfinite(probability):
        return Chance("not known", share)
    if share < 0.005:
        return Chance(f"under 1{NBSP}%", share)
    if share > 0.994999:
        return Chance(f"over 99{NBSP}%", share)
    return Chance(f"{share * 100:.0f}{NBSP}%", share)


def minutes(value: float) -> str:
    """Working time in words.

    Examples
    --------
    >>> minutes(12), minutes(90), minutes(120)
    ('12\\xa0min', '1\\xa0h 30\\xa0min', '2\\xa0h')
    """
    if not math.isfinite(value):
        return "not known"
    whole = max(0, round(value))
    hours, rest = divmod(whole, 60)
    if hours == 0:
        return f"{rest}{NBSP}min"
    return f"{hours}{NBSP}h" + (f" {rest}{NBSP}min" if rest else "")


def money(amount: float, currency: str) -> str:
    """An amount with its ISO 4217 code, in whole units from ten up.

    Examples
    --------
    >>> money(0, "EUR"), money(7.5, "EUR"), money(1234.4, "GBP")
    ('nothing', '7.50\\xa0EUR', '1,234\\xa0GBP')
    """
    if not math.isfinite(amount):
        return "not known"
    if abs(amount) < 0.005:
        return "nothing"
    figure = f"{amount:,.0f}" if abs(amount) >= 10 or float(amount).is_integer() else f"{amount:,.2f}"
    return f"{figure}{NBSP}{currency}".rstrip()


def bill_amount(amount: float, currency: str, digits: int = 2) -> str:
    """An amount as it stands on a bill: to the cent, or to whatever the currency's smallest coin is.

    Examples
    --------
    >>> bill_amount(1234.4, "EUR"), bill_amount(0, "EUR"), bill_amount(1200, "JPY", 0)
    ('1,234.40\\xa0EUR', '0.00\\xa0EUR', '1,200\\xa0JPY')
    """
    if not math.isfinite(amount):
        return "not known"
    return f"{amount:,.{digits}f}{NBSP}{currency}".rstrip()
