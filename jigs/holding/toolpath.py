"""Where a cutter goes in a set-up: its axis' track, what it sweeps, and the loads it brings.

All in the coordinates of the set-up: the part flipped and turned as it lies, x and y along
the machine's axes, heights from the part's lower face. What a tool sweeps is exact, arcs
kept: a round track swept is an offset of an offset, a straight one a stadium.

A load is worst, on a straight track, at one of its ends (the harm it does is convex in its
place), and the vertices of every track are among the stations; arcs are followed closely.

Refused: an outline the tool's radius cannot follow (named by the offset).
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from jigs.holding.cut import Cut, ToolKind
from jigs.holding.cutting import drill_forces, milling_forces
from jigs.holding.engaged import engaged_widths_mm
from jigs.holding.materials import WorkMaterial
from kerf.boolean import union
from kerf.contour import Contour, Point, Region, Transform
from kerf.offset import offset
from kerf.tolerance import TRACK_FACET_MM

Floats = NDArray[np.float64]

#: Stations along curved tracks are at most this far apart, mm; a longer track is followed in
#: ``MOST_STATIONS`` steps.
STATION_MM: Final = 2.0
MOST_STATIONS: Final = 240
#: ... and the feed turns by no more than this between two of them, rad: 5°.
_STATION_TURN_RAD: Final = math.radians(5.0)
#: Phases of a tooth's turn that are laid on each station.
_PHASES: Final = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolPath:
    """A cut where it is made.

    Args:
        cut: what the job says.
        tracks: runs of the tool's axis, set-up coordinates, mm; a closed one ends where it
            began, a hole is a run of one point.
        low_mm, high_mm: heights above the part's lower face as it lies, mm.
        swept: what the tool passes over, seen from above.
    """

    cut: Cut
    tracks: tuple[tuple[Point, ...], ...]
    low_mm: float
    high_mm: float
    swept: tuple[Region, ...]


def tool_path(
    cut: Cut, outline: Region, *, pose: Transform, height_mm: float, turned_over: bool
) -> ToolPath:
    """Return where a cut is made.

    Args:
        cut: what the job says, part coordinates.
        outline: the part, part coordinates.
        pose: part → set-up.
        height_mm: of the part.
        turned_over: whether the drawn underside is up.
    Raises:
        GeometryError: the outline cannot be offset by the tool's radius.
    """
    radius = cut.radius_mm
    tracks: tuple[tuple[Point, ...], ...]
    if cut.outline:
        lying = Region(outer=outline.outer.transformed(pose))
        axes = offset(lying, radius).regions
        tracks = tuple(_closed_run(region.outer, clockwise=cut.climb) for region in axes)
        swept = tuple(ring for region in axes for ring in _ring(region, radius))
    elif cut.bore is not None:
        at, r = pose.point(*cut.bore.at), cut.bore.diameter_mm / 2 - radius
        circle = Contour.circle(*at, r)
        tracks = (_closed_run(circle, clockwise=not cut.climb),)
        hole = (Contour.circle(*at, r - radius),) if r > radius else ()
        swept = (Region(outer=Contour.circle(*at, r + radius), holes=hole),)
    else:
        points = tuple(pose.point(*p) for p in cut.points)
        if cut.kind is ToolKind.DRILL:
            tracks = tuple((p,) for p in points)
            swept = union(_stadium(p, p, radius) for p in dict.fromkeys(points))
        else:
            tracks = (points,)
            legs = [(a, b) for a, b in itertools.pairwise(points) if a != b]
            swept = union(_stadium(a, b, radius) for a, b in legs)
    low, high = cut.low_mm, cut.high_mm
    if turned_over:
        low, high = height_mm - high, height_mm - low
    return ToolPath(cut=cut, tracks=tracks, low_mm=low, high_mm=high, swept=swept)


def _ring(axis: Region, radius_mm: float) -> tuple[Region, ...]:
    """Return what a tool sweeps whose axis goes round a region's outer loop."""
    filled = Region(outer=axis.outer)
    inner = [loop for kept in offset(filled, -radius_mm).regions for loop in kept.loops()]
    return tuple(
        Region(outer=grown.outer, holes=(*grown.holes, *(loop for loop in inner)))
        for grown in offset(filled, radius_mm).regions
    )


def _stadium(a: Point, b: Point, radius_mm: float) -> Region:
    """Return what a round tool sweeps from a to b; a circle when they are one point."""
    if a == b:
        return Region(outer=Contour.circle(*a, radius_mm))
    dx, dy = b.x - a.x, b.y - a.y
    size = math.hypot(dx, dy)
    nx, ny = -dy / size * radius_mm, dx / size * radius_mm
    return Region(
        outer=Contour.of(
            (
                (a.x - nx, a.y - ny),
                (b.x - nx, b.y - ny, 1.0),
                (b.x + nx, b.y + ny),
                (a.x + nx, a.y + ny, 1.0),
            )
        )
    )


def _closed_run(loop: Contour, *, clockwise: bool) -> tuple[Point, ...]:
    """Return a loop as a run of points that ends where it began."""
    points = [Point(float(x), float(y)) for x, y in loop.facets(TRACK_FACET_MM)]
    points.append(points[0])
    if loop.is_ccw == clockwise:
        points.reverse()
    return tuple(points)


def stations(path: ToolPath) -> Floats:
    """Return where the tool is looked at, and where it is going.

    Returns:
        shape (n, 4): x, y, mm, then the unit direction of feed; zero for a hole. Every corner
        of a straight track is met twice, coming and going.
    """
    rows: list[tuple[float, float, float, float]] = []
    total = sum(math.dist(a, b) for track in path.tracks for a, b in itertools.pairwise(track))
    pitch = max(STATION_MM, total / MOST_STATIONS)
    for track in path.tracks:
        if len(track) == 1:
            rows.append((*track[0], 0.0, 0.0))
            continue
        since, heading = math.inf, math.nan
        for a, b in itertools.pairwise(track):
            length = math.dist(a, b)
            if length == 0.0:
                continue
            ux, uy = (b.x - a.x) / length, (b.y - a.y) / length
            # Short facets of a curve are passed over until a pitch or a turn has gone by.
            now = math.atan2(uy, ux)
            turned = abs(math.remainder(now - heading, math.tau))  # not a number at the start
            if turned < _STATION_TURN_RAD and length < pitch and since + length < pitch:
                since += length
                continue
            count = max(1, math.ceil(length / pitch))
            rows += [
                (a.x + ux * length * i / count, a.y + uy * length * i / count, ux, uy)
                for i in range(count + 1)
            ]
            since, heading = 0.0, now
    return np.array(rows, dtype=np.float64).reshape(-1, 4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """What a cut does to the part along its path.

    Args:
        rows: shape (n, 7): x, y and height z where it acts, mm; force on the part, N, away
            from the bed positive; turning moment about the spindle, N·mm, counter-clockwise
            from above.
        station: shape (n,): which station of the path each row belongs to.
        at: shape (m, 2): the stations, mm.
    """

    rows: Floats
    station: NDArray[np.int64]
    at: Floats


def cut_loads(path: ToolPath, material: WorkMaterial) -> Loads:
    """Return the loads of a cut: every phase of a tooth at every station, engaged as it is there.

    The first pass is the highest, so its load turns the part over most; it acts at the middle
    of the engaged depth.
    """
    where, cut = stations(path), path.cut
    z = max(0.0, path.high_mm - min(cut.depth_mm, path.high_mm - path.low_mm) / 2)
    widths = engaged_widths_mm(cut, path.tracks, where)
    rows, station = [], []
    for width in np.unique(widths):
        at = np.flatnonzero(widths == width)
        local = local_loads(cut, material, through=path.low_mm <= 0.0, engaged_mm=float(width))
        along, left = local[:, 0], local[:, 1]
        ux, uy = where[at, 2:3], where[at, 3:4]
        made = np.empty((len(at), len(local), 7))
        made[:, :, :2] = where[at, None, :2]
        made[:, :, 2] = z
        made[:, :, 3] = ux * along - uy * left
        made[:, :, 4] = uy * along + ux * left
        made[:, :, 5:] = local[:, 2:]
        rows.append(made.reshape(-1, 7))
        station.append(np.repeat(at, len(local)))
    return Loads(rows=np.vstack(rows), station=np.concatenate(station), at=where[:, :2].copy())


def local_loads(
    cut: Cut, material: WorkMaterial, *, through: bool, engaged_mm: float | None = None
) -> Floats:
    """Return what a cut does to the part at one place, seen along its feed.

    Args:
        cut: the cut.
        material: of the part.
        through: whether a drill breaks through.
        engaged_mm: width of the straight cut that engages as much; the cut's own when None.
    Returns:
        shape (n, 4): force along the feed, to its left and away from the bed, N, and moment
        about the spindle, N·mm.
    """
    if cut.kind is not ToolKind.DRILL:
        engaged = cut.engagement
        if engaged_mm is not None:
            engaged = replace(engaged, width_mm=engaged_mm)
        phases = np.array(milling_forces(engaged, material).phases)
        side = np.hypot(phases[:, 0], phases[:, 1])
        every = np.arange(0, len(phases), max(1, len(phases) // _PHASES))
        kept: Floats = phases[np.union1d(every, [side.argmax(), phases[:, 2].argmax()])]
        return kept
    drill = drill_forces(
        diameter_mm=cut.diameter_mm,
        feed_mm_rev=cut.feed_mm,
        material=material,
        helix_rad=abs(cut.helix_rad),
    )
    turn = -drill.torque_nm * 1000
    away = [-drill.thrust_n, *([drill.lift_n] if through else [])]
    return np.array([(0.0, 0.0, force, turn) for force in away])
