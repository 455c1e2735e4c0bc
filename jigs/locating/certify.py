"""A bound from above for the extremes of the pose set: branch and bound over cells of poses.

The exact search (``poseset``) gives extremes that are attained; nothing shows that it missed
none. Here a box of poses somewhat larger than those extremes is covered by cells. Over a cell
every condition of ``windows`` is relaxed to a half-space in shift and turn, so that no
admissible pose is lost; a linear programme gives the most a goal can reach there. Where that is
more than what is attained, the pose reached is looked at: points that foul add their
conditions (where outlines cross and no corner fouls, points on the part's edge do), or the cell
is halved. All bounds stay within the box: so the poses that can be
reached from nominal never leave it, and the bound holds for all of them.

Source: branch and bound with linear relaxations (Horst & Tuy, *Global Optimization*, 1990
[from memory]).

No bound: the relaxed set still touches the box after the greatest number of cells.
"""

from __future__ import annotations

import heapq
import itertools
import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from jigs.locating.linear import summit
from jigs.locating.windows import Cell, Rows, Sides, Told
from kerf.contour import Point, Region
from kerf.tolerance import CERTIFIED_MM, CERTIFIED_SHARE, LP_VIOLATION

Floats = NDArray[np.float64]

#: Room left round the attained extremes, as a share of them and mm.
_ROOM_SHARE, _ROOM_MM = 0.1, 1e-3

#: A bound this near to the end of the box, as a share of it, may be the box's.
_EDGE_SHARE = 1e-6

#: Directions along +x, −x, +y, −y.
_WAYS = ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0))

#: Facets and points looked at, as a share of the smaller of the ranges of x and y.
_FACET_SHARE = 1e-4

#: Most cells a goal is followed into, programmes for one cell at a time, fouling points let in
#: at once, directions of a magnitude, and programmes for all goals. The bounds hold at any point.
_CELLS, _ROUNDS, _AT_ONCE, _DIRECTIONS, _PROGRAMMES = 300, 12, 6, 160, 4000


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Bounds of the pose set, each no less than the true extreme.

    Args:
        ccw_rad, cw_rad: turn; 0 when turning was not asked for.
        along: for each point: along x, along y either way, and in magnitude, shape (n, 3), mm;
            the origin's magnitude is left out (0).
    """

    ccw_rad: float
    cw_rad: float
    along: Floats


@dataclass(slots=True)
class _Node:
    """A cell, its own conditions, and which points have been asked over it."""

    cell: Cell
    rows: Rows
    asked: dict[tuple[int, int], Told] = field(default_factory=dict)
    halves: dict[bool, list[_Node]] = field(default_factory=dict)
    empty: bool = False
    system: tuple[int, Floats, Floats] | None = None


@dataclass(frozen=True, slots=True)
class _Goal:
    """A length to bound: travel of a point along a direction, or the turn at the lever."""

    along: tuple[float, float]
    point: tuple[float, float]
    turn: float = 0.0

    def value(self, pose: tuple[float, float, float], lever: float) -> float:
        """Return it at a pose, mm."""
        fx, fy = self.point
        x, y, turn = pose
        drop, sin = 2 * math.sin(turn / 2) ** 2, math.sin(turn)
        mx, my = x - drop * fx - sin * fy, y + sin * fx - drop * fy
        return self.along[0] * mx + self.along[1] * my + self.turn * lever * turn

    def over(self, cell: Cell, lever: float) -> tuple[float, Floats, float]:
        """Return its value at a cell's middle, its slope, and what the turn's bend adds."""
        fx, fy = self.point
        cos, sin = math.cos(cell.turn), math.sin(cell.turn)
        px, py = cos * fx - sin * fy, sin * fx + cos * fy
        ux, uy = self.along
        slope = np.array((ux, uy, (uy * px - ux * py) / lever + self.turn))
        h = cell.half
        bend = max(0.0, -(ux * px + uy * py)) * h * h / 2 + math.hypot(px, py) * h**3 / 6
        return self.value((cell.x, cell.y, cell.turn), lever), slope, bend


class _Search:
    """The cells of one part in one free space, shared by every goal."""

    def __init__(self, sides: Sides, whole: Cell) -> None:
        self.sides = sides
        self.common = Rows.none()
        self.asked: dict[tuple[int, int], Told] = {}
        self.first = whole
        self.programmes = 0
        self.root = _Node(whole, Rows.none())

    def bound(self, goal: _Goal, attained: float, share: float = 1.0) -> float:
        """Return a bound of a goal, near to ``attained`` if that is its greatest value.

        Infinite where some admissible pose may lie at the end of the box.
        """
        lever = self.sides.lever_mm
        count = itertools.count()
        best = attained
        heap: list[tuple[float, int, _Node, Floats]] = []

        def push(node: _Node) -> None:
            found = self._top(node, goal, lever)
            if found is not None:
                heapq.heappush(heap, (-found[0], next(count), node, found[1]))

        push(self.root)
        for _ in range(_CELLS):
            if not heap:
                return best
            enough = best + share * max(best * CERTIFIED_SHARE, CERTIFIED_MM)
            if -heap[0][0] <= enough or self.programmes >= _PROGRAMMES:
                break
            _, _, node, pose = heapq.heappop(heap)
            for _ in range(_ROUNDS):
                more, bent = self._let_in(node, pose)
                if more:
                    found = self._top(node, goal, lever)
                    if found is None:
                        break
                    value, pose = found
                    if value <= enough:
                        heapq.heappush(heap, (-value, next(count), node, pose))
                        break
                    continue
                if bent is None:
                    best = max(best, goal.value((pose[0], pose[1], pose[2]), lever))
                for half in self._halved(node, bent=bool(bent)):
                    push(half)
                break
            else:
                for half in self._halved(node, bent=False):
                    push(half)
        return max(best, -heap[0][0]) if heap else best

    def _top(self, node: _Node, goal: _Goal, lever: float) -> tuple[float, Floats] | None:
        """Return the most a goal can reach in a cell and where; None in an empty one."""
        if node.empty:
            return None
        cell = node.cell
        size = len(self.common.offset) + len(node.rows.offset)
        if node.system is None or node.system[0] != size:
            node.system = (size, *self.common.with_(node.rows).relaxed(cell, lever))
        _, a, b = node.system
        at, slope, bend = goal.over(cell, lever)
        box = np.array((cell.dx, cell.dy, max(cell.half * lever, 1e-12)))
        self.programmes += 1
        best = summit(slope, a, b, box)
        if best is None:
            if _impossible(a, b, box):
                node.empty = True
                return None
            point = np.sign(slope) * box
        else:
            point = best.point
        value = at + float(slope @ point) + bend
        pose = np.array((cell.x, cell.y, cell.turn)) + point / (1.0, 1.0, lever)
        return value, pose

    def _let_in(self, node: _Node, pose: Floats) -> tuple[bool, bool | None]:
        """Let the points that foul at a pose state their conditions over a cell.

        Returns:
            whether any was new there; if none, whether what is left comes of places that are
            not convex (else of the turn), None where nothing fouls.
        """
        # Conditions are a facet wide of the outlines: what fouls by little more obeys them all.
        least = 2 * self.sides.facet_mm
        fouls = self.sides.violated(pose, least) or self.sides.crossed(pose, least)
        more, bent = False, None
        for _, side, index in fouls[:_AT_ONCE]:
            key = side, index
            if key not in self.asked:
                self.asked[key] = self.sides.conditions(side, index, self.first)
            told = self.asked[key]
            if not told.whole:
                if key not in node.asked:
                    node.asked[key] = self.sides.conditions(side, index, node.cell)
                told = node.asked[key]
            if told.nowhere:
                node.empty = True
                return True, None
            new = told.next(self.sides.place(side, index, pose))
            if new is None:
                bent = bool(bent) or not told.whole
            elif told is self.asked[key]:
                self.common, more = self.common.with_(new), True
            else:
                node.rows, more = node.rows.with_(new), True
        return more, bent

    def _halved(self, node: _Node, *, bent: bool) -> list[_Node]:
        """Return the halves of a cell: across its longest side if bent, else across the turn."""
        if bent not in node.halves:
            cell = node.cell
            longest = int(np.argmax((cell.dx, cell.dy, cell.half * self.sides.lever_mm)))
            axis = longest if bent or cell.half == 0.0 else 2
            node.halves[bent] = [
                _Node(
                    half,
                    node.rows,
                    {k: told.copy() for k, told in node.asked.items() if told.whole},
                )
                for half in cell.halves(axis)
            ]
        return node.halves[bent]


def _impossible(a: Floats, b: Floats, box: Floats) -> bool:
    """Return whether a · z ≤ b has no answer in a box, by the least excess over all rows."""
    rows = np.column_stack((a, -np.ones(len(a))))
    excess = float(np.abs(b).max() + np.abs(a).sum(axis=1).max() * box.max())
    best = summit(np.array((0.0, 0.0, 0.0, -1.0)), rows, b, np.append(box, max(excess, 1e-9)))
    return best is not None and float(best.point[3]) > LP_VIOLATION * max(1.0, excess)


def certified(
    part: Region,
    void: Region,
    *,
    origin: Point,
    points: Floats,
    along: Floats,
    turns: tuple[float, float],
) -> Reach | None:
    """Return bounds of how far a part goes in a free space, None where none is found.

    Args:
        part, void: as for ``slack``.
        origin: the part's point that the pose shifts.
        points: where travel is measured, from the origin, shape (n, 2), mm; the first (0, 0).
        along: attained travel of each along +x, −x, +y, −y and in magnitude, shape (n, 5), mm.
        turns: attained turn, counter-clockwise and clockwise, rad; zeros: it is not turned.
    """
    right, left, up, down = map(float, along[0, :4])
    ccw, cw = turns
    wide, high = right + left, up + down
    narrow = max(CERTIFIED_MM, min(wide, high))
    facet = max(_FACET_SHARE * narrow, CERTIFIED_MM / 10)
    sides = Sides.of(part, void, origin=origin, facet_mm=facet)
    lever = sides.lever_mm
    room = _ROOM_MM + _ROOM_SHARE * max(wide, high)
    spare = room / lever if ccw + cw > 0 else 0.0
    search = _Search(
        sides,
        Cell(
            x=(right - left) / 2,
            y=(up - down) / 2,
            turn=(ccw - cw) / 2,
            dx=wide / 2 + room,
            dy=high / 2 + room,
            half=(ccw + cw) / 2 + spare,
        ),
    )
    still = (0.0, 0.0)
    ends = [
        search.bound(_Goal(u, still), v) for u, v in zip(_WAYS, along[0].tolist(), strict=False)
    ]
    turned = [0.0, 0.0]
    if ccw + cw > 0:
        for i, (side, value) in enumerate(((1.0, ccw), (-1.0, cw))):
            turned[i] = search.bound(_Goal(still, still, side), lever * value) / lever
    box = (right + room, left + room, up + room, down + room, ccw + spare, cw + spare)
    found = zip((*ends, *turned), box, strict=True)
    if not all(a < (1 - _EDGE_SHARE) * b for a, b in found if b > 0):
        return None
    out = np.zeros((len(points), 3))
    out[0, :2] = max(ends[:2]), max(ends[2:])
    for i, (px, py) in enumerate(points[1:].tolist(), start=1):
        # Each way is followed only as far as the greater of the two opposite ones.
        east, north = float(along[i, :2].max()), float(along[i, 2:4].max())
        own = [
            search.bound(_Goal(u, (px, py)), v)
            for u, v in zip(_WAYS, (east, east, north, north), strict=True)
        ]
        size = _magnitude(search, (px, py), own, float(along[i, 4]))
        out[i] = max(own[:2]), max(own[2:]), size
    return Reach(ccw_rad=turned[0], cw_rad=turned[1], along=out)


def _magnitude(
    search: _Search, at: tuple[float, float], sides: list[float], attained: float
) -> float:
    """Return a bound of a point's travel in any direction.

    Its displacements lie in the polygon of the bounds in some directions; the furthest corner
    is cut off until it is near enough. sides: bounds along +x, −x, +y, −y.
    """
    enough = max(attained * (1 + CERTIFIED_SHARE), attained + CERTIFIED_MM)
    right, left, up, down = sides
    corners = [(right, up), (-left, up), (-left, -down), (right, -down)]
    for _ in range(_DIRECTIONS):
        x, y = max(corners, key=lambda corner: math.hypot(*corner))
        far = math.hypot(x, y)
        if far <= enough:
            break
        along = (x / far, y / far)
        limit = search.bound(_Goal(along, at), attained, 0.25)
        if limit >= far * (1 - _EDGE_SHARE):
            break
        corners = _cut_off(corners, along, limit)
    return max(math.hypot(*corner) for corner in corners)


def _cut_off(
    corners: list[tuple[float, float]], along: tuple[float, float], limit: float
) -> list[tuple[float, float]]:
    """Return the part of a convex polygon that lies no further than ``limit`` along a direction."""
    over = [along[0] * x + along[1] * y - limit for x, y in corners]
    out = []
    for i, (x, y) in enumerate(corners):
        before = over[i - 1]
        if (before > 0.0) != (over[i] > 0.0):
            share = before / (before - over[i])
            a, b = corners[i - 1]
            out.append((a + share * (x - a), b + share * (y - b)))
        if over[i] <= 0.0:
            out.append((x, y))
    return out
