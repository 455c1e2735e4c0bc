"""What a STEP file holds, and one view of it. Runs inside ``step_worker``."""

from __future__ import annotations

import math
from typing import Any

from kerf.reading.step_edge import strand
from kerf.reading.step_frame import (
    AXES,
    PAGE,
    Frame,
    Refused,
    Triple,
    box,
    cross,
    dot,
    edges,
    shapes,
    triple,
)
from kerf.reading.step_view import outline, outline_probes, section, section_probes


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
    number = 1 if number is None else number
    if not 1 <= number <= len(solids):
        raise Refused(
            f"there is no solid {number}; the file holds {_listed(listed)}",
            "choose a listed number",
        )
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
        seen, probes = list(edges(face)), []
    elif kind == "section":
        frame = AXES[request["axis"]]
        level = ((row["at_mm"], dot(f.eye, frame.eye)) for row, _, f in planar)
        heights = [at * sense for at, sense in level if abs(sense) > 1 - 1e-12]
        seen = section(solid, frame, request["at_mm"], heights)
        probes = section_probes(solid, frame, request["at_mm"])
    else:
        side = AXES[request["axis"]]
        seen = outline(solid, side)
        probes = outline_probes(solid, side)
        frame = PAGE
    out["strands"] = [strand(edge, frame) for edge in seen]
    out["probes"] = probes
    return out


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
    solids = [TopoDS.Solid(s) for s in shapes(shape, TopAbs_SOLID)]
    if not solids:
        faces = sum(1 for _ in shapes(shape, TopAbs_FACE))
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


def _size(shape: Any) -> list[float]:
    low, high = box(shape)
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
    for shape in shapes(solid, TopAbs_FACE):
        face = TopoDS.Face(shape)
        surface = BRepAdaptor_Surface(face)
        if surface.GetType() != GeomAbs_Plane:
            continue
        plane = surface.Plane()
        axes = plane.Position()
        normal = cross(triple(axes.XDirection()), triple(axes.YDirection()))
        if face.Orientation() == TopAbs_REVERSED:
            normal = (-normal[0], -normal[1], -normal[2])
        mass = GProp_GProps()
        BRepGProp.SurfaceProperties_s(face, mass)
        side = next((k for k, v in AXES.items() if dot(v.eye, normal) > 1 - 1e-12), "")
        frame = AXES[side] if side else _looking_at(normal)
        row = {
            "side": side or "({:.4g}, {:.4g}, {:.4g})".format(*normal),
            "at_mm": dot(triple(plane.Location()), frame.eye),
            "area_mm2": mass.Mass(),
        }
        found.append((row, face, frame))
    found.sort(key=lambda f: (-round(f[0]["area_mm2"], 6), f[0]["side"], f[0]["at_mm"]))
    for i, (row, _, _) in enumerate(found, start=1):
        row["name"] = f"F{i}"
    return found


def _looking_at(normal: Triple) -> Frame:
    """Return the view onto an oblique face: right is level, up leans towards +Z."""
    level = cross((0.0, 0.0, 1.0), normal)
    size = math.hypot(*level)
    right = (level[0] / size, level[1] / size, level[2] / size) if size > 1e-9 else (1.0, 0.0, 0.0)
    return Frame(right, cross(normal, right), normal)
