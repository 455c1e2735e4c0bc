"""Exact measures against published closed forms and independent libraries.

Every case names its source. Tolerances are those of the claim, not of convenience: exact
measures to a few units in the last place, fitted curves to their proven deviation.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerf.arcs import curve_arcs, ellipse_arcs, spline_arcs
from kerf.contour import Contour, Region
from kerf.measure import region_gap, thinnest_web
from kerf.moments import moments


@pytest.mark.parametrize(("a", "b"), [(25, 10), (25, 24), (60, 2), (7, 6.999)])
@pytest.mark.parametrize("tolerance", [0.01, 0.002, 0.0002])
def test_ellipse_perimeter_and_area(a, b, tolerance):
    """Source: perimeter 4 a E(e²), complete elliptic integral of the second kind (Abramowitz &
    Stegun 17.3), by scipy.special.ellipe; area π a b.

    A closed curve within d of another of length P differs in area by at most P d, and a
    tangent chain oscillating about it is longer by far less than that.
    """
    from scipy.special import ellipe

    chain = ellipse_arcs((0, 0), (a, 0), b / a, tolerance_mm=tolerance)
    perimeter = 4 * a * float(ellipe(1 - (b / a) ** 2))
    ring = chain.contour()
    assert ring.length_mm == pytest.approx(perimeter, abs=2 * tolerance)
    assert ring.area_mm2 == pytest.approx(math.pi * a * b, abs=chain.deviation_mm * perimeter)


def test_ellipse_second_moments():
    """Source: π a b³ / 4 and π a³ b / 4 about the axes (Roark, appendix A; from memory)."""
    a, b = 25.0, 10.0
    m = moments(Region(outer=ellipse_arcs((4, 7), (a, 0), b / a, tolerance_mm=1e-4).contour()))
    assert tuple(m.centroid) == pytest.approx((4, 7), abs=1e-9)
    assert m.ixx_mm4 == pytest.approx(math.pi * a * b**3 / 4, rel=4e-5)
    assert m.iyy_mm4 == pytest.approx(math.pi * a**3 * b / 4, rel=4e-5)


def test_parabola_length_and_area():
    """Source: Archimedes, two thirds of the box; length by the textbook integral
    s = √(1 + m²) + asinh(m) / m for y = x² m / 2 over [−1, 1] (worked by hand).
    """
    m, half = 1.5, 20.0
    rise = half * m / 2
    chain = curve_arcs([[(-half, rise), (0, -rise), (half, rise)]], 1e-3)
    length = sum(e.length_mm for e in chain.edges())
    assert length == pytest.approx(half * (math.hypot(1, m) + math.asinh(m) / m), abs=1e-3)
    closed = Contour.of([*chain.vertices])
    assert closed.area_mm2 == pytest.approx(2 / 3 * 2 * half * rise, abs=1e-3 * length)


@pytest.mark.parametrize("degree", [2, 3, 5])
def test_spline_length(degree):
    """Source: scipy.interpolate.BSpline and adaptive quadrature of its speed."""
    from scipy.integrate import quad
    from scipy.interpolate import BSpline

    rng = np.random.default_rng(degree)
    n = 9
    points = np.column_stack((np.arange(n) * 6.0, rng.uniform(-8, 8, n)))
    inner = np.arange(1, n - degree)
    knots = np.concatenate((np.zeros(degree + 1), inner, np.full(degree + 1, n - degree)))
    curve = BSpline(knots, points, degree).derivative()
    speed = lambda t: float(np.hypot(*curve(t)))  # noqa: E731
    wanted = sum(quad(speed, k, k + 1, limit=200)[0] for k in range(n - degree))
    chain = spline_arcs(points.tolist(), degree, knots.tolist())
    assert sum(e.length_mm for e in chain.edges()) == pytest.approx(wanted, abs=2e-3)


def test_arc_count_of_a_clothoid_like_spiral():
    """A curve whose curvature grows evenly is where arcs are used evenly.

    Source: with |k'| = c, an ideal chain of leaning arcs has length × (c / (124.7 t))^⅓ arcs and
    biarcs 1.456 times as many (module header of kerf.arcfit; Meek & Walton 1995 for biarcs).
    The spiral is sampled by scipy's Fresnel integrals (A & S 7.3) and passed as a spline.
    """
    from scipy.interpolate import make_interp_spline
    from scipy.special import fresnel

    s = np.linspace(0, 2.0, 400)
    sine, cosine = fresnel(s)
    size = 30.0
    spline = make_interp_spline(s, size * np.column_stack((cosine, sine)), k=5)
    chain = spline_arcs(spline.c.tolist(), 5, spline.t.tolist(), tolerance_mm=0.002)
    rate = math.pi / size**2  # dk/ds of the Euler spiral of this size, 1/mm²
    ideal = size * 2.0 * (rate / (36 * math.sqrt(12) * 0.002)) ** (1 / 3)
    biarcs = 2 * size * 2.0 * (rate / (324 * 0.002)) ** (1 / 3)
    assert ideal < len(chain.edges()) < min(biarcs, 1.25 * ideal + 2)


@pytest.mark.parametrize(
    ("name", "loop", "area", "cx", "cy"),
    [
        # Circular segment r = 10, half angle 60°: area r² (2α − sin 2α)/2, centroid
        # 2 r sin³ α / (3 (α − sin α cos α)). Source: Machinery's Handbook, areas and centroids.
        (
            "segment",
            Contour.of([(-5 * math.sqrt(3), 0), (5 * math.sqrt(3), 0, math.tan(math.pi / 6))]),
            50 * (2 * math.pi / 3 - math.sqrt(3) / 2),
            0.0,
            2
            * 10
            * math.sin(math.pi / 3) ** 3
            / (3 * (math.pi / 3 - math.sin(math.pi / 3) * math.cos(math.pi / 3)))
            - 5.0,
        ),
        # Sector r = 10, half angle 30° about the x axis: 2 r sin α / (3 α). Same source.
        (
            "sector",
            Contour.of(
                [
                    (0, 0),
                    (5 * math.sqrt(3), -5, math.tan(math.pi / 12)),
                    (5 * math.sqrt(3), 5),
                ]
            ),
            100 * math.pi / 6,
            2 * 10 * 0.5 / (3 * math.pi / 6),
            0.0,
        ),
    ],
)
def test_handbook_areas(name, loop, area, cx, cy):
    m = moments(Region(outer=loop))
    assert m.area_mm2 == pytest.approx(area, rel=1e-13)
    assert abs(m.centroid.x) == pytest.approx(cx, rel=1e-12, abs=1e-12)
    assert abs(m.centroid.y) == pytest.approx(cy, rel=1e-12, abs=1e-12)


def lumps(seed: int, count: int, low: float, high: float, x: float = 0.0) -> Region:
    """Return a round-cornered figure: a star polygon grown by 2 and shrunk by 1 with shapely's
    topology and our arcs."""
    from kerf.offset import offset

    rng = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * math.pi, count, endpoint=False) + rng.uniform(0, 0.3, count)
    radius = rng.uniform(low, high, count)
    loop = Contour.of(zip(x + radius * np.cos(angle), radius * np.sin(angle), strict=True))
    (grown,) = offset(Region(outer=loop), 2.0).regions
    return offset(grown, -1.0).regions[0]


@pytest.mark.parametrize("seed", range(12))
def test_moments_of_rounded_figures(seed):
    """Source: polygon moments (Steger 1996; the shoelace family) of facets of 10 nm, whose own
    error is the facets' share of the area."""
    figure = lumps(seed, 9, 12, 30)
    p = figure.outer.facets(1e-5)
    x, y = p[:, 0], p[:, 1]
    u, v = np.roll(x, -1), np.roll(y, -1)
    cross = x * v - u * y
    area = cross.sum() / 2
    centre = ((x + u) * cross).sum() / (6 * area), ((y + v) * cross).sum() / (6 * area)
    ixx = ((y * y + y * v + v * v) * cross).sum() / 12
    iyy = ((x * x + x * u + u * u) * cross).sum() / 12
    ixy = ((x * v + 2 * x * y + 2 * u * v + u * y) * cross).sum() / 24
    m = moments(figure)
    assert m.area_mm2 == pytest.approx(area, rel=1e-5)
    assert tuple(m.centroid) == pytest.approx(centre, abs=1e-4)
    assert m.about(0, 0)[:2] == pytest.approx((ixx, iyy), rel=1e-5)
    assert m.about(0, 0)[2] == pytest.approx(ixy, abs=1e-5 * ixx)


@pytest.mark.parametrize("seed", range(12))
def test_gap_between_rounded_figures(seed):
    """Source: shapely.distance on facets of 10 nm: within twice that of the truth."""
    import shapely

    a = lumps(seed, 8, 10, 25)
    b = lumps(seed + 100, 8, 10, 25, x=62.0)
    theirs = shapely.distance(
        shapely.Polygon(a.outer.facets(1e-5)), shapely.Polygon(b.outer.facets(1e-5))
    )
    gap = region_gap(a, b)
    assert gap.distance_mm == pytest.approx(theirs, abs=2.1e-5)
    for region, point in ((a, gap.a), (b, gap.b)):
        assert abs(region.distance_mm(*point)) < 1e-9


@pytest.mark.parametrize("seed", range(8))
def test_web_between_hole_and_rim(seed):
    """Source: a hole far inside a figure has its web where hole and rim are nearest, which
    shapely.distance knows to the facets' error."""
    import shapely

    figure = lumps(seed, 8, 20, 28)
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(-4, 4, 2)
    hole = Contour.circle(float(x), float(y), 6.0)
    rim = shapely.LinearRing(figure.outer.facets(1e-5))
    theirs = shapely.distance(rim, shapely.Polygon(hole.facets(1e-5)))
    web = thinnest_web(Region(outer=figure.outer, holes=(hole,)))
    assert web is not None
    assert web.width_mm == pytest.approx(theirs, abs=2.1e-5)
    # The disc there touches both and holds no border inside: the proof that it is a web.
    part = Region(outer=figure.outer, holes=(hole,))
    assert part.distance_mm(*web.centre) == pytest.approx(-web.width_mm / 2, abs=1e-8)


def brute_web(region: Region) -> float:
    """Return the thinnest web by bisection on discs among shapely's facets.

    From points every 0.05 mm of the border the greatest inward disc is found by bisection on
    its radius against the distance to the border; it counts by the rule of kerf.measure, worked
    anew here: where it touches again must face the point by 120° or more, and must lie on
    neither the same edge nor a neighbour.
    """
    import shapely

    edges = list(region.outer.edges())
    rows = []
    for k, edge in enumerate(edges):
        for t in np.linspace(0, 1, max(6, int(edge.length_mm / 0.05)))[1:-1]:
            rows.append((*edge.point_at(float(t)), *edge.normal_at(float(t)), k))
    p = np.array(rows)
    border = shapely.LinearRing(region.outer.facets(1e-5))
    shapely.prepare(border)
    low, high = np.zeros(len(p)), np.full(len(p), 100.0)
    for _ in range(40):
        r = (low + high) / 2
        d = shapely.distance(border, shapely.points(p[:, :2] + r[:, None] * p[:, 2:4]))
        fits = d >= r - 3e-5
        low, high = np.where(fits, r, low), np.where(fits, high, r)
    best = math.inf
    for (x, y, nx, ny, k), r in sorted(
        zip(p.tolist(), low.tolist(), strict=True), key=lambda v: v[1]
    ):
        c = (x + r * nx, y + r * ny)
        n = len(edges)
        for j, edge in enumerate(edges):
            if j in (k, (k - 1) % n, (k + 1) % n):
                continue
            q, d = edge.nearest(*c)
            if d <= r + 1e-3 and ((c[0] - q.x) * nx + (c[1] - q.y) * ny) / d <= -0.5:
                best = min(best, 2 * r)
        if best < math.inf:
            return best
    return best


@pytest.mark.parametrize("seed", range(5))
def test_web_by_bisection(seed):
    """Source: brute force, described in ``brute_web``; agrees to its sampling."""
    figure = Region(outer=lumps(seed + 40, 7, 3, 26).outer)
    web, brute = thinnest_web(figure), brute_web(figure)
    if web is None:
        assert math.isinf(brute)
    else:
        # Samples 0.05 mm apart can only miss the thinnest place, by no more than they are apart.
        assert -1e-3 < brute - web.width_mm < 0.05
