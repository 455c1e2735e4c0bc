"""The proven bound of the slack: above every pose, and next to the closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from loose_parts import Search, random_outline, random_pocket

from jigs.locating.poseset import travels
from jigs.locating.slack import BoundOutcome, Pin, Slack, SlackOutcome, pin_slack, slack
from jigs.part import Critical
from kerf import shapes
from kerf.contour import Contour, Point, Region, Vector
from kerf.offset import offset
from kerf.tolerance import CERTIFIED_MM, CERTIFIED_SHARE


def close_above(bound: float, true: float, *, floor: float = CERTIFIED_MM) -> bool:
    """Whether a bound lies above a true value by no more than it may."""
    return true * (1 - 1e-9) <= bound <= true + 1.01 * max(true * CERTIFIED_SHARE, floor)


def feature(x: float, y: float) -> Critical:
    return Critical(name=f"{x:g},{y:g}", at=Point(x, y), tolerance_mm=1.0)


def proven(found: Slack) -> Slack:
    assert found.bound_outcome is BoundOutcome.PROVEN
    return found


@pytest.mark.parametrize(
    ("a", "b", "c"),
    [(100, 60, 0.2), (100, 60, 0.1), (50, 50, 0.2), (150, 20, 0.3), (25.4, 12.7, 0.127)],
)
def test_rectangle_in_a_pocket(a, b, c):
    """Source: θ = atan(a/b) − acos((b + c)/√(a² + b²)), computed and verified by brute force;
    a corner reaches c/2 and no more, wherever the part turns, but by what the turn adds."""
    part = Region(outer=Contour.rectangle(0, 0, a, b))
    void = Region(outer=Contour.rectangle(-c / 2, -c / 2, a + c, b + c))
    bound = proven(slack(part, void, certify=True)).bound
    exact = math.atan(a / b) - math.acos((b + c) / math.hypot(a, b))
    lever = math.hypot(a, b) / 2
    for turn in (bound.turn_ccw_rad, bound.turn_cw_rad):
        assert close_above(turn, exact, floor=CERTIFIED_MM / lever)
    assert close_above(bound.x_mm, c / 2)
    assert close_above(bound.y_mm, c / 2)


def test_disc_in_a_round_pocket_and_a_square_one():
    """Source: a disc's centre stays within the clearance; in a square, along each axis."""
    part = shapes.circle(diameter_mm=40)
    middle = part.bounds().centre
    for void, far in (
        (offset(part, 0.1).regions[0], 0.1),
        (Region(outer=Contour.rectangle(middle.x - 20.1, middle.y - 20.1, 40.2, 40.2)), 0.1414214),
    ):
        found = proven(slack(part, void, (feature(*middle),), certify=True))
        assert found.outcome is SlackOutcome.TURN_FREE
        assert close_above(found.bound.x_mm, 0.1)
        assert close_above(found.bound.y_mm, 0.1)
        assert found.bound.turn_rad is None
        assert found.bound.features[0].magnitude_mm >= far * (1 - 1e-6)
        assert found.bound.features[0].magnitude_mm <= far * 1.01


def test_disc_with_a_flat_in_a_square_pocket_has_no_number():
    """Its flat faces a corner of the pocket; turned to a wall, it lets the disc go further."""
    half, r = math.radians(20), 20.0
    first, last = math.pi / 4 + half, math.pi / 4 - half + math.tau
    middle = (first + last) / 2
    bulge = math.tan((middle - first) / 4)
    part = Region(
        outer=Contour.of(
            (r * math.cos(a), r * math.sin(a), b)
            for a, b in ((first, bulge), (middle, bulge), (last, 0.0))
        )
    )
    found = slack(part, Region(outer=Contour.rectangle(-20.1, -20.1, 40.2, 40.2)), certify=True)
    assert (found.outcome, found.x_mm) == (SlackOutcome.TURN_FREE, None)
    assert found.bound_outcome is BoundOutcome.NOTHING


def plate(*bores: Contour) -> Region:
    return Region(outer=Contour.rectangle(-40, -40, 130, 80), holes=bores)


@pytest.mark.parametrize("c", [0.02, 0.1])
def test_two_round_pins(c):
    """Source: α = 2 asin((c1 + c2)/(4 L)), shift c/2; computed by two methods."""
    part = plate(Contour.circle(0, 0, 20), Contour.circle(50, 0, 20))
    pins = tuple(Pin(at=Point(x, 0), diameter_mm=40 - c) for x in (0, 50))
    bound = proven(pin_slack(part, pins, certify=True)).bound
    lever = 76.4
    assert close_above(bound.turn_rad, 2 * math.asin(c / 100), floor=CERTIFIED_MM / lever)
    assert close_above(bound.x_mm, c / 2)


def test_round_and_relieved_pin():
    """Source: sin α = (c1 + c2)/(2 L) with the relief along the centre line."""
    part = plate(Contour.circle(0, 0, 20), Contour.circle(50, 0, 20))
    pins = (
        Pin(at=Point(0, 0), diameter_mm=39.9),
        Pin(at=Point(50, 0), diameter_mm=39.9, relieved_along=Vector(1, 0), land_mm=0.5),
    )
    bound = proven(pin_slack(part, pins, certify=True)).bound
    assert close_above(bound.turn_rad, math.asin(0.2 / 100), floor=2 * CERTIFIED_MM / 76)


def test_peg_in_a_hole():
    """Source: the peg's axis stays within half the clearance of the bore's."""
    found = proven(
        pin_slack(
            plate(Contour.circle(20, 20, 5)),
            (Pin(at=Point(20, 20), diameter_mm=9.9),),
            (feature(20, 20), feature(30, 20)),
            certify=True,
        )
    )
    assert found.outcome is SlackOutcome.TURN_FREE
    assert close_above(found.bound.x_mm, 0.05)
    assert 0.05 <= found.bound.features[0].magnitude_mm <= 0.0505
    assert found.bound.features[1].magnitude_mm is None


def test_no_clearance_is_bounded_by_the_floor():
    part = shapes.ell(width_mm=60, height_mm=40, leg_mm=15, radius_mm=2)
    bound = proven(slack(part, part, (feature(5, 5),), certify=True)).bound
    assert max(bound.x_mm, bound.y_mm, bound.features[0].magnitude_mm) <= 1.5 * CERTIFIED_MM


@pytest.mark.parametrize("seed", [4, 17, 18, 26])
def test_no_admissible_pose_goes_beyond_it(seed):
    """A crowd of poses, told admissible by shapely alone, stays within every bound."""
    rng = np.random.default_rng(seed)
    part = random_outline(rng)
    void = random_pocket(part, float(rng.choice((0.1, 0.3, 1.0))), rng)
    box = part.bounds()
    found = proven(slack(part, void, (feature(box.x_max, box.y_max),), certify=True))
    bound, corner = found.bound, found.bound.features[0]
    crowd = Search(part, void, 1e-9).crowd(
        np.array((found.x_mm, found.y_mm, found.turn_rad)) / 2, rng
    )
    moved = travels(crowd, np.array(((0.0, 0.0), (box.width / 2, box.height / 2))))
    shade = 1 + 2e-3  # the search's facets
    assert crowd[:, 2].max() <= bound.turn_ccw_rad * shade
    assert -crowd[:, 2].min() <= bound.turn_cw_rad * shade
    assert moved[:, 0, :2].max() <= bound.x_mm * shade
    assert moved[:, 0, 2:4].max() <= bound.y_mm * shade
    assert moved[:, 1, :2].max() <= corner.x_mm * shade
    assert moved[:, 1, 2:4].max() <= corner.y_mm * shade
    assert moved[:, 1, 4].max() <= corner.magnitude_mm * shade
    # And the crowd is no straw man: it comes near.
    assert crowd[:, 2].max() >= 0.5 * bound.turn_ccw_rad
    assert bound.turn_rad <= found.turn_rad * (1 + CERTIFIED_SHARE) + CERTIFIED_MM / 10


@pytest.mark.parametrize(
    "seed",
    [
        pytest.param(10, id="a goal that takes many cells"),
        pytest.param(49, id="a spike that crosses a wall, no corner in the other body"),
        pytest.param(69, id="a corner that goes much less far along x than along y"),
        pytest.param(91, id="a magnitude that takes many programmes"),
    ],
)
def test_hard_cases_are_bounded_closely(seed):
    """Each once had a bound far above the travel, or stopped before it was close."""
    rng = np.random.default_rng(seed)
    part = random_outline(rng)
    void = random_pocket(part, float(rng.choice((0.1, 0.3, 1.0))), rng)
    box = part.bounds()
    found = proven(slack(part, void, (feature(box.x_max, box.y_max),), certify=True))
    for bound, exact in (
        (found.bound.x_mm, found.x_mm),
        (found.bound.y_mm, found.y_mm),
        (found.bound.turn_rad, found.turn_rad),
        *zip(
            (f for one in found.bound.features for f in (one.x_mm, one.y_mm, one.magnitude_mm)),
            (f for one in found.features for f in (one.x_mm, one.y_mm, one.magnitude_mm)),
            strict=True,
        ),
    ):
        assert exact * (1 - 1e-9) <= bound <= exact * 1.006 + CERTIFIED_MM


def test_a_part_that_overlaps_its_pocket_by_a_hair_is_bounded_in_the_wider_one():
    """Nominal overlap of 0.2 µm: the bound is that of a pocket wider by it, and by its facets."""
    part = shapes.circle(diameter_mm=40)
    middle = part.bounds().centre
    hair = 2e-4
    void = Region(outer=Contour.rectangle(middle.x - 20 + hair, middle.y - 20.1, 40.1 - hair, 40.2))
    found = proven(slack(part, void, (feature(*middle),), certify=True))
    assert found.bound.x_mm >= 0.1
    assert found.bound.x_mm <= 0.1 + 4 * hair
    assert found.bound.y_mm <= 0.1 + 4 * hair


def test_without_asking_there_is_no_bound():
    part = Region(outer=Contour.rectangle(0, 0, 100, 60))
    found = slack(part, offset(part, 0.1).regions[0])
    assert (found.bound, found.bound_outcome) == (None, BoundOutcome.NOT_ASKED)
    assert found.most is found.exact
