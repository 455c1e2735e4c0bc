"""The best three of many contacts, proven: branch and bound over blocks of candidates.

For contacts with rows g1, g2, g3 and a feature's row r (what moves it along x or y), the
response to locator 1 is r·(g2 × g3) / det(g1, g2, g3), so the worst case is

    E = Σ limit1 |r·(g2 × g3)| / |det|,   objective = max over features of (E + c) / tolerance.

All r·(gj × gk) form one antisymmetric matrix per feature row, and with g = (n, m) the
determinant is m1 (n2×n3) + m2 (n3×n1) + m3 (n1×n2). Candidates are taken in runs along the
edge. A triple of runs can be dropped when, for some row, Σ limit |r·(g × g)| − f |det| > 0
throughout, f being the best value known. Over a run each of these quantities is a linear
function of the place in the run plus a remainder whose size is measured, exactly, over all
its candidates; on straight edges there is none. Taking the sizes' signs from the middle of
the runs only lowers the sum, so the left side's least value over the runs is bounded by its
middle less its slopes and remainders. Triples of runs that pass are split, down to single
candidates. Nothing is dropped on a guess, so the best triple left is the best of all.

The error of a feature is convex in the feature's place, so that of features with the same
tolerance only the outermost along each axis count.

Source: linear locating error as in Asada & By 1985 and Cai, Hu & Yuan 1997; branch and bound
(Land & Doig's scheme); the bound was worked out here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from kerf.contour import Floats
from kerf.tolerance import RANK_RELATIVE, TIE_RELATIVE

Indices = NDArray[np.int64]

#: Lengths of the runs, longest first; each divides the one before.
_RUNS = (32, 8, 4, 2, 1)

#: What rounding may add to a bound, as a share of its terms.
_ROUNDING = 1e-10

#: Triples weighed at once: keeps the working arrays within the processor's cache.
_CHUNK = 1 << 15

#: Candidates of the coarse first pass: all their triples are weighed, 34,000 of them.
_COARSE = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """Candidates and features as arrays; lengths in units of ``Field.size_mm``.

    Args:
        normals: shape (n, 2).
        moments: p × n about the part's middle over size_mm, shape (n,).
        places: shape (n, 2), mm.
        limits: greatest ± of each candidate's own causes, mm, shape (n,).
        together: signed limits of the causes that move several at once, shape (groups, n), mm.
        rounds: the same for causes bounded by a circle, shape (groups, n), mm.
        rows: what moves each feature, moments in the same unit, shape (r, 3).
        constants: what is added to each row's error whatever the layout, mm, shape (r,).
        tolerances: shape (r,), mm.
        spacing_mm: least distance between two contacts.
        faces: number of the face each candidate lies on, >= 0, shape (n,).
        one_push: the three normals lie within a half plane, so that one straight push can
            drive the part against all three.
    """

    normals: Floats
    moments: Floats
    places: Floats
    limits: Floats
    together: Floats
    rounds: Floats
    rows: Floats
    constants: Floats
    tolerances: Floats
    spacing_mm: float
    faces: Indices
    one_push: bool


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


def objective(field: Field, triples: Indices, *, ceiling: float = math.inf) -> Floats:
    """Return the objective of each triple; infinite where it is not admissible.

    Args:
        triples: indices, shape (k, 3).
        ceiling: values above it may be returned as infinite.
    """
    out: Floats = np.full(len(triples), np.inf)
    i, j, k = triples.T
    n, m = field.normals, field.moments
    sines = _cross(n[j], n[k]), _cross(n[k], n[i]), _cross(n[i], n[j])
    det = np.abs(m[i] * sines[0] + m[j] * sines[1] + m[k] * sines[2])
    good = det > RANK_RELATIVE
    for a, b in ((i, j), (j, k), (k, i)):
        step = field.places[a] - field.places[b]
        good &= step[:, 0] ** 2 + step[:, 1] ** 2 >= (field.spacing_mm * (1 - TIE_RELATIVE)) ** 2
    if field.one_push:
        good &= ~_surrounds([(s, s) for s in sines], n, (j, k, i))
    left = np.flatnonzero(good)
    worst = np.zeros(len(left))
    for row, constant, tolerance in zip(field.rows, field.constants, field.tolerances, strict=True):
        at = triples[left].T
        responses = []
        for a, b, s in ((1, 2, sines[0]), (2, 0, sines[1]), (0, 1, sines[2])):
            u, v = at[a], at[b]
            lever_x = n[u, 1] * m[v] - m[u] * n[v, 1]
            lever_y = m[u] * n[v, 0] - n[u, 0] * m[v]
            responses.append(row[0] * lever_x + row[1] * lever_y + row[2] * s[left])
        moved = list(zip(at, responses, strict=True))
        error = np.zeros(len(left))
        for a, t in moved:
            error += field.limits[a] * np.abs(t)
        for signed in field.together:
            error += np.abs(sum((signed[a] * t for a, t in moved), np.zeros(len(left))))
        for radius in field.rounds:
            error += np.sqrt(sum(((radius[a] * t) ** 2 for a, t in moved), np.zeros(len(left))))
        worst = np.maximum(worst, (error / det[left] + constant) / tolerance)
        low = worst <= ceiling
        left, worst = left[low], worst[low]
    out[left] = worst
    return out


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


def best_three(
    field: Field, *, other: Other | None = None, levels: tuple[Level, ...] | None = None
) -> Found:
    """Return the best triple of all candidates, proven, with every triple tied with it.

    Args:
        levels: ``run_levels(field)`` when it is at hand, for a second search.
        other: what the layout must differ from.
    """
    n = len(field.moments)
    if n < 3:
        return Found(value=math.inf, triples=np.empty((0, 3), np.int64), weighed=0, bounded=0)
    ceiling, weighed = _first_guess(field, other)
    if levels is None:
        levels = run_levels(field)
    bounded = 0
    triples = _ordered_triples(-(-n // _RUNS[0]))
    kept: list[tuple[Indices, Floats]] = []
    for level, below in zip(levels, _RUNS[1:], strict=True):
        survivors = []
        for part in _chunks(triples):
            bounded += len(part)
            may = _may_hold(field, level, part, ceiling * (1 + 2 * TIE_RELATIVE))
            if other is not None and other.faces:
                may &= ~_same(level.faces[part], other.faces)
            survivors.append(part[may])
        triples = np.concatenate(survivors)
        if below > 1:
            triples = _split(triples, level.length // below, -(-n // below))
    for runs in _chunks(triples, _CHUNK // _RUNS[-2] ** 3):
        part = _split(runs, _RUNS[-2], n)
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
    return np.asarray(np.all(np.sort(triples, axis=1) == np.array(home), axis=1))


def _cross(a: Floats, b: Floats) -> Floats:
    """Return the plane's cross product of rows of two-vectors."""
    out: Floats = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return out


def _surrounds(
    sines: list[tuple[Floats, Floats]], normals: Floats, heads: tuple[Indices, Indices, Indices]
) -> NDArray[np.bool_]:
    """Return where three unit vectors surely do not lie within one open half plane.

    They do not when they go round the origin, or when two of them are opposed.

    Args:
        sines: least and greatest n × n of the pairs (second, third), (third, first) and
            (first, second).
        normals: unit vectors, shape (n, 2).
        heads: the first vector of each of these pairs.
    """
    tiny = RANK_RELATIVE
    ccw = (sines[0][0] > tiny) & (sines[1][0] > tiny) & (sines[2][0] > tiny)
    cw = (sines[0][1] < -tiny) & (sines[1][1] < -tiny) & (sines[2][1] < -tiny)
    out: NDArray[np.bool_] = ccw | cw
    for (low, high), a, b in zip(sines, heads, (heads[1], heads[2], heads[0]), strict=True):
        parallel = (low >= -tiny) & (high <= tiny)
        out |= parallel & (np.einsum("ij,ij->i", normals[a], normals[b]) < 0)
    return out


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Linear:
    """A quantity over runs or pairs of runs: middle + slope · place, ± remainder.

    Places in a run go from -1 to 1. For pairs, ``first`` is the slope in the first run's place
    and ``second`` in the second's; for single runs ``second`` is not used.
    """

    middle: Floats
    first: Floats
    second: Floats
    rest: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """What the bound needs, over runs of one length.

    Args:
        length: candidates in a run.
        moment: moments, per run.
        sine: n × n, per pair of runs.
        responses: r·(gj × gk) for each row, per pair of runs.
        limits: least limit in each run, shape (b,).
        together: middle and half width of the signed limits, shape (groups, 2, b).
        reach: greatest distance between places of two runs, mm, shape (b, b).
        faces: the face of each run, -1 for one that spans several, shape (b,).
        normals: a normal out of each run, shape (b, 2).
    """

    length: int
    moment: _Linear
    sine: _Linear
    responses: tuple[_Linear, ...]
    limits: Floats
    together: Floats
    reach: Floats
    faces: Indices
    normals: Floats


def run_levels(field: Field) -> tuple[Level, ...]:
    """Return the linear pictures over runs of every length above one, longest first."""
    return tuple(_level(field, length) for length in _RUNS[:-1])


def _level(field: Field, length: int) -> Level:
    """Return the linear pictures over runs of ``length``; the last run repeats its last place."""
    count = -(-len(field.moments) // length)
    fill = np.minimum(np.arange(count * length), len(field.moments) - 1)
    n, m, p = field.normals[fill], field.moments[fill], field.places[fill]
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(p, axis=0).T))))
    along = along.reshape(count, length)
    half = (along[:, -1:] - along[:, :1]) / 2
    at = (along - along[:, :1] - half) / np.where(half > 0, half, 1.0)
    sine = np.outer(n[:, 0], n[:, 1])
    sine = sine - sine.T
    lever_x, lever_y = np.outer(n[:, 1], m), np.outer(m, n[:, 0])
    lever_x, lever_y = lever_x - lever_x.T, lever_y - lever_y.T
    apart = np.hypot(p[:, None, 0] - p[:, 0], p[:, None, 1] - p[:, 1])
    signed = field.together[:, fill].reshape(len(field.together), count, length)
    face = field.faces[fill].reshape(count, length)
    return Level(
        length=length,
        moment=_linear(m.reshape(count, length), at),
        sine=_pair_linear(sine, at),
        responses=tuple(
            _pair_linear(r[0] * lever_x + r[1] * lever_y + r[2] * sine, at) for r in field.rows
        ),
        limits=field.limits[fill].reshape(count, length).min(axis=1),
        together=np.stack(
            (
                (signed.max(axis=2) + signed.min(axis=2)) / 2,
                (signed.max(axis=2) - signed.min(axis=2)) / 2,
            ),
            axis=1,
        ),
        reach=apart.reshape(count, length, count, length).max(axis=(1, 3)),
        faces=np.where(np.all(face == face[:, :1], axis=1), face[:, 0], -1),
        normals=n[::length],
    )


def _linear(values: Floats, at: Floats) -> _Linear:
    """Return the linear picture of values per run, both shape (b, length)."""
    middle, slope = (values[:, -1] + values[:, 0]) / 2, (values[:, -1] - values[:, 0]) / 2
    rest = np.abs(values - middle[:, None] - slope[:, None] * at).max(axis=1)
    return _Linear(middle=middle, first=slope, second=slope, rest=rest)


def _pair_linear(square: Floats, at: Floats) -> _Linear:
    """Return the linear picture of a matrix over pairs of runs, at: shape (b, length)."""
    count, length = at.shape
    cells = square.reshape(count, length, count, length)
    ll, lh, hl, hh = (cells[:, i, :, j] for i in (0, -1) for j in (0, -1))
    middle, first, second = (
        (ll + lh + hl + hh) / 4,
        (hl + hh - ll - lh) / 4,
        (lh + hh - ll - hl) / 4,
    )
    off = cells - middle[:, None, :, None]
    off -= first[:, None, :, None] * at[:, :, None, None]
    off -= second[:, None, :, None] * at
    np.abs(off, out=off)
    return _Linear(middle=middle, first=first, second=second, rest=off.max(axis=(1, 3)))


def _may_hold(field: Field, level: Level, triples: Indices, ceiling: float) -> NDArray[np.bool_]:
    """Return which triples of runs may hold a triple of candidates not above ``ceiling``."""
    run = tuple(triples.T)
    sides = ((0, 1, 2), (1, 2, 0), (2, 0, 1))
    det, tilt, rest = np.zeros(len(triples)), np.zeros((3, len(triples))), np.zeros(len(triples))
    sines = []
    for a, b, c in sides:
        m, m1 = level.moment.middle[run[a]], level.moment.first[run[a]]
        m_rest = level.moment.rest[run[a]]
        s, s1, s2, s_rest = _of_pair(level.sine, run[b], run[c])
        det += m * s
        tilt[a] += m1 * s
        tilt[b] += m * s1
        tilt[c] += m * s2
        swing = np.abs(s1) + np.abs(s2) + s_rest
        rest += np.abs(m1) * swing + np.abs(m) * s_rest + m_rest * (np.abs(s) + swing)
        sines.append((s - swing, s + swing))
    may = np.abs(det) + np.abs(tilt).sum(axis=0) + rest > RANK_RELATIVE
    for a, b, _ in sides:
        may &= level.reach[run[a], run[b]] >= field.spacing_mm * (1 - 2 * TIE_RELATIVE)
    if field.one_push:
        may &= ~_surrounds(sines, level.normals, (run[1], run[2], run[0]))
    if not math.isfinite(ceiling):
        return may
    left = np.flatnonzero(may)
    for row, constant, tolerance in zip(
        level.responses, field.constants, field.tolerances, strict=True
    ):
        allowed = ceiling * tolerance - constant
        at = tuple(triples[left].T)
        pairs = [_of_pair(row, at[b], at[c]) for _, b, c in sides]
        error, lean, slack = np.zeros(len(left)), np.zeros((3, len(left))), np.zeros(len(left))
        for (a, b, c), (t, t1, t2, t_rest) in zip(sides, pairs, strict=True):
            # Where the sign may change within the runs, the size is only known to be >= 0.
            one_sign = np.abs(t) > np.abs(t1) + np.abs(t2) + t_rest
            limit = np.where(one_sign, level.limits[at[a]], 0.0)
            error += limit * np.abs(t)
            up = limit * np.sign(t)
            lean[b] += up * t1
            lean[c] += up * t2
            slack += limit * t_rest
        for centre, width in level.together:
            total = sum((centre[at[a]] * pairs[a][0] for a in range(3)), np.zeros(len(left)))
            error += np.abs(total)
            for (a, b, c), (t, t1, t2, t_rest) in zip(sides, pairs, strict=True):
                up = np.sign(total) * centre[at[a]]
                lean[b] += up * t1
                lean[c] += up * t2
                reach = np.abs(t) + np.abs(t1) + np.abs(t2) + t_rest
                slack += np.abs(up) * t_rest + width[at[a]] * reach
        target, slope = allowed * det[left], allowed * tilt[:, left]
        slack += abs(allowed) * rest[left] + _ROUNDING * (error + np.abs(target))
        holds = np.zeros(len(left), dtype=bool)
        for sign in (1.0, -1.0):
            holds |= error - sign * target - np.abs(lean - sign * slope).sum(axis=0) <= slack
        left = left[holds]
    out = np.zeros(len(triples), dtype=bool)
    out[left] = True
    return out


def _of_pair(quantity: _Linear, b: Indices, c: Indices) -> tuple[Floats, Floats, Floats, Floats]:
    """Return middle, both slopes and remainder for pairs of runs."""
    return quantity.middle[b, c], quantity.first[b, c], quantity.second[b, c], quantity.rest[b, c]


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
