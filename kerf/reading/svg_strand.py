"""From drawn runs to strands: lines and circular arcs as they are, every other curve as arcs.

Drawing editors cannot hold an arc: they write a circle as Bézier curves. A curve whose
control points stand where the usual construction for an arc puts them (handles of
4/3 tan(sweep / 4) radii along the tangents) was an arc before it was exported and becomes
that arc again; a closed run of curves whose points all lie at one distance from their middle
becomes one circle. Any other curve keeps its own shape and is followed by tangent arcs
within ``ARC_FIT_MM``: the fewest when the drawing holds few curves, quick ones when many.

Source: control points of an arc, any text on Bézier curves; derived by setting the curve's
middle on the circle: 8 m = 2 ends + 3 (sum of controls).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np

from kerf.arcs import ArcChain, curve_arcs, ellipse_arcs
from kerf.bezier import bezier_spans, ellipse_spans
from kerf.biarcs import biarc_chains
from kerf.contour import Contour, Floats, Point, Vertex
from kerf.errors import GeometryError, InputError
from kerf.reading.drawing import Healed, Healing, Origin, Strand
from kerf.reading.svg_path import Cubic, EllipticArc, Line, Piece, Subpath
from kerf.tolerance import (
    ARC_FIT_MM,
    BEZIER_ARC_SHARE,
    BEZIER_CIRCLE_SHARE,
    CIRCULAR_RELATIVE,
    COINCIDENT_MM,
)

#: With more free curves than this in a drawing they are followed quickly, not sparingly.
FEW_CURVES = 24
#: A curve that needs more arcs than this the quick way is too wild to search for fewer.
FEW_ARCS = 64
#: An exported arc is cut at quarters; a longer one was no arc.
_LONGEST_HALF_TURN_RAD = math.radians(50.0)


def strands_of(
    runs: Iterable[tuple[Subpath, Origin]], *, path: str
) -> tuple[list[Strand], list[Healed]]:
    """Return the strands of drawn runs, and which curves were replaced by arcs.

    Args:
        runs: what is drawn, mm, and where it came from.
        path: file, for errors.
    Raises:
        InputError: a curve that cannot be followed.
    """
    known = [(run, origin, [_exact(p) for p in run.pieces]) for run, origin in runs]
    free = [
        piece
        for run, _, rows in known
        if _circle(run) is None
        for piece, row in zip(run.pieces, rows, strict=True)
        if row is None and not _is_point(piece)
    ]
    try:
        followed = _quick(free)
    except GeometryError as fault:
        raise InputError(f"a curve cannot be followed: {fault.what}", where=path) from fault
    quick = {
        id(curve): chain
        for curve, chain in zip(free, followed, strict=True)
        if len(free) > FEW_CURVES or len(chain.vertices) > FEW_ARCS
    }
    strands: list[Strand] = []
    healed: list[Healed] = []
    for run, origin, exact in known:
        try:
            rows, worst, closed = _rows(run, exact, quick)
        except GeometryError as fault:
            raise InputError(
                f"a curve cannot be followed: {fault.what}",
                where=f"{path}: {origin}",
                hint="repair or delete this element",
            ) from fault
        if len(rows) < 2:
            continue
        strands.append(Strand(rows=tuple(rows), closed=closed, origin=origin))
        if worst > 0.0:
            at = Point(rows[0][0], rows[0][1])
            healed.append(Healed(kind=Healing.CURVE, at=at, origin=origin, amount_mm=worst))
    return strands, healed


def _quick(curves: Sequence[Piece]) -> list[ArcChain]:
    """Return each of many curves as arcs."""
    if not curves:
        return []
    return biarc_chains([_spans(curve) for curve in curves])


def _spans(curve: Piece) -> Floats:
    """Return a curve as the Bézier spans it equals."""
    if isinstance(curve, EllipticArc):
        return ellipse_spans(*_axes(curve))
    if isinstance(curve, Cubic):
        return bezier_spans([(curve.start, curve.first, curve.second, curve.end)])
    return bezier_spans([(curve.start, curve.end)])


def _rows(
    run: Subpath, exact: Sequence[tuple[Vertex, float] | None], quick: dict[int, ArcChain]
) -> tuple[list[Vertex], float, bool]:
    """Return the rows of a run, the greatest deviation of its arcs, and whether it is closed."""
    ring = _circle(run)
    if ring is not None:
        return list(ring[0].vertices), ring[1], True
    rows: list[Vertex] = []
    worst = 0.0
    pending: list[Cubic] = []

    def follow() -> None:
        nonlocal worst
        if pending:
            spans = [(c.start, c.first, c.second, c.end) for c in pending]
            chain = curve_arcs(spans, ARC_FIT_MM)
            rows.extend(chain.vertices[:-1])
            worst = max(worst, chain.deviation_mm)
            pending.clear()

    for piece, row in zip(run.pieces, exact, strict=True):
        if row is None and _is_point(piece):
            continue
        if isinstance(piece, Cubic) and row is None and id(piece) not in quick:
            pending.append(piece)
            continue
        follow()
        if row is not None:
            rows.append(row[0])
            worst = max(worst, row[1])
            continue
        chain = quick.get(id(piece))
        if chain is None and isinstance(piece, EllipticArc):
            chain = ellipse_arcs(*_axes(piece))
        assert chain is not None
        rows += [Vertex(*piece.start, chain.vertices[0].bulge), *chain.vertices[1:-1]]
        worst = max(worst, chain.deviation_mm)
    follow()
    end = run.pieces[-1].end
    if not (run.closed and rows and (rows[0][0], rows[0][1]) == tuple(end)):
        rows.append(Vertex(end.x, end.y))
    return rows, worst, run.closed


def _is_point(piece: Piece) -> bool:
    """Return whether a curve has no extent worth following."""
    if isinstance(piece, EllipticArc):
        return max(map(abs, (*piece.u, *piece.v))) <= COINCIDENT_MM
    xs, ys = zip(*piece.box(), strict=True)
    return bool(max(xs) - min(xs) <= COINCIDENT_MM and max(ys) - min(ys) <= COINCIDENT_MM)


def _exact(piece: Piece) -> tuple[Vertex, float] | None:
    """Return the row that starts a piece which is one line or arc, and how far that is from
    it as drawn (mm); None for a curve that is neither."""
    if isinstance(piece, Line):
        return Vertex(*piece.start), 0.0
    if isinstance(piece, EllipticArc):
        return _arc_row(piece)
    return _cubic_row(piece)


def _arc_row(arc: EllipticArc) -> tuple[Vertex, float] | None:
    """Return the row of an elliptical arc that is circular."""
    a, b = math.hypot(*arc.u), math.hypot(*arc.v)
    skew = arc.u.x * arc.v.x + arc.u.y * arc.v.y
    if abs(a - b) > CIRCULAR_RELATIVE * a or abs(skew) > CIRCULAR_RELATIVE * a * b:
        return None
    side = 1.0 if arc.u.x * arc.v.y - arc.u.y * arc.v.x > 0 else -1.0
    return Vertex(*arc.start, side * math.tan(arc.sweep_rad / 4)), 0.0


def _axes(arc: EllipticArc) -> tuple[Point, tuple[float, float], float, float, float]:
    """Return centre, major axis, ratio and both eccentric angles of an arc of an ellipse.

    Raises:
        GeometryError: the ellipse is squeezed flat.
    """
    left, size, right = np.linalg.svd(np.array([[arc.u.x, arc.v.x], [arc.u.y, arc.v.y]]))
    if np.linalg.det(left) < 0:
        left[:, 1] *= -1
        size[1] *= -1
    if np.linalg.det(right) < 0:
        right[1] *= -1
        size[1] *= -1
    if abs(size[1]) <= COINCIDENT_MM:
        raise GeometryError("an ellipse is squeezed flat")
    turn = math.atan2(right[1, 0], right[0, 0])
    ratio, start = float(size[1] / size[0]), arc.t0_rad + turn
    if arc.sweep_rad < 0:
        ratio, start = -ratio, -start
    major = (float(left[0, 0] * size[0]), float(left[1, 0] * size[0]))
    return arc.centre, major, ratio, start, start + abs(arc.sweep_rad)


def _cubic_row(curve: Cubic) -> tuple[Vertex, float] | None:
    """Return the row of a Bézier curve that is a straight line or was an arc."""
    cx, cy = curve.end.x - curve.start.x, curve.end.y - curve.start.y
    chord = math.hypot(cx, cy)
    if chord <= COINCIDENT_MM:
        return None
    # Controls seen from the start and from the end, along and across the chord.
    ux, uy = cx / chord, cy / chord
    fx, fy = curve.first.x - curve.start.x, curve.first.y - curve.start.y
    sx, sy = curve.end.x - curve.second.x, curve.end.y - curve.second.y
    f_along, f_across = fx * ux + fy * uy, ux * fy - uy * fx
    s_along, s_across = sx * ux + sy * uy, ux * sy - uy * sx
    if abs(f_across) <= COINCIDENT_MM and abs(s_across) <= COINCIDENT_MM:
        monotone = f_along >= 0 and s_along >= 0 and f_along + s_along <= chord
        return (Vertex(*curve.start), 0.0) if monotone else None
    half = math.atan2(f_across - s_across, f_along + s_along)
    if not 0 < abs(half) <= _LONGEST_HALF_TURN_RAD:
        return None
    radius = chord / (2 * math.sin(abs(half)))
    handle = 4 / 3 * math.tan(abs(half) / 2) * radius
    along, across = handle * math.cos(half), handle * math.sin(half)
    off = max(
        math.hypot(f_along - along, f_across - across),
        math.hypot(s_along - along, s_across + across),
    )
    if off > BEZIER_ARC_SHARE * handle + ARC_FIT_MM:
        return None
    # Material of the drawn curve lies right of the chord when it turns left: bulge > 0.
    bulge = -math.tan(half / 2)
    return Vertex(*curve.start, bulge), _off_circle(curve, bulge)


def _off_circle(curve: Cubic, bulge: float) -> float:
    """Return the greatest distance from the curve to the arc that takes its place, mm."""
    k = (1 - bulge * bulge) / (4 * bulge)
    dx, dy = curve.end.x - curve.start.x, curve.end.y - curve.start.y
    x, y = (curve.start.x + curve.end.x) / 2 - k * dy, (curve.start.y + curve.end.y) / 2 + k * dx
    radius = math.hypot(curve.start.x - x, curve.start.y - y)
    points = (curve.at(i / 16) for i in range(1, 16))
    return max(abs(math.hypot(p.x - x, p.y - y) - radius) for p in points)


def _circle(run: Subpath) -> tuple[Contour, float] | None:
    """Return the circle that a closed run of Bézier curves was drawn as, and its deviation."""
    pieces = run.pieces
    if len(pieces) > 1 and isinstance(pieces[-1], Line) and pieces[-1].start == pieces[-1].end:
        pieces = pieces[:-1]
    curves = [p for p in pieces if isinstance(p, Cubic)]
    if len(curves) != len(pieces) or len(curves) < 2:
        return None
    gap = math.dist(curves[0].start, curves[-1].end)
    joints = [c.start for c in curves]
    x, y = sum(p.x for p in joints) / len(joints), sum(p.y for p in joints) / len(joints)
    radius = sum(math.dist(p, (x, y)) for p in joints) / len(joints)
    limit = BEZIER_CIRCLE_SHARE * radius + ARC_FIT_MM
    if gap > COINCIDENT_MM or radius <= limit:
        return None
    worst = turn = 0.0
    for curve in curves:
        points = [curve.at(i / 16) for i in range(17)]
        worst = max(worst, *(abs(math.dist(p, (x, y)) - radius) for p in points))
        if worst > limit:
            return None
        for p, q in pairwise(points):
            turn += math.atan2(
                (p.x - x) * (q.y - y) - (p.y - y) * (q.x - x),
                (p.x - x) * (q.x - x) + (p.y - y) * (q.y - y),
            )
    if abs(abs(turn) - 2 * math.pi) > 1e-6:
        return None
    return Contour.circle(x, y, radius), worst
