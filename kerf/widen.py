"""What a beam cuts wider on curves, allowed for before the offset.

A curve is cut slower than a straight and so wider, by ``curve_mm2 / R`` on a path of radius R;
half of that goes to each side. Each arc of the loop is moved by its half away from where the
material is to stand, lines stay, and the offset that follows is the same for all.

Where a moved arc meets an edge that moves less there is a step of a few micrometres, and the
offset would carry the step some hundredths of a millimetre onto that edge, where the beam is
not wider. The moved part is therefore stopped short of such an end, so that the little that is
wrong lies on the arc and takes material away, never leaves it standing.

Source: curves are cut slower and hence wider, laser-cutting guides; the law c / R is ours.
"""

from __future__ import annotations

import math

from kerf.boolean import difference, union
from kerf.contour import Contour, Edge, Region
from kerf.errors import GeometryError
from kerf.tolerance import CURVE_LEAST_RADIUS_MM, CURVE_STEP_MM


def widened(body: Region, *, curve_mm2: float, kerf_mm: float, void: bool) -> Region:
    """Return the region with its arcs moved by what the beam cuts wider there.

    Args:
        body: one loop, as material or, with ``void``, as the cut-out it is.
        curve_mm2: widening times radius, mm², > 0.
        kerf_mm: mean kerf of the cut, mm; tells the radius of the path.
        void: whether the loop is a cut-out, which then shrinks.
    Raises:
        GeometryError: the widening is so large that the loop falls apart.
    """
    edges = list(body.outer.edges())
    moves = [_move_mm(edge, curve_mm2, kerf_mm, void=void) for edge in edges]
    sign = -1.0 if void else 1.0
    strips = [
        _strip(
            edge,
            sign * moves[i],
            start_mm=_short_mm(moves[i] - moves[i - 1], kerf_mm),
            end_mm=_short_mm(moves[i] - moves[(i + 1) % len(moves)], kerf_mm),
        )
        for i, edge in enumerate(edges)
        if moves[i] > 0.0
    ]
    whole = [strip for strip in strips if strip is not None]
    if not whole:
        return body
    pieces = difference(body, whole) if void else union([body, *whole])
    if len(pieces) != 1 or pieces[0].holes:
        raise GeometryError(
            "widening of curves breaks the outline apart",
            hint="look at the card's curve term: it is too large for arcs of this radius",
        )
    return pieces[0]


def _move_mm(edge: Edge, curve_mm2: float, kerf_mm: float, *, void: bool) -> float:
    """Return by how much an edge is moved, mm; 0 for lines and arcs too tight to tell."""
    if edge.is_line:
        return 0.0
    # The path of an outline lies half a kerf outside it, that of a void inside it.
    outward = (edge.bulge > 0) != void
    radius_mm = edge.radius_mm + (kerf_mm / 2 if outward else -kerf_mm / 2)
    return curve_mm2 / (2 * radius_mm) if radius_mm >= CURVE_LEAST_RADIUS_MM else 0.0


def _short_mm(step_mm: float, kerf_mm: float) -> float:
    """Return how far short of its end a moved arc stops: the reach of an offset round the step."""
    return 1.5 * math.sqrt(kerf_mm * step_mm) if step_mm > CURVE_STEP_MM else 0.0


def _strip(edge: Edge, move_mm: float, *, start_mm: float, end_mm: float) -> Region | None:
    """Return the band between an arc and itself moved to its right, its ends cut short.

    None when nothing is left of it.
    """
    length = edge.length_mm
    t0, t1 = start_mm / length, 1.0 - end_mm / length
    if t1 <= t0:
        return None
    p0, p1 = edge.point_at(t0), edge.point_at(t1)
    n0, n1 = edge.normal_at(t0), edge.normal_at(t1)
    bulge = math.tan((t1 - t0) * edge.sweep_rad / 4)
    return Region(
        outer=Contour.of(
            (
                (*p0, bulge),
                (*p1, 0.0),
                (p1.x - move_mm * n1.x, p1.y - move_mm * n1.y, -bulge),
                (p0.x - move_mm * n0.x, p0.y - move_mm * n0.y, 0.0),
            )
        )
    )
