"""Pads: places where a wall comes up to the part, so that it rests on points and not on a curve.

Everywhere else the wall keeps its clearance. A pad is what lies between wall and outline
within half its width of the contact, so its face is the part's own outline there, arcs kept.
"""

from __future__ import annotations

from jigs.locating.contacts import Contact
from kerf.boolean import difference, intersection
from kerf.contour import Contour, Point, Region, Transform
from kerf.errors import GeometryError


def padded(
    wall: Region,
    outline: Region,
    contacts: tuple[Contact, ...],
    *,
    to_set: Transform,
    width_mm: float,
) -> Region:
    """Return the free space inside ``wall`` with a pad grown at each contact.

    Args:
        wall: the pocket before pads: the outline grown by the clearance.
        outline: the part's outline, without its holes, in the same coordinates.
        contacts: where the part rests, part coordinates.
        to_set: part → these coordinates.
        width_mm: width of a pad along the outline, mm.
    Raises:
        GeometryError: a pad closes the pocket or falls loose.
    """
    gap = Region(outer=wall.outer, holes=(outline.outer,))
    pads: list[Region] = []
    for contact in contacts:
        at = to_set.point(*contact.at)
        disc = Region(outer=Contour.circle(at.x, at.y, width_mm / 2))
        pads += [p for p in intersection(gap, disc) if _holds(p, at)]
    left = difference(wall, pads)
    if len(left) != 1 or left[0].holes:
        raise GeometryError(
            f"pads of {width_mm:.2f} mm close the pocket", hint="make `pad` narrower"
        )
    return left[0]


def _holds(piece: Region, at: Point) -> bool:
    """Return whether the contact lies on the piece's edge (a disc may clip a far wall too)."""
    return piece.outer.nearest(at.x, at.y)[2] < 1e-6
