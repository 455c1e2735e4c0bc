"""Laws of the tour: every stop once, the order needed is kept, improving never lengthens."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from kerf.tour import closure, improved, nearest_next, round_length, short_round, travel_costs

PLACES = st.lists(
    st.tuples(st.floats(0, 500, width=32), st.floats(0, 500, width=32)), min_size=1, max_size=9
)


@st.composite
def tasks(draw):
    """Return places to begin and end at, and an order some of them need."""
    begins = draw(PLACES)
    n = len(begins)
    ends = [(x + draw(st.floats(-9, 9)), y) for x, y in begins]
    # Pairs along a hidden line never contradict each other.
    line = draw(st.permutations(range(n)))
    before = np.zeros((n, n), dtype=bool)
    for a, b in itertools.combinations(line, 2):
        if draw(st.booleans()) and draw(st.booleans()):
            before[a, b] = True
    return begins, ends, before


@settings(derandomize=True, max_examples=60, deadline=None)
@given(tasks())
def test_every_stop_once_and_never_out_of_order(task) -> None:
    """Whatever the places and the order needed."""
    begins, ends, before = task
    costs = travel_costs((0.0, 0.0), begins, ends)
    tour = short_round(costs, before)
    assert sorted(tour) == list(range(len(begins)))
    at = {stop: k for k, stop in enumerate(tour)}
    for a, b in np.argwhere(before):
        assert at[int(a)] < at[int(b)]


@settings(derandomize=True, max_examples=60, deadline=None)
@given(tasks())
def test_improving_never_lengthens(task) -> None:
    """Against the round that always goes to the nearest."""
    begins, ends, before = task
    costs = travel_costs((0.0, 0.0), begins, ends)
    needed = closure(before)
    start = nearest_next(costs, needed)
    assert round_length(improved(start, costs, needed), costs) <= round_length(start, costs) + 1e-9
