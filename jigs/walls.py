"""How the walls of a cut plate move with what is not known of the cut.

Unknowns: 0, how far every wall stands proud of finished size, mm; 1 and 2, scale errors along
the sheet's x and y; from 3 on, what each wall in question does on its own, mm. A row says how
far one unit of each moves a point of a wall along a direction.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from jigs.guides.guide import Guide
from kerf.contour import Edge, Floats, Point, Vector
from kerf.errors import InputError
from kerf.tolerance import AS_CUT_ON_WALL_MM

#: Unknowns all walls share: proud of finished size, and scale errors along sheet x and y.
SHARED: Final = 3


class Walls:
    """The walls of a guide's plates, those in question numbered as they are asked about."""

    def __init__(self, guide: Guide) -> None:
        self._edges: list[tuple[str, Edge]] = [
            (one.name, edge)
            for one in guide.plates
            for loop in one.region.loops()
            for edge in loop.edges()
        ]
        self.known: dict[int, int] = {}

    def movement(self, at: Point, plate: str = "") -> tuple[Vector, int]:
        """Return the outward normal of the wall at a point, and the number of its own unknown.

        Args:
            at: the point, sheet coordinates, mm.
            plate: name of the plate whose wall it is; empty for whichever is nearest.
        Raises:
            InputError: no wall passes there.
        """
        own = [i for i, (name, _) in enumerate(self._edges) if plate in ("", name)]
        best = min(own, key=lambda i: self._edges[i][1].nearest(at.x, at.y)[1])
        edge = self._edges[best][1]
        near, distance = edge.nearest(at.x, at.y)
        if distance > AS_CUT_ON_WALL_MM:
            raise InputError(
                f"({at.x:.3f}, {at.y:.3f}) mm lies {distance:.3f} mm from the nearest wall",
                hint="a check size must run from wall to wall",
            )
        number = self.known.setdefault(best, len(self.known))
        along = math.dist(edge.start, near) / edge.length_mm if edge.is_line else _share(edge, near)
        inward = edge.normal_at(min(1.0, along))
        return Vector(-inward.x, -inward.y), number

    def row(self, at: Point, direction: Vector, plate: str = "") -> dict[int, float]:
        """Return how each unknown moves the wall at a point along a direction."""
        outward, number = self.movement(at, plate)
        share = outward.x * direction.x + outward.y * direction.y
        return {
            0: share,
            1: at.x * direction.x,
            2: at.y * direction.y,
            SHARED + number: share,
        }

    def size_row(self, start: Point, end: Point, plate: str = "") -> Floats:
        """Return how each unknown changes the size from start to end."""
        length = math.dist(start, end)
        along = Vector((end.x - start.x) / length, (end.y - start.y) / length)
        return self.padded(less(self.row(end, along, plate), self.row(start, along, plate)))

    def padded(self, row: dict[int, float]) -> Floats:
        """Return the row over all unknowns."""
        out = np.zeros(SHARED + len(self.known))
        for index, value in row.items():
            out[index] += value
        return out


def _share(edge: Edge, at: Point) -> float:
    """Return how far along an arc a point on it lies, 0 to 1."""
    c = edge.centre
    start = math.atan2(edge.start.y - c.y, edge.start.x - c.x)
    turn = math.atan2(at.y - c.y, at.x - c.x) - start
    turn = turn % (2 * math.pi) if edge.bulge > 0 else -((-turn) % (2 * math.pi))
    return min(1.0, turn / edge.sweep_rad)


def less(a: dict[int, float], b: dict[int, float]) -> dict[int, float]:
    """Return a − b."""
    return {k: a.get(k, 0.0) - b.get(k, 0.0) for k in sorted({*a, *b})}
