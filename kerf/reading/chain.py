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
from kerf.reading.drawing import Fault, Healed, Healing, Origin, Strand
from kerf.reading.edges import Bools, Edges, diagonal_mm, edges_of, nodes_of, ring_walks
from kerf.reading.faces import walked
from kerf.reading.gaps import closed_gaps
from kerf.reading.overlap import without_overlaps
from kerf.tolerance import (
    COINCIDENT_MM,
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
    loose = edges.take(~edges.kept)
    rings, left = _rings(loose, layer[loose.owner], join_mm)
    loops += [_loop(rows, owner, strands) for rows, owner in rings]
    faults: tuple[Fault, ...] = ()
    if left.any():
        pool = loose.take(left)
        if len(layers) > 1:
            # A stretch another layer has already used for its loop is a second drawing of it.
            used = edges.take(edges.kept).with_more(loose.take(~left))
            used = Edges(rows=used.rows, owner=used.owner, kept=np.ones(len(used), np.bool_))
            both, doubled = without_overlaps(
                used.with_more(pool), strands, np.zeros_like(layer), join_mm
            )
            pool = both.take(~both.kept)
            healed += doubled
        circles = _circles(loops)
        found, mended, faults = _pooled(pool, strands, circles, join_mm, gap_mm)
        loops += found
        healed += mended
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
) -> tuple[list[tuple[list[list[float]], int]], Bools]:
    """Return the rings in which every node joins two edges of one layer, and what is left.

    Args:
        edges: loose edges.
        layer: shape (edges,): edges of different layers do not join here.
    Returns:
        (rows, owner of the first edge) per ring, and a mask of the edges in no ring.
    """
    if not len(edges):
        return [], np.zeros(0, dtype=np.bool_)
    ends, place = nodes_of(edges.rows[:, :4].reshape(-1, 2), join_mm)
    # The same place on another layer is another node.
    _, node = np.unique(np.repeat(layer, 2) * len(place) + ends, return_inverse=True)
    node = node.astype(np.int64).reshape(-1)
    in_ring = _all_of_degree_two(node.reshape(-1, 2))
    rings = [
        (_rows(ring, ends.reshape(-1, 2), place, edges), int(edges.owner[ring[0][0]]))
        for ring in ring_walks(node.reshape(-1, 2), np.flatnonzero(in_ring))
    ]
    return rings, ~in_ring


def _all_of_degree_two(node: Ints) -> Bools:
    """Return which edges lie in a component whose nodes all join two edges. shape (n, 2)."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    n = int(node.max()) + 1
    degree = np.bincount(node.ravel(), minlength=n)
    graph = coo_array((np.ones(len(node)), (node[:, 0], node[:, 1])), shape=(n, n))
    count, part = connected_components(graph, directed=False)
    bad = np.zeros(count, dtype=np.bool_)
    bad[part[degree != 2]] = True
    out: Bools = ~bad[part[node[:, 0]]]
    return out


def _pooled(
    pool: Edges,
    strands: Sequence[Strand],
    circles: Sequence[tuple[Point, float]],
    join_mm: float,
    gap_mm: float,
) -> tuple[list[Loop], tuple[Healed, ...], tuple[Fault, ...]]:
    """Return what loops the edges of all layers together give, and what stays open."""
    if not len(pool):
        return [], (), ()
    ends, place = nodes_of(pool.rows[:, :4].reshape(-1, 2), join_mm)
    node = ends.reshape(-1, 2)
    node, place, closed = closed_gaps(node, place, pool, gap_mm)
    healed = [
        Healed(kind=Healing.GAP, at=p, origin=strands[pool.owner[i]].origin, amount_mm=width)
        for i, p, width in closed
        if width > GAP_SILENT_MM
    ]
    in_ring = _all_of_degree_two(node)
    walks = ring_walks(node, np.flatnonzero(in_ring))
    rest = np.flatnonzero(~in_ring)
    faces = walked(node, place, pool, rest, strands, circles)
    loops = [
        _loop(_rows(walk, node, place, pool), int(pool.owner[walk[0][0]]), strands)
        for walk in (*walks, *faces.loops)
    ]
    return loops, (*healed, *faces.healed), faces.faults


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
