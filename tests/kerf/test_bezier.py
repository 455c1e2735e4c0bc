"""Spans of splines and ellipses: the same points as an independent evaluation, true bounds."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerf.bezier import (
    bezier_spans,
    circle_deviations,
    ellipse_spans,
    end_headings,
    span_points,
    spline_spans,
    split_at_cusps,
    sub_spans,
)
from kerf.errors import GeometryError


@pytest.mark.parametrize("degree", [1, 2, 3, 4, 5, 7])
@pytest.mark.parametrize("rational", [False, True])
def test_spline_spans_are_the_spline(degree, rational):
    """Source: scipy.interpolate.BSpline on the homogeneous control points."""
    from scipy.interpolate import BSpline

    rng = np.random.default_rng(degree)
    n = degree + 6
    points = rng.uniform(-30, 30, (n, 2))
    weights = rng.uniform(0.3, 3, n) if rational else np.ones(n)
    inner = np.sort(rng.uniform(0, 1, n - degree - 1))
    if len(inner) > 2:
        inner[1] = inner[0]  # a double knot
    knots = np.concatenate((np.zeros(degree + 1), inner, np.ones(degree + 1)))
    spans = spline_spans(points.tolist(), degree, knots.tolist(), weights.tolist())
    real = np.unique(knots)
    assert len(spans) == len(real) - 1
    curve = BSpline(knots, np.column_stack((points * weights[:, None], weights)), degree)
    t = np.linspace(0, len(spans) - 1e-9, 200)
    k = np.floor(t).astype(int)
    u = real[k] + (t - k) * (real[k + 1] - real[k])
    wanted = curve(u)
    got, speed, _ = span_points(spans, t)
    assert np.abs(got - wanted[:, :2] / wanted[:, 2:]).max() < 1e-10
    # The derivative against central differences of the same curve, in units of the span.
    h = 1e-5
    middle = np.arange(len(spans)) + 0.37
    ahead, behind = span_points(spans, middle + h)[0], span_points(spans, middle - h)[0]
    slope = span_points(spans, middle)[1]
    assert np.abs((ahead - behind) / (2 * h) - slope).max() < 1e-4 * (1 + np.abs(slope).max())
    assert speed.shape == got.shape


def test_second_derivative_of_a_parabola():
    spans = bezier_spans([[(0, 0), (1, 2), (2, 0)]])
    _, first, second = span_points(spans, np.array([0.0, 0.5, 1.0]))
    assert first == pytest.approx(np.array([[2, 4], [2, 0], [2, -4]]))
    assert second == pytest.approx(np.array([[0, -8]] * 3))


def test_knots_are_made_when_none_are_given():
    square = [(0, 0), (10, 0), (10, 10), (0, 10)]
    opened = spline_spans(square, 3)
    assert span_points(opened, np.array([0.0, 1.0]))[0] == pytest.approx(
        np.array([[0, 0], [0, 10]])
    )
    ring = spline_spans(square, 3, closed=True)
    ends, slopes, _ = span_points(ring, np.array([0.0, 4.0]))
    assert ends[0] == pytest.approx(ends[1])
    assert slopes[0] == pytest.approx(slopes[1])


@pytest.mark.parametrize(
    ("start", "end", "sweep"),
    [
        (0, 2 * math.pi, 2 * math.pi),
        (0.3, 2.5, 2.2),
        (5.5, 1.0, 1.0 + 2 * math.pi - 5.5),
        (1, 1, 2 * math.pi),
    ],
)
def test_ellipse_spans_lie_on_the_ellipse(start, end, sweep):
    spans = ellipse_spans((3, -2), (8, 6), 0.35, start, end)
    p, slope, _ = span_points(spans, np.linspace(0, len(spans), 101))
    q = p - (3, -2)
    along = (q @ (8, 6)) / 100
    across = (q @ (-6, 8)) / 100 / 0.35
    assert np.hypot(along, across) == pytest.approx(np.ones(101), abs=1e-13)
    angle = np.unwrap(np.arctan2(across, along))
    assert angle[-1] - angle[0] == pytest.approx(sweep)
    assert (np.diff(angle) > 0).all()
    assert math.remainder(angle[0] - start, 2 * math.pi) == pytest.approx(0, abs=1e-12)
    assert np.hypot(*slope.T).min() > 0


def test_mixed_degrees_are_raised_exactly():
    spans = bezier_spans(
        [[(0, 0), (4, 2)], [(4, 2), (6, 8), (8, 2)], [(8, 2), (9, 0), (9, 3), (12, 3)]]
    )
    assert spans.shape == (3, 4, 3)
    at = span_points(spans, np.array([0.25, 1.5, 2.0]))[0]
    assert at == pytest.approx(np.array([[1, 0.5], [6, 5], [8, 2]]))


def test_cutting_keeps_the_curve():
    rng = np.random.default_rng(1)
    spans = spline_spans(
        rng.uniform(-9, 9, (7, 2)).tolist(), 3, None, rng.uniform(0.5, 2, 7).tolist()
    )
    cut = sub_spans(spans, np.array([0.2, 2.25]), np.array([0.7, 3.0]))
    s = np.linspace(0, 1, 9)
    assert span_points(cut, s * (1 - 1e-12))[0] == pytest.approx(
        span_points(spans, 0.2 + 0.5 * s)[0], abs=1e-9
    )
    assert span_points(cut, 1 + s)[0] == pytest.approx(
        span_points(spans, 2.25 + 0.75 * s)[0], abs=1e-9
    )


def test_headings_survive_doubled_control_points():
    spans = bezier_spans([[(0, 0), (0, 0), (3, 4), (3, 4)]])
    first, last = end_headings(spans)
    assert first[0] == pytest.approx((0.6, 0.8))
    assert last[0] == pytest.approx((0.6, 0.8))


def test_a_cusp_is_found_and_cut():
    """x = t², y = t³ about t = 0, as a cubic span from −1 to 1: its cusp is at the middle."""
    spans = bezier_spans([[(1, -1), (-1 / 3, 1), (-1 / 3, -1), (1, 1)]])
    cut = split_at_cusps(spans)
    assert len(cut) == 2
    assert cut[0, -1, :2] == pytest.approx((0, 0), abs=1e-9)
    first, last = end_headings(cut)
    assert last[0] == pytest.approx((-1, 0), abs=1e-4)
    assert first[1] == pytest.approx((1, 0), abs=1e-4)
    assert len(split_at_cusps(bezier_spans([[(0, 0), (9, 9), (0, 9), (9, 0.1)]]))) == 1


@pytest.mark.parametrize("curvature", [0.0, 0.02, -0.05, 0.3])
def test_bounds_on_the_deviation_hold_and_are_close(curvature):
    rng = np.random.default_rng(3)
    spans = spline_spans(
        np.cumsum(rng.uniform(0, 2, (9, 2)), axis=0).tolist(),
        3,
        None,
        rng.uniform(0.6, 1.5, 9).tolist(),
    )
    fine = np.linspace(0, len(spans), 40 * len(spans) + 1)
    parts = sub_spans(spans, fine[:-1], fine[1:])
    start = np.tile(spans[0, 0, :2] / spans[0, 0, 2], (len(parts), 1))
    heading = np.tile((math.cos(0.8), math.sin(0.8)), (len(parts), 1))
    bound = circle_deviations(parts, start, heading, np.full(len(parts), curvature))
    t = (np.arange(len(parts))[:, None] + np.linspace(0, 1, 12)[:-1]).ravel() / 40
    p = span_points(spans, t)[0]
    normal = np.array((-heading[0, 1], heading[0, 0]))
    if curvature:
        far = np.abs(np.hypot(*(p - start[0] - normal / curvature).T) - 1 / abs(curvature))
    else:
        far = np.abs((p - start[0]) @ normal)
    measured = far.reshape(len(parts), -1).max(axis=1)
    assert (bound >= measured - 1e-12).all()
    # Far less than the radius, which is all a fit looks at, the bound is within 3 %.
    near = measured * abs(curvature) < 0.02
    assert near.sum() >= 3
    assert bound[near].max() < 1.03 * measured[near].max() + np.abs(np.diff(far)).max()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (([(0, 0), (1, 1)], 3), "at least 4 control points"),
        (([(0, 0), (1, 1), (2, 0)], 2, [0, 0, 0, 1, 1]), "6 knots, this one has 5"),
        (([(0, 0), (1, 1), (2, 0)], 2, [0, 0, 1, 0, 1, 1]), "must not decrease"),
        (([(0, 0), (1, 1), (2, 0)], 2, [1] * 6), "no length"),
        (([(0, 0), (1, 1), (2, 0)], 2, None, [1, 0, 1]), "weight is not above zero"),
        (([(0, 0), (1, 1), (2, 0)], 2, None, [1, 1]), "3 control points and 2 weights"),
        (([(0, 0), (math.nan, 1), (2, 0)], 2), "not a finite number"),
    ],
)
def test_malformed_splines_are_refused(arguments, says):
    with pytest.raises(GeometryError, match=says):
        spline_spans(*arguments)


def test_malformed_curves_are_refused():
    with pytest.raises(GeometryError, match="no length"):
        ellipse_spans((0, 0), (0, 0), 0.5, 0, 1)
    with pytest.raises(GeometryError, match="no length"):
        ellipse_spans((0, 0), (1, 0), 0.0, 0, 1)
    with pytest.raises(GeometryError, match="not a finite"):
        ellipse_spans((0, math.inf), (1, 0), 0.5, 0, 1)
    with pytest.raises(GeometryError, match="at least 2 control points"):
        bezier_spans([[(0, 0)]])
    with pytest.raises(GeometryError, match="span 1 does not start"):
        bezier_spans([[(0, 0), (1, 0)], [(1, 0.1), (2, 0)]])
