"""Offset of a region by ±d with arcs kept as arcs, each result proven before it is returned.

Every edge moves by d along its normal: a line stays a line, an arc keeps its centre. Where
that opens a corner, a joint fills it. These curves are cut wherever two of them meet, and a
bit bounds the result exactly when nothing of the source lies nearer to its middle than |d|:
every point of the curves is |d| from its own foot, so a nearer foot means that it is buried.
That one test decides merges, splits, closing holes and overrun corners alike; there is no
case for each. The bits left over close into loops.

Spikes and slits of no width are no material and no gap: they are taken out first.

A hollow arc of radius r <= |d| leaves no curve: all it could bound is nearer to its ends.
Edges that meet in a turn too small to matter are moved to one common point, so that tangent
joints do not breed slivers. Features that close exactly are closed.

A mitre covers a kite that holds the disc's share of the corner: a bit in it is buried as well.
A bevel is what is left of a round joint when its chord takes the place of its arc.

The proof is independent of how the loops were made: points all along them must lie |d| from
the source, and area and number of loops must be those that shapely finds on fine facets.
What cannot be proven at any of several tolerances raises ``OffsetUnproven``.

Source: offset of a set as the union of discs (Minkowski sum), any text on mathematical
morphology; validity of an offset bit by its distance to the source: Tiller & Hanson 1984,
"Offsets of Two-Dimensional Profiles" (cited from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import shapely

from kerf.arrangement import Loop, joined_loops, regions_of, split, without_doubled_edges
from kerf.contour import Contour, Floats, Region
from kerf.errors import GeometryError
from kerf.pieces import (
    PLAIN_PAIRS,
    Complexes,
    Flags,
    Indices,
    Pieces,
    cross,
    dot,
    following,
    meeting,
    nearest_chord,
)
from kerf.proof import agrees_with_facets, faceted_loops, fuller
from kerf.tolerance import CUSP_RAD, FACET_MM, RELATIVE_ROUNDING


class Joint(StrEnum):
    """How an opened corner is filled."""

    ROUND = "round"  #: an arc about the corner, radius |d|
    MITRE = "mitre"  #: the edges' tangents meet, up to a limit; beyond it, an arc
    BEVEL = "bevel"  #: the chord of the arc


class OffsetOutcome(StrEnum):
    """What became of the region."""

    WHOLE = "whole"  #: one region, with as many holes as before
    HOLES_CHANGED = "holes changed"  #: one region; holes closed, merged, opened or split
    SPLIT = "split"  #: several regions
    VANISHED = "vanished"  #: nothing is left


class OffsetUnproven(GeometryError):
    """An offset whose result could not be proven; none is returned."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """Result of an offset: the regions left, largest first, and what happened."""

    regions: tuple[Region, ...]
    outcome: OffsetOutcome


#: From here on shapely offsets holes one by one: its time grows with their square otherwise.
_MANY_HOLES = 64

#: Tolerances tried in turn, as multiples of the rounding of the region's size.
_LADDER = (1.0, 0.1, 10.0, 0.01, 100.0)


def offset(
    region: Region, distance_mm: float, *, joint: Joint = Joint.ROUND, limit: float = 4.0
) -> Offset:
    """Return the region grown (distance > 0) or shrunk (distance < 0).

    Args:
        region: loops that neither cross themselves nor each other.
        distance_mm: how far every edge moves out of the material, mm.
        joint: how opened corners are filled.
        limit: a mitre's tip lies at most limit × |distance| from its corner, >= 1; a sharper
            corner is rounded.
    Raises:
        GeometryError: the distance is not a finite number, the limit is below 1, or the
            region's loops cross (found only where that keeps the result from being proven).
        OffsetUnproven: no result could be proven.
    """
    if not math.isfinite(distance_mm):
        raise GeometryError(f"an offset needs a finite distance, not {distance_mm} mm")
    if not limit >= 1.0:
        raise GeometryError(f"a mitre limit is at least 1, not {limit:.4g}")
    if distance_mm == 0.0:
        return Offset(regions=(region,), outcome=OffsetOutcome.WHOLE)
    if _doubles_back(region):
        region = without_doubled_edges(region)
    found = _proven_offset(region, distance_mm, joint, limit)
    if found is None:
        found = _proven_offset(without_doubled_edges(region), distance_mm, joint, limit)
    if found is None:
        raise OffsetUnproven(
            f"the offset of a region of {sum(len(c.vertices) for c in region.loops())} edges "
            f"by {distance_mm:.6g} mm could not be proven right",
            hint="change the distance by a micrometre, or simplify the outline",
        )
    return found


def _doubles_back(region: Region) -> bool:
    """Return whether a straight edge runs back along the one before it."""
    pieces, loop_of = Pieces.of_loops(region.loops(), 0j)
    chord = pieces.end - pieces.start
    after = chord[following(np.bincount(loop_of))]
    back = (np.abs(cross(chord, after)) <= -RELATIVE_ROUNDING * dot(chord, after)) & (
        pieces.turn == 0
    )
    return bool(back.any())


def _proven_offset(region: Region, d: float, joint: Joint, limit: float) -> Offset | None:
    """Return the offset by d, mm, or None where no tolerance gives one that can be proven."""
    corner = region.outer.array()[:, :2]
    low, high = corner.min(axis=0), corner.max(axis=0)
    origin = complex(*((low + high) / 2))
    source, loop_of = Pieces.of_loops(region.loops(), origin)
    # Boxes are a little loose about arcs: none smaller is left standing by this.
    boxes = source.boxes()
    width, height = boxes[2:].max(axis=1) - boxes[:2].min(axis=1)
    if -2 * d > min(width, height):
        return Offset(regions=(), outcome=OffsetOutcome.VANISHED)
    size = max(width, height) / 2 + abs(d) + abs(origin)
    for factor in _LADDER:
        tol = factor * RELATIVE_ROUNDING * size
        raw = _raw_curves(source, loop_of, d, joint, limit, tol)
        raw = raw.without(raw.swallows(tol))
        bits = split(raw.pieces, tol)
        bits = bits.take(~raw.buries(bits.middle, tol))
        loops = joined_loops(bits, tol, origin)
        if loops is None:
            continue
        regions = regions_of(loops)
        if regions is not None and _proven(raw, loops, origin, size):
            outcome = _outcome(region, regions, loops, raw.loop_of)
            if joint is Joint.BEVEL:
                regions = tuple(_bevelled(r, raw, origin, 100 * tol) for r in regions)
            return Offset(regions=regions, outcome=outcome)
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Raw:
    """The moved edges and joints, and what they were moved from.

    Args:
        source, source_loop: edges of the region, and the loop of each.
        reach: |distance|, mm.
        pieces: moved edges, then joints.
        loop_of: loop of the region each piece came from.
        corners: mitres as kites, corner first, counter-clockwise, shape (m, 4).
        opened: corners that the distance opens, shape (k,).
        sign: of the distance.
    """

    source: Pieces
    source_loop: Indices
    reach: float
    pieces: Pieces
    loop_of: Indices
    corners: Complexes
    opened: Complexes
    sign: int

    def without(self, gone: Flags) -> _Raw:
        """Return this without some of its pieces."""
        return replace(self, pieces=self.pieces.take(~gone), loop_of=self.loop_of[~gone])

    def nearest(self, z: Complexes, *, short: float, beyond: float) -> Floats:
        """Return the distance from each point to the source, infinite past reach + beyond.

        A distance below reach − short may be returned too great, but still below it: for a
        buried point it is enough to know so.
        """
        which = np.arange(len(self.source))
        best = np.full(len(z), np.inf)
        asked = np.arange(len(z))
        if len(z) * len(which) > PLAIN_PAIRS:
            # The nearest of all chords settles it for lines, and for most buried points.
            k = nearest_chord(self.source, z)
            best = self.source.distance(k, z)
            best[best > self.reach + beyond] = np.inf
            which = np.flatnonzero(self.source.turn)
            asked = np.flatnonzero(best >= self.reach - short)
        boxes = self.source.boxes()[:, which]
        for i, j in meeting(_boxes(z[asked]), boxes, self.reach + beyond):
            i, j = asked[i], which[j]
            np.minimum.at(best, i, self.source.distance(j, z[i]))
        return best

    def swallows(self, tol: float) -> Flags:
        """Return which pieces are plainly buried whole, so that none need look for crossings.

        The ground about a straight edge is convex. It buries all of a piece when it buries
        the piece's ends and the corner where its end tangents meet. Asked of the edge nearest
        to the piece's middle, that spares most of the work where d is far greater than the
        edges are long.
        """
        p = self.pieces
        every = np.arange(len(p))
        if len(p) * len(self.source) <= PLAIN_PAIRS:
            return np.zeros(len(p), dtype=bool)
        middle = p.at(every, np.full(len(p), 0.5))
        k = nearest_chord(self.source, middle)
        leaves, _ = p.tangents()
        convex: Flags = (self.source.turn[k] == 0) & (np.abs(p.turn) < 3)
        corner = p.start + leaves * p.radius * np.tan(np.where(convex, np.abs(p.turn), 0.0) / 2)
        for z in (p.start, p.end, corner):
            d = self.source.distance(k, z)
            convex &= d < self.reach - tol
        return convex

    def buries(self, z: Complexes, tol: float) -> Flags:
        """Return which points lie inside the covered ground by more than tol, mm."""
        buried = self.nearest(z, short=tol, beyond=0.0) < self.reach - tol
        if len(self.corners):
            # Depth inside a convex polygon: least distance to the left of its sides.
            side = np.roll(self.corners, -1, axis=1) - self.corners
            size = np.abs(side)
            real = size > 0
            unit = side / np.where(real, size, 1.0)
            box = np.stack(
                (
                    self.corners.real.min(axis=1),
                    self.corners.imag.min(axis=1),
                    self.corners.real.max(axis=1),
                    self.corners.imag.max(axis=1),
                )
            )
            # The two sides at the corner itself border on the strips beside the edges.
            least = np.where([True, False, False, True], -tol, tol)
            for i, j in meeting(_boxes(z), box, 0.0):
                depth = cross(unit[j], z[i][:, None] - self.corners[j])
                buried[i[(~real[j] | (depth > least)).all(axis=1)]] = True
        return buried


def _boxes(z: Complexes) -> Floats:
    """Return points as boxes of no size."""
    return np.stack((z.real, z.imag, z.real, z.imag))


def _raw_curves(
    source: Pieces, loop_of: Indices, d: float, joint: Joint, limit: float, tol: float
) -> _Raw:
    """Return every edge moved by d, mm, and the joints of the corners that this opens."""
    counts = np.bincount(loop_of)
    after = following(counts)
    before = np.empty_like(after)
    before[after] = np.arange(len(after))
    leaves, arrives = source.tangents()

    # Corner k is the start of edge k; t_in arrives there and t_out leaves.
    t_in, t_out = arrives[before], leaves
    turn = np.angle(t_out * np.conj(t_in))
    # In a cusp the edges' curvatures say whether material or gap runs out to a point.
    bend = np.sign(source.turn) / np.where(source.turn != 0, source.radius, 1.0)
    cusp = np.abs(turn) > math.pi - CUSP_RAD
    turn = np.where(cusp, np.copysign(turn, -(bend + bend[before])), turn)
    shut = np.abs(d * turn) <= tol
    bisector = t_in + t_out
    common = source.start - 1j * d * np.where(shut, bisector, 1.0) / np.abs(
        np.where(shut, bisector, 1.0)
    )
    start = np.where(shut, common, source.start - 1j * d * t_out)
    end_before = np.where(shut, common, source.start - 1j * d * t_in)
    end = end_before[after]
    opened = ~shut & (turn * d > 0)

    arc = source.turn != 0
    radius = np.where(arc, source.radius + d * np.sign(source.turn), 0.0)
    kept = ~arc | (radius > tol)
    # An arc shrunk to nothing leaves its centre, shared by its neighbours.
    point = arc & (np.abs(radius) <= tol)
    start = np.where(point, source.centre, start)
    end = np.where(point, source.centre, end)
    end[before] = np.where(point & shut, source.centre, end[before])
    start[after] = np.where(point & shut[after], source.centre, start[after])
    moved = Pieces.of(start, end, np.where(arc, source.centre, 0), radius, source.turn)
    # A line whose ends have come together, or past each other, is none.
    kept &= arc | (np.abs(end - start) > 0)

    k = np.flatnonzero(opened)
    at, a, b = source.start[k], end_before[k], start[k]
    tip_far = 1 / np.cos(turn[k] / 2)
    mitred = (tip_far <= limit) & (joint is Joint.MITRE)
    half = t_in[k] * np.exp(0.5j * turn[k])
    tip = (at - 1j * d * half * tip_far)[mitred]
    arcs = np.flatnonzero(~mitred)
    ends_a, ends_b = np.concatenate((a[mitred], tip)), np.concatenate((tip, b[mitred]))
    zero = np.zeros(len(ends_a))
    joints = Pieces.joined(
        Pieces.of(a[arcs], b[arcs], at[arcs], np.full(len(arcs), abs(d)), turn[k[arcs]]),
        Pieces.of(ends_a, ends_b, zero.astype(np.complex128), zero, zero),
    )
    joint_loop = loop_of[np.concatenate((k[arcs], k[mitred], k[mitred]))]
    corners = np.stack((at[mitred], a[mitred], tip, b[mitred]), axis=1)
    if d < 0:
        corners = corners[:, [0, 3, 2, 1]]
    return _Raw(
        source=source,
        source_loop=loop_of,
        reach=abs(d),
        pieces=Pieces.joined(moved.take(kept), joints),
        loop_of=np.concatenate((loop_of[kept], joint_loop)),
        corners=corners,
        opened=at,
        sign=1 if d > 0 else -1,
    )


def _proven(raw: _Raw, loops: list[Loop], origin: complex, size: float) -> bool:
    """Return whether the result stands |d| from the source and agrees with fine facets."""
    allowed = 10 * RELATIVE_ROUNDING * size
    contours = [loop.contour for loop in loops]
    result, loop_of = Pieces.of_loops(contours, origin)
    every = np.arange(len(result))
    z = np.concatenate([result.at(every, np.full(len(every), s)) for s in (0.0, 0.29, 0.68)])
    if len(raw.corners):
        if raw.buries(z, allowed).any():
            return False
    elif not (
        np.abs(raw.nearest(z, short=allowed, beyond=2 * allowed) - raw.reach) <= allowed
    ).all():
        return False
    return agrees_with_facets(
        result,
        loop_of,
        lambda error, nudge: _offset_of_facets(raw, error, nudge),
        length_mm=float(raw.source.length.sum()),
    )


def _offset_of_facets(raw: _Raw, error: float, nudge: float) -> shapely.Geometry:
    """Return shapely's offset of the source on facets, the distance raised by nudge, mm.

    GEOS simplifies hollows by up to a hundredth of the distance before it offsets them, so on
    finer facets the covered ground is put together from strips and discs instead.
    """
    source = faceted_loops(raw.source, raw.source_loop, error)
    quarter = math.ceil(math.pi / 4 / math.acos(max(0.0, 1 - error / raw.reach)))
    corners = [shapely.Polygon(_points(c)) for c in raw.corners]
    if error >= FACET_MM:
        figure = _offset_by_geos(source, raw.sign * raw.reach + nudge, quarter)
        covered = [fuller(shapely.union_all(corners), raw.sign * nudge)]
        nudge = 0.0
    else:
        figure = source
        covered = [*_strips(raw, error), *corners]
        ends = shapely.MultiPoint(_points(raw.source.start))
        covered.append(shapely.buffer(ends, raw.reach, quad_segs=quarter))
    if len(raw.corners) or figure is source:
        ground = shapely.union_all(covered)
        combine = shapely.union if raw.sign > 0 else shapely.difference
        figure = combine(figure, ground)
    return fuller(figure, nudge)


def _offset_by_geos(source: shapely.Polygon, d: float, quarter: int) -> shapely.Geometry:
    """Return the polygon's offset with round joints of so many facets a quarter turn, mm."""
    if len(source.interiors) < _MANY_HOLES:
        return shapely.buffer(source, d, quad_segs=quarter)
    # Material that grows into a hole meets only itself, so each hole shrinks on its own.
    outer = shapely.buffer(shapely.Polygon(source.exterior), d, quad_segs=quarter)
    holes = shapely.buffer(shapely.polygons(list(source.interiors)), -d, quad_segs=quarter)
    return shapely.difference(outer, shapely.disjoint_subset_union_all(holes))


def _strips(raw: _Raw, error: float) -> list[shapely.Geometry]:
    """Return the ground each source edge covers beside it, on facets."""
    edges, d = raw.source, raw.sign * raw.reach
    strips: list[shapely.Geometry] = []
    for k in range(len(edges)):
        reach = edges.radius[k] + raw.reach
        step = 2 * math.acos(1 - min(1.0, error / reach))
        shares = np.linspace(0, 1, 1 + max(1, math.ceil(abs(edges.turn[k]) / step)))
        near = edges.at(np.full(len(shares), k), shares)
        if edges.turn[k] == 0:
            chord = edges.end[k] - edges.start[k]
            far = near - 1j * d * chord / abs(chord)
        else:
            # Toward the centre no further than the centre.
            out = max(-edges.radius[k], d * np.sign(edges.turn[k]))
            far = near + (near - edges.centre[k]) / edges.radius[k] * out
        strips.append(shapely.Polygon(_points(np.concatenate((near, far[::-1])))).buffer(0))
    return strips


def _points(z: Complexes) -> Floats:
    """Return points as rows (x, y) instead of complex numbers."""
    return np.stack((z.real, z.imag), axis=-1)


def _bevelled(region: Region, raw: _Raw, origin: complex, tol: float) -> Region:
    """Return the round offset with the chord in place of each joint's arc.

    No ground is lost but the caps: source so near would have buried the arc.
    """
    edges, loop_of = Pieces.of_loops(region.loops(), origin)
    joint = np.zeros(len(edges), dtype=bool)
    for i, j in meeting(_boxes(edges.centre), _boxes(raw.opened), tol):
        joint[i[np.abs(edges.centre[i] - raw.opened[j]) <= tol]] = True
    joint &= (edges.turn * raw.sign > 0) & (np.abs(edges.radius - raw.reach) <= tol)
    loops = []
    for k, loop in enumerate(region.loops()):
        flat = joint[loop_of == k].tolist()
        vertices = zip(loop.vertices, flat, strict=True)
        loops.append(
            Contour(vertices=tuple(v._replace(bulge=0.0) if f else v for v, f in vertices))
        )
    return Region(outer=loops[0], holes=tuple(loops[1:]))


def _outcome(
    region: Region, regions: tuple[Region, ...], loops: list[Loop], loop_of: Indices
) -> OffsetOutcome:
    if not regions:
        return OffsetOutcome.VANISHED
    if len(regions) > 1:
        return OffsetOutcome.SPLIT
    origins = sorted(sorted(set(loop_of[list(loop.pieces)].tolist())) for loop in loops)
    if origins == [[k] for k in range(len(region.loops()))]:
        return OffsetOutcome.WHOLE
    return OffsetOutcome.HOLES_CHANGED
