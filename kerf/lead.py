"""Where a cut begins, how the beam gets there, and tabs that hold a piece.

Where the beam pierces it leaves a wider spot, and where a loop closes it leaves a witness. So
the start of a path is moved away from every stretch that locates, by preference to the turn
about an outside corner, where the beam touches no face at all; the pierce lies in scrap, to
the right of travel, and its straight way in is proven to come no nearer to the path than its
own foot. Tabs are put on request only, evenly, and never on a stretch that locates.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from kerf.beam import BeamPath
from kerf.contour import Contour, Floats, Point, Vertex
from kerf.errors import GeometryError
from kerf.tolerance import (
    COINCIDENT_MM,
    GREATEST_KERF_MM,
    LEAST_LEAD_MM,
    SEAM_CLEAR_MM,
    STRAIGHT_BULGE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A straight stretch of wall that locates; start and end are one point for a contact.

    Args:
        start, end: sheet coordinates, mm.
    """

    start: Point
    end: Point

    def distance_mm(self, x: float, y: float) -> float:
        """Return the distance from (x, y), mm."""
        dx, dy = self.end.x - self.start.x, self.end.y - self.start.y
        square = dx * dx + dy * dy
        t = 0.0
        if square > 0.0:
            t = ((x - self.start.x) * dx + (y - self.start.y) * dy) / square
            t = min(1.0, max(0.0, t))
        return math.hypot(x - self.start.x - t * dx, y - self.start.y - t * dy)


def with_lead_in(path: BeamPath, *, lead_mm: float, keep_clear: Sequence[Stretch] = ()) -> BeamPath:
    """Return the path begun where it harms least, with its way in from a pierce in scrap.

    Args:
        path: without tabs.
        lead_mm: length of the way in, mm, >= 0; shortened where scrap is narrow, and left
            out (pierce on the path) below ``LEAST_LEAD_MM``. For an outline it must be less
            than the gap to the neighbouring piece.
        keep_clear: stretches that locate.
    Raises:
        GeometryError: the path has tabs, or the length is not a finite number from 0 up.
    """
    if path.tabs:
        raise GeometryError(f'"{path.piece}": a lead-in is set before tabs, not after')
    if not 0.0 <= lead_mm < math.inf:
        raise GeometryError(f"a lead-in must be 0 mm or longer, not {lead_mm:.4g} mm")
    index, share = _start(path.contour, keep_clear)
    contour = begun_at(path.contour, index, share)
    edge = path.contour.edge(index)
    normal = edge.normal_at(share)
    foot = contour.vertices[0]
    length = lead_mm
    while length >= LEAST_LEAD_MM:
        pierce = Point(foot.x - length * normal.x, foot.y - length * normal.y)
        # If nothing is nearer to the pierce than its foot, nothing is nearer all the way in.
        if contour.nearest(*pierce)[2] >= length - COINCIDENT_MM:
            return replace(path, contour=contour, lead_in=(pierce,))
        length /= 2
    return replace(path, contour=contour, lead_in=())


def with_tabs(
    path: BeamPath, *, count: int, width_mm: float, keep_clear: Sequence[Stretch] = ()
) -> BeamPath:
    """Return the path with ``count`` uncut tabs, as even as the stretches that locate allow.

    Args:
        path: the cut.
        count: 0 takes tabs away.
        width_mm: length left uncut, along the path, mm, > 0.
        keep_clear: stretches that locate; no tab comes within ``SEAM_CLEAR_MM`` of them.
    Raises:
        GeometryError: there is no room for that many tabs off the stretches that locate.
    """
    if count < 0 or not width_mm > 0.0:
        raise GeometryError("tabs need a count from 0 up and a width above 0 mm")
    length = path.contour.length_mm
    step = min(width_mm / 2, length / 400)
    taken: list[float] = []
    for i in range(count):
        ideal = length * (i + 0.5) / count
        # Outward from the ideal place, both ways, until a place is free.
        for j in range(int(length / step) + 1):
            s = ideal + step * ((j + 1) // 2) * (1 if j % 2 else -1)
            if not width_mm < s < length - width_mm:
                continue
            apart = all(abs(s - t) >= 3 * width_mm for t in taken)
            if apart and _is_clear(path.contour, s, width_mm, keep_clear):
                taken.append(s)
                break
        else:
            raise GeometryError(
                f'"{path.piece}": no room for tab {i + 1} of {count}, {width_mm:.2f} mm wide, '
                "off the faces that locate",
                hint="ask for fewer or narrower tabs, or hold the piece another way",
            )
    tabs = tuple((s - width_mm / 2, s + width_mm / 2) for s in sorted(taken))
    return replace(path, tabs=tabs)


def burnt_runs(path: BeamPath) -> tuple[tuple[Vertex, ...], ...]:
    """Return what the beam really follows: open runs, lead-in first, tabs left out.

    Each run's last vertex has bulge 0. A path with neither is one run that ends where it began.
    """
    length = path.contour.length_mm
    cuts = [0.0, *(s for tab in path.tabs for s in tab), length]
    runs = [_run(path.contour, a, b) for a, b in zip(cuts[::2], cuts[1::2], strict=True)]
    runs[0] = (*(Vertex(p.x, p.y) for p in path.lead_in), *runs[0])
    return tuple(runs)


def begun_at(contour: Contour, index: int, share: float) -> Contour:
    """Return the same loop begun on an edge, at a share of its length.

    Args:
        contour: the loop.
        index: edge.
        share: 0 at its start, below 1.
    """
    vs = contour.vertices
    n = len(vs)
    index %= n
    rest = [vs[(index + k) % n] for k in range(1, n)]
    edge = contour.edge(index)
    if share * edge.length_mm <= COINCIDENT_MM:
        return Contour(vertices=(vs[index], *rest))
    here = edge.point_at(share)
    first = Vertex(here.x, here.y, _part_bulge(edge.bulge, 1.0 - share))
    last = Vertex(vs[index].x, vs[index].y, _part_bulge(edge.bulge, share))
    return Contour(vertices=(first, *rest, last))


def _part_bulge(bulge: float, share: float) -> float:
    """Return the bulge of a share of an edge: tan of a quarter of its turn."""
    return 0.0 if abs(bulge) <= STRAIGHT_BULGE else math.tan(share * math.atan(bulge))


def _run(contour: Contour, from_mm: float, to_mm: float) -> tuple[Vertex, ...]:
    """Return the loop between two lengths from its first vertex, as an open run."""
    out: list[Vertex] = []
    at = 0.0
    for edge in contour.edges():
        length = edge.length_mm
        a, b = max(from_mm, at), min(to_mm, at + length)
        if b - a > COINCIDENT_MM:
            p = edge.point_at((a - at) / length)
            out.append(Vertex(p.x, p.y, _part_bulge(edge.bulge, (b - a) / length)))
            end = edge.point_at((b - at) / length)
        at += length
    return (*out, Vertex(end.x, end.y))


def _start(contour: Contour, keep_clear: Sequence[Stretch]) -> tuple[int, float]:
    """Return the edge and share where the path best begins.

    First far enough from every stretch that locates, or as far as can be; then on the turn
    about an outside corner; then on the longest edge.
    """
    places: list[tuple[int, float, bool, float]] = []
    points: list[Point] = []
    for index, edge in enumerate(contour.edges()):
        length = edge.length_mm
        turns_corner = edge.bulge > 0 and edge.radius_mm <= GREATEST_KERF_MM / 2
        pieces = max(2, 2 * min(50, math.ceil(length / SEAM_CLEAR_MM)))
        for k in range(1, pieces):
            share = k / pieces
            # Middles of edges by length, other places by nearness to the middle.
            middle = round(length * (1 - abs(2 * share - 1)), 3)
            places.append((index, share, turns_corner, middle))
            points.append(edge.point_at(share))
    clear = _clearances_mm(np.array(points), keep_clear)
    keys = [
        (round(min(float(d), SEAM_CLEAR_MM), 3), turns, middle)
        for d, (_, _, turns, middle) in zip(clear, places, strict=True)
    ]
    best = max(range(len(keys)), key=keys.__getitem__)
    return places[best][:2]


def _clearances_mm(points: Floats, keep_clear: Sequence[Stretch]) -> Floats:
    """Return the distance of each point from the nearest stretch, mm; infinite without any."""
    if not keep_clear:
        return np.full(len(points), math.inf)
    start = np.array([s.start for s in keep_clear], dtype=float)
    step = np.array([s.end for s in keep_clear], dtype=float) - start
    square = np.maximum((step**2).sum(axis=1), np.finfo(float).tiny)
    away = points[:, None, :] - start
    t = np.clip((away * step).sum(axis=2) / square, 0.0, 1.0)
    out: Floats = np.hypot(*(away - t[..., None] * step).transpose(2, 0, 1)).min(axis=1)
    return out


def _is_clear(
    contour: Contour, s_mm: float, width_mm: float, keep_clear: Sequence[Stretch]
) -> bool:
    """Return whether a tab about s_mm keeps off every stretch that locates."""
    room = SEAM_CLEAR_MM + width_mm / 2
    return all(stretch.distance_mm(*contour.point_at(s_mm)) >= room for stretch in keep_clear)
