"""Lines and arcs as arrays: nearest points and edge-to-edge distances, many at a time.

The measures of this package compare thousands of edge pairs; this module holds the exact
formulas once, vectorised. Two edges are nearest either where they cross, or at an end of one
of them, or where both normals fall on one line: the foot of a centre on a line, or the line
through two centres. (Concentric arcs that overlap in angle are as near at an end of the
overlap, which is an end of one of them.) All of these are tried; the least is exact.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from kerf.contour import Contour, Edge, Floats
from kerf.tolerance import COINCIDENT_MM, STRAIGHT_BULGE

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


class EdgeTable(NamedTuple):
    """Edges as rows; lengths in mm. A line has radius inf and a centre of no meaning."""

    start: Floats  # (n, 2)
    end: Floats  # (n, 2)
    bulge: Floats  # (n,), 0 for a line
    centre: Floats  # (n, 2)
    radius: Floats  # (n,)
    along: Floats  # (n, 2) unit chord
    half: Floats  # (n,) half the signed sweep, rad

    def pick(self, rows: Ints | Bools) -> EdgeTable:
        """Return the chosen rows."""
        return EdgeTable(*(column[rows] for column in self))

    @property
    def is_arc(self) -> Bools:
        """Which rows are arcs, shape (n,)."""
        return self.bulge != 0.0

    def headings(self) -> tuple[Floats, Floats]:
        """Return the unit headings at the starts and ends, shape (n, 2) each."""
        cos, sin = np.cos(self.half), np.sin(self.half)
        x, y = self.along[:, 0], self.along[:, 1]
        return (
            np.column_stack((cos * x + sin * y, cos * y - sin * x)),
            np.column_stack((cos * x - sin * y, cos * y + sin * x)),
        )

    def boxes(self) -> Floats:
        """Return the exact boxes, shape (n, 4): x_min, y_min, x_max, y_max."""
        low, high = np.minimum(self.start, self.end), np.maximum(self.start, self.end)
        arcs = np.flatnonzero(self.is_arc)
        for axis, sign in ((0, 1.0), (1, 1.0), (0, -1.0), (1, -1.0)):
            way = np.zeros((len(arcs), 2))
            way[:, axis] = sign
            hit = arcs[covers(self.pick(arcs), way)]
            far = self.centre[hit, axis] + sign * self.radius[hit]
            side = high if sign > 0 else low
            side[hit, axis] = far
        return np.hstack((low, high))


def edge_table(edges: Iterable[Edge]) -> EdgeTable:
    """Return edges as a table."""
    rows = np.array([(*e.start, *e.end, e.bulge) for e in edges], dtype=np.float64).reshape(-1, 5)
    return _table(rows[:, :2], rows[:, 2:4], rows[:, 4])


def loop_table(loops: Iterable[Contour]) -> tuple[EdgeTable, Ints, Ints]:
    """Return the edges of loops as one table, and each edge's row before and after it."""
    starts, ends, bulges, before, after = [], [], [], [], []
    base = 0
    for loop in loops:
        rows = loop.array()
        n = len(rows)
        starts.append(rows[:, :2])
        ends.append(np.roll(rows[:, :2], -1, axis=0))
        bulges.append(rows[:, 2])
        before.append(base + (np.arange(n) - 1) % n)
        after.append(base + (np.arange(n) + 1) % n)
        base += n
    table = _table(np.vstack(starts), np.vstack(ends), np.concatenate(bulges))
    return table, np.concatenate(before), np.concatenate(after)


def _table(start: Floats, end: Floats, bulge: Floats) -> EdgeTable:
    bulge = np.where(np.abs(bulge) > STRAIGHT_BULGE, bulge, 0.0)
    step = end - start
    chord = np.hypot(step[:, 0], step[:, 1])
    safe = np.where(bulge == 0.0, 1.0, bulge)
    k = (1 - safe * safe) / (4 * safe)
    centre = (start + end) / 2 + k[:, None] * np.column_stack((-step[:, 1], step[:, 0]))
    with np.errstate(invalid="ignore", divide="ignore"):
        along = step / chord[:, None]
    radius = np.where(bulge == 0.0, np.inf, chord * (1 + safe * safe) / (4 * np.abs(safe)))
    return EdgeTable(start, end, bulge, centre, radius, along, 2 * np.arctan(bulge))


def covers(arcs: EdgeTable, way: Floats) -> Bools:
    """Return whether the ray from each arc's centre along ``way`` meets the arc.

    Measured from the middle of the arc, where nothing wraps round; the ends are included
    with the slack by which two points are the same.
    """
    sign = np.sign(arcs.bulge)
    middle = np.column_stack((arcs.along[:, 1], -arcs.along[:, 0])) * sign[:, None]
    cos = (middle * way).sum(axis=1)
    sin = middle[:, 0] * way[:, 1] - middle[:, 1] * way[:, 0]
    slack = COINCIDENT_MM / np.maximum(arcs.radius, COINCIDENT_MM)
    out: Bools = np.abs(np.arctan2(sin, cos)) <= np.abs(arcs.half) + slack
    return out


def nearest_points(table: EdgeTable, points: Floats) -> tuple[Floats, Floats]:
    """Return for each row the point of its edge nearest to the row's point, and the distance.

    Args:
        table: n edges; points: shape (n, 2), mm.
    """
    step = table.end - table.start
    with np.errstate(invalid="ignore", divide="ignore"):
        t = ((points - table.start) * step).sum(axis=1) / (step * step).sum(axis=1)
    best = table.start + np.clip(t, 0.0, 1.0)[:, None] * step
    best = np.where((t >= 1.0)[:, None], table.end, best)
    arcs = np.flatnonzero(table.is_arc)
    if len(arcs):
        part, p = table.pick(arcs), points[arcs]
        out = p - part.centre
        reach = np.hypot(out[:, 0], out[:, 1])
        with np.errstate(invalid="ignore", divide="ignore"):
            way = out / reach[:, None]
        on = covers(part, way) & (reach > 0)
        round_ = part.centre + way * part.radius[:, None]
        to_start = np.hypot(*(p - part.start).T)
        to_end = np.hypot(*(p - part.end).T)
        tip = np.where((to_start <= to_end)[:, None], part.start, part.end)
        best[arcs] = np.where(on[:, None], round_, tip)
    return best, np.hypot(*(points - best).T)


def distances_to(table: EdgeTable, points: Floats) -> tuple[Floats, Ints]:
    """Return the distance of each point from the nearest of all edges, mm, and that edge's row."""
    n, m = len(points), len(table.bulge)
    best = np.empty(n)
    owner = np.empty(n, dtype=np.int64)
    block = max(1, 400_000 // max(m, 1))
    for i in range(0, n, block):
        chunk = points[i : i + block]
        k = len(chunk)
        _, d = nearest_points(table.pick(np.tile(np.arange(m), k)), np.repeat(chunk, m, axis=0))
        d = d.reshape(k, m)
        owner[i : i + k] = d.argmin(axis=1)
        best[i : i + k] = d.min(axis=1)
    return best, owner


def crossings(a: EdgeTable, b: EdgeTable) -> tuple[Floats, Bools]:
    """Return up to two points where row i of a meets row i of b, and which of them count.

    Overlapping edges (one line, or one circle) report none; their ends meet anyway.

    Returns:
        points of shape (n, 2, 2), mm, and flags of shape (n, 2).
    """
    n = len(a.bulge)
    points = np.full((n, 2, 2), np.nan)
    arc_a, arc_b = a.is_arc, b.is_arc
    with np.errstate(invalid="ignore", divide="ignore"):
        both = np.flatnonzero(~arc_a & ~arc_b)
        p, q = a.pick(both), b.pick(both)
        r, s = p.end - p.start, q.end - q.start
        cross = r[:, 0] * s[:, 1] - r[:, 1] * s[:, 0]
        gap = q.start - p.start
        t = (gap[:, 0] * s[:, 1] - gap[:, 1] * s[:, 0]) / cross
        points[both, 0] = p.start + t[:, None] * r
        for line, arc, rows in (
            (a, b, np.flatnonzero(~arc_a & arc_b)),
            (b, a, np.flatnonzero(arc_a & ~arc_b)),
        ):
            p, q = line.pick(rows), arc.pick(rows)
            foot_t = ((q.centre - p.start) * p.along).sum(axis=1)
            foot = p.start + foot_t[:, None] * p.along
            off = foot - q.centre
            reach = np.sqrt(q.radius**2 - (off * off).sum(axis=1))
            points[rows, 0] = foot + reach[:, None] * p.along
            points[rows, 1] = foot - reach[:, None] * p.along
        both = np.flatnonzero(arc_a & arc_b)
        p, q = a.pick(both), b.pick(both)
        gap = q.centre - p.centre
        d2 = (gap * gap).sum(axis=1)
        share = (d2 + p.radius**2 - q.radius**2) / (2 * d2)
        height = np.sqrt(p.radius**2 / d2 - share**2)
        side = np.column_stack((-gap[:, 1], gap[:, 0]))
        base = p.centre + share[:, None] * gap
        points[both, 0] = base + height[:, None] * side
        points[both, 1] = base - height[:, None] * side
    flags = np.isfinite(points).all(axis=2)
    for k in (0, 1):
        rows = np.flatnonzero(flags[:, k])
        for table in (a, b):
            flags[rows, k] &= nearest_points(table.pick(rows), points[rows, k])[1] <= COINCIDENT_MM
    return points, flags


def pair_distances(a: EdgeTable, b: EdgeTable) -> tuple[Floats, Floats, Floats]:
    """Return the exact distance between row i of a and row i of b, and the two nearest points.

    Returns:
        distances of shape (n,), mm; points on a and on b of shape (n, 2) each.
    """
    n = len(a.bulge)
    best = np.full(n, np.inf)
    on_a, on_b = np.zeros((n, 2)), np.zeros((n, 2))

    def offer(rows: Ints, p: Floats, q: Floats) -> None:
        d = np.hypot(*(p - q).T)
        better = d < best[rows]
        rows, p, q = rows[better], p[better], q[better]
        best[rows], on_a[rows], on_b[rows] = d[better], p, q

    every = np.arange(n)
    for p in (a.start, a.end):
        offer(every, p, nearest_points(b, p)[0])
    for q in (b.start, b.end):
        offer(every, nearest_points(a, q)[0], q)
    # Where one line is normal to both: it runs through the centres, or is normal to the line.
    with np.errstate(invalid="ignore", divide="ignore"):
        for first, second, swap in ((a, b, False), (b, a, True)):
            rows = np.flatnonzero(~first.is_arc & second.is_arc)
            foot = nearest_points(first.pick(rows), second.centre[rows])[0]
            near = nearest_points(second.pick(rows), foot)[0]
            offer(rows, *((near, foot) if swap else (foot, near)))
        rows = np.flatnonzero(a.is_arc & b.is_arc)
        way = b.centre[rows] - a.centre[rows]
        far = np.hypot(way[:, 0], way[:, 1])
        rows, way = rows[far > 0], way[far > 0] / far[far > 0, None]
        for sign in (1.0, -1.0):
            tip = a.centre[rows] + sign * way * a.radius[rows, None]
            on = covers(a.pick(rows), sign * way)
            r = rows[on]
            offer(r, tip[on], nearest_points(b.pick(r), tip[on])[0])
    points, flags = crossings(a, b)
    for k in (0, 1):
        rows = np.flatnonzero(flags[:, k])
        offer(rows, points[rows, k], points[rows, k])
    return best, on_a, on_b
