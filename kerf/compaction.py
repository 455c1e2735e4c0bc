"""A layout without overlap pushed together until nothing moves, off the grid.

Two pieces part where, for each pair of their convex parts, one edge line of the no-fit region
of that pair lies between them. With those lines held for a step, the shortest strip is a
linear programme in the places of all pieces at once; then the lines are chosen anew. Each step
keeps the layout free of overlap, because a line between convex parts proves that they part.

Source: Z. Li, V. Milenkovic, *Compaction and separation algorithms for non-convex polygons and
their applications*, Eur. J. Oper. Res. 84 (1995) 539-561.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from kerf.nofit import Floats, convex_sums
from kerf.tolerance import COINCIDENT_MM, COMPACTED_SHARE

Ints = NDArray[np.int64]

#: Pull towards the lower left per piece, as a share of the pull on the strip's end: enough to
#: keep pieces from floating about, too little to lengthen the strip.
PULL: Final = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Edge lines of the convex no-fit regions of one pair: ``normal · place >= offset`` is free.

    Args:
        normal: shape (n, 2), unit, out of the region.
        offset: shape (n,), mm.
        part: shape (n,): which region each belongs to, ascending.
    """

    normal: Floats
    offset: Floats
    part: Ints


def no_fit_lines(standing: Sequence[Floats], moving: Sequence[Floats]) -> Lines:
    """Return the lines of the pair, in places of ``moving`` relative to ``standing``."""
    sums = convex_sums(standing, moving)
    points = np.vstack(sums)
    step = np.vstack([np.roll(ring, -1, axis=0) for ring in sums]) - points
    part = np.repeat(np.arange(len(sums)), [len(ring) for ring in sums])
    real = np.hypot(*step.T) > COINCIDENT_MM
    # Rings run counter-clockwise: out of the region is to the right of travel.
    normal = np.column_stack((step[real, 1], -step[real, 0]))
    normal /= np.hypot(*normal.T)[:, None]
    return Lines(
        normal=normal,
        offset=np.sum(normal * points[real], axis=1),
        part=part[real].astype(np.int64),
    )


def compacted(
    parts: Sequence[Sequence[Floats]],
    keys: Sequence[int],
    sizes: Floats,
    places: Floats,
    *,
    known: dict[tuple[int, int], Lines],
    height_mm: float,
    reach_mm: float,
    steps: int,
) -> Floats | None:
    """Return places without overlap, pushed together; None if a step does not free them.

    Args:
        parts: convex parts of each piece, its box's lower left corner at (0, 0), mm.
        keys: equal for pieces of equal parts.
        sizes: shape (n, 2): width and height of each piece, mm.
        places: shape (n, 2): where each piece's lower left corner is, mm.
        known: lines worked out before, by the keys of two pieces; more are added.
        height_mm: height of the strip.
        reach_mm: how far a piece may move in one step, mm.
        steps: how many steps at most.
    """
    settled: Floats | None = None
    for _ in range(steps):
        apart = _apart(parts, keys, sizes, places, known, reach_mm)
        solved = _pushed(apart, sizes, places, height_mm, reach_mm)
        if solved is None:
            break
        before, after = ((p[:, 0] + sizes[:, 0]).max() for p in (places, solved))
        places = settled = solved
        if before - after < COMPACTED_SHARE * before:
            break
    return settled


def _apart(
    parts: Sequence[Sequence[Floats]],
    keys: Sequence[int],
    sizes: Floats,
    places: Floats,
    known: dict[tuple[int, int], Lines],
    reach_mm: float,
) -> tuple[Ints, Ints, Floats, Floats]:
    """Return the lines that part pieces near each other: first and second piece, normal, offset.

    Of each pair of convex parts the line that parts them best, or would with the least move.
    """
    i, j = np.triu_indices(len(places), 1)
    gaps = np.maximum(places[i] - places[j] - sizes[j], places[j] - places[i] - sizes[i])
    near = gaps.max(axis=1) < 2 * reach_mm
    first: list[int] = []
    second: list[int] = []
    normals, offsets = [np.empty((0, 2))], [np.empty(0)]
    for a, b in zip(i[near].tolist(), j[near].tolist(), strict=True):
        key = keys[a], keys[b]
        if key not in known:
            known[key] = no_fit_lines(parts[a], parts[b])
        lines = known[key]
        free = lines.normal @ (places[b] - places[a]) - lines.offset
        starts = np.flatnonzero(np.diff(lines.part, prepend=-1) > 0)
        ends = np.append(starts[1:], len(free))
        held = np.maximum.reduceat(free, starts) < 2 * math.sqrt(2) * reach_mm
        chosen = [
            s + int(np.argmax(free[s:e])) for s, e in zip(starts[held], ends[held], strict=True)
        ]
        first += [a] * len(chosen)
        second += [b] * len(chosen)
        normals.append(lines.normal[chosen])
        offsets.append(lines.offset[chosen])
    return (
        np.array(first, dtype=np.int64),
        np.array(second, dtype=np.int64),
        np.vstack(normals),
        np.concatenate(offsets),
    )


def _pushed(
    apart: tuple[Ints, Ints, Floats, Floats],
    sizes: Floats,
    places: Floats,
    height_mm: float,
    reach_mm: float,
) -> Floats | None:
    """Return the places of the shortest strip within reach that keeps the lines, or None.

    Unknowns: x and y of each piece in turn, then the strip's length.
    """
    from scipy import optimize, sparse

    first, second, normal, offset = apart
    n, m = len(places), len(offset)
    row = np.tile(np.arange(m), 4)
    column = np.concatenate((2 * first, 2 * first + 1, 2 * second, 2 * second + 1))
    value = np.concatenate((normal[:, 0], normal[:, 1], -normal[:, 0], -normal[:, 1]))
    keep_apart = sparse.coo_matrix((value, (row, column)), shape=(m, 2 * n + 1))
    each = np.arange(n)
    within = sparse.coo_matrix(
        (
            np.concatenate((np.ones(n), -np.ones(n))),
            (np.tile(each, 2), np.concatenate((2 * each, np.full(n, 2 * n)))),
        ),
        shape=(n, 2 * n + 1),
    )
    low = np.maximum(places - reach_mm, 0.0)
    high = places + reach_mm
    high[:, 1] = np.maximum(np.minimum(high[:, 1], height_mm - sizes[:, 1]), low[:, 1])
    solve: Any = optimize.linprog
    solved = solve(
        np.append(np.full(2 * n, PULL), 1.0),
        A_ub=sparse.vstack((keep_apart, within)).tocsr(),
        b_ub=np.concatenate((-offset, -sizes[:, 0])),
        bounds=np.column_stack((np.append(low.ravel(), 0.0), np.append(high.ravel(), np.inf))),
        method="highs",
    )
    if solved.status != 0:
        return None
    out: Floats = solved.x[:-1].reshape(-1, 2)
    return out
