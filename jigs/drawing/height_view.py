"""What lies along the sheet's thickness: bed or jaws, plate, part, and where that axis reads 0.

For a sheet that lies flat these are heights; for one that stands in a vise, seen along the
jaws, how plate and part lie on the fixed one. This axis is at scale; across it the picture is
a scheme, and says so by having no size there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from jigs import quantity
from jigs.drawing.board import Board
from jigs.drawing.dimensions import dimension
from jigs.drawing.labels import label
from jigs.drawing.scene import CHAIN, HATCH, LETTER_BOLD, PART, PLATE, Figure, Ink, polyline
from jigs.drawing.setup_view import HATCH_PITCH_MM, polygon
from jigs.drawing.symbols import wall_sign, zero_sign
from kerf.contour import Contour, Point, Region, Transform, Vector

#: Height of bed to top on paper, and width of the scheme, mm.
_TALL_MM = 26.0
_WIDE_MM = 66.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightView:
    """Heights in the machine, mm, Z reading 0 at program zero.

    Args:
        part_low_mm, part_high_mm: underside and upper face of the part.
        plate_low_mm, plate_high_mm: underside and upper face of the plate.
        touched: what Z is set from, in words.
        touched_mm: where that is.
        units: "mm" or "inch".
        axis: the machine axis that is shown: Z, or the one across a vise's jaws.
        jaws_mm: fixed and moving jaw; None when everything stands on the bed.
    """

    part_low_mm: float
    part_high_mm: float
    plate_low_mm: float
    plate_high_mm: float
    touched: str
    touched_mm: float
    units: str = "mm"
    axis: str = "Z"
    jaws_mm: tuple[float, float] | None = None


def height_figure(view: HeightView) -> Figure:
    """Return the picture of the heights."""
    low = min(view.part_low_mm, view.plate_low_mm, 0.0)
    high = max(view.part_high_mm, view.plate_high_mm, 0.0)
    scale = _TALL_MM / (high - low)
    board = Board(Transform.scaling(scale))
    width = _WIDE_MM / scale
    under = view.part_low_mm >= view.plate_high_mm
    part = _block(0.3 * width, 0.7 * width, view.part_low_mm, view.part_high_mm)
    sides = ((0.0, 1.0),) if under else ((0.0, 0.29), (0.71, 1.0))
    for a, b in sides:
        plate = _block(a * width, b * width, view.plate_low_mm, view.plate_high_mm)
        area = board.area(plate, pen=PLATE)
        board.hatch(polygon(area), pitch_mm=HATCH_PITCH_MM, angle_rad=math.pi / 4, pen=HATCH)
    board.area(part, pen=PART, fill=Ink.PALE)
    rests = view.jaws_mm or (min(view.part_low_mm, view.plate_low_mm),)
    for rest in rests:
        away = Vector(0.0, 1.0 if rest == min(rests) else -1.0)
        wall_sign(board, board.at((0.0, rest)), board.at((width, rest)), away)
    zero = Point(0.5 * width, 0.0)
    left, right = board.at((-8.0 / scale, 0.0)), board.at((width + 8.0 / scale, 0.0))
    board.draw_soft(polyline(left, right, pen=CHAIN))
    zero_sign(board, board.at(zero))
    board.close_model()
    board.reserve(zero)

    def told(value_mm: float) -> str:
        return quantity.bare_length(value_mm, view.units)

    plate_edge, part_edge = 0.0, 0.7 * width
    dimension(
        board,
        (plate_edge, view.plate_low_mm),
        (plate_edge, view.plate_high_mm),
        f"plate {told(view.plate_high_mm - view.plate_low_mm)}",
        away=Vector(-1.0, 0.0),
    )
    dimension(
        board,
        (part_edge, view.part_low_mm),
        (part_edge, view.part_high_mm),
        f"part {told(view.part_high_mm - view.part_low_mm)}",
        away=Vector(1.0, 0.0),
    )
    pen = replace(LETTER_BOLD, ink=Ink.ACCENT)
    if view.jaws_mm is not None:
        for name, rest in zip(("fixed jaw", "moving jaw"), view.jaws_mm, strict=True):
            outward = 1.0 if rest == max(view.jaws_mm) else -1.0
            spot = Point(0.9 * width, rest)
            label(board, (name,), spot, toward=Vector(0.6, outward))
    label(board, (f"{view.axis}0",), zero, toward=Vector(0.9, 0.6), pen=pen, near_mm=7.0)
    at = Point(0.42 * width if view.touched_mm != 0.0 else 0.36 * width, view.touched_mm)
    words = f"{view.axis} set from {view.touched}"
    if view.touched_mm != 0.0:
        place = quantity.length_text(view.touched_mm, view.units, signed=True)
        words += f": it lies at {view.axis} {place}"
    down = view.jaws_mm is not None and view.touched_mm == min(view.jaws_mm)
    label(board, (words,), at, toward=Vector(-0.4, -1.0 if down else 1.0))
    if view.jaws_mm is not None:
        return board.finished(name="jaws", title=f"Across the jaws: where {view.axis} reads 0")
    return board.finished(name="heights", title="Heights: where Z reads 0")


def _block(x0: float, x1: float, z0: float, z1: float) -> Region:
    """Return an upright rectangle."""
    return Region(outer=Contour.rectangle(x0, z0, x1 - x0, z1 - z0))
