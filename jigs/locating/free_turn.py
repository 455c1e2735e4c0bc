"""Whether a part turns freely in its place, and about what: rings swept about a centre."""

from __future__ import annotations

import math

from jigs.locating.within import polygon
from kerf.contour import Contour, Edge, Point, Region
from kerf.tolerance import COINCIDENT_MM, TOUCH_FOUL_MM


def free_turn_centre(part: Region, void: Region) -> Point | None:
    """Return a point about which the part turns freely at its nominal place, if there is one.

    Turned about it, the part sweeps a ring; the ring must lie in the free space.
    """
    import shapely

    circle = shapely.minimum_bounding_circle(polygon(part))
    middle = shapely.centroid(circle)
    tried = [Point(middle.x, middle.y)]
    for loop in part.loops():
        arcs = [e for e in loop.edges() if not e.is_line]
        for arc in arcs:
            if abs(arc.sweep_rad) >= math.pi / 2 or len(arcs) == len(loop.vertices):
                tried.append(arc.centre)
    walls = void.holes
    for c in tried:
        far = max(_furthest(edge, c) for edge in part.outer.edges())
        near = 0.0 if part.contains(*c) else min(loop.nearest(*c)[2] for loop in part.loops())
        if (
            void.outer.contains(*c)
            and void.outer.nearest(*c)[2] >= far - TOUCH_FOUL_MM
            and all(
                (not hole.contains(*c) and hole.nearest(*c)[2] >= far - TOUCH_FOUL_MM)
                or max(_furthest(edge, c) for edge in hole.edges()) <= near + TOUCH_FOUL_MM
                for hole in walls
            )
        ):
            return c
    return None


def _furthest(edge: Edge, c: Point) -> float:
    """Return the distance from c to the furthest point of an edge, mm."""
    ends = max(math.hypot(e.x - c.x, e.y - c.y) for e in (edge.start, edge.end))
    if edge.is_line:
        return ends
    dx, dy = edge.centre.x - c.x, edge.centre.y - c.y
    if math.hypot(dx, dy) <= COINCIDENT_MM:
        return edge.radius_mm
    over = edge.covers_angle(math.atan2(dy, dx))
    return edge.radius_mm + math.hypot(dx, dy) if over else ends


def round_within(one: Region, other: Region, centre: Point, travel_mm: float) -> bool:
    """Return whether each loop of a region that can meet the other's is round about a centre.

    Turned about it, a loop sweeps a ring; two can meet if the travel closes what parts theirs.
    """

    def ring(loop: Contour) -> tuple[float, float]:
        return loop.nearest(*centre)[2], max(_furthest(edge, centre) for edge in loop.edges())

    reach = travel_mm + TOUCH_FOUL_MM
    rings = [ring(loop) for loop in other.loops()]
    return all(
        far - near <= COINCIDENT_MM
        or all(near > away + reach or close > far + reach for close, away in rings)
        for near, far in map(ring, one.loops())
    )
