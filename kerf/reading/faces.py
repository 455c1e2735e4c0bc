"""Edges that do not form plain rings: dead ends cut back, branches walked, the rest reported.

A dead end is cut back when a closed loop remains without it and it cannot be one side of a
gap: when it is the only one hanging from its loop, or an overshoot short beside the loop.

Where more than two edges meet, each face of the drawing is walked by turning as far left as
the node allows at every step. The faces are loops when every edge has a
face on one side only, as when two outlines touch at a corner. An edge between two faces might
be a border or a mere line across a part; nobody can tell, so it is reported.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerf.contour import Edge, Floats, Ints, Point
from kerf.reading.drawing import Fault, FaultKind, Healed, Healing, Origin, Strand, place_text
from kerf.reading.edges import Edges, Walk, ring_walks
from kerf.tolerance import CENTRE_MARK_OFF, CENTRE_MARK_REACH, OVERSHOOT_SHARE, TEE_SHARE


@dataclass(frozen=True, slots=True, kw_only=True)
class Faces:
    """Loops as walks of (edge, travelled forward), what was mended, and what is wrong."""

    loops: tuple[Walk, ...]
    healed: tuple[Healed, ...]
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class _Web:
    """The edges in question with their ends, one after the other."""

    node: Ints
    place: Floats
    edges: Edges
    strands: Sequence[Strand]

    def ends(self, i: int) -> tuple[int, int]:
        return int(self.node[i, 0]), int(self.node[i, 1])

    def point(self, n: int) -> Point:
        return Point(float(self.place[n, 0]), float(self.place[n, 1]))

    def origin(self, i: int) -> Origin:
        return self.strands[int(self.edges.owner[i])].origin

    def edge(self, i: int) -> Edge:
        a, b = self.ends(i)
        return Edge(start=self.point(a), end=self.point(b), bulge=float(self.edges.rows[i, 4]))


def walked(
    node: Ints,
    place: Floats,
    edges: Edges,
    chosen: Ints,
    strands: Sequence[Strand],
    circles: Sequence[tuple[Point, float]],
) -> Faces:
    """Return the loops among the chosen edges.

    Args:
        node: shape (edges, 2): node at each end.
        place: shape (nodes, 2), mm.
        edges, strands: the edges and what they came from.
        chosen: indices of the edges to look at: whole components.
        circles: centre and radius, mm, of the loops that are circles; lines through their
            centres that meet nothing are centre marks.
    """
    web = _Web(node, place, edges, strands)
    core, trees = _peeled(web, chosen.tolist())
    loops: list[Walk] = []
    healed: list[Healed] = []
    faults: list[Fault] = []
    open_ends: list[tuple[int, int, float]] = []
    for part in _parts(web, chosen.tolist(), barrier=frozenset()):
        inner = [i for i in part if i in core]
        if not inner:
            mark = _centre_mark(web, part, circles)
            if mark is not None:
                healed.append(mark)
            else:
                open_ends += _ends(web, part)
            continue
        nodes = frozenset(n for i in inner for n in web.ends(i))
        outer = [i for i in part if i in trees]
        tails = _parts(web, outer, barrier=nodes)
        size = _diagonal(web, inner)
        for tail in tails:
            length = sum(web.edge(i).length_mm for i in tail)
            tip = _tip(web, tail, nodes)
            if len(tails) == 1 or length <= OVERSHOOT_SHARE * size:
                if _touches(web, tip, inner, TEE_SHARE * size):
                    faults.append(_tee(web, tip, tail[0]))
                    continue
                healed.append(
                    Healed(
                        kind=Healing.DEAD_END,
                        at=web.point(tip),
                        origin=web.origin(tail[0]),
                        amount_mm=length,
                    )
                )
            else:
                open_ends.append((tip, tail[0], length))
        found, more_healed, more_faults = _faces(web, inner)
        loops += found
        healed += more_healed
        faults += more_faults
    faults += _open_faults(web, open_ends)
    return Faces(loops=tuple(loops), healed=tuple(healed), faults=tuple(faults))


def _peeled(web: _Web, chosen: list[int]) -> tuple[set[int], set[int]]:
    """Return the edges that lie on a loop or between loops, and those on dead ends."""
    at = _at(web, chosen)
    degree = {n: len(of) for n, of in at.items()}
    stack = [n for n, d in degree.items() if d == 1]
    gone: set[int] = set()
    while stack:
        n = stack.pop()
        for i in at[n]:
            if i in gone:
                continue
            gone.add(i)
            a, b = web.ends(i)
            other = b if a == n else a
            degree[other] -= 1
            if degree[other] == 1:
                stack.append(other)
    return set(chosen) - gone, gone


def _at(web: _Web, chosen: Sequence[int]) -> dict[int, list[int]]:
    """Return the edges at each node; an edge that returns to its node stands there twice."""
    at: dict[int, list[int]] = {}
    for i in chosen:
        for n in web.ends(i):
            at.setdefault(n, []).append(i)
    return at


def _parts(web: _Web, chosen: Sequence[int], barrier: frozenset[int]) -> list[list[int]]:
    """Return the connected groups of edges, where nodes in ``barrier`` connect nothing."""
    at = _at(web, chosen)
    seen: set[int] = set()
    parts = []
    for first in chosen:
        if first in seen:
            continue
        seen.add(first)
        part, todo = [], [first]
        while todo:
            i = todo.pop()
            part.append(i)
            for n in web.ends(i):
                if n in barrier:
                    continue
                for j in at[n]:
                    if j not in seen:
                        seen.add(j)
                        todo.append(j)
        parts.append(sorted(part))
    return parts


def _diagonal(web: _Web, part: Sequence[int]) -> float:
    """Return the diagonal of the box round the nodes of some edges, mm."""
    at = web.place[web.node[list(part)].ravel()]
    return math.hypot(*map(float, np.ptp(at, axis=0)))


def _ends(web: _Web, part: Sequence[int]) -> list[tuple[int, int, float]]:
    """Return (node, edge, length of the part) at each loose end of a part."""
    length = sum(web.edge(i).length_mm for i in part)
    return [(n, of[0], length) for n, of in _at(web, part).items() if len(of) == 1]


def _tip(web: _Web, tail: Sequence[int], nodes: frozenset[int]) -> int:
    """Return the loose end of a dead end: the first one that is not on the loop."""
    return next(n for n, of in _at(web, tail).items() if len(of) == 1 and n not in nodes)


def _touches(web: _Web, tip: int, inner: Sequence[int], within_mm: float) -> bool:
    """Return whether a loose end lies on the middle of an edge of the loop."""
    p = web.point(tip)
    return any(web.edge(i).nearest(*p)[1] <= within_mm for i in inner)


def _tee(web: _Web, tip: int, i: int) -> Fault:
    """Return the fault of an edge that ends in the middle of another."""
    p = web.point(tip)
    return Fault(
        kind=FaultKind.BRANCH,
        at=p,
        to=p,
        origin=web.origin(i),
        message=f"an edge ends at {place_text(p)} in the middle of another edge",
        hint="trim or split the edges there, or leave out the layer of what is no outline",
    )


def _centre_mark(
    web: _Web, part: Sequence[int], circles: Sequence[tuple[Point, float]]
) -> Healed | None:
    """Return the record of a centre mark when straight edges all aim at one circle's centre."""
    edges = [web.edge(i) for i in part]
    if len(part) > 8 or not all(edge.is_line for edge in edges):
        return None
    for centre, radius in circles:
        if all(_aims(edge, centre, radius) for edge in edges):
            return Healed(
                kind=Healing.CENTRE_MARK,
                at=centre,
                origin=web.origin(part[0]),
                amount_mm=sum(edge.length_mm for edge in edges),
            )
    return None


def _aims(edge: Edge, centre: Point, radius_mm: float) -> bool:
    """Return whether a line points at a circle's centre, reaches into it, and ends near it."""
    along = edge.tangent_at(0)
    x, y = centre.x - edge.start.x, centre.y - edge.start.y
    off = abs(along.x * y - along.y * x)
    far = max(math.dist(edge.start, centre), math.dist(edge.end, centre))
    return (
        off <= CENTRE_MARK_OFF * radius_mm
        and far <= CENTRE_MARK_REACH * radius_mm
        and edge.nearest(*centre)[1] < radius_mm
    )


def _open_faults(web: _Web, ends: Sequence[tuple[int, int, float]]) -> list[Fault]:
    """Return a fault per loose end, or per pair of ends that are each other's nearest."""
    if not ends:
        return []
    from scipy.spatial import cKDTree

    at = web.place[[n for n, _, _ in ends]]
    # Two ends at one place (distance 0 to another) still need a neighbour other than oneself.
    found = cKDTree(at).query(at, k=min(3, len(ends)))
    away, near = (np.asarray(column).reshape(len(ends), -1) for column in found)
    nearest = []
    for i in range(len(ends)):
        others = [(float(d), int(j)) for d, j in zip(away[i], near[i], strict=True) if j != i]
        nearest.append(others[0] if others else (math.inf, i))
    faults = []
    for i, (n, edge, length) in enumerate(ends):
        gap, j = nearest[i]
        mutual = nearest[j][1] == i and gap < min(length, ends[j][2]) / 2
        if not mutual:
            faults.append(_loose_end(web, n, edge, gap))
        elif i < j:
            faults.append(_gap(web, n, ends[j][0], edge, gap))
    return faults


def _gap(web: _Web, n: int, other: int, i: int, gap_mm: float) -> Fault:
    """Return the fault of two loose ends that belong together."""
    p, q = web.point(n), web.point(other)
    return Fault(
        kind=FaultKind.OPEN,
        at=p,
        to=q,
        origin=web.origin(i),
        message=(
            f"the outline is open: a gap of {gap_mm:.4g} mm between {place_text(p)} "
            f"and {place_text(q)}"
        ),
        hint="close the gap in the drawing",
    )


def _loose_end(web: _Web, n: int, i: int, gap_mm: float) -> Fault:
    """Return the fault of a loose end that belongs to no other."""
    p = web.point(n)
    return Fault(
        kind=FaultKind.OPEN,
        at=p,
        to=p,
        origin=web.origin(i),
        message=f"an edge ends at {place_text(p)} and meets nothing"
        + (f"; the nearest loose end is {gap_mm:.4g} mm away" if math.isfinite(gap_mm) else ""),
        hint="close the outline in the drawing, or leave out the layer of what is no outline",
    )


def _faces(web: _Web, inner: list[int]) -> tuple[list[Walk], list[Healed], list[Fault]]:
    """Return the loops of one core by walking its faces, or the fault of its branches."""
    branch = [n for n, of in _at(web, inner).items() if len(of) > 2]
    if not branch:
        return ring_walks(web.node, np.array(inner)), [], []
    fan: dict[int, list[tuple[int, bool]]] = {}
    for i in inner:
        a, b = web.ends(i)
        fan.setdefault(a, []).append((i, True))
        fan.setdefault(b, []).append((i, False))
    place: dict[tuple[int, bool], int] = {}
    for leaving in fan.values():
        leaving.sort(key=lambda half: _heading(web, *half))
        place |= {half: k for k, half in enumerate(leaving)}
    face_of: dict[tuple[int, bool], int] = {}
    faces: list[Walk] = []
    for start in place:
        if start in face_of:
            continue
        walk: Walk = []
        half = start
        while half not in face_of:
            face_of[half] = len(faces)
            walk.append(half)
            i, forward = half
            leaving = fan[web.ends(i)[1 if forward else 0]]
            # The next one clockwise from the way back is the leftmost.
            half = leaving[place[(i, not forward)] - 1]
        faces.append(walk)
    bounded = [_area(web, walk) > 0 for walk in faces]
    for i in inner:
        left, right = face_of[(i, True)], face_of[(i, False)]
        if left == right or (bounded[left] and bounded[right]):
            return [], [], [_branch_fault(web, branch, i, len(fan))]
    healed = [
        Healed(kind=Healing.BRANCH, at=web.point(n), origin=web.origin(fan[n][0][0]), amount_mm=0.0)
        for n in branch
    ]
    return [walk for walk, ok in zip(faces, bounded, strict=True) if ok], healed, []


def _heading(web: _Web, i: int, forward: bool) -> tuple[float, float]:
    """Return (direction, curvature) of an edge as it leaves a node, for sorting round it."""
    edge = web.edge(i) if forward else web.edge(i).reversed()
    chord = math.atan2(edge.end.y - edge.start.y, edge.end.x - edge.start.x)
    angle = round((chord - edge.sweep_rad / 2) % (2 * math.pi), 6)
    bend = 0.0 if edge.is_line else math.copysign(1.0 / edge.radius_mm, edge.bulge)
    return (0.0 if angle >= round(2 * math.pi, 6) else angle), bend


def _area(web: _Web, walk: Walk) -> float:
    """Return the signed area of a walk, mm²."""
    total = 0.0
    x0, y0 = web.point(web.ends(walk[0][0])[0])
    for i, forward in walk:
        edge = web.edge(i) if forward else web.edge(i).reversed()
        total += (edge.start.x - x0) * (edge.end.y - y0) - (edge.end.x - x0) * (edge.start.y - y0)
        if not edge.is_line:
            a = edge.sweep_rad
            total += edge.radius_mm**2 * (a - math.sin(a))
    return total / 2


def _branch_fault(web: _Web, branch: list[int], i: int, nodes: int) -> Fault:
    """Return the fault of an outline that can be followed more than one way."""
    ends = [n for n in web.ends(i) if n in branch] or branch
    p = web.point(ends[0])
    return Fault(
        kind=FaultKind.BRANCH,
        at=p,
        to=p,
        origin=web.origin(i),
        message=(
            f"edges branch at {place_text(p)}"
            + (f" and at {len(branch) - 1} other places" if len(branch) > 1 else "")
            + ": the outline can be followed more than one way"
        ),
        hint="remove the line that is no outline, or leave out its layer",
    )
