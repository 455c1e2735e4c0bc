"""The small linear programme against scipy's.

Source: scipy.optimize.linprog (HiGHS) as independent oracle.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog

from jigs.locating.linear import summit


@pytest.mark.parametrize("d", [2, 3, 4])
@pytest.mark.parametrize("shift", [-0.5, 0.1])
def test_agrees_with_scipy(d, shift):
    rng = np.random.default_rng(d)
    none = boxed = 0
    for _ in range(150):
        rows = rng.normal(size=(rng.integers(0, 30), d))
        limits = rng.uniform(shift, 1.0, len(rows))
        goal = rng.normal(size=d) * (rng.random(d) < 0.8)
        box = rng.uniform(1.0, 20.0, d)
        ours = summit(goal, rows, limits, box)
        bounds = list(zip(-box, box, strict=True))
        empty = len(rows) == 0
        theirs = linprog(
            -goal, A_ub=None if empty else rows, b_ub=None if empty else limits, bounds=bounds
        )
        if ours is None:
            none += 1
            assert theirs.status == 2
            continue
        assert theirs.status == 0
        assert goal @ ours.point == pytest.approx(-theirs.fun, rel=1e-9, abs=1e-9)
        assert (rows @ ours.point <= limits + 1e-9).all()
        if not ours.at_box:
            # Its rows alone hold it: no box is needed.
            alone = linprog(
                -goal, A_ub=rows[ours.rows], b_ub=limits[ours.rows], bounds=(None, None)
            )
            assert alone.status == 0
            assert -alone.fun == pytest.approx(goal @ ours.point, rel=1e-9, abs=1e-9)
        boxed += ours.at_box
    assert boxed > 0
    assert none > 0 or shift > 0
