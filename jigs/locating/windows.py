"""What a part that lies in a free space must obey: half-planes for points of one on the other.

A point of the part that stays within a window must lie in what the free space leaves of that
window, hence in the convex hull of it; a point of the wall must likewise lie outside the part.
Each edge of such a hull is a condition that no admissible pose breaks, whatever the outlines'
shapes: only points that are looked at can be missed, and a condition missed makes a bound
larger, never smaller. Nothing here rests on which features meet (``meetings``).

A condition is n · q ≥ o, q the point's place: R(turn) p + t for a point of the part, in the
guide; R(−turn) (v − t) for a point of the wall, in the part.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from kerf.contour import Contour, Point, Region
from kerf.tolerance import JOINT_RAD, RELATIVE_ROUNDING, WINDOW_FILLED

if TYPE_CHECKING:
    import shapely

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Sides of a sample: a point of the part against the wall, a point of the wall against the part.
OWN, WALL = 0, 1

#: Points measured in a run of neighbours that foul.
_LOOKED_AT = 4

#: Places along a stretch of outline in the wall, as shares of its length.
_ALONG = (0.25, 0.5, 0.75)

#: Rows broken by this share of the one broken most come into use with it.
_ALIKE = 0.7


class Cell(NamedTuple):
    """A box of poses: middle and half-sizes of x, y (mm) and turn (rad)."""

    x: float
    y: float
    turn: float
    dx: float
    dy: float
    half: float

    def halves(self, axis: int) -> tuple[Cell, Cell]:
        """Return the two halves across an axis (0 x, 1 y, 2 turn)."""
        at, size = list(self[:3]), list(self[3:])
        size[axis] /= 2
        low, high = at.copy(), at.copy()
        low[axis] -= size[axis]
        high[axis] += size[axis]
        return Cell(*low, *size), Cell(*high, *size)


class Rows(NamedTuple):
    """Conditions: side, point (k, 2), normal (k, 2), offset (k,)."""

    side: NDArray[np.intp]
    point: Floats
    normal: Floats
    offset: Floats

    @classmethod
    def none(cls) -> Rows:
        """Return no condition."""
        return cls(np.empty(0, int), np.empty((0, 2)), np.empty((0, 2)), np.empty(0))

    def with_(self, other: Rows) -> Rows:
        """Return these conditions and others."""
        return Rows(*(np.concatenate(pair) for pair in zip(self, other, strict=True)))

    def relaxed(self, cell: Cell, lever_mm: float) -> tuple[Floats, Floats]:
        """Return A, b with A · (x − x₀, y − y₀, lever (turn − turn₀)) ≤ b all over a cell.

        The turn's second order is bounded by its greatest over the cell (Taylor, third-order
        remainder), the product of shift and turn by its envelope.
        Source: the envelope of a product is McCormick's, Math. Programming 10 (1976) [from
        memory].
        """
        h, cos, sin = cell.half, math.cos(cell.turn), math.sin(cell.turn)
        own = self.side == OWN
        n, p = self.normal[own], self.point[own]
        px, py = cos * p[:, 0] - sin * p[:, 1], sin * p[:, 0] + cos * p[:, 1]
        depth = n[:, 0] * px + n[:, 1] * py
        spin = n[:, 1] * px - n[:, 0] * py
        size = np.hypot(px, py)
        slack = np.maximum(0.0, -depth) * h * h / 2 + size * h**3 / 6
        a = np.column_stack((-n, -spin / lever_mm))
        b = n[:, 0] * cell.x + n[:, 1] * cell.y + depth - self.offset[own] + slack
        m, v = self.normal[~own], self.point[~own]
        m = np.column_stack((cos * m[:, 0] - sin * m[:, 1], sin * m[:, 0] + cos * m[:, 1]))
        vx, vy = v[:, 0] - cell.x, v[:, 1] - cell.y
        depth = m[:, 0] * vx + m[:, 1] * vy
        spin = m[:, 0] * vy - m[:, 1] * vx
        reach = np.abs(m[:, 0]) * cell.dx + np.abs(m[:, 1]) * cell.dy
        across = np.abs(m[:, 1]) * cell.dx + np.abs(m[:, 0]) * cell.dy
        size = np.hypot(vx, vy) + math.hypot(cell.dx, cell.dy)
        slack = np.maximum(0.0, reach - depth) * h * h / 2 + size * h**3 / 6
        gap = depth - self.offset[~own] + slack + h * across
        # −δ s ≤ ±(across δ + h s) + h across, with s = (−m_y, m_x) · shift.
        swing = np.column_stack((-h * m[:, 1], h * m[:, 0], across / lever_mm))
        still = np.column_stack((m, -spin / lever_mm))
        return (np.concatenate((a, still - swing, still + swing)), np.concatenate((b, gap, gap)))


@dataclass(slots=True)
class Told:
    """What one point's window says: its conditions, and which of them are in use.

    Args:
        rows: the conditions; None where the window leaves no place, so that no pose of the
            cell is admissible.
        whole: whether they say all there is. They do not where the place left in the window is
            not convex: a smaller cell says more.
        used: which of the rows were taken.
    """

    rows: Rows | None
    whole: bool
    used: Bools

    @property
    def nowhere(self) -> bool:
        """Whether the point finds no place in its window."""
        return self.rows is None

    def copy(self) -> Told:
        """Return the same with its own account of the rows in use."""
        return Told(self.rows, self.whole, self.used.copy())

    def next(self, at: Floats) -> Rows | None:
        """Return the rows not yet in use that the point breaks most at a place; None: none."""
        if self.rows is None or self.used.all():
            return None
        owed = np.where(self.used, -np.inf, self.rows.offset - self.rows.normal @ at)
        most = float(owed.max())
        if most <= 0.0:
            return None
        new = owed >= _ALIKE * most
        self.used |= new
        side, point, normal, offset = self.rows
        return Rows(side[new], point[new], normal[new], offset[new])


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Part and free space on facets, seen from the part's middle.

    Args:
        points: of the part, and of the wall, where these stick out: shape (n, 2) each, mm; the
            part's grow by those that ``crossed`` finds.
        places: where they must lie: the free space, and all outside the part.
        solids: where they must not: outside the free space, and the part.
        edges: of the free space, and of the part.
        core: outline of the part a facet further in, so that all of it is part: a chord across
            a hollow arc is not.
        facet_mm: greatest distance of the outlines from their facets.
        lever_mm: distance of the part's furthest point.
    """

    points: list[Floats]
    places: tuple[shapely.Geometry, shapely.Geometry]
    solids: tuple[shapely.Geometry, shapely.Geometry]
    edges: tuple[shapely.Geometry, shapely.Geometry]
    core: shapely.Geometry
    facet_mm: float
    lever_mm: float

    @classmethod
    def of(cls, part: Region, void: Region, *, origin: Point, facet_mm: float) -> Self:
        """Return both; where they overlap by a hair at nominal, the free space is wider by it."""
        import shapely

        def faceted(region: Region) -> shapely.Geometry:
            rings = [loop.facets(facet_mm) - origin for loop in region.loops()]
            return shapely.Polygon(rings[0], rings[1:])

        body, room = faceted(part), faceted(void)
        own = _sticking_out(part.loops(), facet_mm) - origin
        wall = _sticking_out([loop.reversed() for loop in void.loops()], facet_mm) - origin
        reach = float(np.hypot(*shapely.get_coordinates(body).T).max())
        shapely.prepare((body, room))
        hair = max(
            _depth(room, own, inside=False).max(initial=0.0),
            _depth(body, wall, inside=True).max(initial=0.0),
        )
        if hair > RELATIVE_ROUNDING * reach:
            # Wider by the facets too, so that no corner of it stands in the true, wider space.
            room = shapely.buffer(room, 1.01 * hair + facet_mm, join_style="mitre")
            wall = shapely.get_coordinates(room)
        x0, y0, x1, y1 = shapely.union(body, room).bounds
        far = 4 * max(x1 - x0, y1 - y0)
        frame = shapely.box(x0 - far, y0 - far, x1 + far, y1 + far)
        out = cls(
            points=[own, wall],
            places=(room, shapely.difference(frame, body)),
            solids=(shapely.difference(frame, room), body),
            edges=(shapely.boundary(room), shapely.boundary(body)),
            core=shapely.boundary(shapely.buffer(body, -facet_mm, join_style="mitre")),
            facet_mm=facet_mm,
            lever_mm=reach,
        )
        shapely.prepare((*out.places, *out.solids))
        return out

    def violated(self, pose: Floats, least_mm: float) -> list[tuple[float, int, int]]:
        """Return the points that foul at a pose by more than ``least_mm``.

        One for each run of neighbours: depth, side and index, deepest first.
        """
        import shapely

        x, y, turn = map(float, pose)
        cos, sin = math.cos(turn), math.sin(turn)
        turned = np.array(((cos, sin), (-sin, cos)))
        found = []
        for side, at in (
            (OWN, self.points[OWN] @ turned + (x, y)),
            (WALL, (self.points[WALL] - (x, y)) @ turned.T),
        ):
            (bad,) = np.nonzero(shapely.contains_xy(self.solids[side], at[:, 0], at[:, 1]))
            for run in np.split(bad, np.flatnonzero(np.diff(bad) > 1) + 1):
                run = run[:: max(1, len(run) // _LOOKED_AT)]
                if len(run):
                    depth = shapely.distance(self.edges[side], shapely.points(at[run]))
                    k = int(np.argmax(depth))
                    if depth[k] > least_mm:
                        found.append((float(depth[k]), side, int(run[k])))
        return sorted(found, reverse=True)

    def crossed(self, pose: Floats, least_mm: float) -> list[tuple[float, int, int]]:
        """Return further points of the part that foul at a pose where none that sticks out does.

        Two outlines can cross without a corner of either inside the other: such points lie on
        the stretches of the part's outline in the wall. Depth, side and index, as ``violated``.
        """
        import shapely

        x, y, turn = map(float, pose)
        cos, sin = math.cos(turn), math.sin(turn)
        turned = np.array(((cos, sin), (-sin, cos)))
        placed = shapely.transform(self.core, lambda at: at @ turned + (x, y))
        inside = shapely.intersection(placed, self.solids[OWN])
        lines = shapely.get_parts(inside)
        lines = lines[shapely.length(lines) > least_mm]
        if not len(lines):
            return []
        at = shapely.line_interpolate_point(
            np.repeat(lines, len(_ALONG)), np.tile(_ALONG, len(lines)), normalized=True
        )
        depth = shapely.distance(self.edges[OWN], at)
        deep = depth > least_mm
        first = len(self.points[OWN])
        new = (shapely.get_coordinates(at[deep]) - (x, y)) @ turned.T
        self.points[OWN] = np.vstack((self.points[OWN], new))
        found = [(float(d), OWN, first + i) for i, d in enumerate(depth[deep])]
        return sorted(found, reverse=True)

    def window(self, side: int, index: int, cell: Cell) -> tuple[float, float, float, float]:
        """Return the box in which a point stays while the pose is in a cell."""
        cos, sin, h = math.cos(cell.turn), math.sin(cell.turn), cell.half
        x, y = map(float, self.points[side][index])
        if side == OWN:
            qx, qy = cos * x - sin * y, sin * x + cos * y
            rest = math.hypot(x, y) * h * h / 2
            wide, high = cell.dx + h * abs(qy) + rest, cell.dy + h * abs(qx) + rest
            qx, qy = qx + cell.x, qy + cell.y
        else:
            x, y = x - cell.x, y - cell.y
            qx, qy = cos * x + sin * y, cos * y - sin * x
            aside = math.hypot(cell.dx, cell.dy)
            rest = math.hypot(x, y) * h * h / 2 + aside * h
            wide = abs(cos) * cell.dx + abs(sin) * cell.dy + h * abs(qy) + rest
            high = abs(sin) * cell.dx + abs(cos) * cell.dy + h * abs(qx) + rest
        more = 2 * self.facet_mm
        return qx - wide - more, qy - high - more, qx + wide + more, qy + high + more

    def place(self, side: int, index: int, pose: Floats) -> Floats:
        """Return where a point is at a pose, as its conditions see it."""
        cos, sin = math.cos(pose[2]), math.sin(pose[2])
        x, y = self.points[side][index]
        if side == OWN:
            return np.array((cos * x - sin * y + pose[0], sin * x + cos * y + pose[1]))
        x, y = x - pose[0], y - pose[1]
        return np.array((cos * x + sin * y, cos * y - sin * x))

    def conditions(self, side: int, index: int, cell: Cell) -> Told:
        """Return what a point must obey while the pose is in a cell."""
        import shapely

        x0, y0, x1, y1 = self.window(side, index, cell)
        clip = shapely.intersection(self.places[side], shapely.box(x0, y0, x1, y1))
        if clip.is_empty:
            return Told(None, True, np.empty(0, bool))
        hull = shapely.convex_hull(clip)
        if hull.geom_type != "Polygon":
            return Told(Rows.none(), False, np.empty(0, bool))
        whole = bool(hull.area - clip.area <= WINDOW_FILLED * hull.area)
        ring = shapely.get_coordinates(hull)
        if not shapely.is_ccw(shapely.get_exterior_ring(hull)):
            ring = ring[::-1]
        a, b = ring[:-1], ring[1:]
        along = b - a
        normal = np.column_stack((-along[:, 1], along[:, 0]))
        normal /= np.hypot(along[:, 0], along[:, 1])[:, None]
        near = self.facet_mm / 1000
        inner = np.ones(len(a), dtype=bool)
        for axis, at in ((0, x0), (0, x1), (1, y0), (1, y1)):
            inner &= (np.abs(a[:, axis] - at) > near) | (np.abs(b[:, axis] - at) > near)
        a, normal = a[inner], normal[inner]
        count = len(a)
        rows = Rows(
            np.full(count, side),
            np.tile(self.points[side][index], (count, 1)),
            normal,
            (normal * a).sum(axis=1) - self.facet_mm,
        )
        return Told(rows, whole, np.zeros(count, dtype=bool))


def _sticking_out(loops: Iterable[Contour], sagitta_mm: float) -> Floats:
    """Return the points of a body (material on the left) that can touch another first.

    Those are its corners that are not hollow, and its convex arcs: what touches a hollow arc
    sticks out of the other body. shape (n, 2).
    """
    found = [np.empty((0, 2))]
    for loop in loops:
        edges = list(loop.edges())
        for before, edge in zip([edges[-1], *edges], edges, strict=False):
            a, b = before.tangent_at(1.0), edge.tangent_at(0.0)
            if math.atan2(a.x * b.y - a.y * b.x, a.x * b.x + a.y * b.y) >= -JOINT_RAD:
                found.append(np.array([edge.start]))
            if edge.bulge > 0:
                c, r = edge.centre, edge.radius_mm
                step = 2 * math.acos(max(0.0, 1 - sagitta_mm / r))
                count = max(2, math.ceil(edge.sweep_rad / step))
                first = math.atan2(edge.start.y - c.y, edge.start.x - c.x)
                angle = first + edge.sweep_rad * np.arange(1, count) / count
                found.append(np.array(c) + r * np.column_stack((np.cos(angle), np.sin(angle))))
    return np.vstack(found)


def _depth(solid: shapely.Geometry, at: Floats, *, inside: bool) -> Floats:
    """Return how deep points lie inside (or outside) a body, 0 where they do not, mm."""
    import shapely

    out = np.zeros(len(at))
    (bad,) = np.nonzero(shapely.contains_xy(solid, at[:, 0], at[:, 1]) == inside)
    if len(bad):
        out[bad] = shapely.distance(shapely.boundary(solid), shapely.points(at[bad]))
    return out
