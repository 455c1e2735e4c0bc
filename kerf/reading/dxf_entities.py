"""Each kind of DXF entity that can be part of an outline, as curves in the world.

One small function per kind. Arcs, circles, polylines and hatches live in a plane of their own
(the arbitrary axis of their extrusion); lines, ellipses and splines in the world. What a
group code is missing is an error, never a default: a line without its end is no line to the
origin.

Source: DXF reference, ENTITIES section (group codes, polyline and vertex flags, arbitrary
axis algorithm).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any, Final

from kerf.reading.curves import (
    Curve,
    Flat,
    Frame,
    Oval,
    Spline,
    Triple,
    after,
    arc_rows,
    mapped,
    oval,
    run_curves,
    turned,
)
from kerf.reading.drawing import Origin
from kerf.tolerance import ENTITIES_LARGEST, RELATIVE_ROUNDING, WHOLE_TURN_RAD


def _given(entity: Any, *names: str) -> list[Any]:
    """Return attributes that an entity cannot do without.

    Raises:
        ValueError: one is missing.
    """
    # ezdxf keeps what the file gave as plain attributes; vars() sees no defaults.
    given = vars(entity.dxf)
    try:
        return [given[name] for name in names]
    except KeyError as missing:
        raise ValueError(f"its {str(missing.args[0]).replace('_', ' ')} is missing") from None


def _own_frame(entity: Any, outer: Frame | None) -> Frame | None:
    """Return the map from an entity's own plane to the world; None when nothing moves."""
    extrusion = vars(entity.dxf).get("extrusion")
    if extrusion is None or (extrusion[0] == 0 and extrusion[1] == 0 and extrusion[2] > 0):
        return outer
    from ezdxf.math import OCS

    ocs = OCS(extrusion)
    own: Frame = ((0.0, 0.0, 0.0), tuple(ocs.ux), tuple(ocs.uy), tuple(ocs.uz))
    return own if outer is None else after(outer, own)


def insert_frames(insert: Any) -> Iterator[Frame]:
    """Yield the map of each place of an INSERT (one, or a grid)."""
    (at,) = _given(insert, "insert")
    dxf = insert.dxf
    base = insert.block().block.dxf.get("base_point", (0.0, 0.0, 0.0))
    angle = math.radians(dxf.get("rotation", 0.0))
    # Right angles stay exact, so that arcs in the block do not turn into ellipses by rounding.
    quarter = angle / (math.pi / 2)
    cos, sin = math.cos(angle), math.sin(angle)
    if abs(quarter - round(quarter)) < RELATIVE_ROUNDING:
        cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarter) % 4]
    sx, sy, sz = (float(dxf.get(name, 1.0)) for name in ("xscale", "yscale", "zscale"))
    if sx == 0 or sy == 0:
        raise ValueError("its scale is 0")
    own = _own_frame(insert, None)
    columns, rows = max(1, dxf.get("column_count", 1)), max(1, dxf.get("row_count", 1))
    dx, dy = dxf.get("column_spacing", 0.0), dxf.get("row_spacing", 0.0)
    columns, rows = columns if dx else 1, rows if dy else 1
    if columns * rows > ENTITIES_LARGEST:
        raise ValueError(f"its grid has {columns * rows:,} places")
    for row in range(rows):
        for column in range(columns):
            # The grid turns with the block and is not scaled.
            gx, gy = column * dx, row * dy
            place: Frame = (
                (at[0] + gx * cos - gy * sin, at[1] + gx * sin + gy * cos, at[2]),
                (sx * cos, sx * sin, 0.0),
                (-sy * sin, sy * cos, 0.0),
                (0.0, 0.0, sz),
            )
            shift = turned(place, (-base[0], -base[1], -base[2] if len(base) > 2 else 0.0))
            o = place[0]
            place = ((o[0] + shift[0], o[1] + shift[1], o[2] + shift[2]), *place[1:])
            yield place if own is None else after(own, place)


def _line(entity: Any, frame: Frame | None, origin: Origin) -> list[Curve]:
    start, end = _given(entity, "start", "end")
    a, b = (start.x, start.y, start.z), (end.x, end.y, end.z)
    if frame is not None:
        a, b = mapped(frame, a), mapped(frame, b)
    ends = ((a[0], a[1], 0.0), (b[0], b[1], 0.0))
    return [Flat(ends, False, min(a[2], b[2]), max(a[2], b[2]), origin)]


def _circular(entity: Any, frame: Frame | None, origin: Origin, sweep: float) -> list[Curve]:
    """Return a circle or an arc."""
    centre, radius = _given(entity, "center", "radius")
    if radius < 0:
        raise ValueError(f"its radius is {radius:.6g}")
    start = 0.0 if sweep == math.tau else math.radians(entity.dxf.get("start_angle") % 360.0)
    frame = _own_frame(entity, frame)
    if radius == 0:
        dot = ((centre.x, centre.y, 0.0), (centre.x, centre.y, 0.0))
        return run_curves(frame, dot, centre.z, False, origin)
    if frame is not None and not _keeps_plane(frame):
        return [oval(frame, (centre.x, centre.y, centre.z), radius, start, sweep, origin)]
    rows, closed = arc_rows(centre.x, centre.y, radius, start, sweep)
    return run_curves(frame, rows, centre.z, closed, origin)


def _keeps_plane(frame: Frame) -> bool:
    """Return whether a map keeps horizontal planes horizontal."""
    return frame[1][2] == 0 and frame[2][2] == 0


def _circle(entity: Any, frame: Frame | None, origin: Origin) -> list[Curve]:
    return _circular(entity, frame, origin, math.tau)


def _arc(entity: Any, frame: Frame | None, origin: Origin) -> list[Curve]:
    start, end = _given(entity, "start_angle", "end_angle")
    sweep = math.radians((end - start) % 360.0)
    # Equal angles are a whole turn, as CAD programs read them.
    return _circular(entity, frame, origin, sweep or math.tau)


def _ellipse(entity: Any, frame: Frame | None, origin: Origin) -> list[Curve]:
    centre, major, ratio = _given(entity, "center", "major_axis", "ratio")
    start, end = entity.dxf.get("start_param", 0.0), entity.dxf.get("end_param", math.tau)
    normal = entity.dxf.extrusion.normalize()
    minor = normal.cross(major) * ratio
    sweep = (end - start) % math.tau
    if sweep < WHOLE_TURN_RAD or sweep > math.tau - WHOLE_TURN_RAD:
        sweep = math.tau
    c, u, v = _triple(centre), _triple(major), _triple(minor)
    if not any(u) or not any(v):
        raise ValueError("one of its axes has no length")
    if frame is not None:
        c, u, v = mapped(frame, c), turned(frame, u), turned(frame, v)
    return [Oval(c, u, v, start % math.tau, sweep, origin)]


def _triple(v: Any) -> Triple:
    """Return a vector's three numbers."""
    return (float(v[0]), float(v[1]), float(v[2]) if len(v) > 2 else 0.0)


def _spline(entity: Any, frame: Frame | None, origin: Origin) -> list[Curve]:
    return [_spline_of(entity.construction_tool(), frame, origin)]


def _spline_of(tool: Any, frame: Frame | None, origin: Origin) -> Spline:
    """Return the curve of an ezdxf B-spline."""
    points = tuple(_triple(p) for p in tool.control_points)
    if frame is not None:
        points = tuple(mapped(frame, p) for p in points)
    knots = tuple(map(float, tool.knots()))
    return Spline(points, int(tool.degree), knots, tuple(map(float, tool.weights())), origin)


def _lwpolyline(entity: Any, frame: Frame | None, origin: Origin) -> list[Curve]:
    rows = tuple((float(x), float(y), float(b)) for x, y, b in entity.get_points("xyb"))
    height = entity.dxf.get("elevation", 0.0)
    return run_curves(_own_frame(entity, frame), rows, height, bool(entity.closed), origin)


def _polyline(entity: Any, frame: Frame | None, origin: Origin) -> list[Curve]:
    # A fitted polyline also stores the frame it was fitted to (flag 16): that is not drawn.
    drawn = [v for v in entity.vertices if not v.dxf.get("flags", 0) & 16]
    at = [_given(v, "location")[0] for v in drawn]
    if entity.is_2d_polyline:
        rows = tuple(
            (p.x, p.y, float(v.dxf.get("bulge", 0.0))) for p, v in zip(at, drawn, strict=True)
        )
        elevation = entity.dxf.get("elevation")
        z = elevation[2] if elevation is not None else 0.0
        return run_curves(_own_frame(entity, frame), rows, z, bool(entity.is_closed), origin)
    points = [(p.x, p.y, p.z) if frame is None else mapped(frame, (p.x, p.y, p.z)) for p in at]
    if len(points) < 2:
        raise ValueError(f"it has {len(points)} vertices")
    heights = [p[2] for p in points]
    flat = tuple((p[0], p[1], 0.0) for p in points)
    return [Flat(flat, bool(entity.is_closed), min(heights), max(heights), origin)]


def _mline(entity: Any, frame: Frame | None, origin: Origin) -> list[Curve]:
    curves: list[Curve] = []
    for piece in entity.virtual_entities():
        take = READERS.get(piece.dxftype())
        if take is not None:
            curves += take(piece, frame, origin)
    return curves


def hatch_curves(entity: Any, frame: Frame | None, origin: Origin) -> list[Curve]:
    frame = _own_frame(entity, frame)
    elevation = entity.dxf.get("elevation")
    z = float(elevation[2]) if elevation is not None else 0.0
    plane: Frame = frame or ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    curves: list[Curve] = []
    for boundary in entity.paths.paths:
        if hasattr(boundary, "vertices"):
            rows = tuple((float(x), float(y), float(b)) for x, y, b in boundary.vertices)
            curves += run_curves(frame, rows, z, bool(boundary.is_closed), origin)
            continue
        for edge in boundary.edges:
            curves += _hatch_edge(edge, frame, plane, z, origin)
    return curves


def _hatch_edge(
    edge: Any, frame: Frame | None, plane: Frame, z: float, origin: Origin
) -> list[Curve]:
    """Return one edge of a hatch's boundary; ezdxf keeps its arcs counter-clockwise."""
    kind = edge.EDGE_TYPE
    if kind == "LineEdge":
        ends = ((edge.start.x, edge.start.y, 0.0), (edge.end.x, edge.end.y, 0.0))
        return run_curves(frame, ends, z, False, origin)
    if kind == "SplineEdge":
        return [_spline_of(edge.construction_tool(), plane, origin)]
    if kind == "ArcEdge":
        start = math.radians(edge.start_angle)
        sweep = math.radians((edge.end_angle - edge.start_angle) % 360.0) or math.tau
        rows, closed = arc_rows(edge.center.x, edge.center.y, edge.radius, start, sweep)
        return run_curves(frame, rows, z, closed, origin)
    start, end = edge.start_param, edge.end_param
    major = (edge.major_axis.x, edge.major_axis.y, 0.0)
    minor = (-major[1] * edge.ratio, major[0] * edge.ratio, 0.0)
    sweep = (end - start) % math.tau or math.tau
    centre = mapped(plane, (edge.center.x, edge.center.y, z))
    return [Oval(centre, turned(plane, major), turned(plane, minor), start, sweep, origin)]


READERS: Final[dict[str, Callable[[Any, Frame | None, Origin], list[Curve]]]] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "MLINE": _mline,
}
