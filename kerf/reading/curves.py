"""The curves an entity is made of, in space, and their way into the plane as lines and arcs.

A drawing nests entities in blocks that are moved, mirrored and stretched unevenly, and each
entity may lie in a plane of its own. Three kinds of curve survive any such map: vertices
joined by lines, an ellipse (with the circle as its special case) and a spline. So an entity
becomes one of the three in world coordinates first; only then is it laid into the drawing's
plane, checked for lying flat, scaled to millimetres, and only there do ellipses and splines
become arcs.

An ellipse after an affine map is c + u cos t + v sin t with conjugate half-diameters u and v;
its axes follow from tan 2t₀ = 2 u·v / (u² − v²). Source: any geometry handbook (Rytz).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from kerf.arcs import ArcChain, ellipse_arcs, spline_arcs
from kerf.bezier import ellipse_spans, spline_spans
from kerf.biarcs import biarc_chains
from kerf.contour import Floats
from kerf.errors import GeometryError
from kerf.reading.drawing import Origin, Strand
from kerf.tolerance import (
    CIRCULAR_RELATIVE,
    COINCIDENT_MM,
    FEW_SPANS,
    STRAIGHT_BULGE,
    WHOLE_TURN_RAD,
)

Triple = tuple[float, float, float]
Row = tuple[float, float, float]
#: Images of the origin and of the three unit vectors: a map of space.
Frame = tuple[Triple, Triple, Triple, Triple]


class Flat(NamedTuple):
    """Rows of (x, y, bulge) already in the drawing's plane, and the heights they lie at."""

    rows: tuple[Row, ...]
    closed: bool
    low: float
    high: float
    origin: Origin


class Oval(NamedTuple):
    """Part of an ellipse, c + u cos t + v sin t for t from ``start`` over ``sweep`` > 0."""

    c: Triple
    u: Triple
    v: Triple
    start: float
    sweep: float
    origin: Origin


class Spline(NamedTuple):
    """A B-spline; weights empty when it is not rational."""

    points: tuple[Triple, ...]
    degree: int
    knots: tuple[float, ...]
    weights: tuple[float, ...]
    origin: Origin


Curve = Flat | Oval | Spline


def mapped(frame: Frame, p: Triple) -> Triple:
    """Return where a point goes."""
    o, ex, ey, ez = frame
    x, y, z = p
    return (
        o[0] + x * ex[0] + y * ey[0] + z * ez[0],
        o[1] + x * ex[1] + y * ey[1] + z * ez[1],
        o[2] + x * ex[2] + y * ey[2] + z * ez[2],
    )


def turned(frame: Frame, p: Triple) -> Triple:
    """Return where a direction goes."""
    x, y, z = mapped(frame, p)
    o = frame[0]
    return (x - o[0], y - o[1], z - o[2])


def after(outer: Frame, inner: Frame) -> Frame:
    """Return the map that applies ``inner`` first and ``outer`` second."""
    o, ex, ey, ez = inner
    return (mapped(outer, o), turned(outer, ex), turned(outer, ey), turned(outer, ez))


def run_curves(
    frame: Frame | None, rows: Sequence[Row], z: float, closed: bool, origin: Origin
) -> list[Curve]:
    """Return the curves of a run of vertices with bulges that lies at height z of a plane.

    A map that keeps circles keeps the run whole; under any other its arcs become ellipses.
    A single vertex is a run of no length.

    Raises:
        ValueError: there is no vertex.
    """
    if not rows:
        raise ValueError("it has no vertex")
    if len(rows) == 1:
        rows, closed = (rows[0], rows[0]), False
    if frame is None:
        return [Flat(tuple(rows), closed, z, z, origin)]
    points = [mapped(frame, (x, y, z)) for x, y, _ in rows]
    ex, ey = frame[1], frame[2]
    count = len(rows) if closed else len(rows) - 1
    if all(abs(row[2]) <= STRAIGHT_BULGE for row in rows[:count]):
        return [_lines(points, closed, origin)]
    size = math.hypot(ex[0], ex[1])
    even = (
        abs(ex[0] * ey[0] + ex[1] * ey[1]) <= CIRCULAR_RELATIVE * size * size
        and abs(math.hypot(ey[0], ey[1]) - size) <= CIRCULAR_RELATIVE * size
    )
    if even:
        sign = math.copysign(1.0, ex[0] * ey[1] - ex[1] * ey[0])
        flat = tuple((p[0], p[1], sign * row[2]) for p, row in zip(points, rows, strict=True))
        heights = [p[2] for p in points]
        return [Flat(flat, closed, min(heights), max(heights), origin)]
    out: list[Curve] = []
    for i in range(count):
        (x0, y0, b), (x1, y1, _) = rows[i], rows[(i + 1) % len(rows)]
        if abs(b) <= STRAIGHT_BULGE:
            out.append(_lines([points[i], points[(i + 1) % len(rows)]], False, origin))
            continue
        dx, dy = x1 - x0, y1 - y0
        k = (1 - b * b) / (4 * b)
        cx, cy = (x0 + x1) / 2 - k * dy, (y0 + y1) / 2 + k * dx
        radius = math.hypot(dx, dy) * (1 + b * b) / (4 * abs(b))
        start = math.atan2(y0 - cy, x0 - cx)
        sweep = 4 * math.atan(b)
        out.append(oval(frame, (cx, cy, z), radius, min(start, start + sweep), abs(sweep), origin))
    return out


def _lines(points: Sequence[Triple], closed: bool, origin: Origin) -> Flat:
    """Return straight edges through points of space."""
    heights = [p[2] for p in points]
    rows = tuple((p[0], p[1], 0.0) for p in points)
    return Flat(rows, closed, min(heights), max(heights), origin)


def oval(
    frame: Frame, centre: Triple, radius: float, start: float, sweep: float, origin: Origin
) -> Oval:
    """Return a circle's arc, counter-clockwise from ``start`` (rad), seen through a map."""
    u, v = turned(frame, (radius, 0.0, 0.0)), turned(frame, (0.0, radius, 0.0))
    return Oval(mapped(frame, centre), u, v, start, sweep, origin)


def arc_rows(
    x: float, y: float, radius: float, start: float, sweep: float
) -> tuple[tuple[Row, ...], bool]:
    """Return (rows, closed) of a circle's arc, in halves when it turns over half a turn."""
    if sweep >= math.tau - WHOLE_TURN_RAD:
        return ((x - radius, y, 1.0), (x + radius, y, 1.0)), True
    at = (0.0, sweep / 2, sweep) if sweep > math.pi else (0.0, sweep)
    bulge = math.tan(at[1] / 4)
    rows = [(x + radius * math.cos(start + a), y + radius * math.sin(start + a), bulge) for a in at]
    return tuple(rows), False


def reach(curve: Curve) -> list[Triple]:
    """Return points whose box holds the curve or nearly so, for judging sizes."""
    if isinstance(curve, Flat):
        rows = curve.rows
        ends = (*rows[1:], rows[0]) if curve.closed else rows[1:]
        # The middle of an arc lies bulge × half its chord off the chord, to the right.
        middles = [
            ((x + p + b * (q - y)) / 2, (y + q - b * (p - x)) / 2, curve.low)
            for (x, y, b), (p, q, _) in zip(rows, ends, strict=False)
            if b
        ]
        last = (rows[0][0], rows[0][1], curve.high)
        return [*((x, y, curve.low) for x, y, _ in rows), *middles, last]
    if isinstance(curve, Oval):
        n = 8
        out = []
        for i in range(n + 1):
            t = curve.start + curve.sweep * i / n
            cos, sin = math.cos(t), math.sin(t)
            c, u, v = curve.c, curve.u, curve.v
            out.append(
                (
                    c[0] + u[0] * cos + v[0] * sin,
                    c[1] + u[1] * cos + v[1] * sin,
                    c[2] + u[2] * cos + v[2] * sin,
                )
            )
        return out
    return list(curve.points)


def strands_of(curves: Sequence[Curve], scale: float) -> list[tuple[Strand, float] | GeometryError]:
    """Return curves that lie flat as lines and arcs in mm, and how far they may be off, mm.

    A few splines and ellipses get the fewest arcs a search can find; many are fitted together,
    which takes half as many arcs again and a tenth of the time.

    Args:
        curves: in drawing units.
        scale: mm per drawing unit.
    Returns:
        for each curve its strand and deviation, or why it is malformed.
    """
    out: list[tuple[Strand, float] | GeometryError] = []
    fitted: list[tuple[int, Floats]] = []
    for curve in curves:
        try:
            made = _exact(curve, scale)
            if made is None:
                fitted.append((len(out), _spans(curve, scale)))
                made = Strand((), False, curve.origin)
            out.append((made, 0.0))
        except GeometryError as fault:
            out.append(fault)
        except (ArithmeticError, LookupError, ValueError) as fault:
            out.append(GeometryError(str(fault)))
    chains: list[ArcChain | None] = [None] * len(fitted)
    if sum(len(spans) for _, spans in fitted) > FEW_SPANS:
        chains = list(biarc_chains([spans for _, spans in fitted]))
    for (i, _), chain in zip(fitted, chains, strict=True):
        try:
            out[i] = _chain_strand(chain or _sparing(curves[i], scale), curves[i].origin)
        except GeometryError as fault:
            out[i] = fault
    return out


def _chain_strand(chain: ArcChain, origin: Origin) -> tuple[Strand, float]:
    """Return a fitted chain as a strand; one that ends where it began is closed."""
    rows = tuple((v.x, v.y, v.bulge) for v in chain.vertices)
    closed = chain.closed
    if not closed and len(rows) > 2:
        (x0, y0, _), (x1, y1, _) = rows[0], rows[-1]
        if math.hypot(x1 - x0, y1 - y0) <= COINCIDENT_MM:
            rows, closed = rows[:-1], True
    return Strand(rows, closed, origin), chain.deviation_mm


def _exact(curve: Curve, scale: float) -> Strand | None:
    """Return a curve of lines and circles as it is; None when it must be fitted."""
    if isinstance(curve, Flat):
        rows = curve.rows
        if scale != 1.0:
            rows = tuple((x * scale, y * scale, b) for x, y, b in rows)
        return Strand(rows, curve.closed, curve.origin)
    if isinstance(curve, Spline):
        return None
    (cx, cy), (ax, ay), ratio, start, sweep = _seen(curve, scale)
    size = math.hypot(ax, ay)
    if size == 0.0:
        return Strand(((cx, cy, 0.0), (cx, cy, 0.0)), False, curve.origin)
    if abs(abs(ratio) - 1.0) > CIRCULAR_RELATIVE:
        return None
    base = math.atan2(ay, ax)
    # Seen from behind the arc runs clockwise, so it begins where its parameter ends.
    begin = base + start if ratio > 0 else base - start - sweep
    rows, closed = arc_rows(cx, cy, size, begin, sweep)
    return Strand(rows, closed, curve.origin)


def _sparing(curve: Curve, scale: float) -> ArcChain:
    """Return a curve as the fewest arcs a search finds."""
    if isinstance(curve, Oval):
        centre, axis, ratio, start, sweep = _seen(curve, scale)
        return ellipse_arcs(centre, axis, ratio, start, start + sweep)
    assert isinstance(curve, Spline)
    points = [(p[0] * scale, p[1] * scale) for p in curve.points]
    return spline_arcs(points, curve.degree, curve.knots or None, curve.weights or None)


def _spans(curve: Curve, scale: float) -> Floats:
    """Return a curve as Bézier spans, mm."""
    if isinstance(curve, Oval):
        centre, axis, ratio, start, sweep = _seen(curve, scale)
        return ellipse_spans(centre, axis, ratio, start, start + sweep)
    assert isinstance(curve, Spline)
    points = [(p[0] * scale, p[1] * scale) for p in curve.points]
    return spline_spans(points, curve.degree, curve.knots or None, curve.weights or None)


class _Ellipse(NamedTuple):
    """An ellipse in the plane, mm: centre, major axis, ratio (negative: clockwise), range."""

    centre: tuple[float, float]
    axis: tuple[float, float]
    ratio: float
    start: float
    sweep: float


def _seen(curve: Oval, scale: float) -> _Ellipse:
    """Return the axes of an ellipse laid into the plane."""
    cx, cy = curve.c[0] * scale, curve.c[1] * scale
    ux, uy = curve.u[0] * scale, curve.u[1] * scale
    vx, vy = curve.v[0] * scale, curve.v[1] * scale
    u, v, dot = math.hypot(ux, uy), math.hypot(vx, vy), ux * vx + uy * vy
    t0 = 0.0
    # The axes of a circle are where one likes; rounding must not choose them.
    if abs(dot) > CIRCULAR_RELATIVE * u * u or abs(u - v) > CIRCULAR_RELATIVE * u:
        t0 = math.atan2(2 * dot, u * u - v * v) / 2
    cos, sin = math.cos(t0), math.sin(t0)
    ax, ay = ux * cos + vx * sin, uy * cos + vy * sin
    bx, by = vx * cos - ux * sin, vy * cos - uy * sin
    size = math.hypot(ax, ay)
    ratio = math.copysign(math.hypot(bx, by) / size, ax * by - ay * bx) if size else 0.0
    sweep = math.tau if curve.sweep >= math.tau - WHOLE_TURN_RAD else curve.sweep
    return _Ellipse((cx, cy), (ax, ay), ratio, curve.start - t0, sweep)
