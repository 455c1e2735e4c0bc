"""Splines, ellipses and dense point runs as tangent chains of arcs and lines.

A laser controller, and every measure in this package, is exact on lines and arcs; a drawing
holds splines and ellipses too. Each becomes a chain of arcs whose neighbours share ends and
headings, no further from the curve than a stated tolerance, in as few pieces as a search can
find (``kerf.arcfit``). Corners and cusps of the curve stay corners.

The deviation reported is an upper bound, not a sample: every arc is compared with its stretch
of the exact curve through Bernstein coefficients (``kerf.bezier``), and the stretch is shown
to stay in the sector of its arc, so that the bound holds both ways, curve to chain and chain
to curve. A chain whose bound exceeds the tolerance is refined, never returned.

Point runs (``run_arcs``) have no curve behind them that we could know; the rule that tells a
sampled arc from a polygon meant as one stands there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerf.arcfit import SAMPLES, Joint, arc_joints, curvature_measure
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
from kerf.contour import Contour, Edge, Floats, Point, Transform, Vertex
from kerf.errors import GeometryError
from kerf.tolerance import (
    ARC_FIT_MM,
    COCIRCULAR_MM,
    RELATIVE_ROUNDING,
    SAME_HEADING_RAD,
    SECTOR_SHARE,
    STRAIGHT_BULGE,
    TANGENT_RAD,
)

#: Share of the tolerance the search may use; the rest absorbs what its samples miss. Tried
#: in turn until the bound is within the tolerance.
_SEARCH_SHARES = (0.985, 0.93, 0.8, 0.5)

#: A curve that needs more arcs than this is halved first, so that time grows in proportion.
_LONGEST_SEARCH = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ArcChain:
    """Lines and arcs in order, and how far they may be from what they stand for.

    Args:
        vertices: an open chain ends with a vertex of bulge 0; a closed one is a ring whose
            last edge runs back to the first vertex.
        closed: whether the chain is a ring.
        deviation_mm: upper bound on the distance between chain and curve, mm, both ways;
            for a point run, the greatest distance of a given point from the chain.
    """

    vertices: tuple[Vertex, ...]
    closed: bool
    deviation_mm: float

    def contour(self) -> Contour:
        """Return the ring as a loop.

        Raises:
            GeometryError: the chain is open.
        """
        if not self.closed:
            raise GeometryError("an open chain is no loop")
        return Contour(vertices=self.vertices)

    def edges(self) -> tuple[Edge, ...]:
        """Return the edges in order."""
        ends = self.vertices[1:] + (self.vertices[:1] if self.closed else ())
        return tuple(
            Edge(start=Point(v.x, v.y), end=Point(w.x, w.y), bulge=v.bulge)
            for v, w in zip(self.vertices, ends, strict=False)
        )


def spline_arcs(
    control_points: Sequence[tuple[float, float]],
    degree: int,
    knots: Sequence[float] | None = None,
    weights: Sequence[float] | None = None,
    closed: bool = False,
    tolerance_mm: float = ARC_FIT_MM,
) -> ArcChain:
    """Return a B-spline, rational or not, as tangent arcs.

    Args:
        control_points: (x, y), mm.
        degree: 1 or more.
        knots: len(control_points) + degree + 1, or None for uniform ones.
        weights: one per control point, above zero, or None.
        closed: whether the end is to meet the start; the chain is then a ring.
        tolerance_mm: greatest distance allowed between chain and spline, mm, > 0.
    Raises:
        GeometryError: the spline is malformed (see ``kerf.bezier.spline_spans``), or closed
            with its ends further apart than the tolerance.
    """
    spans = spline_spans(control_points, degree, knots, weights, closed=closed)
    return _chain(spans, closed, tolerance_mm)


def curve_arcs(
    spans: Sequence[Sequence[tuple[float, float]]],
    tolerance_mm: float = ARC_FIT_MM,
    *,
    closed: bool = False,
) -> ArcChain:
    """Return joined Bézier spans (cubic, quadratic, any degree, mixed) as tangent arcs.

    Args:
        spans: control points of each span, mm; each starts where the last one ended.
        tolerance_mm: greatest distance allowed between chain and curve, mm, > 0.
        closed: whether the end meets the start; the chain is then a ring.
    Raises:
        GeometryError: a span is malformed or does not start where the last one ended.
    """
    return _chain(bezier_spans(spans), closed, tolerance_mm)


def ellipse_arcs(
    centre: tuple[float, float],
    major_axis: tuple[float, float],
    ratio: float,
    start_param: float = 0.0,
    end_param: float = 2 * math.pi,
    tolerance_mm: float = ARC_FIT_MM,
) -> ArcChain:
    """Return an ellipse, or part of one, as tangent arcs.

    A whole ellipse is fitted on one quarter and mirrored, so the chain is as symmetric as
    the ellipse; arcs that meet at a vertex of it are one circle and become one arc.

    Args:
        centre: mm.
        major_axis: vector from the centre to the end of the major axis, mm.
        ratio: minor over major axis; negative when the curve runs clockwise.
        start_param, end_param: eccentric angles, rad; equal (or one turn apart) for the whole.
        tolerance_mm: greatest distance allowed between chain and ellipse, mm, > 0.
    Raises:
        GeometryError: an axis has no length or a value is not finite.
    """
    spans = ellipse_spans(centre, major_axis, ratio, start_param, end_param)
    whole = abs(math.remainder(end_param - start_param, 2 * math.pi)) < SAME_HEADING_RAD
    if abs(abs(ratio) - 1.0) <= RELATIVE_ROUNDING:
        return _circle_chain(centre, major_axis, ratio, start_param, end_param, whole)
    if not whole:
        return _chain(spans, False, tolerance_mm)
    size = math.hypot(*major_axis)
    quarter = _chain(
        ellipse_spans((0.0, 0.0), (size, 0.0), abs(ratio), 0.0, math.pi / 2), False, tolerance_mm
    )
    rows = [*quarter.vertices[:-1]]
    top = quarter.vertices[-1]
    for v, w in zip((top, *rows[:0:-1]), rows[::-1], strict=True):
        rows.append(Vertex(-v.x, v.y, w.bulge))
    rows += [Vertex(-v.x, -v.y, v.bulge) for v in rows]
    cos, sin = major_axis[0] / size, major_axis[1] / size
    place = Transform(a=cos, b=-sin, c=centre[0], d=sin, e=cos, f=centre[1])
    ring = Contour(vertices=tuple(rows))
    if ratio < 0:
        ring = ring.transformed(Transform.mirror_x())
    vertices = _merged(ring.transformed(place).vertices, True)
    return ArcChain(
        vertices=vertices, closed=True, deviation_mm=quarter.deviation_mm + COCIRCULAR_MM
    )


def _circle_chain(
    centre: tuple[float, float],
    axis: tuple[float, float],
    ratio: float,
    start: float,
    end: float,
    whole: bool,
) -> ArcChain:
    """Return an ellipse of equal axes: a circle, exactly."""
    sweep = 2 * math.pi if whole else (end - start) % (2 * math.pi)
    pieces = 2 if sweep > math.pi else 1
    sign = math.copysign(1.0, ratio)
    bulge = sign * math.tan(sweep / pieces / 4)
    rows = []
    for i in range(pieces if whole else pieces + 1):
        angle = start + sweep * i / pieces
        cos, sin = math.cos(angle), sign * math.sin(angle)
        rows.append(
            Vertex(
                centre[0] + cos * axis[0] - sin * axis[1],
                centre[1] + cos * axis[1] + sin * axis[0],
                bulge if whole or i < pieces else 0.0,
            )
        )
    return ArcChain(vertices=tuple(rows), closed=whole, deviation_mm=0.0)


def _chain(spans: Floats, closed: bool, tolerance_mm: float) -> ArcChain:
    """Return the tangent arcs along a chain of spans, corners kept."""
    if not tolerance_mm > 0:
        raise GeometryError(f"the fitting tolerance must be above 0 mm, not {tolerance_mm:.6g} mm")
    points = spans[..., :2] / spans[..., 2:]
    extent = np.ptp(points, axis=1).max(axis=1)
    spans = spans[extent > RELATIVE_ROUNDING * max(float(extent.max()), 1e-300)]
    if not len(spans):
        raise GeometryError("the curve has no length")
    gap = float(np.hypot(*(points[-1, -1] - points[0, 0])))
    if closed and gap > tolerance_mm:
        raise GeometryError(
            f"a closed curve ends {gap:.4g} mm from its start; at most {tolerance_mm:.4g} mm is "
            "allowed"
        )
    if spans.shape[1] > 2:
        spans = split_at_cusps(spans)
    first, last = end_headings(spans)
    after = np.roll(first, -1, axis=0)
    turn = np.arctan2(
        last[:, 0] * after[:, 1] - last[:, 1] * after[:, 0], (last * after).sum(axis=1)
    )
    corner = np.abs(turn) > TANGENT_RAD
    goal = None
    if not closed:
        corner[-1] = True
    elif corner.any():
        shift = int(np.flatnonzero(corner)[-1]) + 1
        spans, corner = np.roll(spans, -shift, axis=0), np.roll(corner, -shift)
    else:
        corner[-1] = True
        goal = (float(first[0, 0]), float(first[0, 1]))
    rows: list[Vertex] = []
    worst = 0.0
    begin = 0
    for end in np.flatnonzero(corner) + 1:
        piece, bound = _fitted(spans[begin:end], goal, tolerance_mm)
        rows += piece
        worst = max(worst, bound)
        begin = int(end)
    if not closed:
        end_at = spans[-1, -1, :2] / spans[-1, -1, 2]
        rows.append(Vertex(float(end_at[0]), float(end_at[1])))
    return ArcChain(
        vertices=_merged(tuple(rows), closed),
        closed=closed,
        deviation_mm=worst + (gap if closed else 0.0) + COCIRCULAR_MM,
    )


def _fitted(
    spans: Floats, goal: tuple[float, float] | None, tolerance_mm: float
) -> tuple[list[Vertex], float]:
    """Return the vertices along one smooth piece (its end left out) and their proven bound."""
    points = (spans[..., :2] / spans[..., 2:]).reshape(-1, 2)
    reach = float(np.hypot(*(points - points[0]).T).max())
    if spans.shape[1] == 2 and len(spans) == 1:
        return [Vertex(float(points[0, 0]), float(points[0, 1]))], 0.0
    if reach > tolerance_mm / 2:
        known_t, used = curvature_measure(spans, tolerance_mm)
        if used[-1] <= _LONGEST_SEARCH:
            for share in _SEARCH_SHARES:
                joints = arc_joints(spans, goal, share * tolerance_mm)
                if joints is None:
                    continue
                vertices, bound = _proven(spans, joints)
                if bound <= tolerance_mm - 2 * COCIRCULAR_MM:
                    return vertices, bound
        # Too long for one search, or turning within a few tolerances: halve it, each half
        # with its own headings.
        middle = float(np.interp(used[-1] / 2, used, known_t))
        cuts = np.unique(np.append(np.arange(len(spans) + 1.0), middle))
        parts = sub_spans(spans, cuts[:-1], cuts[1:])
        half = int(np.searchsorted(cuts, middle))
        head, head_bound = _fitted(parts[:half], None, tolerance_mm)
        tail, tail_bound = _fitted(parts[half:], goal, tolerance_mm)
        return head + tail, max(head_bound, tail_bound)
    # All of it lies within half a tolerance of its start, and so does its chord.
    return [Vertex(float(points[0, 0]), float(points[0, 1]))], 2 * reach


def _proven(spans: Floats, joints: list[Joint]) -> tuple[list[Vertex], float]:
    """Return the vertices at the joints and an upper bound on their arcs' distance, mm."""
    m = len(spans)
    t = np.array([j.t for j in joints] + [float(m)])
    at = span_points(spans, t)[0]
    h = np.array([(j.hx, j.hy) for j in joints])
    step = np.diff(at, axis=0)
    chord = np.hypot(step[:, 0], step[:, 1])
    half = np.arctan2(h[:, 0] * step[:, 1] - h[:, 1] * step[:, 0], (h * step).sum(axis=1))
    curvature = 2 * np.sin(half) / chord
    bulge = np.tan(half / 2)
    vertices = [
        Vertex(float(x), float(y), float(b) if abs(b) > STRAIGHT_BULGE else 0.0)
        for (x, y), b in zip(at[:-1], bulge, strict=True)
    ]
    # Each arc's stretch of the curve, cut finely enough that coefficients hug the curve.
    fine = np.linspace(0.0, 1.0, SAMPLES + 1)[:-1]
    cuts = (t[:-1, None] + np.diff(t)[:, None] * fine).ravel()
    cuts = np.unique(np.concatenate((cuts, np.arange(m + 1.0))))
    owner = np.searchsorted(t, (cuts[:-1] + cuts[1:]) / 2, side="right") - 1
    parts = sub_spans(spans, cuts[:-1], cuts[1:])
    bounds = circle_deviations(parts, at[owner], h[owner], curvature[owner])
    e = step / chord[:, None]
    h_end = 2 * np.cos(half)[:, None] * e - h
    hull = parts[..., :2] / parts[..., 2:]
    slack = SECTOR_SHARE * chord[owner]
    ahead = ((hull - at[owner][:, None]) * h[owner][:, None]).sum(axis=2).min(axis=1)
    behind = ((at[owner + 1][:, None] - hull) * h_end[owner][:, None]).sum(axis=2).min(axis=1)
    inside = (ahead >= -slack) & (behind >= -slack)
    return vertices, float(np.where(inside, bounds, math.inf).max())


def _merged(vertices: tuple[Vertex, ...], closed: bool) -> tuple[Vertex, ...]:
    """Return the chain with neighbours on one circle, or one line, made one edge."""
    chain = ArcChain(vertices=vertices, closed=closed, deviation_mm=0.0)
    edges = list(chain.edges())
    out: list[Edge] = []
    for edge in edges:
        joined = _joined(out[-1], edge) if out else None
        if joined is None:
            out.append(edge)
        else:
            out[-1] = joined
    if closed and len(out) > 2:
        joined = _joined(out[-1], out[0])
        if joined is not None:
            out = [*out[1:-1], joined]
    rows = [Vertex(e.start.x, e.start.y, e.bulge) for e in out]
    return tuple(rows) if closed else (*rows, vertices[-1])


def _joined(a: Edge, b: Edge) -> Edge | None:
    """Return the single edge that a and b make together, or None when they make none."""
    if a.is_line != b.is_line:
        return None
    if a.is_line:
        (x, y), (u, v) = a.tangent_at(0), b.tangent_at(0)
        off = abs(x * v - y * u) * min(a.chord_mm, b.chord_mm)
        return (
            Edge(start=a.start, end=b.end) if off <= COCIRCULAR_MM and x * u + y * v > 0 else None
        )
    c, d = a.centre, b.centre
    sweep = a.sweep_rad + b.sweep_rad
    # Two arcs of one circle part by at most the shift of centre plus the change of radius.
    off = math.hypot(c.x - d.x, c.y - d.y) + abs(a.radius_mm - b.radius_mm)
    if a.bulge * b.bulge <= 0 or abs(sweep) > math.pi + SAME_HEADING_RAD or 2 * off > COCIRCULAR_MM:
        return None
    return Edge(start=a.start, end=b.end, bulge=math.tan(sweep / 4))
