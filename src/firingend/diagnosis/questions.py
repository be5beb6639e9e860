"""Symptoms worth asking the driver or rider for."""

from __future__ import annotations

import numpy as np

from firingend.diagnosis.evidence import Evidence
from firingend.diagnosis.outlook import outlook
from firingend.diagnosis.posterior import Posterior
from firingend.diagnosis.suspects import Floats

_MOST = 3
_LEAST_BITS = 0.02


def worth_asking(posterior: Posterior, evidence: Evidence) -> tuple[tuple[str, str], ...]:
    """Symptoms not asked for yet that would tell most, as (id, question), best first, three at most.

    Measured by mutual information in bits between the answer and the hypotheses: asking costs next to nothing.
    """
    found = posterior.suspects
    knowledge = found.knowledge
    asked = {knowledge.symptom_id(said) for said in evidence.symptoms}
    view = outlook(posterior)
    first, second = view.columns()
    gains = []
    for symptom in knowledge.symptoms.values():
        if symptom.id in asked or not symptom.ask:
            continue
        kept = 1.0 - np.append(found.symptom_strengths(symptom.id), 0.0)
        present = 1.0 - (1.0 - symptom.leak) * kept[first] * kept[second]
        present[-1] = knowledge.general.nothing_listed_symptom
        told = float(_entropy(view.weight @ present) - view.weight @ _entropy(present))
        gains.append((told, symptom.id, symptom.ask))
    gains.sort(key=lambda gain: (-gain[0], gain[1]))
    return tuple((name, ask) for told, name, ask in gains[:_MOST] if told >= _LEAST_BITS)


def _entropy(chance: Floats | float) -> Floats:
    """Entropy in bits of something with this chance."""
    p = np.clip(np.asarray(chance), 1e-12, 1 - 1e-12)
    return np.asarray(-(p * np.log2(p) + (1 - p) * np.log2(1 - p)))
