"""A laser of the tests whose beam is an ellipse, whose walls lean and whose axes are off scale.

Reads the written DXF with ezdxf alone and shares no geometry with the program. A commanded
point lands at (scale_x x, scale_y y). At each face of the sheet the beam has its own size
along X and along Y; what it takes is found by shrinking Y until the beam is round, buffering
with shapely, and stretching back.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import ezdxf
import shapely
import shapely.affinity
import virtual_laser as laser


@dataclass(frozen=True)
class Machine:
    """What the laser really does: beam (along X, along Y) at each face, mm, and scales."""

    entry: tuple[float, float]
    exit: tuple[float, float]
    scale: tuple[float, float] = (1.0, 1.0)
    inside_extra: float = 0.0


def plate(path: Path, machine: Machine, face: str) -> shapely.Polygon:
    """Return the plate that stays, as it measures at one face of the sheet, true mm."""
    along_x, along_y = getattr(machine, face)
    sx, sy = machine.scale
    doc = ezdxf.readfile(path)
    cut = []
    outer = inner = None
    for entity in doc.modelspace():
        if entity.dxf.layer not in ("INSIDE", "OUTSIDE"):
            continue
        inside = entity.dxf.layer == "INSIDE"
        ring = shapely.affinity.scale(
            shapely.LinearRing(laser.loop_points(entity)), sx, sy, origin=(0, 0)
        )
        extra = machine.inside_extra if inside else 0.0
        bx, by = along_x + extra, along_y + extra
        round_ = shapely.affinity.scale(ring, 1.0, bx / by, origin=(0, 0))
        swath = shapely.affinity.scale(
            round_.buffer(bx / 2, quad_segs=128), 1.0, by / bx, origin=(0, 0)
        )
        cut.append(swath)
        loop = shapely.Polygon(ring)
        if inside:
            inner = loop if inner is None else inner.union(loop)
        else:
            outer = loop
    assert outer is not None
    stays = outer.difference(shapely.union_all(cut))
    if inner is not None:
        stays = stays.difference(inner)
    (one,) = [p for p in shapely.get_parts(stays) if p.area > 1.0]
    return one
