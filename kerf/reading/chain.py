"""From loose strands to closed loops.

In this order, because each step trusts the one before:

1. edges of no length are dropped; stretches drawn twice within a layer are drawn once;
2. ends that coincide to within rounding become nodes; closed strands are loops as they stand,
   and so is every ring of edges of one layer in which each node joins exactly two;
3. what is left is pooled over the layers: doubled stretches go, then the smallest gaps
   between loose ends are closed, each only if no third end competes for it and no edge is
   short beside it;
4. dead ends are cut back, branches are resolved by walking the leftmost way when that leaves
   no doubt, and reported when it does.

Every tolerance is a share of the drawing's diagonal. What is still open is a fault with the
width of its gap; nothing is invented to close it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerf.contour import Contour, Floats, Ints, Point
from kerf.reading.drawing import Fault, FaultKind, Healed, Healing, Origin, Strand, place_text
from kerf.reading.edges import Bools, Edges, diagonal_mm, edges_of, nodes_of, ring_walks
from kerf.reading.faces import walked
from kerf.reading.gaps import closed_gaps
from kerf.reading.near import components
from kerf.reading.overlap import without_overlaps
from kerf.tolerance import (
    COINCIDENT_MM,
    GAP_EDGE_SHARE,
    GAP_LARGEST_MM,
    GAP_SHARE,
    GAP_SILENT_MM,
    JOIN_SHARE,
    ROUND_SHARE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """A closed loop and the entity its first edge came from."""

    contour: Contour
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Chained:
    """Loops found among strands, what was mended, and what could not be."""

    loops: tuple[Loop, ...]
    healed: tuple[Healed, ...]
    faults: tuple[Fault, ...]


def chain(strands: Sequence[Strand]) -> Chained:
    """Return the closed loops of strands (mm), with what was mended and what is wrong.

    Args:
        strands: every edge that may belong to an outline, mm, coordinates finite.
    Raises:
        InputError: the edges are too tangled to be outlines.
    """
    edges = edges_of(strands)
    size = diagonal_mm(edges.rows)
    join_mm = max(COINCIDENT_MM, JOIN_SHARE * size)
    gap_mm = max(join_mm, min(GAP_SHARE * size, GAP_LARGEST_MM))
    edges, healed = _without_dust(edges, strands, join_mm)
    layers = {name: i for i, name in enumerate(dict.fromkeys(s.origin.layer for s in strands))}
    layer = np.array([layers[s.origin.layer] for s in strands], dtype=np.int64)
    edges, doubled = without_overlaps(edges, strands, layer, join_mm)
    healed += doubled
    loops = _kept_loops(edges, strands)
    rings, used, pool = _rings(edges.take(~edges.kept), layer, join_mm)
    loops += [_loop(rows, owner, strands) for rows, owner in rings]
    faults: tuple[Fault, ...] = ()
    if len(pool):
        # What closed loops use already, on any layer, is drawn a second time in the pool.
        used = edges.take(edges.kept).with_more(used)
        used = Edges(rows=used.rows, owner=used.owner, kept=np.ones(len(used), np.bool_))
        circles = _circles(loops)
        found = _pooled(pool, used, strands, circles, join_mm, gap_mm)
        # Ends that scatter more than rounding explains: join more widely while that mends all.
        shortest = float(pool.lengths().min()) * GAP_EDGE_SHARE
        wider = 10 * join_mm
        while found.faults and wider < min(gap_mm, shortest):
            again = _pooled(pool, used, strands, circles, wider, gap_mm)
            if not again.faults:
                found = again
            wider *= 10
        loops += found.loops
        healed += found.healed
        faults = found.faults
    return Chained(loops=tuple(loops), healed=healed, faults=faults)


def _without_dust(
    edges: Edges, strands: Sequence[Strand], join_mm: float
) -> tuple[Edges, tuple[Healed, ...]]:
    """Return the edges without those of no length, and what was dropped."""
    lengths = edges.lengths()
    dust = lengths <= join_mm
    healed = tuple(
        Healed(
            kind=Healing.ZERO,
            at=Point(float(edges.rows[i, 0]), float(edges.rows[i, 1])),
            origin=strands[edges.owner[i]].origin,
            amount_mm=float(lengths[i]),
        )
        for i in np.flatnonzero(dust)
    )
    return edges.take(~dust), healed


def _kept_loops(edges: Edges, strands: Sequence[Strand]) -> list[Loop]:
    """Return closed strands as loops, as they stand but for their dust."""
    index = np.flatnonzero(edges.kept)
    starts = np.flatnonzero(np.diff(edges.owner[index], prepend=-1))
    loops = []
    for part in np.split(index, starts[1:]):
        if not len(part):
            continue
        rows = edges.rows[part][:, (0, 1, 4)].tolist()
        if len(rows) > 2 or (len(rows) == 2 and any(abs(row[2]) > 0 for row in rows)):
            loops.append(_loop(rows, int(edges.owner[part[0]]), strands))
    return loops


def _loop(rows: list[list[float]], owner: int, strands: Sequence[Strand]) -> Loop:
    """Return rows of (x, y, bulge) as a loop."""
    return Loop(contour=Contour.of(rows), origin=strands[owner].origin)  # type: ignore[arg-type]


def _rings(
    edges: Edges, layer: Ints, join_mm: float
) -> tuple[list[tuple[list[list[float]], int]], Edges, Edges]:
    """Return the rings in which every node joins two edges of one layer, and what is left.

    Args:
        edges: loose edges.
        layer: layer of each strand; edges of different layers do not join here.
    Returns:
        (rows, owner of the first edge) per ring, the edges used, and the edges left.
    """
    if not len(edges):
        return [], edges, edges
    edges, ends, place = _joined(edges, join_mm)
    # The same place on another layer is another node.
    of = layer[edges.owner][:, None] * len(place) + ends
    _, node = np.unique(of, return_inverse=True)
    node = node.astype(np.int64).reshape(-1, 2)
    in_ring = _all_of_degree_two(node)
    rings = [
        (_rows(ring, ends, place, edges), int(edges.owner[ring[0][0]]))
        for ring in ring_walks(node, np.flatnonzero(in_ring))
    ]
    return rings, edges.take(in_ring), edges.take(~in_ring)


def _joined(edges: Edges, join_mm: float) -> tuple[Edges, Ints, Floats]:
    """Return the edges between different nodes, their nodes (shape (n, 2)), and the places."""
    ends, place = nodes_of(edges.rows[:, :4].reshape(-1, 2), join_mm)
    node = ends.reshape(-1, 2)
    apart = node[:, 0] != node[:, 1]
    return edges.take(apart), node[apart], place


def _all_of_degree_two(node: Ints) -> Bools:
    """Return which edges lie in a component whose nodes all join two edges. shape (n, 2)."""
    n = int(node.max()) + 1
    degree = np.bincount(node.ravel(), minlength=n)
    part = components(n, node)
    bad = np.zeros(n, dtype=np.bool_)
    bad[part[degree != 2]] = True
    out: Bools = ~bad[part[node[:, 0]]]
    return out


def _pooled(
    pool: Edges,
    used: Edges,
    strands: Sequence[Strand],
    circles: Sequence[tuple[Point, float]],
    join_mm: float,
    gap_mm: float,
) -> Chained:
    """Return what loops the edges of all layers together give, and what stays open."""
    both, doubled = without_overlaps(
        used.with_more(pool), strands, np.zeros(len(strands), np.int64), join_mm
    )
    pool, node, place = _joined(both.take(~both.kept), join_mm)
    if not len(pool):
        return Chained(loops=(), healed=doubled, faults=())
    healed = [*doubled, *_scattered(pool, node, place, strands)]
    node, place, closed = closed_gaps(node, place, pool, gap_mm)
    healed += [
        Healed(kind=Healing.GAP, at=p, origin=strands[pool.owner[i]].origin, amount_mm=width)
        for i, p, width in closed
        if width > GAP_SILENT_MM
    ]
    in_ring = _all_of_degree_two(node)
    walks = ring_walks(node, np.flatnonzero(in_ring))
    faces = walked(node, place, pool, np.flatnonzero(~in_ring), strands, circles)
    loops: list[Loop] = []
    faults = list(faces.faults)
    for walk in (*walks, *faces.loops):
        rows, owner = _rows(walk, node, place, pool), int(pool.owner[walk[0][0]])
        if len(rows) == 2 and rows[0][2] == 0 == rows[1][2]:
            at = Point(rows[0][0], rows[0][1])
            faults.append(
                Fault(
                    kind=FaultKind.OPEN,
                    at=at,
                    to=at,
                    origin=strands[owner].origin,
                    message=f"two lines beside each other at {place_text(at)} enclose nothing",
                    hint="delete both, or leave out their layer",
                )
            )
        else:
            loops.append(_loop(rows, owner, strands))
    return Chained(loops=tuple(loops), healed=(*healed, *faces.healed), faults=tuple(faults))


def _scattered(pool: Edges, node: Ints, place: Floats, strands: Sequence[Strand]) -> list[Healed]:
    """Return a record for each node whose ends lie visibly apart."""
    off = np.hypot(*(pool.rows[:, :4].reshape(-1, 2) - place[node.reshape(-1)]).T)
    order = np.lexsort((-off, node.reshape(-1)))
    first = np.flatnonzero(np.diff(node.reshape(-1)[order], prepend=-1))
    return [
        Healed(
            kind=Healing.GAP,
            at=Point(*map(float, place[node.reshape(-1)[i]])),
            origin=strands[pool.owner[i // 2]].origin,
            amount_mm=float(off[i]),
        )
        for i in order[first].tolist()
        if off[i] > GAP_SILENT_MM
    ]


def _rows(
    walk: list[tuple[int, bool]], node: Ints, place: Floats, pool: Edges
) -> list[list[float]]:
    """Return the vertices along a walk."""
    index = np.array([i for i, _ in walk])
    forward = np.array([along for _, along in walk])
    bulge = np.where(forward, 1.0, -1.0) * pool.rows[index, 4]
    out: list[list[float]] = np.column_stack(
        (place[node[index, np.where(forward, 0, 1)]], bulge)
    ).tolist()
    return out


def _circles(loops: Sequence[Loop]) -> list[tuple[Point, float]]:
    """Return centre and radius of every loop that is a circle."""
    found = (circle_of(loop.contour) for loop in loops if len(loop.contour.vertices) <= 4)
    return [circle for circle in found if circle is not None]


def circle_of(contour: Contour) -> tuple[Point, float] | None:
    """Return the centre and radius, mm, of a loop whose arcs all lie on one circle."""
    if any(v.bulge == 0 for v in contour.vertices):
        return None
    first, *rest = contour.edges()
    c, r = first.centre, first.radius_mm
    slack = max(COINCIDENT_MM, ROUND_SHARE * r)
    for arc in rest:
        if (
            arc.bulge * first.bulge <= 0
            or math.dist(c, arc.centre) > slack
            or abs(arc.radius_mm - r) > slack
        ):
            return None
    return c, r
