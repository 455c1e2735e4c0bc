"""Near pairs and components against scipy's trees and graphs.

Source: scipy.spatial.cKDTree.query_pairs and scipy.sparse.csgraph.connected_components.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from kerf.reading.near import components, near_pairs


@pytest.mark.parametrize("seed", range(12))
def test_pairs_and_components_agree_with_scipy(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 900))
    points = rng.uniform(-50, 50, (n, 2)) * (1.0, 1.0 if seed % 3 else 1e-6)
    points = np.vstack((points, points[rng.integers(0, n, n // 5)]))
    within = float(rng.choice([1e-4, 0.3, 2.0, 9.0]))
    got = {tuple(p) for p in near_pairs(points, within).tolist()}
    want = {tuple(p) for p in cKDTree(points).query_pairs(within, output_type="ndarray").tolist()}
    assert got == want
    pairs = np.array(sorted(got), dtype=np.int64).reshape(-1, 2)
    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(points),) * 2)
    theirs = connected_components(graph, directed=False)[1]
    ours = components(len(points), pairs)
    assert len(set(zip(ours.tolist(), theirs.tolist(), strict=True))) == len(set(theirs.tolist()))
    assert np.all(ours <= np.arange(len(points)))


def test_a_long_ring_is_one_component():
    n = 20_000
    ring = np.column_stack((np.arange(n), np.roll(np.arange(n), -1)))
    assert np.all(components(n, np.random.default_rng(1).permutation(ring)) == 0)


def test_nothing_and_one():
    assert near_pairs(np.zeros((0, 2)), 1.0).shape == (0, 2)
    assert near_pairs(np.zeros((1, 2)), 1.0).shape == (0, 2)
    assert components(0, np.zeros((0, 2), dtype=np.int64)).shape == (0,)
