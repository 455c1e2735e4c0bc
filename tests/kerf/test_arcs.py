"""Curves as tangent arcs: within tolerance by outside measure, few, tangent, corners kept."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerf.arcs import ArcChain, curve_arcs, ellipse_arcs, spline_arcs
from kerf.bezier import bezier_spans, span_points, spline_spans
from kerf.errors import GeometryError
from kerf.tolerance import ARC_FIT_MM, TANGENT_RAD


def farthest(points, chain: ArcChain) -> float:
    """Return the greatest distance of points from a chain, by each edge's own nearest point."""
    edges = chain.edges()
    return max(min(e.nearest(float(x), float(y))[1] for e in edges) for x, y in points)


def samples(chain: ArcChain, each: int = 9) -> np.ndarray:
    return np.array([e.point_at(float(t)) for e in chain.edges() for t in np.linspace(0, 1, each)])


def kinks(chain: ArcChain) -> np.ndarray:
    """Return the turn at every joint, rad."""
    edges = chain.edges()
    after = edges[1:] + (edges[:1] if chain.closed else ())
    out = []
    for a, b in zip(edges, after, strict=False):
        s, t = a.tangent_at(1.0), b.tangent_at(0.0)
        out.append(math.atan2(s.x * t.y - s.y * t.x, s.x * t.x + s.y * t.y))
    return np.array(out)


def check_fits(chain: ArcChain, curve: np.ndarray, tolerance: float) -> None:
    """Both ways: curve to chain within the bound, chain to curve within it too.

    Source: brute force on dense points of the curve; their spacing limits the second half.
    """
    assert chain.deviation_mm <= tolerance
    far = farthest(curve[:: max(1, len(curve) // 400)], chain)
    assert far <= chain.deviation_mm + 1e-12
    spacing = np.hypot(*np.diff(curve, axis=0).T).max()
    back = max(np.hypot(*(curve - p).T).min() for p in samples(chain))
    assert back <= math.hypot(chain.deviation_mm, spacing)


def ellipse_points(a: float, b: float, count: int = 20001) -> np.ndarray:
    t = np.linspace(0, 2 * math.pi, count)
    return np.column_stack((a * np.cos(t), b * np.sin(t)))


def biarc_arcs(a: float, b: float, tolerance: float) -> float:
    """Return how many arcs the best biarc chain of an ellipse has, in the limit of many.

    Source: a biarc of length h on a curve whose curvature changes at the rate k' is off by
    |k'| h³ / 324 (Meek & Walton 1995), so N = ∫ (|k'| / (324 tolerance))^⅓ ds biarcs.
    """
    t = (np.arange(200_000) + 0.5) * 2 * math.pi / 200_000
    speed = np.hypot(a * np.sin(t), b * np.cos(t))
    # k = a b / speed³, so dk/dt = −3 a b speed' / speed⁴ with speed' = (a² − b²) sin cos / speed.
    rate = 3 * a * b * np.abs((a * a - b * b) * np.sin(t) * np.cos(t)) / speed**6
    return 2 * float(np.sum(np.cbrt(rate / (324 * tolerance)) * speed)) * 2 * math.pi / 200_000


class TestEllipse:
    def test_50_by_20_takes_fewer_arcs_than_biarcs_would(self):
        chain = ellipse_arcs((0, 0), (25, 0), 0.4)
        assert chain.closed
        best = biarc_arcs(25, 10, ARC_FIT_MM)
        assert best == pytest.approx(40.9, abs=0.1)
        assert len(chain.vertices) <= 32 < best
        check_fits(chain, ellipse_points(25, 10), ARC_FIT_MM)

    @pytest.mark.parametrize("tolerance", [0.05, 0.01, 0.0005])
    @pytest.mark.parametrize(("a", "b"), [(25, 10), (8, 7.9), (100, 3)])
    def test_other_sizes_and_tolerances(self, a, b, tolerance):
        chain = ellipse_arcs((0, 0), (a, 0), b / a, tolerance_mm=tolerance)
        check_fits(chain, ellipse_points(a, b), tolerance)
        # Never more arcs than biarcs, whole biarcs being needed on each quarter.
        assert len(chain.vertices) <= 8 * math.ceil(biarc_arcs(a, b, tolerance) / 8)
        assert np.abs(kinks(chain)).max() < TANGENT_RAD

    def test_it_is_as_symmetric_as_the_ellipse(self):
        chain = ellipse_arcs((0, 0), (25, 0), 0.4)
        rows = np.array(chain.vertices)[:, :2]
        for flip in ((-1, 1), (1, -1)):
            other = rows * flip
            assert max(np.hypot(*(rows - p).T).min() for p in other) < 1e-9

    def test_area_is_that_of_the_ellipse_within_the_deviation(self):
        chain = ellipse_arcs((30, -7), (3, 4), 0.5)
        ring = chain.contour()
        assert ring.is_ccw
        assert ring.area_mm2 == pytest.approx(12.5 * math.pi, abs=chain.deviation_mm * 25)
        assert not ellipse_arcs((30, -7), (3, 4), -0.5).contour().is_ccw

    @pytest.mark.parametrize(("start", "end"), [(0.3, 2.5), (5.0, 1.0), (0.0, math.pi)])
    def test_a_part_of_one_keeps_its_ends_and_headings(self, start, end):
        chain = ellipse_arcs((0, 0), (20, 0), 0.3, start, end)
        assert not chain.closed
        assert chain.vertices[-1].bulge == 0.0
        sweep = (end - start) % (2 * math.pi)
        t = start + np.linspace(0, 1, 8001) * sweep
        curve = np.column_stack((20 * np.cos(t), 6 * np.sin(t)))
        check_fits(chain, curve, ARC_FIT_MM)
        assert chain.vertices[0][:2] == pytest.approx(curve[0], abs=1e-12)
        assert chain.vertices[-1][:2] == pytest.approx(curve[-1], abs=1e-12)
        for edge, at, k in ((chain.edges()[0], 0.0, 0), (chain.edges()[-1], 1.0, -1)):
            slope = np.array((-20 * math.sin(t[k]), 6 * math.cos(t[k])))
            heading = edge.tangent_at(at)
            across = heading.x * slope[1] - heading.y * slope[0]
            assert abs(across) / np.hypot(*slope) < TANGENT_RAD / 2

    def test_equal_axes_make_a_true_circle(self):
        chain = ellipse_arcs((1, 2), (3, 4), 1.0)
        assert chain.deviation_mm == 0.0
        assert chain.contour().area_mm2 == pytest.approx(25 * math.pi, rel=1e-14)
        part = ellipse_arcs((0, 0), (5, 0), 1.0, 0.0, 1.5 * math.pi)
        assert len(part.edges()) == 2
        assert sum(e.length_mm for e in part.edges()) == pytest.approx(7.5 * math.pi, rel=1e-14)
        back = ellipse_arcs((0, 0), (5, 0), -1.0, 0.0, math.pi / 2)
        assert back.vertices[1][:2] == pytest.approx((0, -5), abs=1e-12)

    def test_a_needle_is_still_within_tolerance(self):
        chain = ellipse_arcs((0, 0), (10, 0), 0.005)
        check_fits(chain, ellipse_points(10, 0.05, 60001), ARC_FIT_MM)


CURVES = {
    "arch": [[(0, 0), (3, 9), (12, 9), (15, 0)]],
    "S": [[(0, 0), (10, 0), (0, 10), (10, 10)]],
    "loop": [[(0, 0), (20, 10), (-10, 10), (10, 0)]],
    "quadratic": [[(0, 0), (5, 10), (10, 0)]],
    "line, then tangent cubic": [[(-9, 0), (0, 0)], [(0, 0), (6, 0), (9, 3), (9, 9)]],
    "curvature jumps": [[(0, 0), (4, 0), (6, 1)], [(6, 1), (14, 5), (14, 12)]],
    "degree 5": [[(0, 0), (4, 6), (8, -6), (12, 8), (16, -2), (20, 0)]],
}


@pytest.mark.parametrize("spans", CURVES.values(), ids=CURVES.keys())
@pytest.mark.parametrize("tolerance", [0.02, ARC_FIT_MM])
def test_bezier_chains(spans, tolerance):
    chain = curve_arcs(spans, tolerance)
    curve = span_points(bezier_spans(spans), np.linspace(0, len(spans), 8001))[0]
    check_fits(chain, curve, tolerance)
    assert np.abs(kinks(chain)).max() < TANGENT_RAD
    assert chain.vertices[0][:2] == spans[0][0]
    assert chain.vertices[-1][:2] == pytest.approx(spans[-1][-1])


def test_corners_stay_corners():
    spans = [[(0, 0), (1, 5), (5, 5)], [(5, 5), (5, 9), (9, 12), (10, 10)]]
    chain = curve_arcs(spans)
    turns = np.abs(kinks(chain))
    sharp = np.flatnonzero(turns > TANGENT_RAD)
    assert len(sharp) == 1
    assert turns[sharp[0]] == pytest.approx(math.pi / 2, abs=TANGENT_RAD)
    assert chain.vertices[sharp[0] + 1][:2] == (5.0, 5.0)


def test_a_cusp_stays_a_cusp():
    chain = curve_arcs([[(1, -1), (-1 / 3, 1), (-1 / 3, -1), (1, 1)]])
    assert np.abs(kinks(chain)).max() == pytest.approx(math.pi, abs=0.05)
    assert min(math.hypot(v.x, v.y) for v in chain.vertices) < 1e-6


def test_a_closed_chain_of_corners_is_a_ring():
    leaf = [[(0, 0), (5, 6), (10, 0)], [(10, 0), (5, -6), (0, 0)]]
    chain = curve_arcs(leaf, closed=True)
    # Between a parabola and its chord lie two thirds of the box: 2 × 2/3 × 10 × 3.
    assert chain.contour().area_mm2 == pytest.approx(40.0, abs=0.05)
    assert sum(np.abs(kinks(chain)) > TANGENT_RAD) == 2
    # The same with the seam in the middle of a smooth stretch.
    turned = curve_arcs(
        [[(5, 3), (7.5, 3), (10, 0)], leaf[1], [(0, 0), (2.5, 3), (5, 3)]], closed=True
    )
    assert turned.contour().area_mm2 == pytest.approx(40.0, abs=0.05)
    assert sum(np.abs(kinks(turned)) > TANGENT_RAD) == 2


def test_a_smooth_closed_spline_has_no_corner_at_its_seam():
    rng = np.random.default_rng(2)
    angle = np.linspace(0, 2 * math.pi, 11, endpoint=False)
    radius = 30 + rng.uniform(-6, 6, 11)
    points = np.column_stack((radius * np.cos(angle), radius * np.sin(angle))).tolist()
    chain = spline_arcs(points, 3, closed=True)
    assert chain.closed
    assert np.abs(kinks(chain)).max() < TANGENT_RAD
    spans = spline_spans(points, 3, closed=True)
    check_fits(chain, span_points(spans, np.linspace(0, len(spans), 20001))[0], ARC_FIT_MM)


def test_a_rational_circle_comes_back_as_one():
    """Source: the nine-point circle of Piegl & Tiller, The NURBS Book, example 7.2."""
    w = math.sqrt(0.5)
    points = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    chain = spline_arcs(
        [(10 * x, 10 * y) for x, y in points],
        2,
        [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4],
        [1, w, 1, w, 1, w, 1, w, 1],
        closed=True,
    )
    assert len(chain.vertices) <= 4
    assert chain.deviation_mm < 1e-6
    assert chain.contour().area_mm2 == pytest.approx(100 * math.pi, rel=1e-7)
    assert all(e.radius_mm == pytest.approx(10, abs=1e-6) for e in chain.edges())


def test_straight_things_become_one_line():
    for chain in (
        curve_arcs([[(0, 0), (1, 1), (2, 2), (9, 9)]]),
        spline_arcs([(0, 0), (3, 3), (5, 5), (9, 9), (12, 12)], 3),
        spline_arcs([(0, 0), (3, 3), (9, 9)], 1),
    ):
        assert len(chain.edges()) == 1
        assert chain.edges()[0].is_line


def test_a_polyline_is_kept_point_by_point():
    points = [(0, 0), (5, 1), (4, 7), (-3, 2)]
    chain = spline_arcs(points, 1)
    assert [v[:2] for v in chain.vertices] == points
    assert all(e.is_line for e in chain.edges())


def test_motion_changes_nothing():
    spans = CURVES["arch"]
    c, s = math.cos(0.7), math.sin(0.7)
    moved = [[(c * x - s * y + 500, s * x + c * y - 90) for x, y in span] for span in spans]
    a, b = curve_arcs(spans), curve_arcs(moved)
    assert len(a.vertices) == len(b.vertices)
    assert [v.bulge for v in a.vertices] == pytest.approx([v.bulge for v in b.vertices], abs=1e-6)
    assert a == curve_arcs(spans)  # and twice the same is the same


def test_impossible_requests_are_refused():
    with pytest.raises(GeometryError, match="above 0 mm"):
        ellipse_arcs((0, 0), (5, 0), 0.5, tolerance_mm=0.0)
    with pytest.raises(GeometryError, match=r"ends .* mm from its start"):
        curve_arcs(CURVES["arch"], closed=True)
    with pytest.raises(GeometryError, match="no length"):
        curve_arcs([[(1, 1), (1, 1), (1, 1)]])
    with pytest.raises(GeometryError, match="no loop"):
        curve_arcs(CURVES["arch"]).contour()
