"""Runs of candidates along the edge, and what no triple out of three runs can be below.

A triple of runs can be dropped when, for some feature row r, Σ limit |r·(g × g)| − f |det| > 0
throughout, f being the best value known. All r·(gj × gk) form one antisymmetric matrix. Over
a run each quantity is a linear function of the place in the run plus a remainder whose size
is measured, exactly, over all its candidates; on straight edges there is none. Taking the
sizes' signs from the middle of the runs only lowers the sum, so its least value over the runs
is bounded by its middle less its slopes and remainders.

Source: worked out here; the first-order bound of interval analysis (mean value form).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jigs.locating.field import Field, Indices, surrounds
from kerf.contour import Floats
from kerf.tolerance import RANK_RELATIVE, TIE_RELATIVE

#: Lengths of the runs, longest first; each divides the one before.
RUNS = (32, 8, 4, 2, 1)

#: Runs of this length and shorter lie on one face, where the quantities are smooth.
_PURE = 4

#: What rounding may add to a bound, as a share of its terms.
_ROUNDING = 1e-10


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
        sine, lever_x, lever_y: the parts of gj × gk, per pair of runs; a row's response is
            their sum, each times the row's part.
        limits: least limit in each run, shape (b,).
        together: middle and half width of the signed limits, shape (groups, 2, b).
        reach: greatest distance between places of two runs, mm, shape (b, b).
        faces: the face of each run, -1 for one that spans several, shape (b,).
        normals: a normal out of each run, shape (b, 2).
        alike: greatest n · n of places of two runs, shape (b, b).
    """

    length: int
    moment: _Linear
    sine: _Linear
    lever_x: _Linear
    lever_y: _Linear
    limits: Floats
    together: Floats
    reach: Floats
    faces: Indices
    normals: Floats
    alike: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Runs:
    """The candidates in runs of every length above one.

    Args:
        order: candidates in order, each face filled up to a whole number of short runs by
            repeating its last place; shape (n,), a multiple of the longest run.
        real: False where a place is such a repetition, shape (n,).
        levels: the linear pictures, longest runs first.
    """

    order: Indices
    real: NDArray[np.bool_]
    levels: tuple[Level, ...]


def runs_of(field: Field) -> Runs:
    """Return the candidates in runs; runs of ``_PURE`` and fewer lie on one face each."""
    first = np.flatnonzero(np.concatenate(([True], np.diff(field.faces) != 0)))
    last = np.concatenate((first[1:], [len(field.faces)]))
    parts, real = [], []
    for start, end in zip(first, last, strict=True):
        count = -(-(end - start) // _PURE) * _PURE
        parts.append(np.minimum(np.arange(start, start + count), end - 1))
        real.append(np.arange(count) < end - start)
    short = -sum(map(len, parts)) % RUNS[0]
    parts.append(np.full(short, len(field.faces) - 1))
    real.append(np.zeros(short, dtype=bool))
    order = np.concatenate(parts)
    levels = tuple(_level(field, order, length) for length in RUNS[:-1])
    return Runs(order=order, real=np.concatenate(real), levels=levels)


def _level(field: Field, fill: Indices, length: int) -> Level:
    """Return the linear pictures over runs of ``length`` of the places ``fill``."""
    count = len(fill) // length
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
        lever_x=_pair_linear(lever_x, at),
        lever_y=_pair_linear(lever_y, at),
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
        alike=(n @ n.T).reshape(count, length, count, length).max(axis=(1, 3)),
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


def may_hold(field: Field, level: Level, triples: Indices, ceiling: float) -> NDArray[np.bool_]:
    """Return which triples of runs may hold a triple of candidates not above ``ceiling``."""
    run = tuple(triples.T)
    sides = ((0, 1, 2), (1, 2, 0), (2, 0, 1))
    det, tilt, rest = np.zeros(len(triples)), np.zeros((3, len(triples))), np.zeros(len(triples))
    sines = []
    facing = np.ones(len(triples), dtype=bool)
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
        # A run over several faces may hold opposed normals: it proves nothing here.
        wide = swing + (level.faces[run[b]] < 0) + (level.faces[run[c]] < 0)
        sines.append((s - wide, s + wide))
        if field.facing_cos > -1.0:
            facing &= level.alike[run[b], run[c]] >= field.facing_cos - 2 * TIE_RELATIVE
    may: NDArray[np.bool_] = facing & (
        np.abs(det) + np.abs(tilt).sum(axis=0) + rest > RANK_RELATIVE
    )
    for a, b, _ in sides:
        may &= level.reach[run[a], run[b]] >= field.spacing_mm * (1 - 2 * TIE_RELATIVE)
    if field.one_push:
        may &= ~surrounds(sines, level.normals, (run[1], run[2], run[0]))
    if not math.isfinite(ceiling):
        return may
    left = np.flatnonzero(may)
    for row, constant, tolerance in zip(field.rows, field.constants, field.tolerances, strict=True):
        allowed = ceiling * tolerance - constant
        at = tuple(triples[left].T)
        pairs = [_response(level, row, at[b], at[c]) for _, b, c in sides]
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


def _response(
    level: Level, row: Floats, b: Indices, c: Indices
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return middle, both slopes and remainder of r·(gj × gk) for pairs of runs."""
    middle, first, second, rest = (np.zeros(len(b)) for _ in range(4))
    for share, part in zip(row, (level.lever_x, level.lever_y, level.sine), strict=True):
        if share != 0.0:
            m, s1, s2, r = _of_pair(part, b, c)
            middle += share * m
            first += share * s1
            second += share * s2
            rest += abs(share) * r
    return middle, first, second, rest
