"""95 % intervals of the calibration over 10,000 forms of known truth.

Source: JCGM 100:2008, annex G: an interval that says 95 % must cover in 95 of 100 cases.
"""

from __future__ import annotations

import math

import numpy as np
import synthetic_coupon as synthetic

from kerf.calibrate import calibration

TRIALS = 10_000


def test_ten_thousand_forms():
    rng, truth = np.random.default_rng(2024), synthetic.Truth()
    hits: dict[str, int] = {}
    square: dict[str, float] = {}
    told: dict[str, float] = {}
    for _ in range(TRIALS):
        found = calibration(synthetic.readings(rng, truth, resolution_mm=0.01))
        for name, (miss, u, expanded) in synthetic.misses(found, truth).items():
            hits[name] = hits.get(name, 0) + (abs(miss) <= expanded)
            square[name] = square.get(name, 0.0) + miss * miss
            told[name] = told.get(name, 0.0) + u * u
    for name, count in hits.items():
        ratio = math.sqrt(square[name] / told[name])
        print(f"{name:14s} covers {100 * count / TRIALS:.2f} %, scatter over theory {ratio:.4f}")
        assert 0.93 <= count / TRIALS <= 0.97, name
        # The standard error of a standard deviation from n trials is 1/√(2n) = 0.7 %.
        assert abs(ratio - 1.0) < 0.03, name
