"""A cut plan as DXF: arcs as arcs, one layer an operation, millimetres.

Closed paths are LWPOLYLINE with bulges (R2000) or POLYLINE with bulges (R12); a path of two
half turns is a CIRCLE. A path with a lead-in or tabs is written as the open runs the beam
follows. Marks are open polylines. Layers carry the operation's name in capitals and
its colour. All that varies from run to run (dates, identifiers) is fixed, so that the same
plan writes the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any, Final

from kerf.beam import CutPlan, Operation
from kerf.contour import Contour
from kerf.lead import burnt_runs

#: Releases on offer: the first is the default. R12 is for old machine controls.
RELEASES: Final = ("R2000", "R12")

#: Layer of each operation.
LAYERS: Final[dict[Operation, str]] = {o: o.value.upper() for o in Operation}


def dxf_bytes(
    plan: CutPlan,
    *,
    colours: Mapping[Operation, str],
    release: str = RELEASES[0],
    layers: Mapping[Operation, str] = LAYERS,
    line_width_mm: float | None = None,
) -> bytes:
    """Return the DXF file of a plan.

    Args:
        plan: what to cut, mm.
        colours: "#rrggbb" of each operation.
        release: "R2000" or "R12".
        layers: name of each operation's layer.
        line_width_mm: of every layer, rounded to a width the format knows; its default if None.
            R12 knows none.
    Returns:
        the file's bytes, the same for the same plan.
    """
    import ezdxf
    from ezdxf import colors

    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        doc = ezdxf.new(release, setup=False, units=4)
        if release != "R12":
            doc.header["$MEASUREMENT"] = 1
        for operation in Operation:
            name = layers[operation]
            layer = doc.layers.add(name)
            rgb = colors.RGB.from_hex(colours[operation])
            layer.color = _nearest_index(rgb)
            if release != "R12":
                layer.rgb = rgb
                if line_width_mm is not None:
                    layer.dxf.lineweight = _line_weight(line_width_mm)
        # The frame, not what is drawn in it: every layer is read in the same place.
        space = doc.modelspace()
        space.reset_limits((0.0, 0.0), (plan.width_mm, plan.height_mm))
        space.reset_extents((0.0, 0.0, 0.0), (plan.width_mm, plan.height_mm, 0.0))
        old = release == "R12"
        for stroke in plan.strokes:
            attributes = {"layer": layers[stroke.operation]}
            _open(space, [tuple(p) for p in stroke.points], attributes, old=old)
        for path in plan.paths:
            attributes = {"layer": layers[path.operation]}
            if path.lead_in or path.tabs:
                for run in burnt_runs(path):
                    rows = [tuple(v) for v in run]
                    if old:
                        space.add_polyline2d(rows, format="xyb", dxfattribs=attributes)
                    else:
                        space.add_lwpolyline(rows, format="xyb", dxfattribs=attributes)
                continue
            circle = _circle(path.contour)
            if circle is not None:
                x, y, r = circle
                space.add_circle((x, y), r, dxfattribs=attributes)
            elif old:
                space.add_polyline2d(
                    [tuple(v) for v in path.contour.vertices],
                    format="xyb",
                    close=True,
                    dxfattribs=attributes,
                )
            else:
                space.add_lwpolyline(
                    [tuple(v) for v in path.contour.vertices],
                    format="xyb",
                    close=True,
                    dxfattribs=attributes,
                )
        out = io.StringIO()
        doc.write(out)
        return out.getvalue().encode("utf-8" if not old else "cp1252", errors="replace")
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def _open(
    space: Any, points: list[tuple[float, ...]], attributes: dict[str, str], *, old: bool
) -> None:
    """Add one open line; strokes that close on themselves are closed."""
    closed = len(points) > 2 and points[0] == points[-1]
    if closed:
        points = points[:-1]
    if old:
        space.add_polyline2d(points, close=closed, dxfattribs=attributes)
    else:
        space.add_lwpolyline(points, close=closed, dxfattribs=attributes)


def _circle(contour: Contour) -> tuple[float, float, float] | None:
    """Return (x, y, radius) when the loop is two half turns, else None."""
    if len(contour.vertices) != 2:
        return None
    a, b = contour.vertices
    if abs(abs(a.bulge) - 1) > 1e-12 or a.bulge != b.bulge:
        return None
    edge = contour.edge(0)
    return (a.x + b.x) / 2, (a.y + b.y) / 2, edge.chord_mm / 2


def _line_weight(width_mm: float) -> int:
    """Return the nearest line weight of the format, hundredths of a millimetre."""
    from ezdxf.lldxf.const import VALID_DXF_LINEWEIGHTS

    return int(min(VALID_DXF_LINEWEIGHTS, key=lambda weight: abs(weight - 100 * width_mm)))


def _nearest_index(rgb: Any) -> int:
    """Return the colour index nearest to an RGB, for programs that read only the index."""
    from ezdxf import colors

    return min(
        range(1, 250),
        key=lambda i: sum((a - b) ** 2 for a, b in zip(colors.aci2rgb(i), rgb, strict=True)),
    )
