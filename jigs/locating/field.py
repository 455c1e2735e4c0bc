"""Candidates and features as arrays, and the error of many layouts at once.

For contacts with rows g1, g2, g3 and a feature's row r (what moves it along x or y), the
response to locator 1 is r·(g2 × g3) / det(g1, g2, g3), so the worst case is

    E = Σ limit1 |r·(g2 × g3)| / |det|,   objective = max over features of (E + c) / tolerance;

with g = (n, m) the determinant is m1 (n2×n3) + m2 (n3×n1) + m3 (n1×n2).

Source: linear locating error as in Asada & By 1985 and Cai, Hu & Yuan 1997; Cramer's rule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerf.contour import Floats
from kerf.tolerance import BALANCE_RELATIVE, RANK_RELATIVE, TIE_RELATIVE

Indices = NDArray[np.int64]


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
        spacing_mm: least distance between two contacts, of which at least one is free.
        free: how many of the candidates are free; the rest, at the end, are fixed by the user.
        faces: number of the face each candidate lies on, >= 0, shape (n,).
        one_push: the three normals lie within a half plane, so that one straight push can
            drive the part against all three.
        facing_cos: least n · n of any two of the three; -1 for no limit. Normals that nearly
            oppose each other wedge the part instead of seating it.
        load: force along x and y, and moment about the part's middle over size_mm, that the
            three must carry without friction and without pulling; None when nothing is asked.
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
    free: int
    faces: Indices
    one_push: bool
    facing_cos: float = -1.0
    load: tuple[float, float, float] | None = None


def objective(field: Field, triples: Indices, *, ceiling: float = math.inf) -> Floats:
    """Return the objective of each triple; infinite where it is not admissible.

    Args:
        triples: indices, shape (k, 3).
        ceiling: values above it may be returned as infinite.
    """
    out: Floats = np.full(len(triples), np.inf)
    i, j, k = triples.T
    n, m = field.normals, field.moments
    sines, det = _determinants(field, triples)
    good = det > RANK_RELATIVE
    for a, b in ((i, j), (j, k), (k, i)):
        step = field.places[a] - field.places[b]
        apart = step[:, 0] ** 2 + step[:, 1] ** 2 >= (field.spacing_mm * (1 - TIE_RELATIVE)) ** 2
        good &= apart | ((a >= field.free) & (b >= field.free))
    if field.one_push:
        good &= ~surrounds([(s, s) for s in sines], n, (j, k, i))
    if field.facing_cos > -1.0:
        for a, b in ((i, j), (j, k), (k, i)):
            good &= np.einsum("ij,ij->i", n[a], n[b]) >= field.facing_cos - TIE_RELATIVE
    if field.load is not None:
        good &= _carries(field, triples, field.load)
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


def surrounds(
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


def _carries(field: Field, triples: Indices, load: tuple[float, float, float]) -> NDArray[np.bool_]:
    """Return which triples carry a load by pushing alone: no reaction below zero."""
    rows = np.column_stack((field.normals, field.moments))[triples]
    out = np.ones(len(triples), dtype=bool)
    levers = [np.cross(rows[:, a], rows[:, b]) for a, b in ((1, 2), (2, 0), (0, 1))]
    det = np.einsum("ij,ij->i", rows[:, 0], levers[0])
    for lever in levers:
        out &= -(lever @ np.asarray(load)) * np.sign(det) >= -BALANCE_RELATIVE * np.abs(det)
    return out


def spread(field: Field, triples: Indices) -> Floats:
    """Return |det G| of each triple, moments in units of the field's size."""
    return _determinants(field, triples)[1]


def _determinants(field: Field, triples: Indices) -> tuple[tuple[Floats, Floats, Floats], Floats]:
    """Return n × n of the pairs (2, 3), (3, 1) and (1, 2), and |det G|."""
    i, j, k = triples.T
    n, m = field.normals, field.moments
    sines = _cross(n[j], n[k]), _cross(n[k], n[i]), _cross(n[i], n[j])
    return sines, np.abs(m[i] * sines[0] + m[j] * sines[1] + m[k] * sines[2])


def _cross(a: Floats, b: Floats) -> Floats:
    """Return the plane's cross product of rows of two-vectors."""
    out: Floats = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return out
