"""Wrong ways in: known shapes, near misses, pins, stops, and a slice of the random lane."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from test_loading_stress import GROUPS, check

from jigs.locating.loading import WrongWay, wrong_ways
from jigs.locating.slack import Pin
from jigs.locating.stops import check_loading, fouling_stop
from kerf import shapes
from kerf.contour import Contour, Point, Region
from kerf.errors import GeometryError
from kerf.offset import offset


def grown(part: Region, clearance_mm: float) -> Region:
    (only,) = offset(part, clearance_mm).regions
    return only


def found(part: Region, clearance_mm: float = 0.15, margin_mm: float = 0.5):
    ways = wrong_ways(part, grown(part, clearance_mm), margin_mm=margin_mm)
    return [(round(math.degrees(w.turn_rad), 6), w.flipped) for w in ways if w.fits]


@pytest.mark.parametrize(("order", "mirrored"), GROUPS)
def test_symmetry_is_classified(order, mirrored):
    """Source: built into the part; the long lane has 300 of them."""
    check(order, mirrored, 2)


def test_scan_of_all_turns_finds_no_other_way():
    check(2, False, 100, scan=True)


@pytest.mark.parametrize(
    ("part", "ways"),
    [
        pytest.param(
            shapes.rectangle(width_mm=60, height_mm=40),
            [(180, False), (0, True), (180, True)],
            id="rectangle",
        ),
        pytest.param(
            shapes.rectangle(width_mm=40, height_mm=40),
            [
                *((turn, False) for turn in (-90, 90, 180)),
                *((turn, True) for turn in (-90, 0, 90, 180)),
            ],
            id="square",
        ),
        pytest.param(shapes.ell(width_mm=60, height_mm=40, leg_mm=12), [], id="ell"),
        pytest.param(
            shapes.ell(width_mm=60, height_mm=60, leg_mm=12, radius_mm=3),
            [(-90, True)],
            id="even ell",
        ),
        pytest.param(shapes.tee(width_mm=60, height_mm=40, leg_mm=12), [(0, True)], id="tee"),
        pytest.param(
            shapes.slot(length_mm=60, width_mm=20),
            [(180, False), (0, True), (180, True)],
            id="slot, arcs only at its ends",
        ),
    ],
)
def test_known_shapes(part, ways):
    assert found(part) == ways


def test_place_does_not_matter():
    part = shapes.ell(width_mm=60, height_mm=60, leg_mm=12, radius_mm=3)
    away = Region(outer=Contour.of([(v.x + 400, v.y - 250, v.bulge) for v in part.outer.vertices]))
    assert found(away) == found(part)


def test_round_part_goes_in_at_any_turn():
    part = shapes.circle(diameter_mm=40)
    ways = wrong_ways(part, grown(part, 0.1), margin_mm=0.5)
    assert [(w.turn_rad, w.flipped, w.fits) for w in ways] == [
        (None, False, True),
        (None, True, True),
    ]
    (finding,) = check_loading(ways, None, subject="nest", margin_mm=0.5)
    assert finding.code == "turn-free"


@pytest.mark.parametrize("skew", [0.5, 0.8, 1.2])
def test_near_miss_is_listed_with_its_overlap(skew):
    """A rectangle with one end out of square by ``skew`` over its height.

    Turned half round, its width stands ``skew`` too wide at one end on both sides: the
    clearance takes 0.15 a side and the rest is shared.
    """
    part = Region(outer=Contour.of([(0, 0), (60, 0), (60 + skew, 40), (0, 40)]))
    ways = wrong_ways(part, grown(part, 0.15), margin_mm=0.5)
    half = [w for w in ways if not w.flipped]
    assert len(half) == 1
    assert half[0].overlap_mm == pytest.approx(skew / 2 - 0.15, abs=0.02)
    assert not half[0].fits
    least = min(way.overlap_mm for way in ways)
    assert wrong_ways(part, grown(part, 0.15), margin_mm=least - 0.01) == ()


def test_margin_below_nought_is_refused():
    part = shapes.circle(diameter_mm=40)
    with pytest.raises(GeometryError, match="margin"):
        wrong_ways(part, part, margin_mm=-0.1)


def on_pins(bores, pins):
    part = Region(
        outer=Contour.rectangle(0, 0, 60, 40), holes=tuple(Contour.circle(*b) for b in bores)
    )
    room = Region(outer=Contour.rectangle(-30, -30, 120, 100))
    return wrong_ways(part, room, margin_mm=0.3, pins=tuple(pins))


def test_part_on_pins_goes_in_as_its_bores_allow():
    bores = [(15, 20, 4), (45, 20, 4)]
    pins = [Pin(at=Point(x, y), diameter_mm=2 * r - 0.1) for x, y, r in bores]
    turns = [(w.turn_rad, w.flipped) for w in on_pins(bores, pins) if w.fits]
    assert turns == [(math.pi, False), (0.0, True), (math.pi, True)]


def test_bores_of_two_sizes_tell_the_ways_apart():
    bores = [(15, 20, 4), (45, 24, 6)]
    pins = [Pin(at=Point(x, y), diameter_mm=2 * r - 0.1) for x, y, r in bores]
    ways = [w for w in on_pins(bores, pins) if w.fits]
    # Turned over about the line through both bores' middles it still drops on: a flat plate
    # with nothing beside it. No other way.
    (over,) = ways
    assert over.flipped
    assert abs(over.turn_rad) == pytest.approx(math.pi - 2 * math.atan2(4, 30), abs=1e-6)


def skewed_plate() -> tuple[Region, Region]:
    """Return a plate with a corner cut off, in a plain rectangular pocket: it goes in anyhow."""
    part = Region(outer=Contour.of([(0, 0), (60, 0), (60, 28), (48, 40), (0, 40)]))
    return part, Region(outer=Contour.rectangle(-0.15, -0.15, 60.3, 40.3))


def test_stop_blocks_every_wrong_way_and_never_the_right_one():
    part, void = skewed_plate()
    ways = wrong_ways(part, void, margin_mm=0.3)
    assert [(w.turn_rad, w.flipped) for w in ways if w.fits] == [
        (math.pi, False),
        (0.0, True),
        (math.pi, True),
    ]
    stop = fouling_stop(part, void, ways, travel_mm=0.4, radius_mm=3.0, margin_mm=0.5)
    assert stop is not None
    assert stop.on_wall
    assert part.distance_mm(*stop.at) > 3.0 + 0.5 + 0.4
    for way in ways:
        assert way.placed(part).distance_mm(*stop.at) < 3.0 - 0.5 - 0.4
    # With the stop in the pocket no wrong way is left, and the part still lies as before.
    blocked = replace(void, holes=(stop.outline(),))
    assert [w for w in wrong_ways(part, blocked, margin_mm=0.3) if w.fits] == []
    (finding,) = check_loading(ways, stop, subject="nest", margin_mm=0.3)
    assert finding.code == "loads-wrong"
    assert finding.measured == 3
    assert "stop of radius 3 mm" in finding.hint


def test_no_stop_where_the_outline_is_symmetrical():
    part = shapes.rectangle(width_mm=60, height_mm=40)
    void = grown(part, 0.15)
    ways = wrong_ways(part, void, margin_mm=0.3)
    assert fouling_stop(part, void, ways, travel_mm=0.2) is None
    (finding,) = check_loading(ways, None, subject="nest", margin_mm=0.3)
    assert "no stop" in finding.hint


def test_no_stop_without_a_wrong_way_or_with_a_bad_size():
    part, void = skewed_plate()
    assert fouling_stop(part, void, (), travel_mm=0.2) is None
    with pytest.raises(GeometryError, match="radius"):
        fouling_stop(part, void, (), travel_mm=0.2, radius_mm=0.0)


def test_near_misses_are_a_note():
    way = WrongWay(turn_rad=math.pi, flipped=False, overlap_mm=0.2, fits=False)
    (finding,) = check_loading((way,), None, subject="nest", margin_mm=0.5)
    assert finding.code == "loads-nearly-wrong"
    assert finding.measured == 0.2
    assert check_loading((), None, subject="nest", margin_mm=0.5) == ()
