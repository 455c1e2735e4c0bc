"""The picture of a machined plate: its datum edges, holes with their places, tape and stops."""

from __future__ import annotations

import math

import shapely

from jigs import quantity
from jigs.drawing.board import Board
from jigs.drawing.dimensions import dimension
from jigs.drawing.labels import datum_flag, label
from jigs.drawing.scene import FACE, HATCH, LETTER_BOLD, PART, PLATE, Figure, Pen, polyline
from jigs.drawing.setup_view import HATCH_PITCH_MM, fitted, polygon
from jigs.guides.machined import MachinedPlate
from kerf.contour import Contour, Point, Region, Vector

_OUTLINE = Pen(width_mm=PART.width_mm / 2, dash=(3.0, 1.0))
_HOLE = Pen(width_mm=0.5)


def base_figure(
    base: MachinedPlate, part: Region, *, units: str, width_mm: float, height_mm: float
) -> Figure:
    """Return the picture of the plate, no larger than the frame.

    Args:
        base: the plate.
        part: the part, part coordinates; its outline is drawn where it lies.
        units: "mm" or "inch".
        width_mm, height_mm: the frame on paper.
    """
    plate = Region(outer=Contour.rectangle(0.0, 0.0, base.width_mm, base.height_mm))
    lying = part.transformed(base.to_part.inverse())

    def draw(board: Board) -> None:
        board.area(plate, pen=PLATE)
        taped = [polygon(board.area(zone, pen=None)) for zone in base.tape]
        if taped:
            board.hatch(
                shapely.union_all(taped), pitch_mm=HATCH_PITCH_MM, angle_rad=math.pi / 4, pen=HATCH
            )
        for loop in lying.loops():
            board.area(Region(outer=loop), pen=_OUTLINE)
        for hole in base.holes:
            disc = Region(outer=Contour.circle(*hole.at, hole.limits.middle_mm / 2))
            board.area(disc, pen=_HOLE)
        for stop in base.stops:
            disc = Region(outer=Contour.circle(*stop.at, stop.diameter_mm / 2))
            board.area(disc, pen=PLATE)
        corner, right, top = (
            Point(0.0, 0.0),
            Point(base.width_mm, 0.0),
            Point(0.0, base.height_mm),
        )
        board.draw(polyline(board.at(top), board.at(corner), pen=FACE))
        board.draw(polyline(board.at(corner), board.at(right), pen=FACE))
        board.close_model()
        for at in (*(hole.at for hole in base.holes), *(stop.at for stop in base.stops)):
            board.reserve(at)
        for hole in sorted(base.holes, key=lambda h: h.at.x):
            text = f"X {quantity.bare_length(hole.at.x, units)}"
            dimension(board, Point(0.0, hole.at.y), hole.at, text, away=Vector(0.0, 1.0))
        for hole in sorted(base.holes, key=lambda h: h.at.y):
            text = f"Y {quantity.bare_length(hole.at.y, units)}"
            dimension(board, Point(hole.at.x, 0.0), hole.at, text, away=Vector(1.0, 0.0))
        datum_flag(board, "X", top, corner, Vector(-1.0, 0.0))
        datum_flag(board, "Y", corner, right, Vector(0.0, -1.0))
        for hole in base.holes:
            label(board, (hole.name,), hole.at, toward=Vector(0.6, -0.8), pen=LETTER_BOLD)
        for stop in base.stops:
            label(board, (stop.name,), stop.at, toward=Vector(-0.6, -0.8))

    return fitted(
        draw,
        model=plate.bounds(),
        width_mm=width_mm,
        height_mm=height_mm,
        name="base",
        title="The plate to machine: holes from edges X and Y, tape hatched",
    )
