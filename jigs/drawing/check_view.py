"""The picture of a plate as it lies in the laser, with the sizes to measure after cutting.

Each size carries the number it has in the sheet's table of checks, so that a person with a
caliper can go from picture to line and back.
"""

from __future__ import annotations

import math

from jigs import quantity
from jigs.drawing.board import Board
from jigs.drawing.dimensions import dimension
from jigs.drawing.labels import datum_flag
from jigs.drawing.scene import FACE, HATCH, PLATE, Figure, polyline
from jigs.drawing.setup_view import HATCH_PITCH_MM, fitted, polygon
from jigs.guides.guide import CheckSize, Face, Plate
from kerf.contour import Bounds, Point, Vector


def check_figure(
    plate: Plate,
    faces: tuple[Face, ...],
    checks: tuple[CheckSize, ...],
    *,
    units: str = "mm",
    width_mm: float = 180.0,
    height_mm: float = 110.0,
) -> Figure:
    """Return the picture of one plate with its check sizes, no larger than the frame.

    Args:
        plate: the plate, sheet coordinates.
        faces: the guide's faces; those of other plates are passed over.
        checks: the guide's sizes, numbered from 1 in this order; those of other plates are passed
            over.
        units: "mm" or "inch".
        width_mm, height_mm: the frame on paper.
    """

    def draw(board: Board) -> None:
        area = board.area(plate.region, pen=PLATE)
        board.hatch(polygon(area), pitch_mm=HATCH_PITCH_MM, angle_rad=math.pi / 4, pen=HATCH)
        own = [face for face in faces if face.plate == plate.name]
        for face in own:
            board.draw(polyline(board.at(face.start), board.at(face.end), pen=FACE))
        board.close_model()
        for number, check in enumerate(checks, 1):
            if check.plate not in ("", plate.name):
                continue
            text = f"({number}) {quantity.bare_length(check.nominal_mm, units)}"
            dimension(board, check.start, check.end, text, away=_away(plate, check))
        for face in own:
            datum_flag(board, face.name, face.start, face.end, face.normal)

    return fitted(
        draw,
        model=plate.region.bounds(),
        width_mm=width_mm,
        height_mm=height_mm,
        name=f"check-{plate.name}",
        title=f"Sizes to measure on {plate.name} after cutting",
    )


def _away(plate: Plate, check: CheckSize) -> Vector:
    """Return the side to which a size is drawn out: square to it, toward the nearer edge."""
    dx, dy = check.end.x - check.start.x, check.end.y - check.start.y
    size = math.hypot(dx, dy)
    across = Vector(-dy / size, dx / size)
    box: Bounds = plate.region.bounds()
    middle = Point((check.start.x + check.end.x) / 2, (check.start.y + check.end.y) / 2)
    lean = (middle.x - box.centre.x) * across.x + (middle.y - box.centre.y) * across.y
    # Sizes through the middle go up and to the right.
    if lean < -1e-9 or (abs(lean) <= 1e-9 and across.x + across.y < 0):
        return Vector(-across.x + 0.0, -across.y + 0.0)
    return across
