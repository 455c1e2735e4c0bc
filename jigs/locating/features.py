"""The features of a body that can touch another: lines, convex and hollow arcs, corners.

A body is loops of lines and arcs with material on the left. Its lines and arcs touch within
their length or sweep; its convex corners are arcs of radius 0; its hollow corners hold what
slips past the ends of both neighbours. Tangent joints need no feature. Behind each line and
arc the solid has a depth, that of the greatest ball in it that touches there: a point nearer
than that behind the wall is certainly in the solid, a deeper one need not be.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from kerf.contour import Contour, Edge, Point
from kerf.tolerance import COINCIDENT_MM, JOINT_RAD

Floats = NDArray[np.float64]

#: Points along the boundary among which the depth of the solid is looked for, and the share
#: of the depth so found that is trusted.
_DEPTH_POINTS, _DEPTH_SHARE = 400, 0.8

#: Half-angle that stands for "any direction", and a slope that stands for "any depth".
_ANY_ANGLE, _ANY_SLOPE = 4.0, 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class Features:
    """Features of a body; each array has one row a feature.

    Args:
        lines: start x, y; unit direction x, y; length; how fast the solid behind deepens
            from the start and from the end (over any slope unless the corner there is
            convex); greatest depth.
        round: convex corners and arcs: centre x, y; radius; middle normal x, y; half-angle
            (over π for corners); slopes from its ends, clockwise end first; depth.
        hollow: concave arcs, and hollow corners with radius 0: centre x, y; radius; middle
            direction x, y; half-angle; slopes; depth.
    """

    lines: Floats
    round: Floats
    hollow: Floats

    def moved(self, x_mm: float, y_mm: float, turn_rad: float) -> Features:
        """Return the features turned about the origin, then shifted."""
        cos, sin = math.cos(turn_rad), math.sin(turn_rad)
        turn = np.array(((cos, sin), (-sin, cos)))

        def table(rows: Floats, direction: int) -> Floats:
            out = rows.copy()
            out[:, :2] = rows[:, :2] @ turn + (x_mm, y_mm)
            out[:, direction : direction + 2] = rows[:, direction : direction + 2] @ turn
            return out

        return Features(
            lines=table(self.lines, 2), round=table(self.round, 3), hollow=table(self.hollow, 3)
        )


class _Behind(NamedTuple):
    """Depth of the solid behind an edge: slopes from both ends, and the greatest."""

    opens: float
    closes: float
    depth: float


class _Arc(NamedTuple):
    """An arc: centre, radius, angle at its start, signed sweep, the solid behind it."""

    x: float
    y: float
    radius: float
    start: float
    sweep: float
    behind: _Behind

    def joined(self, after: _Arc) -> _Arc | None:
        """Return this arc and the next as one, None when they lie on different circles."""
        apart = math.hypot(self.x - after.x, self.y - after.y) + abs(self.radius - after.radius)
        if apart > COINCIDENT_MM / 10 or self.sweep * after.sweep < 0:
            return None
        depth = min(self.behind.depth, after.behind.depth)
        behind = _Behind(self.behind.opens, after.behind.closes, depth)
        return self._replace(sweep=self.sweep + after.sweep, behind=behind)

    def row(self) -> tuple[float, ...]:
        """Return the feature: centre, radius, middle direction, half-angle, slopes, depth."""
        out, half = self.start + self.sweep / 2, abs(self.sweep) / 2
        opens, closes, depth = self.behind
        at = (self.x, self.y, self.radius, math.cos(out), math.sin(out), half)
        if self.sweep < 0:
            return (*at, closes, opens, depth)
        return (*at, opens, closes, min(depth, 2 * self.radius))


def features(loops: Iterable[Contour], *, origin: Point) -> Features:
    """Return the features of a body, seen from ``origin``.

    Args:
        loops: material on the left.
    """
    lines: list[tuple[float, ...]] = []
    convex: list[tuple[float, ...]] = []
    hollow: list[tuple[float, ...]] = []
    rings = [list(loop.edges()) for loop in loops]
    turned = [[_turn(ring[i - 1], ring[i]) for i in range(len(ring))] for ring in rings]
    for ring, turns, behind in zip(rings, turned, _behind(rings, turned), strict=True):
        arcs: list[_Arc | None] = []
        for i, edge in enumerate(ring):
            x, y = edge.start.x - origin.x, edge.start.y - origin.y
            if turns[i] > JOINT_RAD:
                convex.append((x, y, 0.0, 1.0, 0.0, _ANY_ANGLE, _ANY_SLOPE, _ANY_SLOPE, 0.0))
            elif turns[i] < -JOINT_RAD:
                # Towards the solid, midway between the inward normals of both neighbours.
                out = edge.tangent_at(0.0)
                middle = math.atan2(out.y, out.x) - turns[i] / 2 + math.pi / 2
                depth = min(behind[i - 1].depth, behind[i].depth)
                at = (x, y, 0.0, math.cos(middle), math.sin(middle), -turns[i] / 2)
                hollow.append((*at, _ANY_SLOPE, _ANY_SLOPE, depth))
            if edge.is_line:
                u = edge.tangent_at(0.0)
                lines.append((x, y, u.x, u.y, edge.chord_mm, *behind[i]))
                arcs.append(None)
                continue
            c = edge.centre
            start = math.atan2(edge.start.y - c.y, edge.start.x - c.x)
            x, y = c.x - origin.x, c.y - origin.y
            arcs.append(_Arc(x, y, edge.radius_mm, start, edge.sweep_rad, behind[i]))
        for arc in _whole(arcs):
            (convex if arc.sweep > 0 else hollow).append(arc.row())
    return Features(
        lines=np.array(lines, dtype=np.float64).reshape(-1, 8),
        round=np.array(convex, dtype=np.float64).reshape(-1, 9),
        hollow=np.array(hollow, dtype=np.float64).reshape(-1, 9),
    )


def _turn(before: Edge, after: Edge) -> float:
    """Return the turn at the corner between two edges, rad, left positive."""
    a, b = before.tangent_at(1.0), after.tangent_at(0.0)
    return math.atan2(a.x * b.y - a.y * b.x, a.x * b.x + a.y * b.y)


def _whole(arcs: list[_Arc | None]) -> list[_Arc]:
    """Return the arcs of a ring of edges (None: a line), neighbours on one circle joined."""
    out: list[_Arc | None] = []
    for arc in arcs:
        last = out[-1] if out else None
        joined = last.joined(arc) if last is not None and arc is not None else None
        if joined is not None:
            out[-1] = joined
        else:
            out.append(arc)
    if len(out) > 1:
        first, last = out[0], out[-1]
        joined = last.joined(first) if last is not None and first is not None else None
        if joined is not None:
            out = [joined, *out[1:-1]]
    return [arc for arc in out if arc is not None]


def _behind(rings: list[list[Edge]], turns: list[list[float]]) -> list[list[_Behind]]:
    """Return the depth of the solid behind every edge.

    The ball that touches at a and passes through b has the diameter |ab|² / (n · ab). Next to
    a convex corner it shrinks with the distance from the corner: a slope says how fast.
    """
    edges = [edge for ring in rings for edge in ring]
    lengths = np.array([edge.length_mm for edge in edges])
    counts = np.maximum(5, np.ceil(lengths * (_DEPTH_POINTS / lengths.sum()))).astype(int)
    points, inward, shares = [], [], []
    for edge, count in zip(edges, counts, strict=True):
        # Closer together near the ends, where the ball is small.
        share = (1 - np.cos(math.pi * (np.arange(count) + 0.5) / count)) / 2
        at, normal = _along(edge, share)
        points.append(at)
        inward.append(normal)
        shares.append(share)
    every, owner = np.vstack(points), np.repeat(np.arange(len(edges)), counts)
    out: list[list[_Behind]] = []
    first = 0
    for ring, turn in zip(rings, turns, strict=True):
        size, row = len(ring), []
        for i, edge in enumerate(ring):
            k = first + i
            pick = slice(None, None, max(1, int(counts[k]) // 9))
            away = every[None] - points[k][pick][:, None]
            ahead = (away * inward[k][pick][:, None]).sum(axis=2)
            square = (away**2).sum(axis=2)
            ball = np.where(ahead > JOINT_RAD * square, square, np.inf) / np.where(
                ahead > 0, ahead, 1.0
            )
            ball[:, owner == k] = np.inf
            along = shares[k][pick] * edge.length_mm
            slopes: list[float] = []
            for near, corner, run in (
                (i - 1, turn[i], along),
                (i + 1, turn[(i + 1) % size], edge.length_mm - along),
            ):
                slope = _ANY_SLOPE
                if corner > JOINT_RAD:
                    # Near the corner the neighbour counts by slope, further off by depth.
                    beside, close = owner == first + near % size, run < edge.length_mm / 4
                    shrinks = ball[np.ix_(close, beside)].min(axis=1) / run[close]
                    slope = min(_ANY_SLOPE, _DEPTH_SHARE * float(shrinks.min()))
                    ball[np.ix_(close, beside)] = np.inf
                slopes.append(slope)
            depth = _DEPTH_SHARE * float(ball.min(initial=np.inf))
            row.append(_Behind(opens=slopes[0], closes=slopes[1], depth=depth))
        first += size
        out.append(row)
    return out


def _along(edge: Edge, share: Floats) -> tuple[Floats, Floats]:
    """Return points at shares of an edge's length and normals into the solid, shape (n, 2)."""
    if edge.is_line:
        u = edge.tangent_at(0.0)
        run = share[:, None] * edge.chord_mm
        return np.array(edge.start) + run * np.array(u), np.tile((-u.y, u.x), (len(share), 1))
    c = edge.centre
    angle = math.atan2(edge.start.y - c.y, edge.start.x - c.x) + share * edge.sweep_rad
    out = np.column_stack((np.cos(angle), np.sin(angle)))
    return np.array(c) + edge.radius_mm * out, -math.copysign(1.0, edge.bulge) * out
