"""Laws of vises: tighter never holds less nor lifts less, soft jaws never bow less."""

from __future__ import annotations

import numpy as np
import pytest

from jigs.holding.clamp import ViseGrip, squeeze, vise_factors
from jigs.holding.jaw_lift import jaw_lift, usual_jaw


def test_a_thousand_random_vises_keep_the_laws():
    """Slip in proportion to force; lift, bow and pull grow with it. Source: Coulomb, statics."""
    random = np.random.default_rng(4)
    for _ in range(1000):
        force, more = random.uniform(200, 20_000), random.uniform(1, 4)
        grip = random.uniform(1, 40)
        tall = grip + random.uniform(0, 40)
        across, length = random.uniform(5, 150, 2)
        rows = np.array([[*random.uniform(-60, 60, 2), random.uniform(0, 60),
                          *random.normal(0, 300, 3), random.normal(0, 2000)]])  # fmt: skip
        held = [
            vise_factors(
                ViseGrip(
                    force_n=f, friction=0.2, left_mm=0, right_mm=length, fixed_mm=across,
                    moving_mm=0, grip_mm=grip,
                ),
                rows,
            )
            for f in (force, force * more)
        ]  # fmt: skip
        assert held[1].slip[0] == pytest.approx(held[0].slip[0] * more, rel=1e-9)
        assert held[1].factor[0] >= held[0].factor[0] * (1 - 1e-9)

        jaw = usual_jaw(float(random.uniform(60, 200)))
        at = float(random.uniform(0, 60))
        kw = {"at_mm": at, "across_mm": across, "grip_mm": grip}
        a, b = (jaw_lift(jaw, force_n=f, **kw) for f in (force, force * more))
        assert b.rises_mm >= a.rises_mm
        assert b.lifts_mm >= a.lifts_mm
        assert b.uplift_n >= a.uplift_n

        size = {
            "force_n": force, "across_mm": across, "length_mm": length, "height_mm": tall,
            "grip_mm": grip, "modulus_mpa": 70_000,
        }  # fmt: skip
        hard, soft = squeeze(**size), squeeze(**size, pressed_mm=grip / 3)
        assert soft.bows_mm >= hard.bows_mm
        assert soft.shortens_mm == hard.shortens_mm
