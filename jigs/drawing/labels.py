"""Labels with leaders, datum flags and balloons, each set where nothing is in its way.

A label searches rings about its target: the wished direction first, then ever further round
and further out. All rings are tried with less and less care: first refusing places where a
leader would cross a line or another leader or the text would interrupt a line, then allowing
lines to be crossed, texts to interrupt them, and in the end leaders to cross. Targets are
reserved before the first label is set, so that no text can bury one. Should every way out of a
crowd be barred all the same, the label goes under the drawing: it may lose its leader, never
its legibility.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jigs.drawing.board import PITCH, TEXT_MM, Board, arrowhead, block_box
from jigs.drawing.scene import (
    DIMENSION,
    LETTER,
    LETTER_BOLD,
    THIN,
    Curve,
    Floats,
    Ink,
    Pen,
    circle,
    drawable,
    polyline,
)
from kerf import lettering
from kerf.contour import Bounds, Point, Vector, Vertex
from kerf.lettering import Anchor

#: Length of the level end of a leader, mm.
SHOULDER_MM = 1.6

#: White space between a leader's level end and its text, mm.
_BESIDE_MM = 0.9


class _Care(NamedTuple):
    """What a place is refused for, besides text on lines and leaders through text."""

    off_lines: bool  #: the leader crosses a line
    off_leaders: bool  #: the leader crosses another leader
    off_soft: bool  #: the text interrupts an extension or centre line


#: Tried in turn: the first that finds a place wins.
_CARES = (
    _Care(True, True, True),
    _Care(False, True, True),
    _Care(False, True, False),
    _Care(False, False, False),
)

#: Leaders judged at a time.
_BATCH = 24

#: Rings tried about a target, each a quarter wider than the last: 4 mm to 200 mm.
_RINGS = 19

#: Half a frame about one letter, mm: twice the letter's height across, as ISO 5459 draws it.
FRAME_HALF_MM = 2.8


def label(
    board: Board,
    lines: Sequence[str],
    target: tuple[float, float],
    *,
    toward: Vector,
    pen: Pen = LETTER,
    height_mm: float = TEXT_MM,
    near_mm: float = 4.0,
) -> None:
    """Set a label near a model point, with a leader.

    Args:
        board: what it is drawn on.
        lines: what it says.
        target: model coordinates, mm.
        toward: direction tried first.
        pen, height_mm: of the letters.
        near_mm: least distance of the label from its target, mm on paper.
    """
    lines = [drawable(line) for line in lines]
    tip = board.at(target)
    shape = block_box(lines, Point(0.0, 0.0), height_mm, pen)
    places = _places(lines, tip, toward, height_mm, near_mm)
    boxes = np.array(shape) + places[:, [3, 4, 3, 4]]
    costs = places[:, 0] + _growth_mm(board.extent, boxes)
    order = np.argsort(costs, kind="stable")
    side = np.where(places[:, 1] >= tip.x, 1.0, -1.0)
    ends = np.column_stack((places[:, 1] + SHOULDER_MM * side, places[:, 2]))
    # No line may run between a leader and its text either.
    feet = ends + np.column_stack((_BESIDE_MM * side, np.zeros(len(ends))))
    for care in _CARES:
        free = board.free_boxes(boxes, over_soft=not care.off_soft)
        best = _first_clear(board, tip, places, feet, order[free[order]], care)
        if best is None:
            continue
        _, ex, ey, x, y = places[best].tolist()
        board.put_text(lines, (x, y), height_mm=height_mm, pen=pen)
        end = (float(ends[best, 0]), float(ends[best, 1]))
        board.draw_leader(polyline(tip, (ex, ey), end, pen=DIMENSION))
        size = math.dist((ex, ey), tip)
        board.draw(arrowhead(tip, Vector((tip.x - ex) / size, (tip.y - ey) / size)))
        return
    below = board.extent
    board.put_text(lines, (below.x_min, below.y_min - 2 * height_mm), height_mm=height_mm, pen=pen)


def _first_clear(
    board: Board,
    tip: Point,
    places: Floats,
    ends: Floats,
    order: NDArray[np.intp],
    care: _Care,
) -> int | None:
    """Return the first place, in the given order, whose leader is clear; None when none is."""
    for i in range(0, len(order), _BATCH):
        some = order[i : i + _BATCH]
        clear = board.clear_leaders(
            tip,
            places[some, 1:3],
            ends[some],
            off_lines=care.off_lines,
            off_leaders=care.off_leaders,
        )
        if clear.any():
            return int(some[clear][0])
    return None


def _growth_mm(extent: Bounds, boxes: Floats) -> Floats:
    """Return by how much each box, shape (n, 4), would widen and heighten the figure, mm.

    Width counts half as much again: a page is narrower than a picture is tall.
    """
    grow: Floats = np.maximum((np.array(extent) - boxes) * (1.0, 1.0, -1.0, -1.0), 0.0)
    out: Floats = grow @ np.array([1.5, 1.0, 1.5, 1.0])
    return out


def _places(
    lines: Sequence[str], tip: Point, toward: Vector, height_mm: float, near_mm: float
) -> Floats:
    """Return places for a label, shape (n, 5): distance, elbow x, y, first foot x, y; mm.

    Turning away from the wished direction counts as distance, a little.
    """
    width = max(lettering.text_width_mm(line, height_mm) for line in lines)
    depth = (len(lines) - 1) * PITCH * height_mm
    turns = np.array([0.0] + [s * k * math.pi / 12 for k in range(1, 13) for s in (1, -1)])
    radii = near_mm * 1.25 ** np.arange(_RINGS)
    radius, turn = (grid.ravel() for grid in np.meshgrid(radii, turns, indexing="ij"))
    angle = math.atan2(toward.y, toward.x) + turn
    x, y = tip.x + radius * np.cos(angle), tip.y + radius * np.sin(angle)
    reach = SHOULDER_MM + _BESIDE_MM
    foot = np.where(x >= tip.x, x + reach, x - reach - width)
    return np.column_stack((radius + 1.5 * np.abs(turn), x, y, foot, y + (depth - height_mm) / 2))


def framed(
    board: Board, letter: str, centre: Point, *, half_mm: float = FRAME_HALF_MM, balloon: bool
) -> None:
    """Draw a letter in a square frame, or in a circle; the place must be free."""
    pen = replace(THIN, width_mm=0.25)
    x, y = centre
    corners = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    square = tuple(Vertex(x + i * half_mm, y + j * FRAME_HALF_MM) for i, j in corners)
    board.draw(
        circle(centre, half_mm, pen=pen)
        if balloon
        else Curve(vertices=square, closed=True, pen=pen),
        keep=True,
    )
    board.put_text([letter], (x, y - TEXT_MM / 2), anchor=Anchor.CENTRE, pen=LETTER_BOLD)


#: Lengths of stem tried before a flag's stem may cross something.
_STEMS = 16


def datum_flag(
    board: Board,
    letter: str,
    start: tuple[float, float],
    end: tuple[float, float],
    normal: Vector,
) -> None:
    """Draw a datum flag on a straight face: filled triangle, stem, framed letter.

    The shape is that of ISO 5459: the triangle's base lies on the face, outside the material.
    Places along the face and stems of growing length are tried.

    Args:
        board: what it is drawn on.
        letter: datum letter or face name.
        start, end: ends of the face, model coordinates, mm.
        normal: unit outward normal.
    """
    letter = drawable(letter)
    half = max(FRAME_HALF_MM, lettering.text_width_mm(letter, TEXT_MM) / 2 + 1.4)
    reach = abs(normal.x) * half + abs(normal.y) * FRAME_HALF_MM
    a, b = board.at(start), board.at(end)
    shares = (0.8, 0.2, 0.88, 0.12, 0.7, 0.3, 0.6, 0.4, 0.5)
    # On a face so short that signs crowd it, the stem may in the end cross one of them.
    for step in itertools.count():
        stem = 5.0 * 1.3 ** (step if step < _STEMS else step - _STEMS)
        for share in shares:
            foot = Point(a.x + share * (b.x - a.x), a.y + share * (b.y - a.y))
            tip = Point(foot.x + 2.6 * normal.x, foot.y + 2.6 * normal.y)
            stop = Point(foot.x + stem * normal.x, foot.y + stem * normal.y)
            centre = Point(stop.x + reach * normal.x, stop.y + reach * normal.y)
            frame = Bounds(
                centre.x - half,
                centre.y - FRAME_HALF_MM,
                centre.x + half,
                centre.y + FRAME_HALF_MM,
            )
            line = polyline(tip, stop, pen=THIN)
            if not board.free(frame) or (step < _STEMS and not board.clear(line)):
                continue
            base = (-normal.y * 1.6, normal.x * 1.6)
            triangle = (
                Vertex(*tip),
                Vertex(foot.x + base[0], foot.y + base[1]),
                Vertex(foot.x - base[0], foot.y - base[1]),
            )
            board.draw(Curve(vertices=triangle, closed=True, fill=Ink.BLACK), keep=True)
            board.draw(line)
            framed(board, letter, centre, half_mm=half, balloon=False)
            return
