"""What checks and repairs cost on one engine, opening work that is already done left out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.knowledge import Cause, Check, Knowledge
from firingend.diagnosis.weighing import REPAIR


@dataclass(frozen=True, slots=True)
class Price:
    """Working minutes, and money for time and parts together, in the case's currency."""

    minutes: float
    parts: float
    total: float


@dataclass(frozen=True, slots=True)
class Costs:
    """Prices at one moment of a case.

    Attributes
    ----------
    knowledge
        Minutes and parts.
    rate_per_hour
        What an hour of work costs.
    opened
        Opening work that is done already and so costs nothing more.
    begun
        Ids of checks that were done at some place already: the tools are out, a further place takes less.
    """

    knowledge: Knowledge
    rate_per_hour: float
    opened: frozenset[str]
    begun: frozenset[str] = frozenset()

    def after(self, check: Check) -> Costs:
        """Prices once this check has been done at one place."""
        return Costs(self.knowledge, self.rate_per_hour, self.opened | frozenset(check.opens), self.begun | {check.id})

    def check(self, check: Check, opened: Iterable[str] = ()) -> Price:
        """Price of one check at one place."""
        minutes = check.minutes if check.id not in self.begun or check.more is None else check.more
        return self._price(minutes, check.parts, check.opens, opened)

    def repair(self, cause: Cause, opened: Iterable[str] = ()) -> Price:
        """Price of one repair with the run that shows whether it worked."""
        minutes = cause.minutes + self.knowledge.general.test_minutes
        return self._price(minutes, cause.parts, cause.opens, opened)

    def hand_over(self) -> float:
        """Cost of giving the engine to a specialist."""
        return self.knowledge.general.hand_over

    def _price(self, minutes: float, parts: float, opens: Iterable[str], opened: Iterable[str]) -> Price:
        done = self.opened | frozenset(opened)
        minutes += sum(self.knowledge.openings[name].minutes for name in opens if name not in done)
        return Price(minutes, parts, minutes / 60.0 * self.rate_per_hour + parts)


def costs(knowledge: Knowledge, evidence: Evidence) -> Costs:
    """Prices with what the evidence shows to be open already: plugs that were read are out."""
    prices = Costs(knowledge, evidence.rate_per_hour, frozenset({"plugs-out"} if evidence.readings else ()))
    for outcome in evidence.outcomes:
        if outcome.check.startswith(REPAIR):
            opens = knowledge.causes[knowledge.cause_id(outcome.check.removeprefix(REPAIR))].opens
            prices = replace(prices, opened=prices.opened | frozenset(opens))
        else:
            prices = prices.after(knowledge.checks[knowledge.check_id(outcome.check)])
    return prices
