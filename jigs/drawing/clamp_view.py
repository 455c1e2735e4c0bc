"""Where a clamp may push: the part on its contacts, the edges that serve, and one push.

The picture lies as the set-up's own does. Edges where a clamp pushed square seats every
contact are drawn twice as heavy as anything else and beside the outline, so that they are
told apart in one colour too; the push that was judged is an arrow that ends on the part.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from jigs.drawing.board import TEXT_MM, Board, block_box
from jigs.drawing.labels import label
from jigs.drawing.scene import LETTER_BOLD, PLATE, Curve, Figure, Ink, Pen, around, polyline
from jigs.drawing.setup_view import Spot, fitted
from jigs.drawing.symbols import contact_sign
from kerf.contour import Point, Region, Vector, Vertex

_BODY: Final = Pen(width_mm=0.5)
_SERVES: Final = Pen(width_mm=1.4, ink=Ink.GOOD)
#: How far outside the outline an edge that serves is drawn, mm on paper.
_BESIDE_MM: Final = 1.2
#: The arrow of the push: its length and half its width, of head and shaft, mm on paper.
_ARROW_MM: Final = 14.0
_HEAD_MM: Final = 5.0
_HEAD_HALF_MM: Final = 1.9
_SHAFT_HALF_MM: Final = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampView:
    """What the picture shows, sheet coordinates of the first plate, mm.

    Args:
        title: one line.
        part: where it lies.
        plates: the guide, for orientation.
        contacts: with their normals into the part.
        stretches: edges where a clamp may push, as points with the normals into the part.
        push: where the judged push acts and which way; None without one.
        words: what stands at the push.
    """

    title: str
    part: Region
    plates: tuple[Region, ...]
    contacts: tuple[Spot, ...]
    stretches: tuple[tuple[tuple[Point, Vector], ...], ...]
    push: tuple[Point, Vector] | None
    words: tuple[str, ...]


def clamp_figure(view: ClampView, *, width_mm: float, height_mm: float) -> Figure:
    """Return the picture of where a clamp may push, no larger than the frame."""

    def draw(board: Board) -> None:
        for plate in view.plates:
            board.area(plate, pen=PLATE)
        board.area(view.part, pen=_BODY, fill=Ink.PALE)
        for stretch in view.stretches:
            points = [_beside(board.at(p), n, _BESIDE_MM) for p, n in stretch]
            board.draw(polyline(*points, pen=_SERVES))
        for spot in view.contacts:
            contact_sign(board, board.at(spot.at), spot.normal)
        if view.push is not None:
            _draw_push(board, board.at(view.push[0]), view.push[1])
        board.close_model()
        for spot in view.contacts:
            board.reserve(spot.at)
        if view.push is not None:
            _write_push(board, view)
        for spot in view.contacts:
            toward = Vector(-spot.normal.x + 0.1, -spot.normal.y + 0.3)
            label(board, (spot.name,), spot.at, toward=toward, pen=LETTER_BOLD)

    return fitted(
        draw,
        model=around(tuple(region.bounds() for region in (*view.plates, view.part))),
        width_mm=width_mm,
        height_mm=height_mm,
        name="clamp",
        title=view.title,
    )


def _draw_push(board: Board, tip: Point, along: Vector) -> None:
    """Draw the push as a broad arrow that ends on the part."""
    side = Vector(-along.y, along.x)
    outline = (
        (0.0, 0.0),
        (_HEAD_MM, _HEAD_HALF_MM),
        (_HEAD_MM, _SHAFT_HALF_MM),
        (_ARROW_MM, _SHAFT_HALF_MM),
        (_ARROW_MM, -_SHAFT_HALF_MM),
        (_HEAD_MM, -_SHAFT_HALF_MM),
        (_HEAD_MM, -_HEAD_HALF_MM),
    )
    board.draw(
        Curve(
            vertices=tuple(
                Vertex(tip.x - back * along.x + off * side.x, tip.y - back * along.y + off * side.y)
                for back, off in outline
            ),
            closed=True,
            pen=Pen(width_mm=0.2, ink=Ink.WHITE),
            fill=Ink.ACCENT,
        ),
        keep=True,
    )


def _write_push(board: Board, view: ClampView) -> None:
    """Write the words at the arrow's tail, beyond it or beside it, where there is room."""
    assert view.push is not None
    tail = _beside(board.at(view.push[0]), view.push[1], _ARROW_MM)
    shape = block_box(view.words, Point(0.0, 0.0), TEXT_MM, LETTER_BOLD)
    half = Point(shape.width / 2, shape.height / 2)
    away = math.atan2(-view.push[1].y, -view.push[1].x)
    for far in (1.5, 4.0, 8.0):
        for turn in (0.0, 0.6, -0.6, 1.2, -1.2, 1.8, -1.8):
            x, y = math.cos(away + turn), math.sin(away + turn)
            reach = min(half.x / abs(x) if x else 1e9, half.y / abs(y) if y else 1e9) + far
            centre = Point(tail.x + reach * x, tail.y + reach * y)
            foot = Point(centre.x - half.x - shape.x_min, centre.y - half.y - shape.y_min)
            if board.free(block_box(view.words, foot, TEXT_MM, LETTER_BOLD)):
                board.put_text(list(view.words), foot, pen=LETTER_BOLD)
                return
    back = board.to_paper.inverse().point(*tail)
    label(board, view.words, back, toward=Vector(math.cos(away), math.sin(away)), pen=LETTER_BOLD)


def _beside(at: Point, normal: Vector, by_mm: float) -> Point:
    """Return a paper point outside the part, against the normal into it."""
    return Point(at.x - by_mm * normal.x, at.y - by_mm * normal.y)
