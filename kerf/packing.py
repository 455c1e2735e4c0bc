"""Pieces on a grid of places: every way each may be turned, and where it overlaps the others.

``Shapes`` turns pieces and tells equal ones; ``Rasters`` keeps the no-fit raster of each pair;
``Grid`` says where the pieces lie and how deep a piece would overlap at every place it could
take, which ``bottom_left`` and the search of ``kerf.strip`` ask. Places are whole cells, and
free means free: see ``kerf.nofit``.

Source: bottom-left placement of irregular pieces: Art, 1966; Gomes & Oliveira, Eur. J. Oper.
Res. 141 (2002) 359-370.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from kerf.nofit import Floats, Raster, convex_parts, convex_sums, opposite, raster
from kerf.tolerance import NO_FIT_TOUCH_CELLS

Ints = NDArray[np.int64]

#: Grid places that cost as much to touch as one call for a slice of them.
CALL_CELLS: Final = 4000


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """A piece in one turn, its box's lower left corner at (0, 0).

    Args:
        angle_rad: the turn, counter-clockwise.
        polygon: shapely Polygon, mm.
        shift: what brought the turned piece's box to (0, 0), mm.
        parts: convex parts, mm.
        key: equal for equal shapes.
    """

    angle_rad: float
    polygon: Any
    shift: tuple[float, float]
    parts: tuple[Floats, ...]
    key: int
    width_mm: float
    height_mm: float


class Rasters:
    """The no-fit rasters of a set of pieces, worked out once each."""

    def __init__(self, cell_mm: float) -> None:
        self.cell_mm = cell_mm
        self._known: dict[tuple[int, int], Raster] = {}

    def of(self, standing: Turned, moving: Turned) -> Raster:
        """Return where ``moving`` overlaps ``standing``."""
        key = standing.key, moving.key
        if key not in self._known:
            self._known[key] = raster(convex_sums(standing.parts, moving.parts), self.cell_mm)
            self._known[key[::-1]] = opposite(self._known[key])
        return self._known[key]


class Shapes:
    """Pieces turned every way they may be, equal ones told by one key."""

    def __init__(self) -> None:
        self._keys: dict[bytes, Turned] = {}
        self._fixed = 0

    def turned(self, polygon: Any, angle_rad: float) -> Turned:
        """Return a polygon in a turn; quarter turns are exact."""
        quarter = angle_rad / (math.pi / 2)
        if abs(quarter - round(quarter)) < 1e-9:
            cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[round(quarter) % 4]
        else:
            cos, sin = math.cos(angle_rad), math.sin(angle_rad)  # type: ignore[assignment]
        matrix = np.array([[cos, -sin], [sin, cos]], dtype=float)
        moved = shapely.transform(polygon, lambda p: p @ matrix.T)
        x0, y0, x1, y1 = shapely.bounds(moved)
        placed = shapely.transform(moved, lambda p: p - (x0, y0))
        known = shapely.to_wkb(shapely.normalize(shapely.set_precision(placed, 1e-7)))
        same = self._keys.get(known)
        made = Turned(
            angle_rad=angle_rad,
            polygon=placed,
            shift=(-float(x0), -float(y0)),
            parts=same.parts if same else convex_parts(placed),
            key=same.key if same else len(self._keys),
            width_mm=float(x1 - x0),
            height_mm=float(y1 - y0),
        )
        self._keys.setdefault(known, made)
        return made

    def fixed(self, polygon: Any) -> Turned:
        """Return a polygon that stays where it is, such as what surrounds a remnant."""
        self._fixed -= 1
        x0, y0, x1, y1 = shapely.bounds(polygon)
        return Turned(
            angle_rad=0.0,
            polygon=polygon,
            shift=(0.0, 0.0),
            parts=convex_parts(polygon),
            key=self._fixed,
            width_mm=float(x1 - x0),
            height_mm=float(y1 - y0),
        )


@dataclass(slots=True)
class Grid:
    """A search's state: the pieces on the grid, their overlaps and the pairs' weights."""

    pieces: Sequence[Sequence[Turned]]
    rasters: Rasters
    height_mm: float
    at: Ints
    turn: list[int]
    touched: int = 0

    @classmethod
    def of(cls, pieces: Sequence[Sequence[Turned]], rasters: Rasters, height_mm: float) -> Grid:
        """Return the grid with every piece at the origin in its first turn."""
        return cls(
            pieces=pieces,
            rasters=rasters,
            height_mm=height_mm,
            at=np.zeros((len(pieces), 2), dtype=np.int64),
            turn=[0] * len(pieces),
        )

    def with_fixed(self, obstacle: Turned) -> int:
        """Add a piece that stays at the origin, such as what surrounds a remnant; return it."""
        self.pieces = [*self.pieces, [obstacle]]
        self.at = np.vstack((self.at, np.zeros((1, 2), dtype=np.int64)))
        self.turn.append(0)
        return len(self.pieces) - 1

    def state(self) -> tuple[Ints, tuple[int, ...]]:
        """Return where everything is, to go back to."""
        return self.at.copy(), tuple(self.turn)

    def restore(self, state: tuple[Ints, tuple[int, ...]]) -> None:
        """Go back to a state."""
        self.at[:] = state[0]
        self.turn[:] = state[1]

    def room(self, i: int, turn: int, columns: float) -> tuple[int, int]:
        """Return how many columns and rows of places a piece has; 0 when it has none."""
        piece, cell = self.pieces[i][turn], self.rasters.cell_mm
        across = math.floor(self.height_mm / cell - piece.height_mm / cell + NO_FIT_TOUCH_CELLS)
        along = math.floor(columns - piece.width_mm / cell + NO_FIT_TOUCH_CELLS)
        return max(0, along + 1), max(0, across + 1)

    def overlaps(
        self,
        i: int,
        turn: int,
        columns: float,
        others: Sequence[int],
        weights: Sequence[float],
    ) -> NDArray[np.float32] | None:
        """Return the weighted overlap at every place of a piece, shape (columns, rows).

        Args:
            i, turn: the piece.
            columns: length of the strip, cells.
            others, weights: the pieces it may overlap.
        Returns:
            None when the piece has no place at all.
        """
        nx, ny = self.room(i, turn, columns)
        if not nx or not ny:
            return None
        total = np.zeros((nx, ny), dtype=np.float32)
        self.touched += nx * ny + CALL_CELLS * (1 + len(others))
        moving = self.pieces[i][turn]
        places = self.at.tolist()
        for j, weight in zip(others, weights, strict=True):
            r = self.rasters.of(self.pieces[j][self.turn[j]], moving)
            x, y = places[j][0] + r.x, places[j][1] + r.y
            columns_, rows_ = r.depth.shape
            if -columns_ < x < nx and -rows_ < y < ny:
                x0, y0 = (x if x > 0 else 0), (y if y > 0 else 0)
                part = r.depth[x0 - x : nx - x, y0 - y : ny - y]
                total[x0 : x + columns_, y0 : y + rows_] += part if weight == 1.0 else weight * part
                self.touched += 2 * part.size
        return total

    def depth(self, i: int, j: int) -> float:
        """Return how deep two pieces overlap where they are, cells."""
        r = self.rasters.of(self.pieces[j][self.turn[j]], self.pieces[i][self.turn[i]])
        x = int(self.at[i, 0] - self.at[j, 0]) - r.x
        y = int(self.at[i, 1] - self.at[j, 1]) - r.y
        if 0 <= x < r.depth.shape[0] and 0 <= y < r.depth.shape[1]:
            return float(r.depth[x, y])
        return 0.0

    def right(self, i: int) -> int:
        """Return the columns the strip needs for a piece."""
        piece = self.pieces[i][self.turn[i]]
        return int(self.at[i, 0]) + math.ceil(
            piece.width_mm / self.rasters.cell_mm - NO_FIT_TOUCH_CELLS
        )


def bottom_left(
    grid: Grid, order: Sequence[int], columns: float, fixed: Sequence[int] = ()
) -> list[int]:
    """Place pieces in an order, each leftmost then lowest; return those without a place.

    Of a piece's turns the one counts whose right end comes to lie furthest left.

    Args:
        grid: the pieces.
        order: the pieces to place.
        columns: length of the strip, cells.
        fixed: pieces that lie there already.
    """
    placed: list[int] = [*fixed]
    left: list[int] = []
    for i in order:
        best: tuple[int, int, int, int, int] | None = None
        for turn in range(len(grid.pieces[i])):
            found = grid.overlaps(i, turn, columns, placed, [1.0] * len(placed))
            if found is None:
                continue
            flat = int(found.argmin())
            if found.flat[flat] > 0.0:
                continue
            x, y = divmod(flat, found.shape[1])
            width = math.ceil(grid.pieces[i][turn].width_mm / grid.rasters.cell_mm)
            key = (x + width, x, y, turn, flat)
            if best is None or key < best:
                best = key
        if best is None:
            left.append(i)
            continue
        grid.at[i] = best[1:3]
        grid.turn[i] = best[3]
        placed.append(i)
    return left


def largest_first(pieces: Sequence[Sequence[Turned]]) -> list[int]:
    """Return the order of pieces by area, largest first."""
    return sorted(range(len(pieces)), key=lambda i: (-pieces[i][0].polygon.area, i))
