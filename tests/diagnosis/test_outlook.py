"""The plain plan against worked examples.

Own examples with optima found by brute force; that the order by probability over price is the best one for a
single fault is from Kadane and Simon (1977) and, for engines, Kalagnanam and Henrion (1988). Status: computed here.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from engines import inline

from firingend.diagnosis.knowledge import load
from firingend.diagnosis.outlook import Outlook, Visits, expected_cost
from firingend.diagnosis.suspects import suspects

CHANCE = {"B": 0.20, "A": 0.25, "D": 0.10, "C": 0.35, "E": 0.10}
PRICE = {"B": 2.0, "A": 4.0, "D": 3.0, "C": 20.0, "E": 45.0}


def plain_plan(chance, repair, look=None, hand_over=1e6, works=1.0, unlisted=0.0):
    """Expected cost of the plain plan for single faults with sure looks and repairs."""
    count = len(chance)
    view = Outlook(
        suspects=suspects(load(), inline(1)),
        rows=np.arange(count),
        first=np.array([*range(count), -1, -1]),
        second=np.full(count + 2, -1),
        weight=np.array([*chance, 0.0, unlisted]),
    )
    visits = Visits(
        repair=np.array([*repair, 1e9]),
        look=np.array([*(look or [np.inf] * count), np.inf]),
        works=np.full(count + 1, works),
        seen=np.ones(count + 1),
        shows=np.vstack([np.eye(count, count + 2), np.zeros(count + 2)]),
        hand_over=hand_over,
    )
    return float(expected_cost(view, view.weight[None, :], visits)[0])


def test_single_fault_order_by_probability_over_price_costs_20_35():
    assert plain_plan(CHANCE.values(), PRICE.values()) == pytest.approx(20.35)


def test_no_other_order_is_cheaper():
    names = list(CHANCE)
    costs = {}
    for order in permutations(names):
        spent, total = 0.0, 0.0
        for name in order:
            spent += PRICE[name]
            total += CHANCE[name] * spent
        costs["".join(order)] = total
    ranked = sorted(costs, key=costs.__getitem__)
    assert ranked[0] == "BADCE" and costs[ranked[0]] == pytest.approx(20.35)
    assert ranked[1] == "ABDCE" and costs[ranked[1]] == pytest.approx(20.65)
    assert ranked[-1] == "ECDAB" and costs[ranked[-1]] == pytest.approx(66.85)


def test_looking_before_repairing_costs_28_55_and_the_repair_price_does_not_change_the_order():
    look = {"B": 1.0, "A": 2.0, "D": 1.0, "C": 6.0, "E": 10.0}
    repair = {"B": 12.0, "A": 3.0, "D": 8.0, "C": 25.0, "E": 90.0}
    # Looking first at A is no cheaper than repairing it outright here; leave that choice out of the example.
    repair["A"] = 3.0
    cost = plain_plan(CHANCE.values(), repair.values(), list(look.values()))
    assert cost == pytest.approx(28.55)


def test_giving_up_when_a_service_call_is_cheaper_costs_53_39():
    chance = {"B": 0.18, "A": 0.20, "D": 0.07, "C": 0.30, "E": 0.09}
    cost = plain_plan(chance.values(), PRICE.values(), hand_over=150.0, unlisted=0.16)
    assert cost == pytest.approx(53.39)


def test_handing_over_at_once_costs_the_fee_and_the_repair_that_is_due_anyway():
    cost = plain_plan([0.01, 0.01], [8000.0, 9000.0], hand_over=100.0, unlisted=0.98)
    assert cost == pytest.approx(100.0 + 0.01 * 8000.0 + 0.01 * 9000.0)
