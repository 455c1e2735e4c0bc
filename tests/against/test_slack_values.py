"""Slack of pins, nests and corners against closed forms.

Source: the project's table of check values, sections 3 (pins) and 4 (nests), computed there
by brute force or two methods; the formulas stand beside each test.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from jigs.locating.meetings import Bodies
from jigs.locating.poseset import sliced
from jigs.locating.slack import Pin, SlackOutcome, pin_slack, slack
from jigs.part import Critical
from kerf.contour import Contour, Point, Region, Vector

L_MM = 50.0


def plate_with_bores(pitch_mm: float, bore_mm: float) -> Region:
    bores = (Contour.circle(0, 0, bore_mm / 2), Contour.circle(pitch_mm, 0, bore_mm / 2))
    return Region(outer=Contour.rectangle(-40, -40, pitch_mm + 80, 80), holes=bores)


def extremes_at_rest(part: Region, void: Region, room_mm: float) -> np.ndarray:
    """Return the greatest travel along +x, −x, +y, −y and in magnitude, unturned."""
    origin = part.bounds().centre
    meetings = Bodies.of(part, void, origin=origin).within(room_mm)
    return sliced(meetings, np.zeros(1), np.zeros((1, 2))).moved[:, 0].max(axis=0)


@pytest.mark.parametrize(
    ("a", "b", "c", "degrees"),
    [
        (100, 60, 0.2, 0.114660),
        (100, 60, 0.1, 0.0573130),
        (50, 50, 0.2, 0.229644),
        (150, 20, 0.3, 0.114607),
        (25.4, 12.7, 0.127, 0.286839),
    ],
)
def test_rectangle_in_a_pocket_turns_as_the_closed_form_says(a, b, c, degrees):
    """Source: θ = atan(a/b) − acos((b + c)/√(a² + b²)), check values §4."""
    part = Region(outer=Contour.rectangle(0, 0, a, b))
    void = Region(outer=Contour.rectangle(-c / 2, -c / 2, a + c, b + c))
    found = slack(part, void)
    exact = math.atan(a / b) - math.acos((b + c) / math.hypot(a, b))
    assert found.turn_rad == pytest.approx(exact, rel=1e-6)
    assert math.degrees(found.turn_rad) == pytest.approx(degrees, rel=5e-6)
    assert (found.x_mm, found.y_mm) == pytest.approx((c / 2, c / 2), rel=1e-6)
    # The rule of thumb c/a, which is the first-order answer, is slightly low.
    assert found.linear.turn_ccw_rad == pytest.approx(c / a, rel=1e-6)
    assert found.linear.turn_ccw_rad < found.turn_rad


@pytest.mark.parametrize(
    ("c", "degrees"), [(10.0, 11.478341), (0.1, math.degrees(2 * math.asin(0.001)))]
)
def test_two_round_pins(c, degrees):
    """Source: α = 2 asin((c1 + c2)/(4 L)), translation ≤ c/2, check values §3."""
    bore = 40.0
    pins = (
        Pin(at=Point(0, 0), diameter_mm=bore - c),
        Pin(at=Point(L_MM, 0), diameter_mm=bore - c),
    )
    at_bore = Critical(name="bore", at=Point(0, 0), tolerance_mm=1.0)
    found = pin_slack(plate_with_bores(L_MM, bore), pins, (at_bore,))
    assert math.degrees(found.turn_rad) == pytest.approx(degrees, rel=1e-6)
    assert found.features[0].magnitude_mm == pytest.approx(c / 2, rel=1e-6)


@pytest.mark.parametrize(("c1", "c2"), [(0.1, 0.1), (0.02, 0.08)])
def test_a_round_and_a_relieved_pin(c1, c2):
    """Source: sin α = (c1 + c2)/(2 L), relief along the centre line, check values §3.

    The form leaves out that the land is round; at these clearances that is below 1e-6.
    """
    pins = (
        Pin(at=Point(0, 0), diameter_mm=40 - c1),
        Pin(
            at=Point(L_MM, 0),
            diameter_mm=40 - c2,
            relieved_along=Vector(1, 0),
            land_mm=1e-3,
        ),
    )
    found = pin_slack(plate_with_bores(L_MM, 40.0), pins)
    assert math.sin(found.turn_rad) == pytest.approx((c1 + c2) / (2 * L_MM), rel=5e-6)


@pytest.mark.parametrize("angle", [0.0, 0.7, math.pi / 2])
@pytest.mark.parametrize(("land", "free"), [(3.0, 0.0587736), (1.69775, 0.1)])
def test_float_of_a_relieved_pin_along_its_relief(angle, land, free):
    """Source: e = (−b + √(b² + 4 (R² − r²)))/2, D 12, d 11.97, check values §3."""
    along = Vector(math.cos(angle), math.sin(angle))
    pin = Pin(at=Point(0, 0), diameter_mm=11.97, relieved_along=along, land_mm=land)
    bore = Region(outer=Contour.circle(0, 0, 20), holes=(Contour.circle(0, 0, 6),))
    turned = math.sqrt(land**2 + 4 * (6**2 - 5.985**2))
    assert (-land + turned) / 2 == pytest.approx(free, rel=1e-5)
    room = Contour.rectangle(-60, -60, 120, 120)
    meetings = Bodies.of(
        bore, Region(outer=room, holes=(pin.outline(),)), origin=Point(0, 0)
    ).within(0.5)
    poses = sliced(meetings, np.zeros(1), np.zeros((1, 2))).pose
    along_relief = poses[:, 0] * along.x + poses[:, 1] * along.y
    assert along_relief.max() == pytest.approx((-land + turned) / 2, rel=1e-6)


def test_two_full_round_pins_take_half_the_clearances_of_pitch_error():
    """Source: pitch error ≤ (c1 + c2)/2, check values §3."""
    c1, c2, bore = 0.1, 0.3, 12.0
    pins = tuple(Pin(at=Point(x, 0), diameter_mm=bore - c) for x, c in ((0.0, c1), (L_MM, c2)))
    limit = (c1 + c2) / 2
    for error, outcome in ((limit - 0.02, SlackOutcome.HELD), (limit + 0.02, SlackOutcome.FOULS)):
        shift = -error * c1 / (c1 + c2)
        bores = tuple(Contour.circle(x + shift, 0, bore / 2) for x in (0.0, L_MM + error))
        part = Region(outer=Contour.rectangle(-40, -40, 130, 80), holes=bores)
        assert pin_slack(part, pins).outcome is outcome


def filleted_pocket(width: float, height: float, radius: float) -> Region:
    bulge = math.tan(math.pi / 8)
    w, h, r = width / 2, height / 2, radius
    return Region(
        outer=Contour.of(
            [
                (-w + r, -h), (w - r, -h, bulge), (w, -h + r), (w, h - r, bulge),
                (w - r, h), (-w + r, h, bulge), (-w, h - r), (-w, -h + r, bulge),
            ]
        )
    )  # fmt: skip


def test_sharp_corner_stands_off_in_a_fillet():
    """Source: standoff r (1 − 1/√2) per edge, r (√2 − 1) diagonal; r = 3, check values §4."""
    clear, radius = 4.0, 3.0
    part = Region(outer=Contour.rectangle(-50, -30, 100, 60))
    void = filleted_pocket(100 + 2 * clear, 60 + 2 * clear, radius)
    moved = extremes_at_rest(part, void, 8.0)
    diagonal = clear * math.sqrt(2) - moved[4]
    assert diagonal == pytest.approx(1.242641, abs=1e-6)
    assert diagonal / math.sqrt(2) == pytest.approx(0.878680, abs=1e-6)


@pytest.mark.parametrize(
    ("leg", "standoff"), [(1.0, 0.438447), (2.0, 0.129171), (3.0, 0.0), (3.5, 0.0)]
)
def test_chamfer_in_a_fillet(leg, standoff):
    """Source: (s + k − r)² + (s − r)² = r², r = 3; seats only where k ≥ r, check values §4."""
    clear, radius, k = 4.0, 3.0, leg
    part = Region(
        outer=Contour.of(
            [
                (-50 + k, -30), (50 - k, -30), (50, -30 + k), (50, 30 - k),
                (50 - k, 30), (-50 + k, 30), (-50, 30 - k), (-50, -30 + k),
            ]
        )
    )  # fmt: skip
    void = filleted_pocket(100 + 2 * clear, 60 + 2 * clear, radius)
    moved = extremes_at_rest(part, void, 8.0)
    assert clear - moved[4] / math.sqrt(2) == pytest.approx(standoff, abs=1e-6)
