"""Where things go on a figure: dimensions, flags and labels placed so that no text meets a line.

The board is filled in an order that makes a free place certain. The part and plate come
first; a dimension then takes the nearest row outside them whose line and text are clear of
every text already there; labels search rings about their target, ever further out, and the
paper has no edge until the figure is finished. Hatching, extension and centre lines are
*soft*: they may run under a text, and are interrupted about it when the figure is finished,
as ISO 128-50 has it for hatching and ISO 129-1 allows for extension lines.

Text is always level, so a text's box is exact and so is every test against it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from jigs.drawing.scene import (
    LETTER,
    Area,
    Curve,
    Figure,
    Floats,
    Ink,
    Item,
    Pen,
    Text,
    around,
    entering,
    polyline,
)
from kerf.contour import Bounds, Point, Region, Transform, Vector, Vertex
from kerf.lettering import Anchor

#: Height of a capital on a figure, mm: 2.5 is the least of ISO 3098 that survives a photocopy.
TEXT_MM: Final = 2.6

#: Line pitch of a label of several lines, in text heights.
PITCH: Final = 1.65

#: Length and half width of an arrowhead, mm: about 15° a side, ISO 129-1.
HEAD_MM: Final = 2.6
HEAD_HALF_MM: Final = 0.55

#: White space kept about a text, mm.
GAP_MM: Final = 0.7


#: A leader may cross lines this near to its target, mm: those of the target's own sign.
_AT_TARGET_MM: Final = 4.0

#: Signs by which a box grows on each side.
_MARGINS: Final = np.array([-1.0, -1.0, 1.0, 1.0])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Soft:
    """A line that gives way to text."""

    curve: Curve


def grown(box: Bounds, by_mm: float) -> Bounds:
    """Return the box with a margin all round."""
    return Bounds(box.x_min - by_mm, box.y_min - by_mm, box.x_max + by_mm, box.y_max + by_mm)


def arrowhead(tip: tuple[float, float], direction: Vector, *, ink: Ink = Ink.BLACK) -> Curve:
    """Return a filled arrowhead whose tip points along a unit direction."""
    bx, by = tip[0] - HEAD_MM * direction.x, tip[1] - HEAD_MM * direction.y
    sx, sy = -HEAD_HALF_MM * direction.y, HEAD_HALF_MM * direction.x
    return Curve(
        vertices=(Vertex(*tip), Vertex(bx + sx, by + sy), Vertex(bx - sx, by - sy)),
        closed=True,
        fill=ink,
    )


def block_box(lines: Sequence[str], first: Point, height_mm: float, pen: Pen) -> Bounds:
    """Return the box of a block of lines whose first foot is given."""
    boxes = [
        Text(
            text=line,
            at=Point(first.x, first.y - i * PITCH * height_mm),
            height_mm=height_mm,
            pen=pen,
        ).box()
        for i, line in enumerate(lines)
    ]
    return around(boxes)


class _Rows:
    """Rows of four numbers that grow: boxes, or segments when ``segments``; kept as arrays."""

    def __init__(self, *, segments: bool) -> None:
        self._parts: list[Floats] = []
        self._segments = segments
        self._shapes: NDArray[np.object_] | None = None

    def add(self, rows: Floats) -> None:
        """Append rows, shape (n, 4)."""
        self._parts.append(np.asarray(rows, dtype=np.float64))
        self._shapes = None

    def rows(self) -> Floats:
        """Return all rows, shape (n, 4)."""
        if not self._parts:
            return np.empty((0, 4))
        if len(self._parts) > 1:
            self._parts = [np.concatenate(self._parts)]
        return self._parts[0]

    def shapes(self) -> NDArray[np.object_]:
        """Return the rows as shapes, shape (n,)."""
        if self._shapes is None:
            rows = self.rows()
            made = (
                shapely.linestrings(rows.reshape(-1, 2, 2))
                if self._segments
                else shapely.box(rows[:, 0], rows[:, 1], rows[:, 2], rows[:, 3])
            )
            self._shapes = np.asarray(made, dtype=np.object_)
        return self._shapes


class Board:
    """A figure while it is being laid out. Model coordinates in mm, paper coordinates in mm.

    Args:
        to_paper: model → paper, a uniform scale and a shift.
    """

    def __init__(self, to_paper: Transform) -> None:
        self.to_paper = to_paper
        self._items: list[Item | _Soft] = []
        self._segments = _Rows(segments=True)
        self._leaders = _Rows(segments=True)
        self._rows: dict[tuple[float, float], list[tuple[float, float, float]]] = {}
        self._model: Bounds | None = None
        self._soft = _Rows(segments=True)
        self._boxes = _Rows(segments=False)  # of texts
        self._kept = _Rows(
            segments=False
        )  # boxes of symbols that neither text nor leader may cross
        self._drawn: Bounds | None = None

    # ---- what is drawn ----

    def at(self, point: tuple[float, float]) -> Point:
        """Return a model point on paper."""
        return self.to_paper.point(*point)

    @property
    def scale(self) -> float:
        """Paper mm per model mm."""
        return math.sqrt(abs(self.to_paper.determinant))

    @property
    def extent(self) -> Bounds:
        """Box of all that stands on the board, mm on paper."""
        assert self._drawn is not None
        return self._drawn

    def draw(self, curve: Curve, *, keep: bool = False) -> None:
        """Draw a curve given in paper coordinates; text will keep off it.

        Args:
            curve: the line.
            keep: whether its whole box is a symbol that leaders must not cross either.
        """
        self._items.append(curve)
        self._segments.add(curve.segments())
        self._stretch(curve.bounds())
        if keep:
            self._kept.add(np.array([curve.bounds()]))

    def draw_soft(self, curve: Curve) -> None:
        """Draw a line that is interrupted where text stands."""
        self._items.append(_Soft(curve=curve))
        self._soft.add(curve.segments())
        self._stretch(curve.bounds())

    def area(self, region: Region, *, pen: Pen | None, fill: Ink | None = None) -> Area:
        """Draw a region given in model coordinates."""
        area = Area(region=region.transformed(self.to_paper), pen=pen, fill=fill)
        self._items.append(area)
        if pen is not None:
            for loop in area.curves():
                self._segments.add(loop.segments())
        self._stretch(area.region.bounds())
        return area

    def hatch(self, body: BaseGeometry, *, pitch_mm: float, angle_rad: float, pen: Pen) -> None:
        """Hatch a polygon given in paper coordinates; the lines give way to text."""
        if body.is_empty:
            return
        ux, uy = math.cos(angle_rad), math.sin(angle_rad)
        x0, y0, x1, y1 = body.bounds
        across = [-uy * x + ux * y for x in (x0, x1) for y in (y0, y1)]
        along = [ux * x + uy * y for x in (x0, x1) for y in (y0, y1)]
        count = int((max(across) - min(across)) / pitch_mm)
        rows = [min(across) + (i + 0.5) * pitch_mm for i in range(count)]
        lines = shapely.MultiLineString(
            [
                [(ux * s - uy * c, uy * s + ux * c) for s in (min(along) - 1.0, max(along) + 1.0)]
                for c in rows
            ]
        )
        for piece in _line_parts(shapely.intersection(lines, body)):
            self._items.append(_Soft(curve=polyline(*piece, pen=pen)))

    # ---- text ----

    def put_text(
        self,
        lines: Sequence[str],
        at: tuple[float, float],
        *,
        height_mm: float = TEXT_MM,
        pen: Pen = LETTER,
        anchor: Anchor = Anchor.LEFT,
    ) -> None:
        """Set lines of text at a place already known to be free; ``at`` is the first foot."""
        for i, line in enumerate(lines):
            text = Text(
                text=line,
                at=Point(at[0], at[1] - i * PITCH * height_mm),
                height_mm=height_mm,
                anchor=anchor,
                pen=pen,
            )
            self._items.append(text)
            self._boxes.add(np.array([text.box()]))
            self._stretch(text.box())

    def free(self, box: Bounds, *, over_soft: bool = True) -> bool:
        """Return whether a text may stand in the box (see ``free_boxes``)."""
        return bool(self.free_boxes(np.array([box]), over_soft=over_soft)[0])

    def free_boxes(self, boxes: Floats, *, over_soft: bool = True) -> NDArray[np.bool_]:
        """Return in which boxes a text may stand, white space about it included.

        Args:
            boxes: shape (n, 4): x_min, y_min, x_max, y_max, mm on paper.
            over_soft: whether the text may interrupt an extension or centre line.
        """
        w = boxes + _MARGINS * GAP_MM
        windows = shapely.box(w[:, 0], w[:, 1], w[:, 2], w[:, 3])
        sets = [self._boxes, self._kept, self._segments] + ([] if over_soft else [self._soft])
        blocked = np.concatenate([rows.shapes() for rows in sets])
        free = np.ones(len(boxes), dtype=np.bool_)
        if len(blocked):
            free[shapely.STRtree(blocked).query(windows, predicate="intersects")[0]] = False
        return free

    def clear(self, curve: Curve) -> bool:
        """Return whether a line crosses no text and no symbol."""
        segments = curve.segments()
        return not (
            entering(segments, self._boxes.rows() + _MARGINS * (GAP_MM / 2)).any()
            or entering(segments, self._kept.rows()).any()
        )

    def clear_leaders(
        self, tip: Point, elbows: Floats, ends: Floats, *, off_lines: bool, off_leaders: bool
    ) -> NDArray[np.bool_]:
        """Return which leaders cross no text and no symbol but that of their own target.

        Args:
            tip: the target, mm on paper.
            elbows, ends: where each leader bends and ends, shape (n, 2).
            off_lines: whether to refuse those that cross a line, away from the target.
            off_leaders: whether to refuse those that cross another leader.
        """
        n = len(elbows)
        starts = np.tile(np.array(tip), (n, 1))
        kept, wide = self._kept.rows(), self._kept.rows() + _MARGINS * GAP_MM
        own = (wide[:, :2] <= tip).all(axis=1) & (tip <= wide[:, 2:]).all(axis=1)
        # The head is wider than the leader: a whole gap keeps it off the text as well.
        boxes = np.concatenate((self._boxes.rows() + _MARGINS * GAP_MM, kept[~own]))
        runs = np.concatenate((np.hstack((starts, elbows)), np.hstack((elbows, ends))))
        fouled = np.asarray(entering(runs, boxes).any(axis=1)).reshape(2, n)
        clear: NDArray[np.bool_] = np.logical_not(np.logical_or(fouled[0], fouled[1]))
        barriers = ([self._segments] if off_lines else []) + (
            [self._leaders] if off_leaders else []
        )
        blocked = [rows.shapes() for rows in barriers if len(rows.rows())]
        if blocked:
            way = elbows - starts
            size = np.hypot(way[:, 0], way[:, 1])[:, None]
            begin = starts + way * np.minimum(_AT_TARGET_MM / size, 1.0)
            runs[:n, :2] = begin
            tree = shapely.STRtree(np.concatenate(blocked))
            lines = shapely.linestrings(runs.reshape(-1, 2, 2))
            clear[tree.query(lines, predicate="intersects")[0] % n] = False
        return clear

    def reserve(self, point: tuple[float, float]) -> None:
        """Keep texts off a model point that a leader will point at."""
        x, y = self.at(point)
        self._kept.add(np.array([[x - GAP_MM, y - GAP_MM, x + GAP_MM, y + GAP_MM]]))

    def draw_leader(self, leader: Curve) -> None:
        """Draw a leader; later ones will rather not cross it."""
        self.draw(leader)
        self._leaders.add(leader.segments())

    # ---- rows of dimensions ----

    def close_model(self) -> None:
        """Say that the model is drawn: rows of dimensions lie outside what stands now."""
        self._model = self.extent

    @property
    def model(self) -> Bounds:
        """Box of the model, mm on paper."""
        return self._model if self._model is not None else self.extent

    def row_free(self, away: Vector, row: float, reach: tuple[float, float]) -> bool:
        """Return whether no dimension lies on that stretch of a row."""
        return not any(
            abs(taken - row) < TEXT_MM and low - 2.0 < reach[1] and reach[0] < high + 2.0
            for taken, low, high in self._rows.get((round(away.x, 6), round(away.y, 6)), ())
        )

    def take_row(self, away: Vector, row: float, reach: tuple[float, float]) -> None:
        """Note that a dimension lies on a stretch of a row."""
        key = (round(away.x, 6), round(away.y, 6))
        self._rows.setdefault(key, []).append((row, *reach))

    # ---- the end ----

    def finished(self, *, name: str, title: str, margin_mm: float = 2.0) -> Figure:
        """Return the figure: soft lines interrupted about texts, all moved onto its paper."""
        windows = shapely.union_all(
            [
                shapely.box(*box)
                for box in (
                    *(self._boxes.rows() + _MARGINS * GAP_MM),
                    *(self._kept.rows() + _MARGINS * 0.3),
                )
            ]
        )
        items: list[Item] = []
        for item in self._items:
            if isinstance(item, _Soft):
                items += _interrupted(item.curve, windows)
            else:
                items.append(item)
        box = self.extent
        shift = Transform.translation(margin_mm - box.x_min, margin_mm - box.y_min)
        return Figure(
            name=name,
            title=title,
            width_mm=box.width + 2 * margin_mm,
            height_mm=box.height + 2 * margin_mm,
            items=tuple(_moved(item, shift) for item in items),
        )

    def _stretch(self, box: Bounds) -> None:
        """Grow the drawn extent."""
        self._drawn = box if self._drawn is None else around((self._drawn, box))


def _line_parts(geometry: BaseGeometry) -> Iterator[tuple[tuple[float, float], ...]]:
    """Yield the runs of a line geometry that have length, in order along the plane."""
    for part in shapely.get_parts(geometry):
        if part.geom_type == "LineString" and part.length > 0.05:
            yield tuple((float(x), float(y)) for x, y in part.coords)


def _interrupted(curve: Curve, windows: BaseGeometry) -> list[Item]:
    """Return what is left of a soft line outside the windows; the curve itself if untouched."""
    rows = curve.segments()
    line = shapely.LineString(np.vstack((rows[:, :2], rows[-1:, 2:])))
    if not line.intersects(windows):
        return [curve]
    return [
        Curve(vertices=tuple(Vertex(x, y) for x, y in part), pen=curve.pen)
        for part in _line_parts(line.difference(windows))
    ]


def _moved(item: Item, by: Transform) -> Item:
    """Return the item shifted on paper."""
    if isinstance(item, Text):
        return replace(item, at=by.point(*item.at))
    if isinstance(item, Area):
        return replace(item, region=item.region.transformed(by))
    return replace(
        item, vertices=tuple(Vertex(*by.point(v.x, v.y), v.bulge) for v in item.vertices)
    )
