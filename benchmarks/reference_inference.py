"""The single-fault network of one engine in a general exact-inference library, for comparison of speed."""

from __future__ import annotations

import logging
import warnings

import numpy as np

from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.suspects import Suspects
from firingend.diagnosis.tables import Tables
from firingend.diagnosis.terms import Mixed, NoisyOr, Term
from firingend.diagnosis.weighing import check_term, symptom_term, terms


class Reference:
    """Fault node with a child for every plug, every symptom and every check at every place, built once.

    One re-ranking by the library is the posterior of the fault and, to know what each check would tell, the
    distribution of the outcome of every check still open. The library weighs single faults only and says nothing
    of costs; soft readings are entered as plain labels.
    """

    def __init__(self, everything: Tables, evidence: Evidence) -> None:
        logging.disable(logging.CRITICAL)
        warnings.simplefilter("ignore")
        from pgmpy.factors.discrete import TabularCPD
        from pgmpy.inference import VariableElimination
        from pgmpy.models import DiscreteBayesianNetwork

        found = everything.suspects
        general = found.knowledge.general
        prior = np.concatenate([np.exp(found.log_prior), [general.healthy, general.nothing_listed]])
        plugs = list(terms(found, Evidence(evidence.engine, evidence.readings)))
        nodes = {f"plug-{k}": _table(found, item) for k, item in enumerate(plugs)}
        self.observed = {f"plug-{k}": int(np.argmax(item.likelihood)) for k, item in enumerate(plugs)}
        for symptom in found.knowledge.symptoms:
            nodes[symptom] = _table(found, symptom_term(found, symptom, True))
        self.observed |= {symptom: int(not present) for symptom, present in evidence.symptoms.items()}
        done = {(outcome.check, outcome.where): outcome.outcome for outcome in evidence.outcomes}
        self.open = []
        for choice in everything.choices:
            name, first = f"{choice.check.id} {choice.place.name}", next(iter(choice.check.outcomes))
            nodes[name] = _table(found, check_term(found, choice.check.id, choice.place, first))
            outcome = done.get((choice.check.id, choice.place.name))
            if outcome is None:
                self.open.append(name)
            else:
                self.observed[name] = list(choice.check.outcomes).index(outcome)
        states = len(prior)
        network = DiscreteBayesianNetwork([("fault", name) for name in nodes])
        network.add_cpds(TabularCPD("fault", states, (prior / prior.sum())[:, None]))
        network.add_cpds(*(TabularCPD(n, len(t), t, ["fault"], [states]) for n, t in nodes.items()))
        self.engine = VariableElimination(network)

    def posterior(self) -> np.ndarray:
        """Posterior of the fault node."""
        return np.asarray(self.engine.query(["fault"], self.observed, show_progress=False).values)

    def outlook(self) -> list[np.ndarray]:
        """Distribution of the outcome of every open check."""
        return [self.engine.query([name], self.observed, show_progress=False).values for name in self.open]


def _table(found: Suspects, item: Term) -> np.ndarray:
    if isinstance(item, NoisyOr):
        off = (1 - item.leak) * (1 - np.append(item.strengths, 0.0))
        off = np.append(off, 1 - item.unlisted)
        return np.array([1 - off, off])
    assert isinstance(item, Mixed)
    columns = [item.rows[i] if item.relevant[i] else item.otherwise for i in range(len(found))]
    return np.array([*columns, item.otherwise, item.unlisted]).T
