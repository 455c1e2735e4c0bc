"""Small solids of our own making, written as STEP by the geometry kernel."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakeSphere,
)
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from OCP.IFSelect import IFSelect_RetDone
from OCP.Interface import Interface_Static
from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer

Triple = tuple[float, float, float]


def box(size: Triple, at: Triple = (0, 0, 0)) -> Any:
    """Return a box with its least corner at a point, mm."""
    return BRepPrimAPI_MakeBox(gp_Pnt(*at), *size).Shape()


def cylinder(radius: float, height: float, at: Triple, axis: Triple = (0, 0, 1)) -> Any:
    """Return a cylinder that stands on a point, mm."""
    return BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(*at), gp_Dir(*axis)), radius, height).Shape()


def cone(low: float, high: float, height: float, at: Triple) -> Any:
    """Return a cone that stands on a point, radii below and above, mm."""
    return BRepPrimAPI_MakeCone(gp_Ax2(gp_Pnt(*at), gp_Dir(0, 0, 1)), low, high, height).Shape()


def sphere(radius: float, at: Triple) -> Any:
    """Return a ball about a point, mm."""
    return BRepPrimAPI_MakeSphere(gp_Pnt(*at), radius).Shape()


def cut(shape: Any, tool: Any) -> Any:
    """Return a shape less another."""
    return BRepAlgoAPI_Cut(shape, tool).Shape()


def fused(shape: Any, other: Any) -> Any:
    """Return two shapes as one."""
    return BRepAlgoAPI_Fuse(shape, other).Shape()


def plate() -> Any:
    """Return a plate 40 × 30 × 6 with a hole Ø10 at (12, 15)."""
    return cut(box((40, 30, 6)), cylinder(5, 20, (12, 15, -5)))


def write(path: Path, shapes: Iterable[Any], *, schema: str = "AP214IS", unit: str = "MM") -> Path:
    """Write shapes as STEP in a schema (AP203, AP214IS, AP242DIS) and a unit (MM, INCH)."""
    writer = STEPControl_Writer()
    assert Interface_Static.SetCVal_s("write.step.schema", schema)
    assert Interface_Static.SetCVal_s("write.step.unit", unit)
    quiet, kept = os.open(os.devnull, os.O_WRONLY), os.dup(1)
    os.dup2(quiet, 1)
    try:
        for shape in shapes:
            writer.Transfer(shape, STEPControl_AsIs)
        assert writer.Write(str(path)) == IFSelect_RetDone
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(quiet)
    return path
