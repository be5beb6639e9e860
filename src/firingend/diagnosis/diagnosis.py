"""What the troubleshooter hands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class RankedCause:
    """One cause at one place: ``where`` is "engine", "cylinder 3", "coil A (1 and 4)", "left bank"…"""

    id: str
    name: str
    where: str
    probability: float
    repair: str
    cylinders: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class RankedStep:
    """One check worth doing next.

    Attributes
    ----------
    id, name, where
        The check and where to do it ("cylinder 3"; "engine" when it is not tied to a place).
    why
        One or two plain sentences: what it would rule in and out.
    how
        How to do it, three to six plain lines; may be empty.
    minutes
        Working time.
    parts_cost
        In the case's currency.
    expected_cost
        Expected cost from here to a repaired engine if this check is done next, in the case's currency.
    cautions
        Safety cautions to show beside the step, in full sentences.
    source
        Where its numbers come from: ``common practice`` or a publication.
    tools
        What is needed; may be empty.
    kind
        ``check``, ``repair`` (its id is ``repair:`` and the cause's id) or ``hand-over``.
    saving
        How much less it is expected to cost than going on by a plain plan without it, in the case's currency.
    """

    id: str
    name: str
    where: str
    why: str
    how: tuple[str, ...]
    minutes: float
    parts_cost: float
    expected_cost: float
    cautions: tuple[str, ...]
    source: str
    kind: Literal["check", "repair", "hand-over"] = "check"
    saving: float = 0.0
    tools: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Causes and next checks, best first, with anything the user should know about the evidence.

    ``currency`` is an ISO 4217 code. ``notes`` are plain sentences (contradictions, weak evidence, refusals).
    ``advice`` is one sentence: look on, repair now, or hand over. ``questions`` are symptoms worth asking for,
    best first, as (symptom id, question).
    """

    causes: tuple[RankedCause, ...]
    next: tuple[RankedStep, ...]
    ruled_out: tuple[RankedCause, ...]
    currency: str
    notes: tuple[str, ...] = ()
    advice: str = ""
    questions: tuple[tuple[str, str], ...] = ()
