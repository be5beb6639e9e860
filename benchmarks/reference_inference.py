"""The single-fault network of one engine in a general exact-inference library, for comparison of speed."""

from __future__ import annotations

import logging
import warnings

import numpy as np

from firingend.diagnosis.suspects import Suspects
from firingend.diagnosis.terms import Mixed, NoisyOr, Term


class Reference:
    """Fault node with one child for each item of evidence, soft findings as virtual children."""

    def __init__(self, found: Suspects, items: list[Term]) -> None:
        logging.disable(logging.CRITICAL)
        warnings.simplefilter("ignore")
        from pgmpy.factors.discrete import TabularCPD
        from pgmpy.inference import VariableElimination
        from pgmpy.models import DiscreteBayesianNetwork

        general = found.knowledge.general
        prior = np.concatenate([np.exp(found.log_prior), [general.healthy, general.nothing_listed]])
        states = len(prior)
        network = DiscreteBayesianNetwork()
        network.add_node("fault")
        tables = [TabularCPD("fault", states, (prior / prior.sum())[:, None])]
        self.observed = {}
        for k, item in enumerate(items):
            table, likelihood = _table(found, item)
            network.add_edge("fault", f"e{k}")
            network.add_edge(f"e{k}", f"v{k}")
            seen = np.array(likelihood) / max(likelihood)
            tables.append(TabularCPD(f"e{k}", len(table), table, ["fault"], [states]))
            tables.append(TabularCPD(f"v{k}", 2, np.array([1 - seen, seen]), [f"e{k}"], [len(table)]))
            self.observed[f"v{k}"] = 1
        network.add_cpds(*tables)
        self.engine = VariableElimination(network)

    def query(self) -> np.ndarray:
        """Posterior of the fault node."""
        return np.asarray(self.engine.query(["fault"], self.observed, show_progress=False).values)


def _table(found: Suspects, item: Term) -> tuple[np.ndarray, list[float]]:
    if isinstance(item, NoisyOr):
        off = (1 - item.leak) * (1 - np.append(item.strengths, 0.0))
        off = np.append(off, 1 - item.unlisted)
        return np.array([1 - off, off]), [item.present, item.absent]
    assert isinstance(item, Mixed)
    columns = [item.rows[i] if item.relevant[i] else item.otherwise for i in range(len(found))]
    return np.array([*columns, item.otherwise, item.unlisted]).T, list(item.likelihood)
