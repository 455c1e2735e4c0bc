"""The signs of a set-up figure: zero, axes, contacts, finder, stops, targets.

Program zero is the quartered disc that machine builders engrave for it; axes toward the
reader are a dot in a circle, away a cross, as in any mechanics text. Each sign is told
apart by shape and weight alone.
"""

from __future__ import annotations

import math
from typing import Final

from jigs.drawing.board import TEXT_MM, Board, arrowhead
from jigs.drawing.scene import (
    CHAIN,
    LETTER_BOLD,
    THIN,
    Curve,
    Ink,
    Pen,
    circle,
    polyline,
)
from kerf.contour import Bounds, Point, Vector, Vertex
from kerf.lettering import Anchor

_AXIS: Final = Pen(width_mm=0.45)
_SIGN: Final = Pen(width_mm=0.3)
_ZERO: Final = Pen(width_mm=0.45, ink=Ink.ACCENT)

#: Radius of the zero sign and of the finder sign, mm on paper.
ZERO_MM: Final = 3.0
FINDER_MM: Final = 2.2


def zero_sign(board: Board, at: Point) -> None:
    """Draw program zero at a paper point: a disc with two quarters filled."""
    quarter = math.tan(math.pi / 8)
    for start in (0.0, math.pi):
        a = Vertex(at.x + ZERO_MM * math.cos(start), at.y + ZERO_MM * math.sin(start), quarter)
        b = Vertex(at.x - ZERO_MM * math.sin(start), at.y + ZERO_MM * math.cos(start))
        board.draw(Curve(vertices=(Vertex(*at), a, b), closed=True, fill=Ink.ACCENT))
    board.draw(circle(at, ZERO_MM, pen=_ZERO), keep=True)


def zero_axes(board: Board, at: Point, extent: Bounds, names: tuple[str, str]) -> None:
    """Draw the zero lines of both axes across the drawing, their positive ends named."""
    over = 6.0
    x0, x1 = min(extent.x_min, at.x) - over, max(extent.x_max, at.x) + over
    y0, y1 = min(extent.y_min, at.y) - over, max(extent.y_max, at.y) + over
    board.draw_soft(polyline((x0, at.y), (x1, at.y), pen=CHAIN))
    board.draw_soft(polyline((at.x, y0), (at.x, y1), pen=CHAIN))
    for name, tip, way in (
        (names[0], Point(x1 + 2.0, at.y), Vector(1.0, 0.0)),
        (names[1], Point(at.x, y1 + 2.0), Vector(0.0, 1.0)),
    ):
        board.draw(arrowhead(tip, way, ink=Ink.ACCENT), keep=True)
        foot = (tip.x + 1.4, tip.y - TEXT_MM / 2) if way.x else (tip.x, tip.y + 1.4)
        board.put_text(
            [f"+{name}"],
            foot,
            pen=Pen(width_mm=LETTER_BOLD.width_mm, ink=Ink.ACCENT),
            anchor=Anchor.LEFT if way.x else Anchor.CENTRE,
        )


def contact_sign(board: Board, at: Point, normal: Vector) -> None:
    """Draw a locator at a paper point: a filled triangle whose tip touches the part."""
    size, half = 3.0, 1.5
    base = Point(at.x - size * normal.x, at.y - size * normal.y)
    side = Vector(-normal.y * half, normal.x * half)
    board.draw(
        Curve(
            vertices=(
                Vertex(*at),
                Vertex(base.x + side.x, base.y + side.y),
                Vertex(base.x - side.x, base.y - side.y),
            ),
            closed=True,
            pen=Pen(width_mm=0.2, ink=Ink.WHITE),
            fill=Ink.BLACK,
        ),
        keep=True,
    )


def finder_sign(board: Board, face: Point, normal: Vector) -> Point:
    """Draw a finder's tip that touches a face from outside; return where its label points.

    Args:
        board: what it is drawn on.
        face: touched point of the face, paper.
        normal: unit outward normal of the face.
    """
    centre = Point(face.x + FINDER_MM * normal.x, face.y + FINDER_MM * normal.y)
    board.draw(circle(centre, FINDER_MM, pen=_SIGN, fill=Ink.WHITE), keep=True)
    board.draw(circle(centre, 0.35, fill=Ink.BLACK))
    tail = Point(centre.x + 9.0 * normal.x, centre.y + 9.0 * normal.y)
    tip = Point(centre.x + 3.0 * normal.x, centre.y + 3.0 * normal.y)
    board.draw(polyline(tail, tip, pen=_AXIS))
    board.draw(arrowhead(tip, Vector(-normal.x, -normal.y)))
    return tail


def target_sign(board: Board, at: Point) -> None:
    """Draw a critical feature: a small circle and a cross."""
    r, arm = 1.3, 2.4
    board.draw(circle(at, r, pen=_SIGN), keep=True)
    board.draw_soft(polyline((at.x - arm, at.y), (at.x + arm, at.y), pen=THIN))
    board.draw_soft(polyline((at.x, at.y - arm), (at.x, at.y + arm), pen=THIN))


def wall_sign(board: Board, start: Point, end: Point, normal: Vector) -> None:
    """Draw a fixed wall, jaw or stop: a heavy line with ticks on the side away from ``normal``.

    Args:
        board: what it is drawn on.
        start, end: ends of the touching line, paper.
        normal: unit normal from the wall toward what it stops.
    """
    board.draw(polyline(start, end, pen=Pen(width_mm=0.8)))
    length = math.dist(start, end)
    ux, uy = (end.x - start.x) / length, (end.y - start.y) / length
    count = max(2, round(length / 2.5))
    for i in range(count):
        t = (i + 0.5) * length / count
        foot = Point(start.x + t * ux, start.y + t * uy)
        back = Point(foot.x - 2.0 * (normal.x + 0.7 * ux), foot.y - 2.0 * (normal.y + 0.7 * uy))
        board.draw(polyline(foot, back, pen=THIN))


def triad(board: Board, corner: Point, names: tuple[str, str, str], *, toward: bool) -> None:
    """Draw the machine's axes: two arrows in the plane, the third toward or away.

    Args:
        board: what it is drawn on.
        corner: lower left corner of the sign's ``TRIAD_MM`` box, paper.
        names: axes along x, along y, and square to the paper.
        toward: whether the third axis points at the reader.
    """
    origin = Point(corner.x + 3.2, corner.y + 3.2)
    for name, way, foot in (
        (names[0], Vector(1.0, 0.0), (origin.x + 12.2, origin.y - TEXT_MM / 2)),
        (names[1], Vector(0.0, 1.0), (origin.x - 1.0, origin.y + 12.2)),
    ):
        tip = Point(origin.x + 11.0 * way.x, origin.y + 11.0 * way.y)
        foot_of_shaft = (origin.x + 1.4 * way.x, origin.y + 1.4 * way.y)
        board.draw(polyline(foot_of_shaft, tip, pen=_AXIS))
        board.draw(arrowhead(tip, way))
        board.put_text([name], foot, pen=LETTER_BOLD)
    board.draw(circle(origin, 1.4, pen=_SIGN))
    if toward:
        board.draw(circle(origin, 0.4, fill=Ink.BLACK))
    else:
        arm = 1.4 / math.sqrt(2)
        for s in (1.0, -1.0):
            board.draw(
                polyline(
                    (origin.x - arm, origin.y - s * arm),
                    (origin.x + arm, origin.y + s * arm),
                    pen=_SIGN,
                )
            )
    board.put_text([names[2]], (origin.x + 2.4, origin.y + 2.2), pen=LETTER_BOLD)


#: Size of the square that holds the axes sign, mm.
TRIAD_MM: Final = 19.5
