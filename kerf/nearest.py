"""Nearest points: a point and a piece, two pieces, many at a time, exact for arcs.

Two lines or arcs that do not cross are nearest at an end of one of them, or where one line is
normal to both: the foot of a centre on a line, or the line through two centres. (Concentric
arcs that overlap in angle are as near at an end of the overlap, which is an end of one of
them.) All of these are tried and the least is exact.
"""

from __future__ import annotations

import numpy as np

from kerf.contour import Floats
from kerf.pieces import Complexes, Flags, Indices, Pieces, carrier_crossings, dot, meeting


def nearest_points(pieces: Pieces, which: Indices, z: Complexes) -> Complexes:
    """Return for each point the nearest point of one piece.

    Args:
        which: a piece for each point, shape (n,).
        z: the points, shape (n,), mm.
    """
    start, end = pieces.start[which], pieces.end[which]
    share = pieces.share(which, z)
    foot = start + share * (end - start)
    arc = np.flatnonzero(pieces.turn[which])
    if len(arc):
        # About the start, as in Edge.nearest, so that a very flat arc keeps its digits.
        k = which[arc]
        chord = end[arc] - start[arc]
        normal = 1j * chord / np.abs(chord) * np.exp(-0.5j * pieces.turn[k])
        bend = np.sign(pieces.turn[k]) / pieces.radius[k]
        q = z[arc] - start[arc]
        slope = bend * q - normal
        steep = np.abs(slope)
        with np.errstate(invalid="ignore", divide="ignore"):
            off = (bend * dot(q, q) - 2 * dot(q, normal)) / (1 + steep)
            foot[arc] = z[arc] - off * slope / steep
        # At the centre itself every point of the arc is as near.
        share[arc] = np.where(steep > 0, share[arc], -1.0)
    tip = np.where(np.abs(z - start) <= np.abs(z - end), start, end)
    best: Complexes = np.where((share > 0) & (share < 1), foot, tip)
    return best


def distances_to(pieces: Pieces, z: Complexes) -> tuple[Floats, Indices]:
    """Return the distance of each point from the nearest of all pieces, mm, and its number."""
    best = np.empty(len(z))
    owner = np.empty(len(z), dtype=np.int64)
    every = np.arange(len(pieces))
    block = max(1, 400_000 // len(pieces))
    for low in range(0, len(z), block):
        part = z[low : low + block]
        which = np.tile(every, len(part))
        d = pieces.distance(which, np.repeat(part, len(pieces)))
        d = d.reshape(len(part), -1)
        owner[low : low + block] = d.argmin(axis=1)
        best[low : low + block] = d.min(axis=1)
    return best, owner


def nearest_pairs(
    a: Pieces, i: Indices, b: Pieces, j: Indices
) -> tuple[Floats, Complexes, Complexes]:
    """Return the distance of pieces a[i] and b[j] that do not cross, and their nearest points.

    Returns:
        distances, mm; points on a; points on b: shape (n,) each.
    """
    best = np.full(len(i), np.inf)
    on_a, on_b = np.zeros(len(i), dtype=np.complex128), np.zeros(len(i), dtype=np.complex128)

    def offer(rows: Indices, p: Complexes, q: Complexes) -> None:
        d = np.abs(p - q)
        better = d < best[rows]
        rows = rows[better]
        best[rows], on_a[rows], on_b[rows] = d[better], p[better], q[better]

    every = np.arange(len(i))
    for p in (a.start[i], a.end[i]):
        offer(every, p, nearest_points(b, j, p))
    for q in (b.start[j], b.end[j]):
        offer(every, nearest_points(a, i, q), q)
    round_a, round_b = a.turn[i] != 0, b.turn[j] != 0
    rows = np.flatnonzero(~round_a & round_b)
    foot = nearest_points(a, i[rows], b.centre[j[rows]])
    offer(rows, foot, nearest_points(b, j[rows], foot))
    rows = np.flatnonzero(round_a & ~round_b)
    foot = nearest_points(b, j[rows], a.centre[i[rows]])
    offer(rows, nearest_points(a, i[rows], foot), foot)
    rows = np.flatnonzero(round_a & round_b)
    way = b.centre[j[rows]] - a.centre[i[rows]]
    apart = np.abs(way) > 0
    rows, way = rows[apart], way[apart] / np.abs(way[apart])
    for sign in (1.0, -1.0):
        # Where the line of centres leaves the circle of a; off the arc, its nearer end.
        tip = nearest_points(a, i[rows], a.centre[i[rows]] + sign * way * a.radius[i[rows]])
        offer(rows, tip, nearest_points(b, j[rows], tip))
    return best, on_a, on_b


def crossing_pairs(a: Pieces, b: Pieces, tol: float) -> tuple[Indices, Indices, Complexes]:
    """Return where pieces of a cross pieces of b: (piece of a, piece of b, point).

    Touching ends and overlaps may or may not be among them; clean crossings all are.

    Args:
        tol: how far beyond its ends a piece still counts, mm.
    """
    both = Pieces.joined(a, b)
    found = [(np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), np.empty(0, complex))]
    for i, j in meeting(a.boxes(), b.boxes(), tol):
        for one, other, at in carrier_crossings(both, i, j + len(a), tol):
            first, second = np.minimum(one, other), np.maximum(one, other)
            on = _on(both, first, at, tol) & _on(both, second, at, tol)
            found.append((first[on], second[on] - len(a), at[on]))
    p, q, z = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return p, q, z


def _on(pieces: Pieces, which: Indices, z: Complexes, tol: float) -> Flags:
    share = pieces.share(which, z)
    out: Flags = np.abs(share - 0.5) * pieces.length[which] <= pieces.length[which] / 2 + tol
    return out
