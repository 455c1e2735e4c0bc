"""Whether a body lies in a free space, by shapely on fine facets: a second opinion.

The exact gaps answer for pairs of features; this answers for the whole outline, to the chord
error of the facets. It decides what only topology can: whether a pin has been swallowed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kerf.contour import Region

if TYPE_CHECKING:
    import shapely


def polygon(region: Region) -> shapely.Polygon:
    """Return a region on fine facets."""
    import shapely

    return shapely.Polygon(region.outer.facets(), [hole.facets() for hole in region.holes])


def lies_within(body: shapely.Geometry, room: shapely.Geometry, tolerance_mm: float) -> bool:
    """Return whether a body stands out of a room by no more than a tolerance, mm, > 0."""
    import shapely

    over = shapely.difference(body, room)
    if over.is_empty:
        return True
    return bool(shapely.difference(over, shapely.buffer(room, tolerance_mm)).is_empty)
