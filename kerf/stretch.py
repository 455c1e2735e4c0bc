"""A region stretched by different factors along X and Y, its ellipses given back as arcs.

Lines stay lines exactly. A circle's arc becomes an ellipse's, which is replaced by tangent
arcs within a stated tolerance (``kerf.arcs``); the proven deviation comes back with the
region. Equal factors are a plain scale, exact, and no arc is touched.
"""

from __future__ import annotations

import math

from kerf.arcs import ellipse_arcs
from kerf.contour import Contour, Edge, Region, Transform, Vertex


def stretched(
    region: Region, *, x_factor: float, y_factor: float, tolerance_mm: float
) -> tuple[Region, float]:
    """Return the region after x' = x_factor x, y' = y_factor y, and the deviation, mm.

    Args:
        region: any, mm.
        x_factor, y_factor: above 0.
        tolerance_mm: greatest deviation allowed where an ellipse becomes arcs, mm, > 0.
    Returns:
        the region, and a bound on its distance from the true image, mm; 0 when exact.
    """
    if x_factor == y_factor:
        if x_factor == 1.0:
            return region, 0.0
        return region.transformed(Transform.scaling(x_factor)), 0.0
    outer, worst = _loop(region.outer, x_factor, y_factor, tolerance_mm)
    holes = []
    for hole in region.holes:
        loop, deviation = _loop(hole, x_factor, y_factor, tolerance_mm)
        holes.append(loop)
        worst = max(worst, deviation)
    return Region(outer=outer, holes=tuple(holes)), worst


def _loop(loop: Contour, fx: float, fy: float, tolerance_mm: float) -> tuple[Contour, float]:
    """Return one stretched loop and its deviation."""
    rows: list[Vertex] = []
    worst = 0.0
    for edge in loop.edges():
        if edge.is_line:
            rows.append(Vertex(fx * edge.start.x, fy * edge.start.y))
            continue
        chain, deviation = _arc(edge, fx, fy, tolerance_mm)
        worst = max(worst, deviation)
        rows += chain
    return Contour(vertices=tuple(rows)), worst


def _arc(edge: Edge, fx: float, fy: float, tolerance_mm: float) -> tuple[tuple[Vertex, ...], float]:
    """Return the vertices of one stretched arc, its end left out, and its deviation."""
    forward = edge if edge.bulge > 0 else edge.reversed()
    centre, radius = forward.centre, forward.radius_mm
    # The eccentric angle of an ellipse is the circle's angle, counted from the major axis.
    turn = 0.0 if fx >= fy else math.pi / 2
    axis = (fx * radius, 0.0) if fx >= fy else (0.0, fy * radius)
    start = math.atan2(forward.start.y - centre.y, forward.start.x - centre.x) - turn
    chain = ellipse_arcs(
        (fx * centre.x, fy * centre.y),
        axis,
        min(fx, fy) / max(fx, fy),
        start,
        start + forward.sweep_rad,
        tolerance_mm,
    )
    rows = list(chain.vertices)
    # Ends computed through sines are a rounding off the loop's own vertices: take those.
    rows[0] = Vertex(fx * forward.start.x, fy * forward.start.y, rows[0].bulge)
    rows[-1] = Vertex(fx * forward.end.x, fy * forward.end.y)
    if edge.bulge > 0:
        return tuple(rows[:-1]), chain.deviation_mm
    back = [
        Vertex(v.x, v.y, -before.bulge)
        for v, before in zip(reversed(rows[1:]), reversed(rows[:-1]), strict=True)
    ]
    return tuple(back), chain.deviation_mm
