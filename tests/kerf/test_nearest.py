"""Nearest points of lines and arcs against dense sampling, and crossings worked by hand.

Source: brute force on 2,001 points of each edge, which can only find a distance too long, by no
more than half their spacing.
"""

from __future__ import annotations

import numpy as np
import pytest

from kerf.nearest import crossing_pairs, distances_to, nearest_pairs, nearest_points
from kerf.pieces import Pieces


def edges(seed: int, count: int, spread: float = 30.0) -> Pieces:
    """Return lines and arcs up to nearly a whole turn."""
    rng = np.random.default_rng(seed)
    start = rng.uniform(-spread, spread, count) + 1j * rng.uniform(-spread, spread, count)
    end = start + rng.uniform(-9, 9, count) + 1j * rng.uniform(-9, 9, count)
    bulge = np.where(rng.uniform(size=count) < 0.3, 0.0, rng.uniform(-4, 4, count))
    return Pieces.of_bulges(start, end, bulge)


def dense(pieces: Pieces) -> np.ndarray:
    share = np.linspace(0, 1, 2001)
    return np.array([pieces.at(np.full(2001, k), share) for k in range(len(pieces))])


def test_nearest_point_of_one_edge():
    pieces = edges(1, 60)
    rng = np.random.default_rng(2)
    z = rng.uniform(-40, 40, 60) + 1j * rng.uniform(-40, 40, 60)
    got = nearest_points(pieces, np.arange(60), z)
    brute = np.abs(dense(pieces) - z[:, None]).min(axis=1)
    short = brute - np.abs(got - z)
    assert short.min() > -1e-12
    assert short.max() < 0.1
    assert pieces.distance(np.arange(60), got).max() < 1e-12 * 100


@pytest.mark.parametrize("bulge", [1e-11, 1e-8, 1e-5])
def test_flat_arcs_keep_their_digits(bulge):
    """The foot on an arc whose centre is up to 10¹² mm away lies on it: its distance from the
    middle of the chord is at most the sagitta, b c / 2, and the foot of the middle is the apex."""
    flat = Pieces.of_bulges(np.array([0j]), np.array([100 + 0j]), np.array([bulge]))
    got = nearest_points(flat, np.zeros(1, dtype=int), np.array([50 + 30j]))
    assert got[0].real == pytest.approx(50, abs=1e-12)
    assert got[0].imag == pytest.approx(-50 * bulge, abs=1e-13)


def test_nearest_of_all_edges():
    pieces = edges(3, 25)
    rng = np.random.default_rng(4)
    z = rng.uniform(-40, 40, 80) + 1j * rng.uniform(-40, 40, 80)
    d, owner = distances_to(pieces, z)
    each = np.abs(dense(pieces)[None] - z[:, None, None]).min(axis=2)
    assert np.abs(each.min(axis=1) - d).max() < 0.05
    assert np.abs(each[np.arange(80), owner] - d).max() < 0.05


@pytest.mark.parametrize("seed", range(4))
def test_pairs(seed):
    a, b = edges(10 + seed, 40), edges(20 + seed, 40)
    i, j = (v.ravel() for v in np.meshgrid(np.arange(40), np.arange(40), indexing="ij"))
    p, q, _ = crossing_pairs(a, b, 0.0)
    apart = np.ones((40, 40), dtype=bool)
    apart[p, q] = False
    d, on_a, on_b = nearest_pairs(a, i, b, j)
    da, db = dense(a)[:, ::10], dense(b)[:, ::10]
    for k in np.flatnonzero(apart.ravel())[::7]:
        brute = np.abs(da[i[k]][:, None] - db[j[k]][None]).min()
        assert -1e-12 < brute - d[k] < 0.3
        assert abs(on_a[k] - on_b[k]) == pytest.approx(d[k], abs=1e-12)
        assert np.abs(da[i[k]] - on_a[k]).min() < 0.3
        assert np.abs(db[j[k]] - on_b[k]).min() < 0.3
    # Where the samples say they all but touch, they cross.
    for k in np.flatnonzero(~apart.ravel())[:10]:
        assert np.abs(da[i[k]][:, None] - db[j[k]][None]).min() < 0.3


def test_crossings_by_hand():
    """Circle of r = 5 about 0 as two half turns; a line at y = 3; a circle of r = 5 about 6."""
    circle = Pieces.of_bulges(np.array([-5, 5]) + 0j, np.array([5, -5]) + 0j, np.ones(2))
    line = Pieces.of_bulges(np.array([-9 + 3j]), np.array([9 + 3j]), np.zeros(1))
    _, _, z = crossing_pairs(circle, line, 0.0)
    assert sorted(np.round(z, 12).tolist(), key=lambda v: v.real) == [-4 + 3j, 4 + 3j]
    other = Pieces.of_bulges(np.array([1, 11]) + 0j, np.array([11, 1]) + 0j, np.ones(2))
    _, _, z = crossing_pairs(circle, other, 0.0)
    assert sorted(np.round(z, 12).tolist(), key=lambda v: v.imag) == [3 - 4j, 3 + 4j]
    far = Pieces.of_bulges(np.array([21, 31]) + 0j, np.array([31, 21]) + 0j, np.ones(2))
    assert len(crossing_pairs(circle, far, 0.0)[2]) == 0
