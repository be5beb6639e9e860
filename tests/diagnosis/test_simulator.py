"""The simulator is repeatable, fair to every policy, and its world differs from what the policies know."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

BENCHMARKS = Path(__file__).parents[2] / "benchmarks"


@pytest.fixture(autouse=True)
def benchmarks(monkeypatch):
    monkeypatch.syspath_prepend(str(BENCHMARKS))
    yield
    for name in ("policies", "simulated_engines"):
        sys.modules.pop(name, None)


def test_one_seed_one_engine():
    from simulated_engines import draw

    one, two = draw(5), draw(5)
    assert one.faults == two.faults and one.evidence.symptoms == two.evidence.symptoms
    assert all((one.outcomes[k] == two.outcomes[k]).all() for k in one.outcomes)
    assert len({draw(seed).faults for seed in range(20)}) > 10


def test_one_engine_in_ten_has_two_faults():
    from simulated_engines import draw

    share = np.mean([len(draw(seed).faults) == 2 for seed in range(400)])
    assert 0.05 < share < 0.16


def test_every_policy_meets_the_same_outcomes_and_pays_for_what_it_does():
    from policies import RIVALS, looking_ahead, play
    from simulated_engines import draw

    for seed in (2, 14):
        engine = draw(seed)
        before = {k: v.copy() for k, v in engine.outcomes.items()}
        for policy in (looking_ahead(0, 40), *RIVALS.values()):
            cost, found, steps = play(engine, policy)
            assert np.isfinite(cost) and 1 <= steps <= 80 and isinstance(found, bool)
            assert play(engine, policy) == (cost, found, steps)
        assert all((engine.outcomes[k] == before[k]).all() for k in before)


def test_a_right_repair_costs_nothing_extra_and_a_wrong_one_does():
    from policies import start
    from simulated_engines import draw

    engine = next(e for e in map(draw, range(200)) if len(e.faults) == 1 and e.repairable[0])
    job = start(engine)
    assert job.repair(engine.faults[0]) and job.spent == 0.0
    job = start(engine)
    wrong = next(k for k in range(len(engine.suspects)) if k not in engine.faults)
    assert not job.repair(wrong) and job.spent > 0
