"""Random curves of every kind and size: the fitted chain within its proven bound, always.

Source: points of the curve by its own formula, distances by each edge's own nearest point.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerf.arcs import curve_arcs, ellipse_arcs, spline_arcs
from kerf.bezier import bezier_spans, ellipse_spans, span_points, spline_spans

CURVES, BLOCK = 800, 40


def fitted(seed: int):
    """Return the chain, the spans of its curve and the tolerance asked for."""
    rng = np.random.default_rng(seed)
    tolerance = float(rng.choice([0.0005, 0.002, 0.01]))
    size = 10 ** rng.uniform(-1, 2.5)
    kind = seed % 4
    if kind == 0:
        count = int(rng.integers(1, 5))
        p = (rng.uniform(-1, 1, (count * 3 + 1, 2)) * size).tolist()
        curve = [[tuple(p[3 * k + i]) for i in range(4)] for k in range(count)]
        return curve_arcs(curve, tolerance), bezier_spans(curve), tolerance
    if kind == 1:
        degree = int(rng.integers(2, 6))
        count = degree + 1 + int(rng.integers(0, 12))
        p = (np.cumsum(rng.uniform(-0.3, 1, (count, 2)), axis=0) * size / 5).tolist()
        w = rng.uniform(0.2, 4, count).tolist()
        spans = spline_spans(p, degree, None, w)
        return spline_arcs(p, degree, None, w, False, tolerance), spans, tolerance
    if kind == 2:
        axis = (size * rng.uniform(0.5, 1), size * rng.uniform(-1, 1))
        ratio = 10 ** rng.uniform(-2.5, 0)
        start, end = rng.uniform(0, 2 * math.pi, 2).tolist()
        spans = ellipse_spans((1, 2), axis, ratio, start, end)
        return ellipse_arcs((1, 2), axis, ratio, start, end, tolerance), spans, tolerance
    p = (rng.uniform(-1, 1, (int(rng.integers(4, 14)), 2)) * size).tolist()
    spans = spline_spans(p, 3, closed=True)
    return spline_arcs(p, 3, None, None, True, tolerance), spans, tolerance


@pytest.mark.parametrize("first", range(0, CURVES, BLOCK))
def test_block(first) -> None:
    wrong = []
    for seed in range(first, first + BLOCK):
        chain, spans, tolerance = fitted(seed)
        points = span_points(spans, np.linspace(0, len(spans), 80))[0]
        far = max(min(e.nearest(x, y)[1] for e in chain.edges()) for x, y in points.tolist())
        size = 1 + float(np.abs(points).max())
        if chain.deviation_mm > tolerance or far > chain.deviation_mm + 1e-9 * size:
            wrong.append((seed, far, chain.deviation_mm, tolerance))
    assert not wrong
