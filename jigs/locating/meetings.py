"""Where a part can meet the wall round it: every pair of features, as exact gap functions.

The part and the solid round it are two bodies of lines and arcs, material left of travel. Two
such bodies touch from outside in five ways only: a convex corner or convex arc of one against
a line of the other (twice), convex arc against convex arc or corner, and a convex feature in
a hollow arc of the other (twice). For a pose (x, y, turn) each pair has a gap that is exact,
not linearised: signed distance to a line, or distance between two centres against a radius.
A pair speaks only within its *zone*: the foot of the perpendicular lies on the line, the
direction of contact lies in the arcs' sweeps. Outside it a neighbouring pair speaks. Corners
of an arc's radius 0 and tangent joints need no pair of their own.

This is the boundary of the part's configuration-space obstacle, kept feature by feature
(method: Lozano-Pérez, *Spatial planning: a configuration space approach*, IEEE Trans.
Computers C-32, 1983 [title and year from memory]). Pairs further apart than the part can
move (``reach``) are dropped. What it refuses to see: a wall thinner than the reach with free
space behind it, through which a part could only jump.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from kerf.contour import Contour, Region
from kerf.tolerance import COINCIDENT_MM, STRAIGHT_BULGE, TOUCH_FOUL_MM, TOUCH_MM

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Corners that turn less than this are tangent joints (radians): no gap opens between the
#: zones of their neighbours that a contact could slip through.
_JOINT_RAD = 1e-9

#: Seam between neighbouring zones, as a share of a line's length unit (mm) or a cosine.
_SEAM = 1e-9

#: The same for the facets at the ends of a sweep, which are computed through an angle.
_FACET_SEAM = 1e-6

#: Cosine of a half-angle no direction misses.
_ALL_ROUND = -2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Body:
    """Features of a body; each array has one row a feature.

    Args:
        lines: start x, y; unit direction x, y; length; free ends (how far the wall goes on,
            as a flag, beyond start and end because the corner there is hollow).
        round: convex corners and arcs: centre x, y; radius; middle normal x, y; half-angle
            (over π for corners).
        hollow: concave arcs: centre x, y; radius; middle direction x, y; half-angle; flags.
    """

    lines: Floats
    round: Floats
    hollow: Floats

    @classmethod
    def of(cls, loops: Iterable[Contour], *, origin: tuple[float, float]) -> Self:
        """Return the features of loops with material on the left, seen from ``origin``."""
        lines: list[tuple[float, ...]] = []
        convex: list[tuple[float, ...]] = []
        hollow: list[tuple[float, ...]] = []
        for loop in loops:
            rows = loop.array()
            at = rows[:, :2] - origin
            chord = np.roll(at, -1, axis=0) - at
            length = np.hypot(chord[:, 0], chord[:, 1])
            heading = np.arctan2(chord[:, 1], chord[:, 0])
            half = 2 * np.arctan(rows[:, 2])
            turn = (heading - half) - np.roll(heading + half, 1)
            turn = (turn + math.pi) % (2 * math.pi) - math.pi
            count = len(rows)
            arcs: list[_Arc | None] = []
            for i in range(count):
                opens = bool(turn[i] < -_JOINT_RAD)
                closes = bool(turn[(i + 1) % count] < -_JOINT_RAD)
                x, y = float(at[i, 0]), float(at[i, 1])
                if turn[i] > _JOINT_RAD:
                    convex.append((x, y, 0.0, 1.0, 0.0, 4.0))
                b = float(rows[i, 2])
                if abs(b) <= STRAIGHT_BULGE:
                    ux, uy = float(chord[i, 0] / length[i]), float(chord[i, 1] / length[i])
                    lines.append((x, y, ux, uy, float(length[i]), float(opens), float(closes)))
                    arcs.append(None)
                    continue
                k = (1.0 - b * b) / (4.0 * b)
                cx = x + float(chord[i, 0]) / 2 - k * float(chord[i, 1])
                cy = y + float(chord[i, 1]) / 2 + k * float(chord[i, 0])
                radius = float(length[i]) * (1 + b * b) / (4 * abs(b))
                start = math.atan2(y - cy, x - cx)
                arcs.append(_Arc(cx, cy, radius, start, 2 * float(half[i]), opens, closes))
            for arc in _whole(arcs):
                if arc.sweep > 0:
                    convex.append(arc.row()[:6])
                else:
                    hollow.append(arc.row())
        return cls(
            lines=np.array(lines, dtype=np.float64).reshape(-1, 7),
            round=np.array(convex, dtype=np.float64).reshape(-1, 6),
            hollow=np.array(hollow, dtype=np.float64).reshape(-1, 8),
        )


class _Arc(NamedTuple):
    """An arc of a body: centre, radius, start angle, sweep (signed), corners hollow at its ends."""

    x: float
    y: float
    radius: float
    start: float
    sweep: float
    opens: bool
    closes: bool

    def joined(self, after: _Arc) -> _Arc | None:
        """Return this arc and the next as one, None when they lie on different circles."""
        apart = math.hypot(self.x - after.x, self.y - after.y) + abs(self.radius - after.radius)
        if apart > COINCIDENT_MM / 10 or self.sweep * after.sweep < 0 or self.closes:
            return None
        return self._replace(sweep=self.sweep + after.sweep, closes=after.closes)

    def row(self) -> tuple[float, ...]:
        """Return the feature: centre, radius, middle direction, half-angle, hollow corners."""
        out = self.start + self.sweep / 2
        half = abs(self.sweep) / 2
        flags = (float(self.opens), float(self.closes))
        return (self.x, self.y, self.radius, math.cos(out), math.sin(out), half, *flags)


def _whole(arcs: list[_Arc | None]) -> list[_Arc]:
    """Return the arcs of a ring of edges (None for a line) with neighbours on one circle joined."""
    out: list[_Arc | None] = []
    for arc in arcs:
        joined = out[-1].joined(arc) if out and out[-1] is not None and arc is not None else None
        if joined is not None:
            out[-1] = joined
        else:
            out.append(arc)
    if len(out) > 1 and out[0] is not None and out[-1] is not None:
        joined = out[-1].joined(out[0])
        if joined is not None:
            out = [joined, *out[1:-1]]
    return [arc for arc in out if arc is not None]


def _pairs(a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Return every row of a beside every row of b."""
    return np.repeat(a, len(b), axis=0), np.tile(b, (len(a), 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Meetings:
    """Every pair that can touch while no point of the part moves further than ``reach_mm``.

    Poses are (x, y, turn) about ``origin``: a point p of the part (seen from the origin) goes
    to R(turn) p + (x, y).

    Args:
        origin: the point the pose turns about, part coordinates, mm.
        reach_mm: greatest displacement looked at.
        lever_mm: distance of the part's furthest point from the origin.
        fixed: part corners and arcs on lines of the wall: part centre x, y; normal x, y (out
            of the wall); offset; start of the line along it; zone low and high; the part's
            middle normal x, y; cosine of its half-angle.
        turning: wall corners and arcs on lines of the part: the same, seen from the part.
        circles: centre on the part x, y; centre on the wall x, y; radius; sense (+1 keep out,
            −1 keep in); wall's middle x, y, cosine, sign; part's middle x, y, cosine, sign.
    """

    origin: tuple[float, float]
    reach_mm: float
    lever_mm: float
    fixed: Floats
    turning: Floats
    circles: Floats

    @classmethod
    def between(
        cls, part: Region, void: Region, *, origin: tuple[float, float], reach_mm: float
    ) -> Self:
        """Return the pairs between a part and the free space round it at the nominal pose."""
        own = _Body.of(part.loops(), origin=origin)
        wall = _Body.of((loop.reversed() for loop in void.loops()), origin=origin)
        points = np.vstack([loop.facets(0.1) for loop in part.loops()]) - origin
        lever = float(np.hypot(points[:, 0], points[:, 1]).max()) + 0.1
        turn = reach_mm / lever
        return cls(
            origin=origin,
            reach_mm=reach_mm,
            lever_mm=lever,
            fixed=_line_pairs(own.round, wall.lines, reach_mm, turn),
            turning=_line_pairs(wall.round, own.lines, reach_mm, turn),
            circles=_circle_pairs(own, wall, reach_mm, turn),
        )

    @property
    def count(self) -> int:
        """Number of pairs."""
        return len(self.fixed) + len(self.turning) + len(self.circles)

    def gaps(self, x: Floats, y: Floats, turn: Floats) -> tuple[Floats, Bools]:
        """Return the gap of every pair at every pose, mm, and whether the pair is in its zone.

        Args:
            x, y: shape (n,), mm; turn: shape (n,), rad.
        Returns:
            gaps and zones, both shape (n, count); a negative gap in its zone is fouling.
        """
        cos, sin = np.cos(turn), np.sin(turn)
        parts = [
            _fixed_gaps(self.fixed, x, y, cos, sin),
            _turning_gaps(self.turning, x, y, cos, sin),
            _circle_gaps(self.circles, x, y, cos, sin),
        ]
        return np.hstack([p[0] for p in parts]), np.hstack([p[1] for p in parts])

    def admissible(
        self, x: Floats, y: Floats, turn: Floats, *, tolerance_mm: float = TOUCH_MM
    ) -> NDArray[np.intp]:
        """Return the indices of the poses at which nothing fouls by more than the tolerance.

        Poses that foul one pair are dropped before the next pairs are asked.
        """
        cos, sin = np.cos(turn), np.sin(turn)
        left = np.flatnonzero(
            np.hypot(x, y) + self.lever_mm * np.abs(turn) < 4 * self.reach_mm + 1.0
        )
        for table, gaps in (
            (self.fixed, _fixed_gaps),
            (self.turning, _turning_gaps),
            (self.circles, _circle_gaps),
        ):
            for start in range(0, len(table), 5):
                if not len(left):
                    return left
                gap, zone = gaps(table[start : start + 5], x[left], y[left], cos[left], sin[left])
                foul = zone & (gap < -tolerance_mm)
                left = left[~foul.any(axis=1)]
        return left

    def rows(self, x: float, y: float, turn: float) -> tuple[Floats, Floats]:
        """Return gaps of the pairs in their zones at one pose and their gradients.

        Returns:
            gaps, shape (m,), mm; gradients by (x, y, turn), shape (m, 3).
        """
        gap, zone = self.gaps(np.array([x]), np.array([y]), np.array([turn]))
        cos, sin = math.cos(turn), math.sin(turn)
        f, w, c = self.fixed, self.turning, self.circles
        px, py = cos * f[:, 0] - sin * f[:, 1], sin * f[:, 0] + cos * f[:, 1]
        fixed = np.column_stack((f[:, 2], f[:, 3], f[:, 3] * px - f[:, 2] * py))
        # The part's line turns with it: gap = R m · (v − t) − offset.
        mx, my = cos * w[:, 2] - sin * w[:, 3], sin * w[:, 2] + cos * w[:, 3]
        turning = np.column_stack((-mx, -my, mx * (w[:, 1] - y) - my * (w[:, 0] - x)))
        qx, qy = cos * c[:, 0] - sin * c[:, 1], sin * c[:, 0] + cos * c[:, 1]
        dx, dy = x + qx - c[:, 2], y + qy - c[:, 3]
        far = np.maximum(np.hypot(dx, dy), 1e-300)
        ux, uy = c[:, 5] * dx / far, c[:, 5] * dy / far
        circles = np.column_stack((ux, uy, uy * qx - ux * qy))
        keep = zone[0]
        faceted_gap, faceted = _faceted(c, qx, qy, dx, dy, turn)
        return (
            np.concatenate((gap[0][keep], faceted_gap)),
            np.vstack((np.vstack((fixed, turning, circles))[keep], faceted)),
        )


def _faceted(
    table: Floats, qx: Floats, qy: Floats, dx: Floats, dy: Floats, turn: float
) -> tuple[Floats, Floats]:
    """Return gaps and gradients of the facets that enclose each hollow arc.

    A disc to stay in is held by its tangents all round, not only by the one that the centre
    happens to lie towards. Facets stand 15° apart and at the ends of the sweeps.
    """
    hollow = table[:, 5] < 0
    c = table[hollow]
    wall = np.arctan2(c[:, 7], c[:, 6]) + np.where(c[:, 9] < 0, math.pi, 0.0)
    own = np.arctan2(c[:, 11], c[:, 10]) + turn + np.where(c[:, 13] < 0, math.pi, 0.0)
    wall_half = np.arccos(np.clip(c[:, 8], -1.0, 1.0))
    own_half = np.arccos(np.clip(c[:, 12], -1.0, 1.0))
    ends = (wall - wall_half, wall + wall_half, own - own_half, own + own_half)
    angle = np.column_stack((np.tile(np.arange(24) * math.pi / 12, (len(c), 1)), *ends))
    inside = (np.cos(angle - wall[:, None]) >= c[:, 8:9] - _FACET_SEAM) & (
        np.cos(angle - own[:, None]) >= c[:, 12:13] - _FACET_SEAM
    )
    ux, uy = np.cos(angle), np.sin(angle)
    gap = c[:, 4:5] - ux * dx[hollow, None] - uy * dy[hollow, None]
    spin = ux * qy[hollow, None] - uy * qx[hollow, None]
    return gap[inside], np.column_stack((-ux[inside], -uy[inside], spin[inside]))


def _fixed_gaps(
    table: Floats, x: Floats, y: Floats, cos: Floats, sin: Floats
) -> tuple[Floats, Bools]:
    """Return gaps and zones of part corners and arcs on the wall's lines."""
    cx, cy, nx, ny, offset, start, low, high, mx, my, half = table.T
    cos, sin = cos[:, None], sin[:, None]
    px, py = x[:, None] + cos * cx - sin * cy, y[:, None] + sin * cx + cos * cy
    along = -ny * px + nx * py - start
    facing = -(nx * (cos * mx - sin * my) + ny * (sin * mx + cos * my))
    gap: Floats = nx * px + ny * py - offset
    return gap, (along >= low) & (along <= high) & (facing >= half)


def _turning_gaps(
    table: Floats, x: Floats, y: Floats, cos: Floats, sin: Floats
) -> tuple[Floats, Bools]:
    """Return gaps and zones of wall corners and arcs on the part's lines."""
    vx, vy, nx, ny, offset, start, low, high, mx, my, half = table.T
    cos, sin = cos[:, None], sin[:, None]
    dx, dy = vx - x[:, None], vy - y[:, None]
    wx, wy = cos * dx + sin * dy, cos * dy - sin * dx
    along = -ny * wx + nx * wy - start
    facing = -((cos * nx - sin * ny) * mx + (sin * nx + cos * ny) * my)
    gap: Floats = nx * wx + ny * wy - offset
    return gap, (along >= low) & (along <= high) & (facing >= half)


def _circle_gaps(
    table: Floats, x: Floats, y: Floats, cos: Floats, sin: Floats
) -> tuple[Floats, Bools]:
    """Return gaps and zones of arcs on arcs and corners."""
    ax, ay, bx, by, radius, sense, wx, wy, wc, ws, px, py, pc, ps = table.T
    cos, sin = cos[:, None], sin[:, None]
    dx, dy = x[:, None] + cos * ax - sin * ay - bx, y[:, None] + sin * ax + cos * ay - by
    far = np.hypot(dx, dy)
    gap: Floats = sense * (far - radius)
    wall = ws * (dx * wx + dy * wy) >= wc * far - _SEAM
    own = ps * (dx * (cos * px - sin * py) + dy * (sin * px + cos * py)) >= pc * far - _SEAM
    return gap, wall & own


def _cosine(half_angle: Floats) -> Floats:
    """Return the cosine of half-angles, lower than any cosine from π on; seams overlap."""
    out: Floats = np.where(half_angle >= math.pi, _ALL_ROUND, np.cos(half_angle) - _SEAM)
    return out


def _line_pairs(convex: Floats, lines: Floats, reach: float, turn: float) -> Floats:
    """Return the table of convex features of one body on lines of the other."""
    a, b = _pairs(convex, lines)
    nx, ny = b[:, 3], -b[:, 2]
    at = b[:, 0] * nx + b[:, 1] * ny
    start = b[:, 0] * b[:, 2] + b[:, 1] * b[:, 3]
    low = np.where(b[:, 5] > 0, -2 * reach, 0.0) - _SEAM
    high = b[:, 4] + np.where(b[:, 6] > 0, 2 * reach, 0.0) + _SEAM
    gap = a[:, 0] * nx + a[:, 1] * ny - at - a[:, 2]
    along = a[:, 0] * b[:, 2] + a[:, 1] * b[:, 3] - start
    facing = np.arccos(np.clip(-(nx * a[:, 3] + ny * a[:, 4]), -1.0, 1.0))
    zone = (along >= low) & (along <= high) & (facing <= a[:, 5] + _SEAM)
    near = (
        (np.abs(gap) <= reach + TOUCH_FOUL_MM)
        & (along >= low - reach)
        & (along <= high + reach)
        & (facing <= a[:, 5] + turn + _SEAM)
        & ~(zone & (gap < -TOUCH_FOUL_MM))
    )
    # A hair of fouling at the nominal pose (facets, rounding of the drawing) is touching.
    offset = at + a[:, 2] + np.where(zone, np.minimum(gap, 0.0), 0.0)
    table = np.column_stack(
        (a[:, 0], a[:, 1], nx, ny, offset, start, low, high, a[:, 3], a[:, 4], _cosine(a[:, 5]))
    )[near]
    return table[np.argsort(gap[near], kind="stable")]


def _circle_pairs(own: _Body, wall: _Body, reach: float, turn: float) -> Floats:
    """Return the table of arcs on arcs, and of arcs on corners of the other body."""
    tables = []
    for inner, outer, sense, wall_sign, own_sign in (
        (own.round, wall.round, 1.0, 1.0, -1.0),
        (own.round, wall.hollow, -1.0, 1.0, 1.0),
        (own.hollow, wall.round, -1.0, -1.0, -1.0),
    ):
        a, b = _pairs(inner, outer)
        radius = a[:, 2] + b[:, 2] if sense > 0 else np.abs(a[:, 2] - b[:, 2])
        smaller = b[:, 2] > a[:, 2] if own_sign > 0 else a[:, 2] > b[:, 2]
        half_a, half_b = a[:, 5].copy(), b[:, 5].copy()
        if inner is own.hollow:
            half_a += np.where(a[:, 6:].any(axis=1), 2 * reach / a[:, 2], 0.0)
        if outer is wall.hollow:
            half_b += np.where(b[:, 6:].any(axis=1), 2 * reach / b[:, 2], 0.0)
        dx, dy = a[:, 0] - b[:, 0], a[:, 1] - b[:, 1]
        far = np.maximum(np.hypot(dx, dy), 1e-300)
        gap = sense * (far - radius)
        off_wall = np.arccos(np.clip(wall_sign * (dx * b[:, 3] + dy * b[:, 4]) / far, -1, 1))
        off_own = np.arccos(np.clip(own_sign * (dx * a[:, 3] + dy * a[:, 4]) / far, -1, 1))
        swing = np.where(far > 2 * reach, turn + 2 * reach / far, 2 * math.pi) + _SEAM
        zone = (off_wall <= half_b + _SEAM) & (off_own <= half_a + _SEAM)
        near = (
            (np.abs(gap) <= reach + TOUCH_FOUL_MM)
            & (off_wall <= half_b + swing)
            & (off_own <= half_a + swing)
            & ~(zone & (gap < -TOUCH_FOUL_MM))
            & ((radius > 0.0) if sense > 0 else smaller)
        )
        radius = radius + sense * np.where(zone, np.minimum(gap, 0.0), 0.0)
        columns = (a[:, 0], a[:, 1], b[:, 0], b[:, 1], radius, np.full(len(a), sense))
        wall_zone = (b[:, 3], b[:, 4], _cosine(half_b), np.full(len(a), wall_sign))
        own_zone = (a[:, 3], a[:, 4], _cosine(half_a), np.full(len(a), own_sign))
        table = np.column_stack((*columns, *wall_zone, *own_zone))[near]
        tables.append(table[np.argsort(gap[near], kind="stable")])
    return np.vstack(tables)
