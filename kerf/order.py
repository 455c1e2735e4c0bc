"""The order a plan is burnt in: nothing drops before it is finished, nothing is cooked.

Marks come first, on a sheet that still lies still. Then the cuts: whatever lies within a loop
is cut before that loop, so holes come before their outline, and a small piece that lies in
another's window is finished before the window drops out with it. Among the orders that allow
that, the round is short (see ``kerf.tour``), and two cuts closer than the heat distance come
one after the other only where nothing else is left to do in between.

Pieces never share a cut: a shared cut puts the beam on both sides of one line, so that neither
wall is where its own outline says. The layout keeps them apart, and ``check_apart`` says so
when a plan from elsewhere does not.

Where a cut begins is not chosen here but in ``kerf.lead``: in scrap and away from every
stretch that locates, so that a face is cut in one pass without a seam.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerf.beam import BeamPath, CutPlan, Operation, Stroke
from kerf.contour import Point
from kerf.errors import GeometryError
from kerf.tolerance import ORDER_FACET_MM
from kerf.tour import closure, round_length, short_round, travel_costs

Bools = NDArray[np.bool_]

#: Extra way, mm, that is worth going to let heat spread between two neighbouring cuts: more
#: than the diagonal of any bed, so that travel never buys heat.
HEAT_DETOUR_MM = 5000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CutOrder:
    """An order of cuts, and what it costs.

    Args:
        order: indices of the paths as they were given.
        travel_mm: way between cuts, from the head's rest to the last cut.
        hot: how many times a cut follows one within the heat distance.
    """

    order: tuple[int, ...]
    travel_mm: float
    hot: int


def cut_order(
    paths: Sequence[BeamPath], *, heat_mm: float = 0.0, rest: Point | None = None
) -> CutOrder:
    """Return the order the cuts are best made in.

    Args:
        paths: cuts of one sheet, with their ways in.
        heat_mm: cuts nearer than this heat each other, mm; 0 when heat does not matter.
        rest: where the head starts; (0, 0) when not given.
    Raises:
        GeometryError: two paths enclose each other.
    """
    if not heat_mm >= 0.0:
        raise GeometryError(f"the heat distance must be 0 mm or more, not {heat_mm:.4g} mm")
    start = rest if rest is not None else Point(0.0, 0.0)
    costs = travel_costs(start, [begins_at(p) for p in paths], [ends_at(p) for p in paths])
    before = must_precede(paths)
    neighbours = heated(paths, heat_mm)
    n = len(paths)
    weighed = costs.copy()
    weighed[:n, :n] += HEAT_DETOUR_MM * neighbours
    order = short_round(weighed, before)
    return CutOrder(
        order=order,
        travel_mm=round_length(order, costs),
        hot=sum(bool(neighbours[a, b]) for a, b in itertools.pairwise(order)),
    )


def ordered(plan: CutPlan, *, heat_mm: float = 0.0) -> CutPlan:
    """Return the plan in the order it is best burnt.

    References come first, then marks on a short way, then the cuts.

    Args:
        plan: what is to be burnt, in any order.
        heat_mm: see ``cut_order``.
    """
    order = cut_order(plan.paths, heat_mm=heat_mm)
    shown = tuple(s for s in plan.strokes if s.operation is Operation.REFERENCE)
    burnt = [s for s in plan.strokes if s.operation is not Operation.REFERENCE]
    return replace(
        plan,
        strokes=(*shown, *strokes_on_the_way(burnt)),
        paths=tuple(plan.paths[i] for i in order.order),
    )


def strokes_on_the_way(strokes: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """Return marks so that each begins near the end of the last, turned round where that helps."""
    if not strokes:
        return ()
    ends = np.array([[s.points[0], s.points[-1]] for s in strokes], dtype=float)
    left = np.ones(len(strokes), dtype=bool)
    here = np.zeros(2)
    out = []
    for _ in strokes:
        away = np.hypot(*(ends - here).transpose(2, 0, 1))
        away[~left] = math.inf
        i, end = divmod(int(np.argmin(away)), 2)
        stroke = strokes[i]
        out.append(replace(stroke, points=stroke.points[::-1]) if end else stroke)
        here = ends[i, 1 - end]
        left[i] = False
    return tuple(out)


def begins_at(path: BeamPath) -> Point:
    """Return where a cut is pierced."""
    if path.lead_in:
        return path.lead_in[0]
    return Point(path.contour.vertices[0].x, path.contour.vertices[0].y)


def ends_at(path: BeamPath) -> Point:
    """Return where a cut ends: where its loop closes."""
    return Point(path.contour.vertices[0].x, path.contour.vertices[0].y)


def must_precede(paths: Sequence[BeamPath]) -> Bools:
    """Return which cut must come before which: whatever a loop encloses comes before it.

    Returns:
        shape (n, n): whether the row's path must come before the column's.
    """
    import shapely

    n = len(paths)
    inside = np.zeros((n, n), dtype=bool)
    boxes = [path.contour.bounds() for path in paths]
    rings = [shapely.Polygon(path.contour.facets(ORDER_FACET_MM)) for path in paths]
    for ring in rings:
        shapely.prepare(ring)
    for i, j in itertools.permutations(range(n), 2):
        a, b = boxes[i], boxes[j]
        if (
            b.x_min <= a.x_min
            and a.x_max <= b.x_max
            and b.y_min <= a.y_min
            and a.y_max <= b.y_max
            and rings[i].area < rings[j].area
        ):
            vertices = [(v.x, v.y) for v in paths[i].contour.vertices]
            inside[i, j] = bool(shapely.contains_xy(rings[j], np.array(vertices)).all())
    return closure(inside)


def heated(paths: Sequence[BeamPath], heat_mm: float) -> Bools:
    """Return which cuts heat each other: shape (n, n), symmetric, none with itself."""
    import shapely

    n = len(paths)
    if not heat_mm or n < 2:
        return np.zeros((n, n), dtype=bool)
    rings = np.array([shapely.LinearRing(path.contour.facets(ORDER_FACET_MM)) for path in paths])
    near: Bools = shapely.distance(rings[:, None], rings[None, :]) < heat_mm
    np.fill_diagonal(near, False)
    return near


def check_apart(paths: Sequence[BeamPath], *, least_mm: float) -> None:
    """Refuse cuts of different pieces that lie closer than a gap, or share an edge.

    Args:
        paths: cuts of one sheet.
        least_mm: least distance between the beam's centres, mm, > 0: a kerf and what must
            stand between two kerfs.
    Raises:
        GeometryError: two pieces' cuts come closer.
    """
    import shapely

    rings = [shapely.LinearRing(path.contour.facets(ORDER_FACET_MM)) for path in paths]
    tree = shapely.STRtree(rings)
    first, second = tree.query(rings, predicate="dwithin", distance=least_mm)
    for i, j in sorted(zip(first.tolist(), second.tolist(), strict=True)):
        if paths[i].piece != paths[j].piece and rings[i].distance(rings[j]) < (
            least_mm - 2 * ORDER_FACET_MM
        ):
            raise GeometryError(
                f'the cuts of "{paths[i].piece}" and "{paths[j].piece}" come within '
                f"{rings[i].distance(rings[j]):.3f} mm; they must keep {least_mm:.3f} mm apart",
                hint="widen the gap between pieces; pieces never share a cut",
            )
