"""Edges drawn twice, wholly or in part, are drawn once.

Two lines overlap when both ends of the shorter lie on the line of the longer and their spans
share more than a point; two arcs when the ends and the middle of the shorter lie on the
circle of the other. The test needs no centre of a flat arc, which nobody can place. A group
of overlapping edges is cut at every end and each piece is kept once; an edge that lies on a
closed strand gives way to it.

A drawing whose edges' boxes meet in millions of pairs is refused: it is hatching or a
scribble, and no outline.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kerf.contour import Edge, Floats, Ints, Point
from kerf.errors import InputError
from kerf.reading.drawing import Healed, Healing, Strand
from kerf.reading.edges import Bools, Edges, nodes_of
from kerf.tolerance import PAIRS_LARGEST, STRAIGHT_BULGE

#: Edges whose neighbours are looked up in one go: bounds the memory of a scribble.
_AT_ONCE = 2000


def without_overlaps(
    edges: Edges, strands: Sequence[Strand], group: Ints, within_mm: float
) -> tuple[Edges, tuple[Healed, ...]]:
    """Return the edges with every stretch drawn once, and what was removed.

    Args:
        edges: all edges; those of closed strands come back unchanged.
        strands: what ``edges.owner`` points into.
        group: shape (strands,): only edges of strands in the same group are compared.
        within_mm: how far apart two edges may be and still be the same.
    Raises:
        InputError: the edges are too tangled to compare.
    """
    keep, twins = _first_of_each(edges, group, within_mm)
    healed = [
        _healed(Healing.DUPLICATE, edges, strands, int(i), float(length))
        for i, length in zip(twins, edges.lengths()[twins], strict=True)
    ]
    edges = edges.take(keep)
    pairs = _overlapping_pairs(edges, group, within_mm)
    if not len(pairs):
        return edges, tuple(healed)
    parent = list(range(len(edges)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for i, j in pairs.tolist():
        a, b = root(i), root(j)
        parent[max(a, b)] = min(a, b)
    families: dict[int, list[int]] = {}
    for i in sorted({int(i) for i in pairs.ravel()}):
        families.setdefault(root(i), []).append(i)
    gone = np.zeros(len(edges), dtype=np.bool_)
    rows: list[tuple[float, ...]] = []
    owner: list[int] = []
    for family in families.values():
        if all(edges.kept[i] for i in family):
            continue
        pieces, removed_mm = _pieces(edges, family, within_mm)
        loose = [i for i in family if not edges.kept[i]]
        gone[loose] = True
        rows.extend(piece for piece, _ in pieces)
        owner.extend(of for _, of in pieces)
        healed.append(_healed(Healing.OVERLAP, edges, strands, loose[-1], removed_mm))
    more = Edges(
        rows=np.array(rows, dtype=np.float64).reshape(-1, 5),
        owner=np.array(owner, dtype=np.int64),
        kept=np.zeros(len(rows), dtype=np.bool_),
    )
    return edges.take(~gone).with_more(more), tuple(healed)


def _healed(
    kind: Healing, edges: Edges, strands: Sequence[Strand], index: int, amount_mm: float
) -> Healed:
    """Return the record of something done to one edge, placed at its middle."""
    middle = _edge(edges, index).point_at(0.5)
    return Healed(
        kind=kind, at=middle, origin=strands[edges.owner[index]].origin, amount_mm=amount_mm
    )


def _edge(edges: Edges, index: int) -> Edge:
    """Return one edge as a value."""
    x0, y0, x1, y1, bulge = map(float, edges.rows[index])
    return Edge(start=Point(x0, y0), end=Point(x1, y1), bulge=bulge)


def _first_of_each(edges: Edges, group: Ints, within_mm: float) -> tuple[Bools, Ints]:
    """Return a mask of edges to keep and the indices of loose edges that repeat another."""
    node, _ = nodes_of(edges.rows[:, :4].reshape(-1, 2), within_mm)
    low, high = node.reshape(-1, 2).min(axis=1), node.reshape(-1, 2).max(axis=1)
    # A same edge drawn the other way has the opposite bulge.
    bulge = np.where(node[0::2] == low, 1.0, -1.0) * edges.rows[:, 4]
    of = group[edges.owner]
    order = np.lexsort((bulge, high, low, of))
    belly = np.abs(np.diff(bulge[order])) * edges.chords()[order][1:] / 2
    same = (
        (np.diff(of[order]) == 0)
        & (np.diff(low[order]) == 0)
        & (np.diff(high[order]) == 0)
        & (belly <= within_mm)
    )
    family = np.concatenate(([0], np.cumsum(~same))) if len(order) else np.zeros(0, np.int64)
    # Within a family the edge of a closed strand stands first, then the one drawn first.
    by = np.lexsort((order, ~edges.kept[order], family))
    first = np.concatenate(([True], np.diff(family[by]) != 0))[: len(by)]
    keep = edges.kept.copy()
    keep[order[by[first]]] = True
    return keep, np.flatnonzero(~keep)


def _overlapping_pairs(edges: Edges, group: Ints, within_mm: float) -> Ints:
    """Return index pairs of edges that share more than a point, shape (n, 2)."""
    import shapely

    r = edges.rows
    belly = np.abs(r[:, 4]) * edges.chords() / 2 + within_mm
    boxes = shapely.box(
        np.minimum(r[:, 0], r[:, 2]) - belly,
        np.minimum(r[:, 1], r[:, 3]) - belly,
        np.maximum(r[:, 0], r[:, 2]) + belly,
        np.maximum(r[:, 1], r[:, 3]) + belly,
    )
    tree = shapely.STRtree(boxes)
    found: list[Ints] = []
    total = 0
    of = group[edges.owner]
    lengths = edges.lengths()
    line = np.abs(r[:, 4]) < STRAIGHT_BULGE
    across = np.column_stack((r[:, 1] - r[:, 3], r[:, 2] - r[:, 0])) / edges.chords()[:, None]
    # Closed strands may touch each other as they like; only loose edges give way.
    loose = np.flatnonzero(~edges.kept)
    for begin in range(0, len(loose), _AT_ONCE):
        some = loose[begin : begin + _AT_ONCE]
        first, j = tree.query(boxes[some])
        i = some[first]
        total += len(i)
        if total > PAIRS_LARGEST:
            raise InputError(
                f"the drawing is too tangled: {len(edges)} edges cross one another in over "
                f"{PAIRS_LARGEST // 1_000_000} million places",
                hint="leave out the layers that hold hatching or shading",
            )
        wanted = (of[i] == of[j]) & (line[i] == line[j]) & ((i < j) | edges.kept[j])
        i, j = i[wanted], j[wanted]
        longer = lengths[i] >= lengths[j]
        base, other = np.where(longer, i, j), np.where(longer, j, i)
        # Most neighbours are not in line: the middle of the shorter edge tells, cheaply.
        middle = (r[other, 0:2] + r[other, 2:4]) / 2 - r[base, 0:2]
        off = np.abs(middle[:, 0] * across[base, 0] + middle[:, 1] * across[base, 1])
        aligned = ~line[base] | (off <= 2 * within_mm)
        i, j, base, other = i[aligned], j[aligned], base[aligned], other[aligned]
        hit = _overlap_mm(r[base], r[other], within_mm) > 2 * within_mm
        found.append(np.column_stack((i[hit], j[hit])))
    return np.concatenate(found) if found else np.zeros((0, 2), dtype=np.int64)


def _overlap_mm(base: Floats, other: Floats, within_mm: float) -> Floats:
    """Return how much of each base edge its partner covers, mm; 0 off its line or circle.

    base, other: shape (n, 5), lines paired with lines and arcs with arcs.
    """
    x0, y0, x1, y1, b = base.T
    dx, dy = x1 - x0, y1 - y0
    chord = np.hypot(dx, dy)
    arc = np.abs(b) >= STRAIGHT_BULGE
    safe = np.where(arc, b, 1.0)
    k = (1 - safe * safe) / (4 * safe)
    cx, cy = (x0 + x1) / 2 - k * dy, (y0 + y1) / 2 + k * dx
    radius = chord * (1 + safe * safe) / (4 * np.abs(safe))
    sweep = 4 * np.arctan(np.abs(b))
    ox0, oy0, ox1, oy1, ob = other.T
    mx, my = (ox0 + ox1) / 2 + ob * (oy1 - oy0) / 2, (oy0 + oy1) / 2 - ob * (ox1 - ox0) / 2
    along, off = [], []
    for x, y in ((ox0, oy0), (ox1, oy1), (mx, my)):
        flat = ((x - x0) * dx + (y - y0) * dy) / chord
        away = np.abs((x - x0) * dy - (y - y0) * dx) / chord
        turn = np.arctan2(y - cy, x - cx) - np.arctan2(y0 - cy, x0 - cx)
        turn = np.where(b >= 0, turn, -turn)
        # Measured from the middle of the base arc, so that both ends lie in one turn.
        turn = (turn - sweep / 2 + math.pi) % (2 * math.pi) - math.pi + sweep / 2
        along.append(np.where(arc, turn * radius, flat))
        off.append(np.where(arc, np.abs(np.hypot(x - cx, y - cy) - radius), away))
    low, high = np.minimum(along[0], along[1]), np.maximum(along[0], along[1])
    # An arc that runs round the back of the base wraps: its middle is outside its ends.
    wraps = arc & ((along[2] < low) | (along[2] > high))
    length = np.where(arc, sweep * radius, chord)
    shared = np.minimum(high, length) - np.maximum(low, 0)
    around = np.maximum(np.minimum(low, length), 0) + np.maximum(length - np.maximum(high, 0), 0)
    shared = np.where(wraps, around, shared)
    out: Floats = np.where(np.max(off, axis=0) <= within_mm, shared, 0.0)
    return out


def _pieces(
    edges: Edges, family: list[int], within_mm: float
) -> tuple[list[tuple[tuple[float, ...], int]], float]:
    """Return what is left of overlapping loose edges: (row, owner) each, and the mm removed.

    The longest edge gives the line or circle; every end is a cut, and a piece that an edge
    of a closed strand covers is left to it.
    """
    lengths = edges.lengths()
    base = _edge(edges, max(family, key=lambda i: (lengths[i], -i)))
    # Stations on a circle come round again; on a line they never do.
    turn = math.inf if base.is_line else 2 * math.pi * base.radius_mm
    cuts: list[tuple[float, Point]] = []
    spans: list[tuple[float, float, int]] = []
    for i in family:
        edge = _edge(edges, i)
        a, z = _along(base, edge.start), _along(base, edge.end)
        length = float(lengths[i])
        # The end it starts from along the base: the one from which its middle lies ahead.
        ahead = _round(_along(base, edge.point_at(0.5)) - a, turn)
        spans.append((a if 0 <= ahead <= length else z, length, i))
        cuts += [(_round(a, turn), edge.start), (_round(z, turn), edge.end)]
    cuts.sort(key=lambda cut: cut[0])
    stations: list[tuple[float, Point]] = []
    for s, p in cuts:
        if not stations or s - stations[-1][0] > within_mm:
            stations.append((s, p))
    if len(stations) > 1 and stations[0][0] + turn - stations[-1][0] <= within_mm:
        stations.pop()
    out: list[tuple[tuple[float, ...], int]] = []
    kept_mm = 0.0
    after = [*stations[1:], (stations[0][0] + turn, stations[0][1])]
    for (s0, p0), (s1, p1) in zip(stations, after, strict=True):
        middle = (s0 + s1) / 2
        over = [i for low, length, i in spans if 0 <= _round(middle - low, turn) < length]
        if math.isinf(s1) or not over or any(edges.kept[i] for i in over):
            continue
        kept_mm += s1 - s0
        bulge = 0.0
        if not base.is_line:
            bulge = math.copysign(math.tan((s1 - s0) / base.radius_mm / 4), base.bulge)
        out.append(((p0.x, p0.y, p1.x, p1.y, bulge), int(edges.owner[over[0]])))
    loose_mm = sum(float(lengths[i]) for i in family if not edges.kept[i])
    return out, loose_mm - kept_mm


def _round(s_mm: float, turn_mm: float) -> float:
    """Return a station within the first turn; as it is where there is no turn."""
    return s_mm if math.isinf(turn_mm) else s_mm % turn_mm


def _along(base: Edge, p: Point) -> float:
    """Return where p lies along the base edge's line or circle, mm from its start."""
    if base.is_line:
        dx, dy = base.end.x - base.start.x, base.end.y - base.start.y
        return ((p.x - base.start.x) * dx + (p.y - base.start.y) * dy) / base.chord_mm
    c = base.centre
    turn = math.atan2(p.y - c.y, p.x - c.x) - math.atan2(base.start.y - c.y, base.start.x - c.x)
    if base.bulge < 0:
        turn = -turn
    half = abs(base.sweep_rad) / 2
    return ((turn - half + math.pi) % (2 * math.pi) - math.pi + half) * base.radius_mm
