"""A pocket opened upwards: everything above the outline's lower side, arcs kept."""

from __future__ import annotations

import math

import pytest
import shapely

from jigs.guides.pocket import furthest_point, opened
from kerf import shapes
from kerf.contour import Contour, Point, Region, Transform


def swept_up(region: Region, up_to_mm: float) -> shapely.Geometry:
    """Return what the outline sweeps when it is lifted, by shapely alone."""
    ring = region.outer.facets(1e-4)
    under = [
        shapely.Polygon([a, b, (b[0], up_to_mm), (a[0], up_to_mm)]).buffer(0)
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)
    ]
    return shapely.union_all([shapely.Polygon(ring), *under])


OUTLINES = {
    "rectangle": shapes.rectangle(width_mm=40, height_mm=20),
    "circle": shapes.circle(diameter_mm=30),
    "slot": shapes.slot(length_mm=50, width_mm=16),
    "D": shapes.dee(diameter_mm=75.15, flat_mm=22.55),
    "hexagon": shapes.regular_polygon(sides=6, across_flats_mm=30, radius_mm=3),
    "rounded": shapes.filleted(
        [Point(0, 0), Point(60, 0), Point(52, 30), Point(30, 42), Point(0, 42)], [2, 9, 15, 6, 8]
    ),
}


@pytest.mark.parametrize("degrees", [0, 17.3, 90, 124.85, 180, 235.15, 270, 333])
@pytest.mark.parametrize("name", OUTLINES)
def test_it_is_what_the_part_sweeps_when_it_is_lifted(name, degrees):
    region = OUTLINES[name].transformed(Transform.rotation(math.radians(degrees)))
    if name == "D" and degrees == 124.85:
        region = region.transformed(Transform.mirror_x())
    up_to = region.bounds().y_max + 10
    found = opened(region, up_to_mm=up_to)
    shape = shapely.Polygon(found.outer.facets(1e-4))
    assert shape.is_valid
    expected = swept_up(region, up_to)
    assert shape.symmetric_difference(expected).area < 0.02


def test_the_outermost_point_is_the_highest_of_several():
    square = Contour.rectangle(0, 0, 10, 20)
    assert furthest_point(square, -1.0) == (0, 20)
    assert furthest_point(square, 1.0) == (10, 20)
    assert furthest_point(Contour.circle(5, 6, 3), 1.0) == pytest.approx((8, 6))
