"""The best three of many contacts, proven: branch and bound over runs of candidates.

Candidates are taken in runs along the edge. Triples of runs that cannot hold a layout as good
as the best one known are dropped whole (``runs``), the others are split, down to single
candidates, which are weighed. Nothing is dropped on a guess, so the best triple left is the
best of all. The first value to beat comes from a coarse choice improved by exchange; it is
only a start, and costs nothing in proof.

Source: branch and bound (Land & Doig's scheme).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from jigs.locating.field import Field, Indices, objective
from jigs.locating.runs import RUNS, Runs, may_hold, runs_of
from kerf.contour import Floats
from kerf.tolerance import TIE_RELATIVE

#: Triples weighed at once: keeps the working arrays within the processor's cache.
_CHUNK = 1 << 15

#: Candidates of the coarse first pass: all their triples are weighed, 34,000 of them.
_COARSE = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Result of a search.

    Args:
        value: least objective; infinite when no triple is admissible.
        triples: every triple within a tie of it, shape (k, 3).
        weighed: triples evaluated one by one.
        bounded: runs of triples judged by their bound.
    """

    value: float
    triples: Indices
    weighed: int
    bounded: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """What a second layout must differ from: a set of faces, or just a triple.

    Args:
        faces, triple: three numbers in rising order; empty when it does not matter.
    """

    faces: tuple[int, ...] = ()
    triple: tuple[int, ...] = ()


def best_of(field: Field, triples: Indices, *, other: Other | None = None) -> Found:
    """Return the best of the given triples by weighing every one."""
    value = math.inf
    kept: list[tuple[Indices, Floats]] = []
    for part in _chunks(triples):
        values = _values(field, part, other, value * (1 + TIE_RELATIVE))
        value = min(value, float(values.min(initial=math.inf)))
        near = values <= value * (1 + TIE_RELATIVE)
        kept.append((part[near], values[near]))
    return _found(kept, value, len(triples), 0)


def best_three(field: Field, *, other: Other | None = None, runs: Runs | None = None) -> Found:
    """Return the best triple of all candidates, proven, with every triple tied with it.

    Args:
        runs: ``runs_of(field)`` when it is at hand, for a second search.
        other: what the layout must differ from.
    """
    if len(field.moments) < 3:
        return Found(value=math.inf, triples=np.empty((0, 3), np.int64), weighed=0, bounded=0)
    ceiling, weighed = _first_guess(field, other)
    runs = runs or runs_of(field)
    bounded = 0
    triples = _ordered_triples(len(runs.levels[0].limits))
    for level, below in zip(runs.levels, RUNS[1:], strict=True):
        survivors = []
        for part in _chunks(triples):
            bounded += len(part)
            may = may_hold(field, level, part, ceiling * (1 + 2 * TIE_RELATIVE))
            if other is not None and other.faces:
                may &= ~_same(level.faces[part], other.faces)
            survivors.append(part[may])
        triples = np.concatenate(survivors)
        if below > 1:
            triples = _split(triples, level.length // below, len(runs.order) // below)
    kept: list[tuple[Indices, Floats]] = []
    for held in _chunks(triples, _CHUNK // RUNS[-2] ** 3):
        part = _split(held, RUNS[-2], len(runs.order))
        part = runs.order[part[np.all(runs.real[part], axis=1)]]
        values = _values(field, part, other, ceiling * (1 + TIE_RELATIVE))
        weighed += len(part)
        ceiling = min(ceiling, float(values.min(initial=math.inf)))
        near = np.isfinite(values) & (values <= ceiling * (1 + TIE_RELATIVE))
        kept.append((part[near], values[near]))
    return _found(kept, ceiling, weighed, bounded)


def _chunks(triples: Indices, size: int = _CHUNK) -> list[Indices]:
    """Return the triples in pieces, at least one."""
    return [triples[k : k + size] for k in range(0, max(len(triples), 1), size)]


def _found(kept: list[tuple[Indices, Floats]], value: float, weighed: int, bounded: int) -> Found:
    """Gather the triples within a tie of the best value."""
    triples = np.concatenate([t for t, _ in kept]) if kept else np.empty((0, 3), np.int64)
    values = np.concatenate([v for _, v in kept]) if kept else np.empty(0)
    tied = triples[np.isfinite(values) & (values <= value * (1 + TIE_RELATIVE))]
    return Found(value=value, triples=tied, weighed=weighed, bounded=bounded)


def _values(
    field: Field, triples: Indices, other: Other | None, ceiling: float = math.inf
) -> Floats:
    """Return the objective, infinite also where the triple is forbidden."""
    values = objective(field, triples, ceiling=ceiling)
    if other is not None:
        barred = np.zeros(len(triples), dtype=bool)
        if other.faces:
            barred |= _same(field.faces[triples], other.faces)
        if other.triple:
            barred |= _same(triples, other.triple)
        values = np.where(barred, np.inf, values)
    return values


def _same(triples: Indices, home: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return which rows hold the three numbers of ``home``, in any order."""
    same: NDArray[np.bool_] = np.all(np.sort(triples, axis=1) == np.array(home), axis=1)
    return same


def _first_guess(field: Field, other: Other | None) -> tuple[float, int]:
    """Return a good objective to prune with: all triples of a coarse choice, then exchange."""
    n = len(field.moments)
    coarse = np.unique(np.linspace(0, n - 1, min(n, _COARSE)).astype(np.int64))
    triples = coarse[np.array(list(combinations(range(len(coarse)), 3)), dtype=np.int64)]
    found = best_of(field, triples, other=other)
    weighed = len(triples)
    if not len(found.triples):
        return math.inf, weighed
    best, value = found.triples[0].copy(), found.value
    every = np.arange(n)
    improved = True
    while improved:
        improved = False
        for slot in range(3):
            trial = np.tile(best, (n, 1))
            trial[:, slot] = every
            values = _values(field, trial, other)
            weighed += n
            at = int(np.argmin(values))
            if values[at] < value * (1 - TIE_RELATIVE):
                best, value, improved = trial[at].copy(), float(values[at]), True
    return value, weighed


def _ordered_triples(count: int) -> Indices:
    """Return every i <= j <= k below count, shape (t, 3)."""
    i, j = np.triu_indices(count)
    parts = [
        np.column_stack((np.full(count - b, a), np.full(count - b, b), np.arange(b, count)))
        for a, b in zip(i, j, strict=True)
    ]
    return np.concatenate(parts).astype(np.int64)


def _split(triples: Indices, ratio: int, below: int) -> Indices:
    """Return the triples of shorter runs inside each triple of runs; each set of runs once."""
    steps = np.arange(ratio)
    grid = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    parts = []
    for part in _chunks(triples):
        inner = (part[:, None, :] * ratio + grid).reshape(-1, 3)
        keep = (inner[:, 0] <= inner[:, 1]) & (inner[:, 1] <= inner[:, 2]) & (inner[:, 2] < below)
        parts.append(inner[keep])
    return np.concatenate(parts)
