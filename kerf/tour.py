"""A short round of stops that keeps what must come first first: 2-opt and or-opt.

A stop begins at one place and ends at another (a cut with a way in ends on its loop, not where
it was pierced), so the cost of going from one to the next depends on the direction. A round
begins at the head's rest and need not come back. Improvement takes the best reversal of a
stretch (2-opt) or move of up to three stops (or-opt) until none helps; then seeded kicks tear
the round open at three places and improve again, keeping what is better.

Every move is offered only where no stop would come before one it must follow, so a round that
obeys the constraints stays obedient.

Source: G. A. Croes, Operations Research 6 (1958) 791-812 (2-opt); I. Or, thesis, Northwestern
University, 1976 (or-opt); O. Martin, S. Otto, E. Felten, Complex Systems 5 (1991) 299-326
(kicks).
"""

from __future__ import annotations

import random
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kerf.errors import GeometryError
from kerf.tolerance import TOUR_GAIN

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Longest run of stops that or-opt moves.
LONGEST_MOVED = 3
#: A round of n stops is kicked n²/2 times, and this often at most.
KICKS_MOST = 150


def travel_costs(
    rest: tuple[float, float],
    begins: Sequence[tuple[float, float]],
    ends: Sequence[tuple[float, float]],
) -> Floats:
    """Return the distances travelled between stops, mm.

    Args:
        rest: where the head starts.
        begins, ends: places each stop begins and ends at.
    Returns:
        shape (n + 1, n + 1): from row to column, the rest last; coming to rest costs nothing.
    """
    start = np.array([*begins, rest], dtype=float)
    end = np.array([*ends, rest], dtype=float)
    costs: Floats = np.hypot(
        end[:, None, 0] - start[None, :, 0], end[:, None, 1] - start[None, :, 1]
    )
    costs[:, -1] = 0.0
    return costs


def closure(before: Bools) -> Bools:
    """Return every order that follows from the given ones.

    Args:
        before: shape (n, n): whether the row's stop must come before the column's.
    Raises:
        GeometryError: a stop would have to come before itself.
    """
    out = before.copy()
    for k in range(len(out)):
        out |= out[:, k : k + 1] & out[k : k + 1, :]
    if out.diagonal().any():
        raise GeometryError("stops that must each come before the other cannot be put in order")
    return out


def round_length(tour: Sequence[int], costs: Floats) -> float:
    """Return the cost of a round from the rest through all its stops."""
    line = [len(costs) - 1, *tour]
    return float(costs[line[:-1], line[1:]].sum())


def short_round(costs: Floats, before: Bools, *, seed: int = 1) -> tuple[int, ...]:
    """Return a short round through all stops that keeps the order they need.

    Args:
        costs: shape (n + 1, n + 1), from ``travel_costs``.
        before: shape (n, n): whether the row's stop must come before the column's.
        seed: of the kicks; the same seed gives the same round.
    Raises:
        GeometryError: the order needed contradicts itself.
    """
    n = len(before)
    needed = closure(before)
    if n == 0:
        return ()
    best = improved(nearest_next(costs, needed), costs, needed)
    if n < 4:
        return tuple(best)
    best_length = round_length(best, costs)
    dice = random.Random(seed)
    for _ in range(min(KICKS_MOST, n * n // 2)):
        a, b, c = sorted(dice.sample(range(n + 1), 3))
        kicked = [*best[:a], *best[b:c], *best[a:b], *best[c:]]
        if needed[np.ix_(best[a:b], best[b:c])].any():
            continue
        tried = improved(kicked, costs, needed)
        length = round_length(tried, costs)
        if length < best_length * (1 - TOUR_GAIN):
            best, best_length = tried, length
    return tuple(best)


def nearest_next(costs: Floats, needed: Bools) -> list[int]:
    """Return the round that always goes to the nearest stop that may come next."""
    n = len(needed)
    waits = needed.sum(axis=0)
    left = np.ones(n, dtype=bool)
    here, tour = n, []
    for _ in range(n):
        open_ = np.flatnonzero(left & (waits == 0))
        here = int(open_[np.argmin(costs[here, open_])])
        tour.append(here)
        left[here] = False
        waits = waits - needed[here]
    return tour


def improved(tour: Sequence[int], costs: Floats, needed: Bools) -> list[int]:
    """Return a round no reversal and no move of a few stops shortens further.

    Args:
        tour: a round that keeps the order needed.
        costs, needed: as for ``short_round``; ``needed`` closed.
    """
    out = list(tour)
    least = TOUR_GAIN * (round_length(out, costs) or 1.0)
    while True:
        best_gain, best_tour = least, None
        for candidate in (_best_reversal(out, costs, needed), _best_move(out, costs, needed)):
            if candidate is not None and candidate[0] > best_gain:
                best_gain, best_tour = candidate
        if best_tour is None:
            return out
        out = best_tour


def _best_reversal(tour: list[int], costs: Floats, needed: Bools) -> tuple[float, list[int]] | None:
    """Return the gain and the round of the best stretch run backwards."""
    n = len(tour)
    rest = len(costs) - 1
    line = np.array([rest, *tour, rest])
    forward = np.r_[0.0, np.cumsum(costs[line[:-1], line[1:]])]
    backward = np.r_[0.0, np.cumsum(costs[line[1:], line[:-1]])]
    ordered = needed[np.ix_(tour, tour)]
    best: tuple[float, int, int] | None = None
    for i in range(n - 1):
        # A stretch may be turned up to the first stop that needs another of the stretch first.
        clash = np.flatnonzero(np.triu(ordered[i:, i:], 1).any(axis=0))
        end = i + int(clash[0]) if len(clash) else n
        j = np.arange(i + 1, end)
        if not len(j):
            continue
        was = forward[j + 2] - forward[i]
        now = (
            costs[line[i], line[j + 1]]
            + (backward[j + 1] - backward[i + 1])
            + costs[line[i + 1], line[j + 2]]
        )
        k = int(np.argmax(was - now))
        gain = float((was - now)[k])
        if best is None or gain > best[0]:
            best = gain, i, int(j[k])
    if best is None:
        return None
    gain, i, k = best
    return gain, [*tour[:i], *tour[i : k + 1][::-1], *tour[k + 1 :]]


def _best_move(tour: list[int], costs: Floats, needed: Bools) -> tuple[float, list[int]] | None:
    """Return the gain and the round of the best move of one to three stops, either way round."""
    n = len(tour)
    rest = len(costs) - 1
    best: tuple[float, list[int]] | None = None
    for size in range(1, min(LONGEST_MOVED, n - 1) + 1):
        for i in range(n - size + 1):
            run = tour[i : i + size]
            others = [*tour[:i], *tour[i + size :]]
            low, high = _room(others, run, needed)
            previous = tour[i - 1] if i else rest
            following = tour[i + size] if i + size < n else rest
            saved = costs[previous, run[0]] + costs[run[-1], following] - costs[previous, following]
            line = np.array([rest, *others, rest])
            place = np.arange(low, high + 1)
            before, after = line[place], line[place + 1]
            for turned in (run, run[::-1]) if size > 1 else (run,):
                if turned is not run and needed[np.ix_(run, run)].any():
                    continue
                within = float(costs[turned[:-1], turned[1:]].sum()) - float(
                    costs[run[:-1], run[1:]].sum()
                )
                added = (
                    costs[before, turned[0]] + costs[turned[-1], after] - costs[before, after]
                ) + within
                k = int(np.argmin(added))
                gain = float(saved - added[k])
                if best is None or gain > best[0]:
                    at = int(place[k])
                    best = gain, [*others[:at], *turned, *others[at:]]
    return best


def _room(others: list[int], run: list[int], needed: Bools) -> tuple[int, int]:
    """Return the first and the last place among the others where a run may be put."""
    must_precede = np.flatnonzero(needed[np.ix_(others, run)].any(axis=1))
    must_follow = np.flatnonzero(needed[np.ix_(run, others)].any(axis=0))
    low = int(must_precede[-1]) + 1 if len(must_precede) else 0
    high = int(must_follow[0]) if len(must_follow) else len(others)
    return low, high
