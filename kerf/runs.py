"""Dense point runs read back as the arcs they were sampled from.

Some drawings hold a circle as 115 short lines. Cut as lines it is a polygon: its flats
disturb every locating calculation, and its corners slow the laser. Yet a polygon may be
meant: nothing in the file says which. The rule here is conservative, and stated:

A stretch of segments is read as a sampled curve only where, on end,
* the direction turns by no more than 11.25° at every point (32 points a turn; a hexagon, a
  12-gon and a 24-gon are left alone),
* neighbouring segments are alike in length (none above 2.5 times the next), so that a line
  beside a fillet stays a line,
* the circle that such a turn implies bulges no more than 0.1 mm from each segment, and
* there are at least 6 such segments.

Then one arc is tried through the run, next a chain of tangent arcs along a smoothing spline
(FITPACK). Either is kept only if every given point lies within the tolerance of it, it
strays from the drawn segments by no more than the bulge allowed, and it has fewer edges than
the run. Otherwise the run stays as it was drawn. Every point outside such runs is a vertex of
the result, untouched.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from kerf.arcs import ArcChain, spline_arcs
from kerf.contour import Floats, Vertex
from kerf.errors import GeometryError, KerfError
from kerf.nearest import distances_to
from kerf.pieces import Flags, Pieces
from kerf.tolerance import (
    ARC_FIT_MM,
    COINCIDENT_MM,
    RUN_RATIO,
    RUN_SAGITTA_MM,
    RUN_SEGMENTS,
    RUN_TURN_RAD,
)

#: (smoothing, fit) shares of the tolerance tried in turn; 0 means interpolation.
_SPLINE_SHARES = ((0.3, 0.6), (0.1, 0.8), (0.0, 0.9))


def run_arcs(
    points: Sequence[tuple[float, float]],
    closed: bool,
    tolerance_mm: float = ARC_FIT_MM,
) -> ArcChain:
    """Return a polyline with its sampled curves turned into arcs, true corners kept.

    The rule is in the module header. ``deviation_mm`` of the result is the greatest distance
    of a given point from the chain.

    Args:
        points: (x, y), mm, in order; neighbours that coincide count once.
        closed: whether the last point joins the first.
        tolerance_mm: greatest distance of a given point from its arc, mm, > 0.
    Raises:
        GeometryError: fewer than two distinct points (three when closed), or a coordinate
            that is not finite.
    """
    p = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    if not np.all(np.isfinite(p)):
        raise GeometryError("a point of a run has a coordinate that is not a finite number")
    if not tolerance_mm > 0:
        raise GeometryError(f"the fitting tolerance must be above 0 mm, not {tolerance_mm:.6g} mm")
    step = np.hypot(*np.diff(p, axis=0).T)
    p = p[np.concatenate(([True], step > COINCIDENT_MM))] if len(p) else p
    if closed and len(p) > 1 and np.hypot(*(p[-1] - p[0])) <= COINCIDENT_MM:
        p = p[:-1]
    if len(p) < (3 if closed else 2):
        raise GeometryError(f"a run needs more distinct points; this one has {len(p)}")
    edges = np.roll(p, -1, axis=0) - p if closed else np.diff(p, axis=0)
    linked = _linked(edges)  # linked[i]: edge i goes on smoothly from edge i − 1
    if closed and linked.all():
        ring = _ring(p, tolerance_mm)
        if ring is not None:
            return ring
        linked[0] = False
    if not closed:
        linked[0] = False
    shift = int(np.flatnonzero(~linked)[0])
    p, linked = np.roll(p, -shift, axis=0), np.roll(linked, -shift)
    stations = np.vstack((p, p[:1])) if closed else p
    starts = [*np.flatnonzero(~linked), len(edges)]
    rows: list[Vertex] = []
    worst = 0.0
    for begin, end in itertools.pairwise(starts):
        run = stations[begin : end + 1]
        found = _open_run(run, tolerance_mm) if end - begin >= RUN_SEGMENTS else None
        if found is None:
            rows += [Vertex(float(x), float(y)) for x, y in run[:-1]]
        else:
            rows += found[0]
            worst = max(worst, found[1])
    if not closed:
        rows.append(Vertex(float(p[-1, 0]), float(p[-1, 1])))
    return ArcChain(vertices=tuple(rows), closed=closed, deviation_mm=worst)


def _linked(edges: Floats) -> Flags:
    """Return for each edge whether it continues the one before it as a sampled curve would."""
    before = np.roll(edges, 1, axis=0)
    length, last = np.hypot(*edges.T), np.hypot(*before.T)
    turn = np.abs(
        np.arctan2(
            before[:, 0] * edges[:, 1] - before[:, 1] * edges[:, 0], (before * edges).sum(axis=1)
        )
    )
    longer, shorter = np.maximum(length, last), np.minimum(length, last)
    sagitta = turn / (length + last) * longer**2 / 4  # k l² / 8 with k = turn / mean length
    out: Flags = (
        (turn <= RUN_TURN_RAD) & (longer <= RUN_RATIO * shorter) & (sagitta <= RUN_SAGITTA_MM)
    )
    return out


def _measured(chain: ArcChain, points: Floats, tolerance_mm: float) -> float | None:
    """Return the greatest distance of the points from the chain, or None when it will not do."""
    n = len(points) if chain.closed else len(points) - 1
    if len(chain.edges()) >= n:
        return None
    fitted = _pieces(np.asarray(chain.vertices), chain.closed)
    z = points[:, 0] + 1j * points[:, 1]
    worst = float(distances_to(fitted, z)[0].max())
    if worst > tolerance_mm:
        return None
    drawn = _pieces(np.column_stack((points, np.zeros(len(points)))), chain.closed)
    samples, _ = fitted.facets(tolerance_mm / 10)
    strays = float(distances_to(drawn, samples)[0].max())
    return worst if strays <= RUN_SAGITTA_MM + tolerance_mm else None


def _pieces(rows: Floats, closed: bool) -> Pieces:
    """Return the edges of a chain. rows: shape (n, 3), x mm, y mm, bulge."""
    z = rows[:, 0] + 1j * rows[:, 1]
    if closed:
        return Pieces.of_bulges(z, np.roll(z, -1), rows[:, 2])
    return Pieces.of_bulges(z[:-1], z[1:], rows[:-1, 2])


def _ring(points: Floats, tolerance_mm: float) -> ArcChain | None:
    """Return a closed run as a circle, or else as tangent arcs, or None."""
    circle = _circle(points)
    if circle is not None:
        x, y, r, sign = circle
        chain = ArcChain(
            vertices=(Vertex(x - r, y, sign), Vertex(x + r, y, sign)), closed=True, deviation_mm=0.0
        )
        worst = _measured(chain, points, tolerance_mm)
        if worst is not None:
            return ArcChain(vertices=chain.vertices, closed=True, deviation_mm=worst)
    return _splined(points, True, tolerance_mm)


def _circle(points: Floats) -> tuple[float, float, float, float] | None:
    """Return centre, radius and sense of the circle nearest to points, by least squares.

    Source: linear fit of x² + y² + a x + b y + c = 0 (Kåsa 1976) about the centroid.
    """
    middle = points.mean(axis=0)
    q = points - middle
    a = np.column_stack((2 * q, np.ones(len(q))))
    (cx, cy, c), *_ = np.linalg.lstsq(a, (q * q).sum(axis=1), rcond=None)
    r2 = c + cx * cx + cy * cy
    if not r2 > 0:
        return None
    after = np.roll(q, -1, axis=0)
    area = float((q[:, 0] * after[:, 1] - q[:, 1] * after[:, 0]).sum())
    x, y = float(middle[0] + cx), float(middle[1] + cy)
    return x, y, math.sqrt(float(r2)), math.copysign(1.0, area)


def _open_run(run: Floats, tolerance_mm: float) -> tuple[list[Vertex], float] | None:
    """Return vertices for a run between two corners (its last point left out), or None."""
    for chain in (_one_arc(run), None):
        chain = chain or _splined(run, False, tolerance_mm)
        if chain is None:
            continue
        worst = _measured(chain, run, tolerance_mm)
        if worst is not None:
            return list(chain.vertices[:-1]), worst
    return None


def _one_arc(run: Floats) -> ArcChain | None:
    """Return the arc through the ends of a run that fits its points best, or None for a spiral.

    A point seen from the chord's ends under the angle g lies on the arc of half sweep π − g,
    so every point votes for a sweep; the mean, weighted by height above the chord, is taken.
    """
    a, b = run[0], run[-1]
    if np.hypot(*(b - a)) <= COINCIDENT_MM:
        return None
    u, v = run[1:-1] - a, b - run[1:-1]
    half = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1))
    weight = np.hypot(*u.T) * np.hypot(*v.T)
    mean = float((half * weight).sum() / weight.sum())
    pieces = 2 if abs(mean) > math.pi / 2 else 1
    bulge = math.tan(mean / 2 / pieces)
    rows = [Vertex(float(a[0]), float(a[1]), bulge), Vertex(float(b[0]), float(b[1]))]
    if pieces == 2:
        # The middle of the arc: half the chord along, and its height to the right of it.
        height = math.tan(mean / 2) / 2
        x = (a[0] + b[0]) / 2 + height * (b[1] - a[1])
        y = (a[1] + b[1]) / 2 - height * (b[0] - a[0])
        rows.insert(1, Vertex(float(x), float(y), bulge))
    return ArcChain(vertices=tuple(rows), closed=False, deviation_mm=0.0)


def _splined(points: Floats, closed: bool, tolerance_mm: float) -> ArcChain | None:
    """Return a run as tangent arcs along a smoothing spline, or None when none will do."""
    from scipy.interpolate import splprep

    ring = np.vstack((points, points[:1])) if closed else points
    for smoothing, fit in _SPLINE_SHARES:
        allowance = len(ring) * (smoothing * tolerance_mm) ** 2
        try:
            fitted, _ = splprep([ring[:, 0], ring[:, 1]], s=allowance, per=closed, k=3, quiet=True)
            knots, (x, y) = np.asarray(fitted[0]), np.asarray(fitted[1])
            chain = spline_arcs(
                list(zip(x.tolist(), y.tolist(), strict=True)),
                3,
                knots.tolist(),
                closed=closed,
                tolerance_mm=fit * tolerance_mm,
            )
        except (ValueError, TypeError, KerfError):  # FITPACK's own words for "cannot"
            continue
        if not closed:  # the run keeps its own ends
            (x0, y0), (x1, y1) = points[0].tolist(), points[-1].tolist()
            first = Vertex(x0, y0, chain.vertices[0].bulge)
            chain = ArcChain(
                vertices=(first, *chain.vertices[1:-1], Vertex(x1, y1)),
                closed=False,
                deviation_mm=0.0,
            )
        worst = _measured(chain, points, tolerance_mm)
        if worst is not None:
            return ArcChain(vertices=chain.vertices, closed=closed, deviation_mm=worst)
    return None
