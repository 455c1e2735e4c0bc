"""Places on a part's edge where a locator could touch.

Every edge is sampled at an even pitch, ends included, clear of sharp corners (a laser-cut
wall cannot follow them, and a corner has no normal). A place stays if a round nose can get
there without meeting the part elsewhere, and if the nose stands clear of what the cutter
sweeps. Shapely answers both on facets a micrometre fine.

Refused: a pitch, corner distance or nose that is not above zero (0 or more for the latter two).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from jigs.locating.contacts import Contact, ContactKind, part_radius_mm
from kerf.contour import Contour, Floats, Region
from kerf.errors import InputError
from kerf.tolerance import FACET_MM, TANGENT_RAD


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A place where a locator could touch.

    Args:
        contact: the contact it would be; its sources are filled in by who chooses.
        loop, edge: index of the loop in ``Region.loops()``, and of the edge in the loop.
        face_length_mm: length of that edge.
        straight: the edge is a line.
        finished: the edge is already machined, so that it is truer than a sawn one.
    """

    contact: Contact
    loop: int
    edge: int
    face_length_mm: float
    straight: bool
    finished: bool = False


def candidates(
    region: Region,
    *,
    pitch_mm: float,
    corner_mm: float = 0.0,
    nose_mm: float = 0.0,
    cut_zones: tuple[Region, ...] = (),
    on_edge: Callable[[int, int], bool] | None = None,
    finished: Callable[[int, int], bool] | None = None,
    holes: bool = False,
) -> tuple[Candidate, ...]:
    """Return the places on the outline where a locator could touch, in order round the loops.

    Args:
        region: the part, mm.
        pitch_mm: greatest distance between neighbours on one edge, mm, > 0.
        corner_mm: distance kept from corners that are not tangent, mm, >= 0.
        nose_mm: radius of the round nose that must reach the place from outside, mm, >= 0.
        cut_zones: what the cutter sweeps in this set-up; noses stay out of it.
        on_edge: whether an edge (loop, edge) may be touched; all of them when none.
        finished: whether an edge (loop, edge) is already machined.
        holes: also offer the walls of holes.
    Raises:
        InputError: a length out of its range.
    """
    if not (pitch_mm > 0 and corner_mm >= 0 and nose_mm >= 0):
        raise InputError(
            f"a pitch above 0, a corner distance and a nose of 0 mm or more are needed, not "
            f"{pitch_mm:.4g}, {corner_mm:.4g} and {nose_mm:.4g} mm"
        )
    found: list[Candidate] = []
    for number, loop in enumerate(region.loops() if holes else (region.outer,)):
        edges = list(loop.edges())
        for index, edge in enumerate(edges):
            if on_edge is not None and not on_edge(number, index):
                continue
            first = corner_mm if _is_corner(loop, index) else 0.0
            last = edge.length_mm - (corner_mm if _is_corner(loop, index + 1) else 0.0)
            if last < first:
                continue
            count = math.ceil((last - first) / pitch_mm - 1e-9) + 1
            for s in np.linspace(first, last, max(count, 1)):
                t = float(s) / edge.length_mm
                found.append(
                    Candidate(
                        contact=Contact(
                            name="",
                            at=edge.point_at(t),
                            normal=edge.normal_at(t),
                            kind=ContactKind.WALL,
                            on=f"part edge {index}",
                            radius_mm=part_radius_mm(edge),
                        ),
                        loop=number,
                        edge=index,
                        face_length_mm=edge.length_mm,
                        straight=edge.is_line,
                        finished=finished is not None and finished(number, index),
                    )
                )
    keep = _reachable(region, found, nose_mm, cut_zones)
    return tuple(c for c, kept in zip(found, keep, strict=True) if kept)


def _is_corner(loop: Contour, vertex: int) -> bool:
    """Return whether the edges that meet at a vertex are not tangent there."""
    into = loop.edge(vertex - 1).tangent_at(1.0)
    out = loop.edge(vertex).tangent_at(0.0)
    turn = math.atan2(into.x * out.y - into.y * out.x, into.x * out.x + into.y * out.y)
    return abs(turn) > TANGENT_RAD


def _reachable(
    region: Region, found: list[Candidate], nose_mm: float, cut_zones: tuple[Region, ...]
) -> list[bool]:
    """Return which places a round nose reaches without meeting the part or the cutter."""
    if not found:
        return []
    import shapely

    def polygon(shape: Region) -> shapely.Polygon:
        return shapely.Polygon(shape.outer.facets(), [hole.facets() for hole in shape.holes])

    at: Floats = np.array([c.contact.at for c in found])
    nose = at - nose_mm * np.array([c.contact.normal for c in found])
    centres = shapely.points(nose)
    keep = np.ones(len(found), dtype=bool)
    if nose_mm > 0:
        keep &= shapely.distance(polygon(region), centres) >= nose_mm - 2 * FACET_MM
    touch = shapely.points(at)
    for zone in cut_zones:
        swept = polygon(zone)
        keep &= shapely.distance(swept, centres) >= max(nose_mm, FACET_MM)
        keep &= shapely.distance(swept, touch) >= FACET_MM
    return [bool(k) for k in keep]
