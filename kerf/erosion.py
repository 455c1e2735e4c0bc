"""Which shifts keep one region inside another: Minkowski erosion with arcs kept as arcs.

A part can be laid into a pocket, without turning it, wherever a shift t leaves all of it
inside. Those shifts form regions, and their borders are made of lines and arcs:

* on a border the part touches the pocket from inside; where they touch, both run in one
  direction, material on the left;
* a corner of the part against an edge of the pocket traces that edge; an inward corner of the
  pocket against an edge of the part traces that edge turned round; an arc against a straight
  edge traces the edge; an arc in an arc traces an arc whose radius is the difference of the two
  (boss and hollow counted with their signs).

So every pair of features whose directions overlap gives one curve. All curves are cut where
they meet (``kerf.arrangement``); of each bit it is asked, a few tolerances to its left,
whether the part is truly inside: corners of either, then every crossing of their edges. The
bits that pass bound the answer, and the answer is asked again at points along its border, on
both sides. What cannot be proven raises ``ErosionUnproven``.

A fit without any play (equal widths) leaves a line or a point of shifts, which is no region:
the result is then empty, as it is when the part does not go in at all.

Source: convolution of curves, Guibas, Ramshaw & Stolfi, A kinetic framework for computational
geometry (1983); Minkowski operations as in any text on mathematical morphology.
"""

from __future__ import annotations

import math

import numpy as np

from kerf.arrangement import Bits, clustered, joined_loops, regions_of, split
from kerf.boolean import winding
from kerf.contour import Floats, Region
from kerf.errors import GeometryError
from kerf.nearest import crossing_pairs
from kerf.pieces import Complexes, Flags, Indices, Pieces, cross, dot, following
from kerf.tolerance import COINCIDENT_MM, RELATIVE_ROUNDING, SAME_HEADING_RAD


class ErosionUnproven(GeometryError):
    """An erosion whose result could not be proven; none is returned."""


#: Tried in turn: tolerance as a multiple of the rounding of the regions' size, and how far
#: apart nodes may be and still be one, as a multiple of COINCIDENT_MM. Curves that all but
#: coincide for a tenth of a micrometre need the later ones; the proof stays the same.
_LADDER = ((1.0, 1.0), (10.0, 1.0), (1.0, 10.0), (1.0, 100.0))

#: How far beside a bit its side is looked at, in tolerances.
_BESIDE = 5.0

#: Shifted copies of the part held against the pocket at a time.
_PORTION = 2_000


def erosion(pocket: Region, part: Region) -> tuple[Region, ...]:
    """Return all shifts (x, y), mm, that keep ``part`` inside ``pocket``, largest first.

    The part as given is the shift (0, 0). Empty when it does not fit, or fits without play.

    Raises:
        ErosionUnproven: the result could not be proven.
    """
    first = part.outer.vertices[0]
    origin = complex(first.x, first.y)
    held = _Outline.of(Pieces.of_loops(pocket.loops(), origin)[0], pocket)
    moved = _Outline.of(Pieces.of_loops(part.loops(), origin)[0], part)
    curves = _curves(held, moved)
    size = float(np.abs(held.pieces.boxes()).max() + np.abs(moved.pieces.boxes()).max())
    for factor, spread in _LADDER:
        tol = factor * RELATIVE_ROUNDING * (size + abs(origin))
        long = curves.take(curves.length > 10 * tol)
        if not len(long):
            return ()
        long = _fused(long, 10 * tol)
        bits = split(long, tol)
        unit = _along(long, bits.piece, (bits.low + bits.high) / 2)
        inside = _fits(held.pieces, moved.pieces, bits.middle + 1j * _BESIDE * tol * unit)
        bits = _gathered(bits.take(inside), spread * COINCIDENT_MM)
        loops = joined_loops(bits, COINCIDENT_MM, 0j)
        # Bits that bound nothing: an outline crosses itself, or the room is a film.
        if loops is None or (len(bits) and not loops):
            continue
        regions = regions_of(loops)
        if regions is not None and _proven(held.pieces, moved.pieces, regions):
            return regions
    raise ErosionUnproven(
        f"the room of a part of {len(moved.pieces)} edges in a pocket of {len(held.pieces)} "
        "could not be proven right",
        hint="check both outlines for edges that cross, or change one by a micrometre",
    )


def _gathered(bits: Bits, tol: float) -> Bits:
    """Return the bits with nodes that are the same point made one, bits within a node left out.

    Where many touches happen at once (a part in its own outline grown by a clearance), curves
    meet at grazing angles and cut each other into slivers of no meaning about one true node.
    """
    group = clustered(bits.node, tol)
    _, representative = np.unique(group, return_index=True)
    bits = Bits(
        pieces=bits.pieces,
        node=bits.node[representative],
        piece=bits.piece,
        low=bits.low,
        high=bits.high,
        first=group[bits.first],
        last=group[bits.last],
    )
    bits = bits.take((bits.first != bits.last) | (bits.length > 100 * tol))
    # Bits of one curve that nothing parts any more are one bit again.
    leaving = np.bincount(bits.first, minlength=len(bits.node))
    reaching = np.bincount(bits.last, minlength=len(bits.node))
    follows = np.flatnonzero(
        (bits.piece[1:] == bits.piece[:-1])
        & (bits.first[1:] == bits.last[:-1])
        & (leaving[bits.first[1:]] == 1)
        & (reaching[bits.first[1:]] == 1)
    )
    begins, ends = np.ones(len(bits), dtype=bool), np.ones(len(bits), dtype=bool)
    begins[follows + 1], ends[follows] = False, False
    return Bits(
        pieces=bits.pieces,
        node=bits.node,
        piece=bits.piece[begins],
        low=bits.low[begins],
        high=bits.high[ends],
        first=bits.first[begins],
        last=bits.last[ends],
    )


class _Outline:
    """Edges with the directions they take: material on the left.

    ``low`` and ``width`` bound an edge's directions (a line has width 0); ``corner_low`` and
    ``corner_turn`` those of the corner at its start, turn negative where it turns right.
    ``bend`` is the radius with the sign of the turn, 0 for a line.
    """

    __slots__ = ("bend", "corner_low", "corner_turn", "low", "pieces", "width")

    def __init__(self, pieces: Pieces, before: Indices) -> None:
        leave, arrive = pieces.tangents()
        turn = np.angle(leave * np.conj(arrive[before]))
        self.pieces = pieces
        self.low = np.angle(leave) + np.minimum(pieces.turn, 0.0)
        self.width = np.abs(pieces.turn)
        self.corner_low = np.angle(arrive[before]) + np.minimum(turn, 0.0)
        self.corner_turn = turn
        self.bend = np.sign(pieces.turn) * pieces.radius

    @classmethod
    def of(cls, pieces: Pieces, region: Region) -> _Outline:
        """Return the outline of a region's edges, in the order of its loops."""
        after = following(np.array([len(loop.vertices) for loop in region.loops()]))
        before = np.empty_like(after)
        before[after] = np.arange(len(after))
        return cls(pieces, before)


def _overlaps(
    low: Floats, width: Floats, other_low: Floats, other_width: Floats
) -> tuple[Indices, Indices, Floats, Floats]:
    """Return pairs (i, j) of direction ranges that overlap, the overlap's start and width.

    Ranges may run over half a turn, so a pair can overlap twice.
    """
    ahead = np.mod(other_low - low[:, None], 2 * math.pi)
    found = []
    for shift in (0.0, -2 * math.pi):
        begin = np.maximum(ahead + shift, 0.0)
        end = np.minimum(ahead + shift + other_width, width[:, None])
        i, j = np.nonzero(end >= begin - SAME_HEADING_RAD)
        found.append((i, j, low[i] + begin[i, j], np.maximum(end - begin, 0.0)[i, j]))
    i, j, start, span = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return i, j, start, span


def _curves(held: _Outline, moved: _Outline) -> Pieces:
    """Return every curve that a touch of the part with the pocket can trace, free side left."""
    parts = []
    for edges, corners, sign in ((held, moved, 1.0), (moved, held, -1.0)):
        # Corners of the part that turn left, inward corners of the pocket; smooth joints of both.
        sharp = np.flatnonzero(sign * corners.corner_turn >= -SAME_HEADING_RAD)
        corner_width = np.abs(corners.corner_turn[sharp])
        i, j, start, span = _overlaps(
            edges.low, edges.width, corners.corner_low[sharp], corner_width
        )
        at = corners.pieces.start[sharp[j]]
        line = edges.pieces.turn[i] == 0.0
        parts.append(_lines(edges.pieces, i[line], at[line], sign))
        i, at, start, span = i[~line], at[~line], start[~line], span[~line]
        hub = sign * (edges.pieces.centre[i] - at)
        parts.append(_turns(hub, sign * edges.bend[i], start, span))
        # A straight edge against an arc touches it where the arc takes the edge's direction.
        flat, arcs = np.flatnonzero(edges.pieces.turn == 0), np.flatnonzero(sign * corners.bend > 0)
        i, j, start, _ = _overlaps(
            edges.low[flat], edges.width[flat], corners.low[arcs], corners.width[arcs]
        )
        i, j = flat[i], arcs[j]
        touch = corners.pieces.centre[j] - 1j * corners.bend[j] * np.exp(1j * start)
        parts.append(_lines(edges.pieces, i, touch, sign))
    round_held, round_moved = (np.flatnonzero(o.pieces.turn != 0.0) for o in (held, moved))
    i, j, start, span = _overlaps(
        held.low[round_held],
        held.width[round_held],
        moved.low[round_moved],
        moved.width[round_moved],
    )
    i, j = round_held[i], round_moved[j]
    # The part must curve at least as much as the pocket, or it would cut through it.
    can = 1 / moved.bend[j] >= 1 / held.bend[i] - RELATIVE_ROUNDING
    i, j, start, span = i[can], j[can], start[can], span[can]
    hub = held.pieces.centre[i] - moved.pieces.centre[j]
    parts.append(_turns(hub, held.bend[i] - moved.bend[j], start, span))
    return Pieces.joined(*parts)


def _lines(pieces: Pieces, which: Indices, at: Complexes, sign: float) -> Pieces:
    """Return straight edges less a point each, or, for sign −1, the points less the edges."""
    start, end = pieces.start[which], pieces.end[which]
    start, end = (start - at, end - at) if sign > 0 else (at - end, at - start)
    return _straight(start, end)


def _straight(start: Complexes, end: Complexes) -> Pieces:
    none = np.zeros(len(start))
    return Pieces.of(start, end, none.astype(np.complex128), none, none)


def _turns(hub: Complexes, bend: Floats, low: Floats, width: Floats) -> Pieces:
    """Return arcs about hubs that take the directions from low to low + width."""
    right = bend < 0  # a right-hand arc takes its directions from the high end down
    start = np.where(right, low + width, low)
    turn = np.where(right, -width, width)
    radius = np.abs(bend)
    arm = -1j * bend
    keep = (width > SAME_HEADING_RAD) & (radius > 0)
    hub, arm, start, turn, radius = hub[keep], arm[keep], start[keep], turn[keep], radius[keep]
    first, last = hub + arm * np.exp(1j * start), hub + arm * np.exp(1j * (start + turn))
    return Pieces.of(first, last, hub, radius, turn)


def _fused(curves: Pieces, tol: float) -> Pieces:
    """Return the curves with those that run over each other on one line or circle made one.

    Touches at several places often trace one curve: a part in its own outline grown by a
    clearance traces one circle with every corner.
    """
    left = curves.turn < 0
    arc = curves.turn != 0.0
    unit = curves.tangents()[0]
    # What curves on one carrier share: centre and signed radius, or direction and offset.
    offset = 1j * unit * cross(unit, curves.start)
    hub = np.where(arc, curves.centre, offset + 4 * unit * np.abs(curves.boxes()).max())
    size = np.where(arc, curves.radius, 0.0)
    place = clustered(hub, tol) * 2 + left
    order = np.lexsort((size, place))
    fresh = (np.diff(place[order]) != 0) | (np.diff(size[order]) > tol)
    group = np.concatenate(([0], np.cumsum(fresh)))
    parts = []
    for members in np.split(order, np.flatnonzero(np.diff(group)) + 1):
        some = curves.take(members)
        if len(members) == 1:
            parts.append(some)
        elif some.turn[0] == 0.0:
            way = unit[members[0]]
            low, high = dot(some.start, way), dot(some.end, way)
            begin, width = _stretches(low, high - low, math.inf, tol)
            foot = some.start[0] + (begin - low[0]) * way
            parts.append(_straight(foot, foot + width * way))
        else:
            sign, radius = np.sign(some.turn[0]), some.radius[0]
            begin = np.angle(some.start - some.centre) * sign
            begin, width = _stretches(begin, np.abs(some.turn), 2 * math.pi, tol / radius)
            arms = [radius * np.exp(1j * sign * at) for at in (begin, begin + width)]
            hub = np.full(len(begin), some.centre[0])
            size = np.full(len(begin), radius)
            parts.append(Pieces.of(hub + arms[0], hub + arms[1], hub, size, sign * width))
    return Pieces.joined(*parts)


def _stretches(begin: Floats, width: Floats, period: float, tol: float) -> tuple[Floats, Floats]:
    """Return where the union of overlapping stretches begins, and how long its parts are."""
    marks = np.concatenate((begin, begin + width))
    marks = np.sort(marks if math.isinf(period) else np.mod(marks, period))
    marks = marks[np.concatenate(([True], np.diff(marks) > tol))]
    size = np.diff(marks, append=marks[0] + period)
    middle = marks + np.minimum(size, 1e300) / 2
    ahead = middle[:, None] - begin
    ahead = ahead if math.isinf(period) else np.mod(ahead, period)
    covered = ((ahead > 0) & (ahead < width)).any(axis=1) & (size > tol)
    first = np.flatnonzero(covered & ~np.roll(covered, 1))
    if not len(first):  # right round
        return marks, size
    # From a stretch that nothing precedes, up to the next that is not covered.
    last = np.flatnonzero(covered & ~np.roll(covered, -1))
    last = np.roll(last, -1) if last[0] < first[0] else last
    run = marks[last] + size[last] - marks[first]
    return marks[first], np.where(run < 0, run + period, run)


def _along(pieces: Pieces, which: Indices, share: Floats) -> Complexes:
    leave, _ = pieces.tangents()
    out: Complexes = leave[which] * np.exp(1j * pieces.turn[which] * share)
    return out


def _fits(held: Pieces, moved: Pieces, shift: Complexes) -> Flags:
    """Return for each shift whether the part lies inside the pocket."""
    good = np.ones(len(shift), dtype=bool)
    for k in range(len(moved)):  # one corner after the other: most shifts fail early
        left = np.flatnonzero(good)
        good[left] = winding(held, moved.start[k] + shift[left]) > 0
    for k in range(len(held)):
        left = np.flatnonzero(good)
        good[left] = winding(moved, held.start[k] - shift[left]) <= 0
    left = np.flatnonzero(good)
    n = len(moved)
    for low in range(0, len(left), _PORTION):
        t = left[low : low + _PORTION]
        by = np.repeat(shift[t], n)
        base = moved.take(np.tile(np.arange(n), len(t)))
        centre = np.where(base.turn != 0.0, base.centre + by, 0j)
        copies = Pieces.of(base.start + by, base.end + by, centre, base.radius, base.turn)
        _, j, _ = crossing_pairs(held, copies, 0.0)
        good[t[np.unique(j // n)]] = False
    return good


def _proven(held: Pieces, moved: Pieces, regions: tuple[Region, ...]) -> bool:
    """Return whether the part fits COINCIDENT_MM inside the border of the shifts, not outside."""
    if not regions:
        return True
    beside = COINCIDENT_MM
    border, _ = Pieces.of_loops([loop for r in regions for loop in r.loops()], 0j)
    which = np.flatnonzero(border.length > 100 * beside)
    for share in (0.31, 0.73):
        at = np.full(len(which), share)
        unit = 1j * beside * _along(border, which, at)
        z = border.at(which, at)
        if not _fits(held, moved, z + unit).all() or _fits(held, moved, z - unit).any():
            return False
    return True
