"""Slack: outcomes, invariance, and a slice of the comparison with an independent search."""

from __future__ import annotations

import math

import numpy as np
import pytest
from test_slack_stress import check

from jigs.locating.slack import Pin, SlackOutcome, pin_slack, slack
from jigs.part import Critical
from kerf import shapes
from kerf.contour import Contour, Point, Region, Transform, Vector
from kerf.errors import GeometryError
from kerf.offset import offset


def grown(part: Region, clearance_mm: float) -> Region:
    (only,) = offset(part, clearance_mm).regions
    return only


def feature(x: float, y: float) -> Critical:
    return Critical(name=f"{x:g},{y:g}", at=Point(x, y), tolerance_mm=1.0)


@pytest.mark.parametrize("seed", [8, 34, 64])
def test_agrees_with_a_search(seed):
    """Source: the independent search of the long lane; these were the hardest."""
    check(seed)


def test_round_part_turns_freely_and_says_so():
    part = shapes.circle(diameter_mm=40)
    middle = part.bounds().centre
    found = slack(part, grown(part, 0.1), (feature(*middle), feature(middle.x + 5, middle.y)))
    assert found.outcome is SlackOutcome.TURN_FREE
    assert found.turn_rad is None
    assert found.linear is None
    assert (found.x_mm, found.y_mm) == pytest.approx((0.1, 0.1))
    assert found.features[0].magnitude_mm == pytest.approx(0.1)
    assert found.features[1].x_mm is None


def test_notched_disc_in_a_round_pocket_turns_freely():
    flat = shapes.dee(diameter_mm=40, flat_mm=15)
    arc = max(flat.outer.edges(), key=lambda edge: edge.length_mm)
    place = Region(outer=Contour.circle(*arc.centre, 20.2))
    found = slack(flat, place)
    assert found.outcome is SlackOutcome.TURN_FREE
    # Where the flat faces the wall the disc goes further, to where both its ends touch.
    (half,) = (edge.chord_mm / 2 for edge in flat.outer.edges() if edge.is_line)
    rise = math.sqrt(20.0**2 - half**2)
    assert found.x_mm == pytest.approx(math.sqrt(20.2**2 - half**2) - rise, rel=1e-6)


def test_part_round_part_does_not_turn_in_its_own_pocket():
    flat = shapes.dee(diameter_mm=40, flat_mm=15)
    found = slack(flat, grown(flat, 0.1))
    assert found.outcome is SlackOutcome.HELD
    chord = max(edge.length_mm for edge in flat.outer.edges() if edge.is_line)
    # The flat, held off by the clearance, turns until both its ends touch: about 2 c / chord.
    assert found.turn_rad == pytest.approx(4 * 0.1 / chord, rel=0.05)


def test_one_pin_lets_the_part_turn():
    part = Region(outer=Contour.rectangle(0, 0, 60, 40), holes=(Contour.circle(20, 20, 5),))
    found = pin_slack(part, (Pin(at=Point(20, 20), diameter_mm=9.9),), (feature(20, 20),))
    assert found.outcome is SlackOutcome.TURN_FREE
    assert found.features[0].magnitude_mm == pytest.approx(0.05)


def test_square_that_can_turn_over_in_a_wide_pocket_has_no_number():
    part = Region(outer=Contour.rectangle(-10, -10, 20, 20))
    found = slack(part, Region(outer=Contour.rectangle(-15, -15, 30, 30)))
    assert found.outcome is SlackOutcome.TURN_FREE
    assert found.x_mm is None


def test_part_that_can_wander_off_is_loose():
    part = Region(outer=Contour.rectangle(-30, -5, 60, 10))
    found = slack(part, Region(outer=Contour.rectangle(-80, -5.1, 160, 10.2)))
    assert found.outcome is SlackOutcome.LOOSE
    assert (found.x_mm, found.y_mm, found.turn_rad) == (None, None, None)


def test_part_that_fouls_has_no_number():
    part = Region(outer=Contour.rectangle(0, 0, 60, 40))
    sharp = grown(part, 0.1)
    assert slack(part, sharp).outcome is SlackOutcome.HELD
    tight = offset(part, -0.05).regions[0]
    found = slack(part, tight, (feature(0, 0),))
    assert found.outcome is SlackOutcome.FOULS
    assert found.features[0].magnitude_mm is None
    assert found.linear_error_mm is None


def test_no_clearance_is_no_slack():
    part = shapes.ell(width_mm=60, height_mm=40, leg_mm=15, radius_mm=2)
    found = slack(part, part, (feature(5, 5),))
    assert found.outcome is SlackOutcome.HELD
    assert max(found.x_mm, found.y_mm, found.features[0].magnitude_mm) < 1e-5
    assert found.turn_rad < 1e-6


def test_slack_turns_and_shifts_with_the_part():
    part = shapes.ell(width_mm=60, height_mm=40, leg_mm=15, radius_mm=2)
    void = grown(part, 0.2)
    here = slack(part, void, (feature(5, 35),))
    by = Transform.rotation(math.pi / 2).then(Transform.translation(300, -170))
    there = slack(part.transformed(by), void.transformed(by), (feature(*by.point(5, 35)),))
    assert there.turn_rad == pytest.approx(here.turn_rad, rel=1e-6)
    assert (there.x_mm, there.y_mm) == pytest.approx((here.y_mm, here.x_mm), rel=1e-6)
    assert there.features[0].magnitude_mm == pytest.approx(here.features[0].magnitude_mm, rel=1e-6)


def test_concave_outline_is_held_by_its_inner_corner():
    """A U over a bar as wide as its gap less 0.2: the bar alone bounds x."""
    part = Region(
        outer=Contour.of(
            [(0, 0), (60, 0), (60, 40), (40, 40), (40, 10), (20, 10), (20, 40), (0, 40)]
        )
    )
    bar = Contour.rectangle(20.1, 10.3, 19.8, 25)
    room = Contour.rectangle(-1, -0.3, 62, 41.3)
    found = slack(part, Region(outer=room, holes=(bar,)))
    assert found.outcome is SlackOutcome.HELD
    assert found.x_mm < 0.1 + 1.5 * math.sin(found.turn_rad) * 40
    assert found.x_mm >= 0.1 - 1e-9
    assert found.y_mm == pytest.approx(0.3, rel=0.05)


def test_linear_estimate_is_reported_beside_the_exact_value():
    part = Region(outer=Contour.rectangle(0, 0, 100, 60))
    found = slack(part, grown(part, 0.1), (feature(100, 60),))
    assert found.linear_error_mm < 0
    assert abs(found.linear_error_mm) < 1e-3


@pytest.mark.parametrize(
    ("pin", "words"),
    [
        (Pin(at=Point(0, 0), diameter_mm=10, relieved_along=Vector(1, 0)), "land"),
        (Pin(at=Point(0, 0), diameter_mm=10, relieved_along=Vector(0, 0), land_mm=2), "land"),
        (Pin(at=Point(0, 0), diameter_mm=-1), "radius"),
    ],
)
def test_pins_that_are_none_are_refused(pin, words):
    with pytest.raises(GeometryError, match=words):
        pin.outline()


def test_no_pin_is_refused():
    part = Region(outer=Contour.rectangle(0, 0, 10, 10))
    with pytest.raises(GeometryError, match="at least one pin"):
        pin_slack(part, ())


def test_repeats_to_the_bit():
    part = shapes.tee(width_mm=60, height_mm=40, leg_mm=15)
    void = grown(part, 0.15)
    assert slack(part, void, (feature(1, 2),)) == slack(part, void, (feature(1, 2),))
    assert np.isfinite(slack(part, void).turn_rad)
