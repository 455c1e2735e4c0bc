"""The extremes of the set of poses a part can take, to first order and exactly.

To first order the set is a polytope and its extremes are linear programmes. Exactly: at a
fixed turn every gap is a half-plane or a disc in (x, y), so the extremes of that slice lie
where two of those curves cross, or at a disc's own extreme. All crossings are made and those
that foul nothing are kept, which needs no convexity. Across turns the extremes are piecewise
smooth: the range of turn is sliced, refined round each peak, and each peak is run to its
corner by sequential linear programmes on the exact gaps. A set that runs out of the reach the
pairs were gathered for is refused, never cut short.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jigs.locating.linear import summit
from jigs.locating.meetings import Meetings
from kerf.tolerance import COINCIDENT_MM, PARALLEL_SINE, RELATIVE_ROUNDING, SETTLED_SHARE, TOUCH_MM

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Bools = NDArray[np.bool_]

#: What is to be as great as can be: its value at a pose, and its gradient.
Goal = Callable[[Floats], tuple[float, Floats]]

#: Overlap from which a pair joins those that shape the set, mm: ten times what touching is.
_JOINS_MM = 10 * TOUCH_MM

#: Slices of the range of turn in the first pass, and in each refinement of a peak.
_SLICES, _REFINED = 25, 7

#: Most steps of a climb, and what a millimetre of overlap weighs against one of the goal.
_STEPS, _PENALTY = 40, 10.0

#: Share of an extreme within which a second peak is refined as well.
_RIVAL = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Extremes:
    """Extremes of the pose set.

    Args:
        along: for each point: greatest displacement along +x, −x, +y, −y and in magnitude,
            shape (n, 5), mm.
        ccw_rad, cw_rad: greatest turns.
        widest_mm: greatest of the travels of the origin and lever × turn.
        binding: indices of the pairs that shape the set.
        pose: x, y, turn at the extremes; the exact ones in the order of ``along``, then the
            turns.
        attained: whether every extreme pose is one that ``holds``; where not, the travel is
            no less than the true one.
    """

    along: Floats
    ccw_rad: float
    cw_rad: float
    widest_mm: float
    binding: Indices
    pose: Floats
    attained: bool = True


def first_order_extremes(meetings: Meetings, points: Floats) -> Extremes | None:
    """Return the extremes of the polytope of first-order gaps, None when it is unbounded."""
    gap, gradient, pair = meetings.rows(0.0, 0.0, 0.0)
    lever = meetings.lever_mm
    rows = -gradient / (1.0, 1.0, lever)
    box = np.full(3, meetings.room_mm)

    binding: list[Indices] = []
    poses: list[Floats] = []

    def furthest(goal: Floats) -> tuple[float, Floats] | None:
        best = summit(goal, rows, gap, box)
        if best is None or best.at_box:
            return None
        binding.append(pair[best.rows])
        poses.append(best.point / (1.0, 1.0, lever))
        return float(goal @ best.point), best.point

    turns = [furthest(np.array((0.0, 0.0, s))) for s in (1.0, -1.0)]
    if turns[0] is None or turns[1] is None:
        return None
    along = np.zeros((len(points), 5))
    for i, (px, py) in enumerate(points):
        jacobian = np.array(((1.0, 0.0, -py / lever), (0.0, 1.0, px / lever)))
        for k, u in enumerate(
            ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (-1, -1), (1, -1))
        ):
            found = furthest(np.array(u, dtype=np.float64) @ jacobian)
            if found is None:
                return None
            if k < 4:
                along[i, k] = found[0]
            moved = jacobian @ found[1]
            for _ in range(8):  # a vertex of the polytope is reached in a few steps
                size = float(np.hypot(*moved))
                if size <= along[i, 4]:
                    break
                along[i, 4] = size
                again = furthest(moved / size @ jacobian)
                if again is None:
                    return None
                moved = jacobian @ again[1]
    ccw, cw = turns[0][0] / lever, turns[1][0] / lever
    out = max(float(along[0, :4].max()), lever * max(ccw, cw))
    return Extremes(
        along=along,
        ccw_rad=ccw,
        cw_rad=cw,
        widest_mm=out,
        binding=np.unique(np.concatenate(binding)),
        pose=np.array(poses),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Slices:
    """Admissible extremes of slices of the pose set at fixed turns.

    Args:
        pose: x, y, turn of each, shape (n, 3).
        moved: for each pose and point: travel along +x, −x, +y, −y and in magnitude,
            shape (n, points, 5).
    """

    pose: Floats
    moved: Floats


def travels(pose: Floats, points: Floats) -> Floats:
    """Return the travels of every point at every pose, shape (n, points, 5), mm."""
    sin = np.sin(pose[:, 2:])
    # 1 − cos as 2 sin² keeps the digits of a small turn.
    versine = 2 * np.sin(pose[:, 2:] / 2) ** 2
    dx = pose[:, :1] - versine * points[:, 0] - sin * points[:, 1]
    dy = pose[:, 1:2] + sin * points[:, 0] - versine * points[:, 1]
    out: Floats = np.stack((dx, -dx, dy, -dy, np.hypot(dx, dy)), axis=2)
    return out


def sliced(meetings: Meetings, turns: Floats, points: Floats) -> Slices:
    """Return every admissible crossing and disc extreme at the given turns.

    At a fixed turn each gap is n · t + a ≥ 0 or a disc |t − z| against ρ. The box of
    ``room_mm`` is crossed too, so that a set that runs out of it shows.
    """
    found = [*_line_crossings(meetings, turns), *_disc_crossings(meetings, turns, points)]
    pose = np.vstack(found)
    inside = np.abs(pose[:, :2]).max(axis=1) <= meetings.room_mm * (1 + RELATIVE_ROUNDING)
    pose = pose[inside]
    pose = pose[meetings.admissible(pose[:, 0], pose[:, 1], pose[:, 2])]
    return Slices(pose=pose, moved=travels(pose, points))


def _lines_at(meetings: Meetings, turns: Floats) -> tuple[Floats, Floats]:
    """Return normals (s, k, 2) and constants (s, k) of the straight gaps n · t + a."""
    f, w, room = meetings.fixed, meetings.turning, meetings.room_mm
    cos, sin = np.cos(turns)[:, None], np.sin(turns)[:, None]
    one = np.ones_like(cos)
    a_fixed = (
        f[:, 2] * (cos * f[:, 0] - sin * f[:, 1])
        + f[:, 3] * (sin * f[:, 0] + cos * f[:, 1])
        - f[:, 4]
    )
    mx, my = cos * w[:, 2] - sin * w[:, 3], sin * w[:, 2] + cos * w[:, 3]
    nx = np.hstack((one * f[:, 2], -mx, one * (1.0, -1.0, 0.0, 0.0)))
    ny = np.hstack((one * f[:, 3], -my, one * (0.0, 0.0, 1.0, -1.0)))
    a = np.hstack((a_fixed, mx * w[:, 0] + my * w[:, 1] - w[:, 4], one * np.full(4, room)))
    return np.stack((nx, ny), axis=2), a


def _line_crossings(meetings: Meetings, turns: Floats) -> list[Floats]:
    """Return where two straight gaps close together, rows of x, y, turn."""
    n, a = _lines_at(meetings, turns)
    i, j = np.triu_indices(a.shape[1], 1)
    cross = n[:, i, 0] * n[:, j, 1] - n[:, i, 1] * n[:, j, 0]
    s, k = np.nonzero(np.abs(cross) > PARALLEL_SINE)
    i, j, cross = i[k], j[k], cross[s, k]
    x = (a[s, j] * n[s, i, 1] - a[s, i] * n[s, j, 1]) / cross
    y = (a[s, i] * n[s, j, 0] - a[s, j] * n[s, i, 0]) / cross
    return [np.column_stack((x, y, turns[s]))]


def _disc_crossings(meetings: Meetings, turns: Floats, points: Floats) -> list[Floats]:
    """Return where a round gap closes together with another, and extremes of discs."""
    c = meetings.circles[meetings.circles[:, 4] > 0.0]
    if not len(c):
        return []
    cos, sin = np.cos(turns)[:, None], np.sin(turns)[:, None]
    zx = c[:, 2] - (cos * c[:, 0] - sin * c[:, 1])
    zy = c[:, 3] - (sin * c[:, 0] + cos * c[:, 1])
    radius = c[:, 4]
    at = np.broadcast_to(turns[:, None], zx.shape)
    out = []
    keep_in = c[:, 5] < 0
    for px, py in points:
        shift = travels(np.column_stack((0 * turns, 0 * turns, turns)), np.array([(px, py)]))
        for kind, (east, north) in enumerate(((1, 0), (-1, 0), (0, 1), (0, -1), (0, 0))):
            dx, dy = np.full_like(zx, east), np.full_like(zy, north)
            if kind == 4:
                dx, dy = zx + shift[:, :, 0], zy + shift[:, :, 2]
                size = np.hypot(dx, dy)
                dx, dy = np.where(size > 0, dx, 1.0), np.where(size > 0, dy, 0.0)
                size = np.hypot(dx, dy)
                dx, dy = dx / size, dy / size
            elif (px, py) != tuple(points[0]):
                continue  # the disc's own extremes are the same for every point
            rows = np.stack((zx + radius * dx, zy + radius * dy, at), axis=2)
            out.append(rows[:, keep_in].reshape(-1, 3))
    n, a = _lines_at(meetings, turns)
    deep = n[:, :, None, 0] * zx[:, None] + n[:, :, None, 1] * zy[:, None] + a[:, :, None]
    s, i, k = np.nonzero(np.abs(deep) <= radius)
    gone = deep[s, i, k]
    out += _either_side(
        (zx[s, k] - gone * n[s, i, 0], zy[s, k] - gone * n[s, i, 1]),
        (-n[s, i, 1], n[s, i, 0]),
        radius[k] ** 2 - gone**2,
        turns[s],
    )
    first, second = np.triu_indices(len(c), 1)
    dx, dy = zx[:, second] - zx[:, first], zy[:, second] - zy[:, first]
    apart = np.maximum(np.hypot(dx, dy), 1e-300)
    along = (apart**2 + radius[first] ** 2 - radius[second] ** 2) / (2 * apart)
    s, p = np.nonzero((np.abs(along) <= radius[first]) & (apart > COINCIDENT_MM))
    ux, uy, gone = dx[s, p] / apart[s, p], dy[s, p] / apart[s, p], along[s, p]
    out += _either_side(
        (zx[s, first[p]] + gone * ux, zy[s, first[p]] + gone * uy),
        (-uy, ux),
        radius[first[p]] ** 2 - gone**2,
        turns[s],
    )
    return out


def _either_side(
    foot: tuple[Floats, Floats], across: tuple[Floats, Floats], square: Floats, turn: Floats
) -> list[Floats]:
    """Return the two crossings either side of a foot, half a chord (given squared) away."""
    half = np.sqrt(np.maximum(square, 0.0))
    return [
        np.column_stack((foot[0] + side * across[0], foot[1] + side * across[1], turn))
        for side in (half, -half)
    ]


def exact_extremes(
    meetings: Meetings, points: Floats, guess: Extremes, holds: Callable[[Floats], Bools]
) -> Extremes | None:
    """Return the exact extremes of the pose set, None when it runs out of reach.

    Args:
        meetings: the pairs, with the room they were gathered for.
        points: where travel is measured, from the origin, shape (n, 2), mm.
        guess: to first order.
        holds: whether poses, rows of x, y, turn, leave the part in the free space.

    Few of the pairs ever bind. The set is solved for a few of them, its extreme poses
    are tried against all, and the pair each fouls worst joins in: the extremes only shrink,
    and are exact once they foul nothing. A pose at which a thin horn has passed right through
    another fouls no pair to its depth; such a pose is told by ``holds``, and the pairs it went
    through are solid to where it stands from then on.
    """
    chosen = np.union1d(guess.binding, _fouled(meetings, guess.pose)[0])
    poses = np.zeros((5 * len(points) + 2, 3))
    # The turns first: the slices of the other goals then share out the true range of turn.
    order = np.arange(len(poses))
    turning = order >= len(poses) - 2
    # The origin's travel in magnitude is not asked for.
    for goals, climb in ((turning, True), (~turning & (order != 4), False)):
        open_goals = goals
        while open_goals.any():
            _raise(meetings.only(chosen), points, guess, poses, open_goals, climb)
            fouled, fouls = _fouled(meetings, poses)
            # A top that fouls nothing is the top of the whole set: fewer pairs allow no less.
            open_goals = goals & fouls & ~np.isin(fouled, chosen).all()
            if not climb and not open_goals.any():
                # The slices foul nothing any more: now to the very tops.
                climb = True
                _climb_all(meetings.only(chosen), points, poses, np.flatnonzero(goals))
                fouled, fouls = _fouled(meetings, poses)
                open_goals = goals & fouls
            if not open_goals.any():
                ghosts = goals & ~holds(poses)
                hard, depth = _gone_through(meetings, poses[ghosts])
                if len(hard):
                    meetings = meetings.hardened(hard, 1.1 * depth)
                    fouled, open_goals = np.union1d(fouled, hard), ghosts
            chosen = np.union1d(chosen, fouled)
    far = np.abs(poses).max(axis=0)
    widest = float(max(far[0], far[1], meetings.lever_mm * far[2]))
    if widest >= meetings.room_mm * 0.999:
        return None
    reached = travels(poses[:-2], points).reshape(len(points), 5, len(points), 5)
    along = np.array([[reached[i, k, i, k] for k in range(5)] for i in range(len(points))])
    return Extremes(
        along=np.maximum(along, 0.0),
        ccw_rad=max(0.0, float(poses[-2, 2])),
        cw_rad=max(0.0, -float(poses[-1, 2])),
        widest_mm=widest,
        binding=chosen,
        pose=poses,
        attained=bool(holds(poses).all()),
    )


def _fouled(meetings: Meetings, poses: Floats) -> tuple[Indices, Bools]:
    """Return the pairs that some pose fouls worst, and which poses foul any."""
    gap, zone = meetings.gaps(poses[:, 0], poses[:, 1], poses[:, 2])
    overlap = np.where(zone, -gap, -np.inf)
    fouls: Bools = overlap.max(axis=1, initial=-np.inf) > _JOINS_MM
    worst: Indices = np.unique(overlap[fouls].argmax(axis=1)) if fouls.any() else np.zeros(0, int)
    return worst, fouls


def _gone_through(meetings: Meetings, poses: Floats) -> tuple[Indices, Floats]:
    """Return the pairs that poses foul beyond the depth of the solid, and how deep, mm.

    The least such pair of each pose: that is the horn it passed last. A wall that already
    stands so at nominal is the far side of something, not gone through.
    """
    every = np.arange(meetings.count)
    bare = meetings.hardened(every, np.full(len(every), np.inf))
    gap, zone = bare.gaps(*np.vstack((np.zeros(3), poses)).T)
    overlap = np.where(zone & (gap < -_JOINS_MM), -gap, np.inf)
    overlap[:, np.isfinite(overlap[0])] = np.inf
    least, deep = overlap[1:].argmin(axis=1), overlap[1:].min(axis=1)
    hard = np.unique(least[np.isfinite(deep)])
    return hard, np.array([deep[(least == k) & np.isfinite(deep)].max() for k in hard])


def _raise(
    meetings: Meetings,
    points: Floats,
    guess: Extremes,
    poses: Floats,
    open_goals: Bools,
    climb: bool,
) -> None:
    """Put the pose at the top of every open goal into ``poses``, climbed or as sliced.

    The goals stand point by point (+x, −x, +y, −y, magnitude), then the two turns.
    """
    if open_goals[-2:].any():
        poses[-1], poses[-2] = _turn_limits(meetings, points, max(guess.ccw_rad, guess.cw_rad))
    low, high = min(0.0, float(poses[-1, 2])), max(0.0, float(poses[-2, 2]))
    goals = np.flatnonzero(open_goals[:-2])
    if not len(goals):
        return
    # Evenly, and closer together towards both ends, where the set narrows.
    share = np.linspace(0.0, 1.0, _SLICES)
    turns = low + (high - low) * np.concatenate((share, (1 - np.cos(math.pi * share)) / 2))
    found = sliced(meetings, np.unique((*turns, 0.0)), points)
    step = (high - low) / (_SLICES - 1)
    for _ in range(2):
        at = _peaks(found, goals) + step * np.linspace(-1.0, 1.0, _REFINED)[:, None]
        more = sliced(meetings, np.unique(np.clip(at, low, high)), points)
        found = Slices(
            pose=np.vstack((found.pose, more.pose)), moved=np.vstack((found.moved, more.moved))
        )
        step *= 2 / (_REFINED - 1)
    travel = found.moved.reshape(len(found.pose), -1)
    for goal in goals:
        poses[goal] = found.pose[int(np.argmax(travel[:, goal]))]
    if climb:
        _climb_all(meetings, points, poses, goals)


def _climb_all(meetings: Meetings, points: Floats, poses: Floats, goals: Indices) -> None:
    """Climb from the poses of some goals to the tops near them."""
    for goal in goals:
        top = _travelling(points[goal // 5], int(goal) % 5)
        poses[goal] = _climbed(meetings, poses[goal], top)


def _turn_limits(meetings: Meetings, points: Floats, guess_rad: float) -> tuple[Floats, Floats]:
    """Return the poses of least and of greatest turn, no turn beyond what is in reach."""
    most = meetings.room_mm / meetings.lever_mm
    span = min(most, 1.3 * guess_rad + 8 * TOUCH_MM / meetings.lever_mm)
    while True:
        grid = np.linspace(-span, span, 17)
        taken = np.isin(grid, sliced(meetings, grid, points[:1]).pose[:, 2])
        if span >= most or not (taken[0] or taken[-1]):
            break
        span = min(most, 1.6 * span)
    ends = []
    for side in (-1, 1):
        own = taken[8::side]
        last = grid[8 + side * (8 if own.all() else int(np.argmin(own)) - 1)]
        # The first turn known to be out of reach; what lies between is halved by slices, then
        # climbed, and looked over once more: a slice may fall apart into several.
        beyond = last if own.all() else last + side * span / 8
        top = np.array((0.0, 0.0, last))
        for climb in (False, False, True, True):
            trial = np.unique(np.linspace(top[2], beyond, 9))[::side]
            poses = sliced(meetings, trial, points[:1]).pose
            inside = np.flatnonzero(np.isin(trial, poses[:, 2]))
            if len(inside):
                k = int(inside[-1])
                beyond = trial[min(k + 1, len(trial) - 1)]
                top = poses[poses[:, 2] == trial[k]][0]
            if climb:
                top = _climbed(meetings, top, _turning(float(side), meetings.lever_mm))
        ends.append(top)
    return ends[0], ends[1]


def _turning(side: float, lever_mm: float) -> Goal:
    """Return the turn to one side as a goal, at a lever."""
    reach = side * lever_mm
    return lambda pose: (reach * float(pose[2]), np.array((0.0, 0.0, reach)))


def _peaks(found: Slices, goals: Indices) -> Floats:
    """Return the turns at which some goal peaks: the best slice of each, and near rivals."""
    turns, owner = np.unique(found.pose[:, 2], return_inverse=True)
    travel = found.moved.reshape(len(found.pose), -1)[:, goals]
    best = np.full((len(turns), travel.shape[1]), -np.inf)
    np.maximum.at(best, owner, travel)
    walled = np.vstack((np.full_like(best[:1], -np.inf), best, np.full_like(best[:1], -np.inf)))
    peak = (best >= walled[:-2]) & (best > walled[2:])
    peak &= best >= (1 - _RIVAL) * best.max(axis=0)
    out: Floats = turns[peak.any(axis=1)]
    return out


def _travelling(point: Floats, kind: int) -> Goal:
    """Return a point's travel along +x, −x, +y, −y or in magnitude as a goal."""

    def goal(pose: Floats) -> tuple[float, Floats]:
        moved = travels(pose[None], point[None])[0, 0]
        cos, sin = math.cos(pose[2]), math.sin(pose[2])
        spin = np.array((-sin * point[0] - cos * point[1], cos * point[0] - sin * point[1]))
        if kind < 4:
            u = np.array(((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0))[kind])
        else:
            u = np.array((moved[0], moved[2])) / max(float(moved[4]), 1e-300)
        return float(moved[kind]), np.array((u[0], u[1], u @ spin))

    return goal


def _climbed(meetings: Meetings, start: Floats, goal: Goal) -> Floats:
    """Return the pose at the top of the goal near ``start``, by sequential linear programmes.

    At a corner of three gaps this is Newton's method and ends at rounding error. On a smooth
    top the trust region shrinks. A pose that fouls in the end, or lies lower, is not taken.
    Source: trust region with exact penalty (Fletcher & Sainz de la Maza, Math. Programming
    43, 1989 [from memory]).
    """
    scale = np.array((1.0, 1.0, meetings.lever_mm))
    room = meetings.room_mm
    trust = room / 8
    pose = start.copy()
    gap, gradient, _ = meetings.rows(*pose)
    value, up = goal(pose)
    for _ in range(_STEPS):
        at = pose * scale
        rows = np.vstack((-gradient / scale, np.eye(3), -np.eye(3)))
        limits = np.concatenate((gap, room - at, room + at))
        best = summit(up / scale, rows, limits, np.full(3, trust))
        if best is None:
            break
        trial = pose + best.point / scale
        trial_gap, trial_gradient, _ = meetings.rows(*trial)
        trial_value, trial_up = goal(trial)
        owed = _PENALTY * (min(0.0, float(gap.min(initial=0.0))))
        promised = float(up / scale @ best.point) - owed
        if promised <= SETTLED_SHARE * room:
            break
        won = trial_value - value + _PENALTY * min(0.0, float(trial_gap.min(initial=0.0))) - owed
        if won > 0.1 * promised:
            pose, gap, gradient = trial, trial_gap, trial_gradient
            value, up = trial_value, trial_up
        trust *= 2.0 if won > 0.75 * promised else 0.3 if won < 0.25 * promised else 1.0
    for _ in range(3):  # what the last step left of curvature
        gap, gradient, _ = meetings.rows(*pose)
        owed = -float(gap.min(initial=0.0))
        if owed <= TOUCH_MM / 1000:
            break
        small = np.full(3, 20 * owed)
        best = summit(goal(pose)[1] / scale, -gradient / scale, gap, small)
        if best is None:
            break
        pose = pose + best.point / scale
    x, y, angle = pose[:, None]
    good = meetings.admissible(x, y, angle, tolerance_mm=TOUCH_MM / 100)
    return pose if len(good) and goal(pose)[0] >= goal(start)[0] - _JOINS_MM else start
