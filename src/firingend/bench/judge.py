"""Measurements judged against the manual's limits if given, and against each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from firingend.bench.condition import Condition, parse
from firingend.bench.kinds import Kind, kind_of
from firingend.bench.measurement import Finding, Measurement
from firingend.bench.peers import Standing, compare
from firingend.bench.physics import copper_at_20, flow_at
from firingend.bench.units import INSIDE, to_inside
from firingend.errors import BugError, UserError

COMPRESSION_SHARE: Final = 0.75
"""Lowest over highest (US Army TM 5-4210-230-14&P-1)."""
LEAK_LIMIT: Final = 25.0
"""Percent (service practice; FAA AC 43.13-1B holds 60 of 80 psi, the same)."""
WET_RISE: Final = 0.10
HOLD_SHARE: Final = 0.70
BACK_PRESSURE: Final = 20.0
LEAST_PUMP_VOLTAGE: Final = 11.5
OPEN: Final = 1e6
REFERENCE_PRESSURE: Final = 300.0
_COPPER: Final = ("coil-primary-resistance", "coil-secondary-resistance", "injector-resistance")
_OPEN_KINDS: Final = (*_COPPER, "lead-resistance")
_HISS: Final = {
    "intake": "intake", "inlet": "intake", "throttle": "intake", "exhaust": "exhaust", "tail": "exhaust",
    "breather": "breather", "oil": "breather", "crankcase": "breather", "coolant": "coolant",
    "radiator": "coolant", "header": "coolant", "next": "neighbour", "neighbour": "neighbour",
}  # fmt: skip
_NTC: Final = ((-10.0, 9400.0), (0.0, 5900.0), (20.0, 2500.0), (40.0, 1180.0), (60.0, 600.0), (80.0, 325.0),
               (100.0, 190.0))  # fmt: skip
"""A common temperature sensor, degC to ohm; common practice, no source. The manual's chart comes first."""


@dataclass(frozen=True, slots=True)
class _Read:
    """One measurement in inside units."""

    given: Measurement
    kind: Kind
    condition: Condition
    value: float
    low: float | None
    high: float | None

    def finding(self, verdict: str, reason: str, outcome: str) -> Finding:
        unit = INSIDE[self.kind.quantity]
        check = self.kind.check if outcome else ""
        return Finding(self.kind.id, self.given.where, self.value, unit, verdict, reason, check, outcome)


def judge(measurements: Sequence[Measurement]) -> tuple[Finding, ...]:
    """Judge every measurement, those of one kind together.

    Raises
    ------
    UserError
        An unknown kind or unit, a value that cannot be, a condition that is not understood.
    """
    reads = [_read(measurement) for measurement in measurements]
    found: dict[int, Finding] = {}
    for kind in dict.fromkeys(read.kind for read in reads):
        members = [k for k, read in enumerate(reads) if read.kind == kind]
        for k, finding in zip(members, _judge_kind(kind, [reads[k] for k in members], reads), strict=True):
            found[k] = finding
    return tuple(found[k] for k in range(len(reads)))


def _read(given: Measurement) -> _Read:
    kind = kind_of(given.what)
    what = f"{kind.id}, {given.where}"
    condition = parse(given.condition, what)
    value = to_inside(given.value, given.unit, kind.quantity, what=what)
    if not kind.low <= value <= kind.high and not math.isinf(value):
        raise UserError(
            f"{what}: {given.value:g} {given.unit} cannot be",
            f"it should lie between {kind.low:g} and {kind.high:g} {INSIDE[kind.quantity]}; check number and unit",
        )
    low, high = (
        None if limit is None else to_inside(limit, given.unit, kind.quantity, what=what)
        for limit in (condition.low, condition.high)
    )
    if kind.id in _COPPER and condition.temperature is not None and not math.isinf(value):
        value = copper_at_20(value, condition.temperature)
    if kind.id == "injector-flow" and condition.pressure is not None:
        value = flow_at(value, condition.pressure, REFERENCE_PRESSURE)
    return _Read(given, kind, condition, value, low, high)


def _judge_kind(kind: Kind, reads: list[_Read], everything: list[_Read]) -> list[Finding]:
    if kind.id == "compression-dry":
        return _compression(reads)
    if kind.id == "compression-wet":
        return [_wet(read, reads, everything) for read in reads]
    if kind.id == "leak-down":
        return [_leak(read) for read in reads]
    if kind.id == "fuel-pressure-after-stop":
        return [_hold(read, everything) for read in reads]
    if kind.id.endswith("sensor-resistance"):
        return [_sensor(read) for read in reads]
    return _against_limits_and_peers(kind, [_with_usual_limits(read) for read in reads])


def _with_usual_limits(read: _Read) -> _Read:
    """Limits that hold on every engine where the manual's are not given."""
    if read.low is None and read.high is None:
        if read.kind.id == "exhaust-back-pressure":
            return replace(read, high=BACK_PRESSURE)
        if read.kind.id == "pump-voltage":
            return replace(read, low=LEAST_PUMP_VOLTAGE)
    return read


def _against_limits_and_peers(kind: Kind, reads: list[_Read]) -> list[Finding]:
    # What is open or beyond its own limits is known to be off: it must not make a sound one look odd.
    sound = [read for read in reads if not _is_open(read) and not _beyond_limits(read)]
    standing = dict(zip(map(id, sound), compare([max(r.value, 1e-9) for r in sound], kind.tolerance), strict=True))
    found = []
    for read in reads:
        unit = INSIDE[kind.quantity]
        if _is_open(read):
            found.append(read.finding("open", "No reading at all: an open circuit.", "open"))
        elif read.value == 0 and kind.id in ("fuel-pressure-idle", "pump-delivery", "pump-voltage"):
            found.append(read.finding("none", "Nothing at all.", "none"))
        elif read.low is not None and read.value < read.low:
            reason = f"{read.value:.4g} {unit} is under the limit of {read.low:.4g}."
            found.append(read.finding("low", reason, kind.below))
        elif read.high is not None and read.value > read.high:
            reason = f"{read.value:.4g} {unit} is over the limit of {read.high:.4g}."
            found.append(read.finding("high", reason, kind.above))
        else:
            found.append(_against_peers(read, standing[id(read)], len(sound)))
    return found


def _against_peers(read: _Read, standing: Standing, count: int) -> Finding:
    kind, limited = read.kind, read.low is not None or read.high is not None
    comparable = count > 1 and kind.tolerance < 1.0
    if comparable and standing.odd:
        return _odd(read, standing, count)
    if limited or comparable:
        against = "within limits" if limited else "like the others"
        return read.finding("in order", f"{read.value:.4g} {INSIDE[kind.quantity]}, {against}.", kind.passed)
    return read.finding("not judged", "No limits given and nothing to compare with.", "")


def _odd(read: _Read, standing: Standing, count: int) -> Finding:
    """Odd among its peers: a note where a limit decides this side, a finding only where peers can tell."""
    kind, lower = read.kind, standing.deviation < 0
    against = f"{standing.deviation:+.0%} against the other{'s' * (count > 2)}: {standing.rule} ({kind.source})."
    if (read.low if lower else read.high) is not None:
        reason = f"{read.value:.4g} {INSIDE[kind.quantity]}, within limits, though {against}"
        if kind.compares:
            return read.finding("differs", reason, "")
        return read.finding("in order", reason, kind.passed)
    if count == 2:
        return read.finding("differs", against + " Two alone cannot tell which is off.", "")
    return read.finding(*("low", against, kind.below) if lower else ("high", against, kind.above))


def _beyond_limits(read: _Read) -> bool:
    return (read.low is not None and read.value < read.low) or (read.high is not None and read.value > read.high)


def _is_open(read: _Read) -> bool:
    return read.kind.id in _OPEN_KINDS and (math.isinf(read.value) or read.value >= OPEN)


def _compression(reads: list[_Read]) -> list[Finding]:
    # One over its own limit (a coked chamber, oil) is no measure for the others.
    sound = [read for read in reads if read.high is None or read.value <= read.high]
    highest = max((read.value for read in sound), default=0.0)
    found = []
    for read in reads:
        share = read.value / highest if highest else 0.0
        if read.low is not None and read.value < read.low:
            found.append(read.finding("low", f"{read.value:.0f} kPa is under the limit of {read.low:.0f}.", "low"))
        elif read.high is not None and read.value > read.high:
            found.append(read.finding("high", f"{read.value:.0f} kPa is over the limit of {read.high:.0f}.", ""))
        elif len(sound) == 1 and read.low is None:
            found.append(read.finding("not judged", "One reading without a limit says nothing.", ""))
        elif share < COMPRESSION_SHARE:
            reason = f"{share:.0%} of the highest; at least 75% is asked (US Army TM 5-4210-230-14&P-1)."
            found.append(read.finding("low", reason, "low"))
        else:
            found.append(read.finding("in order", f"{share:.0%} of the highest.", "good"))
    return found


def _wet(read: _Read, wet: list[_Read], everything: list[_Read]) -> Finding:
    dry = [r for r in everything if r.kind.id == "compression-dry"]
    here = next((r for r in dry if r.given.where == read.given.where), None)
    if here is None:
        return read.finding("not judged", "There is no dry reading of this cylinder to compare with.", "")
    low = next(f for r, f in zip(dry, _compression(dry), strict=True) if r is here).outcome == "low"
    rise = read.value / here.value - 1.0 if here.value else 0.0
    if not low:
        return read.finding("in order", f"Not low to begin with; {rise:+.0%} with oil.", "not-low")
    if rise >= WET_RISE:
        return read.finding("rises", f"{rise:+.0%} with oil: rings (US Army TM 5-4210-230-14&P-1).", "rises")
    reason = f"{rise:+.0%} with oil: valves or gasket rather than rings (US Army TM 5-4210-230-14&P-1)."
    return read.finding("stays low", reason, "no-rise")


def _leak(read: _Read) -> Finding:
    limit = read.high if read.high is not None else LEAK_LIMIT
    if read.value <= limit:
        return read.finding("in order", f"{read.value:.0f}% lost; up to {limit:.0f}% is accepted.", "tight")
    exits = [exit_ for word, exit_ in _HISS.items() if word in read.condition.hiss.lower()]
    reason = f"{read.value:.0f}% lost, more than {limit:.0f}%"
    if not exits:
        return read.finding("high", reason + "; where it hisses is not written down.", "")
    return read.finding("high", f"{reason}, hissing at the {read.condition.hiss}.", exits[0])


def _hold(read: _Read, everything: list[_Read]) -> Finding:
    running = [r.value for r in everything if r.kind.id in ("fuel-pressure-idle", "fuel-pressure-hose-off")]
    limit = read.low if read.low is not None else (HOLD_SHARE * max(running) if running else None)
    if limit is None:
        return read.finding("not judged", "Neither a limit nor the running pressure is given.", "")
    if read.value < limit:
        return read.finding("falls", f"{read.value:.0f} kPa left; at least {limit:.0f} is expected.", "falls")
    return read.finding("in order", f"{read.value:.0f} kPa left.", "holds")


def _sensor(read: _Read) -> Finding:
    if read.low is None and read.high is None:
        if read.condition.temperature is None:
            return read.finding("not judged", "The temperature of the sensor is not given.", "")
        nominal = chart_resistance(read.condition.temperature)
        tolerance = read.kind.tolerance
        read = replace(read, low=nominal * (1 - tolerance), high=nominal * (1 + tolerance))
    if read.high is not None and read.value > read.high:
        return read.finding("high", f"{read.value:.0f} ohm: more than the chart's {read.high:.0f}.", "reads-cold")
    if read.low is not None and read.value < read.low:
        return read.finding("low", f"{read.value:.0f} ohm: less than the chart's {read.low:.0f}.", "reads-hot")
    return read.finding("in order", f"{read.value:.0f} ohm, on the chart.", "on-chart")


def chart_resistance(temperature: float) -> float:
    """Resistance in ohm of a common temperature sensor at a temperature in degC, between the chart's points.

    Examples
    --------
    >>> chart_resistance(20.0)
    2500.0
    """
    if not _NTC[0][0] <= temperature <= _NTC[-1][0]:
        raise UserError(
            f"the sensor chart does not reach {temperature:g} degC", "measure between -10 and 100 degC, or give a spec"
        )
    for (t0, r0), (t1, r1) in pairwise(_NTC):
        if t0 <= temperature <= t1:
            return float(r0 * (r1 / r0) ** ((temperature - t0) / (t1 - t0)))
    raise BugError("the sensor chart has a hole")
