"""Laws of vises: tighter never holds less, higher never lifts less, soft jaws never bow less."""

from __future__ import annotations

import numpy as np
import pytest

from jigs.holding.clamp import ViseGrip, squeeze, vise_factors
from jigs.holding.jaw_lift import JawLift, MovingJaw, jaw_lift, usual_jaw
from kerf.contour import Contour, Region


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


def test_a_thousand_random_jaws_keep_the_laws():
    """Pressed higher, played looser, rubbing more, wedged less: never lifts less. Source: statics.

    Gripped higher or a narrower part never follows where it stayed before.
    """
    random = np.random.default_rng(5)
    for _ in range(1000):
        base = {
            "length_mm": random.uniform(40, 200), "play_mm": random.uniform(0, 0.05),
            "screw_mm": random.uniform(-40, 10), "stiffness_n_mm": random.uniform(2e4, 1e6),
            "pull_down_rad": random.uniform(0, 1.0),
        }  # fmt: skip
        size = {
            "force_n": random.uniform(200, 20_000), "at_mm": random.uniform(0, 60),
            "across_mm": random.uniform(5, 150), "grip_mm": random.uniform(1, 40),
            "friction": random.uniform(0.05, 0.8),
        }  # fmt: skip
        more = random.uniform(1, 3)

        def lift(change: dict[str, float], jaw: dict[str, float]) -> JawLift:
            return jaw_lift(MovingJaw(**{**base, **jaw}), **{**size, **change})  # noqa: B023

        a = lift({}, {})
        worse = [
            lift({"at_mm": size["at_mm"] * more}, {}),
            lift({"friction": size["friction"] * more}, {}),
            lift({"across_mm": size["across_mm"] * more}, {}),
            lift({"grip_mm": size["grip_mm"] / more}, {}),
            lift({}, {"play_mm": base["play_mm"] * more}),
            lift({}, {"screw_mm": base["screw_mm"] - 10}),
            lift({}, {"stiffness_n_mm": base["stiffness_n_mm"] / more}),
            lift({}, {"pull_down_rad": base["pull_down_rad"] / more}),
        ]
        for b in worse:
            assert b.rises_mm >= a.rises_mm * (1 - 1e-12)
            assert b.lifts_mm >= a.lifts_mm * (1 - 1e-12)
        assert a.lifts_mm in (0.0, a.rises_mm)
        assert a.uplift_n <= size["friction"] * size["force_n"] * (1 + 1e-9)


def test_a_thousand_random_grips_keep_the_laws():
    """More friction never slips sooner, a push further out never holds better. Source: Coulomb."""
    random = np.random.default_rng(6)
    for _ in range(1000):
        length, grip, across = random.uniform(10, 120), random.uniform(2, 40), random.uniform(5, 90)
        kw = {
            "force_n": random.uniform(500, 15_000), "left_mm": 0.0, "right_mm": length,
            "fixed_mm": across, "moving_mm": 0.0, "grip_mm": grip,
        }  # fmt: skip
        middle = np.array([length / 2, across / 2, grip / 2])
        far = random.normal(0, 40, 3)
        far[2] = abs(far[2])
        side = random.normal(0, 300, 2)
        # Out along a ray from the middle of the faces; a force toward the bed is carried below.
        rows = np.array([[*(middle + far * t), *side, 0.0, 0.0] for t in np.linspace(0, 1, 6)])
        low, high = (
            vise_factors(ViseGrip(friction=mu, **kw), rows)
            for mu in sorted(random.uniform(0.05, 0.5, 2))
        )
        assert np.all(high.slip >= low.slip * (1 - 1e-9))
        assert np.all(np.diff(low.factor) <= 1e-9 * low.factor[:-1])
        # The same face in two pieces holds the same.
        half = length / 2
        pieces = tuple(Region(outer=Contour.rectangle(x, 0.0, half, grip)) for x in (0.0, half))
        split = vise_factors(ViseGrip(friction=0.2, face=pieces, **kw), rows)
        whole = vise_factors(ViseGrip(friction=0.2, **kw), rows)
        assert split.factor == pytest.approx(whole.factor, rel=1e-9)
