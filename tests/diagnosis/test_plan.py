"""Worked troubleshooting examples. Own examples, optimum by brute force; status: computed here.

The overlapping-actions numbers are also recalled from Jensen and Nielsen, Bayesian Networks and Decision Graphs
(2007): value from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firingend.diagnosis.plan import Action, Problem, best_plan, greedy_plan, repair

CHANCE = np.array([0.20, 0.25, 0.10, 0.35, 0.10])
NAMES = "BADCE"
PRICE = (2.0, 4.0, 3.0, 20.0, 45.0)


def single_faults(weight=CHANCE, price=PRICE, **more):
    size = len(weight)
    return Problem(
        weight,
        tuple(repair(NAMES[k], price[k], [k], size) for k in range(len(price))),
        **more,
    )


def test_single_fault_badce_20_35():
    best, greedy = best_plan(single_faults()), greedy_plan(single_faults())
    assert "".join(best.line) == "".join(greedy.line) == "BADCE"
    assert best.price == pytest.approx(20.35) and greedy.price == pytest.approx(20.35)


def test_by_probability_alone_and_by_price_alone_cost_more():
    by_chance = greedy_plan(single_faults(), lambda a, w, p: float(a.given[1] @ w))
    by_price = greedy_plan(single_faults(), lambda a, w, p: -p)
    assert by_chance.price == pytest.approx(28.50) and by_price.price == pytest.approx(20.70)


def test_inspect_then_repair_28_55():
    look, mend = (1.0, 2.0, 1.0, 6.0, 10.0), (12.0, 3.0, 8.0, 25.0, 90.0)
    problem = Problem(CHANCE, tuple(repair(NAMES[k], look[k], [k], 5) for k in range(5)))
    repairs = float(CHANCE @ mend)  # the one that is found is repaired, whatever the order
    assert best_plan(problem).price + repairs == pytest.approx(28.55)
    assert "".join(greedy_plan(problem).line) == "BADCE"
    counting_both = greedy_plan(
        problem, lambda a, w, p: float(a.given[1] @ w / w.sum()) / (p + mend[NAMES.index(a.name)])
    )
    assert counting_both.price + repairs == pytest.approx(28.95)


def test_give_up_53_39():
    weight = np.array([0.18, 0.20, 0.07, 0.30, 0.09, 0.16])
    problem = single_faults(weight, PRICE, give_up=150.0)
    assert best_plan(problem).price == pytest.approx(53.39)
    assert "".join(best_plan(problem).line) == "BADCE"
    assert best_plan(single_faults(weight, PRICE[:0], give_up=150.0)).price == pytest.approx(150.0)


def test_overlapping_actions_optimum_1_45_where_greedy_gives_1_50():
    weight = np.array([0.20, 0.25, 0.40, 0.15])
    actions = (repair("A1", 1.0, [0, 1], 4), repair("A2", 1.0, [1, 2], 4), repair("A3", 1.0, [2, 3], 4))
    problem = Problem(weight, actions)
    best, greedy = best_plan(problem), greedy_plan(problem)
    assert (best.price, best.line) == (pytest.approx(1.45), ("A3", "A1"))
    assert greedy.price == pytest.approx(1.50) and greedy.line[0] == "A2"


def test_shared_opening_optimum_21_25_where_greedy_gives_21_50():
    names, weight, price = "XYZW", np.array([0.35, 0.30, 0.20, 0.15]), (4.0, 3.0, 6.0, 9.0)
    opens = {"X": frozenset({"lid"}), "Y": frozenset({"lid"})}
    actions = tuple(repair(name, price[k], [k], 4, opens=opens.get(name, frozenset())) for k, name in enumerate(names))
    problem = Problem(weight, actions, openings={"lid": 12.0})
    best, greedy = best_plan(problem), greedy_plan(problem)
    assert (best.price, "".join(best.line)) == (pytest.approx(21.25), "YXZW")
    assert (greedy.price, "".join(greedy.line)) == (pytest.approx(21.50), "ZXYW")


def test_two_independent_faults_optimum_27_80_where_probability_over_price_gives_30_06():
    prior, price, names = np.array([0.13, 0.40, 0.55]), (4.0, 13.0, 19.0), "XYZ"
    states = [tuple(k for k in range(3) if i >> k & 1) for i in range(1, 8)]
    weight = np.array([np.prod([prior[k] if k in s else 1 - prior[k] for k in range(3)]) for s in states])
    weight /= weight.sum()

    def cost(order: str) -> float:
        total = 0.0
        for state, chance in zip(states, weight, strict=True):
            last = max(order.index(names[k]) for k in state)
            total += chance * sum(price[names.index(name)] for name in order[: last + 1])
        return total

    assert cost("XYZ") == pytest.approx(30.0620, abs=1e-4)
    faults = tuple(frozenset(names[k] for k in s) for s in states)
    actions = tuple(repair(n, price[k], [], 7, mends=frozenset(n)) for k, n in enumerate(names))
    best = best_plan(Problem(weight, actions, faults=faults))
    assert "".join(best.line) == "ZYX" and best.price == pytest.approx(27.8015, abs=1e-4)


def test_value_of_a_test_1_96():
    test = np.full(5, 0.1)
    test[3] = 0.9
    free = Action("look", 0.0, np.array([1 - test, test]))
    base = single_faults()
    with_test = Problem(base.weight, (*base.actions, free))
    assert float(test @ CHANCE) == pytest.approx(0.38)
    assert CHANCE[3] * 0.9 / 0.38 == pytest.approx(0.8289, abs=1e-4)
    positive = best_plan(single_faults(test * CHANCE / 0.38))
    negative = best_plan(single_faults((1 - test) * CHANCE / 0.62))
    assert ("".join(positive.line), "".join(negative.line)) == ("CBADE", "BADEC")
    assert (positive.price, negative.price) == (pytest.approx(22.1579, abs=1e-4), pytest.approx(16.0806, abs=1e-4))
    assert best_plan(with_test).price == pytest.approx(18.39, abs=0.005)
    saving = best_plan(base).price - best_plan(with_test).price
    assert saving == pytest.approx(1.96, abs=0.005)
    dear = Action("look", saving + 0.01, free.given)
    assert best_plan(Problem(base.weight, (*base.actions, dear))).first == "B"


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000))
def test_probability_over_price_is_never_beaten_with_one_fault_and_fixed_prices(seed):
    """Kadane and Simon (1977); for engines Kalagnanam and Henrion (1988)."""
    rng = np.random.default_rng(seed)
    weight = rng.dirichlet(np.ones(5))
    problem = single_faults(weight, tuple(rng.uniform(1, 50, 5)))
    assert greedy_plan(problem).price == pytest.approx(best_plan(problem).price)
