"""A linear programme in three or four unknowns, solved exactly and at once.

Slack and loading ask hundreds of tiny questions of the form "how far along c can a pose go
while A x ≤ b". Each has three or four unknowns and some dozens of rows, so that starting a
general solver costs a thousand times the arithmetic. The dual simplex method starts from a
box that encloses every answer (its rows are a dual-feasible basis whatever c is) and lets the
most violated row in until none is left. Source: dual simplex method, any text on linear
programming (Chvátal, *Linear Programming*, ch. 10); checked against scipy's linprog.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerf.tolerance import LP_VIOLATION, LP_WEIGHT, RELATIVE_ROUNDING

Floats = NDArray[np.float64]

#: Pivots before the method is taken to be cycling; a programme of this size needs under 40.
_PIVOTS = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Summit:
    """The best point of a linear programme.

    Args:
        point: shape (d,).
        at_box: whether the enclosing box, not a row, stops it (the programme is unbounded
            as far as the box shows).
        rows: indices of the rows that hold it there, at most d.
    """

    point: Floats
    at_box: bool
    rows: NDArray[np.intp]


def summit(goal: Floats, rows: Floats, limits: Floats, box: Floats) -> Summit | None:
    """Return the x that maximises goal · x subject to rows · x ≤ limits and |x| ≤ box.

    Args:
        goal: shape (d,).
        rows: shape (n, d).
        limits: shape (n,).
        box: shape (d,), > 0.
    Returns:
        the best point, or None when no x satisfies the rows within the box (or when rows
        are so nearly alike that none can be told).
    """
    d = len(goal)
    eye = np.eye(d)
    rows = np.concatenate((eye * np.where(goal < 0, -1.0, 1.0), -eye, eye, rows))
    limits = np.concatenate((box, box, box, limits))
    tolerance = LP_VIOLATION * max(1.0, float(np.abs(limits).max()))
    basis = np.arange(d)
    shares = np.abs(goal).astype(np.float64)
    for pivot in range(_PIVOTS):
        try:
            inverse = np.linalg.inv(rows[basis])
        except np.linalg.LinAlgError:
            return None
        x = np.asarray(inverse @ limits[basis], dtype=np.float64)
        excess = rows @ x - limits
        excess[basis] = -np.inf
        # The most violated row is quick; after long stalling the first one cannot cycle.
        if pivot < _PIVOTS // 2:
            enter = int(np.argmax(excess))
        else:
            enter = int(np.argmax(excess > tolerance))
        if not excess[enter] > tolerance:
            held = bool(np.any((basis < 3 * d) & (shares > RELATIVE_ROUNDING)))
            return Summit(point=x, at_box=held, rows=basis[basis >= 3 * d] - 3 * d)
        weight = rows[enter] @ inverse
        able = weight > LP_WEIGHT
        if not able.any():
            return None
        ratio = np.where(able, shares / np.where(able, weight, 1.0), np.inf)
        # Of rows that may leave alike the one with the most weight keeps the basis sound.
        alike = ratio <= ratio.min() + LP_WEIGHT
        leave = int(np.argmax(np.where(alike, weight, -np.inf)))
        step = float(ratio[leave])
        shares = np.maximum(shares - step * weight, 0.0)
        shares[leave] = step
        basis[leave] = enter
    return None
