"""The offset of a region by the OpenCASCADE kernel, as areas and entities of its loops.

Source: Open CASCADE Technology, BRepOffsetAPI_MakeOffset, through cadquery-ocp-novtk.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import pyclipr
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeWire,
)
from OCP.BRepGProp import BRepGProp
from OCP.BRepOffsetAPI import BRepOffsetAPI_MakeOffset
from OCP.BRepTools import BRepTools_WireExplorer
from OCP.GC import GC_MakeArcOfCircle
from OCP.GeomAbs import GeomAbs_Arc, GeomAbs_Circle
from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_REVERSED, TopAbs_WIRE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Shape, TopoDS_Wire

from kerf.contour import Contour, Region
from kerf.offset import Offset
from kerf.proof import faceted


@dataclass(frozen=True, slots=True, kw_only=True)
class KernelLoop:
    """One loop the kernel returned: its area, and its lines and arcs in order."""

    area_mm2: float
    carriers: tuple[Carrier, ...]


#: A line as (x, y) of its direction; an arc as (x, y, radius) of its circle.
Carrier = tuple[float, ...]


def entities(carriers: tuple[Carrier, ...]) -> int:
    """Return how many lines and arcs a loop has when neighbours on one carrier count once.

    The kernel cuts some circles in two and leaves others whole, and so may we; a full
    circle counts as one.
    """

    def alike(a: Carrier, b: Carrier) -> bool:
        return len(a) == len(b) and all(abs(p - q) < 1e-6 for p, q in zip(a, b, strict=True))

    changes = sum(not alike(carriers[k - 1], carriers[k]) for k in range(len(carriers)))
    return max(changes, 1)


def carriers_of(loop: Contour) -> tuple[Carrier, ...]:
    """Return the carriers of one of our loops."""
    return tuple(
        tuple(e.tangent_at(0.5)) if e.is_line else (*e.centre, e.radius_mm) for e in loop.edges()
    )


def wire(loop: Contour) -> TopoDS_Wire:
    """Return a loop as a wire."""
    maker = BRepBuilderAPI_MakeWire()
    for edge in loop.edges():
        a, b = gp_Pnt(edge.start.x, edge.start.y, 0), gp_Pnt(edge.end.x, edge.end.y, 0)
        if edge.is_line:
            maker.Add(BRepBuilderAPI_MakeEdge(a, b).Edge())
        else:
            m = edge.point_at(0.5)
            arc = GC_MakeArcOfCircle(a, gp_Pnt(m.x, m.y, 0), b).Value()
            maker.Add(BRepBuilderAPI_MakeEdge(arc).Edge())
    return maker.Wire()


def face(region: Region) -> TopoDS_Face:
    """Return a region as a plane face."""
    plane = gp_Pln(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1))
    maker = BRepBuilderAPI_MakeFace(plane, wire(region.outer))
    for hole in region.holes:
        maker.Add(wire(hole))
    return maker.Face()


def kernel_shape(region: Region, distance_mm: float) -> TopoDS_Shape | None:
    """Return the kernel's offset, or None where it gives up or nothing is left."""
    maker = BRepOffsetAPI_MakeOffset(face(region), GeomAbs_Arc)
    try:
        maker.Perform(distance_mm)
        return maker.Shape() if maker.IsDone() else None
    except Exception:  # the kernel's own errors have no common Python class
        return None


def kernel_offset(region: Region, distance_mm: float) -> tuple[KernelLoop, ...] | None:
    """Return the loops of the kernel's offset, or None where it gives none."""
    shape = kernel_shape(region, distance_mm)
    if shape is None or shape.IsNull():
        return None
    loops = []
    wires = TopExp_Explorer(shape, TopAbs_WIRE)
    plane = gp_Pln(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1))
    while wires.More():
        loop = TopoDS.Wire(wires.Current())
        measure = GProp_GProps()
        BRepGProp.SurfaceProperties_s(BRepBuilderAPI_MakeFace(plane, loop).Face(), measure)
        carriers: list[Carrier] = []
        edges = BRepTools_WireExplorer(loop)
        while edges.More():
            curve = BRepAdaptor_Curve(edges.Current())
            if curve.GetType() == GeomAbs_Circle:
                circle = curve.Circle()
                at = circle.Location()
                carriers.append((at.X(), at.Y(), circle.Radius()))
            else:
                way = curve.Line().Direction()
                sign = -1.0 if edges.Current().Orientation() == TopAbs_REVERSED else 1.0
                carriers.append((sign * way.X(), sign * way.Y()))
            edges.Next()
        loops.append(KernelLoop(area_mm2=abs(measure.Mass()), carriers=tuple(carriers)))
        wires.Next()
    return tuple(sorted(loops, key=lambda loop: -loop.area_mm2))


def clipped_area(region: Region, distance_mm: float, error: float) -> float:
    """Return the area of the offset by Clipper2 on facets no further than error off, mm²."""
    polygon = faceted(region, error)
    engine = pyclipr.ClipperOffset()
    engine.scaleFactor = round(10 / error)
    engine.arcTolerance = 10
    paths = [np.asarray(ring.coords)[:-1] for ring in (polygon.exterior, *polygon.interiors)]
    engine.addPaths(paths, pyclipr.JoinType.Round, pyclipr.EndType.Polygon)
    area = 0.0
    for path in engine.execute(distance_mm):
        x, y = np.asarray(path).T
        area += float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2
    return area


class Verdict(StrEnum):
    """How our offset stands to the kernel's."""

    SAME = "same"  #: same loops, same areas, same numbers of lines and arcs
    KERNEL_SILENT = "kernel silent"  #: it gave nothing
    KERNEL_ALONE = "kernel alone"  #: it differs, and fine facets side with us
    OURS_WRONG = "ours wrong"  #: it differs, and fine facets do not side with us


def kernel_verdict(region: Region, distance_mm: float, ours: Offset) -> Verdict:
    """Return how our offset stands to the kernel's.

    Where the two differ, Clipper2 judges on facets of 10 nm. (GEOS does not: it simplifies
    hollows by up to a hundredth of the distance before it offsets them. The kernel keeps a film
    of no area where a slot closes exactly, and now and then loses or doubles a loop.)
    """
    loops = sorted((c for r in ours.regions for c in r.loops()), key=lambda c: -c.area_mm2)
    theirs = kernel_offset(region, distance_mm)
    if (
        theirs is not None
        and len(theirs) == len(loops)
        and all(
            math.isclose(a.area_mm2, b.area_mm2, rel_tol=1e-7, abs_tol=1e-6)
            and entities(carriers_of(a)) == entities(b.carriers)
            for a, b in zip(loops, theirs, strict=True)
        )
    ):
        return Verdict.SAME
    area = sum(r.area_mm2 for r in ours.regions)
    length = region.length_mm + sum(c.length_mm for c in loops)
    if abs(clipped_area(region, distance_mm, 1e-5) - area) > 2e-5 * length:
        return Verdict.OURS_WRONG
    return Verdict.KERNEL_SILENT if theirs is None else Verdict.KERNEL_ALONE
