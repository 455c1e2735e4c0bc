"""Convex hull with arcs kept as arcs.

The hull of lines and arcs is bounded by arcs that bulge outward and by straight lines that
touch two of them (or corners). Fine facets say which arcs and corners take part and in which
order; each straight line is then the exact common tangent of its two neighbours. Arcs that
facets overlook are found by asking every line how far any arc reaches beyond it, and the hull
is built again with them, until nothing does: the result is proven, not hoped.

Source: common tangents of two circles by the support function, h(m) = c·m + r.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
import shapely

from kerf.arrangement import bulges
from kerf.contour import Contour, Floats, Region
from kerf.errors import GeometryError
from kerf.pieces import Complexes, Indices, Pieces, dot
from kerf.tolerance import FACET_MM, RELATIVE_ROUNDING

#: Rebuilds until no arc reaches beyond the hull; each adds every arc overlooked so far.
_MOST_ROUNDS = 8


def convex_hull(figure: Contour | Region | Iterable[Region]) -> Contour:
    """Return the smallest convex loop round a loop, a region or several regions.

    Raises:
        GeometryError: there is nothing to go round, or the hull could not be proven.
    """
    if isinstance(figure, Contour):
        loops = [figure if figure.is_ccw else figure.reversed()]
    else:
        regions = (figure,) if isinstance(figure, Region) else tuple(figure)
        loops = [region.outer for region in regions]
    if not loops:
        raise GeometryError("the hull of nothing was asked for")
    corner = np.concatenate([loop.array()[:, :2] for loop in loops])
    origin = complex(*((corner.min(axis=0) + corner.max(axis=0)) / 2))
    pieces, _ = Pieces.of_loops(loops, origin)
    size = float(np.abs(pieces.boxes()).max())
    z, owner = pieces.facets(FACET_MM)
    first = np.unique(owner, return_index=True)[1]  # the start of every piece: a corner
    z[first] = pieces.start
    owner = np.where(pieces.turn[owner] != 0.0, owner, -1)
    owner[first] = -1
    arcs = np.flatnonzero(pieces.turn)
    slack = 10 * RELATIVE_ROUNDING * (size + abs(origin))
    for _ in range(_MOST_ROUNDS):
        order = _ring(z)
        point, radius, arc = _supports(pieces, z[order], owner[order])
        leave, reach, normal = _tangents(pieces, point, radius, arc)
        beyond = _beyond(pieces, arcs, leave, normal, slack)
        if not len(beyond[0]):
            return _loop(point, radius, leave, reach, origin)
        z, owner = np.concatenate((z, beyond[0])), np.concatenate((owner, beyond[1]))
    raise GeometryError("the convex hull of this figure could not be proven right")


def _ring(z: Complexes) -> Indices:
    """Return the numbers of the points on the hull, counter-clockwise, none in a straight run."""
    hull = shapely.convex_hull(shapely.multipoints(np.column_stack((z.real, z.imag))))
    if not isinstance(hull, shapely.Polygon):
        raise GeometryError("the figure is flat: it has no hull")
    ring = shapely.get_coordinates(shapely.orient_polygons(hull))[:-1]
    place = {(x, y): k for k, (x, y) in reversed(list(enumerate(zip(z.real, z.imag, strict=True))))}
    return np.array([place[(x, y)] for x, y in ring.tolist()], dtype=np.int64)


def _supports(pieces: Pieces, z: Complexes, owner: Indices) -> tuple[Complexes, Floats, Indices]:
    """Return the discs the hull is stretched over: centre, radius (0 for a corner), arc or −1.

    Facet points of one arc that follow each other are one disc.
    """
    new = (owner != np.roll(owner, 1)) | (owner < 0)
    if not new.any():
        new[0] = True
    keep = np.flatnonzero(new)
    arc = owner[keep]
    round_ = arc >= 0
    point = np.where(round_, pieces.centre[arc], z[keep])
    return point, np.where(round_, pieces.radius[arc], 0.0), arc


def _tangents(
    pieces: Pieces, centre: Complexes, radius: Floats, arc: Indices
) -> tuple[Complexes, Complexes, Complexes]:
    """Return where each disc is left for the next, where the next is reached, and the normal.

    The normal points out of the hull. A corner that is an end of the arc beside it is left
    and reached in that very point.
    """
    target, target_radius, target_arc = (np.roll(v, -1) for v in (centre, radius, arc))
    gap = target - centre
    far = np.abs(gap)
    with np.errstate(invalid="ignore", divide="ignore"):
        sine = np.clip((radius - target_radius) / far, -1.0, 1.0)
        normal = gap / far * (sine - 1j * np.sqrt(1 - sine * sine))
    leave, reach = centre + radius * normal, target + target_radius * normal
    for own, corner, beside in ((arc, target, target_arc), (target_arc, centre, arc)):
        ends = (pieces.start[own], pieces.end[own])
        met = (own >= 0) & (beside < 0) & ((corner == ends[0]) | (corner == ends[1]))
        leave, reach = np.where(met, corner, leave), np.where(met, corner, reach)
        hub = pieces.centre[own]
        normal = np.where(met, (corner - hub) / np.maximum(np.abs(corner - hub), 1e-300), normal)
    return leave, reach, normal


def _beyond(
    pieces: Pieces, arcs: Indices, leave: Complexes, normal: Complexes, slack: float
) -> tuple[Complexes, Indices]:
    """Return points of arcs outside a line of the hull by more than slack, and their arcs."""
    which = np.tile(arcs, len(leave))
    m = np.repeat(normal, len(arcs))
    tip = pieces.centre[which] + pieces.radius[which] * m
    share = pieces.share(which, tip)
    out = dot(tip - np.repeat(leave, len(arcs)), m) > slack
    found = out & (share > 0) & (share < 1)
    return tip[found], which[found]


def _loop(
    centre: Complexes, radius: Floats, leave: Complexes, reach: Complexes, origin: complex
) -> Contour:
    """Return arcs and tangents as a loop, edges of no length left out."""
    enter = np.roll(reach, 1)
    with np.errstate(invalid="ignore", divide="ignore"):
        turn = np.angle((leave - centre) / (enter - centre)) % (2 * math.pi)
    turn = np.where(radius > 0, turn, 0.0)
    bulge = bulges(enter, leave, centre, np.where(radius > 0, radius, 1.0), turn)
    rows: list[tuple[complex, complex, float]] = []
    for k in range(len(centre)):
        rows.append((complex(enter[k]), complex(leave[k]), float(bulge[k])))
        rows.append((complex(leave[k]), complex(reach[k]), 0.0))
    longest = max(abs(b - a) for a, b, _ in rows)
    kept = [row for row in rows if abs(row[1] - row[0]) > RELATIVE_ROUNDING * longest]
    return Contour.of((a.real + origin.real, a.imag + origin.imag, b) for a, _, b in kept)
