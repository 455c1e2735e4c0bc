"""A laser that exists only in the tests: it cuts the written file and measures what is left.

Shares no geometry with the program: the file is read with ezdxf alone, arcs are resolved from
the bulge's definition here, the beam's swath is shapely's buffer of the path, and the sheet
less the swath falls apart into pieces. The part comes from its own drawing the same way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import numpy as np
import shapely

SAGITTA_MM = 2e-5


def arc_points(x1: float, y1: float, x2: float, y2: float, bulge: float) -> np.ndarray:
    """Return points along one edge, the end left out."""
    if bulge == 0:
        return np.array([[x1, y1]])
    sweep = 4 * math.atan(bulge)
    chord = math.hypot(x2 - x1, y2 - y1)
    radius = chord / (2 * math.sin(abs(sweep) / 2))
    # The centre lies on the perpendicular bisector, left of travel for a short left turn.
    rise = radius * math.cos(sweep / 2) * (1 if bulge > 0 else -1)
    cx = (x1 + x2) / 2 - rise * (y2 - y1) / chord
    cy = (y1 + y2) / 2 + rise * (x2 - x1) / chord
    start = math.atan2(y1 - cy, x1 - cx)
    step = 2 * math.acos(max(-1.0, 1 - SAGITTA_MM / radius))
    n = max(2, math.ceil(abs(sweep) / step))
    angles = start + sweep * np.arange(n) / n
    return np.column_stack((cx + radius * np.cos(angles), cy + radius * np.sin(angles)))


def way_in_points(entity) -> np.ndarray | None:
    """Return the points of the way from the pierce to the loop, or None when there is none."""
    if entity.dxftype() == "CIRCLE" or entity.is_closed:
        return None
    rows = open_rows(entity)
    return np.array([row[:2] for row in rows[: loop_begin(rows) + 1]])


def open_rows(entity) -> list[tuple[float, float, float]]:
    """Return a polyline's vertices (x, y, bulge)."""
    if entity.dxftype() == "LWPOLYLINE":
        return [tuple(p) for p in entity.get_points("xyb")]
    return [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in entity.vertices]


def loop_rows(entity) -> list[tuple[float, float, float]]:
    """Return the vertices of a polyline's loop, without its way in."""
    rows = open_rows(entity)
    return rows if entity.is_closed else rows[loop_begin(rows) : -1]


def loop_begin(rows: list[tuple[float, float, float]]) -> int:
    """Return which vertex an open run with a way in comes back to at its end."""
    (*before, (x, y, _)) = rows
    back = [i for i, row in enumerate(before) if abs(row[0] - x) < 1e-6 and abs(row[1] - y) < 1e-6]
    assert back, "a cut must come back to where its loop begins"
    assert all(row[2] == 0 for row in rows[: back[0]]), "a way in is straight"
    return back[0]


def loop_points(entity) -> np.ndarray:
    """Return the points of a closed DXF entity, or of the loop of one with a way in."""
    kind = entity.dxftype()
    if kind == "CIRCLE":
        (x, y, *_), r = entity.dxf.center, entity.dxf.radius
        n = math.ceil(math.pi / math.acos(1 - SAGITTA_MM / r))
        a = 2 * math.pi * np.arange(n) / n
        return np.column_stack((x + r * np.cos(a), y + r * np.sin(a)))
    if kind not in ("LWPOLYLINE", "POLYLINE"):
        raise AssertionError(f"a cut file must not hold {kind}")
    rows = loop_rows(entity)
    return np.vstack(
        [arc_points(x, y, *rows[(i + 1) % len(rows)][:2], b) for i, (x, y, b) in enumerate(rows)]
    )


@dataclass
class CutSheet:
    """What is left of a sheet after the beam has run.

    plate: the piece that stays, with its holes; scrap: the other pieces; entities: of the file.
    """

    plate: shapely.Polygon
    scrap: list[shapely.Polygon]
    inside: list
    outside: list


def cut(path: Path, kerf_mm: float) -> CutSheet:
    """Return what the file at ``path`` leaves, cut with a round beam of ``kerf_mm``."""
    doc = ezdxf.readfile(path)
    assert not doc.audit().has_errors
    assert doc.header.get("$INSUNITS", 4) == 4
    layers: dict[str, list] = {"INSIDE": [], "OUTSIDE": []}
    for entity in doc.modelspace():
        if entity.dxf.layer in layers:
            layers[entity.dxf.layer].append(entity)
    rings = [shapely.LinearRing(loop_points(e)) for es in layers.values() for e in es]
    ways = [way_in_points(e) for es in layers.values() for e in es]
    rings += [shapely.LineString(way) for way in ways if way is not None]
    swath = shapely.union_all([ring.buffer(kerf_mm / 2, quad_segs=64) for ring in rings])
    x0, y0, x1, y1 = swath.bounds
    stock = shapely.box(x0 - 20, y0 - 20, x1 + 20, y1 + 20)
    pieces = list(shapely.get_parts(stock.difference(swath)))
    outer = [shapely.Polygon(loop_points(e)) for e in layers["OUTSIDE"]]
    inner = shapely.union_all([shapely.Polygon(loop_points(e)) for e in layers["INSIDE"]])
    assert len(outer) == 1, "one plate a file"
    plates = [
        p
        for p in pieces
        if outer[0].contains(p.representative_point())
        and not inner.contains(p.representative_point())
    ]
    assert len(plates) == 1, "the plate must stay in one piece"
    return CutSheet(
        plate=plates[0],
        scrap=[p for p in pieces if p is not plates[0]],
        inside=layers["INSIDE"],
        outside=layers["OUTSIDE"],
    )


def outline_points(rows: list[tuple[float, float, float]], spacing_mm: float = 0.25) -> np.ndarray:
    """Return points on a closed line/arc outline given as (x, y, bulge), spaced evenly."""
    dense = np.vstack(
        [arc_points(x, y, *rows[(i + 1) % len(rows)][:2], b) for i, (x, y, b) in enumerate(rows)]
    )
    ring = shapely.LinearRing(dense)
    # Keep only true points of the outline: the dense ones, thinned.
    keep, last = [], -math.inf
    along = np.concatenate(
        ([0.0], np.cumsum(np.hypot(*np.diff(np.vstack((dense, dense[:1])), axis=0).T)))
    )
    for i, s in enumerate(along[:-1]):
        if s - last >= spacing_mm or i == 0:
            keep.append(i)
            last = s
    straight = [
        ring.interpolate(s).coords[0]
        for i in range(len(dense))
        if along[i + 1] - along[i] > spacing_mm
        for s in np.arange(along[i], along[i + 1], spacing_mm)
    ]
    points = dense[keep]
    return np.vstack((points, straight)) if straight else points


def placed(points: np.ndarray, to_part: list[list[float]]) -> np.ndarray:
    """Return part points in sheet coordinates: the record's sheet → part map undone."""
    (a, b, c), (d, e, f) = to_part
    return np.linalg.solve(np.array([[a, b], [d, e]]), (points - [c, f]).T).T
