"""Weights of zero or more that balance a few wrenches, by weighing every basic set.

A least-squares balance with weights >= 0, and a linear programme over such weights, are both
met at a *basic* answer: one that loads no more wrenches than there are independent columns.
Contacts are few, so every such set is solved at once and the best is taken: the answer is
proven, and needs no solver. Source: Carathéodory's theorem for cones; basic solutions as in
any text on the simplex method.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from kerf.contour import Floats
from kerf.tolerance import BALANCE_RELATIVE, RANK_RELATIVE


def nearest_balance(rows: Floats, target: Floats) -> tuple[Floats, float]:
    """Return the weights >= 0 for which rowsᵀ weights comes nearest the target, and how near.

    Args:
        rows: one wrench a row, shape (n, columns).
        target: shape (columns,).
    Returns:
        weights, shape (n,), and the length of what is left over.
    """
    best, left = np.zeros(len(rows)), float(np.linalg.norm(target))
    for index, inverse in _basic_sets(rows, rows.shape[1]):
        weights = inverse @ target
        kept = np.all(weights >= 0, axis=1)
        index, weights = index[kept], weights[kept]
        if not len(index):
            continue
        off = np.linalg.norm(np.einsum("ijk,ij->ik", rows[index], weights) - target, axis=1)
        i = int(off.argmin())
        # A larger set must be better by more than rounding.
        if off[i] < left * (1 - RANK_RELATIVE) - 1e-300:
            left = float(off[i])
            best = np.zeros(len(rows))
            best[index[i]] = weights[i]
    return best, left


def least_balance(rows: Floats, terms: Floats) -> float:
    """Return the least sum of terms over weights >= 0 that add up to 1 and cancel the rows.

    Args:
        rows: one wrench a row, shape (n, columns).
        terms: shape (n,).
    Returns:
        infinity when no weights cancel the rows.
    """
    whole = np.column_stack((rows, np.ones(len(rows))))
    target = np.zeros(whole.shape[1])
    target[-1] = 1.0
    least = math.inf
    for index, inverse in _basic_sets(whole, whole.shape[1]):
        weights = inverse @ target
        off = np.linalg.norm(np.einsum("ijk,ij->ik", whole[index], weights) - target, axis=1)
        held = (off <= BALANCE_RELATIVE) & np.all(weights >= -BALANCE_RELATIVE, axis=1)
        sums = np.einsum("ij,ij->i", terms[index[held]], weights[held])
        least = min(least, float(sums.min(initial=math.inf)))
    return least


def _basic_sets(rows: Floats, most: int) -> Iterator[tuple[NDArray[np.int64], Floats]]:
    """Yield the sets of one row, of two, … and the maps target → weights of each."""
    for size in range(1, min(most, len(rows)) + 1):
        index = np.array(list(combinations(range(len(rows)), size)), dtype=np.int64)
        stacked = rows[index].transpose(0, 2, 1)
        inverse = np.asarray(np.linalg.pinv(stacked, rcond=RANK_RELATIVE), dtype=np.float64)
        yield index, inverse
