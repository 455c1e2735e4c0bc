"""The wall round an outline: grown by the clearance, and relieved where a beam cannot follow.

A corner of the part that is sharper than the wall may be meets a fillet that the laser leaves
(half a kerf at least) or that acrylic needs against cracks; there a disc is cut away.

Refused: a clearance so large that the outline closes on itself (a feature is eaten).
"""

from __future__ import annotations

import math

from jigs.setup import Setup
from kerf.beam import KerfCard
from kerf.contour import Contour, Edge, Region
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
