"""One view of a solid as edges in its plane: a section, an outline, or a planar face.

Runs inside ``step_worker``. A view is looked at from an axis: "+Z" from above, with the page's
right along X and up along Y; "-Z" from below, X and -Y; "+X" from the right, Y and Z; "-X",
-Y and Z; "-Y" from the front, X and Z; "+Y", -X and Z. These are the third-angle views; every
one is right-handed, so nothing is mirrored.

*Section*: the plane cuts the solid's faces; planes, cylinders and cones give true lines,
circles and ellipses. *Outline*: hidden-line removal gives the visible edges as exact curves;
they are cut where they meet, and an edge is kept when a ray along the view strikes the solid
on one side of it only. That yields the shadow of the part, through holes included. *Face*: the
boundary of one planar face, seen from outside.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

from kerf.arcs import ellipse_arcs, spline_arcs
from kerf.reading.step_worker import PROBES
from kerf.tolerance import COINCIDENT_MM, SIDE_PROBE_MM

Triple = tuple[float, float, float]


class Refused(Exception):
    """What is wrong with the file or the request, and what to do about it."""

    def __init__(self, what: str, hint: str) -> None:
        super().__init__(what)
        self.what = what
        self.hint = hint


class Frame(NamedTuple):
    """A view: unit vectors to the right, up, and towards the eye."""

    right: Triple
    up: Triple
    eye: Triple

    def flat(self, p: Triple) -> tuple[float, float]:
        """Return a point's place on the page, mm."""
        return _dot(p, self.right), _dot(p, self.up)

    def space(self, x: float, y: float, depth: float) -> Triple:
        """Return the point of space at a place on the page and a depth, mm."""
        a, b, c = (
            x * r + y * u + depth * e for r, u, e in zip(self.right, self.up, self.eye, strict=True)
        )
        return a, b, c


AXES: dict[str, Frame] = {
    "+Z": Frame((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "-Z": Frame((1, 0, 0), (0, -1, 0), (0, 0, -1)),
    "+X": Frame((0, 1, 0), (0, 0, 1), (1, 0, 0)),
    "-X": Frame((0, -1, 0), (0, 0, 1), (-1, 0, 0)),
    "-Y": Frame((1, 0, 0), (0, 0, 1), (0, -1, 0)),
    "+Y": Frame((-1, 0, 0), (0, 0, 1), (0, 1, 0)),
}
_PAGE = Frame((1, 0, 0), (0, 1, 0), (0, 0, 1))


def answered(request: dict[str, Any]) -> dict[str, Any]:
    """Return the answer to one request (see ``step_worker``).

    Raises:
        Refused: the file holds no solid, or the request names what is not there.
    """
    solids = _solids(request["path"])
    listed = [_solid_row(i, s) for i, s in enumerate(solids, start=1)]
    number = request["solid"]
    if number is None and len(solids) > 1:
        raise Refused(
            f"the file holds {len(solids)} solids: {_listed(listed)}",
            "choose one by number (`solid`)",
        )
    number = number or 1
    if not 1 <= number <= len(solids):
        raise Refused(f"there is no solid {number}: {_listed(listed)}", "choose a listed number")
    solid = solids[number - 1]
    planar = _planar_faces(solid)
    out: dict[str, Any] = {"solids": listed, "faces": [row for row, _, _ in planar], "notes": []}
    if not _is_valid(solid):
        out["notes"].append("the kernel finds faults in this solid; measure the result")
    kind = request["kind"]
    if kind == "face":
        found = [(f, frame) for row, f, frame in planar if row["name"] == request["face"]]
        if not found:
            names = ", ".join(row["name"] for row, _, _ in planar[:12]) or "none"
            raise Refused(f'there is no planar face "{request["face"]}"', f"faces: {names}")
        face, frame = found[0]
        edges, probes = list(_edges(face)), []
    elif kind == "section":
        frame = AXES[request["axis"]]
        edges = _section(solid, frame, request["at_mm"])
        probes = _section_probes(solid, frame, request["at_mm"])
    else:
        seen = AXES[request["axis"]]
        edges = _outline(solid, seen)
        probes = _outline_probes(solid, seen)
        frame = _PAGE
    out["strands"] = [row for edge in edges for row in _strands(edge, frame)]
    out["probes"] = probes
    return out


def _dot(a: Triple, b: Triple) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Triple, b: Triple) -> Triple:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def _triple(p: Any) -> Triple:
    """Return the coordinates of a point or direction of the kernel."""
    return p.X(), p.Y(), p.Z()


def _shapes(shape: Any, kind: Any) -> Iterator[Any]:
    """Yield the sub-shapes of a kind."""
    from OCP.TopExp import TopExp_Explorer

    walk = TopExp_Explorer(shape, kind)
    while walk.More():
        yield walk.Current()
        walk.Next()


def _edges(shape: Any) -> Iterator[Any]:
    """Yield the edges of a shape that have a length."""
    from OCP.BRep import BRep_Tool
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopoDS import TopoDS

    for found in _shapes(shape, TopAbs_EDGE):
        edge = TopoDS.Edge(found)
        if not BRep_Tool.Degenerated_s(edge):
            yield edge


def _solids(path: str) -> list[Any]:
    """Return the solids of a file, placed as in the assembly, mm."""
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.STEPControl import STEPControl_Reader
    from OCP.TopAbs import TopAbs_FACE, TopAbs_SOLID
    from OCP.TopoDS import TopoDS

    reader = STEPControl_Reader()
    if reader.ReadFile(path) != IFSelect_RetDone:
        raise Refused(
            "the file begins like STEP but its content cannot be read",
            "it is damaged; export the part again",
        )
    reader.TransferRoots()
    if reader.NbShapes() == 0 or reader.OneShape().IsNull():
        raise Refused("the file holds no shape", "export the part again, as a solid body")
    shape = reader.OneShape()
    solids = [TopoDS.Solid(s) for s in _shapes(shape, TopAbs_SOLID)]
    if not solids:
        faces = sum(1 for _ in _shapes(shape, TopAbs_FACE))
        raise Refused(
            f"the file holds no solid, only {faces} loose faces"
            if faces
            else "the file holds no solid",
            "export the part again, as a solid body",
        )
    return solids


def _solid_row(number: int, solid: Any) -> dict[str, Any]:
    """Return what is said of a solid when one must be chosen."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    mass = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, mass)
    return {"number": number, "size_mm": _size(solid), "volume_mm3": mass.Mass()}


def _box(shape: Any) -> tuple[Triple, Triple]:
    """Return the least and greatest corner of a shape, mm."""
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    if box.IsVoid():
        raise Refused("the solid has no extent", "export the part again")
    return _triple(box.CornerMin()), _triple(box.CornerMax())


def _size(shape: Any) -> list[float]:
    low, high = _box(shape)
    return [h - g for g, h in zip(low, high, strict=True)]


def _listed(rows: list[dict[str, Any]]) -> str:
    """Return "1: 40 × 20 × 6 mm; 2: …"."""
    return "; ".join(
        f"{row['number']}: {' × '.join(f'{s:.6g}' for s in row['size_mm'])} mm" for row in rows[:40]
    )


def _is_valid(solid: Any) -> bool:
    from OCP.BRepCheck import BRepCheck_Analyzer

    return bool(BRepCheck_Analyzer(solid).IsValid())


def _planar_faces(solid: Any) -> list[tuple[dict[str, Any], Any, Frame]]:
    """Return the planar faces, largest first, named F1, F2 …, each with the view onto it."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.BRepGProp import BRepGProp
    from OCP.GeomAbs import GeomAbs_Plane
    from OCP.GProp import GProp_GProps
    from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED
    from OCP.TopoDS import TopoDS

    found = []
    for shape in _shapes(solid, TopAbs_FACE):
        face = TopoDS.Face(shape)
        surface = BRepAdaptor_Surface(face)
        if surface.GetType() != GeomAbs_Plane:
            continue
        plane = surface.Plane()
        axes = plane.Position()
        normal = _cross(_triple(axes.XDirection()), _triple(axes.YDirection()))
        if face.Orientation() == TopAbs_REVERSED:
            normal = (-normal[0], -normal[1], -normal[2])
        mass = GProp_GProps()
        BRepGProp.SurfaceProperties_s(face, mass)
        side = next((k for k, v in AXES.items() if _dot(v.eye, normal) > 1 - 1e-12), "")
        frame = AXES[side] if side else _looking_at(normal)
        row = {
            "side": side or "({:.4g}, {:.4g}, {:.4g})".format(*normal),
            "at_mm": _dot(_triple(plane.Location()), frame.eye),
            "area_mm2": mass.Mass(),
        }
        found.append((row, face, frame))
    found.sort(key=lambda f: (-round(f[0]["area_mm2"], 6), f[0]["side"], f[0]["at_mm"]))
    for i, (row, _, _) in enumerate(found, start=1):
        row["name"] = f"F{i}"
    return found


def _looking_at(normal: Triple) -> Frame:
    """Return the view onto an oblique face: right is level, up leans towards +Z."""
    level = _cross((0.0, 0.0, 1.0), normal)
    size = math.hypot(*level)
    right = (level[0] / size, level[1] / size, level[2] / size) if size > 1e-9 else (1.0, 0.0, 0.0)
    return Frame(right, _cross(normal, right), normal)


def _span(solid: Any, frame: Frame) -> tuple[float, float]:
    """Return how far a solid reaches along the eye's axis, mm."""
    low, high = (_dot(p, frame.eye) for p in _box(solid))
    return min(low, high), max(low, high)


def _section(solid: Any, frame: Frame, at_mm: float) -> list[Any]:
    """Return the edges in which the plane at a height cuts the solid."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Section
    from OCP.gp import gp_Dir, gp_Pln, gp_Pnt

    low, high = _span(solid, frame)
    level = ((row["at_mm"], _dot(f.eye, frame.eye)) for row, _, f in _planar_faces(solid))
    heights = [at * sense for at, sense in level if abs(sense) > 1 - 1e-12]
    if not low < at_mm < high:
        raise Refused(
            f"no material at {at_mm:.6g} mm: along this axis the solid runs from {low:.6g} to "
            f"{high:.6g} mm",
            "choose a height between",
        )
    if any(abs(h - at_mm) <= 10 * COINCIDENT_MM for h in heights):
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
    return list(_edges(cut.Shape()))


def _grid(solid: Any, frame: Frame) -> Iterator[tuple[float, float]]:
    """Yield the places of the probes on the page."""
    (x0, y0), (x1, y1) = (frame.flat(p) for p in _box(solid))
    for i in range(PROBES):
        for j in range(PROBES):
            # Off the middle lines, where symmetric parts have their edges.
            yield x0 + (x1 - x0) * (i + 0.437) / PROBES, y0 + (y1 - y0) * (j + 0.571) / PROBES


def _section_probes(solid: Any, frame: Frame, at_mm: float) -> list[tuple[float, float, bool]]:
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
        low, high = _span(solid, frame)
        self.reach = (low - 1.0, high + 1.0)

    def strike(self, x: float, y: float) -> bool:
        """Return whether material lies behind a place on the page."""
        from OCP.gp import gp_Dir, gp_Lin, gp_Pnt

        line = gp_Lin(gp_Pnt(*self.frame.space(x, y, 0.0)), gp_Dir(*self.frame.eye))
        self.rays.Perform(line, *self.reach)
        return bool(self.rays.NbPnt() > 0)


def _outline_probes(solid: Any, frame: Frame) -> list[tuple[float, float, bool]]:
    """Return places on the page and whether the solid's shadow is there."""
    rays = _Rays(solid, frame)
    return [(x, y, rays.strike(x, y)) for x, y in _grid(solid, frame)]


def _outline(solid: Any, frame: Frame) -> list[Any]:
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
            out += list(_edges(compound))
    return out


def _cut_where_they_meet(edges: list[Any]) -> list[Any]:
    """Return the edges cut at every crossing and overlap."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_BuilderAlgo
    from OCP.collections import List_TopoDS_Shape

    if len(edges) < 2:
        return edges
    shapes = List_TopoDS_Shape()
    for edge in edges:
        shapes.Append(edge)
    builder = BRepAlgoAPI_BuilderAlgo()
    builder.SetArguments(shapes)
    builder.Build()
    if not builder.IsDone():
        raise Refused(
            "the kernel could not join the view's edges", "take a section at a height instead"
        )
    return list(_edges(builder.Shape()))


def _strands(edge: Any, frame: Frame) -> Iterator[dict[str, Any]]:
    """Yield an edge as rows (x, y, bulge) on the page."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.GeomAbs import GeomAbs_Circle, GeomAbs_Ellipse, GeomAbs_Line

    curve = BRepAdaptor_Curve(edge)
    t0, t1 = curve.FirstParameter(), curve.LastParameter()
    kind = curve.GetType()
    start, end = (frame.flat(_triple(curve.Value(t))) for t in (t0, t1))
    if kind == GeomAbs_Line:
        rows: list[tuple[float, ...]] = [(*start, 0.0), (*end, 0.0)]
        yield {"kind": "line", "rows": rows, "closed": False, "off_mm": 0.0}
        return
    if kind in (GeomAbs_Circle, GeomAbs_Ellipse):
        yield _round(curve, kind == GeomAbs_Circle, frame, start, end)
        return
    yield _spline(curve, frame)


def _round(
    curve: Any, is_circle: bool, frame: Frame, start: tuple[float, float], end: tuple[float, float]
) -> dict[str, Any]:
    """Return a circle, an ellipse or a part of one that lies in the page's plane."""
    shape = curve.Circle() if is_circle else curve.Ellipse()
    axes = shape.Position()
    right, up = _triple(axes.XDirection()), _triple(axes.YDirection())
    (ux, uy), (vx, vy) = frame.flat(right), frame.flat(up)
    sense = 1.0 if ux * vy - uy * vx > 0 else -1.0
    if abs(abs(ux * vy - uy * vx) - 1) > 1e-9:
        raise Refused("a round edge does not lie in the plane of the view", "choose another view")
    t0, t1 = curve.FirstParameter(), curve.LastParameter()
    sweep, whole = t1 - t0, abs(t1 - t0 - 2 * math.pi) < 1e-9
    if is_circle:
        bulge = sense * math.tan(sweep / 4)
        if whole:
            half = frame.flat(_triple(curve.Value(t0 + math.pi)))
            rows = [(*start, sense), (*half, sense)]
        else:
            rows = [(*start, bulge), (*end, 0.0)]
        return {"kind": "circle", "rows": rows, "closed": whole, "off_mm": 0.0}
    centre = frame.flat(_triple(shape.Location()))
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
    poles = [frame.flat(_triple(spline.Pole(i))) for i in range(1, n + 1)]
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
