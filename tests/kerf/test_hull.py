"""Convex hulls with arcs: hand-worked ones, and laws that any hull obeys."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerf.contour import Contour, Region, Transform
from kerf.errors import GeometryError
from kerf.hull import convex_hull


def belt(far: float, big: float, small: float) -> tuple[float, float]:
    """Return area and length of the belt round discs of two radii whose centres are far apart.

    Source: open belt length, 2 √(C² − (R − r)²) + π (R + r) + 2 (R − r) asin((R − r)/C), as in
    any machine-design text; the area by the support function's terms.
    """
    lean = math.asin((big - small) / far)
    straight = math.sqrt(far * far - (big - small) ** 2)
    length = 2 * straight + math.pi * (big + small) + 2 * (big - small) * lean
    area = (
        straight * (big + small) + big**2 * (math.pi / 2 + lean) + small**2 * (math.pi / 2 - lean)
    )
    return area, length


@pytest.mark.parametrize(("far", "big", "small"), [(30, 10, 4), (12, 5, 5), (40, 9, 0.5)])
def test_two_discs_make_a_belt(far, big, small):
    hull = convex_hull(
        [Region(outer=Contour.circle(0, 0, big)), Region(outer=Contour.circle(far, 0, small))]
    )
    area, length = belt(far, big, small)
    assert hull.area_mm2 == pytest.approx(area, rel=1e-13)
    assert hull.length_mm == pytest.approx(length, rel=1e-13)


def test_a_convex_figure_is_its_own_hull():
    q = math.tan(math.pi / 8)
    plate = Contour.of(
        [(5, 0), (35, 0, q), (40, 5), (40, 25, q), (35, 30), (5, 30, q), (0, 25), (0, 5, q)]
    )
    hull = convex_hull(plate)
    assert len(hull.vertices) == 8
    assert hull.area_mm2 == pytest.approx(plate.area_mm2, rel=1e-14)
    circle = convex_hull(Contour.circle(3, 4, 5))
    assert circle.area_mm2 == pytest.approx(25 * math.pi, rel=1e-14)


def test_hollows_are_bridged_and_holes_ignored():
    part = Region(
        outer=Contour.of([(0, 0, -0.5), (10, 0), (10, 10, -0.8), (0, 10)]),
        holes=(Contour.circle(5, 5, 0.5),),
    )
    assert convex_hull(part) == convex_hull(part.outer)
    assert convex_hull(part).area_mm2 == pytest.approx(100.0, rel=1e-14)


def test_a_bulge_smaller_than_a_facet_is_found():
    """An arc with a sagitta of 0.25 µm: no facet of a micrometre shows it."""
    loop = Contour.of([(0, 0), (10, 0, 5e-8), (10, 10), (0, 10)])
    assert convex_hull(loop).area_mm2 == pytest.approx(loop.area_mm2, rel=1e-14)
    assert convex_hull(loop).area_mm2 > 100.0 + 1e-6


def shapes(count: int):
    rng = np.random.default_rng(17)
    for _ in range(count):
        n = int(rng.integers(4, 30))
        angle = np.sort(rng.uniform(0, 2 * np.pi, n))
        radius = rng.uniform(20, 40, n)
        bulge = rng.uniform(-0.6, 0.6, n)
        yield Contour.of(zip(radius * np.cos(angle), radius * np.sin(angle), bulge, strict=True))


@pytest.mark.parametrize("loop", list(shapes(25)))
def test_laws_of_hulls(loop):
    """Source: shapely's hull of facets of 10 nm; support function of the figure itself."""
    import shapely

    hull = convex_hull(loop)
    assert hull.is_ccw
    theirs = shapely.convex_hull(shapely.Polygon(loop.facets(1e-5)))
    assert 0 <= hull.area_mm2 - theirs.area + 1e-9 < 1e-5 * hull.length_mm
    # Convex: no arc bends inward and no corner turns right.
    edges = list(hull.edges())
    assert all(e.bulge >= 0 for e in edges)
    for a, b in zip(edges, edges[1:] + edges[:1], strict=True):
        s, t = a.tangent_at(1.0), b.tangent_at(0.0)
        assert s.x * t.y - s.y * t.x > -1e-9
    # Nothing of the figure is outside.
    points = loop.facets(1e-3)
    out = [hull.nearest(x, y)[2] for x, y in points.tolist() if not hull.contains(x, y)]
    assert max(out, default=0.0) < 1e-9
    # The hull of the hull is the hull; a motion moves it along.
    assert convex_hull(hull).area_mm2 == pytest.approx(hull.area_mm2, rel=1e-12)
    turn = Transform.rotation(0.83, about=(5, 6))
    assert convex_hull(loop.transformed(turn)).area_mm2 == pytest.approx(hull.area_mm2, rel=1e-11)
    assert convex_hull(loop.reversed()).area_mm2 == pytest.approx(hull.area_mm2, rel=1e-13)


def test_the_hull_of_nothing_is_refused():
    with pytest.raises(GeometryError, match="of nothing"):
        convex_hull(())
