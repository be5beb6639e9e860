"""What speaks for a cause and against it, what a new fact changed, and what to tell the customer."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from firingend.diagnosis.diagnosis import Diagnosis, RankedCause
from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.knowledge import Knowledge, load
from firingend.diagnosis.measured import with_measured_outcomes
from firingend.diagnosis.posterior import Posterior, prior_balance, weigh
from firingend.diagnosis.suspects import HEALTHY, NOTHING_LISTED, Floats, suspects
from firingend.diagnosis.terms import Term
from firingend.diagnosis.weighing import terms
from firingend.errors import UserError

_SAYS_NOTHING = 1.1
_MOVED = 0.02
_NEVER = 1e-300
_WORDS = ((10.0, "strongly"), (3.0, "clearly"), (1.5, "somewhat"), (0.0, "slightly"))


@dataclass(frozen=True, slots=True)
class Reason:
    """One item of evidence on one cause.

    Attributes
    ----------
    what
        The item in words.
    factor
        How much likelier the item is under the cause than under everything else that is still possible: above 1
        speaks for it, below 1 against it.
    words
        ``strongly for``, ``somewhat against`` …
    """

    what: str
    factor: float
    words: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """Why one cause at one place is as likely as it is; strongest reasons first.

    ``before`` and ``after`` are its probability, alone or with another cause, as the table of causes has it.
    """

    cause: str
    name: str
    where: str
    before: float
    after: float
    speaks_for: tuple[Reason, ...] = field(default=())
    speaks_against: tuple[Reason, ...] = field(default=())

    def sentences(self) -> tuple[str, ...]:
        """The same in plain words."""
        where = "" if self.where == "engine" else f", {self.where}"
        lines = [f"{self.name}{where}: {self.before:.1%} before any evidence, {self.after:.0%} now."]
        for reason in (*self.speaks_for, *self.speaks_against):
            size = reason.factor if reason.factor >= 1 else 1 / reason.factor
            lines.append(f"{reason.what} speaks {reason.words} it ({size:.1f} times).")
        return tuple(lines)


def explain(evidence: Evidence, cause: str, where: str = "engine", knowledge: Knowledge | None = None) -> Explanation:
    """Take the probability of one cause apart.

    Raises
    ------
    UserError
        The cause is unknown, or cannot sit there on this engine.
    """
    known = knowledge if knowledge is not None else load()
    found = suspects(known, evidence.engine)
    rows = found.index(known.cause_id(cause), where)
    if not rows:
        raise UserError(f'"{cause}" does not apply to this engine', "ask for a cause that does")
    items = list(terms(found, with_measured_outcomes(evidence, known)))
    posterior = weigh(found, items)
    after = posterior.at_fault()
    row = max(rows, key=lambda k: float(after[k]))
    reasons = [_reason(item, posterior, row) for item in items]
    reasons = [r for r in reasons if r.factor > _SAYS_NOTHING or r.factor < 1 / _SAYS_NOTHING]
    suspect = found.each[row]
    return Explanation(
        cause=suspect.cause.id,
        name=suspect.cause.name,
        where=suspect.place.name,
        before=float(prior_balance(found).posterior().at_fault()[row]),
        after=float(after[row]),
        speaks_for=tuple(sorted((r for r in reasons if r.factor > 1), key=lambda r: -r.factor)),
        speaks_against=tuple(sorted((r for r in reasons if r.factor < 1), key=lambda r: r.factor)),
    )


def _reason(item: Term, posterior: Posterior, row: int) -> Reason:
    """What the item does to the odds of one suspect, weighed as all the other evidence leaves the others."""
    neither = np.array([posterior.healthy, posterior.nothing_listed])
    now = _odds(posterior.single, posterior.pair, neither, row)
    single, pair = posterior.single / item.single(), posterior.pair / item.pair()
    factor = now / _odds(single, pair, neither / np.array(item.neither()), row)
    size = max(factor, 1 / factor)
    words = next(word for limit, word in _WORDS if size >= limit)
    return Reason(item.what, factor, f"{words} {'for' if factor > 1 else 'against'}")


def _odds(single: Floats, pair: Floats, neither: Floats, row: int) -> float:
    """Weight of everything that one suspect is part of, over the weight of everything else."""
    part = single[row] + pair[row].sum() + pair[:, row].sum()
    others = np.arange(len(single)) != row
    rest = single[others].sum() + others @ pair @ others + neither.sum()
    return max(float(part), _NEVER) / max(float(rest), _NEVER)


def what_changed(before: Diagnosis, after: Diagnosis) -> tuple[str, ...]:
    """What a new fact did to the causes, largest change first, in plain sentences."""
    old = {(cause.id, cause.where): cause for cause in before.causes}
    new = {(cause.id, cause.where): cause for cause in after.causes}
    moves = []
    for key in {**old, **new}:
        was = old[key].probability if key in old else 0.0
        now = new[key].probability if key in new else 0.0
        if abs(now - was) >= _MOVED:
            cause = new.get(key) or old[key]
            moves.append((abs(now - was), f"{_with_place(cause)}: {was:.0%} → {now:.0%}"))
    moves.sort(key=lambda move: (-move[0], move[1]))
    lines = [text for _, text in moves[:6]]
    if before.causes and after.causes and before.causes[0].id != after.causes[0].id:
        lines.insert(0, f"Now in front: {_with_place(after.causes[0])}.")
    return tuple(lines) or ("Nothing moved by more than two per cent.",)


def for_customer(diagnosis: Diagnosis, evidence: Evidence) -> str:
    """One paragraph that a customer understands."""
    lead = diagnosis.causes[0]
    plugs = len(evidence.readings)
    text = f"We took out and compared {plugs} spark plug{'s' * (plugs != 1)}. " if plugs else ""
    checks = len([o for o in evidence.outcomes if not o.check.startswith("repair:")])
    if checks:
        text += f"{checks} further check{'s have' if checks > 1 else ' has'} been done. "
    if lead.id == HEALTHY:
        return text + "Nothing seems to be wrong; we suggest running the engine properly and looking once more."
    if lead.id == NOTHING_LISTED:
        return text + "What we found does not fit any of the usual causes; we suggest asking a specialist."
    text += f"The likeliest cause is: {_lower(_with_place(lead))} ({_chance_in_words(lead.probability)}). "
    if not diagnosis.next:
        return text + "Nothing is left that we can check here."
    step = diagnosis.next[0]
    if step.kind == "repair":
        return text + f"We suggest this repair now: {_lower(step.name)}. It takes about {step.minutes:.0f} minutes."
    if step.kind == "hand-over":
        return text + "Going on looking would cost more than it is worth; we suggest handing it to a specialist."
    return text + (
        f"Before replacing anything we suggest one more check, which takes about {step.minutes:.0f} minutes: "
        f"{_lower(step.name)}. It keeps us from replacing parts that are not at fault."
    )


def _chance_in_words(chance: float) -> str:
    if chance >= 0.9:
        return "nearly certain"
    return f"about {max(round(chance * 10), 1)} chance{'s' * (round(chance * 10) > 1)} in 10"


def _with_place(cause: RankedCause) -> str:
    return cause.name if cause.where == "engine" else f"{cause.name}, {cause.where}"


def _lower(text: str) -> str:
    return text if text[:2].isupper() else text[0].lower() + text[1:]
