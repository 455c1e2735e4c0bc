"""Where on the outline a push square to the edge seats every contact and gets there.

Places down in a pocket that no finger reaches are left out and, for a clamp that stays, places
that a cut of this set-up passes; stretches that run on over a smooth joint count as one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from jigs.checks.machining import Machining
from jigs.guides.guide import Guide
from jigs.locating.clamping import ClampPlace, clamp_places
from jigs.locating.contacts import Contact
from jigs.locating.within import polygon
from jigs.part import Part
from jigs.setup import Setup
from kerf.contour import Contour, Point, Vector
from kerf.tolerance import COINCIDENT_MM

Bools = NDArray[np.bool_]

#: Least length of edge that a finger or clamp finds, mm. Source: common practice.
FINGER_MM: Final = 3.0
#: A finger gets down between part and wall where the gap is at least this wide, mm; elsewhere
#: the part must stand this far out of the plate. Source: common practice.
FINGER_ROOM_MM: Final = 6.0
PROUD_MM: Final = 2.0
#: A finger runs on over a joint of two edges whose normals differ by less than 10° (cosine).
_SMOOTH: Final = math.cos(math.radians(10.0))
#: Points at which an edge is asked whether it can be reached lie this far apart, mm.
_STEP_MM: Final = 0.5


class Reach:
    """Where a finger gets at the part, and where a cut of the set-up passes.

    Args:
        part, guide: as they lie on one another.
        setup, machined: the set-up and its cuts.
    """

    def __init__(self, part: Part, guide: Guide, setup: Setup, machined: Machining) -> None:
        self.loop = part.region.outer
        self._cut = _cut_away(setup, machined)
        top = max(plate.low_mm + plate.thickness_mm for plate in guide.plates)
        sunk = guide.room is not None and guide.seat_mm + part.height_mm < top + PROUD_MM
        self._wall = polygon(guide.room).boundary if sunk and guide.room is not None else None

    def by_finger(self, points: Sequence[Point]) -> Bools:
        """Return at which points of the outline a finger finds room."""
        if self._wall is None:
            return np.ones(len(points), dtype=np.bool_)
        out: Bools = shapely.distance(shapely.points(points), self._wall) >= FINGER_ROOM_MM
        return out

    def in_cut(self, points: Sequence[Point]) -> Bools:
        """Return at which points of the outline a cut passes."""
        if self._cut is None:
            return np.zeros(len(points), dtype=np.bool_)
        out: Bools = np.asarray(shapely.intersects(self._cut, shapely.points(points)))
        return out


def seating_places(
    reach: Reach, flat: Sequence[Contact], friction: float, *, stays: bool
) -> tuple[tuple[ClampPlace, ...], float]:
    """Return the stretches that seat all contacts and can be reached, and at which friction.

    Those without friction are taken where none that a finger finds seats with it.

    Args:
        reach: where a finger gets.
        flat: three contacts that fix the part in the plane.
        friction: at the contacts.
        stays: whether it presses while the part is cut, so that no cut may pass there.
    """
    short: tuple[tuple[ClampPlace, ...], float] = (), friction
    for mu in dict.fromkeys((friction, 0.0)):
        found = clamp_places(reach.loop, flat, friction=mu)
        kept = _joined([p for place in found for p in _reached(place, reach, stays)], reach.loop)
        if not kept:
            continue
        kept.sort(key=lambda p: (p.start_mm - p.end_mm, p.start_mm))
        if kept[0].end_mm - kept[0].start_mm >= FINGER_MM:
            return tuple(kept), mu
        short = short if short[0] else (tuple(kept), mu)
    return short


def _joined(places: Sequence[ClampPlace], loop: Contour) -> list[ClampPlace]:
    """Return the stretches with those made one that run on over a smooth joint."""
    out: list[ClampPlace] = []
    for place in places:
        if out and place.start_mm - out[-1].end_mm <= COINCIDENT_MM:
            a = loop.normal_at(place.start_mm - COINCIDENT_MM)
            b = loop.normal_at(place.start_mm + COINCIDENT_MM)
            if a.x * b.x + a.y * b.y >= _SMOOTH:
                out[-1] = replace(out[-1], end_mm=place.end_mm, end=place.end)
                continue
        out.append(place)
    return out


def _reached(place: ClampPlace, reach: Reach, stays: bool) -> list[ClampPlace]:
    """Return what is left of a stretch where a finger gets at it and, if it stays, no cut goes."""
    loop = reach.loop
    length = place.end_mm - place.start_mm
    count = max(2, math.ceil(length / _STEP_MM) + 1)
    steps = np.linspace(place.start_mm, place.end_mm, count)
    points = [loop.point_at(float(s)) for s in steps]
    free = reach.by_finger(points)
    if stays:
        free &= ~reach.in_cut(points)
    if free.all():
        return [place]
    edges = np.flatnonzero(np.diff(np.concatenate(([0], free.astype(np.int8), [0]))))
    return [
        replace(
            place,
            start_mm=float(steps[a]),
            end_mm=float(steps[b - 1]),
            start=loop.point_at(float(steps[a])),
            end=loop.point_at(float(steps[b - 1])),
        )
        for a, b in edges.reshape(-1, 2)
        if b - a > 1
    ]


def _cut_away(setup: Setup, machined: Machining) -> shapely.Geometry | None:
    """Return what the cuts of the set-up sweep, part coordinates; None for nothing."""
    to_part = setup.pose().inverse()
    swept = [
        polygon(region.transformed(to_part)) for path in machined.paths for region in path.swept
    ]
    return shapely.union_all(swept) if swept else None


def outline_points(loop: Contour, place: ClampPlace) -> tuple[tuple[Point, Vector], ...]:
    """Return points along a stretch of a loop with the normals into the part, for a picture."""
    count = max(2, math.ceil((place.end_mm - place.start_mm) / _STEP_MM) + 1)
    steps = np.linspace(place.start_mm, place.end_mm, count)
    # A hair within the stretch, so that its end is not taken for the next edge's start.
    steps[[0, -1]] += COINCIDENT_MM * np.array([1.0, -1.0])
    return tuple((loop.point_at(float(s)), loop.normal_at(float(s))) for s in steps)
