"""Longer tours against the plain search: within 5 % of the best of 20 starts.

Source: 2-opt (Croes 1958) and or-opt (Or 1976), written anew in ``tests/kerf/test_order.py``.
"""

from __future__ import annotations

import random

import numpy as np
import pytest
from test_order import plain_search

from kerf.tour import round_length, short_round, travel_costs


@pytest.mark.parametrize("seed", range(100, 106))
def test_travel_is_within_5_percent_of_the_best_of_20_starts(seed: int) -> None:
    """Sixteen stops, some of which must follow others."""
    dice = random.Random(seed)
    n = 16
    places = [(dice.uniform(0, 600), dice.uniform(0, 400)) for _ in range(n)]
    before = np.zeros((n, n), dtype=bool)
    for k in range(0, n - 1, 4):
        before[k, k + 1] = before[k, k + 2] = True
    costs = travel_costs((0.0, 0.0), places, places)
    mine = round_length(short_round(costs, before), costs)
    best = plain_search(costs, before, 20, seed)
    assert mine <= 1.05 * best + 1e-9, mine / best
