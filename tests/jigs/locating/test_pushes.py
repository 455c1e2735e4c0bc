"""Which single push seats a part best, how much friction it bears, how well it must be aimed."""

from __future__ import annotations

import math

import pytest

from jigs.locating.clamping import clamp_places, least_reactions
from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.pushes import (
    AIM_RAD,
    MOST_FRICTION,
    aim_rad,
    best_push,
    friction_limit,
    is_corner,
    seats_at,
    square_push,
)
from jigs.locating.seating import Push
from kerf.contour import Contour, Point, Vector


def wall(name, x, y, nx, ny):
    return Contact(name=name, at=Point(x, y), normal=Vector(nx, ny), kind=ContactKind.WALL, on="")


PLATE = (wall("Y1", 20, 0, 0, 1), wall("Y2", 80, 0, 0, 1), wall("X1", 0, 30, 1, 0))
RECTANGLE = Contour.rectangle(0, 0, 100, 60)
CUT = Contour.of([(0, 0, 0), (100, 0, 0), (100, 40, 0), (75, 60, 0), (0, 60, 0)])


def towards(x, y, degrees):
    a = math.radians(degrees)
    return Push(at=Point(x, y), along=Vector(math.cos(a), math.sin(a)))


@pytest.mark.parametrize("degrees", [200, 215, 225, 240, 255])
def test_a_push_seats_below_its_reserve_and_not_above(degrees):
    """Source: ``least_reactions``, itself checked by sampling and a linear programme."""
    push = towards(100, 60, degrees)
    limit = friction_limit(PLATE, push)
    if limit is None:
        assert min(least_reactions(PLATE, push)) <= 1e-9
        return
    for friction in (0.0, 0.5 * limit, limit):
        assert seats_at(PLATE, push, friction)
    assert limit == MOST_FRICTION or not seats_at(PLATE, push, limit + 1.1e-3)


def test_the_reserve_of_a_push_on_a_corner_by_hand():
    """Forces along x and y and moments about the origin, each contact dragging ±μ across itself.

    Source: equilibrium by hand, solved by Cramer's rule: a push of (−s, −s), s = 1/√2, at
    (100, 60) has the moment −(100 − 60) s.
    """
    push = Push(at=Point(100, 60), along=Vector(-math.sqrt(0.5), -math.sqrt(0.5)))
    found = friction_limit(PLATE, push)

    def off(mu):
        """Whether some a, b leave Y1 pulled, or another contact."""
        s = math.sqrt(0.5)
        for a in (-1, 1):
            for b in (-1, 1):
                for c in (-1, 1):
                    rows = [[c * mu, a * mu, 1], [1, 1, b * mu], [20, 80, -30]]
                    right = [s, s, 100 * s - 60 * s]
                    if min(solve3(rows, right)) <= 0:
                        return True
        return False

    assert not off(found - 2e-3)
    assert off(found + 2e-3)


def solve3(rows, right):
    """Cramer's rule."""

    def det(m):
        return (
            m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
            - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
            + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
        )

    whole = det(rows)
    return [
        det([[right[r] if k == i else rows[r][k] for k in range(3)] for r in range(3)]) / whole
        for i in range(3)
    ]


def test_aim_is_the_nearest_end_of_the_directions():
    """Source: turning the push by that much either way; one way it still seats, beyond not."""
    push = towards(100, 60, 222)
    aim = aim_rad(PLATE, push, friction=0.1)
    assert aim > 0
    angle = math.radians(222)
    ends = []
    for side in (-1, 1):
        for turn, seats in ((aim * 0.999, True), (aim * 1.001, False)):
            a = angle + side * turn
            turned = Push(at=push.at, along=Vector(math.cos(a), math.sin(a)))
            ends.append(seats_at(PLATE, turned, 0.1) is seats)
    assert ends[0]  # within it, both ways
    assert ends[2]
    assert ends[1] or ends[3]  # beyond it, one way not
    assert aim_rad(PLATE, towards(100, 20, 180), friction=0.1) == 0.0


def test_square_to_an_edge_and_halving_a_corner():
    assert square_push(CUT, Point(100, 20)).along == pytest.approx((-1, 0))
    at = square_push(CUT, Point(99.99, 60.5))
    assert not is_corner(CUT, at.at)
    corner = square_push(RECTANGLE, Point(100, 60))
    assert is_corner(RECTANGLE, corner.at)
    assert corner.along == pytest.approx((-math.sqrt(0.5), -math.sqrt(0.5)))
    # A rounded corner is no corner: the push is square to its arc.
    b = math.tan(math.pi / 8)
    rounded = Contour.of([(0, 0, 0), (100, 0, 0), (100, 50, b), (90, 60, 0), (0, 60, 0)])
    found = square_push(rounded, Point(98, 58))
    assert not is_corner(rounded, found.at)
    assert found.along == pytest.approx((-math.sqrt(0.5), -math.sqrt(0.5)))


def test_a_rectangle_is_pushed_at_its_far_corner():
    places = clamp_places(RECTANGLE, PLATE, friction=0.2)
    assert places == ()
    push = best_push(RECTANGLE, PLATE, places, friction=0.2, finger_mm=3)
    assert push.at == (100, 60)
    assert friction_limit(PLATE, push) > 0.2


def test_an_edge_that_seats_goes_before_a_corner_and_the_best_place_on_it_is_taken():
    places = clamp_places(CUT, PLATE, friction=0.2)
    assert places
    push = best_push(CUT, PLATE, places, friction=0.2, finger_mm=3)
    assert not is_corner(CUT, push.at)
    mine = friction_limit(PLATE, push)
    for place in places:
        for share in (0.3, 0.5, 0.7):
            s = place.start_mm + share * (place.end_mm - place.start_mm)
            other = Push(at=CUT.point_at(s), along=CUT.normal_at(s))
            assert friction_limit(PLATE, other) <= mine
    assert aim_rad(PLATE, push, friction=0.2) >= AIM_RAD


def test_a_stretch_that_seats_by_a_hair_is_not_called_sure():
    """Where every square push must be aimed to a degree or two, a corner goes first."""
    places = clamp_places(CUT, PLATE, friction=0.2)
    # Only the last tenth of a millimetre of each stretch is offered: there the aim is narrow.
    ends = [
        type(p)(
            edge=p.edge,
            start_mm=p.end_mm - 0.1,
            end_mm=p.end_mm,
            start=CUT.point_at(p.end_mm - 0.1),
            end=p.end,
        )
        for p in places
    ]
    sliver = best_push(CUT, PLATE, ends, friction=0.2, finger_mm=0.05)
    assert is_corner(CUT, sliver.at)
    assert aim_rad(PLATE, sliver, friction=0.2) >= AIM_RAD


def test_contacts_that_face_each_other_jam_and_no_push_is_sure():
    """A pair 1 mm out of line across 60 mm jams from a friction of 1/60 (Nguyen's condition)."""
    facing = (wall("A", 50, 0, 0, 1), wall("B", 51, 60, 0, -1), wall("X1", 0, 30, 1, 0))
    push = best_push(RECTANGLE, facing, clamp_places(RECTANGLE, facing), friction=0.2, finger_mm=3)
    assert friction_limit(facing, push) == pytest.approx(1 / 60, abs=1.1e-3)
    assert aim_rad(facing, push, friction=0.2) == 0.0
