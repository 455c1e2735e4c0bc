"""Closed loops of lines and arcs, regions with holes, and their exact measures.

A loop is a ring of vertices ``(x, y, bulge)``. The bulge belongs to the edge that
leaves the vertex: ``tan(sweep / 4)``, positive when the edge turns counter-clockwise,
0 for a line. Neighbouring edges share their end point by construction, so a loop
cannot have a gap, and an arc stays an arc from drawing to cut file.

Material lies left of travel: outer loops run counter-clockwise, holes clockwise.

Formulas: chord c, sweep a = 4 atan(b), radius c (1 + b²) / (4 |b|), area between arc
and chord r² (a − sin a) / 2. Source: bulge as defined by the DXF reference for
LWPOLYLINE group 42; circular-segment area from any geometry handbook.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from kerf.edge import Edge as Edge
from kerf.errors import GeometryError
from kerf.plane import Bounds as Bounds
from kerf.plane import Point as Point
from kerf.plane import Transform as Transform
from kerf.plane import Vector as Vector
from kerf.plane import Vertex as Vertex
from kerf.tolerance import FACET_MM, STRAIGHT_BULGE

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contour:
    """A closed loop of lines and arcs.

    Args:
        vertices: two or more vertices, each edge running to the next vertex and the
            last to the first; neighbouring vertices are distinct.

    Raises:
        GeometryError: fewer than two vertices, two straight edges only, a coordinate
            that is not finite, or an edge of no length.
    """

    vertices: tuple[Vertex, ...]

    def __post_init__(self) -> None:
        n = len(self.vertices)
        if n < 2:
            raise GeometryError(f"a closed loop needs at least 2 vertices, this one has {n}")
        rows = np.asarray(self.vertices, dtype=np.float64)
        if not np.all(np.isfinite(rows)):
            raise GeometryError("a vertex has a coordinate that is not a finite number")
        step = _ahead(rows[:, :2]) - rows[:, :2]
        short = np.flatnonzero(np.hypot(step[:, 0], step[:, 1]) == 0.0)
        if len(short):
            v = self.vertices[int(short[0])]
            raise GeometryError(f"edge {int(short[0])} at ({v.x:.6g}, {v.y:.6g}) has no length")
        if n == 2 and all(abs(v.bulge) <= STRAIGHT_BULGE for v in self.vertices):
            raise GeometryError("two straight edges enclose nothing")

    @classmethod
    def of(cls, rows: Iterable[tuple[float, ...]]) -> Self:
        """Return the loop through rows of (x, y) or (x, y, bulge)."""
        return cls(vertices=tuple(Vertex(*map(float, row)) for row in rows))

    @classmethod
    def circle(cls, x: float, y: float, radius_mm: float) -> Self:
        """Return a counter-clockwise circle of two half turns.

        Raises:
            GeometryError: the radius is not above zero.
        """
        if not radius_mm > 0.0:
            raise GeometryError(f"a circle needs a radius above zero, not {radius_mm:.6g} mm")
        return cls(vertices=(Vertex(x - radius_mm, y, 1.0), Vertex(x + radius_mm, y, 1.0)))

    @classmethod
    def rectangle(cls, x: float, y: float, width_mm: float, height_mm: float) -> Self:
        """Return a counter-clockwise rectangle with its lower left corner at (x, y)."""
        return cls.of(
            (
                (x, y),
                (x + width_mm, y),
                (x + width_mm, y + height_mm),
                (x, y + height_mm),
            )
        )

    def array(self) -> Floats:
        """Return the vertices as floats, shape (n, 3): x mm, y mm, bulge."""
        return np.asarray(self.vertices, dtype=np.float64)

    def edges(self) -> Iterator[Edge]:
        """Yield the edges in order; edge i leaves vertex i."""
        n = len(self.vertices)
        for i, v in enumerate(self.vertices):
            w = self.vertices[(i + 1) % n]
            yield Edge(start=Point(v.x, v.y), end=Point(w.x, w.y), bulge=v.bulge)

    def edge(self, index: int) -> Edge:
        """Return the edge that leaves vertex ``index`` (counted round the ring)."""
        n = len(self.vertices)
        v, w = self.vertices[index % n], self.vertices[(index + 1) % n]
        return Edge(start=Point(v.x, v.y), end=Point(w.x, w.y), bulge=v.bulge)

    @property
    def signed_area_mm2(self) -> float:
        """Exact area, mm²; positive when the loop runs counter-clockwise."""
        rows = self.array()
        # About the first vertex, so that a small loop far from the origin keeps its digits.
        x, y = rows[:, 0] - rows[0, 0], rows[:, 1] - rows[0, 1]
        x2, y2 = _ahead(x), _ahead(y)
        polygon = float(np.sum(x * y2 - x2 * y)) / 2
        return polygon + float(np.sum(_segment_areas(rows)))

    @property
    def area_mm2(self) -> float:
        """Exact enclosed area, mm²."""
        return abs(self.signed_area_mm2)

    @property
    def is_ccw(self) -> bool:
        """Whether the loop runs counter-clockwise."""
        return self.signed_area_mm2 > 0.0

    @property
    def length_mm(self) -> float:
        """Exact length round the loop, mm."""
        return float(np.sum(_edge_lengths(self.array())))

    def bounds(self) -> Bounds:
        """Return the exact axis-aligned box, arcs' extremes included, mm."""
        rows = self.array()
        x_min, y_min = map(float, rows[:, :2].min(axis=0))
        x_max, y_max = map(float, rows[:, :2].max(axis=0))
        for i in np.flatnonzero(np.abs(rows[:, 2]) > STRAIGHT_BULGE):
            box = self.edge(int(i)).bounds()
            x_min, y_min = min(x_min, box.x_min), min(y_min, box.y_min)
            x_max, y_max = max(x_max, box.x_max), max(y_max, box.y_max)
        return Bounds(x_min, y_min, x_max, y_max)

    def reversed(self) -> Contour:
        """Return the same loop travelled the other way, from the same first vertex."""
        vs = self.vertices
        n = len(vs)
        return Contour(
            vertices=tuple(
                Vertex(vs[-i % n].x, vs[-i % n].y, -vs[(-i - 1) % n].bulge) for i in range(n)
            )
        )

    def transformed(self, by: Transform) -> Contour:
        """Return the loop after a map; a mirror reverses its sense of turn.

        Raises:
            GeometryError: the map is not a similarity and the loop holds arcs.
        """
        if not by.is_similarity and any(abs(v.bulge) > STRAIGHT_BULGE for v in self.vertices):
            raise GeometryError("an arc survives only uniform scaling, turning and mirroring")
        sign = 1.0 if by.determinant > 0 else -1.0
        return Contour(
            vertices=tuple(Vertex(*by.point(v.x, v.y), sign * v.bulge) for v in self.vertices)
        )

    def locate(self, s_mm: float) -> tuple[int, float]:
        """Return (edge index, share of that edge) at length s_mm from vertex 0, round the ring."""
        lengths = _edge_lengths(self.array())
        total = float(lengths.sum())
        s = s_mm % total
        ends = np.cumsum(lengths)
        i = min(int(np.searchsorted(ends, s, side="right")), len(lengths) - 1)
        return i, float((s - (ends[i] - lengths[i])) / lengths[i])

    def point_at(self, s_mm: float) -> Point:
        """Return the point at length s_mm from vertex 0, mm."""
        i, t = self.locate(s_mm)
        return self.edge(i).point_at(t)

    def normal_at(self, s_mm: float) -> Vector:
        """Return the unit normal at length s_mm, to the left of travel: into the material."""
        i, t = self.locate(s_mm)
        return self.edge(i).normal_at(t)

    def nearest(self, x: float, y: float) -> tuple[int, Point, float]:
        """Return (edge index, nearest point, distance in mm) for the point (x, y). Exact."""
        best: tuple[int, Point, float] | None = None
        for i, edge in enumerate(self.edges()):
            p, d = edge.nearest(x, y)
            if best is None or d < best[2]:
                best = (i, p, d)
        assert best is not None
        return best

    def winding(self, x: float, y: float) -> int:
        """Return how often the loop winds round (x, y); exact for arcs.

        Each edge counts as its chord; an arc whose segment holds the point adds one turn.
        """
        rows = self.array()
        x1, y1, b = rows[:, 0] - x, rows[:, 1] - y, rows[:, 2]
        x2, y2 = _ahead(x1), _ahead(y1)
        cross = x1 * y2 - x2 * y1
        # A point exactly on a chord counts as a hair above it, then a hair to its right, so
        # that the chord polygon and the arc's segment put it on the same side.
        side = np.where(cross != 0, cross, np.where(x2 != x1, x2 - x1, y1 - y2))
        up = (y1 <= 0) & (y2 > 0) & (side > 0)
        down = (y1 > 0) & (y2 <= 0) & (side < 0)
        turns = int(np.count_nonzero(up)) - int(np.count_nonzero(down))
        for i in np.flatnonzero(np.abs(b) > STRAIGHT_BULGE):
            edge = self.edge(int(i))
            c = edge.centre
            if math.hypot(x - c.x, y - c.y) >= edge.radius_mm:
                continue
            # The segment lies right of the chord when the arc turns counter-clockwise.
            if b[i] > 0 and side[i] <= 0:
                turns += 1
            elif b[i] < 0 and side[i] > 0:
                turns -= 1
        return turns

    def contains(self, x: float, y: float) -> bool:
        """Return whether the point lies inside the loop, whichever way the loop runs."""
        return self.winding(x, y) != 0

    def facets(self, chord_error_mm: float = FACET_MM) -> Floats:
        """Return points on the loop with no chord further than chord_error_mm from it.

        Args:
            chord_error_mm: greatest sagitta of a facet, mm, > 0.
        Returns:
            shape (n, 2), mm, not closed; every vertex of the loop is among them.
        """
        rows = self.array()
        return facet_points(rows, np.roll(rows, -1, axis=0), chord_error_mm)[0]


def facet_points(rows: Floats, after: Floats, chord_error_mm: float) -> tuple[Floats, Ints]:
    """Return points on edges with no chord further than chord_error_mm from its edge.

    Args:
        rows: shape (n, 3): start of each edge, mm, and its bulge.
        after: shape (n, 3): the row each edge runs to.
        chord_error_mm: greatest sagitta of a facet, mm, > 0.
    Returns:
        points, shape (m, 2), mm, from each edge's start to short of its end; and the edge
        each belongs to, shape (m,).
    """
    if not chord_error_mm > 0:
        raise GeometryError("the chord error must be above zero")
    arcs = np.abs(rows[:, 2]) > STRAIGHT_BULGE
    if not arcs.any():
        return rows[:, :2].copy(), np.arange(len(rows))
    step = after[:, :2] - rows[:, :2]
    counts = np.ones(len(rows), dtype=np.int64)
    b = np.abs(rows[arcs, 2])
    radius = np.hypot(step[arcs, 0], step[arcs, 1]) * (1 + b * b) / (4 * b)
    sweep = np.abs(4 * np.arctan(rows[arcs, 2]))
    turn = 2 * np.arccos(np.clip(1 - chord_error_mm / radius, 0.0, 1.0))
    turn = np.maximum(turn, 2 * np.sqrt(2 * 2.0**-52))
    counts[arcs] = np.maximum(np.ceil(sweep / turn), np.ceil(sweep / (math.pi / 2)))
    owner = np.repeat(np.arange(len(rows)), counts)
    first = np.cumsum(counts) - counts
    t = (np.arange(len(owner)) - first[owner]) / counts[owner]
    half = 2 * np.arctan(rows[owner, 2])
    with np.errstate(invalid="ignore", divide="ignore"):
        along = np.where(arcs[owner], np.sin(half * t) * np.cos(half * (1 - t)) / np.sin(half), t)
        across = np.where(
            arcs[owner], -np.sin(half * t) * np.sin(half * (1 - t)) / np.sin(half), 0.0
        )
    chord = step[owner]
    base = rows[owner, :2]
    points: Floats = np.column_stack(
        (
            base[:, 0] + along * chord[:, 0] - across * chord[:, 1],
            base[:, 1] + along * chord[:, 1] + across * chord[:, 0],
        )
    )
    return points, owner


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """A piece of material: one outer loop and the holes in it.

    Loops may be given in either sense of turn; they are kept outer counter-clockwise
    and holes clockwise, material to the left.
    """

    outer: Contour
    holes: tuple[Contour, ...] = ()

    def __post_init__(self) -> None:
        if not self.outer.is_ccw:
            object.__setattr__(self, "outer", self.outer.reversed())
        if any(hole.is_ccw for hole in self.holes):
            turned = tuple(hole.reversed() if hole.is_ccw else hole for hole in self.holes)
            object.__setattr__(self, "holes", turned)

    def loops(self) -> tuple[Contour, ...]:
        """Return the outer loop, then the holes."""
        return (self.outer, *self.holes)

    @property
    def area_mm2(self) -> float:
        """Exact area of material, mm²."""
        return sum(loop.signed_area_mm2 for loop in self.loops())

    @property
    def length_mm(self) -> float:
        """Exact length of all loops, mm."""
        return sum(loop.length_mm for loop in self.loops())

    def bounds(self) -> Bounds:
        """Return the exact axis-aligned box, mm."""
        return self.outer.bounds()

    def contains(self, x: float, y: float) -> bool:
        """Return whether (x, y) lies in the material."""
        return self.outer.contains(x, y) and not any(hole.contains(x, y) for hole in self.holes)

    def distance_mm(self, x: float, y: float) -> float:
        """Return the distance from (x, y) to the nearest loop, mm; negative inside material."""
        d = min(loop.nearest(x, y)[2] for loop in self.loops())
        return -d if self.contains(x, y) else d

    def transformed(self, by: Transform) -> Region:
        """Return the region after a map (see ``Contour.transformed``)."""
        return Region(
            outer=self.outer.transformed(by),
            holes=tuple(hole.transformed(by) for hole in self.holes),
        )


def _ahead(ring: Floats) -> Floats:
    """Return each entry's successor round the ring (np.roll by −1, at a fifth of its cost)."""
    return np.concatenate((ring[1:], ring[:1]))


def _edge_lengths(rows: Floats) -> Floats:
    """Return the length of each edge, mm. rows: shape (n, 3)."""
    step = _ahead(rows[:, :2]) - rows[:, :2]
    chord = np.hypot(step[:, 0], step[:, 1])
    b = np.abs(rows[:, 2])
    with np.errstate(divide="ignore", invalid="ignore"):
        arc = chord * (1 + b * b) / b * np.arctan(b)
    out: Floats = np.where(b > STRAIGHT_BULGE, arc, chord)
    return out


def _segment_areas(rows: Floats) -> Floats:
    """Return the signed area between each edge and its chord, mm². rows: shape (n, 3).

    r² (a − sin a) / 2 in terms of chord and bulge; its series is used for flat arcs,
    where the difference of near-equal terms would lose every digit.
    """
    step = _ahead(rows[:, :2]) - rows[:, :2]
    chord2 = step[:, 0] ** 2 + step[:, 1] ** 2
    b = rows[:, 2]
    flat = np.abs(b) < 1e-3
    safe = np.where(flat, 1.0, b)
    a = 4 * np.arctan(safe)
    r2 = chord2 * (1 + safe * safe) ** 2 / (16 * safe * safe)
    exact = r2 * (a - np.sin(a)) / 2
    # (a − sin a)(1 + b²)² / (32 b²) = b/3 · (1 + b²/5 − …): next term b⁵ is below 1e-15 here.
    series = chord2 * (b / 3) * (1 + b * b / 5)
    out: Floats = np.where(flat, series, exact)
    return out
