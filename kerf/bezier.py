"""Splines and ellipses as chains of rational Bézier spans, and exact bounds on them.

Every smooth curve a drawing can hold (B-spline of any degree, rational or not, ellipse,
SVG cubic or quadratic) is, exactly, a chain of rational Bézier spans. One form means one
evaluation, one way to cut, and one provable bound: how far a span strays from a circle
or a line is itself a rational polynomial, and a polynomial never leaves the hull of its
Bernstein coefficients. That turns "measured at many points" into an upper bound.

A chain is an array of shape (m, n + 1, 3): m spans of degree n, each control point held
homogeneously as (w x, w y, w), lengths in mm. Its parameter runs from 0 to m, span i
from i to i + 1.

Source: blossoms (polar forms) and Bernstein hulls, Farin, Curves and Surfaces for CAGD;
circle as a rational quadratic, Piegl & Tiller, The NURBS Book, chapter 7.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kerf.contour import Floats
from kerf.errors import GeometryError
from kerf.tolerance import CUSP_SPEED, RELATIVE_ROUNDING, SAME_HEADING_RAD


def spline_spans(
    control_points: Sequence[tuple[float, float]],
    degree: int,
    knots: Sequence[float] | None = None,
    weights: Sequence[float] | None = None,
    *,
    closed: bool = False,
) -> Floats:
    """Return a B-spline as Bézier spans.

    Args:
        control_points: (x, y), mm, degree + 1 of them or more.
        degree: 1 or more.
        knots: non-decreasing, len(control_points) + degree + 1 of them; when None, uniform
            knots clamped at the ends, or uniform and wrapped round when closed.
        weights: one per control point, above zero; None for all 1.
        closed: only says how to choose knots when none are given.
    Raises:
        GeometryError: the counts disagree, a weight is not above zero, the knots
            decrease, or the spline has no length.
    """
    points = np.asarray(control_points, dtype=np.float64).reshape(-1, 2)
    n = len(points)
    if degree < 1 or n < degree + 1:
        raise GeometryError(
            f"a spline of degree {degree} needs at least {max(degree, 1) + 1} control points, "
            f"this one has {n}"
        )
    w = np.ones(n) if weights is None else np.asarray(weights, dtype=np.float64)
    if len(w) != n:
        raise GeometryError(f"the spline has {n} control points and {len(w)} weights")
    if not (np.all(np.isfinite(points)) and np.all(np.isfinite(w))):
        raise GeometryError("a spline control point or weight is not a finite number")
    if not np.all(w > 0):
        raise GeometryError("a spline weight is not above zero")
    if knots is None:
        if closed:
            points, w = np.vstack((points, points[:degree])), np.append(w, w[:degree])
            u = np.arange(len(points) + degree + 1, dtype=np.float64)
        else:
            inner = np.arange(n - degree + 1, dtype=np.float64)
            u = np.concatenate((np.zeros(degree), inner, np.full(degree, inner[-1])))
    else:
        u = np.asarray(knots, dtype=np.float64)
    if len(u) != len(points) + degree + 1:
        raise GeometryError(
            f"a spline of degree {degree} with {len(points)} control points needs "
            f"{len(points) + degree + 1} knots, this one has {len(u)}"
        )
    if not np.all(np.isfinite(u)) or np.any(np.diff(u) < 0):
        raise GeometryError("the knots of a spline must be finite and must not decrease")
    span = np.arange(degree, len(points))
    span = span[u[span + 1] - u[span] > RELATIVE_ROUNDING * max(u[-1] - u[0], 1e-300)]
    if not len(span):
        raise GeometryError("the knots of the spline leave it no length")
    homogeneous = np.column_stack((points * w[:, None], w))
    out = np.empty((len(span), degree + 1, 3))
    for j in range(degree + 1):
        # Control point j of a span is the blossom at its start (n − j times) and end (j times).
        d = homogeneous[span[:, None] + np.arange(-degree, 1)]
        for r in range(1, degree + 1):
            at = u[span] if r <= degree - j else u[span + 1]
            i = span[:, None] + np.arange(r - degree, 1)
            low, high = u[i], u[i + degree - r + 1]
            share = ((at[:, None] - low) / (high - low))[..., None]
            d = (1 - share) * d[:, :-1] + share * d[:, 1:]
        out[:, j] = d[:, 0]
    return out


def ellipse_spans(
    centre: tuple[float, float],
    major_axis: tuple[float, float],
    ratio: float,
    start_param: float,
    end_param: float,
) -> Floats:
    """Return an ellipse or part of one, counter-clockwise for ratio > 0, as Bézier spans.

    Args:
        centre: mm.
        major_axis: vector from the centre to the end of the major axis, mm.
        ratio: minor over major axis; negative when the curve runs clockwise.
        start_param, end_param: eccentric angles, rad; the end is taken up to one turn
            past the start, equal angles meaning the whole ellipse.
    Raises:
        GeometryError: an axis has no length or a value is not finite.
    """
    values = (*centre, *major_axis, ratio, start_param, end_param)
    if not all(map(math.isfinite, values)):
        raise GeometryError("an ellipse has a value that is not a finite number")
    if math.hypot(*major_axis) == 0.0 or ratio == 0.0:
        raise GeometryError("an ellipse axis has no length")
    sweep = (end_param - start_param) % (2 * math.pi)
    if sweep <= RELATIVE_ROUNDING * 2 * math.pi:
        sweep = 2 * math.pi
    # Cut at the vertices, where curvature turns round, so that joints can fall on them.
    quarter = math.pi / 2
    first = math.floor(start_param / quarter + SAME_HEADING_RAD) + 1
    cuts = [start_param]
    while first * quarter < start_param + sweep - SAME_HEADING_RAD:
        cuts.append(first * quarter)
        first += 1
    cuts.append(start_param + sweep)
    a, b = np.asarray(cuts[:-1]), np.asarray(cuts[1:])
    w = np.cos((b - a) / 2)
    unit = np.empty((len(a), 3, 3))
    for k, (angle, weight) in enumerate(((a, np.ones_like(w)), ((a + b) / 2, w), (b, w * 0 + 1))):
        # The middle control point lies at radius 1 / w; homogeneously its radius is 1.
        unit[:, k] = np.column_stack((np.cos(angle), np.sin(angle), weight))
    (cx, cy), (ax, ay) = centre, major_axis
    matrix = np.array([[ax, -ay * ratio, cx], [ay, ax * ratio, cy], [0.0, 0.0, 1.0]])
    out: Floats = unit @ matrix.T
    return out


def bezier_spans(spans: Sequence[Sequence[tuple[float, float]]]) -> Floats:
    """Return polynomial Bézier spans given by their control points, mm, raised to one degree.

    Raises:
        GeometryError: a span has fewer than two control points, a coordinate is not
            finite, or a span does not start where the one before it ended.
    """
    if not spans or any(len(span) < 2 for span in spans):
        raise GeometryError("a Bézier span needs at least 2 control points")
    degree = max(len(span) for span in spans) - 1
    rows = []
    for span in spans:
        points = np.asarray(span, dtype=np.float64)
        while len(points) < degree + 1:  # raise the degree by one
            n = len(points)
            share = (np.arange(n + 1) / n)[:, None]
            before = np.vstack((points[:1], points))
            after = np.vstack((points, points[-1:]))
            points = share * before + (1 - share) * after
        rows.append(np.column_stack((points, np.ones(len(points)))))
    out = np.stack(rows)
    if not np.all(np.isfinite(out)):
        raise GeometryError("a Bézier control point is not a finite number")
    gap = np.hypot(*(out[1:, 0, :2] - out[:-1, -1, :2]).T)
    size = float(np.ptp(out[..., :2], axis=(0, 1)).max())
    if len(gap) and gap.max() > RELATIVE_ROUNDING * size:
        raise GeometryError(
            f"Bézier span {int(gap.argmax()) + 1} does not start where the last ended"
        )
    return out


def span_points(spans: Floats, t: Floats) -> tuple[Floats, Floats, Floats]:
    """Return position (mm), first and second derivative at parameters t.

    Args:
        t: shape (k,), each in [0, m].
    Returns:
        three arrays of shape (k, 2).
    """
    t = np.asarray(t, dtype=np.float64)
    n = spans.shape[1] - 1
    index = np.clip(np.floor(t).astype(np.int64), 0, len(spans) - 1)
    s = (t - index)[:, None, None]
    d = spans[index]
    second = np.zeros((len(t), 3))
    first = np.zeros((len(t), 3))
    for level in range(n, 0, -1):
        if level == 2:
            second = n * (n - 1) * (d[:, 2] - 2 * d[:, 1] + d[:, 0])
        if level == 1:
            first = n * (d[:, 1] - d[:, 0])
        d = (1 - s) * d[:, :-1] + s * d[:, 1:]
    value = d[:, 0]
    w, w1, w2 = value[:, 2:], first[:, 2:], second[:, 2:]
    p = value[:, :2] / w
    p1 = (first[:, :2] - w1 * p) / w
    p2 = (second[:, :2] - 2 * w1 * p1 - w2 * p) / w
    return p, p1, p2


def end_headings(spans: Floats) -> tuple[Floats, Floats]:
    """Return the unit tangents at the start and end of every span, shape (m, 2) each.

    Control points that coincide with the end are passed over, so that a span whose
    derivative vanishes at its end still has its true heading. A span of no length has (0, 0).
    """

    def heading(chain: Floats) -> Floats:
        points = chain[..., :2] / chain[..., 2:]
        step = points - points[:, :1]
        length = np.hypot(step[..., 0], step[..., 1])
        distinct = length > RELATIVE_ROUNDING * np.maximum(length.max(axis=1), 1e-300)[:, None]
        pick = distinct.argmax(axis=1)
        rows = np.arange(len(chain))
        with np.errstate(invalid="ignore", divide="ignore"):
            unit = step[rows, pick] / length[rows, pick, None]
        out: Floats = np.where(distinct.any(axis=1)[:, None], unit, 0.0)
        return out

    return heading(spans), -heading(spans[:, ::-1])


def sub_spans(spans: Floats, t0: Floats, t1: Floats) -> Floats:
    """Return the spans cut to [t0, t1], each pair within one span; shape (k, n + 1, 3)."""
    n = spans.shape[1] - 1
    index = np.clip(np.floor((t0 + t1) / 2).astype(np.int64), 0, len(spans) - 1)
    a, b = (t0 - index)[:, None, None], (t1 - index)[:, None, None]
    out = np.empty((len(index), n + 1, 3))
    for j in range(n + 1):
        d = spans[index]
        for r in range(n):
            s = a if r < n - j else b
            d = (1 - s) * d[:, :-1] + s * d[:, 1:]
        out[:, j] = d[:, 0]
    return out


def split_at_cusps(spans: Floats) -> Floats:
    """Return the spans with a cut wherever the curve stops inside a span (a cusp)."""
    count = 64
    s = (np.arange(count + 1)) / count
    cuts = []
    for i in range(len(spans)):
        one = spans[i : i + 1]
        speed = np.hypot(*span_points(one, s)[1].T)
        top = speed.max()
        inside = np.flatnonzero(
            (speed[1:-1] <= speed[:-2]) & (speed[1:-1] <= speed[2:]) & (speed[1:-1] < 0.1 * top)
        )
        found = []
        for k in inside + 1:
            low, high = s[k - 1], s[k + 1]
            for _ in range(60):  # thirds: the speed has one minimum between neighbours
                m = np.array([low + (high - low) / 3, high - (high - low) / 3])
                v = np.hypot(*span_points(one, m)[1].T)
                low, high = (low, m[1]) if v[0] < v[1] else (m[0], high)
            at = (low + high) / 2
            if np.hypot(*span_points(one, np.array([at]))[1][0]) < CUSP_SPEED * top:
                found.append(at)
        edges = np.array([0.0, *found, 1.0])
        cuts.append(sub_spans(one, edges[:-1], edges[1:]) if found else one)
    return np.concatenate(cuts)


def circle_deviations(spans: Floats, start: Floats, heading: Floats, curvature: Floats) -> Floats:
    """Return an upper bound on how far each span strays from its circle or line, mm.

    The circle of signed curvature k through A with unit heading h and left normal n: for
    q = P − A, F = k |q|² / 2 − q·n vanishes on it and the distance is
    2 F / (1 + √(1 + 2 k F)); k = 0 is the line. w² F is a polynomial of degree 2 n and lies
    in the hull of its Bernstein coefficients.

    Args:
        spans: shape (k, n + 1, 3).
        start, heading: shape (k, 2); curvature: shape (k,), 1 / mm.
    """
    n = spans.shape[1] - 1
    w = spans[..., 2]
    q = spans[..., :2] - w[..., None] * start[:, None, :]
    across = q[..., 1] * heading[:, None, 0] - q[..., 0] * heading[:, None, 1]
    product = curvature[:, None, None] / 2 * (q @ q.transpose(0, 2, 1))
    product = product - w[:, :, None] * across[:, None, :]
    binomial = np.array([math.comb(n, i) for i in range(n + 1)], dtype=np.float64)
    product = product * np.outer(binomial, binomial)
    coefficients = np.zeros((len(spans), 2 * n + 1))
    for i in range(n + 1):
        coefficients[:, i : i + n + 1] += product[:, i]
    coefficients /= [math.comb(2 * n, k) for k in range(2 * n + 1)]
    f = np.abs(coefficients).max(axis=1) / w.min(axis=1) ** 2
    out: Floats = 2 * f / (1 + np.sqrt(np.maximum(0.0, 1 - 2 * np.abs(curvature) * f)))
    return out
