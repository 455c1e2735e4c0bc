"""The edges of all strands in arrays, their ends gathered into nodes.

Twenty thousand loose lines must chain in less time than it takes to parse them, so edges
live here as columns, and ends are matched through a grid and a k-d tree instead of one by
one. Arcs over half a turn are split, so that an arc's chord tells its size.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from kerf.contour import Floats, Ints
from kerf.reading.drawing import Strand
from kerf.reading.near import components, near_pairs

Bools = NDArray[np.bool_]
#: A way along edges: (edge, travelled forward) in order.
Walk = list[tuple[int, bool]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """Edges in columns.

    Args:
        rows: shape (n, 5): x0, y0, x1, y1 (mm) and bulge.
        owner: shape (n,): index of the strand each came from.
        kept: shape (n,): whether it belongs to a closed strand, which is never broken up.
    """

    rows: Floats
    owner: Ints
    kept: Bools

    def __len__(self) -> int:
        return len(self.rows)

    def take(self, which: Bools | Ints) -> Edges:
        """Return the edges chosen by a mask or by indices."""
        return Edges(rows=self.rows[which], owner=self.owner[which], kept=self.kept[which])

    def with_more(self, more: Edges) -> Edges:
        """Return these edges followed by others."""
        return Edges(
            rows=np.concatenate((self.rows, more.rows)),
            owner=np.concatenate((self.owner, more.owner)),
            kept=np.concatenate((self.kept, more.kept)),
        )

    def chords(self) -> Floats:
        """Return the distance between the ends of each edge, mm."""
        r = self.rows
        out: Floats = np.hypot(r[:, 2] - r[:, 0], r[:, 3] - r[:, 1])
        return out

    def lengths(self) -> Floats:
        """Return the length along each edge, mm."""
        b = np.abs(self.rows[:, 4])
        safe = np.where(b > 0, b, 1.0)
        out: Floats = self.chords() * np.where(b > 0, (1 + b * b) / safe * np.arctan(b), 1.0)
        return out


def edges_of(strands: Sequence[Strand]) -> Edges:
    """Return every edge of the strands, arcs over half a turn in two pieces."""
    rows: list[tuple[float, ...]] = []
    owner: list[int] = []
    kept: list[bool] = []
    for i, strand in enumerate(strands):
        vertices = strand.rows
        for (x0, y0, bulge), (x1, y1, _) in pairwise(vertices):
            rows.append((x0, y0, x1, y1, bulge))
        count = len(vertices) - 1
        if strand.closed:
            (x0, y0, bulge), (x1, y1, _) = vertices[-1], vertices[0]
            rows.append((x0, y0, x1, y1, bulge))
            count += 1
        owner.extend([i] * count)
        kept.extend([strand.closed] * count)
    edges = Edges(
        rows=np.array(rows, dtype=np.float64).reshape(-1, 5),
        owner=np.array(owner, dtype=np.int64),
        kept=np.array(kept, dtype=np.bool_),
    )
    return _halved(edges)


def _halved(edges: Edges) -> Edges:
    """Return the edges with every arc over half a turn in two equal pieces, in order."""
    wide = np.abs(edges.rows[:, 4]) > 1.0
    if not wide.any():
        return edges
    out = edges.take(np.repeat(np.arange(len(edges)), np.where(wide, 2, 1)))
    first = np.flatnonzero(wide) + np.arange(int(wide.sum()))
    x0, y0, x1, y1, b = edges.rows[wide].T
    # A positive bulge puts the arc to the right of its chord.
    x, y = (x0 + x1) / 2 + b * (y1 - y0) / 2, (y0 + y1) / 2 - b * (x1 - x0) / 2
    half = b / (1 + np.sqrt(1 + b * b))
    out.rows[first] = np.column_stack((x0, y0, x, y, half))
    out.rows[first + 1] = np.column_stack((x, y, x1, y1, half))
    return out


def diagonal_mm(rows: Floats) -> float:
    """Return the diagonal of the box round the ends of edges, mm. rows: shape (n, 5)."""
    if not len(rows):
        return 0.0
    xs, ys = rows[:, 0:4:2], rows[:, 1:4:2]
    return math.hypot(float(np.ptp(xs)), float(np.ptp(ys)))


def nodes_of(points: Floats, within_mm: float) -> tuple[Ints, Floats]:
    """Gather points into nodes.

    Args:
        points: shape (n, 2), mm.
        within_mm: points closer than this, or linked by such points, are one node.
    Returns:
        the node of each point, numbered in order of first appearance, and the position of
        each node: that of its first point, unchanged.
    """
    if not len(points):
        return np.zeros(0, dtype=np.int64), np.zeros((0, 2))
    # A grid finer than the tolerance first, so that a heap of equal points stays one point.
    cell = np.round((points - points.min(axis=0)) / (within_mm / 4))
    _, first, inverse = np.unique(
        cell[:, 0] + 1j * cell[:, 1], return_index=True, return_inverse=True
    )
    label: Ints = np.asarray(inverse, dtype=np.int64).reshape(-1)
    pairs = near_pairs(points[first], within_mm)
    if len(pairs):
        label = components(len(first), pairs)[label]
    _, first, inverse = np.unique(label, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.int64)
    rank[np.argsort(first)] = np.arange(len(first))
    return rank[np.asarray(inverse).reshape(-1)], points[np.sort(first)]


def ring_walks(node: Ints, chosen: Ints) -> list[Walk]:
    """Return the rings that edges form, each from its first-drawn edge on.

    Args:
        node: shape (edges, 2): node at each end.
        chosen: edges among which every node joins exactly two.
    """
    at: dict[int, list[int]] = {}
    pairs = dict(zip(chosen.tolist(), node[chosen].tolist(), strict=True))
    for i, (a, b) in pairs.items():
        at.setdefault(a, []).append(i)
        at.setdefault(b, []).append(i)
    seen: set[int] = set()
    rings = []
    for first in pairs:
        if first in seen:
            continue
        ring: Walk = []
        i, here = first, pairs[first][0]
        while i not in seen:
            seen.add(i)
            forward = pairs[i][0] == here
            ring.append((i, forward))
            here = pairs[i][1] if forward else pairs[i][0]
            one, other = at[here]
            i = other if one == i else one
        rings.append(ring)
    return rings
