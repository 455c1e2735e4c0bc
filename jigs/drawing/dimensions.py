"""Dimensions: extension lines, a broken dimension line with heads, and a level text in the gap.

A dimension takes the nearest row outside the drawing where its line lies clear of texts,
symbols and the other dimensions of that row, and where its text meets nothing. Text goes
into the gap of its own line when there is room, else beside one end, with the heads turned
to point at the extension lines from outside (ISO 129-1). Rows go outward without end, so a
place is always found.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from jigs.drawing.board import GAP_MM, TEXT_MM, Board, arrowhead, grown
from jigs.drawing.scene import (
    DIMENSION,
    LETTER,
    LETTER_BOLD,
    THIN,
    Curve,
    Ink,
    Pen,
    Text,
    drawable,
    hits_box,
    polyline,
)
from kerf import lettering
from kerf.contour import Bounds, Point, Vector
from kerf.tolerance import UNIT_VECTOR

#: Length of an arrowhead along its line, and the straight piece kept beside one, mm.
HEAD_ROOM_MM = 3.4

#: First row of dimensions outside the drawing, and the step from row to row, mm.
FIRST_ROW_MM = 8.0
ROW_MM = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """One way to set a dimension: its lines and heads, the text's foot and box."""

    curves: tuple[Curve, ...]
    foot: Point
    box: Bounds
    reach: tuple[float, float]


def dimension(
    board: Board,
    start: tuple[float, float],
    end: tuple[float, float],
    text: str,
    *,
    away: Vector,
    ink: Ink = Ink.BLACK,
    bold: bool = False,
) -> None:
    """Draw the dimension between two model points, its line square to ``away``.

    Args:
        board: what it is drawn on; the model has been drawn and closed with ``close_model``.
        start, end: model coordinates, mm.
        text: what stands on it.
        away: unit direction in which the dimension line moves off the drawing.
        ink, bold: how text and line read.
    """
    text = drawable(text)
    pen = replace(LETTER_BOLD if bold else LETTER, ink=ink)
    p, q = board.at(start), board.at(end)
    along = Vector(away.y, -away.x)
    if _dot(q, along) < _dot(p, along):
        p, q = q, p
    # A level text on an upright line reaches out to both sides of it.
    clear_mm = abs(away.x) * lettering.text_width_mm(text, TEXT_MM) / 2 + 3.0
    for row in _rows(board, away, max(FIRST_ROW_MM, clear_mm)):
        a, b = _on_row(p, away, row), _on_row(q, away, row)
        for layout in _layouts(a, b, text, along=along, pen=pen):
            if _fits(board, layout, away, row):
                _extension(board, p, a, away, ink)
                _extension(board, q, b, away, ink)
                for curve in layout.curves:
                    board.draw(curve)
                board.put_text([text], layout.foot, pen=pen)
                board.take_row(away, row, layout.reach)
                return


def _dot(p: Point, u: Vector) -> float:
    """Return how far p lies along u."""
    return p.x * u.x + p.y * u.y


def _rows(board: Board, away: Vector, first_mm: float) -> Iterator[float]:
    """Yield rows outside the model, the first ``first_mm`` off it, without end."""
    box = board.model
    corners = itertools.product((box.x_min, box.x_max), (box.y_min, box.y_max))
    edge = max(x * away.x + y * away.y for x, y in corners)
    return (edge + first_mm + i * ROW_MM for i in itertools.count())


def _on_row(p: Point, away: Vector, row: float) -> Point:
    """Return the point on the dimension line abreast of p."""
    shift = row - _dot(p, away)
    return Point(p.x + shift * away.x, p.y + shift * away.y)


def _fits(board: Board, layout: _Layout, away: Vector, row: float) -> bool:
    """Return whether text and lines are clear of everything, their own lines included."""
    if any(hits_box(c.segments(), grown(layout.box, GAP_MM / 2)) for c in layout.curves):
        return False
    if not board.row_free(away, row, layout.reach) or not board.free(layout.box):
        return False
    return all(board.clear(curve) for curve in layout.curves)


def _layouts(a: Point, b: Point, text: str, *, along: Vector, pen: Pen) -> Iterator[_Layout]:
    """Yield ways to set a dimension on the row from a to b: text inside, then beside an end."""
    width = lettering.text_width_mm(text, TEXT_MM)
    length = math.dist(a, b)
    line = replace(DIMENSION, ink=pen.ink)
    need = _gap_mm(width, along)
    start = _dot(a, along)

    def on(t: float) -> Point:
        return Point(a.x + t * along.x, a.y + t * along.y)

    def layout(middle: float, low: float, high: float, curves: tuple[Curve, ...]) -> _Layout:
        at = on(middle)
        foot = Point(at.x - width / 2, at.y - TEXT_MM / 2)
        return _Layout(
            curves=curves,
            foot=foot,
            box=Text(text=text, at=foot, height_mm=TEXT_MM, pen=pen).box(),
            reach=(start + low, start + high),
        )

    back = Vector(-along.x, -along.y)
    heads = (arrowhead(a, back, ink=pen.ink), arrowhead(b, along, ink=pen.ink))
    for share in (0.5, 0.36, 0.64, 0.25, 0.75):
        low, high = share * length - need / 2, share * length + need / 2
        if low < HEAD_ROOM_MM or high > length - HEAD_ROOM_MM:
            continue
        pieces = (polyline(a, on(low), pen=line), polyline(on(high), b, pen=line))
        yield layout(share * length, 0.0, length, (*pieces, *heads))
    inside = length >= 2 * HEAD_ROOM_MM
    tail = 1.5 if inside else HEAD_ROOM_MM + 1.5
    if not inside:
        heads = (arrowhead(a, along, ink=pen.ink), arrowhead(b, back, ink=pen.ink))
    for sign in (1.0, -1.0):
        near = 0.0 if sign > 0 else length
        far = length - near + sign * tail
        other = near if inside else near - sign * tail
        stem = polyline(on(other), on(far), pen=line)
        outer = far + sign * need
        yield layout(far + sign * need / 2, min(other, outer), max(other, outer), (stem, *heads))


def _gap_mm(width_mm: float, along: Vector) -> float:
    """Return how much of a dimension line a level text takes up, mm."""
    tall = TEXT_MM * (1 + lettering.ASCENT + lettering.DESCENT)
    across, up = width_mm + 2 * GAP_MM, tall + 2 * GAP_MM
    return min(
        across / abs(along.x) if abs(along.x) > UNIT_VECTOR else math.inf,
        up / abs(along.y) if abs(along.y) > UNIT_VECTOR else math.inf,
    )


def _extension(board: Board, feature: Point, end: Point, away: Vector, ink: Ink) -> None:
    """Draw an extension line from just off the feature to just past the dimension line."""
    if _dot(end, away) - _dot(feature, away) > 1.5:
        board.draw_soft(
            polyline(
                (feature.x + 0.9 * away.x, feature.y + 0.9 * away.y),
                (end.x + 1.4 * away.x, end.y + 1.4 * away.y),
                pen=replace(THIN, ink=ink),
            )
        )
