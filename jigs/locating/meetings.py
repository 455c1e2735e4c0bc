"""Where a part can meet the wall round it: every pair of features, as exact gap functions.

The part and the solid round it are two bodies of lines and arcs, material left of travel. Two
such bodies touch from outside in five ways only: a convex corner or convex arc of one against
a line of the other (twice), convex arc against convex arc or corner, and a convex feature in
a hollow arc of the other (twice). For a pose (x, y, turn) each pair has a gap that is exact,
not linearised: signed distance to a line, or distance between two centres against a radius.
A pair speaks only within its *zone*: the foot of the perpendicular lies on the line, the
direction of contact lies in the arcs' sweeps, and an overlap is no deeper than the solid
behind. Outside it a neighbouring pair speaks.

This is the boundary of the part's configuration-space obstacle, kept feature by feature
(method: Lozano-Pérez, *Spatial planning: a configuration space approach*, IEEE Trans.
Computers C-32, 1983 [title and year from memory]). Pairs further apart than any
point can move (``reach``) are dropped. Free space beyond a wall is seen as free: a part with room
there may be said to lie there, as one dropped in from above can.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from jigs.locating.features import Features, features
from kerf.contour import Point, Region
from kerf.tolerance import FACET_SEAM, SEAM_DEPTH_MM, TOUCH_FOUL_MM, TOUCH_MM, ZONE_SEAM

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Cosine of a half-angle no direction misses.
_ALL_ROUND = -2.0

#: Slopes and depth of the solid behind, among the columns of the tables.
_LINE_BEHIND = [7, 8, 9]
_CIRCLE_BEHIND = [16, 17, 18, 21, 22, 23]

#: Facets that stand for a hollow arc, its ends among them.
_FACETS = 13

#: Radius, slopes and depth among the columns of an arc.
_BEHIND = [2, 6, 7, 8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bodies:
    """A part and the solid round it, feature by feature, seen from one point.

    Args:
        own, wall: features of the part and of the solid.
        lever_mm: distance of the part's furthest point from the origin.
    """

    own: Features
    wall: Features
    lever_mm: float

    @classmethod
    def of(cls, part: Region, void: Region, *, origin: Point) -> Self:
        """Return both bodies; ``void`` is the free space round the part at nominal."""
        points = np.vstack([loop.facets(0.1) for loop in part.loops()]) - origin
        return cls(
            own=features(part.loops(), origin=origin),
            wall=features((loop.reversed() for loop in void.loops()), origin=origin),
            lever_mm=float(np.hypot(points[:, 0], points[:, 1]).max()) + 0.1,
        )

    def placed(self, x_mm: float, y_mm: float, turn_rad: float) -> Bodies:
        """Return the bodies with the part put at a pose; later poses start from there.

        They shift the part further, and turn it about the point its middle has come to.
        """
        away = Features.moved(self.wall, -x_mm, -y_mm, 0.0)
        return replace(self, own=self.own.moved(0.0, 0.0, turn_rad), wall=away)

    def within(self, room_mm: float, *, fouling_mm: float = 0.0) -> Meetings:
        """Return the pairs that can meet while |x|, |y| and lever × |turn| stay in the room.

        Args:
            room_mm: > 0.
            fouling_mm: overlap at the nominal pose that is looked at as such; 0 where the
                nominal pose is known to be admissible.
        """
        reach = (1 + math.sqrt(2)) * room_mm + fouling_mm
        turn = room_mm / self.lever_mm
        foul = max(fouling_mm, TOUCH_FOUL_MM)
        meetings = Meetings(
            room_mm=room_mm,
            lever_mm=self.lever_mm,
            fixed=_line_pairs(self.own.round, self.wall.lines, reach, turn, foul),
            turning=_line_pairs(self.wall.round, self.own.lines, reach, turn, foul),
            circles=_circle_pairs(self.own, self.wall, reach, turn, foul),
        )
        return meetings if fouling_mm > 0.0 else meetings.touching()


@dataclass(frozen=True, slots=True, kw_only=True)
class Meetings:
    """Every pair that can touch while the part moves within a room.

    Poses are (x, y, turn) about ``origin``: a point p of the part (seen from the origin) goes
    to R(turn) p + (x, y).

    Args:
        room_mm: bound on |x|, |y| and lever × |turn|.
        lever_mm: distance of the part's furthest point from the origin.
        fixed: part corners and arcs on lines of the wall: part centre x, y; normal x, y (out
            of the wall); offset; start of the line along it; its length; slopes and depth of
            the solid behind; the part's middle normal x, y; cosine of its half-angle.
        turning: wall corners and arcs on lines of the part: the same, seen from the part.
        circles: centre on the part x, y; centre on the wall x, y; radius; sense (+1 keep out,
            −1 keep in); wall's middle x, y, cosine, sign; part's middle x, y, cosine, sign;
            half-angle, radius, slopes and depth of the solid behind, of the wall and the part.
    """

    room_mm: float
    lever_mm: float
    fixed: Floats
    turning: Floats
    circles: Floats

    @property
    def count(self) -> int:
        """Number of pairs."""
        return len(self.fixed) + len(self.turning) + len(self.circles)

    def touching(self) -> Self:
        """Return the pairs with a hair of fouling at the nominal pose taken for touching.

        It comes from the rounding of a drawing, or of the facets that proved the pose.
        """
        zero = np.zeros(1)
        gap, zone = self.gaps(zero, zero, zero)
        hair = np.where(zone[0], np.minimum(gap[0], 0.0), 0.0)
        fixed, turning, circles = self.fixed.copy(), self.turning.copy(), self.circles.copy()
        fixed[:, 4] += hair[: len(fixed)]
        turning[:, 4] += hair[len(fixed) : len(fixed) + len(turning)]
        shift = circles[:, 5] * hair[len(fixed) + len(turning) :]
        circles[:, 4] += np.where(circles[:, 4] > 0.0, shift, 0.0)
        return replace(self, fixed=fixed, turning=turning, circles=circles)

    def hardened(self, chosen: NDArray[np.intp], depth_mm: Floats) -> Self:
        """Return the pairs with some of them, by index, solid to the depths given."""
        fixed, turning, circles = self.fixed.copy(), self.turning.copy(), self.circles.copy()
        second = len(fixed) + len(turning)
        for k, depth in zip(chosen, depth_mm, strict=True):
            if k >= second:
                circles[k - second, _CIRCLE_BEHIND] = (np.inf, np.inf, depth) * 2
            elif k >= len(fixed):
                turning[k - len(fixed), _LINE_BEHIND] = (np.inf, np.inf, depth)
            else:
                fixed[k, _LINE_BEHIND] = (np.inf, np.inf, depth)
        return replace(self, fixed=fixed, turning=turning, circles=circles)

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
        left = np.arange(len(x))
        for table, gaps in (
            (self.fixed, _fixed_gaps),
            (self.turning, _turning_gaps),
            (self.circles, _circle_gaps),
        ):
            for start in range(0, len(table), 5):
                if not len(left):
                    return left
                rows = table[start : start + 5]
                gap, zone = gaps(rows, x[left], y[left], cos[left], sin[left])
                foul = zone & (gap < -tolerance_mm)
                left = left[~foul.any(axis=1)]
        return left

    def only(self, chosen: NDArray[np.intp]) -> Self:
        """Return some of the pairs, by index in the order of ``gaps``."""
        first = len(self.fixed)
        second = first + len(self.turning)
        return replace(
            self,
            fixed=self.fixed[chosen[chosen < first]],
            turning=self.turning[chosen[(chosen >= first) & (chosen < second)] - first],
            circles=self.circles[chosen[chosen >= second] - second],
        )

    def rows(self, x: float, y: float, turn: float) -> tuple[Floats, Floats, NDArray[np.intp]]:
        """Return gaps of the pairs in their zones at one pose and their gradients.

        Hollow arcs are held by facets, too.

        Returns:
            gaps, shape (m,), mm; gradients by (x, y, turn), shape (m, 3); index of the pair
            each belongs to, shape (m,).
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
        keep = zone[0] & np.concatenate((np.full(len(f) + len(w), True), c[:, 4] > 0.0))
        hollow = keep[len(f) + len(w) :] & (c[:, 5] < 0)
        faceted_gap, faceted, owner = _faceted(c, qx, qy, dx, dy, turn, hollow)
        owner = owner + len(f) + len(w)
        return (
            np.concatenate((gap[0][keep], faceted_gap)),
            np.vstack((np.vstack((fixed, turning, circles))[keep], faceted)),
            np.concatenate((np.flatnonzero(keep), owner)),
        )


def _faceted(
    table: Floats, qx: Floats, qy: Floats, dx: Floats, dy: Floats, turn: float, hollow: Bools
) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Return gaps, gradients and owners of the facets that enclose each hollow arc.

    A disc to stay in is held by its tangents all round, not only by the one that the centre
    happens to lie towards. ``hollow`` says which rows of the table are such discs, in zone.
    """
    c = table[hollow]
    wall = np.arctan2(c[:, 7], c[:, 6]) + np.where(c[:, 9] < 0, math.pi, 0.0)
    own = np.arctan2(c[:, 11], c[:, 10]) + turn + np.where(c[:, 13] < 0, math.pi, 0.0)
    wall_half = np.arccos(np.clip(c[:, 8], -1.0, 1.0))
    own_half = np.arccos(np.clip(c[:, 12], -1.0, 1.0))
    tighter = own_half < wall_half
    middle, half = np.where(tighter, own, wall), np.where(tighter, own_half, wall_half)
    angle = middle[:, None] + half[:, None] * np.linspace(-1.0, 1.0, _FACETS)
    inside = (np.cos(angle - wall[:, None]) >= c[:, 8:9] - FACET_SEAM) & (
        np.cos(angle - own[:, None]) >= c[:, 12:13] - FACET_SEAM
    )
    ux, uy = np.cos(angle), np.sin(angle)
    gap = c[:, 4:5] - ux * dx[hollow, None] - uy * dy[hollow, None]
    spin = ux * qy[hollow, None] - uy * qx[hollow, None]
    owner = np.flatnonzero(hollow)[np.nonzero(inside)[0]]
    return gap[inside], np.column_stack((-ux[inside], -uy[inside], spin[inside])), owner


def _fixed_gaps(
    table: Floats, x: Floats, y: Floats, cos: Floats, sin: Floats
) -> tuple[Floats, Bools]:
    """Return gaps and zones of part corners and arcs on the wall's lines."""
    cx, cy, nx, ny, offset, start, *behind, mx, my, half = table.T
    cos, sin = cos[:, None], sin[:, None]
    px, py = x[:, None] + cos * cx - sin * cy, y[:, None] + sin * cx + cos * cy
    along = -ny * px + nx * py - start
    facing = -(nx * (cos * mx - sin * my) + ny * (sin * mx + cos * my))
    gap: Floats = nx * px + ny * py - offset
    return gap, _over(along, gap, *behind) & (facing >= half)


def _over(
    along: Floats, gap: Floats, length: Floats, opens: Floats, closes: Floats, depth: Floats
) -> Bools:
    """Return whether a point at ``along`` a line, ``gap`` off it, is before it or in its solid.

    Behind a line the solid is as deep as the greatest ball in it that touches the line there:
    deeper, other walls decide.
    """
    over: Bools = (along >= -ZONE_SEAM) & (along <= length + ZONE_SEAM)
    n, k = np.nonzero(over & (gap < -TOUCH_MM / 1000))
    if len(n):
        opens, closes, depth, length = opens[k], closes[k], depth[k], length[k]
        run = along[n, k] + SEAM_DEPTH_MM
        left = length - along[n, k] + SEAM_DEPTH_MM
        over[n, k] = -gap[n, k] <= np.minimum(np.minimum(opens * run, closes * left), depth)
    return over


def _turning_gaps(
    table: Floats, x: Floats, y: Floats, cos: Floats, sin: Floats
) -> tuple[Floats, Bools]:
    """Return gaps and zones of wall corners and arcs on the part's lines."""
    vx, vy, nx, ny, offset, start, *behind, mx, my, half = table.T
    cos, sin = cos[:, None], sin[:, None]
    dx, dy = vx - x[:, None], vy - y[:, None]
    wx, wy = cos * dx + sin * dy, cos * dy - sin * dx
    along = -ny * wx + nx * wy - start
    facing = -((cos * nx - sin * ny) * mx + (sin * nx + cos * ny) * my)
    gap: Floats = nx * wx + ny * wy - offset
    return gap, _over(along, gap, *behind) & (facing >= half)


def _circle_gaps(
    table: Floats, x: Floats, y: Floats, cos: Floats, sin: Floats
) -> tuple[Floats, Bools]:
    """Return gaps and zones of arcs on arcs and corners."""
    ax, ay, bx, by, radius, sense, wx, wy, wc, ws, px, py, pc, ps, *behind = table.T
    cos, sin = cos[:, None], sin[:, None]
    dx, dy = x[:, None] + cos * ax - sin * ay - bx, y[:, None] + sin * ax + cos * ay - by
    far = np.hypot(dx, dy)
    gap: Floats = sense * (far - radius)
    ex, ey = cos * px - sin * py, sin * px + cos * py
    zone: Bools = (ws * (dx * wx + dy * wy) >= wc * far - ZONE_SEAM) & (
        ps * (dx * ex + dy * ey) >= pc * far - ZONE_SEAM
    )
    # Where it fouls, deeper than the solid of both bodies is deep, other walls decide.
    n, k = np.nonzero(zone & (gap < -TOUCH_MM / 1000))
    if len(n):
        wall, own = behind[:5], behind[5:]
        at = (ws[k] * dx[n, k], ws[k] * dy[n, k])
        deep = _depth(at, (wx[k], wy[k]), *(column[k] for column in wall))
        at = (ps[k] * dx[n, k], ps[k] * dy[n, k])
        middle = (ex[n, k], ey[n, k])
        zone[n, k] = -gap[n, k] <= np.maximum(deep, _depth(at, middle, *(c[k] for c in own)))
    return gap, zone


def _depth(
    at: tuple[Floats, Floats],
    middle: tuple[Floats, Floats],
    half: Floats,
    radius: Floats,
    opens: Floats,
    closes: Floats,
    depth: Floats,
) -> Floats:
    """Return how deep the solid is behind an arc in a direction from its centre, mm."""
    cross = middle[0] * at[1] - middle[1] * at[0]
    angle = np.arctan2(cross, middle[0] * at[0] + middle[1] * at[1])
    first = opens * (radius * np.maximum(half + angle, 0.0) + SEAM_DEPTH_MM)
    last = closes * (radius * np.maximum(half - angle, 0.0) + SEAM_DEPTH_MM)
    out: Floats = np.minimum(depth, np.minimum(first, last))
    return out


def _cosine(half_angle: Floats) -> Floats:
    """Return the cosine of half-angles, lower than any cosine from π on; seams overlap."""
    out: Floats = np.where(half_angle >= math.pi, _ALL_ROUND, np.cos(half_angle) - ZONE_SEAM)
    return out


def _pairs(a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Return every row of a beside every row of b."""
    return np.repeat(a, len(b), axis=0), np.tile(b, (len(a), 1))


def _line_pairs(convex: Floats, lines: Floats, reach: float, turn: float, foul: float) -> Floats:
    """Return the table of convex features of one body on lines of the other."""
    a, b = _pairs(convex, lines)
    nx, ny = b[:, 3], -b[:, 2]
    at = b[:, 0] * nx + b[:, 1] * ny
    start = b[:, 0] * b[:, 2] + b[:, 1] * b[:, 3]
    gap = a[:, 0] * nx + a[:, 1] * ny - at - a[:, 2]
    along = a[:, 0] * b[:, 2] + a[:, 1] * b[:, 3] - start
    facing = np.arccos(np.clip(-(nx * a[:, 3] + ny * a[:, 4]), -1.0, 1.0))
    zone = _over(along[None], gap[None], *b[:, 4:8].T)[0] & (facing <= a[:, 5] + ZONE_SEAM)
    near = (
        (np.abs(gap) <= reach + foul)
        & (along >= -reach)
        & (along <= b[:, 4] + reach)
        & (facing <= a[:, 5] + turn + ZONE_SEAM)
        & ~(zone & (gap < -foul))
    )
    offset = at + a[:, 2]
    table: Floats = np.column_stack(
        (a[:, :2], nx, ny, offset, start, b[:, 4:8], a[:, 3:5], _cosine(a[:, 5]))
    )
    table = table[near]
    return table[np.argsort(gap[near], kind="stable")]


def _circle_pairs(own: Features, wall: Features, reach: float, turn: float, foul: float) -> Floats:
    """Return the table of arcs on arcs, and of arcs on corners of the other body."""
    tables = []
    for inner, outer, sense, wall_sign, own_sign in (
        (own.round, wall.round, 1.0, 1.0, -1.0),
        (own.round, wall.hollow, -1.0, 1.0, 1.0),
        (own.hollow, wall.round, -1.0, -1.0, -1.0),
    ):
        a, b = _pairs(inner, outer)
        radius = a[:, 2] + b[:, 2] if sense > 0 else np.abs(a[:, 2] - b[:, 2])
        fits = b[:, 2] >= a[:, 2] if own_sign > 0 else a[:, 2] >= b[:, 2]
        half_a, half_b = a[:, 5], b[:, 5]
        dx, dy = a[:, 0] - b[:, 0], a[:, 1] - b[:, 1]
        far = np.maximum(np.hypot(dx, dy), 1e-300)
        gap = sense * (far - radius)
        off_wall = np.arccos(np.clip(wall_sign * (dx * b[:, 3] + dy * b[:, 4]) / far, -1, 1))
        off_own = np.arccos(np.clip(own_sign * (dx * a[:, 3] + dy * a[:, 4]) / far, -1, 1))
        swing = np.where(far > 2 * reach, turn + 2 * reach / far, 2 * math.pi) + ZONE_SEAM
        zone = (off_wall <= half_b + ZONE_SEAM) & (off_own <= half_a + ZONE_SEAM)
        zone &= -gap <= np.maximum(
            _depth((wall_sign * dx, wall_sign * dy), (b[:, 3], b[:, 4]), half_b, *b[:, _BEHIND].T),
            _depth((own_sign * dx, own_sign * dy), (a[:, 3], a[:, 4]), half_a, *a[:, _BEHIND].T),
        )
        near = (
            (np.abs(gap) <= reach + foul)
            & (off_wall <= half_b + swing)
            & (off_own <= half_a + swing)
            & ~(zone & (gap < -foul) & (radius > 0.0))
            & ((radius > 0.0) if sense > 0 else fits)
        )
        columns = (a[:, 0], a[:, 1], b[:, 0], b[:, 1], radius, np.full(len(a), sense))
        wall_zone = (b[:, 3], b[:, 4], _cosine(half_b), np.full(len(a), wall_sign))
        own_zone = (a[:, 3], a[:, 4], _cosine(half_a), np.full(len(a), own_sign))
        behind = (half_b, b[:, _BEHIND], half_a, a[:, _BEHIND])
        table = np.column_stack((*columns, *wall_zone, *own_zone, *behind))[near]
        tables.append(table[np.argsort(gap[near], kind="stable")])
    return np.vstack(tables)
