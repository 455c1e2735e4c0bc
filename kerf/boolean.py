"""Union, difference and intersection of regions with arcs kept as arcs.

All edges are cut wherever two of them meet. How often the regions' loops wind about a point
beside the middle of a bit tells whether the bit bounds the result:

=============  =====================  ==================================================
union          right of it: 0         nothing lies beyond it
intersection   left of it: 2          both lie on its left
difference     left of it: 1          with the loops of what is taken away reversed
=============  =====================  ==================================================

The point stands a few tolerances off the bit, so edges that run over each other are judged
alike, and one of them is kept; regions that abut along an edge fuse, regions that touch in
a point stay apart. Results are regularised: no spikes, no films without thickness.

The proof: points along the result are wound about as the table says, and area and loops
agree with shapely's result on fine facets. What cannot be proven raises ``BooleanUnproven``.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

import numpy as np
import shapely

from kerf.arrangement import joined_loops, regions_of, split, without_doubled_edges
from kerf.contour import Contour, Floats, Region
from kerf.errors import GeometryError
from kerf.pieces import Complexes, Flags, Indices, Pieces, cross, meeting
from kerf.proof import agrees_with_facets, faceted, fuller
from kerf.tolerance import RELATIVE_ROUNDING


class BooleanUnproven(GeometryError):
    """A boolean operation whose result could not be proven; none is returned."""


class _Operation(StrEnum):
    UNION = "union"
    DIFFERENCE = "difference"
    INTERSECTION = "intersection"


#: Tolerances tried in turn, as multiples of the rounding of the regions' size.
_LADDER = (1.0, 10.0, 0.1, 100.0)

#: How far beside a bit its sides are looked at, in tolerances.
_BESIDE = 20.0

#: Where along a bit: at shares that no pattern of equal pitches meets.
_LOOKS = (0.3141, 0.5187, 0.7071)


def union(regions: Iterable[Region]) -> tuple[Region, ...]:
    """Return the regions fused, largest first; empty for none.

    Raises:
        GeometryError: the loops of one region cross.
        BooleanUnproven: the result could not be proven.
    """
    given = tuple(regions)
    return given if len(given) < 2 else _combined(_Operation.UNION, given, ())


def difference(a: Region, b: Iterable[Region]) -> tuple[Region, ...]:
    """Return what is left of ``a`` when all of ``b`` are taken away, largest first.

    Raises:
        GeometryError: the loops of one region cross.
        BooleanUnproven: the result could not be proven.
    """
    taken = tuple(b)
    return _combined(_Operation.DIFFERENCE, (a,), taken) if taken else (a,)


def intersection(a: Region, b: Region) -> tuple[Region, ...]:
    """Return what ``a`` and ``b`` have in common, largest first; empty for nothing.

    Raises:
        GeometryError: the loops of one region cross.
        BooleanUnproven: the result could not be proven.
    """
    return _combined(_Operation.INTERSECTION, (a, b), ())


def _combined(
    operation: _Operation,
    given: tuple[Region, ...],
    taken: tuple[Region, ...],
) -> tuple[Region, ...]:
    loops = [loop for region in given for loop in region.loops()]
    loops += [loop.reversed() for region in taken for loop in region.loops()]
    corner = np.concatenate([loop.array()[:, :2] for loop in loops])
    low, high = corner.min(axis=0), corner.max(axis=0)
    origin = complex(*((low + high) / 2))
    pieces, _ = Pieces.of_loops(loops, origin)
    size = float(np.abs(pieces.boxes()).max()) + abs(origin)
    for factor in _LADDER:
        tol = factor * RELATIVE_ROUNDING * size
        bits = split(pieces, tol)
        runs = (bits.piece, bits.low, bits.high)
        bits = bits.take(_bounds_result(operation, pieces, pieces, runs, _BESIDE * tol))
        joined = joined_loops(bits, tol, origin)
        if joined is None:
            continue
        regions = regions_of(joined)
        contours = [loop.contour for loop in joined]
        if regions is not None and _proven(operation, given, taken, pieces, contours, origin, tol):
            return regions
    for region in (*given, *taken):
        without_doubled_edges(region)
    raise BooleanUnproven(
        f"the {operation} of {len(given) + len(taken)} regions with {len(pieces)} edges "
        "could not be proven right",
        hint="move one region by a micrometre",
    )


def _bounds_result(
    operation: _Operation,
    given: Pieces,
    pieces: Pieces,
    runs: tuple[Indices, Floats, Floats],
    beside: float,
) -> Flags:
    """Return which runs along pieces bound the result.

    Two of three looks decide, for where another curve touches the run one look may be wrong.

    Args:
        given: the edges to combine.
        runs: piece, and share of its length from which and to which it runs.
        beside: how far off the run to look, mm.
    """
    which, low, high = runs
    votes = np.zeros(len(which), dtype=np.int64)
    for look in _LOOKS:
        share = low + look * (high - low)
        unit = pieces.directions(which, share)
        z = pieces.at(which, share)
        if operation is _Operation.UNION:
            votes += winding(given, z - 1j * beside * unit) == 0
        else:
            wanted = 2 if operation is _Operation.INTERSECTION else 1
            votes += winding(given, z + 1j * beside * unit) == wanted
    out: Flags = votes >= 2
    return out


def _proven(
    operation: _Operation,
    given: tuple[Region, ...],
    taken: tuple[Region, ...],
    pieces: Pieces,
    contours: list[Contour],
    origin: complex,
    tol: float,
) -> bool:
    """Return whether the loops bound what they should all along, and agree with fine facets."""
    result, loop_of = Pieces.of_loops(contours, origin)
    beside = 2 * _BESIDE * tol
    which = np.flatnonzero(result.length > 100 * beside)
    for low, high in ((0.0, 0.5), (0.5, 1.0)):
        runs = (which, np.full(len(which), low), np.full(len(which), high))
        if not _bounds_result(operation, pieces, result, runs, beside).all():
            return False

    def expected(error: float, nudge: float) -> shapely.Geometry:
        first, *others = [fuller(faceted(r, error), nudge) for r in given]
        if operation is _Operation.UNION:
            return shapely.union_all([first, *others])
        if operation is _Operation.INTERSECTION:
            return shapely.intersection(first, others[0])
        gone = shapely.union_all([fuller(faceted(r, error), -nudge) for r in taken])
        return shapely.difference(first, gone)

    length = float(pieces.length.sum())
    return agrees_with_facets(result, loop_of, expected, length_mm=length)


def winding(pieces: Pieces, z: Complexes) -> Indices:
    """Return how often closed runs of pieces wind about each point; exact for arcs.

    Each piece counts as its chord; an arc whose segment holds the point adds one turn.
    """
    boxes = pieces.boxes()
    ray = np.stack((z.real, z.imag, np.full(len(z), float(boxes[2].max()) + 1.0), z.imag))
    turns = np.zeros(len(z))
    for i, j in meeting(ray, boxes, 0.0):
        a, b = pieces.start[j] - z[i], pieces.end[j] - z[i]
        side = cross(a, b)
        # A point exactly on a chord counts as a hair above it, then a hair to its right.
        side = np.where(
            side != 0, side, np.where(b.real != a.real, b.real - a.real, a.imag - b.imag)
        )
        up = (a.imag <= 0) & (b.imag > 0) & (side > 0)
        down = (a.imag > 0) & (b.imag <= 0) & (side < 0)
        within = pieces.off_circle(j, z[i]) < 0
        left = (pieces.turn[j] > 0) & within & (side <= 0)
        right = (pieces.turn[j] < 0) & within & (side > 0)
        turn = (
            up.astype(np.int8) - down.astype(np.int8) + left.astype(np.int8) - right.astype(np.int8)
        )
        turns += np.bincount(i, weights=turn, minlength=len(z))
    return turns.astype(np.int64)
