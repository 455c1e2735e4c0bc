"""Exact distances: between regions, through material (webs) and through the void (gaps).

*Gap between regions*: the least distance between two sets of material, with both points.

*Thinnest web*: the smallest disc that fits inside the material while touching two walls that
stand opposite each other. Precisely: for every point p of the boundary there is a greatest
disc in the material that touches p; let it touch the boundary again at q. The pair counts
when p and q are not on the same or neighbouring edges and the normals there are turned by
120° or more from each other. The web is the least diameter among counted pairs. So a corner,
a chamfer or a fillet is no web; a wall between hole and rim, a neck, and the blunt tip of a
prong are. A figure without such a pair (a disc, a triangle) has no web.

*Narrowest gap*: the same measured through the void, slots and clearances between pieces.

Method: a disc through p with its centre on the normal that touches a line, a circle or a
point has a radius in closed form, so the greatest disc at p is a minimum over edges near p.
Points are sampled finer than the web sought, the best are refined by zooming until the
position is known to a billionth of an edge. The search widens from thin to thick, so that
thin webs, which matter, are found fast.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely

from kerf.contour import Contour, Floats, Point, Region
from kerf.nearest import crossing_pairs, distances_to, nearest_pairs
from kerf.pieces import Complexes, Flags, Indices, Pieces, dot, following, meeting
from kerf.proof import faceted
from kerf.tolerance import FACET_MM, OPPOSED_COS, RELATIVE_ROUNDING


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Least distance between two figures, and where.

    Args:
        distance_mm: 0 when they touch or overlap.
        a, b: the nearest points, mm; the same point when the distance is 0.
    """

    distance_mm: float
    a: Point
    b: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Web:
    """Narrowest place between two opposite walls.

    Args:
        width_mm: diameter of the disc that touches both.
        centre: its centre, mm.
        a, b: where it touches, mm.
    """

    width_mm: float
    centre: Point
    a: Point
    b: Point


def region_gap(a: Region, b: Region) -> Gap:
    """Return the least distance between the material of two regions, exact for arcs."""
    origin = _middle((*a.loops(), *b.loops()))
    one, _ = Pieces.of_loops(a.loops(), origin)
    other, _ = Pieces.of_loops(b.loops(), origin)
    _, _, at = crossing_pairs(one, other, 0.0)
    if len(at):
        return Gap(distance_mm=0.0, a=_point(at[0], origin), b=_point(at[0], origin))
    for inner, holder in ((a, b), (b, a)):
        corner = inner.outer.edge(0).start
        if holder.contains(*corner):
            return Gap(distance_mm=0.0, a=corner, b=corner)
    # Facets bound the distance to within their error on both sides: few pairs are left.
    near = shapely.distance(faceted(a, FACET_MM), faceted(b, FACET_MM)) + 2 * FACET_MM
    best: tuple[float, complex, complex] = (math.inf, 0j, 0j)
    for i, j in meeting(one.boxes(), other.boxes(), float(near)):
        d, p, q = nearest_pairs(one, i, other, j)
        if len(d) and d.min() < best[0]:
            k = int(d.argmin())
            best = (float(d[k]), complex(p[k]), complex(q[k]))
    return Gap(distance_mm=best[0], a=_point(best[1], origin), b=_point(best[2], origin))


def distances_mm(region: Region, points: Iterable[tuple[float, float]]) -> Floats:
    """Return the distance of each point from the nearest loop, mm; negative in material.

    The same as ``Region.distance_mm``, for many points at once.
    """
    from kerf.boolean import winding

    xy = np.asarray(list(points), dtype=np.float64).reshape(-1, 2)
    origin = _middle(region.loops())
    pieces, _ = Pieces.of_loops(region.loops(), origin)
    z = xy[:, 0] + 1j * xy[:, 1] - origin
    d, _ = distances_to(pieces, z)
    out: Floats = np.where(winding(pieces, z) > 0, -d, d)
    return out


def thinnest_web(region: Region, *, below_mm: float = math.inf) -> Web | None:
    """Return the thinnest web of a region (see the module header), or None when it has none.

    Args:
        below_mm: webs of this width and more are not looked for; a limit makes it faster.
    """
    return _narrowest(region.loops(), below_mm)


def narrowest_gap(regions: Iterable[Region], *, below_mm: float = math.inf) -> Web | None:
    """Return the narrowest place of the void in and between regions, or None.

    Args:
        below_mm: as for ``thinnest_web``.
    """
    loops = tuple(loop.reversed() for region in regions for loop in region.loops())
    return _narrowest(loops, below_mm) if loops else None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Walls:
    """Boundary with material on the left, and how its edges follow each other."""

    pieces: Pieces
    before: Indices
    after: Indices
    heading: Complexes  # of each edge at its start
    fan: Floats  # turn of the heading at each edge's start, rad, where it turns right; else 0

    def places(self, piece: Indices, share: Floats, fan: Flags) -> tuple[Complexes, Complexes]:
        """Return points and normals: on edges at a share, or in the fan at a corner."""
        z = self.pieces.at(piece, np.where(fan, 0.0, share))
        turn = np.where(fan, self.fan[piece] * (share - 1), self.pieces.turn[piece] * share)
        return z, 1j * self.heading[piece] * np.exp(1j * turn)

    def discs(
        self, piece: Indices, share: Floats, fan: Flags, reach: float
    ) -> tuple[Floats, Complexes]:
        """Return the radius of the greatest disc at each place and where it touches again.

        The radius is infinite where no pair counts, or none within reach.
        """
        z, n = self.places(piece, share, fan)
        radius = np.full(len(z), np.inf)
        touch = np.zeros(len(z), dtype=np.complex128)
        other = np.full(len(z), -1)
        here = np.stack((z.real, z.imag, z.real, z.imag))
        for i, j in meeting(here, self.pieces.boxes(), reach):
            beyond = (j != piece[i]) & ~(fan[i] & (j == self.before[piece[i]]))
            i, j = i[beyond], j[beyond]
            r, q = _tangent_discs(self.pieces, j, z[i], n[i])
            order = np.lexsort((r, i))
            first = order[np.unique(i[order], return_index=True)[1]]
            better = first[r[first] < radius[i[first]]]
            radius[i[better]], touch[i[better]], other[i[better]] = r[better], q[better], j[better]
        with np.errstate(invalid="ignore", divide="ignore"):
            facing = (z + radius * n - touch) / radius
            opposed = dot(facing, n) <= OPPOSED_COS
        near = (other == self.before[piece]) | (other == self.after[piece])
        near |= fan & (other == self.before[self.before[piece]])
        curved = np.where((self.pieces.turn > 0), self.pieces.radius, np.inf)[piece]
        good = opposed & ~near & (other >= 0) & (fan | (radius <= curved))
        return np.where(good & (2 * radius <= reach), radius, np.inf), touch


def _narrowest(loops: tuple[Contour, ...], below_mm: float) -> Web | None:
    origin = _middle(loops)
    pieces, _ = Pieces.of_loops(loops, origin)
    after = following(np.array([len(loop.vertices) for loop in loops]))
    before = np.empty_like(after)
    before[after] = np.arange(len(after))
    heading, arriving = pieces.tangents()
    turn = np.angle(heading * np.conj(arriving[before]))
    walls = _Walls(
        pieces=pieces,
        before=before,
        after=after,
        heading=heading,
        fan=np.where(turn < -RELATIVE_ROUNDING, turn, 0.0),
    )
    boxes = pieces.boxes()
    size = float((boxes[2:].max(axis=1) - boxes[:2].min(axis=1)).max())
    limit = min(below_mm, size)
    reach = min(limit, size / 256)
    while True:
        web = _within(walls, reach, origin)
        if web is not None and web.width_mm < below_mm:
            return web
        if reach >= limit:
            return None
        reach = min(2 * reach, limit)


def _within(walls: _Walls, reach: float, origin: complex) -> Web | None:
    """Return the narrowest place no wider than reach, or None."""
    pieces = walls.pieces
    counts = np.maximum(np.ceil(4 * pieces.length / reach), 6).astype(np.int64)
    piece = np.repeat(np.arange(len(pieces)), counts)
    place = np.arange(len(piece)) - (np.cumsum(counts) - counts)[piece]
    share = (place + 0.5) / counts[piece]
    step = 1.0 / counts[piece]
    corner = np.flatnonzero(walls.fan)
    spread = np.linspace(0.0, 1.0, 9)
    piece = np.concatenate((piece, np.repeat(corner, 9)))
    share = np.concatenate((share, np.tile(spread, len(corner))))
    fan = np.arange(len(piece)) >= len(step)
    step = np.concatenate((step, np.full(9 * len(corner), 1 / 8)))
    radius, _ = walls.discs(piece, share, fan, reach)
    best = np.argsort(radius, kind="stable")[:12]
    best = best[np.isfinite(radius[best])]
    if not len(best):
        return None
    piece, share, fan, step = piece[best], share[best], fan[best], step[best]
    offsets = np.linspace(-1.0, 1.0, 33)
    for _ in range(9):
        tried = np.clip(share[:, None] + step[:, None] * offsets, 0.0, 1.0)
        r, _ = walls.discs(np.repeat(piece, 33), tried.ravel(), np.repeat(fan, 33), reach)
        share = tried[np.arange(len(share)), r.reshape(tried.shape).argmin(axis=1)]
        step = step / 12
    radius, touch = walls.discs(piece, share, fan, reach)
    k = int(radius.argmin())
    z, n = walls.places(piece[k : k + 1], share[k : k + 1], fan[k : k + 1])
    return Web(
        width_mm=2 * float(radius[k]),
        centre=_point(complex(z[0] + radius[k] * n[0]), origin),
        a=_point(complex(z[0]), origin),
        b=_point(complex(touch[k]), origin),
    )


def _tangent_discs(
    pieces: Pieces, which: Indices, z: Complexes, n: Complexes
) -> tuple[Floats, Complexes]:
    """Return the radius of the disc through z, centred along n, that touches a piece, and where.

    For a line of left normal m at distance h: h / (1 − n·m). For a circle of radius R and
    d = z − centre: (R² − d²) / (2 (R + n·d)) when the material is inside it and
    (d² − R²) / (2 (R − n·d)) when outside. For an end e: |e − z|² / (2 n·(e − z)).
    """
    start, end, turn = pieces.start[which], pieces.end[which], pieces.turn[which]
    best = np.full(len(z), np.inf)
    touch = np.zeros(len(z), dtype=np.complex128)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for e in (start, end):
            gap = e - z
            ahead = dot(n, gap)
            r = np.where(ahead > 0, dot(gap, gap) / (2 * ahead), np.inf)
            better = r < best
            best, touch = np.where(better, r, best), np.where(better, e, touch)
        m = 1j * (end - start) / np.abs(end - start)
        height = dot(z - start, m)
        r = np.where(height > 0, height / (1 - dot(n, m)), np.inf)
        foot = z + r * n - r * m
        d = z - pieces.centre[which]
        big = pieces.radius[which]
        sign = np.sign(turn)
        of_arc = sign * (big * big - dot(d, d)) / (2 * (big + sign * dot(n, d)))
        r = np.where(turn == 0.0, r, np.where(of_arc > 0, of_arc, np.inf))
        way = d + r * n
        foot = np.where(turn == 0.0, foot, pieces.centre[which] + way * (big / np.abs(way)))
        share = pieces.share(which, foot)
        better = (share >= 0) & (share <= 1) & (r < best)
    return np.where(better, r, best), np.where(better, foot, touch)


def _middle(loops: Iterable[Contour]) -> complex:
    corner = np.concatenate([loop.array()[:, :2] for loop in loops])
    return complex(*((corner.min(axis=0) + corner.max(axis=0)) / 2))


def _point(z: complex, origin: complex) -> Point:
    return Point(float(z.real + origin.real), float(z.imag + origin.imag))
