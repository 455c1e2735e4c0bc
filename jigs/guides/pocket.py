"""The wall round an outline: grown by the clearance, and relieved where a beam cannot follow.

A corner of the part that is sharper than the wall may be meets a fillet that the laser leaves
(half a kerf at least) or that acrylic needs against cracks; there a disc is cut away.

A pocket may be opened upwards (``opened``): everything above its lower side is free, so that a
part drops in.

Refused: a clearance so large that the outline closes on itself (a feature is eaten).
"""

from __future__ import annotations

import math

from jigs.locating.contacts import share_along
from jigs.setup import Setup
from kerf.beam import KerfCard
from kerf.contour import Contour, Edge, Point, Region, Vertex
from kerf.errors import InputError
from kerf.measure import narrowest_gap
from kerf.offset import offset
from kerf.tolerance import COINCIDENT_MM

#: Least radius of an inside corner of the pocket, mm: sharper ones start cracks in acrylic
#: (sources agree on 0.5 mm).
SHARPEST_INSIDE_MM = 0.5

#: A corner is relieved when its fillet would leave more than this, mm: a tenth of the usual
#: clearance. An arc drawn as short lines has corners far below it, which need none.
RELIEF_FROM_MM = 0.01


def pocket_wall(outline: Region, setup: Setup) -> Region:
    """Return the outline grown by the set-up's clearance, every gap of it kept.

    Args:
        outline: the part's outline in the set-up's turn.
        setup: gives the clearance.
    Raises:
        InputError: the clearance closes a gap of the outline.
    """
    if setup.clearance_mm == 0.0:
        return outline
    gap = narrowest_gap((outline,), below_mm=2 * setup.clearance_mm + COINCIDENT_MM)
    if gap is not None:
        at = setup.pose().inverse().point(*gap.centre)
        raise InputError(
            f"a clearance of {setup.clearance_mm:.3f} mm per side closes a gap of the outline "
            f"that is {gap.width_mm:.3f} mm wide at ({at.x:.2f}, {at.y:.2f}) mm",
            where=setup.key_path + ".clearance",
            hint=f"make the clearance less than {gap.width_mm / 2:.3f} mm",
        )
    return offset(outline, setup.clearance_mm).regions[0]


def corner_reliefs(
    outline: Region, *, clearance_mm: float, relief_mm: float, card: KerfCard
) -> tuple[Region, ...]:
    """Return a disc at each convex corner that the pocket could not follow.

    The pocket's corner has the part's radius and the clearance; it may be no sharper than
    the beam can turn (half a kerf) nor than acrylic allows.
    """
    least = max(SHARPEST_INSIDE_MM, card.kerf_mm / 2)
    discs = []
    for before, edge in edge_pairs(outline.outer):
        if _left_by(least - clearance_mm, turn_rad(before, edge)) > RELIEF_FROM_MM:
            discs.append(Region(outer=Contour.circle(*edge.start, relief_mm)))
        short = least - clearance_mm - edge.radius_mm
        if edge.bulge > 0 and short > 0 and _left_by(short, edge.sweep_rad) > RELIEF_FROM_MM:
            discs.append(Region(outer=Contour.circle(*edge.point_at(0.5), relief_mm)))
    return tuple(discs)


def opened(wall: Region, *, up_to_mm: float) -> Region:
    """Return what lies above the wall's lower side: the pocket, open upwards.

    Args:
        wall: the pocket's wall.
        up_to_mm: height that is above everything.
    """
    loop = wall.outer
    n = len(loop.vertices)
    first, from_share = _furthest(loop, -1.0)
    last, to_share = _furthest(loop, 1.0)
    start, end = loop.edge(first), loop.edge(last)
    span = (last - first) % n
    if span == 0 and to_share <= from_share:
        span = n  # one arc over the top holds both: the lower side is all the rest
    rows = [Vertex(*start.point_at(from_share), _part_bulge(start.bulge, 1.0 - from_share))]
    rows += [loop.vertices[(first + i) % n] for i in range(1, span)]
    if span:
        rows.append(Vertex(*end.start, _part_bulge(end.bulge, to_share)))
    else:
        rows[0] = Vertex(rows[0].x, rows[0].y, _part_bulge(start.bulge, to_share - from_share))
    right = end.point_at(to_share)
    rows += [Vertex(*right), Vertex(right.x, up_to_mm), Vertex(rows[0].x, up_to_mm)]
    kept = [
        row
        for row, after in zip(rows, (*rows[1:], rows[0]), strict=True)
        if math.hypot(row.x - after.x, row.y - after.y) > COINCIDENT_MM
    ]
    return Region(outer=Contour(vertices=tuple(kept)))


def _furthest(loop: Contour, sign: float) -> tuple[int, float]:
    """Return edge and share of the loop's outermost point along ±x, the highest of several."""
    best: tuple[float, float] | None = None
    place = (0, 0.0)
    for i, edge in enumerate(loop.edges()):
        points = [(edge.start, 0.0)]
        if not edge.is_line:
            c = edge.centre
            if edge.covers_angle(0.0 if sign > 0 else math.pi):
                top = Point(c.x + sign * edge.radius_mm, c.y)
                points.append((top, share_along(edge, top)))
        for point, share in points:
            rank = (round(sign * point.x, 9), point.y)
            if best is None or rank > best:
                best, place = rank, (i, share)
    i, share = place
    return ((i + 1) % len(loop.vertices), 0.0) if share == 1.0 else (i, share)


def _part_bulge(bulge: float, share: float) -> float:
    """Return the bulge of a share of an arc: its sweep scales with its length."""
    return math.tan(share * math.atan(bulge))


def furthest_point(loop: Contour, sign: float) -> Point:
    """Return the loop's outermost point along ±x, the highest of several."""
    index, share = _furthest(loop, sign)
    return loop.edge(index).point_at(share)


def _left_by(radius_mm: float, turned_rad: float) -> float:
    """Return how much a fillet of this radius leaves in an inside corner, along its bisector.

    r (1/cos(a/2) − 1) for a corner that turns by a; a corner that turns back leaves all.
    Source: fillet geometry (for a = 90°, r (√2 − 1)).
    """
    if turned_rad <= 0.0:
        return 0.0
    if turned_rad >= math.pi:
        return math.inf
    return radius_mm * (1 / math.cos(turned_rad / 2) - 1)


def turn_rad(before: Edge, after: Edge) -> float:
    """Return the left turn between two edges, rad: positive at a convex corner."""
    a, b = before.tangent_at(1.0), after.tangent_at(0.0)
    return math.atan2(a.x * b.y - a.y * b.x, a.x * b.x + a.y * b.y)


def edge_pairs(contour: Contour) -> list[tuple[Edge, Edge]]:
    """Return (edge before, edge) for every vertex."""
    edges = list(contour.edges())
    return list(zip([edges[-1], *edges[:-1]], edges, strict=True))
