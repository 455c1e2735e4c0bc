"""How the part comes out: straight up, or sliding in the plane, and whether it wedges.

A part of one section always lifts straight out of a cut wall. Sliding: from its nominal place
a part moves freely along a direction that no wall near it opposes, n · d ≥ 0 for every normal
n of a wall within the clearance: an arc of directions, its ends square to two walls, exact.
Whether it also gets clear is a second question: the outline is swept along the middle and the
ends of the arc and the swept area must lie in the free space. A slide between two parallel
walls wedges when pushed too far off its middle; ``greatest_offset_mm`` gives the limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from jigs.locating.meetings import Bodies, Meetings
from jigs.locating.within import lies_within, polygon
from kerf.contour import Contour, Region
from kerf.errors import GeometryError
from kerf.tolerance import COINCIDENT_MM, FREE_WAY_RAD, TOUCH_FOUL_MM

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slide:
    """An arc of directions along which the part leaves its place.

    Args:
        from_rad, to_rad: ends of the arc, counter-clockwise, from +x; to_rad >= from_rad,
            equal where there is one direction only.
        clear: for the start, middle and end of the arc: whether the part slides by the
            asked distance and meets nothing.
    """

    from_rad: float
    to_rad: float
    clear: tuple[bool, bool, bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class WaysOut:
    """How the part comes out.

    Args:
        lifts: whether it lifts straight out; a part of one section always does.
        slides: arcs of free directions in the plane; empty where walls stand all round.
    """

    lifts: bool
    slides: tuple[Slide, ...]


def ways_out(
    part: Region, pocket_void: Region, *, clearance_mm: float, distance_mm: float
) -> WaysOut:
    """Return how a part of one section comes out of its guide.

    Args:
        part: outline and bores, at the nominal pose.
        pocket_void: free space in part coordinates; for an open guide, as far as it is open.
        clearance_mm: walls as near as this oppose a slide, mm, >= 0.
        distance_mm: how far a slide must get to be clear, mm, > 0.
    Raises:
        GeometryError: a negative clearance or a distance not above 0.
    """
    if not (clearance_mm >= 0.0 and distance_mm > 0.0):
        raise GeometryError(
            f"a slide needs a clearance of 0 mm or more and a distance above 0 mm, "
            f"not {clearance_mm:.4g} and {distance_mm:.4g} mm"
        )
    room = clearance_mm + TOUCH_FOUL_MM
    meetings = Bodies.of(part, pocket_void, origin=part.bounds().centre).within(room)
    gaps, rows, pairs = meetings.rows(0.0, 0.0, 0.0)
    normals = rows[(gaps <= room) & ~_without_direction(meetings, pairs), :2]
    slides = tuple(
        Slide(
            from_rad=start,
            to_rad=end,
            clear=tuple(  # type: ignore[arg-type]
                _slides_clear(part, pocket_void, angle, distance_mm)
                for angle in (start, (start + end) / 2, end)
            ),
        )
        for start, end in _free_arcs(normals)
    )
    return WaysOut(lifts=True, slides=slides)


def _without_direction(meetings: Meetings, pairs: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Return which rows are of an arc lying concentric in a hollow one.

    Such a pair touches all round and not in one direction: its facets, which follow, say where.
    """
    c = meetings.circles
    centred = (c[:, 5] < 0.0) & (np.hypot(c[:, 0] - c[:, 2], c[:, 1] - c[:, 3]) <= COINCIDENT_MM)
    number = len(meetings.fixed) + len(meetings.turning) + np.flatnonzero(centred)
    out: NDArray[np.bool_] = np.zeros(len(pairs), dtype=np.bool_)
    found, first = np.unique(pairs, return_index=True)
    out[first[np.isin(found, number)]] = True
    return out


def _free_arcs(normals: Floats) -> list[tuple[float, float]]:
    """Return the arcs of directions with n · d ≥ 0 for every normal, at most two (opposite)."""
    if not len(normals):
        return [(-math.pi, math.pi)]
    angle = np.arctan2(normals[:, 1], normals[:, 0])
    ends = np.concatenate((angle - math.pi / 2, angle + math.pi / 2))
    ends = (ends + math.pi) % (2 * math.pi) - math.pi
    size = np.hypot(normals[:, 0], normals[:, 1])

    def free(direction: Floats) -> NDArray[np.bool_]:
        along = np.cos(direction[:, None] - angle) * size
        out: NDArray[np.bool_] = np.asarray((along >= -FREE_WAY_RAD).all(axis=1))
        return out

    open_ends: Floats = np.sort(ends[free(ends)])
    apart = np.diff(np.concatenate((open_ends[-1:] - 2 * math.pi, open_ends)))
    open_ends = open_ends[apart > 4 * FREE_WAY_RAD] if len(open_ends) > 1 else open_ends
    arcs: list[tuple[float, float]] = []
    taken: set[int] = set()
    for i, start in enumerate(open_ends):
        j = (i + 1) % len(open_ends)
        width = float((open_ends[j] - start) % (2 * math.pi))
        middle = np.array([start + width / 2])
        if 0.0 < width <= math.pi + FREE_WAY_RAD and bool(free(middle)[0]):
            arcs.append((float(start), float(start) + width))
            taken |= {i, j}
    arcs += [(float(e), float(e)) for i, e in enumerate(open_ends) if i not in taken]
    return arcs


def _slides_clear(part: Region, void: Region, angle_rad: float, distance_mm: float) -> bool:
    """Return whether the part, slid along a direction, meets nothing."""
    step = distance_mm * np.array((math.cos(angle_rad), math.sin(angle_rad)))
    swept = [_swept(loop, step) for loop in part.loops()]
    body = shapely.union_all([polygon(part), *swept])
    return lies_within(body, polygon(void), TOUCH_FOUL_MM)


def _swept(loop: Contour, step: Floats) -> shapely.Geometry:
    """Return the area a loop's edges pass over when shifted by a step."""
    start = loop.facets()
    end = np.roll(start, -1, axis=0)
    quads = np.stack((start, end, end + step, start + step), axis=1)
    shapes = shapely.polygons(quads)
    return shapely.union_all(shapely.make_valid(shapes))


def greatest_offset_mm(*, guidance_mm: float, friction: float) -> float:
    """Return how far off its middle a slide between parallel walls may be pushed, mm.

    Pushed by F at an offset e, the part bears on opposite walls at the two ends of its
    guidance L with N each. Moments: F e = N L; friction on the two walls, alike and either
    side of the middle, adds none. It moves while F > 2 μ N, so while e < L / (2 μ). The
    clearance sets how far it tilts first (``tilt_rad``), not whether it wedges.

    Args:
        guidance_mm: length over which the walls guide the part, mm, > 0.
        friction: coefficient, > 0; 0.61 dry aluminium on steel, 0.15 to 0.2 greased.
    Raises:
        GeometryError: a length or coefficient not above 0.
    Source: equilibrium of the drawer, derived above; friction as in values.md §9.
    """
    if not (guidance_mm > 0.0 and friction > 0.0):
        raise GeometryError("wedging needs a guidance and a friction above 0")
    return guidance_mm / (2 * friction)


def tilt_rad(*, guidance_mm: float, width_mm: float, clearance_mm: float) -> float:
    """Return how far a slide of this length and width tilts between parallel walls, rad.

    L sin t + b cos t = b + c, the pocket's width: the rectangle of values.md §4.

    Args:
        guidance_mm, width_mm: length along and width across the walls, mm, > 0.
        clearance_mm: across both walls, mm, >= 0.
    Raises:
        GeometryError: a length out of its range, or a clearance that lets the part turn over.
    Source: closed form of the rectangle in a pocket, checked in tests.
    """
    size = math.hypot(guidance_mm, width_mm)
    if not (guidance_mm > 0.0 and width_mm > 0.0 and clearance_mm >= 0.0):
        raise GeometryError("tilt needs lengths above 0 mm and a clearance of 0 mm or more")
    if width_mm + clearance_mm >= size:
        raise GeometryError(
            f"a part {guidance_mm:.4g} × {width_mm:.4g} mm turns over between walls "
            f"{width_mm + clearance_mm:.4g} mm apart",
            hint="lengthen the guidance or close the walls",
        )
    return math.atan2(guidance_mm, width_mm) - math.acos((width_mm + clearance_mm) / size)
