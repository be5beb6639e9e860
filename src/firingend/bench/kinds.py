"""The kinds of measurement that can be judged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from firingend.errors import UserError


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of measurement.

    Attributes
    ----------
    id, quantity
        What it is called; key of `units.INSIDE`.
    low, high
        What is plausible at all, in inside units; anything beyond is refused as a slip of the pen.
    tolerance
        Relative difference from the peers that is a finding.
    check
        Check of the troubleshooter that it settles.
    passed, below, above
        Outcomes of that check: in order, lower and higher than the limits or the peers. An empty outcome means
        that this side says nothing.
    source
        Where tolerance and limits come from.
    compares
        The check asks whether the members are even; a value within absolute limits does not yet say so.
    """

    id: str
    quantity: str
    low: float
    high: float
    tolerance: float
    check: str
    passed: str
    below: str
    above: str
    source: str = "common practice, no source"
    compares: bool = False


_ALL: Final = (
    Kind("coil-primary-resistance", "resistance", 0.01, 1e7, 0.10, "coil-resistance", "alike", "off", "off"),
    Kind("coil-secondary-resistance", "resistance", 10, 1e8, 0.12, "coil-resistance", "alike", "off", "off"),
    Kind("lead-resistance", "resistance", 0, 1e8, 0.60, "lead-resistance", "in-range", "", "high"),
    Kind("plug-gap", "length", 0.05, 3.0, 0.20, "plug-gap", "right", "closed", "wide"),
    Kind("compression-dry", "pressure", 0, 3500, 0.25, "compression-dry", "good", "low", ""),
    Kind("compression-wet", "pressure", 0, 3500, 0.25, "compression-wet", "not-low", "no-rise", ""),
    Kind("leak-down", "share", 0, 100, 1.0, "leak-down", "tight", "", ""),
    Kind("fuel-pressure-idle", "pressure", 0, 30_000, 1.0, "fuel-pressure-idle", "in-range", "low", "high"),
    Kind("fuel-pressure-hose-off", "pressure", 0, 30_000, 1.0, "fuel-pressure-idle", "in-range", "low", "high"),
    Kind("fuel-pressure-load", "pressure", 0, 30_000, 1.0, "fuel-pressure-load", "holds", "falls", ""),
    Kind("fuel-pressure-after-stop", "pressure", 0, 30_000, 1.0, "fuel-pressure-hold", "holds", "falls", ""),
    Kind("pump-delivery", "flow", 0, 20_000, 1.0, "pump-delivery", "full", "short", "full"),
    Kind("pump-voltage", "voltage", 0, 60, 1.0, "pump-voltage", "good", "low", "good"),
    Kind("injector-resistance", "resistance", 0.05, 1e7, 0.10, "injector-resistance", "in-range", "off", "off"),
    Kind("injector-flow", "flow", 0, 5000, 0.06, "injector-balance", "even", "low", "high", compares=True),
    Kind("injector-balance-drop", "pressure", 0, 1000, 0.12, "injector-balance", "even", "low", "high", compares=True),
    Kind("coolant-temperature-sensor-resistance", "resistance", 1, 1e7, 0.35, "coolant-temperature-sensor",
         "on-chart", "reads-hot", "reads-cold"),
    Kind("intake-temperature-sensor-resistance", "resistance", 1, 1e7, 0.35, "intake-temperature-sensor",
         "on-chart", "reads-hot", "reads-cold"),
    Kind("valve-clearance-inlet", "length", 0, 2, 1.0, "valve-clearance", "in-range", "tight", "wide"),
    Kind("valve-clearance-exhaust", "length", 0, 2, 1.0, "valve-clearance", "in-range", "tight", "wide"),
    Kind("exhaust-back-pressure", "pressure", 0, 300, 1.0, "exhaust-back-pressure", "free", "free", "high"),
)  # fmt: skip
KINDS: Final = {kind.id: kind for kind in _ALL}


def kind_of(what: str) -> Kind:
    """The kind with this id; raises `UserError` when there is none.

    Examples
    --------
    >>> kind_of("plug-gap").quantity
    'length'
    """
    word = "-".join(what.lower().split())
    if word not in KINDS:
        raise UserError(f'"{what}" is not a measurement that can be judged', "say one of: " + ", ".join(KINDS))
    return KINDS[word]
