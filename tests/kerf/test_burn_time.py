"""The time model against trapezoids and triangles worked by hand.

Source: trapezoidal velocity profile, Biagiotti & Melchiorri, *Trajectory Planning for Automatic
Machines and Robots*, 2008, section 3.2; the numbers beside each case are worked by hand.
"""

from __future__ import annotations

import math

import pytest

from kerf.beam import BeamPath, CutPlan, Operation, Stroke
from kerf.burn_time import Speeds, burn_time, cut_length_mm, move_time_s, run_time_s
from kerf.contour import Contour, Point, Vertex
from kerf.errors import GeometryError

CARD = Speeds(cut_mm_s=10, engrave_mm_s=100, travel_mm_s=200, accel_mm_s2=1000, pierce_s=0.5)


@pytest.mark.parametrize(
    ("distance", "speed", "time"),
    [
        (240.0, 200.0, 1.4),  # ramps of 20 mm in 0.2 s each, 200 mm at 200 mm/s
        (40.0, 200.0, 0.4),  # just reaches 200 mm/s: two ramps of 20 mm
        (10.0, 200.0, 0.2),  # triangle: peak 100 mm/s, 2 √(10/1000)
        (0.0, 200.0, 0.0),
        (10.0, 10.0, 1.01),  # 10/10 + 10/1000
    ],
)
def test_a_move_from_rest_to_rest(distance: float, speed: float, time: float) -> None:
    """d/v + v/a, or 2 √(d/a) when too short to reach v."""
    assert move_time_s(distance, speed, CARD) == pytest.approx(time)


def test_a_corner_stops_the_beam() -> None:
    """Two legs of 10 mm at 10 mm/s: twice 1.01 s, not 2.01 s."""
    corner = [Vertex(0, 0), Vertex(10, 0), Vertex(10, 10)]
    straight = [Vertex(0, 0), Vertex(10, 0), Vertex(20, 0)]
    assert run_time_s(corner, 10.0, CARD) == pytest.approx(2.02)
    assert run_time_s(straight, 10.0, CARD) == pytest.approx(2.01)


def test_an_arc_is_no_faster_than_its_radius_allows() -> None:
    """A circle of r = 10 at 200 mm/s: top speed √(1000 · 10) = 100 mm/s; 20π/100 + 100/1000 s."""
    circle = [Vertex(-10, 0, 1.0), Vertex(10, 0, 1.0), Vertex(-10, 0)]
    assert run_time_s(circle, 200.0, CARD) == pytest.approx(20 * math.pi / 100 + 0.1)


def test_the_beam_slows_for_an_arc_ahead() -> None:
    """45 mm straight into a quarter of r = 10 at up to 300 mm/s.

    By hand: the arc allows 100 mm/s. On the straight the peak v has v² = 1000·45 + 100²/2 =
    50000, v = 223.607; ramps (2·223.607 − 100)/1000 s = 0.347214 s over all 45 mm. The arc of
    15.708 mm from 100 mm/s to rest: braking takes 5 mm in 0.1 s, the rest 0.10708 s.
    """
    run = [Vertex(0, 0), Vertex(45, 0, math.tan(math.pi / 8)), Vertex(55, 10)]
    by_hand = (2 * math.sqrt(50000) - 100) / 1000 + 0.1 + (5 * math.pi - 5) / 100
    assert run_time_s(run, 300.0, CARD) == pytest.approx(by_hand)


def test_speed_never_outruns_what_can_be_braked() -> None:
    """5 mm onto a corner, tangent from 100 mm: the last 5 mm must be braked: 100 + 5 = 105 mm.

    By hand: as one move of 105 mm at 200 mm/s: 105/200 + 200/1000.
    """
    run = [Vertex(0, 0), Vertex(100, 0), Vertex(105, 0)]
    assert run_time_s(run, 200.0, CARD) == pytest.approx(105 / 200 + 0.2)


def square_plan(**more: object) -> CutPlan:
    """Return a 10 mm square cut at (30, 40) and one engraved line of 100 mm before it."""
    path = BeamPath(
        operation=Operation.OUTSIDE, contour=Contour.rectangle(30, 40, 10, 10), piece="a", **more
    )
    lines = [(Operation.ENGRAVE, Point(0, 0)), (Operation.REFERENCE, Point(50, 50))]
    return CutPlan(
        width_mm=100,
        height_mm=100,
        strokes=tuple(
            Stroke(operation=o, points=(p, Point(p.x + 100, p.y)), piece="b") for o, p in lines
        ),
        paths=(path,),
        kerf=None,
    )


def test_a_plan_adds_up() -> None:
    """By hand: engrave 100/100 + 0.1; travel from (100, 0) to (30, 40) √6500 mm; cut 4 · 1.01."""
    time = burn_time(square_plan(), CARD)
    assert time.engrave_s == pytest.approx(1.1)
    assert time.pierce_s == 0.5
    assert time.cut_s == pytest.approx(4.04)
    assert time.travel_s == pytest.approx(math.sqrt(6500) / 200 + 0.2)
    assert time.total_s == pytest.approx(1.1 + 0.5 + 4.04 + math.sqrt(6500) / 200 + 0.2)


def test_a_way_in_is_cut_too() -> None:
    """A way in of 3 mm straight into the first leg: 13 mm in one go, 13/10 + 0.01 s."""
    plan = square_plan(lead_in=(Point(27, 40),))
    assert cut_length_mm(plan.paths) == pytest.approx(43.0)
    assert burn_time(plan, CARD).cut_s == pytest.approx(1.31 + 3 * 1.01)


def test_each_piece_bears_its_own_share() -> None:
    """The pieces' times add up to the plan's."""
    plan = square_plan()
    shares = [burn_time(plan, CARD, pieces=[p]).total_s for p in ("a", "b")]
    assert sum(shares) == pytest.approx(burn_time(plan, CARD).total_s)


@pytest.mark.parametrize(
    ("what", "value", "message"),
    [
        ("cut_mm_s", 0.0, "cutting speed must be above 0 mm/s"),
        ("accel_mm_s2", math.inf, "acceleration must be above 0 mm/s² and finite"),
        ("pierce_s", -1.0, "a pierce must take 0 s or more"),
    ],
)
def test_impossible_speeds_are_refused(what: str, value: float, message: str) -> None:
    """Never a plausible time from an impossible card."""
    good = {"cut_mm_s": 10.0, "engrave_mm_s": 100.0, "travel_mm_s": 200.0, "accel_mm_s2": 1000.0}
    with pytest.raises(GeometryError, match=message):
        Speeds(**(good | {what: value}))
