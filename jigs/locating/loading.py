"""Whether the part can go in the wrong way, how near to it, and a stop that would keep it out.

Every placement is looked for: both sides up, all turns, any shift. A map of the signed
distance to the wall is laid over the free space once. From some hundred turns (every 3°, and
every turn at which an edge of the part lies along an edge of the wall) the outline slides
downhill on that map to the place where it stands least in the wall. The few places that
foul by little are then settled on the exact gaps (``meetings``): the shift and turn that leave
the least overlap, by sequential linear programmes. A turn at which edges align is given as
that turn, exactly, where the part fits at it.

``turn_rad`` is counter-clockwise about the middle of the part's bounding box; a flipped part
is first turned over about the vertical line through that point (x changes sign). A part that
fits at any turn is one wrong way whose turn is None. Overlap is the least depth by which
outline and wall overlap at the worst spot; what fits has none.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from jigs.locating.free_turn import free_turn_centre
from jigs.locating.linear import summit
from jigs.locating.meetings import Bodies, Meetings
from jigs.locating.slack import Pin
from jigs.locating.within import lies_within, polygon
from kerf.contour import Contour, Point, Region, Transform
from kerf.errors import GeometryError
from kerf.tolerance import (
    RELATIVE_ROUNDING,
    SAME_HEADING_RAD,
    SETTLED_SHARE,
    TOUCH_FOUL_MM,
    TOUCH_MM,
)

Floats = NDArray[np.float64]

#: Turns tried every so many radians, and points of the outline that slide on the map.
_EVERY_RAD, _POINTS = math.radians(3.0), 64

#: Cells of the map along the longer side of the free space.
_CELLS = 110

#: Two placements closer than this are one: the same turn, and the same shift.
_SAME_RAD, _SAME_MM = 0.03, 0.5

#: Turn within which an edge of the part is taken to lie along an edge of the wall.
_ALIGNED_RAD = 0.02

#: Most placements settled exactly on each side: a gear of more teeth shows its first ones.
_MOST = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongWay:
    """A placement other than the right one that fits, or fouls by less than the margin.

    Args:
        turn_rad: turn, counter-clockwise, in (−π, π]; None when any turn fits.
        flipped: whether the part is turned over first.
        overlap_mm: least overlap at the worst spot, mm; 0 when it fits.
        fits: whether it goes in.
        x_mm, y_mm: shift of the middle of the bounding box there, mm.
    """

    turn_rad: float | None
    flipped: bool
    overlap_mm: float
    fits: bool
    x_mm: float = 0.0
    y_mm: float = 0.0

    def placed(self, part: Region) -> Region:
        """Return the part as it lies there (any turn: as drawn, or turned over)."""
        c = part.bounds().centre
        return part.transformed(
            _placing(c, self.turn_rad or 0.0, self.flipped, self.x_mm, self.y_mm)
        )


def wrong_ways(
    part: Region, pocket_void: Region, *, margin_mm: float, pins: tuple[Pin, ...] = ()
) -> tuple[WrongWay, ...]:
    """Return every wrong way the part goes in, and those that foul by up to the margin.

    Args:
        part: outline and bores, at the nominal pose.
        pocket_void: free space in part coordinates.
        margin_mm: overlap up to which a near miss is listed, mm, >= 0.
        pins: pins that stand in the free space.
    Returns:
        wrong ways, not flipped first, by turn.
    Raises:
        GeometryError: a negative margin.
    """
    if not margin_mm >= 0.0:
        raise GeometryError(
            f"the margin for near misses is {margin_mm:.4g} mm; it must be 0 or more"
        )
    void = replace(pocket_void, holes=(*pocket_void.holes, *(pin.outline() for pin in pins)))
    centre = part.bounds().centre
    field, room = _Map.of(void, centre), polygon(void)
    found: list[WrongWay] = []
    for flipped in (False, True):
        body = part.transformed(_placing(centre, 0.0, flipped, 0.0, 0.0))
        if free_turn_centre(body, void) is not None:
            found.append(WrongWay(turn_rad=None, flipped=flipped, overlap_mm=0.0, fits=True))
            continue
        bodies = Bodies.of(body, void, origin=centre)
        edges = _edge_turns(body, void)
        starts = (
            _on_pins(body, pins, centre)
            if pins
            else _likely(field, body, void, centre, edges, margin_mm)
        )
        ways = [
            way
            for start in starts
            if (way := _settled(bodies, edges, start, flipped, margin_mm)) is not None
            and _stands(way, part, room, pins)
        ]
        found += sorted(_apart(ways), key=lambda way: (way.turn_rad or 0.0, way.x_mm, way.y_mm))
    return tuple(found)


def _stands(way: WrongWay, part: Region, room: shapely.Polygon, pins: tuple[Pin, ...]) -> bool:
    """Return whether a placement lies in the free space, each pin in a bore."""
    placed = way.placed(part)
    if not lies_within(polygon(placed), room, 1.5 * way.overlap_mm + TOUCH_FOUL_MM):
        return False
    return all(any(bore.contains(*pin.at) for bore in placed.holes) for pin in pins)


def _on_pins(
    body: Region, pins: tuple[Pin, ...], centre: Point
) -> list[tuple[float, float, float]]:
    """Return placements x, y, turn that put bores over the pins."""
    bores = [hole.bounds().centre for hole in body.holes]
    one, other = max(
        ((a, b) for a in pins for b in pins),
        key=lambda pair: math.hypot(pair[0].at.x - pair[1].at.x, pair[0].at.y - pair[1].at.y),
    )
    apart = math.hypot(other.at.x - one.at.x, other.at.y - one.at.y)
    aim = math.atan2(other.at.y - one.at.y, other.at.x - one.at.x)
    out: list[tuple[float, float, float]] = []
    for bore in bores:
        if apart == 0.0:
            turns = [float(t) for t in np.arange(0.0, 2 * math.pi, _EVERY_RAD)]
        else:
            turns = [
                aim - math.atan2(mate.y - bore.y, mate.x - bore.x)
                for mate in bores
                if abs(math.hypot(mate.x - bore.x, mate.y - bore.y) - apart)
                <= one.diameter_mm + other.diameter_mm
                and mate is not bore
            ]
        for turn in turns:
            at = Transform.rotation(turn, about=centre).point(*bore)
            out.append((one.at.x - at.x, one.at.y - at.y, turn))
    return out


def _placing(c: Point, turn_rad: float, flipped: bool, x_mm: float, y_mm: float) -> Transform:
    """Return the map of a placement: turned over about c, turned about c, shifted."""
    over = Transform(a=-1.0, c=2 * c.x) if flipped else Transform()
    return over.then(Transform.rotation(turn_rad, about=c)).then(Transform.translation(x_mm, y_mm))


def _apart(ways: list[WrongWay]) -> list[WrongWay]:
    """Return the wrong ways without doubles, and without the right way."""
    out: list[WrongWay] = []
    for way in sorted(ways, key=lambda w: w.overlap_mm):
        turn = way.turn_rad or 0.0
        if not way.flipped and abs(turn) < _SAME_RAD:
            continue
        if all(_turned(turn - (w.turn_rad or 0.0)) >= _SAME_RAD for w in out):
            out.append(way)
    return out


def _turned(angle_rad: float) -> float:
    """Return the size of a turn, rad, in [0, π]."""
    return abs((angle_rad + math.pi) % (2 * math.pi) - math.pi)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Map:
    """Signed distance to the wall, positive in free space, with its slopes, on a grid.

    Args:
        corner: lower left corner of the grid, mm.
        cell_mm: spacing.
        values: distance, slope along x, slope along y; shape (3, rows, columns).
    """

    corner: tuple[float, float]
    cell_mm: float
    values: Floats

    @classmethod
    def of(cls, void: Region, origin: Point) -> _Map:
        """Return the map, seen from ``origin``, of a free space and a quarter more round it."""
        box = void.bounds()
        wide = max(box.width, box.height)
        cell = 1.5 * wide / _CELLS
        x = np.arange(box.x_min - wide / 4, box.x_max + wide / 4, cell)
        y = np.arange(box.y_min - wide / 4, box.y_max + wide / 4, cell)
        grid = np.stack(np.meshgrid(x, y), axis=2).reshape(-1, 2)
        away = np.full(len(grid), np.inf)
        for loop in void.loops():
            away = np.minimum(away, _distances(loop, grid))
        room = polygon(void)
        shapely.prepare(room)
        free = shapely.contains_xy(room, grid[:, 0], grid[:, 1])
        signed = np.where(free, away, -away).reshape(len(y), len(x))
        up, along = np.gradient(signed, cell)
        return cls(
            corner=(float(x[0]) - origin.x, float(y[0]) - origin.y),
            cell_mm=cell,
            values=np.stack((signed, along, up)),
        )

    def at(self, x: Floats, y: Floats) -> Floats:
        """Return distance and slopes at points, shape (3, …), bilinear."""
        _, rows, columns = self.values.shape
        u = np.clip((x - self.corner[0]) / self.cell_mm, 0.0, columns - 1.001)
        v = np.clip((y - self.corner[1]) / self.cell_mm, 0.0, rows - 1.001)
        i, j = v.astype(np.intp), u.astype(np.intp)
        s, t = v - i, u - j
        f = self.values
        out: Floats = (1 - s) * ((1 - t) * f[:, i, j] + t * f[:, i, j + 1]) + s * (
            (1 - t) * f[:, i + 1, j] + t * f[:, i + 1, j + 1]
        )
        return out


def _distances(loop: Contour, points: Floats) -> Floats:
    """Return the distance of points, shape (n, 2), to a loop, mm. Exact."""
    best = np.full(len(points), np.inf)
    for edge in loop.edges():
        dx, dy = points[:, 0] - edge.start.x, points[:, 1] - edge.start.y
        if edge.is_line:
            u, length = edge.tangent_at(0.0), edge.chord_mm
            t = np.clip(dx * u.x + dy * u.y, 0.0, length)
            away = np.hypot(dx - t * u.x, dy - t * u.y)
        else:
            c, half = edge.centre, abs(edge.sweep_rad) / 2
            middle = edge.point_at(0.5)
            mx, my = (middle.x - c.x) / edge.radius_mm, (middle.y - c.y) / edge.radius_mm
            px, py = points[:, 0] - c.x, points[:, 1] - c.y
            out = np.hypot(px, py)
            ends = np.minimum(
                np.hypot(dx, dy), np.hypot(points[:, 0] - edge.end.x, points[:, 1] - edge.end.y)
            )
            over = px * mx + py * my >= math.cos(min(half, math.pi)) * out
            away = np.where(over, np.abs(out - edge.radius_mm), ends)
        best = np.minimum(best, away)
    return best


def _outline_points(body: Region, void: Region) -> Floats:
    """Return corners of the outline and points spread along it, shape (n, 2), mm."""
    loops = body.loops() if void.holes else (body.outer,)
    total = sum(loop.length_mm for loop in loops)
    rows = []
    for loop in loops:
        rows.append(loop.array()[:, :2])
        count = max(6, round(_POINTS * loop.length_mm / total))
        rows.append(np.array([loop.point_at(loop.length_mm * k / count) for k in range(count)]))
    return np.vstack(rows)


def _edge_turns(body: Region, void: Region) -> Floats:
    """Return the turns at which a straight edge of the body lies along one of the wall."""
    own, wall = (
        np.array(
            [
                math.atan2(edge.tangent_at(0.0).y, edge.tangent_at(0.0).x)
                for edge in region.outer.edges()
                if edge.is_line
            ]
        )
        for region in (body, void)
    )
    turns = (wall[:, None] - own[None]).ravel() % (2 * math.pi)
    out: Floats = np.unique(np.round(turns, 9))
    return out


def _likely(
    field: _Map, body: Region, void: Region, centre: Point, edges: Floats, margin_mm: float
) -> list[tuple[float, float, float]]:
    """Return placements x, y, turn that stand little in the wall, best first."""
    points = _outline_points(body, void) - centre
    near = np.unique(np.round(edges / (_EVERY_RAD / 4)))
    turn = np.concatenate((np.arange(0.0, 2 * math.pi, _EVERY_RAD), near * (_EVERY_RAD / 4)))
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    px = cos * points[:, 0] - sin * points[:, 1]
    py = sin * points[:, 0] + cos * points[:, 1]
    # Start with the boxes' middles together, in the middle of the free space's own box too.
    middle = void.bounds().centre
    x = middle.x - centre.x - (px.max(axis=1) + px.min(axis=1)) / 2
    y = middle.y - centre.y - (py.max(axis=1) + py.min(axis=1)) / 2
    seeds = [(x, y)] + [
        (x + dx, y + dy)
        for dx in (-3 * field.cell_mm, 3 * field.cell_mm)
        for dy in (-3 * field.cell_mm, 3 * field.cell_mm)
    ]
    depth = [
        np.minimum(field.at(px + a[:, None], py + b[:, None])[0], 0.0).sum(axis=1) for a, b in seeds
    ]
    pick = np.argmax(depth, axis=0)
    x = np.choose(pick, [s[0] for s in seeds])
    y = np.choose(pick, [s[1] for s in seeds])
    lever = float(np.hypot(points[:, 0], points[:, 1]).max())
    for _ in range(12):
        x, y, turn, _ = _slid(field, points, x, y, turn, lever)
    worst = _slid(field, points, x, y, turn, lever)[3]
    limit = margin_mm + 0.75 * field.cell_mm
    order = [int(k) for k in np.argsort(worst, kind="stable") if worst[k] <= limit]
    out: list[tuple[float, float, float]] = []
    for k in order:
        same = any(
            _turned(turn[k] - t) < _SAME_RAD and math.hypot(x[k] - a, y[k] - b) < _SAME_MM * 2
            for a, b, t in out
        )
        if not same and len(out) < _MOST:
            out.append((float(x[k]), float(y[k]), float(turn[k])))
    return out


def _slid(
    field: _Map, points: Floats, x: Floats, y: Floats, turn: Floats, lever: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return placements one Gauss–Newton step further out of the wall, and the worst depth."""
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    px = cos * points[:, 0] - sin * points[:, 1]
    py = sin * points[:, 0] + cos * points[:, 1]
    away, east, north = field.at(px + x[:, None], py + y[:, None])
    short = np.minimum(away, 0.0)
    rows = np.stack((east, north, (north * px - east * py) / lever), axis=2)
    rows = rows * (short < 0.0)[:, :, None]
    normal = np.einsum("nki,nkj->nij", rows, rows) + 1e-3 * np.eye(3)
    step = np.linalg.solve(normal, -np.einsum("nki,nk->ni", rows, short)[:, :, None])[:, :, 0]
    size = np.abs(step).max(axis=1, initial=1e-9)
    step = step * np.minimum(1.0, 4 * field.cell_mm / size)[:, None]
    return x + step[:, 0], y + step[:, 1], turn + step[:, 2] / lever, -short.min(axis=1)


def _settled(
    bodies: Bodies,
    edges: Floats,
    start: tuple[float, float, float],
    flipped: bool,
    margin_mm: float,
) -> WrongWay | None:
    """Return the placement near ``start`` that overlaps least, None when beyond the margin."""
    pose = np.array(start)
    most = margin_mm + max(2.0 * margin_mm, 1.0)
    for _ in range(2):
        meetings = bodies.placed(*pose).within(most, fouling_mm=most)
        step, clear = _clearest(meetings, free_turn=True)
        pose = pose + step
        if np.abs(step).max() < TOUCH_MM:
            break
    overlap = max(0.0, -clear)
    if overlap > margin_mm + TOUCH_MM:
        return None
    off = (edges - pose[2] + math.pi) % (2 * math.pi) - math.pi
    nearest = float(off[np.argmin(np.abs(off))]) if len(off) else math.inf
    if abs(nearest) <= _ALIGNED_RAD:
        aligned = pose + np.array((0.0, 0.0, nearest))
        meetings = bodies.placed(*aligned).within(most, fouling_mm=most)
        step, held = _clearest(meetings, free_turn=False)
        if max(0.0, -held) <= overlap + TOUCH_MM:
            pose, overlap = aligned + step, min(overlap, max(0.0, -held))
    turned = float((pose[2] + math.pi) % (2 * math.pi) - math.pi)
    turned = math.pi if turned <= -math.pi + SAME_HEADING_RAD else turned
    return WrongWay(
        turn_rad=0.0 if abs(turned) < SAME_HEADING_RAD else turned,
        flipped=flipped,
        overlap_mm=overlap if overlap > TOUCH_MM else 0.0,
        fits=overlap <= TOUCH_MM,
        x_mm=float(pose[0]),
        y_mm=float(pose[1]),
    )


def _clearest(meetings: Meetings, *, free_turn: bool) -> tuple[Floats, float]:
    """Return the pose at which the least gap is greatest, and that gap, mm.

    Sequential linear programmes in x, y, turn and the gap itself, in a trust region.
    """
    scale = np.array((1.0, 1.0, meetings.lever_mm))
    pose, room = np.zeros(3), meetings.room_mm
    gap, rows, _ = meetings.rows(0.0, 0.0, 0.0)
    least, trust = float(gap.min(initial=room)), room / 2
    for _ in range(40):
        turning = trust if free_turn else RELATIVE_ROUNDING
        table = np.column_stack((-rows / scale, np.ones(len(rows))))
        box = np.array((trust, trust, turning, 2 * room))
        best = summit(np.array((0.0, 0.0, 0.0, 1.0)), table, gap, box)
        if best is None:
            break
        promised = min(float(best.point[3]), room) - least
        if promised <= SETTLED_SHARE:
            break
        trial = pose + best.point[:3] / scale
        if np.abs(trial * scale).max() > room:
            trust *= 0.5
            if trust < TOUCH_MM:
                break
            continue
        trial_gap, trial_rows, _ = meetings.rows(*trial)
        won = float(trial_gap.min(initial=room)) - least
        if won > 0.1 * promised:
            pose, gap, rows, least = trial, trial_gap, trial_rows, least + won
        trust *= 2.0 if won > 0.75 * promised else 0.3 if won < 0.25 * promised else 1.0
        trust = min(trust, room)
    return pose, least
