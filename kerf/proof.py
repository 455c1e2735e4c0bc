"""Area and loops of an exact result against the same figure on fine facets.

shapely knows nothing of arcs, but on facets of a micrometre it decides topology reliably,
and by a method that shares nothing with ours. The two must agree in area to within the
facets' error and in the number of outer loops and holes. A neck, web or hole of facet size
may be open on one side and shut on the other; so loops that thin are not counted, and where
the counts differ, they must lie between those of figures a few facet errors fuller and
leaner, for so does the exact one; then finer facets decide.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray

from kerf.contour import Floats, Region
from kerf.pieces import Indices, Pieces, sums
from kerf.tolerance import FACET_MM


def faceted(region: Region, error: float) -> shapely.Polygon:
    """Return the region as a polygon with no chord further than error from it, mm."""
    return faceted_loops(*Pieces.of_loops(region.loops(), 0j), error)


def faceted_loops(pieces: Pieces, loop_of: Indices, error: float) -> shapely.Polygon:
    """Return an outer loop and its holes, in this order, as a polygon.

    Args:
        pieces: the edges of all loops.
        loop_of: the loop of each.
        error: no chord is further from its arc, mm.
    """
    z, owner = pieces.facets(error)
    points = np.column_stack((z.real, z.imag))
    rings = list(np.split(points, np.flatnonzero(np.diff(loop_of[owner])) + 1))
    return shapely.Polygon(rings[0], rings[1:])


def fuller(figure: shapely.Geometry, nudge: float) -> shapely.Geometry:
    """Return the figure with its edges moved outward by nudge, corners kept, mm."""
    if nudge == 0.0:
        return figure
    # GEOS divides by zero inside, harmlessly, at some mitres.
    with np.errstate(divide="ignore", invalid="ignore"):
        return shapely.buffer(figure, nudge, join_style="mitre")


def agrees_with_facets(
    result: Pieces,
    loop_of: Indices,
    expected: Callable[[float, float], shapely.Geometry],
    *,
    length_mm: float,
) -> bool:
    """Return whether loops agree with the figure that shapely makes on facets.

    Args:
        result: all edges of the exact result, material on their left.
        loop_of: the loop of each.
        expected: (chord error, nudge) in mm → shapely's result on facets of that error, with
            the sources made fuller by the nudge.
        length_mm: length of all loops of the sources, mm: with that of the result it bounds
            the area that facets cut off.
    """
    ours = _Loops(sums(loop_of, result.areas()), sums(loop_of, result.length))
    for error in (FACET_MM, FACET_MM / 30):
        figures: list[_Loops] = []
        for nudge in (0.0, 4 * error, -4 * error):
            try:
                theirs = _Loops.of_figure(expected(error, nudge))
            except shapely.errors.GEOSException:
                return False  # loops that cross make no figure
            length = length_mm + ours.length + theirs.length + 10 * error
            if abs(ours.total - theirs.total) > 2 * (error + abs(nudge)) * length:
                break
            figures.append(theirs)
            if nudge <= 0.0 and ours.lies_among(figures, error):
                return True
    return False


class _Loops:
    """Signed areas and thicknesses (2 area / length) of a figure's loops."""

    def __init__(self, area: Floats, length: Floats) -> None:
        self.area = area
        self.total = float(area.sum())
        self.length = float(length.sum())
        self.thickness = 2 * np.abs(area) / np.maximum(length, 1e-300)

    @classmethod
    def of_figure(cls, figure: shapely.Geometry) -> _Loops:
        parts = shapely.get_parts(figure)
        parts = parts[shapely.get_type_id(parts) == 3]
        rings, owner = shapely.get_rings(parts, return_index=True)
        hole: NDArray[np.bool_] = np.ones(len(rings), dtype=bool)
        hole[np.unique(owner, return_index=True)[1]] = False
        return cls(
            shapely.area(shapely.polygons(rings)) * np.where(hole, -1.0, 1.0),
            shapely.length(rings),
        )

    def lies_among(self, others: list[_Loops], error: float) -> bool:
        """Return whether the counts of outer loops and of holes lie within those of others.

        Loops of facet thickness may count or not.
        """
        thin, sure = 10 * error, 20 * error
        return all(
            min(o.count(sign, sure) for o in others) <= self.count(sign, thin)
            and self.count(sign, sure) <= max(o.count(sign, thin) for o in others)
            for sign in (1.0, -1.0)
        )

    def count(self, sign: float, thickness: float) -> int:
        """Return the number of loops of one sense of turn that are thicker, mm."""
        return int(np.count_nonzero((self.area * sign > 0) & (self.thickness > thickness)))
