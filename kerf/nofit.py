"""Where one piece may not stand beside another: no-fit regions, exact and on a grid.

The no-fit region of a moving piece about a standing one is the set of places of the moving
piece's corner at which the two overlap: the Minkowski sum of the standing piece and the moving
one turned by half a turn (Art, 1966; Bennell & Oliveira, 2008, sections 2 and 3). Both are cut
into convex parts, whose sums are their edges merged by direction, so that notches, hooks and
windows come out right without special cases: a window wide enough leaves a hole in the region.

The searches work on a grid of places. A ``Raster`` says of each grid place how deep the two
overlap there, counted in cells to the nearest place where they do not. It is 0 exactly where
the pieces at most touch: a place on the region's edge is free. So a layout on the grid is a
true layout, and only the choice of places is coarse.

Source: R. C. Art, *An approach to the two dimensional irregular cutting stock problem*, IBM
Cambridge, 1966; J. A. Bennell, J. F. Oliveira, *The geometry of nesting problems: a tutorial*,
Eur. J. Oper. Res. 184 (2008) 397-415.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from kerf.errors import GeometryError
from kerf.tolerance import NO_FIT_TOUCH_CELLS

Floats = NDArray[np.float64]
Depths = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Raster:
    """How deep a moving piece overlaps a standing one, by grid place relative to it.

    Args:
        x, y: grid place of the first row and column, cells.
        depth: shape (columns along x, rows along y): cells to the nearest free place, 0 if free.
    """

    x: int
    y: int
    depth: Depths


def convex_parts(polygon: Any) -> tuple[Floats, ...]:
    """Return convex polygons that cover a polygon with holes and do not overlap.

    Triangles of the constrained Delaunay triangulation, merged while they stay convex, longest
    shared edge first. Source: Hertel & Mehlhorn, 1983: at most four times the fewest.

    Args:
        polygon: a shapely Polygon.
    Returns:
        rings, each of shape (n, 2), counter-clockwise, not closed.
    """
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
    rings = [_ring(t) for t in triangles]
    owner = list(range(len(rings)))
    shared: dict[tuple[tuple[float, float], tuple[float, float]], list[int]] = {}
    for i, ring in enumerate(rings):
        for p, q in zip(ring, ring[1:] + ring[:1], strict=True):
            shared.setdefault((min(p, q), max(p, q)), []).append(i)
    inner = sorted(
        (pair for pair in shared.items() if len(pair[1]) == 2),
        key=lambda pair: (-_square(*pair[0]), pair[0]),
    )

    def root(i: int) -> int:
        while owner[i] != i:
            i = owner[i]
        return i

    for (p, q), (i, j) in inner:
        a, b = root(i), root(j)
        if a == b:
            continue
        merged = _merged(rings[a], rings[b], p, q)
        if merged is not None:
            rings[a], owner[b] = merged, a
    # The hull drops corners that a straight joint left behind.
    return tuple(
        np.array(_ring(shapely.convex_hull(shapely.MultiPoint(rings[i]))))
        for i in range(len(rings))
        if owner[i] == i
    )


def no_fit_region(standing: Sequence[Floats], moving: Sequence[Floats]) -> Any:
    """Return the places of the moving piece's origin at which it overlaps the standing one.

    Args:
        standing, moving: convex parts, each of shape (n, 2), mm.
    Returns:
        a shapely geometry; overlap is its interior.
    """
    return shapely.union_all([shapely.Polygon(ring) for ring in convex_sums(standing, moving)])


def convex_sums(standing: Sequence[Floats], moving: Sequence[Floats]) -> list[Floats]:
    """Return the no-fit regions of each convex part of one piece about each of the other.

    The edges of the sum of two convex polygons are the edges of both, in order of direction,
    from the sum of their lowest corners. Source: de Berg et al., *Computational Geometry*, 13.3.

    Args:
        standing, moving: convex parts, each of shape (n, 2), counter-clockwise, mm.
    Returns:
        convex rings, each of shape (n, 2), counter-clockwise, not closed.
    """
    stays = [_by_direction(part) for part in standing]
    moves = [_by_direction(-part) for part in moving]
    out = []
    for low, edges, directions in stays:
        for other_low, other_edges, other_directions in moves:
            order = np.argsort(np.concatenate((directions, other_directions)), kind="stable")
            steps = np.concatenate((edges, other_edges))[order]
            out.append(low + other_low + np.cumsum(steps, axis=0) - steps)
    return out


def _by_direction(part: Floats) -> tuple[Floats, Floats, Floats]:
    """Return a convex polygon's lowest corner, and its edges from there with their directions."""
    first = int(np.lexsort((part[:, 0], part[:, 1]))[0])
    ring = np.roll(part, -first, axis=0)
    edges = np.roll(ring, -1, axis=0) - ring
    directions = np.arctan2(edges[:, 1], edges[:, 0]) % (2 * np.pi)
    return ring[0], edges, directions


def raster(sums: Sequence[Floats], cell_mm: float) -> Raster:
    """Return the grid form of a no-fit region.

    A place is inside when four points a hair off it, one to each side of both its grid lines,
    all are; so places on the edge of the region are free, along any edge, and those on an edge
    between two sums are not.

    Args:
        sums: from ``convex_sums``, mm.
        cell_mm: pitch of the grid, mm, > 0.
    """
    if not cell_mm > 0.0:
        raise GeometryError(f"a grid needs a pitch above 0 mm, not {cell_mm:.4g} mm")
    start = np.vstack(sums) / cell_mm
    end = np.vstack([np.roll(ring, -1, axis=0) for ring in sums]) / cell_mm
    low = np.floor(start.min(axis=0)).astype(int)
    high = np.ceil(start.max(axis=0)).astype(int)
    columns, rows = (high - low + 1).tolist()
    inside = _filled(start - low, end - low, columns, rows, -NO_FIT_TOUCH_CELLS)
    inside &= _filled(start - low, end - low, columns, rows, NO_FIT_TOUCH_CELLS)
    from scipy import ndimage

    depth = ndimage.distance_transform_edt(np.pad(inside, 1))[1:-1, 1:-1]
    return Raster(x=int(low[0]), y=int(low[1]), depth=depth.astype(np.float32))


def opposite(of: Raster) -> Raster:
    """Return the raster with the standing and the moving piece exchanged."""
    columns, rows = of.depth.shape
    return Raster(
        x=-(of.x + columns - 1),
        y=-(of.y + rows - 1),
        depth=np.ascontiguousarray(of.depth[::-1, ::-1]),
    )


def _filled(start: Floats, end: Floats, columns: int, rows: int, hair: float) -> NDArray[np.bool_]:
    """Return the grid places inside rings, on scan lines a hair off the grid's.

    Inside is where more edges run down than up to the left; it must be so a hair to either side.
    """
    lines = np.arange(rows) + hair
    y1, y2 = start[:, 1], end[:, 1]
    # Rows between an edge's ends: those it crosses.
    first = np.ceil(np.minimum(y1, y2) - hair).astype(int)
    last = np.ceil(np.maximum(y1, y2) - hair).astype(int)
    counts = last - first
    edge = np.repeat(np.arange(len(start)), counts)
    row = first[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = (lines[row] - y1[edge]) / (y2[edge] - y1[edge])
    at = start[edge, 0] + share * (end[edge, 0] - start[edge, 0])
    turn = np.where(y2[edge] < y1[edge], 1.0, -1.0)
    inside = np.ones((columns, rows), dtype=bool)
    for shift in (-2 * NO_FIT_TOUCH_CELLS, 2 * NO_FIT_TOUCH_CELLS):
        column = np.clip(np.ceil(at + shift).astype(int), 0, columns)
        steps = np.bincount(column * rows + row, turn, minlength=(columns + 1) * rows)
        inside &= np.cumsum(steps.reshape(columns + 1, rows), axis=0)[:columns] > 0.5
    return inside


def _ring(polygon: Any) -> list[tuple[float, float]]:
    """Return a polygon's outer ring, counter-clockwise, not closed."""
    ring = shapely.get_coordinates(shapely.get_exterior_ring(polygon))[:-1]
    x, y = ring[:, 0], ring[:, 1]
    if float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) < 0:
        ring = ring[::-1]
    return [(float(p[0]), float(p[1])) for p in ring]


def _square(p: tuple[float, float], q: tuple[float, float]) -> float:
    return (p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2


def _merged(
    a: list[tuple[float, float]],
    b: list[tuple[float, float]],
    p: tuple[float, float],
    q: tuple[float, float],
) -> list[tuple[float, float]] | None:
    """Return two rings joined across the edge p-q they share, or None if that is not convex."""
    i = a.index(p) if p in a and a[(a.index(p) + 1) % len(a)] == q else a.index(q)
    tail, head = a[i], a[(i + 1) % len(a)]
    j = b.index(head)
    ring = [*(a[(i + 1 + k) % len(a)] for k in range(len(a))), *()]
    other = [b[(j + 1 + k) % len(b)] for k in range(len(b))]
    # ring runs head … tail; other runs from after head to head, with tail first among it.
    between = [v for v in other if v not in (head, tail)]
    whole = [*ring, *between]
    n = len(whole)
    for k in range(n):
        (x0, y0), (x1, y1), (x2, y2) = whole[k - 1], whole[k], whole[(k + 1) % n]
        if (x1 - x0) * (y2 - y1) - (y1 - y0) * (x2 - x1) < 0.0:
            return None
    return whole
