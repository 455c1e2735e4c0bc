"""The fewest tangent arcs along one smooth curve: a search over joints and headings.

Arcs are joined on the curve itself. An arc that leaves a joint with a given heading and
ends at a later point of the curve is unique, and so is the heading it hands on; a chain is
therefore a choice of joints. Where the curvature k changes at the rate k' over an arc of
length p, the distance from the curve is a cubic in arc length:

* joints whose headings are the curve's own (biarcs): greatest distance |k'| (2p)³ / 324
  (Meek & Walton, Approximating smooth planar curves by arc splines, 1995);
* joints whose headings all lean by |k'| p² / 12 from the curve's: |k'| p³ / 124.7, where
  124.7 = 36 √12 (derived: the cubic s³/6 − p² s/24 about the middle of each arc).

So a leaning chain needs 0.69 of the arcs a biarc chain needs, and the curve measured by
u = ∫ |k'|^⅓ ds is cut into equal shares of U = (124.7 × tolerance)^⅓. The search walks that
measure: from every kept state (joint, lean) it tries many lengths about U at once, keeps the
furthest joint for each class of lean, and stops when one or two arcs reach the end with the
heading wanted there. The ends of the curve keep their own headings, so that a line that ran
tangent into the curve still does.

The search measures at samples; the caller proves the result (``kerf.bezier``).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from kerf.bezier import end_headings, span_points
from kerf.contour import Floats
from kerf.tolerance import (
    END_HEADING_RAD,
    JUMP_SHARE,
    RELATIVE_ROUNDING,
    SAME_HEADING_RAD,
    SECTOR_SHARE,
)

Ints = NDArray[np.int64]

#: Greatest distance = |k'| p³ / LEAN for a chain of leaning arcs; see the module header.
LEAN = 36 * math.sqrt(12)
#: Nodes of the search per share U: joints land within 1/24 of where they would best be.
NODES = 24
#: Lengths tried from each state, in shares U.
LENGTHS = np.array(
    [2.6, 2.0, 1.7, 1.5, 1.4, 1.3, 1.2, 1.1, 1.05, 1.0, 0.95, 0.9, 0.8, 0.7, 0.55, 0.4, 0.2, 0.08]
)
#: Points at which an arc is compared with the curve during the search.
SAMPLES = 24
#: No arc turns more than this: its sector stays convex and its bulge moderate.
LARGEST_HALF_TURN = 1.3


class Joint(NamedTuple):
    """One joint of a chain: parameter on the curve and unit heading of the arc that leaves."""

    t: float
    hx: float
    hy: float


class _Nodes(NamedTuple):
    """The curve sampled at equal shares of u, jumps of curvature added."""

    t: Floats
    u: Floats
    at: Floats  # positions, shape (n, 2)
    heading: Floats  # unit tangents, shape (n, 2)
    lean: Floats  # the natural lean at each node, rad
    jumps: Ints  # nodes where the curvature jumps


def _cross(a: Floats, b: Floats) -> Floats:
    out: Floats = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return out


def _dot(a: Floats, b: Floats) -> Floats:
    out: Floats = a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1]
    return out


def curvature_measure(spans: Floats, tolerance_mm: float) -> tuple[Floats, Floats]:
    """Return parameters along the curve and, at each, the arcs an ideal chain has used so far."""
    m = len(spans)
    cells = min(48, max(8, 2048 // m))
    t = (np.arange(m * cells) + 0.5) / cells
    _, d1, d2 = span_points(spans, t)
    speed = np.hypot(d1[:, 0], d1[:, 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        curvature = np.nan_to_num(_cross(d1, d2) / speed**3, posinf=0.0, neginf=0.0)
    step = (speed[1:] + speed[:-1]) / (2 * cells)
    bend = np.abs(np.diff(curvature))
    # A floor that adds one arc over the whole curve lets circles and lines be walked too.
    floor = LEAN * tolerance_mm / (float(speed.mean()) * m) ** 3 * step
    u_cell = np.cbrt(bend + floor) * np.cbrt(step) ** 2 / math.cbrt(LEAN * tolerance_mm)
    u = np.concatenate(([0.0, u_cell[0] / 2], u_cell, [u_cell[-1] / 2]))
    return np.concatenate(([0.0], t, [float(m)])), np.cumsum(u)


def _jumps(spans: Floats) -> Floats:
    """Return the parameters between spans where the curvature jumps."""
    m = len(spans)
    near = math.sqrt(RELATIVE_ROUNDING)
    t = np.arange(1, m, dtype=np.float64)
    sides = []
    for at in (t - near, t + near):
        _, d1, d2 = span_points(spans, at)
        with np.errstate(invalid="ignore", divide="ignore"):
            k = _cross(d1, d2) / np.hypot(d1[:, 0], d1[:, 1]) ** 3
        sides.append(np.nan_to_num(k, posinf=0.0, neginf=0.0))
    size = np.maximum(np.abs(sides[0]), np.abs(sides[1]))
    out: Floats = t[np.abs(sides[1] - sides[0]) > JUMP_SHARE * size]
    return out


def _nodes(spans: Floats, tolerance_mm: float, share: float) -> _Nodes:
    """Return the curve at equal steps of u. share: size of U against the ideal one."""
    t_known, u_known = curvature_measure(spans, tolerance_mm)
    u_known = u_known / share
    count = max(2 * NODES, math.ceil(u_known[-1] * NODES))
    u = np.linspace(0.0, u_known[-1], count + 1)
    nodes_t = np.interp(u, u_known, t_known)
    jump_t = _jumps(spans)
    nodes_t = np.union1d(nodes_t, jump_t)
    u = np.interp(nodes_t, t_known, u_known)
    at, d1, _ = span_points(spans, nodes_t)
    speed = np.hypot(d1[:, 0], d1[:, 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        heading = d1 / speed[:, None]
    first, last = end_headings(spans)
    heading[0], heading[-1] = first[0], last[-1]
    heading = np.where(np.isfinite(heading), heading, heading[:1])
    pace = np.gradient(np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(at, axis=0).T)))), u)
    lean = LEAN / 12 * tolerance_mm / np.maximum(pace, tolerance_mm)
    return _Nodes(nodes_t, u, at, heading, lean, np.searchsorted(nodes_t, jump_t))


def _deviations(a: Floats, h: Floats, b: Floats, h_end: Floats, k: Floats, p: Floats) -> Floats:
    """Return the greatest distance of samples p from arcs, infinite where outside the sector.

    Args:
        a, h, b, h_end: start, heading, end, end heading, shape (..., 2); k: curvature.
        p: samples, shape (..., s, 2).
    """
    q = p - a[..., None, :]
    f = k[..., None] / 2 * _dot(q, q) - _cross(h[..., None, :], q)
    d = 2 * np.abs(f) / (1 + np.sqrt(np.maximum(0.0, 1 + 2 * k[..., None] * f)))
    slack = SECTOR_SHARE * np.abs(b - a).max(axis=-1)[..., None]
    inside = (_dot(q, h[..., None, :]) >= -slack) & (
        _dot(b[..., None, :] - p, h_end[..., None, :]) >= -slack
    )
    out: Floats = np.where(inside.all(axis=-1), d.max(axis=-1), np.inf)
    return out


def _arcs(a: Floats, h: Floats, b: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return end heading, curvature and whether the turn is small enough of arcs a → b."""
    step = b - a
    chord = np.hypot(step[..., 0], step[..., 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        e = step / chord[..., None]
        sin, cos = _cross(h, e), _dot(h, e)
        k = 2 * sin / chord
    end = 2 * cos[..., None] * e - h
    return end, k, (chord > 0) & (cos > math.cos(LARGEST_HALF_TURN))


def _finish(
    spans: Floats, nodes: _Nodes, i: int, h: Floats, end_heading: Floats, limit: float
) -> list[Joint] | None:
    """Return the one or two joints that lead from node i to the end with its heading, or None."""
    last = len(nodes.t) - 1
    a, b = nodes.at[i], nodes.at[last]

    def arc_fits(
        t0: float, t1: float, a: Floats, h: Floats, b: Floats, slack: float = 1.0
    ) -> Floats | None:
        end, k, good = _arcs(a, h, b)
        if not good:
            return None
        s = np.linspace(t0, t1, SAMPLES + 2)[1:-1]
        fits = _deviations(a, h, b, end, k, span_points(spans, s)[0]) <= slack * limit
        return end if fits else None

    end = arc_fits(nodes.t[i], nodes.t[last], a, h, b)
    if end is not None and abs(_cross(end, end_heading)) <= END_HEADING_RAD:
        return [Joint(float(nodes.t[i]), float(h[0]), float(h[1]))]
    if last - i < 2:
        return None

    def miss(at: Floats) -> Floats:
        middle, _, good = _arcs(a, h, at)
        final, _, good_too = _arcs(at, middle, b)
        angle = np.arctan2(_cross(final, end_heading), _dot(final, end_heading))
        return np.where(good & good_too, angle, np.nan)

    wrong = miss(nodes.at[i + 1 : last])
    turns = np.flatnonzero(wrong[:-1] * wrong[1:] <= 0)
    for c in turns[np.argsort(np.abs(turns - len(wrong) / 2), kind="stable")]:
        # A look at the node next to the root before the root is worked out.
        middle = arc_fits(nodes.t[i], nodes.t[i + 1 + c], a, h, nodes.at[i + 1 + c], 1.5)
        if middle is None:
            continue
        low, high = float(nodes.t[i + 1 + c]), float(nodes.t[i + 2 + c])
        w_low, w_high = float(wrong[c]), float(wrong[c + 1])
        t = low
        for step in range(30):
            # Regula falsi, every third step a halving so that it cannot stall.
            falsi = step % 3 < 2 and w_low != w_high
            t = low + (high - low) * (w_low / (w_low - w_high) if falsi else 0.5)
            w = float(miss(span_points(spans, np.array([t]))[0])[0])
            if abs(w) < SAME_HEADING_RAD / 10:
                break
            if w * w_low > 0:
                low, w_low = t, w
            else:
                high, w_high = t, w
        at = span_points(spans, np.array([t]))[0][0]
        middle = arc_fits(nodes.t[i], t, a, h, at)
        if middle is None:
            continue
        final = arc_fits(t, nodes.t[last], at, middle, b)
        if final is not None and abs(_cross(final, end_heading)) <= END_HEADING_RAD:
            return [
                Joint(float(nodes.t[i]), float(h[0]), float(h[1])),
                Joint(t, float(middle[0]), float(middle[1])),
            ]
    return None


def arc_joints(
    spans: Floats, end_heading: tuple[float, float] | None, tolerance_mm: float
) -> list[Joint] | None:
    """Return the joints of a short chain of tangent arcs along a smooth curve, or None.

    Args:
        spans: the curve as Bézier spans, tangents continuous.
        end_heading: unit heading wanted at the end; None for the curve's own.
        tolerance_mm: greatest distance at the samples of the search.
    Returns:
        one joint per arc, the first at parameter 0; None when no chain was found, which
        happens only where the curve turns within a few tolerances.
    """
    for share in (1.0, 0.5, 0.25, 0.1, 0.03):
        nodes = _nodes(spans, tolerance_mm, share)
        goal = nodes.heading[-1] if end_heading is None else np.asarray(end_heading)
        found = _search(spans, nodes, goal, tolerance_mm)
        if found is not None:
            return found
    return None


def _search(spans: Floats, nodes: _Nodes, goal: Floats, limit: float) -> list[Joint] | None:
    """Return the joints of the first chain that reaches the end, or None when none does.

    ``index`` and ``heading`` are the states kept; ``trail`` remembers those before them and
    which of those each came from.
    """
    last = len(nodes.t) - 1
    index = np.zeros(1, dtype=np.int64)
    heading = nodes.heading[:1].copy()
    trail: list[tuple[Ints, Floats, Ints]] = []
    share = (np.arange(SAMPLES) + 0.5) / SAMPLES
    while len(index):
        for row in np.argsort(-index, kind="stable"):
            if nodes.u[last] - nodes.u[index[row]] > 2 * LENGTHS[0]:
                break
            tail = _finish(spans, nodes, int(index[row]), heading[row], goal, limit)
            if tail is not None:
                joints = []
                parent = int(row)
                for at, h, parents in reversed(trail):
                    parent = int(parents[parent])
                    joints.append(
                        Joint(float(nodes.t[at[parent]]), float(h[parent, 0]), float(h[parent, 1]))
                    )
                return joints[::-1] + tail
        to = np.searchsorted(nodes.u, nodes.u[index][:, None] + LENGTHS)
        later = np.searchsorted(nodes.jumps, index, side="right")[:, None] + np.arange(3)
        if len(nodes.jumps):
            jump = nodes.jumps[np.minimum(later, len(nodes.jumps) - 1)]
            to = np.hstack((to, np.where(later < len(nodes.jumps), jump, last)))
        to = np.minimum(to, last - 1)
        start = np.broadcast_to(index[:, None], to.shape)
        a, b = nodes.at[start], nodes.at[to]
        h = np.broadcast_to(heading[:, None, :], a.shape)
        end, k, good = _arcs(a, h, b)
        good &= to > start
        rows, columns = np.nonzero(good)
        pick = (start[rows, columns], to[rows, columns])
        sample = np.rint(pick[0][:, None] + (pick[1] - pick[0])[:, None] * share).astype(np.int64)
        fits = (
            _deviations(
                nodes.at[pick[0]],
                h[rows, columns],
                nodes.at[pick[1]],
                end[rows, columns],
                k[rows, columns],
                nodes.at[sample],
            )
            <= limit
        )
        rows, target, end = rows[fits], pick[1][fits], end[rows, columns][fits]
        if not len(rows):
            return None
        lean = np.arcsin(np.clip(_cross(nodes.heading[target], end), -1, 1)) / nodes.lean[target]
        kind = np.rint(np.clip(lean, -4, 4) * 4).astype(np.int64)
        order = np.lexsort((np.abs(lean), -target, kind))
        keep = order[np.unique(kind[order], return_index=True)[1]]
        trail.append((index, heading, rows[keep]))
        index, heading = target[keep], end[keep]
    return None
