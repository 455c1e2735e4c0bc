"""Several pockets on one plate: a slice of the random rows that tests/stress looks at whole.

Source: the clearance law; distances by shapely.
"""

from __future__ import annotations

import pytest
from stacked_parts import check_copies

from jigs.guides.several import copy_checks, copy_u_mm
from kerf.beam import KerfCard
from kerf.contour import Point, Vector


@pytest.mark.parametrize("seed", range(12))
def test_a_slice_of_the_random_rows(seed):
    assert check_copies(seed) in ("made", "refused")


def test_the_scales_uncertainty_grows_along_the_row():
    card = KerfCard(name="card", kerf_mm=0.2, u_mm=0.01, u_scale=2e-4)
    shifts = tuple(Vector(0.0, 80.0 * i) for i in range(4))
    # 2 × 10⁻⁴ of 240 mm.
    assert copy_u_mm(shifts[3], card) == pytest.approx(0.048)
    checks = copy_checks(shifts, Point(30.0, 10.0), card)
    assert [c.nominal_mm for c in checks] == [80.0, 160.0, 240.0]
    assert [c.plus_minus_mm for c in checks] == pytest.approx([0.032, 0.064, 0.096])
    assert checks[2].end == (30.0, 250.0)
    assert copy_checks(shifts, None, card) == ()
