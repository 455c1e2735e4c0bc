"""Cut lines and arcs where they meet, keep some of the bits, and join those into loops.

The common ground of offsets and booleans. ``split`` cuts every piece at every place where
another meets it and names the places (nodes). The caller decides which bits bound the
result. ``joined_loops`` then

1. drops bits that run over each other in opposite directions, for there the result has
   material on both sides, and keeps one of those that run the same way;
2. drops bits that lead nowhere: the overrun of a joint too shallow for the caller's test;
3. follows the bits from node to node, material on the left, turning sharply left where
   several leave a node, so that pieces that touch in a point come out apart;
4. joins neighbours that lie on one line or one circle, and takes out slivers between
   neighbours that meet all the same.

It refuses to guess: when bits do not close, it answers None and the caller tries again.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import numpy as np

from kerf.contour import Contour, Floats, Region, Vertex
from kerf.errors import GeometryError
from kerf.pieces import (
    Complexes,
    Flags,
    Indices,
    Pieces,
    cross,
    crossings,
    following,
    meeting,
    sums,
)
from kerf.tolerance import COINCIDENT_MM, RELATIVE_ROUNDING, SHORT_EDGE_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Bits:
    """Parts of pieces between neighbouring nodes.

    Args:
        pieces: the pieces that were cut.
        node: positions of the nodes, shape (k,), mm.
        piece: piece each bit is part of, shape (n,).
        low, high: shares of the piece's length at the bit's ends, shape (n,).
        first, last: nodes at the bit's ends, shape (n,).
    """

    pieces: Pieces
    node: Complexes
    piece: Indices
    low: Floats
    high: Floats
    first: Indices
    last: Indices

    def __len__(self) -> int:
        return len(self.piece)

    @property
    def middle(self) -> Complexes:
        """Middle of each bit, mm."""
        return self.pieces.at(self.piece, (self.low + self.high) / 2)

    @property
    def length(self) -> Floats:
        """Length of each bit, mm."""
        out: Floats = self.pieces.length[self.piece] * (self.high - self.low)
        return out

    def take(self, which: Indices | Flags) -> Bits:
        """Return some of the bits."""
        return Bits(
            pieces=self.pieces,
            node=self.node,
            piece=self.piece[which],
            low=self.low[which],
            high=self.high[which],
            first=self.first[which],
            last=self.last[which],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """A closed run of bits, and the pieces it was made of.

    Args:
        contour: material on the left: counter-clockwise for an outer loop.
        area_mm2: signed, positive for an outer loop.
        pieces: numbers of the pieces it runs over.
    """

    contour: Contour
    area_mm2: float
    pieces: frozenset[int]


#: Arcs of a greater bulge (358.9° of a circle) are given as two.
_STEEP_BULGE = 200.0


def clustered(z: Complexes, tol: float) -> Indices:
    """Return a number for each point, the same for points linked by steps within tol, mm."""
    group = np.zeros(len(z), dtype=np.int64)
    for part in (z.real, z.imag, z.real, z.imag):
        order = np.lexsort((part, group))
        new = (np.diff(group[order]) != 0) | (np.diff(part[order]) > tol)
        group[order] = np.concatenate(([0], np.cumsum(new)))
    return group


def split(pieces: Pieces, tol: float) -> Bits:
    """Return the pieces cut wherever two of them meet.

    Args:
        tol: points this close are one node, mm.
    """
    boxes = pieces.boxes()
    hits = []
    for i, j in meeting(boxes, boxes, 2 * tol):
        once = i < j
        hits.append(crossings(pieces, i[once], j[once], tol))
    which, share, point = (np.concatenate(parts) for parts in zip(*hits, strict=True))

    n = len(pieces)
    every = np.arange(n)
    piece = np.concatenate((every, every, which))
    share = np.concatenate((np.zeros(n), np.ones(n), np.clip(share, 0.0, 1.0)))
    position = np.concatenate((pieces.start, pieces.end, point))
    node = clustered(position, tol)
    # The first point of a node stands for it: ends come before crossings.
    _, representative = np.unique(node, return_index=True)

    order = np.lexsort((share, piece))
    piece, share, node = piece[order], share[order], node[order]
    real = (piece[1:] == piece[:-1]) & (
        (node[1:] != node[:-1]) | (pieces.length[piece[1:]] * (share[1:] - share[:-1]) > 100 * tol)
    )
    k = np.flatnonzero(real)
    return Bits(
        pieces=pieces,
        node=position[representative],
        piece=piece[k],
        low=share[k],
        high=share[k + 1],
        first=node[k],
        last=node[k + 1],
    )


def uncovered(bits: Bits, tol: float) -> Bits:
    """Return the bits less those that run over each other (step 1 of the module's story)."""
    low, high = np.minimum(bits.first, bits.last), np.maximum(bits.first, bits.last)
    key = low * len(bits.node) + high
    _, group, count = np.unique(key, return_inverse=True, return_counts=True)
    shared = np.flatnonzero(count[group] > 1)
    if not len(shared):
        return bits
    spot = clustered(bits.middle[shared], 8 * tol)
    _, group, count = np.unique(
        group[shared] * len(shared) + spot, return_inverse=True, return_counts=True
    )
    forward = bits.first[shared] < bits.last[shared]
    ahead = np.bincount(group, weights=forward) > 0
    back = np.bincount(group, weights=~forward) > 0
    seen_first = np.zeros(len(shared), dtype=bool)
    seen_first[np.unique(group, return_index=True)[1]] = True
    drop = (ahead & back)[group] | ~seen_first
    keep = np.ones(len(bits), dtype=bool)
    keep[shared[drop]] = False
    return bits.take(keep)


def joined_loops(bits: Bits, tol: float, origin: complex) -> list[Loop] | None:
    """Return the loops the bits close into, or None when they do not close.

    Loops thinner than COINCIDENT_MM throughout enclose nothing and are left out.

    Args:
        tol: as for ``split``, mm.
        origin: added to every point.
    """
    bits = _without_dead_ends(uncovered(bits, tol))
    if not len(bits):
        return []
    k = len(bits.node)
    out, into = np.bincount(bits.first, minlength=k), np.bincount(bits.last, minlength=k)
    if (out != into).any():
        return None
    order = np.argsort(bits.first, kind="stable")
    ranked = bits.first[order]
    successor = order[np.searchsorted(ranked, bits.last)]
    busy = np.flatnonzero(out > 1)
    for node in busy.tolist():
        if not _settle(bits, node, successor):
            return None
    return _contours(bits, _rings(bits, successor, busy), tol, origin)


def _without_dead_ends(bits: Bits) -> Bits:
    k = len(bits.node)
    while len(bits):
        out, into = np.bincount(bits.first, minlength=k), np.bincount(bits.last, minlength=k)
        alive = (into[bits.first] > 0) & (out[bits.last] > 0)
        if alive.all():
            break
        bits = bits.take(alive)
    return bits


def _settle(bits: Bits, node: int, successor: Indices) -> bool:
    """Pair the bits that reach a busy node with those that leave it; say whether they pair.

    Directions are taken where a small circle about the node cuts the bits, so that curves
    that leave the node along one tangent are told apart.
    """
    leaving, reaching = np.flatnonzero(bits.first == node), np.flatnonzero(bits.last == node)
    length = bits.length
    step = min(float(length[leaving].min()), float(length[reaching].min())) / 4
    whole = bits.pieces.length
    at = bits.node[node]
    lp, rp = bits.piece[leaving], bits.piece[reaching]
    ahead = np.angle(bits.pieces.at(lp, bits.low[leaving] + step / whole[lp]) - at)
    back = np.angle(bits.pieces.at(rp, bits.high[reaching] - step / whole[rp]) - at)
    # Clockwise from where we came: the first bit met bounds the material on our left.
    clockwise = (back[:, None] - ahead[None, :]) % (2 * math.pi)
    choice = leaving[np.argmin(clockwise, axis=1)]
    successor[reaching] = choice
    return len(set(choice.tolist())) == len(leaving)


def _rings(bits: Bits, successor: Indices, busy: Indices) -> list[list[int]]:
    """Return the closed runs of bits, cut apart where a run passes a node twice."""
    step, unused = successor.tolist(), bytearray(b"\x01" * len(bits))
    rings: list[list[int]] = []
    for seed in range(len(bits)):
        if not unused[seed]:
            continue
        ring, k = [], seed
        while unused[k]:
            unused[k] = 0
            ring.append(k)
            k = step[k]
        rings.append(ring)
    if not len(busy):
        return rings
    first = bits.first.tolist()
    simple: list[list[int]] = []
    for ring in rings:
        if max(Counter(first[k] for k in ring).values()) == 1:
            simple.append(ring)
            continue
        path: list[int] = []
        place: dict[int, int] = {}
        for k in ring:
            if first[k] in place:
                cut = place[first[k]]
                simple.append(path[cut:])
                for gone in path[cut:]:
                    del place[first[gone]]
                del path[cut:]
            place[first[k]] = len(path)
            path.append(k)
        simple.append(path)
    return simple


def _contours(bits: Bits, rings: list[list[int]], tol: float, origin: complex) -> list[Loop]:
    """Return the rings as contours, neighbours on one carrier joined. All rings at once."""
    counts = np.array([len(ring) for ring in rings])
    bits = bits.take(np.concatenate([np.array(ring, dtype=np.int64) for ring in rings]))
    after = following(counts)
    source = bits.pieces
    p = bits.piece
    start, end = bits.node[bits.first], bits.node[bits.last]
    turn = source.turn[p] * (bits.high - bits.low)

    # Does the next bit go on along the same line or circle?
    q = p[after]
    same_arc = (
        (turn * turn[after] > 0)
        & (np.abs(source.centre[p] - source.centre[q]) <= tol)
        & (np.abs(source.radius[p] - source.radius[q]) <= tol)
    )
    u, v = end - start, (end - start)[after]
    same_line = (
        (turn == 0)
        & (turn[after] == 0)
        & (u.real * v.real + u.imag * v.imag > 0)
        & (np.abs(cross(u, u + v)) <= tol * np.abs(u + v))
    )
    # A bit that does not go on from the one before begins an edge. Each ring is turned to
    # start with one; a full circle has none and starts where it may.
    begins = np.ones(len(bits), dtype=bool)
    begins[after] = ~(same_arc | same_line)
    ring = np.repeat(np.arange(len(counts)), counts)
    base = np.cumsum(counts) - counts
    shift = np.minimum.reduceat(np.where(begins, np.arange(len(bits)), len(bits)), base) - base
    shift[shift >= counts] = 0
    begins[base + shift] = True
    turned = base[ring] + (np.arange(len(bits)) - base[ring] + shift[ring]) % counts[ring]
    begins = begins[turned]
    total = sums(np.cumsum(begins) - 1, turn[turned])

    head = turned[begins]
    a, k = start[head], p[head]
    kept, a, total = _without_slivers(a, source.centre[k], source.radius[k], total, ring[head], tol)
    head, a, k, total = head[kept], a[kept], k[kept], total[kept]
    b = a[following(np.bincount(ring[head]))]
    centre, radius = source.centre[k], source.radius[k]
    bulge = bulges(a, b, centre, radius, total)
    # A full circle is two half turns, and an arc that lacks little of one two arcs as well:
    # its bulge would lose its digits.
    halved = (total != 0) & ((a == b) | (np.abs(bulge) > _STEEP_BULGE))
    out = np.exp(0.5j * total)
    far = np.where(a == b, 2 * centre - a, np.where(halved, centre + (a - centre) * out, b))
    bulge = np.where(halved, bulges(a, far, centre, radius, total / 2), bulge)
    twice = np.repeat(np.arange(len(head)), 1 + halved)
    second = np.concatenate(([False], twice[1:] == twice[:-1]))
    corner = np.where(second, far[twice], a[twice])
    bulge = np.where(second, bulges(far, b, centre, radius, total / 2)[twice], bulge[twice])
    return _loops(corner, bulge, ring[head][twice], p, ring, origin)


def _without_slivers(
    a: Complexes, centre: Complexes, radius: Floats, turn: Floats, ring: Indices, tol: float
) -> tuple[Flags, Complexes, Floats]:
    """Return which edges to keep, and starts and turns of all once the others are taken out.

    Drawings are written with six or nine digits, so that edges drawn tangent meet in turns of
    a millionth, and whatever fills or cuts such a corner is shorter than anybody can cut. A
    short edge whose middle lies on the carriers of both its neighbours gives way to them.

    Args:
        a, centre, radius, turn: of the edges of closed rings, each to the next one's start.
        ring: ring of each.
        tol: how far off its neighbours' carriers a middle may lie, mm.
    """
    counts = np.bincount(ring)
    after = following(counts)
    before = np.empty_like(after)
    before[after] = np.arange(len(after))
    edges = Pieces.of(a, a[after], centre, radius, turn)
    short = np.flatnonzero(
        (edges.length < SHORT_EDGE_MM)
        & (edges.length < edges.length[before])
        & (edges.length <= edges.length[after])
        & (counts[ring] > 3)
    )
    if not len(short):
        return np.ones(len(a), dtype=bool), a, turn
    middle = edges.at(short, np.full(len(short), 0.5))
    fits = np.maximum(edges.off(before[short], middle), edges.off(after[short], middle)) <= tol
    short, middle = short[fits], middle[fits]
    ahead, behind = after[short], before[short]
    start, low, high = a.copy(), np.zeros(len(a)), np.ones(len(a))
    start[ahead] = middle
    low[ahead], high[behind] = edges.share(ahead, middle), edges.share(behind, middle)
    kept = np.ones(len(a), dtype=bool)
    kept[short] = False
    return kept, start, turn * (high - low)


def _loops(
    corner: Complexes,
    bulge: Floats,
    ring: Indices,
    piece: Indices,
    piece_ring: Indices,
    origin: complex,
) -> list[Loop]:
    """Return rings of corners and bulges as loops, films left out.

    Args:
        corner, bulge, ring: vertices about the origin, and the ring of each.
        piece, piece_ring: the pieces that the rings ran over, and the ring of each.
    """
    counts = np.bincount(ring)
    edges = Pieces.of_bulges(corner, corner[following(counts)], bulge)
    area = sums(ring, edges.areas())
    length = sums(ring, edges.length)
    vertices = np.column_stack((corner.real + origin.real, corner.imag + origin.imag, bulge))
    solid = 2 * np.abs(area) > COINCIDENT_MM * length
    rows, members = vertices.tolist(), piece.tolist()
    row_end, member_end = np.cumsum(counts), np.cumsum(np.bincount(piece_ring))
    loops = []
    for k in np.flatnonzero(solid).tolist():
        first = row_end[k] - counts[k]
        own = members[member_end[k - 1] if k else 0 : member_end[k]]
        contour = Contour(vertices=tuple(map(Vertex._make, rows[first : row_end[k]])))
        loops.append(Loop(contour=contour, area_mm2=float(area[k]), pieces=frozenset(own)))
    return loops


def bulges(a: Complexes, b: Complexes, centre: Complexes, radius: Floats, turn: Floats) -> Floats:
    """Return the bulges of arcs from a to b. Well-conditioned from a sliver to a full turn.

    With half chord c and distance h from centre to chord, tan(sweep/4) is c / (r + h) up to
    half a turn and (r + h) / c beyond.
    """
    half = (b - a) / 2
    c = np.abs(half)
    with np.errstate(invalid="ignore", divide="ignore"):
        small = c / (radius + np.abs(cross(a - centre, half)) / c)
        out: Floats = np.where(np.abs(turn) <= math.pi, small, 1 / small)
    return np.where(turn == 0, 0.0, np.copysign(out, turn))


def regions_of(loops: list[Loop]) -> tuple[Region, ...] | None:
    """Return the regions that loops with material on their left bound, largest first.

    None when a hole lies in no outer loop.
    """
    outers = sorted((c for c in loops if c.area_mm2 > 0), key=lambda c: -c.area_mm2)
    inner = [c.contour for c in loops if c.area_mm2 < 0]
    if len(outers) < 2:
        if inner and not outers:
            return None
        return tuple(Region(outer=c.contour, holes=tuple(inner)) for c in outers)
    holes: list[list[Contour]] = [[] for _ in outers]
    boxes = [c.contour.bounds() for c in outers]
    for hole in inner:
        # The middle of an edge: a hole may touch its outer loop in a vertex.
        x, y = hole.edge(0).point_at(0.5)
        # The smallest outer loop about the point holds it.
        for k in reversed(range(len(outers))):
            b = boxes[k]
            near = b.x_min <= x <= b.x_max and b.y_min <= y <= b.y_max
            if near and outers[k].contour.contains(x, y):
                holes[k].append(hole)
                break
        else:
            return None
    return tuple(
        Region(outer=outer.contour, holes=tuple(within))
        for outer, within in zip(outers, holes, strict=True)
    )


def without_doubled_edges(region: Region) -> Region:
    """Return the region without spikes and slits of no width: edges that it runs both ways.

    Raises:
        GeometryError: its loops cross themselves or each other.
    """
    origin = complex(*region.bounds().centre)
    pieces, _ = Pieces.of_loops(region.loops(), origin)
    tol = RELATIVE_ROUNDING * (float(np.abs(pieces.boxes()).max()) + abs(origin))
    bits = _without_dead_ends(uncovered(split(pieces, tol), tol))
    busy = np.flatnonzero(np.bincount(bits.first, minlength=len(bits.node)) > 1)
    if len(busy):
        at = bits.node[busy[0]] + origin
        raise GeometryError(
            f"the outline crosses or touches itself at ({at.real:.6g}, {at.imag:.6g}) mm",
            hint="mend the drawing there",
        )
    joined = joined_loops(bits, tol, origin)
    regions = regions_of(joined) if joined else None
    if regions is None or len(regions) != 1:
        raise GeometryError("the outline runs over itself and encloses nothing")
    return regions[0]
