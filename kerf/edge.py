"""One line or arc of a loop, resolved: ends, bulge, and centre and radius if an arc.

Chord c, sweep a = 4 atan(b), radius c (1 + b²) / (4 |b|). Source: bulge as defined by the DXF
reference for LWPOLYLINE group 42.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from kerf.errors import GeometryError
from kerf.plane import Bounds, Point, Vector
from kerf.tolerance import COINCIDENT_MM, STRAIGHT_BULGE


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One line or arc of a loop, resolved: ends, bulge, and centre and radius if an arc."""

    start: Point
    end: Point
    bulge: float = 0.0

    @property
    def is_line(self) -> bool:
        """Whether the edge is straight."""
        return abs(self.bulge) <= STRAIGHT_BULGE

    @property
    def chord_mm(self) -> float:
        """Distance between the ends, mm."""
        return math.hypot(self.end.x - self.start.x, self.end.y - self.start.y)

    @property
    def sweep_rad(self) -> float:
        """Signed turn of the edge, rad; counter-clockwise positive, 0 for a line."""
        return 4.0 * math.atan(self.bulge)

    @property
    def radius_mm(self) -> float:
        """Radius, mm; infinite for a line."""
        if self.is_line:
            return math.inf
        b = self.bulge
        return self.chord_mm * (1.0 + b * b) / (4.0 * abs(b))

    @property
    def centre(self) -> Point:
        """Centre of the arc, mm.

        Raises:
            GeometryError: the edge is a line.
        """
        if self.is_line:
            raise GeometryError("a straight edge has no centre")
        b = self.bulge
        k = (1.0 - b * b) / (4.0 * b)
        dx, dy = self.end.x - self.start.x, self.end.y - self.start.y
        return Point(
            (self.start.x + self.end.x) / 2 - k * dy, (self.start.y + self.end.y) / 2 + k * dx
        )

    @property
    def length_mm(self) -> float:
        """Length along the edge, mm."""
        if self.is_line:
            return self.chord_mm
        return self.radius_mm * abs(self.sweep_rad)

    def point_at(self, t: float) -> Point:
        """Return the point at share t of the length, 0 at the start and 1 at the end, mm."""
        if t == 0.0:
            return self.start
        if t == 1.0:
            return self.end
        if self.is_line:
            return Point(
                self.start.x + t * (self.end.x - self.start.x),
                self.start.y + t * (self.end.y - self.start.y),
            )
        # Chord form: exact ends, and stable for very flat arcs.
        half = self.sweep_rad / 2
        along = math.sin(half * t) * math.cos(half * (1 - t)) / math.sin(half)
        across = -math.sin(half * t) * math.sin(half * (1 - t)) / math.sin(half)
        dx, dy = self.end.x - self.start.x, self.end.y - self.start.y
        return Point(
            self.start.x + along * dx - across * dy, self.start.y + along * dy + across * dx
        )

    def tangent_at(self, t: float) -> Vector:
        """Return the unit direction of travel at share t of the length."""
        chord = self.chord_mm
        ux, uy = (self.end.x - self.start.x) / chord, (self.end.y - self.start.y) / chord
        angle = self.sweep_rad * (t - 0.5)
        cos, sin = math.cos(angle), math.sin(angle)
        return Vector(cos * ux - sin * uy, sin * ux + cos * uy)

    def normal_at(self, t: float) -> Vector:
        """Return the unit normal at share t, to the left of travel: into the material."""
        tangent = self.tangent_at(t)
        return Vector(-tangent.y, tangent.x)

    def reversed(self) -> Edge:
        """Return the same edge travelled the other way."""
        return Edge(start=self.end, end=self.start, bulge=-self.bulge)

    def covers_angle(self, angle_rad: float) -> bool:
        """Return whether the ray from the centre at this angle meets the arc (ends included)."""
        start = math.atan2(self.start.y - self.centre.y, self.start.x - self.centre.x)
        turn = (angle_rad - start) if self.bulge > 0 else (start - angle_rad)
        turn %= 2 * math.pi
        slack = COINCIDENT_MM / max(self.radius_mm, COINCIDENT_MM)
        return turn <= abs(self.sweep_rad) + slack or turn >= 2 * math.pi - slack

    def nearest(self, x: float, y: float) -> tuple[Point, float]:
        """Return the nearest point of the edge to (x, y) and its distance, mm. Exact."""
        if self.is_line:
            dx, dy = self.end.x - self.start.x, self.end.y - self.start.y
            t = ((x - self.start.x) * dx + (y - self.start.y) * dy) / (dx * dx + dy * dy)
            t = min(1.0, max(0.0, t))
            p = self.point_at(t)
            return p, math.hypot(x - p.x, y - p.y)
        # About the start, not the centre: an arc of a kilometre's radius keeps its digits. With
        # curvature k, left normal n and q from the start, F = k q²/2 − q·n is 0 on the circle.
        b, chord = self.bulge, self.chord_mm
        k = 4 * b / (chord * (1 + b * b))
        ux, uy = (self.end.x - self.start.x) / chord, (self.end.y - self.start.y) / chord
        cos, sin = (1 - b * b) / (1 + b * b), 2 * b / (1 + b * b)  # of half the sweep
        ax, ay = cos * ux + sin * uy, cos * uy - sin * ux  # heading at the start
        zx, zy = cos * ux - sin * uy, cos * uy + sin * ux  # and at the end
        qx, qy = x - self.start.x, y - self.start.y
        gx, gy = k * qx + ay, k * qy - ax
        steep = math.hypot(gx, gy)
        if steep > 0.0:
            off = (k * (qx * qx + qy * qy) + 2 * (qx * ay - qy * ax)) / (1 + steep)
            p = Point(x - off * gx / steep, y - off * gy / steep)
            begun = (p.x - self.start.x) * ax + (p.y - self.start.y) * ay >= 0
            unended = (self.end.x - p.x) * zx + (self.end.y - p.y) * zy >= 0
            # Up to half a turn the arc lies ahead of both its ends; beyond, ahead of either.
            if (begun and unended) if abs(b) <= 1.0 else (begun or unended):
                return p, abs(off)
        ends = [(e, math.hypot(x - e.x, y - e.y)) for e in (self.start, self.end)]
        return min(ends, key=lambda pair: pair[1])

    def bounds(self) -> Bounds:
        """Return the exact box of the edge, mm."""
        xs, ys = [self.start.x, self.end.x], [self.start.y, self.end.y]
        if not self.is_line:
            c, r = self.centre, self.radius_mm
            for quarter, (ux, uy) in enumerate(((1, 0), (0, 1), (-1, 0), (0, -1))):
                if self.covers_angle(quarter * math.pi / 2):
                    xs.append(c.x + r * ux)
                    ys.append(c.y + r * uy)
        return Bounds(min(xs), min(ys), max(xs), max(ys))
