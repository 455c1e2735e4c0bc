"""Straight edges of a part that lie along a wall in the set-up's turn."""

from __future__ import annotations

import math

from jigs.part import Part
from kerf.contour import Region, Transform, Vector
from kerf.tolerance import SQUARE_RAD


def edges_along(outline: Region, inward: Vector, reach: float) -> tuple[int, ...]:
    """Return the straight edges that lie on an extreme of the outline, facing out of it.

    Args:
        outline: in the set-up's turn.
        inward: normal of such an edge into the part.
        reach: the extreme of x or y they lie on, mm.
    """
    found = []
    for i, edge in enumerate(outline.outer.edges()):
        if not edge.is_line:
            continue
        normal = edge.normal_at(0.5)
        turn = math.atan2(
            normal.x * inward.y - normal.y * inward.x, normal.x * inward.x + normal.y * inward.y
        )
        middle = edge.point_at(0.5)
        height = middle.x * inward.x + middle.y * inward.y
        if abs(turn) <= SQUARE_RAD and abs(height - reach) <= SQUARE_RAD * edge.chord_mm + 1e-6:
            found.append(i)
    return tuple(found)


def edges_in_part(part: Part, pose: Transform, edges: tuple[int, ...]) -> set[int]:
    """Return the same edges counted on the part as drawn (a mirror turns the loop round)."""
    n = len(part.region.outer.vertices)
    if pose.determinant > 0:
        return set(edges)
    # Region reverses a mirrored loop from its first vertex: edge i becomes edge n − 1 − i.
    return {n - 1 - i for i in edges}


def turns_hint(region: Region, hand: str) -> str:
    """Return which turns would lay two straight edges along the walls.

    Args:
        region: the part as drawn.
        hand: side on which the side wall or stop stands, "left" or "right".
    """
    straight = [
        math.atan2(-n.x, n.y)
        for edge in region.outer.edges()
        if edge.is_line
        for n in (edge.normal_at(0.5),)
    ]
    quarter = math.pi / 2 if hand == "left" else -math.pi / 2
    turns = sorted(
        {
            round(math.degrees(-a) % 360, 3)
            for a in straight
            for b in straight
            if abs(math.remainder(b - a + quarter, 2 * math.pi)) <= SQUARE_RAD
        }
    )
    if not turns:
        return "the part has no two straight edges square to each other: use a nest"
    return "turns that lay two square edges along the walls: " + ", ".join(
        f"{t:g}°" for t in turns[:6]
    )
