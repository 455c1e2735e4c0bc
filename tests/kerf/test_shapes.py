"""Parametric outlines against their closed-form areas and lengths, and what they refuse.

Source: areas of circle, stadium, circular segment and annular sector, any geometry handbook.
"""

from __future__ import annotations

import math

import pytest

from kerf import shapes
from kerf.contour import Point
from kerf.errors import GeometryError

PI = math.pi


def segment(r: float, d: float) -> float:
    """Area of the smaller piece a chord at distance d cuts from a circle of radius r."""
    return r * r * math.acos(d / r) - d * math.sqrt(r * r - d * d)


@pytest.mark.parametrize(
    ("region", "area", "length"),
    [
        (shapes.rectangle(width_mm=20, height_mm=10), 200, 60),
        (
            shapes.rounded_rectangle(width_mm=20, height_mm=10, radius_mm=2),
            200 - (4 - PI) * 4,
            60 - 16 + 4 * PI,
        ),
        (
            shapes.rounded_rectangle(width_mm=20, height_mm=10, radius_mm=5),
            PI * 25 + 100,
            10 * PI + 20,
        ),
        (shapes.circle(diameter_mm=12), 36 * PI, 12 * PI),
        (shapes.regular_polygon(sides=6, across_flats_mm=10), 50 * math.sqrt(3), 20 * math.sqrt(3)),
        (shapes.slot(length_mm=30, width_mm=12), PI * 36 + 18 * 12, 12 * PI + 36),
        (shapes.ell(width_mm=40, height_mm=30, leg_mm=10), 600, 140),
        (shapes.tee(width_mm=40, height_mm=30, leg_mm=10), 600, 140),
        (
            shapes.dee(diameter_mm=20, flat_mm=6),
            100 * PI - segment(10, 6),
            2 * 10 * (PI - math.acos(0.6)) + 16,
        ),
        (
            shapes.dee(diameter_mm=20, flat_mm=-6),
            segment(10, 6),
            2 * 10 * math.acos(0.6) + 16,
        ),
        (
            shapes.kidney(pitch_radius_mm=30, width_mm=10, sweep_rad=4.0),
            4.0 * 30 * 10 + 25 * PI,
            4.0 * (35 + 25) + 10 * PI,
        ),
        (
            shapes.flange(diameter_mm=80, bore_mm=20, bolt_circle_mm=56, bolts=6, bolt_hole_mm=8),
            PI * (1600 - 100 - 6 * 16),
            PI * (80 + 20 + 48),
        ),
    ],
    ids=[
        "rectangle",
        "rounded",
        "rounded to a stadium",
        "circle",
        "hexagon",
        "slot",
        "L",
        "T",
        "D",
        "D under half",
        "kidney",
        "flange",
    ],
)
def test_area_and_length(region, area, length):
    assert region.area_mm2 == pytest.approx(area, rel=1e-12)
    assert region.length_mm == pytest.approx(length, rel=1e-12)


def test_fillets_turn_either_way():
    points = [Point(0, 0), Point(30, 0), Point(30, 30), Point(15, 12), Point(0, 30)]
    region = shapes.filleted(points, [2, 3, 1, 4, 0])
    turned = shapes.filleted(points[::-1], [0, 4, 1, 3, 2])
    assert region.area_mm2 == pytest.approx(turned.area_mm2, rel=1e-12)
    hollow = [e for e in region.outer.edges() if e.bulge < 0]
    assert [round(e.radius_mm, 9) for e in hollow] == [4.0]


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: shapes.rectangle(width_mm=0, height_mm=1), "width must be above 0"),
        (lambda: shapes.circle(diameter_mm=math.nan), "diameter"),
        (lambda: shapes.rounded_rectangle(width_mm=9, height_mm=9, radius_mm=5), "need"),
        (lambda: shapes.slot(length_mm=5, width_mm=6), "longer than wide"),
        (lambda: shapes.regular_polygon(sides=2, across_flats_mm=5), "3 sides"),
        (lambda: shapes.ell(width_mm=9, height_mm=9, leg_mm=9), "narrower"),
        (lambda: shapes.dee(diameter_mm=10, flat_mm=5), "within the radius"),
        (
            lambda: shapes.kidney(pitch_radius_mm=10, width_mm=8, sweep_rad=5.9),
            "ends of the kidney meet",
        ),
        (
            lambda: shapes.flange(
                diameter_mm=50, bore_mm=0, bolt_circle_mm=45, bolts=4, bolt_hole_mm=8
            ),
            "break out",
        ),
        (
            lambda: shapes.filleted([Point(0, 0), Point(9, 0), Point(0, 9), Point(9, 9)], [0] * 4),
            "crosses itself",
        ),
        (lambda: shapes.filleted([Point(0, 0), Point(9, 0)], [0, 0]), "3 points"),
        (
            lambda: shapes.filleted([Point(0, 0), Point(9, 0), Point(9, 0), Point(0, 9)], [0] * 4),
            "the same",
        ),
        (
            lambda: shapes.filleted([Point(0, 0), Point(9, 0), Point(4, 0), Point(4, 5)], [0] * 4),
            "spike",
        ),
    ],
)
def test_refusals_say_why(make, says):
    with pytest.raises(GeometryError, match=says):
        make()
