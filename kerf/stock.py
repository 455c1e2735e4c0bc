"""Pieces laid out on remnants and sheets: the fewest sheets, and the most left of the last one.

Remnants are filled first, the smallest first, then whole sheets. On each, pieces go largest
first to the leftmost free place of their no-fit regions (``kerf.packing.bottom_left``), windows
of pieces that already lie there included, so that a small plate is cut from the scrap of a
large one. Several orders are tried; fewest sheets, then the shortest use of the last one, wins,
and what lies on the last sheet is packed once more as a strip. What is left of it is given as
an outline to be put back on the shelf.

Pieces are grown by half the gap for this, never by less, and the result is measured anew from
the pieces themselves before it is returned: no two nearer than the gap, none nearer to the
sheet's edge than its margin. Refused: a gap or margin below 0, stock with holes or with an
outline that crosses itself, a piece no stock takes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
import shapely
from shapely import affinity

from kerf.contour import Contour, Region, Transform
from kerf.errors import GeometryError
from kerf.packing import Grid, Rasters, Shapes, Turned, bottom_left, largest_first
from kerf.strip import Strip, packed
from kerf.tolerance import LAYOUT_FACET_MM, LAYOUT_SLACK_MM

#: Cells across a sheet when it is filled.
CELLS_ACROSS = 200
#: Grid places a layout's last sheet may cost to pack: about a second.
EFFORT = 1_000_000_000


class Turns(StrEnum):
    """How pieces may be turned on a sheet."""

    QUARTER = "quarter"  #: any quarter turn: a sheet alike both ways
    HALF = "half"  #: half turns: a sheet with a grain
    NONE = "none"  #: not at all: a sheet with a print

    @property
    def angles_rad(self) -> tuple[float, ...]:
        """The turns allowed, rad."""
        count = {Turns.QUARTER: 4, Turns.HALF: 2, Turns.NONE: 1}[self]
        return tuple(2 * math.pi * k / count for k in range(count))


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece to be cut: its finished size, and the name it is called by."""

    name: str
    region: Region


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A sheet or a remnant.

    Args:
        name: what it is called on the shelf.
        region: its outline; its box's lower left corner is where the laser's zero lies.
        is_remnant: whether there is just this one; whole sheets are taken as needed.
    Raises:
        GeometryError: it has holes, or its outline crosses itself.
    """

    name: str
    region: Region
    is_remnant: bool = False

    def __post_init__(self) -> None:
        if self.region.holes:
            raise GeometryError(
                f'stock "{self.name}" has {len(self.region.holes)} hole(s) in it; '
                "only one plain outline is laid out",
                hint="give the outline of the part of it without holes",
            )
        if not shapely.Polygon(self.region.outer.facets(LAYOUT_FACET_MM)).is_valid:
            raise GeometryError(
                f'the outline of stock "{self.name}" crosses itself',
                hint="give its corners in order round the edge",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a piece lies.

    Args:
        piece: index into the pieces given.
        to_stock: piece → stock coordinates: a turn and a shift.
        angle_rad: the turn.
    """

    piece: int
    to_stock: Transform
    angle_rad: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidStock:
    """One sheet or remnant with what is cut from it.

    Args:
        stock: what it is cut from.
        places: the pieces, in the order given.
        left: outline of what is left at the far side, stock coordinates, or None when that is
            too small to keep.
    """

    stock: Stock
    places: tuple[Place, ...]
    left: Contour | None


def laid_out(
    pieces: Sequence[Piece],
    *,
    remnants: Sequence[Stock] = (),
    sheet: Stock | None = None,
    gap_mm: float,
    margin_mm: float,
    turns: Turns = Turns.QUARTER,
    keep_mm: float = 50.0,
    effort: int = EFFORT,
    dense_s: int = 0,
) -> tuple[LaidStock, ...]:
    """Return pieces laid out on stock, remnants first.

    Args:
        pieces: what is to be cut.
        remnants: pieces of sheet on the shelf, each there once.
        sheet: a whole sheet, there as often as needed; None when only remnants may be used.
        gap_mm: least distance between pieces, mm, >= 0.
        margin_mm: least distance of a piece from the stock's edge, mm, >= 0.
        turns: how pieces may be turned.
        keep_mm: what is left is kept when a circle of this diameter fits on it, mm.
        effort: see ``kerf.strip.packed``.
        dense_s: seconds for the dense layout library on the last sheet; 0 leaves it out. Then
            the layout is not the same on every machine: keep it.
    Returns:
        stock in the order it is filled; the same for the same pieces.
    Raises:
        GeometryError: a length below 0, or a piece that no stock takes.
        DenseUnavailable: see ``kerf.dense.dense_strip``.
    """
    for what, length in (("gap between pieces", gap_mm), ("margin", margin_mm)):
        if not 0.0 <= length < math.inf:
            raise GeometryError(
                f"the {what} must be 0 mm or more, not {length:.4g} mm",
                hint="pieces need at least a kerf between them",
            )
    stocks = [*remnants, *([sheet] if sheet is not None else [])]
    table = _Table.of(
        pieces,
        gap_mm=gap_mm,
        margin_mm=margin_mm,
        turns=turns,
        cell_mm=max((s.region.bounds().height for s in stocks), default=1.0) / CELLS_ACROSS,
    )
    shelf = sorted(remnants, key=lambda s: (s.region.area_mm2, s.name))
    best: tuple[tuple[float, ...], list[_Filled]] | None = None
    for order in table.orders():
        filled = table.filled(order, shelf, sheet)
        key = (
            float(sum(not f.stock.is_remnant for f in filled)),
            filled[-1].used_mm if filled else 0.0,
        )
        if best is None or key < best[0]:
            best = key, filled
    assert best is not None
    filled = best[1]
    if filled and not filled[-1].stock.is_remnant and effort:
        filled[-1] = table.packed_again(filled[-1], effort)
        if dense_s:
            filled[-1] = table.packed_densely(filled[-1], dense_s, turns)
    out = tuple(table.laid(f, keep_mm) for f in filled)
    for laid in out:
        check_laid(laid, pieces, gap_mm=gap_mm, margin_mm=margin_mm)
    return out


def check_laid(
    laid: LaidStock, pieces: Sequence[Piece], *, gap_mm: float, margin_mm: float
) -> None:
    """Refuse a layout whose pieces come too near to each other or to the edge.

    Measured from the pieces themselves, whoever laid them out.

    Raises:
        GeometryError: what is too near, and by how much.
    """
    placed = [_polygon(pieces[p.piece].region.transformed(p.to_stock)) for p in laid.places]
    names = [pieces[p.piece].name for p in laid.places]
    outline = shapely.Polygon(laid.stock.region.outer.facets(LAYOUT_FACET_MM))
    slack = 2 * LAYOUT_FACET_MM
    for name, polygon in zip(names, placed, strict=True):
        edge_mm = shapely.distance(polygon, outline.exterior)
        if not outline.covers(polygon) or edge_mm < margin_mm - slack:
            raise GeometryError(
                f'"{name}" lies {edge_mm:.3f} mm from the edge of stock "{laid.stock.name}"; '
                f"it must keep {margin_mm:.3f} mm",
                hint="this layout must not be cut",
            )
    tree = shapely.STRtree(placed)
    for i, j in sorted(
        zip(
            *tree.query(placed, predicate="dwithin", distance=max(gap_mm, slack)).tolist(),
            strict=True,
        )
    ):
        if i >= j:
            continue
        apart_mm = shapely.distance(placed[i], placed[j])
        overlap = gap_mm < slack and shapely.intersection(placed[i], placed[j]).area > slack
        if overlap or apart_mm < gap_mm - slack:
            raise GeometryError(
                f'"{names[i]}" and "{names[j]}" lie {apart_mm:.3f} mm apart on stock '
                f'"{laid.stock.name}"; they must keep {gap_mm:.3f} mm',
                hint="this layout must not be cut",
            )


def _polygon(region: Region) -> Any:
    """Return a region as a shapely polygon within ``LAYOUT_FACET_MM``."""
    return shapely.Polygon(
        region.outer.facets(LAYOUT_FACET_MM), [h.facets(LAYOUT_FACET_MM) for h in region.holes]
    )


@dataclass(slots=True)
class _Filled:
    """A stock being filled: which pieces, their turns and the places of their grown boxes."""

    stock: Stock
    pieces: list[int]
    turns: list[int]
    places: list[tuple[float, float]]
    used_mm: float

    def shortened(self, found: Strip) -> _Filled:
        """Return it with its pieces as a strip lays them, or as it is when that is shorter."""
        if found.length_mm >= self.used_mm:
            return self
        return _Filled(
            stock=self.stock,
            pieces=self.pieces,
            turns=list(found.turns),
            places=list(found.places_mm),
            used_mm=found.length_mm,
        )


@dataclass(slots=True)
class _Table:
    """The pieces grown by half the gap and turned every way, and how stock takes them."""

    pieces: Sequence[Piece]
    turned: list[list[Turned]]
    shapes: Shapes
    rasters: Rasters
    reach_mm: float  #: how far a grown piece reaches beyond the true one, at least
    box_reach_mm: float  #: ... and its box beyond the true one's
    margin_mm: float

    @classmethod
    def of(
        cls,
        pieces: Sequence[Piece],
        *,
        gap_mm: float,
        margin_mm: float,
        turns: Turns,
        cell_mm: float,
    ) -> _Table:
        """Return the table of some pieces."""
        # Facets of an outside arc lie within it, and simplifying moves an edge by its tolerance:
        # growing by both keeps every grown piece outside the true one by half the gap.
        grown = gap_mm / 2 + LAYOUT_FACET_MM + LAYOUT_SLACK_MM
        shapes = Shapes()
        turned = []
        reach = grown
        for piece in pieces:
            body = shapely.simplify(
                shapely.buffer(_polygon(piece.region), grown, join_style="mitre", mitre_limit=2.0),
                LAYOUT_SLACK_MM,
            )
            box, true = shapely.bounds(body), piece.region.bounds()
            reach = min(
                reach, true[0] - box[0], true[1] - box[1], box[2] - true[2], box[3] - true[3]
            )
            turned.append([shapes.turned(body, angle) for angle in turns.angles_rad])
        return cls(
            pieces=pieces,
            turned=turned,
            shapes=shapes,
            rasters=Rasters(cell_mm),
            reach_mm=gap_mm / 2,
            box_reach_mm=float(reach),
            margin_mm=margin_mm,
        )

    def orders(self) -> list[list[int]]:
        """Return the orders worth trying: by area, by the longer side, by the shorter."""

        def by(size: Any) -> list[int]:
            return sorted(range(len(self.turned)), key=lambda i: (-size(self.turned[i][0]), i))

        orders = [
            largest_first(self.turned),
            by(lambda t: max(t.width_mm, t.height_mm)),
            by(lambda t: min(t.width_mm, t.height_mm)),
        ]
        return [order for k, order in enumerate(orders) if order not in orders[:k]]

    def filled(self, order: list[int], shelf: list[Stock], sheet: Stock | None) -> list[_Filled]:
        """Return stock filled with pieces in an order."""
        left = order
        out: list[_Filled] = []
        for stock in shelf:
            if not left:
                break
            filled, left = self._fill(stock, left)
            if filled.pieces:
                out.append(filled)
        while left:
            if sheet is None:
                raise self._unfit(left[0], shelf)
            filled, rest = self._fill(sheet, left)
            if not filled.pieces:
                raise self._unfit(left[0], [*shelf, sheet])
            out.append(filled)
            left = rest
        return out

    def _unfit(self, piece: int, stocks: Sequence[Stock]) -> GeometryError:
        """Return the refusal of a piece, with the sizes that do not go together."""
        box = self.pieces[piece].region.bounds()
        sizes = ", ".join(
            f'"{s.name}" {s.region.bounds().width:.1f} × {s.region.bounds().height:.1f} mm'
            for s in stocks
        )
        return GeometryError(
            f'"{self.pieces[piece].name}" is {box.width:.1f} × {box.height:.1f} mm and fits on '
            f"none of the stock: {sizes or 'none is given'}",
            hint=f"each edge needs a margin of {self.margin_mm:.1f} mm; "
            "use a larger sheet, allow turns, or make the piece smaller",
        )

    def _room(self, stock: Stock) -> Any:
        """Return where grown pieces may lie, as a polygon in stock coordinates."""
        outline = shapely.Polygon(stock.region.outer.facets(LAYOUT_FACET_MM))
        is_box = outline.area > shapely.box(*outline.bounds).area - LAYOUT_FACET_MM
        reach = self.box_reach_mm if is_box else self.reach_mm
        return shapely.buffer(outline, reach - self.margin_mm, join_style="mitre")

    def _fill(self, stock: Stock, order: list[int]) -> tuple[_Filled, list[int]]:
        """Fill one stock with pieces in an order; return it and the pieces left over."""
        room = self._room(stock)
        empty = _Filled(stock=stock, pieces=[], turns=[], places=[], used_mm=0.0)
        if shapely.is_empty(room):
            return empty, order
        x0, y0, x1, y1 = shapely.bounds(room)
        cell = self.rasters.cell_mm
        grid = Grid.of(self.turned, self.rasters, float(y1 - y0))
        fixed: list[int] = []
        outside = shapely.difference(shapely.box(x0, y0, x1, y1), room)
        if shapely.area(outside) > LAYOUT_FACET_MM:
            around = shapely.transform(outside, lambda p: p - (x0, y0))
            fixed = [grid.with_fixed(self.shapes.fixed(around))]
        left = bottom_left(grid, order, float(x1 - x0) / cell, fixed)
        taken = [i for i in order if i not in set(left)]
        filled = _Filled(
            stock=stock,
            pieces=taken,
            turns=[grid.turn[i] for i in taken],
            places=[(float(grid.at[i, 0]) * cell, float(grid.at[i, 1]) * cell) for i in taken],
            used_mm=max((grid.right(i) * cell for i in taken), default=0.0),
        )
        return filled, left

    def packed_again(self, filled: _Filled, effort: int) -> _Filled:
        """Return a sheet's pieces packed as a strip, when that comes out shorter."""
        room = shapely.bounds(self._room(filled.stock))
        found: Strip = packed(
            [self.turned[i] for i in filled.pieces],
            height_mm=float(room[3] - room[1]),
            effort=effort,
        )
        return filled.shortened(found)

    def packed_densely(self, filled: _Filled, seconds: int, turns: Turns) -> _Filled:
        """Return a sheet's pieces as the dense library packs them, when that is shorter.

        It leaves windows empty, so that with plates in windows the own layout often stays.
        """
        from kerf.dense import dense_strip

        room = shapely.bounds(self._room(filled.stock))
        bodies = [shapely.Polygon(self.turned[i][0].polygon.exterior) for i in filled.pieces]
        found = dense_strip(
            bodies,
            [turns.angles_rad] * len(bodies),
            height_mm=float(room[3] - room[1]),
            seconds=seconds,
        )
        return filled.shortened(found)

    def laid(self, filled: _Filled, keep_mm: float) -> LaidStock:
        """Return a filled stock in its own coordinates, and what is left of it."""
        x0, y0 = shapely.bounds(self._room(filled.stock))[:2]
        places, bodies = [], []
        for i, turn, (x, y) in zip(filled.pieces, filled.turns, filled.places, strict=True):
            turned = self.turned[i][turn]
            dx, dy = x + float(x0), y + float(y0)
            places.append(
                Place(
                    piece=i,
                    to_stock=Transform.rotation(turned.angle_rad).then(
                        Transform.translation(turned.shift[0] + dx, turned.shift[1] + dy)
                    ),
                    angle_rad=turned.angle_rad,
                )
            )
            bodies.append(affinity.translate(turned.polygon, dx, dy))
        return LaidStock(
            stock=filled.stock,
            places=tuple(sorted(places, key=lambda p: p.piece)),
            left=left_over(filled.stock, bodies, keep_mm),
        )


def left_over(stock: Stock, bodies: Sequence[Any], keep_mm: float) -> Contour | None:
    """Return the outline of what is left beyond the pieces: a straight edge or one step.

    Args:
        stock: what was cut from.
        bodies: shapely polygons of the pieces with their share of the gap.
        keep_mm: it is kept when a circle of this diameter fits on it.
    """
    outline = shapely.Polygon(stock.region.outer.facets(LAYOUT_FACET_MM))
    x0, y0, x1, y1 = map(float, shapely.bounds(outline))
    boxes = np.array([shapely.bounds(b) for b in bodies]).reshape(-1, 4)
    best: Any = None
    for y in [y1, *sorted({float(v) for box in boxes for v in (box[1], box[3])})]:
        below = boxes[boxes[:, 1] < y - LAYOUT_FACET_MM]
        above = boxes[boxes[:, 3] > y + LAYOUT_FACET_MM]
        low = max([x0, *below[:, 2].tolist()])
        high = max([x0, *above[:, 2].tolist()])
        arm_mm = y1 - y if high < low else y - y0
        if min(arm_mm, abs(high - low)) < keep_mm:
            low = high = max(low, high)  # a step too narrow to cut anything from
        free = shapely.union(shapely.box(low, y0, x1, max(y, y0)), shapely.box(high, y, x1, y1))
        parts = shapely.get_parts(shapely.intersection(outline, free))
        for part in parts:
            if part.geom_type != "Polygon" or len(part.interiors):
                continue
            if best is None or part.area > best.area + LAYOUT_FACET_MM:
                best = part
    if best is None or shapely.maximum_inscribed_circle(best).length < keep_mm / 2:
        return None
    ring = shapely.get_coordinates(shapely.simplify(best, LAYOUT_FACET_MM).exterior)[:-1]
    contour = Contour.of([(round(float(x), 3), round(float(y), 3)) for x, y in ring])
    return contour if contour.is_ccw else contour.reversed()
