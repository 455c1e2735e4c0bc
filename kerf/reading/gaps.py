"""Small gaps between loose ends, closed where only one way of closing them makes sense.

The smallest gap is closed first. A gap stays open when a third loose end lies about as near,
when an edge at it is short beside it, or when closing it would shut an edge on itself. Two
lines that stop just short of their corner are run on to it; other ends meet half way.
"""

from __future__ import annotations

import math

import numpy as np

from kerf.contour import Floats, Ints, Point
from kerf.reading.edges import Edges
from kerf.tolerance import GAP_EDGE_SHARE, GAP_RIVAL, STRAIGHT_BULGE


def closed_gaps(
    node: Ints, place: Floats, edges: Edges, gap_mm: float
) -> tuple[Ints, Floats, list[tuple[int, Point, float]]]:
    """Join loose ends that a gap of at most gap_mm parts.

    Args:
        node: shape (edges, 2): node at each end.
        place: shape (nodes, 2), mm.
        edges: the edges.
        gap_mm: widest gap to close, mm.
    Returns:
        node and place after joining, and (edge, where, width) of each gap closed.
    """
    from scipy.spatial import cKDTree

    degree = np.bincount(node.ravel(), minlength=len(place))
    loose = np.flatnonzero(degree == 1)
    if len(loose) < 2:
        return node, place, []
    # Rivals lie up to GAP_RIVAL gaps away; each end needs only its few nearest neighbours.
    k = min(4, len(loose))
    found = cKDTree(place[loose]).query(place[loose], k=k, distance_upper_bound=GAP_RIVAL * gap_mm)
    away, other = (np.asarray(column).reshape(len(loose), k) for column in found)
    edge_at = np.empty(len(place), dtype=np.int64)
    end_at = np.empty(len(place), dtype=np.int64)
    for end in (0, 1):
        edge_at[node[:, end]] = np.arange(len(node))
        end_at[node[:, end]] = end
    lengths = edges.lengths()
    wanted: list[tuple[float, int, int]] = []
    for i in range(len(loose)):
        near = [
            (float(d), int(j))
            for d, j in zip(away[i], other[i], strict=True)
            if j < len(loose) and j != i
        ]
        if not near or near[0][0] > gap_mm:
            continue
        if len(near) > 1 and near[1][0] < GAP_RIVAL * near[0][0]:
            continue
        wanted.append((near[0][0], i, near[0][1]))
    choice = {i: j for _, i, j in wanted}
    node, place = node.copy(), place.copy()
    closed: list[tuple[int, Point, float]] = []
    for width, i, j in sorted(wanted):
        if i > j or choice.get(j) != i:
            continue
        a, b = int(loose[i]), int(loose[j])
        ea, eb = int(edge_at[a]), int(edge_at[b])
        if width > GAP_EDGE_SHARE * min(lengths[ea], lengths[eb]):
            continue
        if ea == eb and abs(edges.rows[ea, 4]) <= STRAIGHT_BULGE:
            continue
        at = _meeting(edges.rows[ea], int(end_at[a]), edges.rows[eb], int(end_at[b]), width)
        node[node == b] = a
        place[a] = at
        closed.append((ea, at, width))
    return node, place, closed


def _meeting(one: Floats, end: int, other: Floats, other_end: int, gap_mm: float) -> Point:
    """Return where two loose ends are brought together, mm."""
    p, q = one[2 * end : 2 * end + 2], other[2 * other_end : 2 * other_end + 2]
    half = Point(float(p[0] + q[0]) / 2, float(p[1] + q[1]) / 2)
    if one[4] != 0 or other[4] != 0:
        return half
    u, v = one[2:4] - one[0:2], other[2:4] - other[0:2]
    cross = float(u[0] * v[1] - u[1] * v[0])
    if abs(cross) < 0.1 * float(np.hypot(*u)) * float(np.hypot(*v)):
        return half
    t = float((other[0] - one[0]) * v[1] - (other[1] - one[1]) * v[0]) / cross
    corner = Point(float(one[0] + t * u[0]), float(one[1] + t * u[1]))
    reach = max(math.dist(corner, p), math.dist(corner, q))
    return corner if reach <= 2 * gap_mm else half
