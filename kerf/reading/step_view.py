"""A section or an outline of a solid, as edges of the geometry kernel, with probes.

*Section*: the plane cuts the solid's faces; planes, cylinders and cones give true lines,
circles and ellipses. *Outline*: hidden-line removal gives the visible edges as exact curves;
they are cut where they meet, and an edge is kept when a ray along the view strikes the solid
on one side of it only. That yields the shadow of the part, through holes included.

Probes are places on the page and the kernel's own word on whether material is there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any

from kerf.reading.step_frame import Frame, Refused, box, edges, span
from kerf.tolerance import COINCIDENT_MM, SIDE_PROBE_MM

#: Probes along each side of the view.
PROBES = 24


def section(solid: Any, frame: Frame, at_mm: float, faces_at_mm: Iterable[float]) -> list[Any]:
    """Return the edges in which the plane at a height cuts the solid.

    Args:
        solid: the solid.
        frame: the view.
        at_mm: height along the view's axis.
        faces_at_mm: heights at which planar faces lie square to the axis.
    """
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Section
    from OCP.gp import gp_Dir, gp_Pln, gp_Pnt

    low, high = span(solid, frame)
    if not low < at_mm < high:
        raise Refused(
            f"no material at {at_mm:.6g} mm: along this axis the solid runs from {low:.6g} to "
            f"{high:.6g} mm",
            "choose a height between",
        )
    if any(abs(h - at_mm) <= 10 * COINCIDENT_MM for h in faces_at_mm):
        raise Refused(
            f"a face of the solid lies at {at_mm:.6g} mm, where the section jumps",
            "choose a height a little above or below it",
        )
    plane = gp_Pln(gp_Pnt(*frame.space(0, 0, at_mm)), gp_Dir(*frame.eye))
    cut = BRepAlgoAPI_Section(solid, plane, False)
    cut.Approximation(False)
    cut.Build()
    if not cut.IsDone():
        raise Refused("the kernel could not cut the solid there", "choose another height")
    return list(edges(cut.Shape()))


def _grid(solid: Any, frame: Frame) -> Iterator[tuple[float, float]]:
    """Yield the places of the probes on the page."""
    (x0, y0), (x1, y1) = (frame.flat(p) for p in box(solid))
    for i in range(PROBES):
        for j in range(PROBES):
            # Off the middle lines, where symmetric parts have their edges.
            yield x0 + (x1 - x0) * (i + 0.437) / PROBES, y0 + (y1 - y0) * (j + 0.571) / PROBES


def section_probes(solid: Any, frame: Frame, at_mm: float) -> list[tuple[float, float, bool]]:
    """Return places on the page and whether the solid is there at the height."""
    from OCP.BRepClass3d import BRepClass3d_SolidClassifier
    from OCP.gp import gp_Pnt
    from OCP.TopAbs import TopAbs_IN

    classifier = BRepClass3d_SolidClassifier(solid)
    out = []
    for x, y in _grid(solid, frame):
        classifier.Perform(gp_Pnt(*frame.space(x, y, at_mm)), COINCIDENT_MM)
        out.append((x, y, classifier.State() == TopAbs_IN))
    return out


class _Rays:
    """Whether a ray along the view strikes the solid."""

    def __init__(self, solid: Any, frame: Frame) -> None:
        from OCP.IntCurvesFace import IntCurvesFace_ShapeIntersector

        self.rays = IntCurvesFace_ShapeIntersector()
        self.rays.Load(solid, COINCIDENT_MM)
        self.frame = frame
        low, high = span(solid, frame)
        self.reach = (low - 1.0, high + 1.0)

    def strike(self, x: float, y: float) -> bool:
        """Return whether material lies behind a place on the page."""
        from OCP.gp import gp_Dir, gp_Lin, gp_Pnt

        line = gp_Lin(gp_Pnt(*self.frame.space(x, y, 0.0)), gp_Dir(*self.frame.eye))
        self.rays.Perform(line, *self.reach)
        return bool(self.rays.NbPnt() > 0)


def outline_probes(solid: Any, frame: Frame) -> list[tuple[float, float, bool]]:
    """Return places on the page and whether the solid's shadow is there."""
    rays = _Rays(solid, frame)
    return [(x, y, rays.strike(x, y)) for x, y in _grid(solid, frame)]


def outline(solid: Any, frame: Frame) -> list[Any]:
    """Return the edges that bound the solid's shadow, in the page's plane."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.gp import gp_Pnt, gp_Vec

    rays = _Rays(solid, frame)
    kept = []
    for edge in _cut_where_they_meet(_visible(solid, frame)):
        curve = BRepAdaptor_Curve(edge)
        point, along = gp_Pnt(), gp_Vec()
        # A little off the middle, where a symmetric curve meets another edge least likely.
        t0, t1 = curve.FirstParameter(), curve.LastParameter()
        curve.D1(t0 + (t1 - t0) * 0.4871, point, along)
        size = math.hypot(along.X(), along.Y())
        if size == 0.0:
            continue
        nx, ny = -along.Y() / size * SIDE_PROBE_MM, along.X() / size * SIDE_PROBE_MM
        x, y = point.X(), point.Y()
        if rays.strike(x + nx, y + ny) != rays.strike(x - nx, y - ny):
            kept.append(edge)
    return kept


def _visible(solid: Any, frame: Frame) -> list[Any]:
    """Return the visible edges and outlines of a view as exact curves in the page's plane."""
    from OCP.BRepLib import BRepLib
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
    from OCP.HLRAlgo import HLRAlgo_Projector
    from OCP.HLRBRep import HLRBRep_Algo, HLRBRep_HLRToShape

    hidden = HLRBRep_Algo()
    hidden.Add(solid, 0)
    axes = gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(*frame.eye), gp_Dir(*frame.right))
    hidden.Projector(HLRAlgo_Projector(axes))
    hidden.Update()
    hidden.Hide()
    shapes = HLRBRep_HLRToShape(hidden)
    out = []
    for kind in (
        shapes.VCompound,
        shapes.Rg1LineVCompound,
        shapes.RgNLineVCompound,
        shapes.OutLineVCompound,
    ):
        compound = kind()
        if compound is not None and not compound.IsNull():
            BRepLib.BuildCurves3d_s(compound)
            out += list(edges(compound))
    return out


def _cut_where_they_meet(drawn: list[Any]) -> list[Any]:
    """Return the edges cut at every crossing and overlap."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_BuilderAlgo
    from OCP.collections import List_TopoDS_Shape

    if len(drawn) < 2:
        return drawn
    shapes = List_TopoDS_Shape()
    for edge in drawn:
        shapes.Append(edge)
    builder = BRepAlgoAPI_BuilderAlgo()
    builder.SetArguments(shapes)
    builder.Build()
    if not builder.IsDone():
        raise Refused(
            "the kernel could not join the view's edges", "take a section at a height instead"
        )
    return list(edges(builder.Shape()))
