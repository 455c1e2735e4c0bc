"""The axis a part was turned over about, engraved: a dash-dot line beside the part, and FLIP.

The line runs through the middle of the part's outline, as in the set-up's picture, and is
burnt where it crosses plate that is free on either side of the part. It keeps the distance
from cuts that every mark keeps; a plate without room for it is told, not crowded.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final

import numpy as np
import shapely

from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide, Plate
from jigs.part import Part
from jigs.setup import Flip, Setup
from kerf import lettering
from kerf.beam import Operation, Stroke
from kerf.contour import Point, Vector
from kerf.lettering import Anchor
from kerf.tolerance import FACET_MM, MARK_CLEAR_MM

#: Dash, gap, dot, gap of the line, mm. Source: ISO 128-2, long-dashed dotted narrow line, in its
#: proportions.
_DASHES: Final = (5.0, 1.2, 0.6, 1.2)
#: The line is at least and at most this long on one side of the part, mm.
_SHORTEST_MM: Final = 6.0
_LONGEST_MM: Final = 28.0
#: Heights of the word tried, mm: as of every mark.
_HEIGHTS_MM: Final = (3.0, 2.5, 2.0)
WORD: Final = "FLIP"


def flip_axis(setup: Setup, plate: Plate) -> Vector | None:
    """Return the direction of the axis on a plate, a unit vector; None when nothing is flipped."""
    over = {Flip.NONE: None, Flip.X: (1.0, 0.0), Flip.Y: (0.0, 1.0)}[setup.flip]
    if over is None:
        return None
    way = plate.to_part.inverse().vector(*over)
    size = math.hypot(*way)
    return Vector(way.x / size, way.y / size)


def flip_marked(
    guide: Guide, part: Part, setup: Setup, *, mirror_writing: bool = False
) -> tuple[Guide, tuple[Finding, ...]]:
    """Return the guide with the axis engraved on its first plate, and what found no room.

    Args:
        guide, part, setup: what is marked.
        mirror_writing: whether the word is read from the other side of the sheet.
    """
    plate = guide.plates[0]
    way = flip_axis(setup, plate)
    if way is None or plate.is_under:
        return guide, ()
    centre = part.region.transformed(plate.to_part.inverse()).bounds().centre
    lines = _axis_lines(plate, centre, way, mirror_writing)
    if not lines:
        return guide, (_no_room(plate),)
    strokes = tuple(
        Stroke(operation=Operation.ENGRAVE, points=points, piece=plate.name) for points in lines
    )
    marked = replace(plate, strokes=(*plate.strokes, *strokes))
    return replace(guide, plates=(marked, *guide.plates[1:])), ()


def _axis_lines(
    plate: Plate, centre: Point, way: Vector, mirror_writing: bool
) -> list[tuple[Point, ...]]:
    """Return dashes and letters on the free plate; none when the word finds no room."""
    free = _free(plate)
    box = plate.region.bounds()
    reach = box.width + box.height
    ends = [(centre.x + s * reach * way.x, centre.y + s * reach * way.y) for s in (-1.0, 1.0)]
    inside = shapely.get_parts(shapely.intersection(free, shapely.LineString(ends)))
    out: list[tuple[Point, ...]] = []
    has_word = False
    for side in (1.0, -1.0):
        runs = sorted(r for r in (_along(g, centre, way, side) for g in inside) if r is not None)
        # The run nearest to the part, cut to length.
        run = next(((a, b) for a, b in runs if b - a >= _SHORTEST_MM), None)
        if run is None:
            continue
        low, high = run[0], min(run[1], run[0] + _LONGEST_MM)
        dashes = _dashes(centre, Vector(side * way.x, side * way.y), low, high)
        line = shapely.MultiLineString([list(d) for d in dashes])
        word = None if has_word else _word(free, line, centre, way, side * (low + high) / 2)
        out += dashes
        if word is not None:
            has_word = True
            out += lettering.mirror_written(tuple(word)) if mirror_writing else word
    return out if has_word else []


def _free(plate: Plate) -> Any:
    """Return where marks may stand on a plate."""
    region = plate.region
    solid = shapely.Polygon(region.outer.facets(), [hole.facets() for hole in region.holes])
    free: Any = solid.buffer(-MARK_CLEAR_MM - FACET_MM, quad_segs=32)
    taken = [s.points for s in plate.strokes if s.operation is not Operation.REFERENCE]
    if taken:
        free = free.difference(shapely.MultiLineString(taken).buffer(MARK_CLEAR_MM))
    return free


def _along(piece: Any, centre: Point, way: Vector, side: float) -> tuple[float, float] | None:
    """Return from where to where a piece of the axis runs on one side of the middle, mm."""
    at = shapely.get_coordinates(piece)
    if len(at) < 2:
        return None
    s = side * ((at - [centre.x, centre.y]) @ np.array([way.x, way.y]))
    low, high = float(s.min()), float(s.max())
    return (max(low, 0.0), high) if high > 0.0 else None


def _dashes(centre: Point, way: Vector, low_mm: float, high_mm: float) -> list[tuple[Point, ...]]:
    """Return the dashes and dots between two distances from the middle, whole ones only."""
    out = []
    at, i = low_mm, 0
    while at < high_mm - _DASHES[2]:
        to = min(at + _DASHES[i % 4], high_mm)
        if i % 2 == 0:
            out.append(tuple(Point(centre.x + s * way.x, centre.y + s * way.y) for s in (at, to)))
        at, i = to, i + 1
    return out


def _word(
    free: Any, line: Any, centre: Point, way: Vector, along_mm: float
) -> list[tuple[Point, ...]] | None:
    """Return the word beside the line, level, in the largest letters that fit."""
    middle = Point(centre.x + along_mm * way.x, centre.y + along_mm * way.y)
    for height in _HEIGHTS_MM:
        width = lettering.text_width_mm(WORD, height)
        # Off the line by half of the word's box, seen across the line, and a margin.
        off = (abs(way.y) * width + abs(way.x) * height) / 2 + 0.8
        for sign in (1.0, -1.0):
            for slide in (0.0, 3.0, -3.0, 6.0, -6.0):
                at = (
                    middle.x - sign * off * way.y + slide * way.x,
                    middle.y + sign * off * way.x + slide * way.y,
                )
                box = shapely.box(
                    at[0] - width / 2, at[1] - height / 2, at[0] + width / 2, at[1] + height / 2
                )
                if free.contains(box) and not line.intersects(box):
                    return list(
                        lettering.strokes(WORD, height_mm=height, at=at, anchor=Anchor.MIDDLE)
                    )
    return None


def _no_room(plate: Plate) -> Finding:
    return Finding(
        code="mark-no-room",
        severity=Severity.WARN,
        subject=f'plate "{plate.name}": engraving',
        message=(
            f"no room for the axis the part is turned over about, {MARK_CLEAR_MM:g} mm clear of "
            "every cut: it is left off"
        ),
        hint="make the plate larger, or draw it on by hand",
    )
