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

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Self

import numpy as np
import shapely
from numpy.typing import NDArray

from kerf.contour import Contour, Floats
from kerf.tolerance import SAME_CARRIER, STRAIGHT_BULGE

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

    An arc is held by its middle (apex) rather than its centre: with w from the apex to a
    point, the point lies (|w|² + 2 r w·out) / (|w + r out| + r) off the circle, which keeps
    its digits for an arc so flat that its centre is kilometres away.

    Args:
        start, end: ends, shape (n,), mm.
        centre: centres of arcs, shape (n,), mm; 0 for lines.
        radius: radii of arcs, shape (n,), mm; 0 for lines.
        turn: signed sweep, shape (n,), rad, counter-clockwise positive; 0 for lines.
        apex: middles of arcs, shape (n,), mm; 0 for lines.
        out: unit vectors from centre to apex, shape (n,); 0 for lines.
        length: shape (n,), mm.
    """

    start: Complexes
    end: Complexes
    centre: Complexes
    radius: Floats
    turn: Floats
    apex: Complexes
    out: Complexes
    length: Floats

    @classmethod
    def of(
        cls, start: Complexes, end: Complexes, centre: Complexes, radius: Floats, turn: Floats
    ) -> Self:
        """Return the pieces with all that follows from their ends and circles."""
        chord, middle = end - start, (start + end) / 2
        size = np.abs(chord)
        arc = turn != 0.0
        # The chord gives the direction to the apex, or where it grows short the centre does.
        major = np.abs(turn) > 4.0
        out = -1j * np.sign(turn) * chord
        out[major] = (centre - middle)[major]
        reach = np.abs(out)
        out /= np.where(reach > 0, reach, 1.0)
        sagitta = 2 * radius * np.sin(turn / 4) ** 2
        apex = np.where(major, centre + radius * out, middle + sagitta * out)
        return cls(
            start=start,
            end=end,
            centre=centre,
            radius=radius,
            turn=turn,
            apex=np.where(arc, apex, 0),
            out=out,
            length=np.where(arc, radius * np.abs(turn), size),
        )

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

    @classmethod
    def joined(cls, *parts: Pieces) -> Self:
        """Return the pieces of several tables as one, in order."""
        return cls(**{n: np.concatenate([getattr(p, n) for p in parts]) for n in cls.__slots__})

    def __len__(self) -> int:
        return len(self.start)

    def take(self, which: Indices | Flags) -> Pieces:
        """Return some of the pieces."""
        return Pieces(**{name: getattr(self, name)[which] for name in self.__slots__})

    def tangents(self) -> tuple[Complexes, Complexes]:
        """Return the unit directions of travel at the starts and at the ends."""
        every = np.arange(len(self))
        return (
            self.directions(every, np.zeros(len(self))),
            self.directions(every, np.ones(len(self))),
        )

    def directions(self, which: Indices, share: Floats) -> Complexes:
        """Return the unit directions of travel at some shares of the lengths of some pieces."""
        turn = self.turn[which]
        out = self.end[which] - self.start[which]
        size = np.abs(out)
        arc = np.flatnonzero(turn)
        if len(arc):
            angle = turn[arc] * (share[arc] - 0.5)
            out[arc] = 1j * np.sign(turn[arc]) * self.out[which[arc]] * np.exp(1j * angle)
            size[arc] = 1.0
        return out / size

    def at(self, which: Indices, share: Floats) -> Complexes:
        """Return the points at some shares of the lengths of some pieces, mm."""
        start = self.start[which]
        z = start + share * (self.end[which] - start)
        arc = np.flatnonzero(self.turn[which])
        if len(arc):
            k = which[arc]
            half = self.turn[k] * (share[arc] - 0.5) / 2
            z[arc] = self.apex[k] + 2j * self.radius[k] * np.sin(half) * self.out[k] * np.exp(
                1j * half
            )
        return z

    def share(self, which: Indices, z: Complexes) -> Floats:
        """Return the share of the length at which each point's foot on the carrier lies.

        An arc's circle is cut open opposite its apex, so the share runs below 0 and above 1.
        """
        start = self.start[which]
        chord = self.end[which] - start
        with np.errstate(invalid="ignore", divide="ignore"):
            out = dot(z - start, chord) / dot(chord, chord)
        arc = np.flatnonzero(self.turn[which])
        if len(arc):
            k = which[arc]
            along, outward = self._about_centre(k, z[arc])
            out[arc] = 0.5 + np.arctan2(along, outward) / np.abs(self.turn[k])
        return out

    def _about_centre(self, which: Indices, z: Complexes) -> tuple[Floats, Floats]:
        """Return each point's place about the centre of an arc: along its apex's direction of
        travel, and toward the apex, mm."""
        w = (z - self.apex[which]) * np.conj(self.out[which])
        return w.imag * np.sign(self.turn[which]), self.radius[which] + w.real

    def off_circle(self, which: Indices, z: Complexes) -> Floats:
        """Return how far each point lies outside the circle of an arc, mm."""
        w = z - self.apex[which]
        r = self.radius[which]
        reach = np.abs(w + r * self.out[which])
        out: Floats = (dot(w, w) + 2 * r * dot(w, self.out[which])) / (reach + r)
        return out

    def off(self, which: Indices, z: Complexes) -> Floats:
        """Return the distance from each point to the carrier (whole line or circle), mm."""
        start = self.start[which]
        chord = self.end[which] - start
        with np.errstate(invalid="ignore", divide="ignore"):
            out: Floats = np.abs(cross(chord, z - start)) / np.abs(chord)
        arc = np.flatnonzero(self.turn[which])
        if len(arc):
            out[arc] = np.abs(self.off_circle(which[arc], z[arc]))
        return out

    def distance(self, which: Indices, z: Complexes) -> Floats:
        """Return the distance from each point to one piece, mm.

        Args:
            which: a piece for each point.
            z: the points.
        """
        start, end = self.start[which], self.end[which]
        chord = end - start
        from_start = z - start
        along = dot(from_start, chord)
        chord2 = dot(chord, chord)
        near = np.abs(cross(chord, from_start)) / np.sqrt(chord2)
        inside = np.abs(along - chord2 / 2) <= chord2 / 2
        arc = np.flatnonzero(self.turn[which])
        if len(arc):
            k = which[arc]
            near[arc] = np.abs(self.off_circle(k, z[arc]))
            aside, outward = self._about_centre(k, z[arc])
            inside[arc] = np.arctan2(np.abs(aside), outward) <= np.abs(self.turn[k]) / 2
        away = np.flatnonzero(~inside)
        if len(away):
            near[away] = np.minimum(np.abs(from_start[away]), np.abs(z[away] - end[away]))
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
        step = 4 * np.arcsin(np.sqrt(np.minimum(error / np.maximum(2 * self.radius, error), 0.5)))
        counts = np.maximum(np.ceil(np.abs(self.turn) / np.minimum(step, 1.0)), 1).astype(np.int64)
        owner = np.repeat(np.arange(len(self)), counts)
        place = np.arange(len(owner)) - (np.cumsum(counts) - counts)[owner]
        return self.at(owner, place / counts[owner]), owner

    def boxes(self) -> Floats:
        """Return boxes that hold the pieces, shape (4, n): least x, y, greatest x, y."""
        sagitta = 2 * self.radius * np.sin(self.turn / 4) ** 2
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


def nearest_chord(pieces: Pieces, z: Complexes) -> Indices:
    """Return for each point the piece whose chord is nearest."""
    ends = np.stack((pieces.start, pieces.end), axis=1)
    chords = np.asarray(shapely.linestrings(np.stack((ends.real, ends.imag), axis=-1)))
    return np.asarray(
        shapely.STRtree(chords).nearest(shapely.points(z.real, z.imag)), dtype=np.int64
    )


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
    found = list(carrier_crossings(pieces, i, j, tol))
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


def carrier_crossings(
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
        skew = np.abs(det) > SAME_CARRIER * pieces.length[a] * pieces.length[b]
        a, b, u, v, det = a[skew], b[skew], u[skew], v[skew], det[skew]
        yield a, b, pieces.start[a] + u * (cross(pieces.start[b] - pieces.start[a], v) / det)

    mixed = np.flatnonzero(arc_i != arc_j)
    if len(mixed):
        a = np.where(arc_i, j, i)[mixed]
        b = np.where(arc_i, i, j)[mixed]
        u = (pieces.end[a] - pieces.start[a]) / pieces.length[a]
        w = pieces.start[a] - pieces.apex[b]
        yield from _line_circle(pieces, a, b, w - u * dot(u, w), u, tol)

    both = np.flatnonzero(arc_i & arc_j)
    if len(both):
        a, b = i[both], j[both]
        # The circles' common chord, seen from the second's apex: w·G = K.
        g = pieces.radius[b] * pieces.out[b]
        h = pieces.radius[a] * pieces.out[a]
        shift = pieces.apex[b] - pieces.apex[a]
        G = g - h - shift
        apart = np.abs(G) > SAME_CARRIER * (pieces.radius[a] + pieces.radius[b])
        a, b, h, shift, G = a[apart], b[apart], h[apart], shift[apart], G[apart]
        K = (dot(shift, shift) + 2 * dot(shift, h)) / 2
        yield from _line_circle(pieces, a, b, G * (K / dot(G, G)), 1j * G / np.abs(G), tol)


def _line_circle(
    pieces: Pieces, a: Indices, b: Indices, w: Complexes, u: Complexes, tol: float
) -> Iterator[tuple[Indices, Indices, Complexes]]:
    """Yield a, b and a point where the circle of arc b meets a line.

    Args:
        w: foot of the arc's apex on the line, seen from the apex.
        u: unit direction of the line.
    """
    # |w + s u|² + 2 r (w + s u)·out = s² + 2 B s + C = 0, solved without cancelling.
    g = pieces.radius[b] * pieces.out[b]
    B = dot(u, g)
    C = dot(w, w) + 2 * dot(w, g)
    square = B * B - C
    touch = np.abs(square) <= 2 * pieces.radius[b] * tol
    hit = touch | (square > 0)
    a, b, w, u, B, C, touch = a[hit], b[hit], w[hit], u[hit], B[hit], C[hit], touch[hit]
    first = -B - np.copysign(np.sqrt(np.where(touch, 0.0, square[hit])), B)
    yield a, b, pieces.apex[b] + (w + first * u)
    through = ~touch & (first != 0)
    a, b, w, u, s = (
        a[through],
        b[through],
        w[through],
        u[through],
        (C / np.where(first == 0, 1, first))[through],
    )
    yield a, b, pieces.apex[b] + (w + s * u)
