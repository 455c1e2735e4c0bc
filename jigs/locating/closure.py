"""Can the part move at all between its contacts: closure to first and to second order.

First order (form closure): the contacts' normals balance with every weight positive and
their rows have full rank; no small motion is then free, whatever the edges' curvature.
Weights are found by non-negative least squares with every weight at least 1 (``balance``).
Source: Lynch & Park, *Modern Robotics*, ch. 12.

Second order (immobility): a part may be stuck although a motion is free to first order,
as a square between the middles of its sides. Motions that keep every balanced gap at zero to
first order are blocked when the balanced sum of the gaps' second-order terms is negative.
Source: Rimon & Burdick, second-order mobility; Cheong et al. for the three-edge case
(method; the equilateral triangle is theirs).

Friction: each contact may push anywhere within its cone; two contacts hold a part when the
line between them lies in both cones. Source: Nguyen 1988.

A verdict that second order cannot give is called unproven, never guessed; where the motion
can be followed exactly without a gap closing, as for a disc, the part is free.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from jigs.locating.balance import least_balance, nearest_balance
from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.determinacy import plane_motion_words
from jigs.locating.pose import gaps_mm, second_order
from jigs.locating.seating import one_sided_rows
from kerf.contour import Floats, Point
from kerf.errors import GeometryError
from kerf.tolerance import BALANCE_RELATIVE, RANK_RELATIVE


class Closure(StrEnum):
    """What holds the part between frictionless contacts."""

    FIRST_ORDER = "first order"  #: form closure: no motion is free even to first order
    SECOND_ORDER = "second order"  #: curvature blocks every motion that first order leaves
    FREE = "free"  #: a motion is left
    UNPROVEN = "unproven"  #: second order is zero along a motion: only higher orders could tell


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosureReport:
    """Verdict on a set of contacts.

    Args:
        closure: the verdict.
        weights: forces that balance at first-order closure, the least one 1; else empty.
        motion: the motion that is free or unproven, in words; else empty.
    """

    closure: Closure
    weights: tuple[float, ...] = ()
    motion: str = ""


def balancing_weights(rows: Floats) -> tuple[float, ...] | None:
    """Return positive weights under which the rows cancel, the least one 1; None if there are none.

    With full rank this is form closure. One answer of many when there are more than
    ``columns + 1`` rows.

    Args:
        rows: one wrench a row, shape (n, 3) in the plane or (n, 6) in space.
    Source: Lynch & Park, *Modern Robotics*, 12.1.7 (closure test); k >= 1 as there, the
        least-squares form is ours.
    """
    scaled = rows / _column_size(rows)
    if np.linalg.matrix_rank(scaled, tol=RANK_RELATIVE * len(scaled)) < scaled.shape[1]:
        return None
    extra = _nonnegative(scaled, -scaled.sum(axis=0))
    if extra is None:
        return None
    weights = 1 + extra
    return tuple(map(float, weights / weights.min()))


def closure_report(contacts: Sequence[Contact]) -> ClosureReport:
    """Return whether frictionless contacts leave the part any motion in the plane.

    Args:
        contacts: any number; supports are left out, pins hold both ways, nominal gaps are 0.
    """
    real = [c for c in contacts if c.kind is not ContactKind.SUPPORT]
    middle = np.mean([c.at for c in real], axis=0) if real else np.zeros(2)
    # About the contacts' middle, so that a part far from its origin keeps its digits.
    flat = [replace(c, at=Point(c.at.x - middle[0], c.at.y - middle[1])) for c in real]
    rows, owners = one_sided_rows(flat)
    weights = balancing_weights(rows) if len(rows) else None
    if weights is not None:
        return ClosureReport(closure=Closure.FIRST_ORDER, weights=weights)
    closure, twist = _second_order(flat, rows, owners)
    if closure is Closure.SECOND_ORDER:
        return ClosureReport(closure=closure)
    x, y, turn = twist
    there = np.array([x + turn * middle[1], y - turn * middle[0], turn])
    return ClosureReport(closure=closure, motion=plane_motion_words(there, real))


def has_force_closure(contacts: Sequence[Contact], *, friction: float) -> bool:
    """Return whether contacts with friction resist every force and moment in the plane.

    Args:
        contacts: two or more contacts.
        friction: coefficient of friction, >= 0.
    Raises:
        GeometryError: the coefficient is negative.
    Source: Nguyen 1988 (force closure from friction cones).
    """
    if not friction >= 0:
        raise GeometryError(f"a coefficient of friction is 0 or more, not {friction:.4g}")
    flat = [c for c in contacts if c.kind is not ContactKind.SUPPORT]
    rows, _ = one_sided_rows(flat)
    if not len(rows):
        return False
    along = tangent_rows(flat)
    sides = np.vstack((along, -along[[i for i, c in enumerate(flat) if c.holds_both_ways]]))
    return (
        balancing_weights(np.vstack((rows + friction * sides, rows - friction * sides))) is not None
    )


def tangent_rows(contacts: Sequence[Contact]) -> Floats:
    """Return the rows [ex, ey, p × e] of the contacts' tangents e = z × n, shape (n, 3)."""
    return np.array(
        [(-c.normal.y, c.normal.x, c.at.x * c.normal.x + c.at.y * c.normal.y) for c in contacts],
        dtype=np.float64,
    ).reshape(-1, 3)


def _column_size(rows: Floats) -> Floats:
    """Return the largest size in each column, 1 where a column is zero but for rounding."""
    size = np.abs(rows).max(axis=0, initial=0.0)
    out: Floats = np.where(size > RANK_RELATIVE * size.max(), size, 1.0)
    return out


def _nonnegative(rows: Floats, target: Floats) -> Floats | None:
    """Return weights >= 0 with rowsᵀ weights = target, or None when there are none."""
    weights, left = nearest_balance(rows, target)
    size = max(float(np.linalg.norm(target)), 1.0)
    return weights if left <= BALANCE_RELATIVE * size else None


def _second_order(flat: list[Contact], rows: Floats, owners: list[int]) -> tuple[Closure, Floats]:
    """Judge contacts without form closure by the second-order terms of their gaps.

    Returns:
        the verdict, and the motion (x, y, turn) that is free or unproven.
    """
    size = _column_size(rows)
    scaled = rows / size
    # The balances: weights >= 0 under which the rows cancel. Motions must keep the gaps of the
    # rows they load at zero to first order; their mean loads every such row.
    balances = []
    loaded = np.zeros(len(rows), dtype=bool)
    for i in range(len(rows)):
        weights = _nonnegative(scaled, -scaled[i])
        if weights is not None:
            weights[i] += 1
            balances.append(weights / weights.sum())
            loaded |= weights > BALANCE_RELATIVE
    if not balances:
        return Closure.FREE, _plain(_opening(scaled) / size, rows)
    mean = np.mean(balances, axis=0)
    basis = _null_space(scaled[loaded])  # shape (d, 3), in scaled coordinates v = twist · size
    others = scaled[~loaded]
    sign = np.where(np.arange(len(rows)) < len(flat), 1.0, -1.0)[:, None, None]
    curved = second_order(flat)[owners] * sign / np.outer(size, size)
    directions = _cone_directions(basis, others)
    if len(basis) == 2:
        form = np.einsum("i,iab->ab", mean, curved)
        _, vectors = np.linalg.eigh(basis @ form @ basis.T)
        inside = [s * v @ basis for v in vectors.T for s in (1.0, -1.0)]
        directions += [v for v in inside if _allowed(v, others)]
    reach = max(math.hypot(*c.at) + abs(c.radius_mm) for c in flat)
    verdict, motion = Closure.SECOND_ORDER, np.zeros(3)
    for v in directions:
        twist = _plain(v / size, rows)
        terms = np.einsum("a,iab,b->i", v, curved, v)
        # Terms of the size turn² · reach may have cancelled, as for a disc about its centre.
        whole = max(float(np.abs(terms).max()), float(v[2] / size[2]) ** 2 * reach)
        rounding = BALANCE_RELATIVE * whole
        if float(mean @ terms) < -rounding:
            continue
        # Another balance may block this one motion; for a whole sheaf of motions that is no
        # proof, since the motions between need not be blocked by the same balance.
        best = least_balance(scaled, terms)
        if best < -rounding and len(basis) == 1:
            continue
        if best > rounding or _stays_open(flat, twist):
            return Closure.FREE, twist
        verdict, motion = Closure.UNPROVEN, twist
    return verdict, motion


def _null_space(rows: Floats) -> Floats:
    """Return an orthonormal basis of the motions that every row leaves at zero, shape (d, 3)."""
    if not len(rows):
        return np.eye(3)
    _, values, vt = np.linalg.svd(rows, full_matrices=True)
    rank = int(np.count_nonzero(values > RANK_RELATIVE * values[0]))
    out: Floats = vt[rank:]
    return out


def _allowed(v: Floats, rows: Floats) -> bool:
    """Return whether a motion closes none of the rows' gaps to first order."""
    return bool(np.all(rows @ v >= -RANK_RELATIVE))


def _cone_directions(basis: Floats, others: Floats) -> list[Floats]:
    """Return the extreme motions of the span that close no other gap to first order."""
    candidates: list[Floats] = []
    if len(basis) == 1:
        candidates = [basis[0], -basis[0]]
    elif len(basis) == 2:
        for row in others:
            a, b = basis @ row
            edge = np.array([-b, a]) @ basis
            if np.linalg.norm(edge) > RANK_RELATIVE:
                edge = edge / np.linalg.norm(edge)
                candidates += [edge, -edge]
    return [v for v in candidates if _allowed(v, others)]


def _opening(scaled: Floats) -> Floats:
    """Return a motion that opens every gap that can open, shape (3,), scaled."""
    # What the nearest balance of the rows' sum leaves over points into the cone of free
    # motions (Farkas' lemma, by projection).
    if not len(scaled):
        return np.array([1.0, 0.0, 0.0])
    target = -scaled.sum(axis=0)
    weights, left = nearest_balance(scaled, target)
    out: Floats = (scaled.T @ weights - target) / left
    return out


def _stays_open(flat: list[Contact], twist: Floats) -> bool:
    """Return whether the part can follow a motion a long way with no gap closing; exact."""
    reach = max(1.0, *(abs(v) for c in flat for v in c.at))
    turn = float(twist[2])
    if turn == 0.0:
        poses = np.outer(np.linspace(0.01, 0.1, 10) * reach, twist / np.abs(twist[:2]).max())
    else:
        # Turn about the fixed point: t = c − R c.
        cx, cy = -twist[1] / turn, twist[0] / turn
        angles = np.linspace(0.01, 0.1, 10) * np.sign(turn)
        drop, sin = 2 * np.sin(angles / 2) ** 2, np.sin(angles)
        poses = np.column_stack((drop * cx + sin * cy, drop * cy - sin * cx, angles))
    gaps = gaps_mm(flat, poses, np.zeros((len(poses), len(flat))))
    both = np.array([c.holds_both_ways for c in flat])
    rounding = BALANCE_RELATIVE * reach
    return bool(np.all(gaps >= -rounding) and np.all(gaps[:, both] <= rounding))


def _plain(twist: Floats, rows: Floats) -> Floats:
    """Return a twist with rounding taken out: its turn is 0 when it moves no edge measurably."""
    reach = max(1.0, float(np.abs(rows[:, 2]).max(initial=0.0)))
    unit = twist / max(float(np.abs(twist[:2]).max()), float(abs(twist[2]) * reach))
    if abs(unit[2]) * reach < RANK_RELATIVE:
        unit[2] = 0.0
    out: Floats = unit
    return out
