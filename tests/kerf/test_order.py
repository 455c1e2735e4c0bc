"""The order of cuts: constraints, heat, travel against an independent search, marks."""

from __future__ import annotations

import itertools
import math
import random

import numpy as np
import pytest

from kerf.beam import BeamPath, CutPlan, Operation, Stroke
from kerf.contour import Contour, Point
from kerf.errors import GeometryError
from kerf.order import check_apart, cut_order, must_precede, ordered
from kerf.tour import closure, round_length, short_round, travel_costs


def path(piece: str, contour: Contour, operation: Operation = Operation.OUTSIDE) -> BeamPath:
    """Return a cut."""
    return BeamPath(operation=operation, contour=contour, piece=piece)


def nested_sheet(dice: random.Random, count: int) -> list[BeamPath]:
    """Return plates in a row of cells, each with a window, some with a plate in that window."""
    out = []
    for k in range(count):
        x, y = 60.0 * (k % 4), 60.0 * (k // 4)
        inner = path(f"w{k}", Contour.rectangle(x + 10, y + 10, 30, 30), Operation.INSIDE)
        out += [inner, path(f"p{k}", Contour.rectangle(x, y, 50, 50))]
        if dice.random() < 0.5:
            out.append(path(f"s{k}", Contour.rectangle(x + 15, y + 15, 20, 20)))
            out.append(path(f"s{k}", Contour.circle(x + 25, y + 25, 4), Operation.INSIDE))
    dice.shuffle(out)
    return out


@pytest.mark.parametrize("seed", range(8))
def test_whatever_a_loop_encloses_comes_before_it(seed: int) -> None:
    """Holes before outlines, and a plate in a window before the window drops out."""
    paths = nested_sheet(random.Random(seed), 5)
    order = cut_order(paths, heat_mm=12.0).order
    at = {index: k for k, index in enumerate(order)}
    assert sorted(order) == list(range(len(paths)))
    for (i, a), (j, b) in itertools.permutations(enumerate(paths), 2):
        box, other = a.contour.bounds(), b.contour.bounds()
        if (
            other.x_min < box.x_min
            and box.x_max < other.x_max
            and (other.y_min < box.y_min and box.y_max < other.y_max)
        ):
            assert at[i] < at[j], (a.piece, b.piece)


def test_heat_is_spread_where_there_is_a_choice() -> None:
    """Holes in a row, 10 mm apart: none follows its neighbour, at any way."""
    paths = [path("p", Contour.circle(10.0 * k, 50, 2), Operation.INSIDE) for k in range(9)]
    cool = cut_order(paths, heat_mm=8.0)
    assert cool.hot == 0
    assert all(abs(a - b) > 1 for a, b in itertools.pairwise(cool.order))
    short = cut_order(paths)
    assert short.travel_mm < cool.travel_mm


def test_two_neighbours_alone_are_cut_all_the_same() -> None:
    """Where nothing else is left to do, heat does not stop the work."""
    paths = [path("p", Contour.circle(10.0 * k, 0, 2), Operation.INSIDE) for k in range(2)]
    assert cut_order(paths, heat_mm=50.0).hot == 1


def test_a_heat_distance_below_zero_is_refused() -> None:
    """Nonsense raises."""
    with pytest.raises(GeometryError, match="heat distance"):
        cut_order([], heat_mm=-1.0)


def plain_search(costs: np.ndarray, before: np.ndarray, starts: int, seed: int) -> float:
    """Return the best of 2-opt and or-opt from random starts, written plainly for this test."""
    dice = random.Random(seed)
    n = len(before)

    def length(tour: list[int]) -> float:
        line = [n, *tour]
        return sum(float(costs[a, b]) for a, b in itertools.pairwise(line))

    def obeys(tour: list[int]) -> bool:
        return not any(before[b, a] for a, b in itertools.combinations(tour, 2))

    best = math.inf
    for _ in range(starts):
        tour: list[int] = []
        left = set(range(n))
        while left:
            free = [i for i in sorted(left) if not any(before[j, i] for j in left)]
            tour.append(dice.choice(free))
            left.remove(tour[-1])
        now = length(tour)
        better = True
        while better:
            better = False
            for i in range(n):
                for j in range(i + 1, n + 1):
                    tries = [tour[:i] + tour[i:j][::-1] + tour[j:]]
                    if j - i <= 3:
                        rest = tour[:i] + tour[j:]
                        tries += [
                            rest[:k] + run + rest[k:]
                            for k in range(len(rest) + 1)
                            for run in (tour[i:j], tour[i:j][::-1])
                        ]
                    for tried in tries:
                        if length(tried) < now - 1e-9 and obeys(tried):
                            tour, now, better = tried, length(tried), True
        best = min(best, now)
    return best


@pytest.mark.parametrize("seed", range(3))
def test_travel_is_within_5_percent_of_the_best_of_20_starts(seed: int) -> None:
    """Source: 2-opt (Croes 1958) and or-opt (Or 1976), 20 random starts, written anew here."""
    dice = random.Random(seed)
    n = 11
    places = [(dice.uniform(0, 600), dice.uniform(0, 400)) for _ in range(n)]
    ends = [(x + dice.uniform(-5, 5), y + dice.uniform(-5, 5)) for x, y in places]
    before = np.zeros((n, n), dtype=bool)
    for k in range(0, n - 1, 3):
        before[k, k + 1] = True
    costs = travel_costs((0.0, 0.0), places, ends)
    mine = round_length(short_round(costs, before), costs)
    assert mine <= 1.05 * plain_search(costs, before, 20, seed) + 1e-9


def test_an_order_that_contradicts_itself_is_refused() -> None:
    """Each before the other cannot be."""
    before = np.array([[False, True], [True, False]])
    with pytest.raises(GeometryError, match="cannot be put in order"):
        closure(before)


def test_no_cuts_is_an_empty_order() -> None:
    """A named outcome."""
    assert cut_order([]).order == ()


def test_marks_come_before_cuts_and_references_first() -> None:
    """And each mark begins near the end of the last: turned round where that helps."""
    marks = [
        Stroke(operation=Operation.ENGRAVE, points=(Point(50, 0), Point(10, 0)), piece="a"),
        Stroke(operation=Operation.REFERENCE, points=(Point(0, 0), Point(1, 0)), piece="a"),
        Stroke(operation=Operation.SCORE, points=(Point(51, 0), Point(90, 0)), piece="a"),
    ]
    plan = CutPlan(
        width_mm=100,
        height_mm=100,
        strokes=tuple(marks),
        paths=(path("a", Contour.rectangle(0, 0, 9, 9)),),
        kerf=None,
    )
    first, second, third = ordered(plan).strokes
    assert first == marks[1]
    assert second.points == (Point(10, 0), Point(50, 0))
    assert third == marks[2]


def test_pieces_never_share_a_cut() -> None:
    """Two plates along one line are refused; apart by a kerf and a web they pass."""
    a = path("a", Contour.rectangle(0, 0, 50, 50))
    with pytest.raises(GeometryError, match='"a" and "b" come within'):
        check_apart([a, path("b", Contour.rectangle(50, 0, 50, 50))], least_mm=1.0)
    check_apart([a, path("b", Contour.rectangle(51.1, 0, 50, 50))], least_mm=1.0)
    check_apart([a, path("a", Contour.circle(25, 49.9, 0.05))], least_mm=1.0)


def test_nesting_is_seen_through_arcs() -> None:
    """A disc within a ring of arcs comes before it, whichever is listed first."""
    ring, disc = path("a", Contour.circle(0, 0, 20)), path("b", Contour.circle(3, 3, 10))
    np.testing.assert_array_equal(must_precede([ring, disc]), [[False, False], [True, False]])
