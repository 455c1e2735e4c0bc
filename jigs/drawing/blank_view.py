"""The picture of a blank: where each part lies in it, and where it is sawn."""

from __future__ import annotations

import math

from jigs import quantity
from jigs.blank import LETTERS, Blank
from jigs.drawing.board import Board
from jigs.drawing.dimensions import dimension
from jigs.drawing.labels import label
from jigs.drawing.scene import HATCH, LETTER_BOLD, PART, PLATE, THIN, Figure, Ink, polyline
from jigs.drawing.setup_view import HATCH_PITCH_MM, fitted, polygon
from kerf.contour import Contour, Point, Region, Transform, Vector


def blank_figure(
    blank: Blank, part: Region, *, units: str, width_mm: float, height_mm: float
) -> Figure:
    """Return the picture of a blank, no larger than the frame.

    Args:
        blank: the blank.
        part: one part, as drawn.
        units: "mm" or "inch".
        width_mm, height_mm: the frame on paper.
    """
    box, asked = blank.box, blank.asked
    by_x = asked.along == "x"
    block = Region(outer=Contour.rectangle(box.x_min, box.y_min, box.width, box.height))

    def saw(at: float) -> Region:
        low = at - asked.saw_mm / 2
        if by_x:
            return Region(outer=Contour.rectangle(low, box.y_min, asked.saw_mm, box.height))
        return Region(outer=Contour.rectangle(box.x_min, low, box.width, asked.saw_mm))

    def draw(board: Board) -> None:
        board.area(block, pen=PLATE)
        copies = [part.transformed(Transform.translation(*by)) for by in blank.copies]
        for copy in copies:
            board.area(copy, pen=PART, fill=Ink.PALE)
        for at in blank.saw_at_mm:
            if asked.saw_mm > 0:
                cut = polygon(board.area(saw(at), pen=THIN))
                board.hatch(cut, pitch_mm=HATCH_PITCH_MM / 2, angle_rad=math.pi / 4, pen=HATCH)
            else:
                ends = saw_ends(at)
                board.draw(polyline(board.at(ends[0]), board.at(ends[1]), pen=THIN))
        board.close_model()
        for at in blank.saw_at_mm:
            low = Point(box.x_min, box.y_min)
            end = Point(at, box.y_min) if by_x else Point(box.x_min, at)
            away = Vector(0.0, -1.0) if by_x else Vector(-1.0, 0.0)
            told = at - (box.x_min if by_x else box.y_min)
            dimension(board, low, end, f"saw {quantity.bare_length(told, units)}", away=away)
        corner, right = Point(box.x_min, box.y_max), Point(box.x_max, box.y_max)
        foot = Point(box.x_max, box.y_min)
        dimension(
            board, corner, right, quantity.bare_length(box.width, units), away=Vector(0.0, 1.0)
        )
        dimension(
            board, foot, right, quantity.bare_length(box.height, units), away=Vector(1.0, 0.0)
        )
        for letter, copy in zip(LETTERS, copies, strict=False):
            label(
                board,
                (f"part {letter}",),
                copy.bounds().centre,
                toward=Vector(0.7, 0.7),
                pen=LETTER_BOLD,
            )

    def saw_ends(at: float) -> tuple[Point, Point]:
        if by_x:
            return Point(at, box.y_min), Point(at, box.y_max)
        return Point(box.x_min, at), Point(box.x_max, at)

    return fitted(
        draw,
        model=block.bounds(),
        width_mm=width_mm,
        height_mm=height_mm,
        name="blank",
        title="The blank: where each part lies, and where it is sawn",
    )
