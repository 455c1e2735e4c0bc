"""The engraving of a rail: a scale along its edge from the stop's face, and the seats' numbers."""

from __future__ import annotations

import math

from jigs.guides.engraving import Engraving
from jigs.guides.rail import HEAD_DEEP_MM, NECK_DEEP_MM, NECK_MM, Rail
from kerf.beam import Stroke
from kerf.contour import Region, Transform
from kerf.tolerance import MARK_CLEAR_MM

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
    mirror_writing: bool = False,
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
        mirror_writing: whether letters are read from the other side of the sheet.
    """
    marks = Engraving(shape, piece, mirror_writing=mirror_writing)
    top = rail.y_max - MARK_CLEAR_MM - 0.2
    count = math.floor((rail.x_max - start_mm) / pitch_mm) + 1 if pitch_mm > 0.0 else 0
    for i in range(count):
        x = start_mm + i * pitch_mm
        is_long = i % LONG_EVERY == 0
        line = (by.point(x, top), by.point(x, top - (6.0 if is_long else 3.5)))
        if marks.put((line,)) and is_long:
            at = by.point(x, top - 10.0)
            marks.tell(f"{i * pitch_mm / unit_mm:g}", at, heights_mm=(2.5,))
    for number, x in enumerate(rail.stops, 1):
        below = rail.y_max - NECK_DEEP_MM - HEAD_DEEP_MM - 6.5
        at = by.point(rail.neck_x(x) + NECK_MM / 2, below)
        marks.tell(f"STOP {number}", at, heights_mm=(3.0, 2.0))
    return marks.strokes()
