"""Pads: places where a wall comes up to the part, so that it rests on points and not on a curve.

Everywhere else the wall keeps its clearance. A pad is what lies between wall and outline
within half its width of the contact, or in a bar of its width where the gap is wider, so its
face is the part's own outline there, arcs kept.
"""

from __future__ import annotations

from jigs.locating.contacts import Contact
from kerf.boolean import difference, intersection
from kerf.contour import Contour, Point, Region, Transform, Vector
from kerf.errors import InputError

#: A disc about the contact reaches the wall surely when the gap is less than this share of it.
DISC_REACH = 0.8


def padded(
    wall: Region,
    outline: Region,
    contacts: tuple[Contact, ...],
    *,
    to_set: Transform,
    width_mm: float,
    where: str,
) -> Region:
    """Return the free space inside ``wall`` with a pad grown at each contact.

    Args:
        wall: the pocket before pads: the outline grown by the clearance.
        outline: the part's outline, without its holes, in the same coordinates.
        contacts: where the part rests, part coordinates.
        to_set: part → these coordinates.
        width_mm: width of a pad along the outline, mm.
        where: key path of the width, for messages.
    Raises:
        InputError: a pad falls loose.
    """
    gap = Region(outer=wall.outer, holes=(outline.outer,))
    pads: list[Region] = []
    for contact in contacts:
        at = to_set.point(*contact.at)
        normal = to_set.vector(*contact.normal)
        reach = wall.outer.nearest(*at)[2]
        cutter = Region(outer=Contour.circle(at.x, at.y, width_mm / 2))
        if reach > DISC_REACH * width_mm / 2:
            cutter = _bar(at, normal, width_mm=width_mm, long_mm=1.2 * reach)
        pads += [p for p in intersection(gap, cutter) if _holds(p, at)]
    left = difference(wall, pads)
    # Room that a pad cuts off in a corner holds nothing of the part: it stays plate.
    if left[0].holes:
        raise InputError(
            f"a pad of {width_mm:.2f} mm does not reach across the clearance to the wall",
            where=where,
            hint="make `pad` wider, or the clearance smaller",
        )
    return left[0]


def _bar(at: Point, normal: Vector, *, width_mm: float, long_mm: float) -> Region:
    """Return a bar across the gap, for a pad narrower than the gap is wide."""
    half, inner = width_mm / 2, width_mm / 2
    x, y = normal
    return Region(
        outer=Contour.of(
            (at.x + along * x - side * half * y, at.y + along * y + side * half * x)
            for along, side in ((inner, -1), (inner, 1), (-long_mm, 1), (-long_mm, -1))
        )
    )


def _holds(piece: Region, at: Point) -> bool:
    """Return whether the contact lies on the piece's edge (a disc may clip a far wall too)."""
    return piece.outer.nearest(at.x, at.y)[2] < 1e-6
