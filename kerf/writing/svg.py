"""A cut plan as SVG at true size: arcs as arcs, one group an operation, millimetres.

The viewBox is in millimetres and the physical size is stated, so that a reader that honours
either gets true size. SVG's y axis points down: coordinates are turned over here, once.
"""

from __future__ import annotations

import io
import itertools
import math
from collections.abc import Iterable, Mapping

from kerf.beam import CutPlan, Operation
from kerf.contour import Contour, Edge, Point, Vertex
from kerf.lead import burnt_runs
from kerf.writing.statement import statement


def svg_bytes(
    plan: CutPlan, *, colours: Mapping[Operation, str], line_width_mm: float = 0.1
) -> bytes:
    """Return the SVG file of a plan.

    Args:
        plan: what to cut, mm.
        colours: "#rrggbb" of each operation.
        line_width_mm: of every line, mm.
    """
    import svgwrite

    w, h = plan.width_mm, plan.height_mm
    drawing = svgwrite.Drawing(
        size=(f"{_number(w)}mm", f"{_number(h)}mm"),
        viewBox=f"0 0 {_number(w)} {_number(h)}",
        debug=False,
    )
    drawing.set_desc(desc=statement(plan))
    for operation in Operation:
        group = drawing.g(
            id=operation.value,
            fill="none",
            stroke=colours[operation],
            stroke_width=_number(line_width_mm),
        )
        for stroke in plan.strokes:
            if stroke.operation is operation:
                group.add(drawing.path(d=_polyline(stroke.points, h)))
        for path in plan.paths:
            if path.operation is operation:
                if path.lead_in or path.tabs:
                    for run in burnt_runs(path):
                        group.add(drawing.path(d=_run_data(run, h)))
                else:
                    group.add(drawing.path(d=path_data(path.contour, h)))
        if group.elements:
            drawing.add(group)
    out = io.StringIO()
    drawing.write(out, pretty=True, indent=1)
    return out.getvalue().encode()


def path_data(contour: Contour, height_mm: float) -> str:
    """Return a closed loop as path data in a frame of the given height, y down."""
    first = contour.vertices[0]
    return f"{_edges_data(first, contour.edges(), height_mm)} Z"


def _run_data(run: tuple[Vertex, ...], height_mm: float) -> str:
    """Return an open run as path data in a frame of the given height, y down."""
    edges = (
        Edge(start=Point(v.x, v.y), end=Point(w.x, w.y), bulge=v.bulge)
        for v, w in itertools.pairwise(run)
    )
    return _edges_data(run[0], edges, height_mm)


def _edges_data(first: Vertex, edges: Iterable[Edge], height_mm: float) -> str:
    """Return joined edges as path data, y down."""
    parts = [f"M{_number(first.x)} {_number(height_mm - first.y)}"]
    for edge in edges:
        x, y = _number(edge.end.x), _number(height_mm - edge.end.y)
        if edge.is_line:
            parts.append(f"L{x} {y}")
            continue
        r = _number(edge.radius_mm)
        large = 1 if abs(edge.sweep_rad) > math.pi else 0
        # Counter-clockwise with y up is the negative-angle direction with y down.
        sweep = 0 if edge.bulge > 0 else 1
        parts.append(f"A{r} {r} 0 {large} {sweep} {x} {y}")
    return " ".join(parts)


def _polyline(points: tuple[Point, ...], height_mm: float) -> str:
    """Return an open line as path data."""
    return "M" + " L".join(f"{_number(p.x)} {_number(height_mm - p.y)}" for p in points)


def _number(value: float) -> str:
    """Return a length to a nanometre, without trailing zeros or a negative zero."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
