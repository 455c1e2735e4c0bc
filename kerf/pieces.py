"""Many lines and arcs at once, as arrays: points on them, distances, crossings.

Offset and boolean operations cut every curve wherever another meets it. Both work on the
arrays held here. A point is one complex number x + iy, so that a turn is a product, a dot
product ``Re(a* b)`` and a cross product ``Im(a* b)``.

Two curves meet where their carriers cross and, tested on its own, where an end of one
lies on the other. The second test makes overlaps and seams safe: collinear runs, arcs of
one circle, and a curve that passes through the joint of two others need no case of their
own, and a touch too shallow to be seen as a crossing loses no more than the tolerance.

Formulas: line–line by cross products; line–circle and circle–circle by the foot of the
centre and the half chord. Source: any handbook of plane analytic geometry.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Self

import numpy as np
import shapely
from numpy.typing import NDArray

from kerf.contour import Contour, Floats
from kerf.tolerance import RELATIVE_ROUNDING, STRAIGHT_BULGE

Complexes = NDArray[np.complex128]
Indices = NDArray[np.int64]
Flags = NDArray[np.bool_]

#: Below this many box pairs a plain comparison beats building a tree.
PLAIN_PAIRS = 60_000

#: Boxes looked up at a time.
_PORTION = 20_000


def dot(a: Complexes, b: Complexes) -> Floats:
    """Return the dot products of vectors held as complex numbers."""
    out: Floats = a.real * b.real + a.imag * b.imag
    return out


def cross(a: Complexes, b: Complexes) -> Floats:
    """Return the cross products of vectors held as complex numbers."""
    out: Floats = a.real * b.imag - a.imag * b.real
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Directed lines and arcs.

    Args:
        start, end: ends, shape (n,), mm.
        centre: centres of arcs, shape (n,), mm; 0 for lines.
        radius: radii of arcs, shape (n,), mm; 0 for lines.
        turn: signed sweep, shape (n,), rad, counter-clockwise positive; 0 for lines.
        length: shape (n,), mm.
    """

    start: Complexes
    end: Complexes
    centre: Complexes
    radius: Floats
    turn: Floats
    length: Floats

    @classmethod
    def of(
        cls, start: Complexes, end: Complexes, centre: Complexes, radius: Floats, turn: Floats
    ) -> Self:
        """Return the pieces with their lengths."""
        length = np.where(turn == 0.0, np.abs(end - start), radius * np.abs(turn))
        return cls(start=start, end=end, centre=centre, radius=radius, turn=turn, length=length)

    @classmethod
    def of_loops(cls, loops: Iterable[Contour], origin: complex) -> tuple[Self, Indices]:
        """Return all edges of some loops about an origin, and the number of each one's loop."""
        rows = [loop.array() for loop in loops] or [np.empty((0, 3))]
        counts = np.array([len(r) for r in rows])
        xyb = np.concatenate(rows)
        start = (xyb[:, 0] + 1j * xyb[:, 1]) - origin
        pieces = cls.of_bulges(start, start[following(counts)], xyb[:, 2])
        return pieces, np.repeat(np.arange(len(rows)), counts)

    @classmethod
    def of_bulges(cls, start: Complexes, end: Complexes, bulge: Floats) -> Self:
        """Return the lines and arcs between ends with the bulges."""
        arc = np.abs(bulge) > STRAIGHT_BULGE
        safe = np.where(arc, bulge, 1.0)
        chord = end - start
        centre = np.where(arc, (start + end) / 2 + 1j * chord * (1 - safe * safe) / (4 * safe), 0)
        radius = np.where(arc, np.abs(chord) * (1 + safe * safe) / (4 * np.abs(safe)), 0.0)
        return cls.of(start, end, centre, radius, np.where(arc, 4 * np.arctan(safe), 0.0))

    def __len__(self) -> int:
        return len(self.start)

    def take(self, which: Indices | Flags) -> Pieces:
        """Return some of the pieces."""
        return Pieces(
            start=self.start[which],
            end=self.end[which],
            centre=self.centre[which],
            radius=self.radius[which],
            turn=self.turn[which],
            length=self.length[which],
        )

    def tangents(self) -> tuple[Complexes, Complexes]:
        """Return the unit directions of travel at the starts and at the ends."""
        chord = self.end - self.start
        chord = chord / np.abs(chord)
        half = np.exp(0.5j * self.turn)
        return chord / half, chord * half

    def at(self, which: Indices, share: Floats) -> Complexes:
        """Return the points at some shares of the lengths of some pieces, mm."""
        start, turn = self.start[which], self.turn[which]
        out = start + share * (self.end[which] - start)
        arc = np.flatnonzero(turn)
        if len(arc):
            c = self.centre[which[arc]]
            out[arc] = c + (start[arc] - c) * np.exp(1j * (turn[arc] * share[arc]))
        return out

    def share(self, which: Indices, z: Complexes) -> Floats:
        """Return the share of the length at which each point's foot on the carrier lies.

        An arc's circle is cut open opposite its middle, so the share runs below 0 and above 1.
        """
        start, turn = self.start[which], self.turn[which]
        chord = self.end[which] - start
        with np.errstate(invalid="ignore", divide="ignore"):
            out = dot(z - start, chord) / dot(chord, chord)
        arc = np.flatnonzero(turn)
        if len(arc):
            c, sweep = self.centre[which[arc]], np.abs(turn[arc])
            u = np.angle((z[arc] - c) * np.conj(start[arc] - c)) * np.sign(turn[arc])
            out[arc] = np.where(u < sweep / 2 - math.pi, u + 2 * math.pi, u) / sweep
        return out

    def off(self, which: Indices, z: Complexes) -> Floats:
        """Return the distance from each point to the carrier (whole line or circle), mm."""
        start, turn = self.start[which], self.turn[which]
        chord = self.end[which] - start
        with np.errstate(invalid="ignore", divide="ignore"):
            out: Floats = np.abs(cross(chord, z - start)) / np.abs(chord)
        arc = np.flatnonzero(turn)
        if len(arc):
            k = which[arc]
            out[arc] = np.abs(np.abs(z[arc] - self.centre[k]) - self.radius[k])
        return out

    def distance(
        self, which: Indices, z: Complexes, open_start: Floats, open_end: Floats
    ) -> Floats:
        """Return the distance from each point to one piece, mm.

        Args:
            which: a piece for each point.
            z: the points.
            open_start, open_end: shape (n,), per piece: added to the distance where the
                nearest point of the piece is that end (0 to count it, infinity to not).
        """
        start, end = self.start[which], self.end[which]
        chord = end - start
        from_start = z - start
        along = dot(from_start, chord)
        chord2 = dot(chord, chord)
        near = np.abs(cross(chord, from_start)) / np.sqrt(chord2)
        inside = (along >= 0) & (along <= chord2)
        arc = np.flatnonzero(self.turn[which])
        if len(arc):
            k = which[arc]
            u = z[arc] - self.centre[k]
            reach = np.abs(u)
            near[arc] = np.abs(reach - self.radius[k])
            # The middle of the arc lies to the right of its chord when it turns left.
            middle = chord[arc] * (-1j * np.sign(self.turn[k]))
            inside[arc] = dot(u, middle) >= reach * np.abs(middle) * np.cos(self.turn[k] / 2)
        away = np.flatnonzero(~inside)
        if len(away):
            k = which[away]
            near[away] = np.minimum(
                np.abs(from_start[away]) + open_start[k],
                np.abs(z[away] - end[away]) + open_end[k],
            )
        return near

    def areas(self) -> Floats:
        """Return what each piece adds to the area of its loop, about 0, mm²."""
        a = np.abs(self.turn)
        # a − sin a loses every digit for flat arcs; its series is exact below this angle.
        round_off = np.where(a < 0.02, a**3 / 6 * (1 - a * a / 20), a - np.sin(a))
        segment = np.sign(self.turn) * self.radius**2 * round_off
        out: Floats = (cross(self.start, self.end) + segment) / 2
        return out

    def facets(self, error: float) -> tuple[Complexes, Indices]:
        """Return points along the pieces, and the piece of each, ends left out.

        No chord between neighbours is further than error from its arc, mm.
        """
        step = 2 * np.arccos(1 - np.minimum(error / np.maximum(self.radius, error), 1.0))
        step = np.maximum(step, 4 * math.sqrt(RELATIVE_ROUNDING))
        counts = np.maximum(np.ceil(np.abs(self.turn) / np.minimum(step, 1.0)), 1).astype(np.int64)
        owner = np.repeat(np.arange(len(self)), counts)
        place = np.arange(len(owner)) - (np.cumsum(counts) - counts)[owner]
        return self.at(owner, place / counts[owner]), owner

    def boxes(self) -> Floats:
        """Return boxes that hold the pieces, shape (4, n): least x, y, greatest x, y."""
        sagitta = self.radius * (1 - np.cos(self.turn / 2))
        return np.stack(
            (
                np.minimum(self.start.real, self.end.real) - sagitta,
                np.minimum(self.start.imag, self.end.imag) - sagitta,
                np.maximum(self.start.real, self.end.real) + sagitta,
                np.maximum(self.start.imag, self.end.imag) + sagitta,
            )
        )


def following(counts: Indices) -> Indices:
    """Return for each place of concatenated rings the place that follows it in its ring."""
    ends = np.cumsum(counts)
    out = np.arange(1, int(counts.sum()) + 1)
    full = counts > 0
    out[ends[full] - 1] = (ends - counts)[full]
    return out


def sums(group: Indices, values: Floats) -> Floats:
    """Return the sum of the values in each group."""
    out: Floats = np.bincount(group, weights=values).astype(np.float64)
    return out


def meeting(a: Floats, b: Floats, reach: float) -> Iterator[tuple[Indices, Indices]]:
    """Yield all pairs (i, j) of boxes a[:, i] and b[:, j] no further than reach apart, mm.

    They come in portions, so that a long reach over many short edges stays in memory.

    Args:
        a, b: shape (4, n): least x, y, greatest x, y.
    """
    if a.shape[1] * b.shape[1] <= PLAIN_PAIRS:
        hit = (
            (a[0][:, None] <= b[2] + reach)
            & (b[0] - reach <= a[2][:, None])
            & (a[1][:, None] <= b[3] + reach)
            & (b[1] - reach <= a[3][:, None])
        )
        i, j = np.nonzero(hit)
        yield i, j
        return
    tree = shapely.STRtree(_diagonals(b))
    grown = a + np.array([[-reach], [-reach], [reach], [reach]])
    for low in range(0, a.shape[1], _PORTION):
        i, j = tree.query(_diagonals(grown[:, low : low + _PORTION]))
        yield i + low, j


def chord_tree(pieces: Pieces) -> shapely.STRtree:
    """Return a tree of the pieces' chords."""
    ends = np.stack((pieces.start, pieces.end), axis=1)
    return shapely.STRtree(shapely.linestrings(np.stack((ends.real, ends.imag), axis=-1)))


def _diagonals(boxes: Floats) -> NDArray[np.object_]:
    """Return the boxes' diagonals: as good as the boxes for a tree, and quicker to make."""
    out: NDArray[np.object_] = np.asarray(shapely.linestrings(boxes.T.reshape(-1, 2, 2)))
    return out


def crossings(
    pieces: Pieces, i: Indices, j: Indices, tol: float
) -> tuple[Indices, Floats, Complexes]:
    """Return where pairs of pieces meet: (piece, share of its length, point), each hit once
    for every piece that must be cut there.

    Args:
        i, j: the pairs to look at.
        tol: ends this close to a curve lie on it, mm.
    """
    slack = tol / np.maximum(pieces.length, tol)

    # Ends of either that lie on the other.
    k = np.concatenate((j, j, i, i))
    z = np.concatenate((pieces.start[i], pieces.end[i], pieces.start[j], pieces.end[j]))
    on = pieces.off(k, z) <= tol
    k, z = k[on], z[on]
    share = pieces.share(k, z)
    keep = np.abs(share - 0.5) <= 0.5 + slack[k]
    k, z, share = k[keep], z[keep], share[keep]

    # Places where both are crossed.
    found = list(_carrier_crossings(pieces, i, j, tol))
    if not found:
        return k, share, z
    a, b, at = (np.concatenate(parts) for parts in zip(*found, strict=True))
    s, t = pieces.share(a, at), pieces.share(b, at)
    keep = (np.abs(s - 0.5) <= 0.5 + slack[a]) & (np.abs(t - 0.5) <= 0.5 + slack[b])
    a, b, at, s, t = a[keep], b[keep], at[keep], s[keep], t[keep]
    return (
        np.concatenate((k, a, b)),
        np.concatenate((share, s, t)),
        np.concatenate((z, at, at)),
    )


def _carrier_crossings(
    pieces: Pieces, i: Indices, j: Indices, tol: float
) -> Iterable[tuple[Indices, Indices, Complexes]]:
    """Yield pairs of pieces and a point where their carriers cross.

    Circles that overlap by no more than tol, or miss by no more, touch in one point.
    """
    arc_i, arc_j = pieces.turn[i] != 0.0, pieces.turn[j] != 0.0

    both = np.flatnonzero(~arc_i & ~arc_j)
    if len(both):
        a, b = i[both], j[both]
        u, v = pieces.end[a] - pieces.start[a], pieces.end[b] - pieces.start[b]
        det = cross(u, v)
        skew = np.abs(det) > 1e-13 * pieces.length[a] * pieces.length[b]
        a, b, u, v, det = a[skew], b[skew], u[skew], v[skew], det[skew]
        yield a, b, pieces.start[a] + u * (cross(pieces.start[b] - pieces.start[a], v) / det)

    mixed = np.flatnonzero(arc_i != arc_j)
    if len(mixed):
        a = np.where(arc_i, j, i)[mixed]
        b = np.where(arc_i, i, j)[mixed]
        u = (pieces.end[a] - pieces.start[a]) / pieces.length[a]
        c, r = pieces.centre[b], pieces.radius[b]
        w = c - pieces.start[a]
        side = cross(u, w)
        h2 = (r - side) * (r + side)
        touch = np.abs(r - np.abs(side)) <= tol
        hit = touch | (h2 > 0)
        half = np.sqrt(np.where(touch, 0.0, h2)[hit])
        a, b, foot = a[hit], b[hit], (pieces.start[a] + u * dot(u, w))[hit]
        yield a, b, foot - half * u[hit]
        through = half > 0
        yield a[through], b[through], (foot + half * u[hit])[through]

    both = np.flatnonzero(arc_i & arc_j)
    if len(both):
        a, b = i[both], j[both]
        w = pieces.centre[b] - pieces.centre[a]
        d = np.abs(w)
        r, s = pieces.radius[a], pieces.radius[b]
        apart = d > 1e-13 * (r + s)
        a, b, w, d, r, s = a[apart], b[apart], w[apart], d[apart], r[apart], s[apart]
        along = (d + (r - s) * (r + s) / d) / 2
        h2 = (r - along) * (r + along)
        touch = np.minimum(np.abs(d - r - s), np.abs(d - np.abs(r - s))) <= tol
        hit = touch | (h2 > 0)
        half = np.sqrt(np.where(touch, 0.0, h2)[hit])
        # A touch lies on the first circle; the foot may stand a trifle off it.
        along = np.where(touch, np.copysign(r, along), along)[hit]
        a, b, u = a[hit], b[hit], (w / d)[hit]
        foot = pieces.centre[a] + u * along
        yield a, b, foot - 1j * half * u
        through = half > 0
        yield a[through], b[through], (foot + 1j * half * u)[through]
