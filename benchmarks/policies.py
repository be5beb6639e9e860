"""Ways to find the cause, playing on simulated engines with the same beliefs and different habits.

All of them weigh the evidence with the same exact posterior, so what differs is only the order of work. All repair a
suspect at 90 per cent, all hand over when "nothing listed" leads at more than half or nothing is left to do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from simulated_engines import SimulatedEngine

from firingend.diagnosis.costs import Costs
from firingend.diagnosis.fixed_order import ORDER
from firingend.diagnosis.lookahead import look_ahead
from firingend.diagnosis.outlook import outlook
from firingend.diagnosis.posterior import Balance, Posterior, prior_balance
from firingend.diagnosis.terms import Tried
from firingend.diagnosis.weighing import check_term, terms

RATE = 60.0
SURE = 0.90
MOST_STEPS = 80


@dataclass(slots=True)
class Job:
    """One engine on the bench: what is believed, what is done, what it has cost so far."""

    engine: SimulatedEngine
    balance: Balance
    posterior: Posterior
    spent: float = 0.0
    done: set[int] = field(default_factory=set)
    repaired: list[int] = field(default_factory=list)
    left: set[int] = field(default_factory=set)
    opened: set[str] = field(default_factory=lambda: {"plugs-out"})

    def prices(self) -> Costs:
        """Prices with what is open now."""
        begun = frozenset(self.engine.tables.choices[k].check.id for k in self.done)
        return Costs(self.engine.suspects.knowledge, RATE, frozenset(self.opened), begun)

    def price(self, choice: int) -> float:
        """Price of one check now."""
        return self.prices().check(self.engine.tables.choices[choice].check).total

    def repair_price(self, suspect: int) -> float:
        """Price of one repair now."""
        return self.prices().repair(self.engine.suspects.each[suspect].cause).total

    def check(self, choice: int) -> None:
        """Do one check, pay for it, weigh its outcome."""
        entry = self.engine.tables.choices[choice]
        self.spent += self.price(choice)
        self.done.add(choice)
        self.opened |= set(entry.check.opens)
        outcome = int(self.engine.outcomes[frozenset(self.left)][choice])
        mended = np.zeros(len(self.engine.suspects), dtype=bool)
        mended[self.repaired] = True
        name = list(entry.check.outcomes)[outcome]
        self._weigh(check_term(self.engine.suspects, entry.check.id, entry.place, name, mended))

    def repair(self, suspect: int) -> bool:
        """Repair one suspect; True when the engine is cured.

        Of a right repair only the difference is counted to what it would have cost had the cause been known from
        the start: nothing as a rule, less than nothing where looking has already opened what it needs open.
        """
        engine = self.engine
        before = np.zeros(len(engine.suspects), dtype=bool)
        before[self.repaired] = True
        self.repaired.append(suspect)
        cause = engine.suspects.each[suspect].cause
        known = Costs(engine.suspects.knowledge, RATE, frozenset({"plugs-out"})).repair(cause).total
        again = self.repaired.count(suspect) - 1
        if suspect in self.left and engine.repairable[(engine.faults.index(suspect) + again) % 20]:
            self.left.discard(suspect)
            self.spent += self.repair_price(suspect) - known
            self.opened |= set(cause.opens)
            if not self.left:
                return True
            better = engine.chatter < 0.42 / 0.97
        else:
            self.spent += self.repair_price(suspect)
            self.opened |= set(cause.opens)
            better = engine.chatter < 0.03
        these = np.zeros(len(engine.suspects), dtype=bool)
        these[suspect] = True
        odds = (0.02, 0.42, 0.03) if better else (0.03, 0.55, 0.96)
        self._weigh(Tried("repair", these, *odds, before))
        return False

    def _weigh(self, term: object) -> None:
        self.balance = self.balance.add(term)
        self.posterior = self.balance.posterior()


def start(engine: SimulatedEngine) -> Job:
    """The engine with its plugs read and every symptom asked."""
    balance = prior_balance(engine.suspects)
    for term in terms(engine.suspects, engine.evidence):
        balance = balance.add(term)
    return Job(engine, balance, balance.posterior(), left=set(engine.faults))


Step = tuple[str, int]
"""("check", choice), ("repair", suspect) or ("hand over", 0)."""
Policy = Callable[[Job], Step]


def play(engine: SimulatedEngine, policy: Policy) -> tuple[float, bool, int]:
    """Cost to the cause, whether it was found, number of steps."""
    job = start(engine)
    for step in range(MOST_STEPS):
        kind, which = policy(job)
        if kind == "check":
            job.check(which)
        elif kind == "repair":
            if job.repair(which):
                return job.spent, True, step + 1
        else:
            break
    return job.spent + job.engine.suspects.knowledge.general.hand_over, False, step + 1


def _suspicion(job: Job) -> np.ndarray:
    chance = job.posterior.at_fault().copy()
    mended = job.repaired
    chance[mended] = job.posterior.single[mended]
    return chance


def _sure_or_stuck(job: Job, chance: np.ndarray) -> Step | None:
    lead = int(np.argmax(chance))
    if chance[lead] >= SURE:
        return "repair", lead
    if job.posterior.nothing_listed > 0.5 or chance[lead] <= 0:
        return "hand over", 0
    return None


def _confirming(job: Job, suspect: int) -> list[int]:
    """Checks that settle a suspect and are still to be done, cheapest first."""
    tables, cause = job.engine.tables, job.engine.suspects.each[suspect].cause
    open_checks = [
        k
        for k, choice in enumerate(tables.choices)
        if choice.check.id in cause.confirmed_by and tables.relevant[k, suspect] and k not in job.done
    ]
    return sorted(open_checks, key=job.price)


def looking_ahead(wide: int, kept: int) -> Policy:
    """This project's own."""

    def policy(job: Job) -> Step:
        if not job.posterior.single.sum() + job.posterior.pair.sum() > 0:
            return "hand over", 0
        tables = job.engine.tables
        done = frozenset((tables.choices[k].check.id, tables.choices[k].place.name) for k in job.done)
        mended = np.zeros(len(job.engine.suspects), dtype=bool)
        mended[job.repaired] = True
        view = outlook(job.posterior, mended, kept)
        ahead = look_ahead(view, tables, job.prices(), done, wide=wide)
        repairs = ahead.repairs
        best_check = float(ahead.checks.min(initial=np.inf))
        best_repair = float(repairs.min(initial=np.inf))
        if ahead.hand_over <= min(best_check, best_repair):
            return "hand over", 0
        if best_repair <= best_check:
            return "repair", int(view.rows[int(np.argmin(repairs))])
        choice = ahead.choices.choices[int(np.argmin(ahead.checks))]
        return "check", tables.choices.index(choice)

    return policy


def most_likely_first(job: Job) -> Step:
    """Settle the likeliest suspect with its cheapest settling check; repair it when there is none left."""
    chance = _suspicion(job)
    if step := _sure_or_stuck(job, chance):
        return step
    lead = int(np.argmax(chance))
    settle = _confirming(job, lead)
    return ("check", settle[0]) if settle else ("repair", lead)


def cheapest_first(job: Job) -> Step:
    """The cheapest check that bears on any suspect of at least two per cent."""
    chance = _suspicion(job)
    if step := _sure_or_stuck(job, chance):
        return step
    bears = job.engine.tables.relevant[:, :-1][:, chance >= 0.02].any(axis=1)
    left = [k for k in np.flatnonzero(bears) if k not in job.done]
    return ("check", int(min(left, key=job.price))) if left else ("repair", int(np.argmax(chance)))


def order_of_the_trade(job: Job) -> Step:
    """Ignition, air, fuel pump and pressure, injectors, mechanical; cylinder checks on the odd plugs' cylinders."""
    chance = _suspicion(job)
    if step := _sure_or_stuck(job, chance):
        return step
    readings = job.engine.evidence.readings
    odd = {n for n, reading in readings.items() if reading.label != "normal-tan"} or set(readings)
    for name in ORDER:
        for k, choice in enumerate(job.engine.tables.choices):
            here = choice.check.where == "engine" or odd & set(choice.place.cylinders)
            if choice.check.id == name and k not in job.done and here:
                return "check", k
    return "repair", int(np.argmax(chance))


def greedy_probability_over_price(job: Job) -> Step:
    """The suspect with the best probability over the price of dealing with it: a look where that is cheaper."""
    chance = _suspicion(job)
    if step := _sure_or_stuck(job, chance):
        return step
    best, action = -1.0, ("hand over", 0)
    for suspect in np.argsort(-chance)[:25]:
        settle, price = _confirming(job, int(suspect)), job.repair_price(int(suspect))
        step: Step = ("repair", int(suspect))
        if settle and (look := job.price(settle[0])) < (1.0 - chance[suspect]) * price:
            step, price = ("check", settle[0]), look
        if chance[suspect] / price > best:
            best, action = chance[suspect] / price, step
    return action


RIVALS: dict[str, Policy] = {
    "order of the trade": order_of_the_trade,
    "cheapest first": cheapest_first,
    "most likely first": most_likely_first,
    "greedy probability over price": greedy_probability_over_price,
}
