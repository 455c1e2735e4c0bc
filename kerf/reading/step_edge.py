"""Edges of the geometry kernel as lines and arcs on the page.

Lines and circles come over as they are; ellipses and splines are followed by tangent arcs
within ``ARC_FIT_MM``. A B-spline seen along an axis is the B-spline of its poles seen so.
"""

from __future__ import annotations

import math
from typing import Any

from kerf.arcs import ellipse_arcs, spline_arcs
from kerf.reading.step_frame import Frame, Refused, triple
from kerf.tolerance import COINCIDENT_MM


def strand(edge: Any, frame: Frame) -> dict[str, Any]:
    """Return an edge as rows (x, y, bulge) on the page."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.GeomAbs import GeomAbs_Circle, GeomAbs_Ellipse, GeomAbs_Line

    curve = BRepAdaptor_Curve(edge)
    t0, t1 = curve.FirstParameter(), curve.LastParameter()
    kind = curve.GetType()
    start, end = (frame.flat(triple(curve.Value(t))) for t in (t0, t1))
    if kind == GeomAbs_Line:
        rows: list[tuple[float, ...]] = [(*start, 0.0), (*end, 0.0)]
        return {"kind": "line", "rows": rows, "closed": False, "off_mm": 0.0}
    if kind in (GeomAbs_Circle, GeomAbs_Ellipse):
        return _round(curve, kind == GeomAbs_Circle, frame, start, end)
    return _spline(curve, frame)


def _round(
    curve: Any, is_circle: bool, frame: Frame, start: tuple[float, float], end: tuple[float, float]
) -> dict[str, Any]:
    """Return a circle, an ellipse or a part of one that lies in the page's plane."""
    shape = curve.Circle() if is_circle else curve.Ellipse()
    axes = shape.Position()
    right, up = triple(axes.XDirection()), triple(axes.YDirection())
    (ux, uy), (vx, vy) = frame.flat(right), frame.flat(up)
    sense = 1.0 if ux * vy - uy * vx > 0 else -1.0
    if abs(abs(ux * vy - uy * vx) - 1) > 1e-9:
        raise Refused("a round edge does not lie in the plane of the view", "choose another view")
    t0, t1 = curve.FirstParameter(), curve.LastParameter()
    sweep, whole = t1 - t0, abs(t1 - t0 - 2 * math.pi) < 1e-9
    if is_circle:
        bulge = sense * math.tan(sweep / 4)
        if whole:
            half = frame.flat(triple(curve.Value(t0 + math.pi)))
            rows = [(*start, sense), (*half, sense)]
        else:
            rows = [(*start, bulge), (*end, 0.0)]
        return {"kind": "circle", "rows": rows, "closed": whole, "off_mm": 0.0}
    centre = frame.flat(triple(shape.Location()))
    big, small = shape.MajorRadius(), shape.MinorRadius()
    chain = ellipse_arcs(centre, (big * ux, big * uy), sense * small / big, t0, t1)
    return {
        "kind": "ellipse",
        "rows": [tuple(v) for v in chain.vertices],
        "closed": chain.closed,
        "off_mm": chain.deviation_mm,
    }


def _spline(curve: Any, frame: Frame) -> dict[str, Any]:
    """Return any other curve, as the B-spline it equals, followed by arcs."""
    from OCP.Geom import Geom_TrimmedCurve
    from OCP.GeomConvert import GeomConvert

    placed = curve.GeomCurve().Transformed(curve.Trsf())
    whole = Geom_TrimmedCurve(placed, curve.FirstParameter(), curve.LastParameter())
    spline = GeomConvert.CurveToBSplineCurve_s(whole)
    n = spline.NbPoles()
    poles = [frame.flat(triple(spline.Pole(i))) for i in range(1, n + 1)]
    weights = [spline.Weight(i) for i in range(1, n + 1)]
    knots = [
        spline.Knot(i)
        for i in range(1, spline.NbKnots() + 1)
        for _ in range(spline.Multiplicity(i))
    ]
    closed = math.dist(poles[0], poles[-1]) <= COINCIDENT_MM
    chain = spline_arcs(poles, spline.Degree(), knots, weights, closed)
    return {
        "kind": "spline",
        "rows": [tuple(v) for v in chain.vertices],
        "closed": closed,
        "off_mm": chain.deviation_mm,
    }
