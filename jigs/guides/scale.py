"""The engraving of a rail: a scale along its edge from the stop's face, and the seats' numbers."""

from __future__ import annotations

import math

from jigs.guides.rail import HEAD_DEEP_MM, NECK_DEEP_MM, NECK_MM, Rail
from kerf import lettering
from kerf.beam import Operation, Stroke
from kerf.contour import Point, Region, Transform
from kerf.lettering import Anchor
from kerf.tolerance import FACET_MM, MARK_CLEAR_MM

#: Every so many marks one is long and numbered.
LONG_EVERY = 5


def rail_marks(
    rail: Rail,
    *,
    start_mm: float,
    pitch_mm: float,
    unit_mm: float,
    by: Transform,
    shape: Region,
    piece: str,
) -> tuple[Stroke, ...]:
    """Return the marks, each left out where it would come too near a cut.

    Args:
        rail: left-handed in the set-up's turn.
        start_mm: x of the stop's face, where the scale reads 0.
        pitch_mm: from mark to mark; 0 for no scale.
        unit_mm: what a 1 on the scale stands for.
        by: set-up's turn, left-handed → sheet. Letters are not mirrored by it.
        shape: the rail in sheet coordinates.
        piece: name of the plate.
    """
    import shapely

    holes = [hole.facets() for hole in shape.holes]
    free = shapely.Polygon(shape.outer.facets(), holes).buffer(-MARK_CLEAR_MM - FACET_MM)
    shapely.prepare(free)
    marks: list[tuple[Point, ...]] = []

    def put(lines: tuple[tuple[Point, ...], ...]) -> bool:
        fits = bool(free.contains(shapely.MultiLineString(list(lines))))
        if fits:
            marks.extend(lines)
        return fits

    def tell(text: str, x: float, y: float, height_mm: float) -> None:
        at = by.point(x, y)
        put(lettering.strokes(text, height_mm=height_mm, at=at, anchor=Anchor.CENTRE))

    top = rail.y_max - MARK_CLEAR_MM - 0.2
    count = math.floor((rail.x_max - start_mm) / pitch_mm) + 1 if pitch_mm > 0.0 else 0
    for i in range(count):
        x = start_mm + i * pitch_mm
        is_long = i % LONG_EVERY == 0
        line = (by.point(x, top), by.point(x, top - (6.0 if is_long else 3.5)))
        if put((line,)) and is_long:
            tell(f"{i * pitch_mm / unit_mm:g}", x, top - 10.0, 2.5)
    for number, x in enumerate(rail.stops, 1):
        below = rail.y_max - NECK_DEEP_MM - HEAD_DEEP_MM - 6.5
        tell(f"STOP {number}", rail.neck_x(x) + NECK_MM / 2, below, 3.0)
    return tuple(
        Stroke(operation=Operation.ENGRAVE, points=points, piece=piece) for points in marks
    )
