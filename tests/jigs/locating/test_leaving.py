"""Ways out: free directions from walls, swept checks, wedging."""

from __future__ import annotations

import math

import pytest

from jigs.locating.leaving import greatest_offset_mm, tilt_rad, ways_out
from kerf.boolean import union
from kerf.contour import Contour, Region
from kerf.errors import GeometryError
from kerf.offset import offset as grown_by
from kerf.shapes import rounded_rectangle

PART = Region(outer=Contour.rectangle(0, 0, 30, 20))


def room_with(*, left=0.1, low=0.1, right=100.0, high=100.0) -> Region:
    """Return a rectangular room with the given gaps to the part."""
    return Region(outer=Contour.rectangle(-left, -low, 30 + left + right, 20 + low + high))


def test_closed_pocket_only_lifts():
    out = ways_out(PART, room_with(right=0.1, high=0.1), clearance_mm=0.1, distance_mm=40)
    assert out.lifts
    assert out.slides == ()


def test_corner_lets_it_slide_over_a_right_angle():
    out = ways_out(PART, room_with(), clearance_mm=0.1, distance_mm=40)
    (arc,) = out.slides
    assert (arc.from_rad, arc.to_rad) == pytest.approx((0.0, math.pi / 2))
    assert arc.clear == (True, True, True)


def test_drawer_slides_one_way():
    out = ways_out(PART, room_with(high=0.1), clearance_mm=0.1, distance_mm=40)
    (arc,) = out.slides
    assert (arc.from_rad, arc.to_rad) == pytest.approx((0.0, 0.0))
    assert arc.clear == (True, True, True)


def test_through_slot_slides_both_ways():
    out = ways_out(PART, room_with(left=100, high=0.1), clearance_mm=0.1, distance_mm=40)
    assert sorted(abs(arc.from_rad) for arc in out.slides) == pytest.approx([0.0, math.pi])
    assert all(arc.from_rad == arc.to_rad for arc in out.slides)


def test_fence_leaves_half_the_plane():
    out = ways_out(PART, room_with(left=100), clearance_mm=0.1, distance_mm=40)
    (arc,) = out.slides
    assert arc.to_rad - arc.from_rad == pytest.approx(math.pi)


def test_bump_further_on_stops_the_slide():
    bump = Contour.circle(60, 10, 3)
    room = room_with()
    out = ways_out(PART, Region(outer=room.outer, holes=(bump,)), clearance_mm=0.1, distance_mm=40)
    (arc,) = out.slides
    assert arc.clear == (False, True, True)


def test_nothing_near_is_free_all_round():
    out = ways_out(PART, room_with(left=100, low=100), clearance_mm=0.1, distance_mm=40)
    (arc,) = out.slides
    assert arc.to_rad - arc.from_rad == pytest.approx(2 * math.pi)


def test_wedging_limit_is_where_friction_holds_the_push():
    """Source: equilibrium, stepped: the push F at e moves the slide while F > 2 μ F e / L."""
    length, friction = 60.0, 0.3
    limit = greatest_offset_mm(guidance_mm=length, friction=friction)
    assert limit == pytest.approx(100.0)
    for offset, moves in ((0.99 * limit, True), (1.01 * limit, False)):
        wall = 1.0 * offset / length
        assert (2 * friction * wall < 1.0) is moves


def test_tilt_is_that_of_a_rectangle_in_a_pocket():
    """Source: check values §4: 150 × 20 with 0.3 turns 0.114607°."""
    tilt = tilt_rad(guidance_mm=150, width_mm=20, clearance_mm=0.3)
    assert math.degrees(tilt) == pytest.approx(0.114607, rel=5e-6)


@pytest.mark.parametrize(
    "call",
    [
        lambda: greatest_offset_mm(guidance_mm=0, friction=0.3),
        lambda: greatest_offset_mm(guidance_mm=10, friction=0),
        lambda: tilt_rad(guidance_mm=10, width_mm=20, clearance_mm=3),
        lambda: tilt_rad(guidance_mm=10, width_mm=20, clearance_mm=-1),
        lambda: ways_out(PART, PART, clearance_mm=-1, distance_mm=1),
        lambda: ways_out(PART, PART, clearance_mm=0, distance_mm=0),
    ],
)
def test_nonsense_is_refused(call):
    with pytest.raises(GeometryError):
        call()


def test_walls_that_follow_round_corners_bar_no_free_way():
    """A slot open upward, its corners concentric with the part's: up is the one way out."""
    part = rounded_rectangle(width_mm=30, height_mm=20, radius_mm=4)
    (grown,) = grown_by(part, 0.5).regions
    slot = union((grown, Region(outer=Contour.rectangle(-0.5, 10, 31, 200))))[0]
    out = ways_out(part, slot, clearance_mm=0.5, distance_mm=40)
    (arc,) = out.slides
    assert (arc.from_rad, arc.to_rad) == pytest.approx((math.pi / 2, math.pi / 2))
    assert arc.clear == (True, True, True)
    assert ways_out(part, grown, clearance_mm=0.5, distance_mm=40).slides == ()
