"""Points near each other, and what hangs together: in numpy alone.

A reader needs these on every drawing, and loading a scientific library for them would take
longer than the reading. Points are sorted into square cells as wide as the distance asked
for, so that neighbours lie in the same cell or one of the eight round it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Half of the cells round a cell, and the cell itself: each pair of cells is met once.
_AHEAD = ((0, 0), (1, 0), (-1, 1), (0, 1), (1, 1))


def near_pairs(points: Floats, within_mm: float) -> Ints:
    """Return the pairs of points no further apart than within_mm.

    Args:
        points: shape (n, 2), mm.
        within_mm: > 0.
    Returns:
        shape (m, 2), the lesser index first, in no particular order.
    """
    if len(points) < 2:
        return np.zeros((0, 2), dtype=np.int64)
    cell = np.floor((points - points.min(axis=0)) / within_mm).astype(np.int64)
    width = int(cell[:, 0].max()) + 3
    key = (cell[:, 1] + 1) * width + cell[:, 0] + 1
    order = np.argsort(key, kind="stable")
    keys, first, count = np.unique(key[order], return_index=True, return_counts=True)
    found: list[Ints] = []
    for dx, dy in _AHEAD:
        wanted = keys + dy * width + dx
        at = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
        here = np.flatnonzero(keys[at] == wanted)
        there = at[here]
        # Every point of one cell with every point of the other.
        times = count[here] * count[there]
        owner = np.repeat(np.arange(len(here)), times)
        step = np.arange(int(times.sum())) - np.repeat(np.cumsum(times) - times, times)
        a = order[first[here[owner]] + step // count[there[owner]]]
        b = order[first[there[owner]] + step % count[there[owner]]]
        if (dx, dy) == (0, 0):
            once = a < b
            a, b = a[once], b[once]
        gap = points[a] - points[b]
        near = gap[:, 0] ** 2 + gap[:, 1] ** 2 <= within_mm * within_mm
        found.append(np.column_stack((np.minimum(a, b)[near], np.maximum(a, b)[near])))
    return np.concatenate(found)


def components(count: int, pairs: Ints) -> Ints:
    """Return the component each of ``count`` nodes belongs to, named by its least node.

    Args:
        pairs: links between nodes, shape (m, 2).
    """
    label = np.arange(count, dtype=np.int64)
    if not len(pairs):
        return label
    a, b = pairs[:, 0], pairs[:, 1]
    while True:
        least = np.minimum(label[a], label[b])
        before = label.copy()
        np.minimum.at(label, before[a], least)
        np.minimum.at(label, before[b], least)
        while True:
            jumped = label[label]
            if np.array_equal(jumped, label):
                break
            label = jumped
        if np.array_equal(label, before):
            return label
