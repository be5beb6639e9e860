"""Measurements against the manual's limits and against each other, as a report prints them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from firingend.bench.judge import judge
from firingend.bench.measurement import Finding, Measurement
from firingend.errors import UserError
from firingend.report.content import Measured
from firingend.report.figures import NBSP
from firingend.report.naming import place, spoken
from firingend.report.plain import one_line, sentence

_LIMIT: Final = re.compile(r"spec(?:ification)? +(.*)")


def measured_lines(measurements: Sequence[Measurement]) -> tuple[Measured, ...]:
    """A line for each measurement; without verdicts where one of them cannot be judged."""
    findings: Sequence[Finding | None]
    try:
        findings = judge(measurements)
    except UserError:
        findings = [None] * len(measurements)
    return tuple(_line(each, finding) for each, finding in zip(measurements, findings, strict=True))


def _line(measurement: Measurement, finding: Finding | None) -> Measured:
    unit = one_line(measurement.unit)
    value = f"{measurement.value:.6g}{NBSP}{unit}".rstrip()
    parts = [part.strip() for part in re.split("[;,]", one_line(measurement.condition)) if part.strip()]
    limits = [f"{found[1]}{NBSP}{unit}".rstrip() for part in parts if (found := _LIMIT.fullmatch(part))]
    remarks = [part for part in parts if not _LIMIT.fullmatch(part)]
    return Measured(
        name=spoken(measurement.what),
        where=place(measurement.where),
        value=", ".join([value, *remarks]),
        limits="; ".join(limits),
        verdict=spoken(finding.verdict) if finding else "",
        reason=sentence(finding.reason) if finding else "",
    )
