"""Which step is worth doing next, by expected cost of repair, in words a technician can use."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from firingend.diagnosis.costs import Costs, costs
from firingend.diagnosis.diagnosis import RankedStep
from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.lookahead import Ahead, look_ahead
from firingend.diagnosis.outlook import outlook
from firingend.diagnosis.places import find_places
from firingend.diagnosis.posterior import Posterior
from firingend.diagnosis.prospect import Prospect, prospects
from firingend.diagnosis.suspects import Bools, Floats, Suspects
from firingend.diagnosis.tables import Tables, tables
from firingend.diagnosis.weighing import REPAIR, repaired_by

_LEAST = 1e-9
_CONFIRMED = 0.90
_REPAIRS_SHOWN = 2
_WORTH_NAMING = 0.05
_HARDLY_MORE = 1.02
_STRIP_DOWN = 180.0
"""Minutes from which a repair is a strip-down."""
_CONFIRMED_STRIP_DOWN = 0.95
_QUICK = 20.0
_TELLS = 0.08
HAND_OVER = "hand-over"


@dataclass(frozen=True, slots=True)
class NextSteps:
    """The ranking and what it was made from.

    Attributes
    ----------
    steps
        Best first.
    advice
        One sentence: look on, repair now, or hand over, and why.
    ahead
        The look ahead behind it.
    """

    steps: tuple[RankedStep, ...]
    advice: str
    ahead: Ahead = field(repr=False)


def next_steps(
    posterior: Posterior,
    evidence: Evidence,
    everything: Tables | None = None,
    *,
    skipped: frozenset[str] = frozenset(),
    pinned: Iterable[str] = (),
) -> NextSteps:
    """Rank checks, repairs and handing over by the expected cost of repair after them.

    The ranking looks at the likeliest hypotheses only. The probabilities in the words beside the steps are those of
    the whole posterior: the reader holds them against the table of causes.

    Parameters
    ----------
    posterior, evidence
        What is believed and what is known.
    everything
        All checks of the engine, when they are at hand already.
    skipped
        Ids of checks that cannot be done here.
    pinned
        Ids of checks the technician wants first, in that order, whatever their cost.
    """
    found = posterior.suspects
    prices = costs(found.knowledge, evidence)
    mended = np.zeros(len(found), dtype=bool)
    for outcome in evidence.outcomes:
        mended |= repaired_by(found, outcome)
    view = outlook(posterior, mended)
    done = checks_done(found, evidence)
    ahead = look_ahead(view, everything or tables(found), prices, done, skipped=skipped)
    at_fault = posterior.at_fault()
    checks = [_check_step(ahead, k, prices) for k in _best_places(ahead)]
    worth = [step for step in checks if step.saving >= 0.0]
    ranked = sorted([*worth, *_repair_steps(ahead, prices, at_fault)], key=lambda step: step.expected_cost)
    if not ranked or ahead.best() >= ahead.hand_over:
        ranked.insert(0, _hand_over_step(ahead))
    ranked = _look_before_strip_down(ahead, ranked, checks)
    wanted = {name: place for place, name in enumerate(pinned)}
    first = sorted((s for s in [*ranked, *checks] if s.id in wanted), key=lambda step: wanted[step.id])
    first = list({step.id: step for step in first}.values())
    steps = (*first, *(step for step in ranked if step.id not in wanted))
    foreseen = _foresee(steps, ahead, posterior, mended)
    told = tuple(
        replace(step, why=_why(foreseen[step.id], found, step.id, at_fault)) if step.id in foreseen else step
        for step in steps
    )
    return NextSteps(told, _advice(ahead, posterior, at_fault, ranked), ahead)


def checks_done(found: Suspects, evidence: Evidence) -> frozenset[tuple[str, str]]:
    """(check id, place name) of every check with an outcome."""
    knowledge, done = found.knowledge, set()
    for outcome in evidence.outcomes:
        if outcome.check.startswith(REPAIR):
            continue
        check = knowledge.checks[knowledge.check_id(outcome.check)]
        done |= {(check.id, place.name) for place in find_places(found.engine, check.where, outcome.where)}
    return frozenset(done)


def _best_places(ahead: Ahead) -> list[int]:
    """Cheapest first, each check once: at the place where it is worth most."""
    best: dict[str, int] = {}
    for k in np.argsort(ahead.checks, kind="stable"):
        best.setdefault(ahead.choices.choices[k].check.id, int(k))
    return list(best.values())


def _check_step(ahead: Ahead, k: int, prices: Costs) -> RankedStep:
    """One check, its reason still to be said."""
    choice = ahead.choices.choices[k]
    check = choice.check
    price = prices.check(check)
    return RankedStep(
        id=check.id,
        name=check.name,
        where=choice.place.name,
        why="",
        how=check.how,
        minutes=price.minutes,
        parts_cost=price.parts,
        expected_cost=float(ahead.checks[k]),
        cautions=_cautions(ahead, check.cautions),
        source=check.source,
        kind="check",
        saving=ahead.plain - float(ahead.checks[k]),
        tools=check.tools,
    )


def _repair_steps(ahead: Ahead, prices: Costs, at_fault: Floats) -> list[RankedStep]:
    """Repairs of likely suspects that cost hardly more than the plain plan, the best two at most.

    ``at_fault`` (n,) is what every suspect's probability is said to be.
    """
    view = ahead.view
    chance = view.weight @ view.members()
    steps = []
    likely = [row for row in np.argsort(ahead.repairs, kind="stable") if chance[row] >= _WORTH_NAMING]
    for row in likely[:_REPAIRS_SHOWN]:
        if ahead.repairs[row] > ahead.plain * _HARDLY_MORE:
            continue
        which = int(view.rows[row])
        suspect = view.suspects.each[which]
        price = prices.repair(suspect.cause)
        steps.append(
            RankedStep(
                id=REPAIR + suspect.cause.id,
                name=suspect.cause.repair,
                where=suspect.place.name,
                why=f"{_capital(_named(view.suspects, which))} is {at_fault[which]:.0%} likely, and looking further "
                "would cost more than it saves.",
                how=("Repair it.", "Run the engine under the condition that showed the fault.",
                     "Fit fresh plugs, run it, pull and read them again: only the second reading proves it."),
                minutes=price.minutes,
                parts_cost=price.parts,
                expected_cost=float(ahead.repairs[row]),
                cautions=_cautions(ahead, (*suspect.cause.cautions, "manual-first")),
                source=suspect.cause.source,
                kind="repair",
                saving=ahead.plain - float(ahead.repairs[row]),
            )
        )  # fmt: skip
    return steps


def _look_before_strip_down(ahead: Ahead, ranked: list[RankedStep], checks: list[RankedStep]) -> list[RankedStep]:
    """Put a quick telling look in front of a strip-down whose cause is not confirmed.

    By the numbers the look may save a little less than it costs; but numbers are rough, and nobody takes a head off
    before having looked.
    """
    first = ranked[0]
    if first.kind != "repair" or first.minutes < _STRIP_DOWN:
        return ranked
    view, cause = ahead.view, first.id.removeprefix(REPAIR)
    rows = [m for m, k in enumerate(view.rows)
            if view.suspects.each[k].cause.id == cause and view.suspects.each[k].place.name == first.where]  # fmt: skip
    if not rows or float((view.weight @ view.members())[rows[0]]) >= _CONFIRMED_STRIP_DOWN:
        return ranked
    for step in checks:
        if step.minutes <= _QUICK and _moves(ahead, step, rows[0]) >= _TELLS:
            return [step, *(other for other in ranked if other.id != step.id)]
    return ranked


def _moves(ahead: Ahead, step: RankedStep, row: int) -> float:
    """Largest change that an outcome of at least five per cent would make to one suspect's probability."""
    view = ahead.view
    k = next(
        i
        for i, choice in enumerate(ahead.choices.choices)
        if choice.check.id == step.id and choice.place.name == step.where
    )
    start = int(ahead.choices.start[k])
    joint = ahead.given[start : start + len(ahead.choices.choices[k].check.outcomes)] * view.weight
    chance = joint.sum(axis=1)
    member = view.members()[:, row]
    after = (joint @ member) / np.maximum(chance, _LEAST)
    return float(np.abs(after - view.weight @ member)[chance >= 0.05].max(initial=0.0))


def _hand_over_step(ahead: Ahead) -> RankedStep:
    general = ahead.view.suspects.knowledge.general
    return RankedStep(
        id=HAND_OVER,
        name="Hand the engine over to a specialist",
        where="engine",
        why="What is left to look at or repair would cost more than handing it over.",
        how=("Write down what was seen, measured and ruled out.", "Hand the sheet over with the engine.",
             "Ask for the cause that was found, and note it."),
        minutes=0.0,
        parts_cost=general.hand_over,
        expected_cost=ahead.hand_over,
        cautions=_cautions(ahead, ("manual-first",)),
        source=general.source,
        kind="hand-over",
        saving=ahead.plain - ahead.hand_over,
    )  # fmt: skip


def _advice(ahead: Ahead, posterior: Posterior, at_fault: Floats, ranked: list[RankedStep]) -> str:
    view = ahead.view
    if len(view.rows):
        lead = int(view.rows[np.argmax(view.weight @ view.members())])
        if at_fault[lead] >= _CONFIRMED:
            name = _capital(_named(view.suspects, lead))
            return f"{name} is confirmed ({at_fault[lead]:.0%}): repair it, then read the plugs again."
    if ranked[0].kind == "repair":
        return f"Looking further costs more than it saves: {_lower(ranked[0].name)}."
    if ranked[0].kind == "hand-over":
        return "What is left would cost more than handing the engine over to a specialist."
    if posterior.healthy > _CONFIRMED:
        return "Nothing seems wrong: run it properly and read the plugs again."
    name, where, saving = _lower(ranked[0].name), ranked[0].where, ranked[0].saving
    return f"Next: {name}, {where}; it saves about {saving:.0f} on the way to the cause."


def _foresee(steps: Iterable[RankedStep], ahead: Ahead, posterior: Posterior, mended: Bools) -> dict[str, Prospect]:
    """What each check among the steps, by id, would make of the causes; worked out for these few alone."""
    at = {(choice.check.id, choice.place.name): k for k, choice in enumerate(ahead.choices.choices)}
    shown = {step.id: at[step.id, step.where] for step in steps if step.kind == "check"}
    picked = ahead.choices.pick(np.array(list(shown.values()), dtype=np.int64))
    return dict(zip(shown, prospects(posterior, picked, mended), strict=True))


def _why(prospect: Prospect, found: Suspects, check_id: str, before: Floats) -> str:
    """What the likeliest finding would point to, and what no finding would clear."""
    said = list(found.knowledge.checks[check_id].outcomes.values())
    finding = 1 + int(np.argmax(prospect.chance[1:]))
    after = prospect.at_fault[finding]
    leader = int(np.argmax(after - before))
    text = (
        f"“{_capital(said[finding])}” ({prospect.chance[finding]:.0%} likely) would raise {_named(found, leader)} "
        f"from {before[leader]:.0%} to {after[leader]:.0%}."
    )
    return text + _cleared(found, said[0], before, prospect.at_fault[0])


def _cleared(found: Suspects, said: str, before: Floats, after: Floats) -> str:
    drop = before - after
    cleared = [int(k) for k in np.argsort(-drop, kind="stable")[:2] if drop[k] > 0.02]
    if not cleared:
        return ""
    parts = [f"{_named(found, k)} from {before[k]:.0%} to {after[k]:.0%}" for k in cleared]
    return f" “{_capital(said)}” would lower {' and '.join(parts)}."


def _cautions(ahead: Ahead, names: Iterable[str]) -> tuple[str, ...]:
    known = ahead.view.suspects.knowledge.cautions
    return tuple(known[name].text for name in dict.fromkeys(names) if name in known)


def _named(found: Suspects, row: int) -> str:
    suspect = found.each[row]
    name = _lower(suspect.cause.name.split(" (")[0])
    return name if suspect.place.name == "engine" else f"{name} ({suspect.place.name})"


def _lower(text: str) -> str:
    return text if text[:2].isupper() else text[0].lower() + text[1:]


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]
