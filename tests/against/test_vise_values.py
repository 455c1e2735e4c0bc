"""A vise against statics done another way: a jaw on springs, a part between two faces."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq, linprog

from jigs.holding.clamp import squeeze
from jigs.holding.jaw_lift import LIFTING_FRICTION, MovingJaw, jaw_lift, usual_jaw


def jaw(**keys) -> MovingJaw:
    base = {"length_mm": 100, "play_mm": 0.02, "screw_mm": -19, "stiffness_n_mm": 200_000}
    return MovingJaw(**{**base, **keys})


@pytest.mark.parametrize("wedge", [0.0, 20.0])
def test_a_jaw_on_springs_settles_where_the_formula_says(wedge):
    """Moments about the heel: a keeper with play and a stiff seat. Source: statics, root found."""
    made = jaw(pull_down_rad=math.radians(wedge))
    force, at = 8000.0, 34.0

    def moment(rise: float) -> float:
        keeper = made.stiffness_n_mm * max(rise - made.play_mm, 0.0)
        down = force * math.tan(made.pull_down_rad) * 50
        return force * (at + 19) - down - keeper * 100

    ours = jaw_lift(made, force_n=force, at_mm=at, across_mm=120, grip_mm=8)
    assert ours.rises_mm == pytest.approx(brentq(moment, 0.0, 1.0), rel=1e-9)
    assert ours.tilt_rad == pytest.approx(ours.rises_mm / 100)


def test_a_wedge_at_45_degrees_keeps_its_jaw_down():
    """Its pull, F at half the slide, outweighs F at the screw's arm. Source: statics."""
    made = jaw(pull_down_rad=math.pi / 4)
    assert jaw_lift(made, force_n=9000, at_mm=25, across_mm=100, grip_mm=8).rises_mm == 0.0


@pytest.mark.parametrize(("across", "grip"), [(60, 8), (60, 30), (20, 14), (20, 10), (120, 40)])
def test_a_part_follows_unless_its_faces_keep_it_down(across, grip):
    """Pressures on 41 places of each face, the moving side dragging up with all its friction.

    The part stays when some spread of pressure balances the drag. Source: linear programme.
    """
    force, z, n = 5000.0, np.linspace(0, grip, 41), 41
    # Fixed face pushes along +, moving along −; friction F μ up on one side, down on the other.
    drag = LIFTING_FRICTION * force * across
    equal = np.array([[*np.ones(n), *np.zeros(n)], [*np.zeros(n), *np.ones(n)], [*z, *(-z)]])
    stays = linprog(np.zeros(2 * n), A_eq=equal, b_eq=[force, force, drag]).status == 0
    lift = jaw_lift(jaw(), force_n=force, at_mm=30, across_mm=across, grip_mm=grip)
    assert (lift.lifts_mm == 0.0) == stays
    assert lift.uplift_n <= LIFTING_FRICTION * force


def test_what_is_assumed_of_a_jaw_is_named():
    made = usual_jaw(152)
    assert len(made.assumed) == 4
    assert not jaw().assumed


def test_soft_jaws_bow_a_part_more():
    """Couple F (h/2 − g/3) for F (h − g)/2. Source: *Roark*, table 8.1; a triangle's middle."""
    sizes = {
        "force_n": 4000,
        "across_mm": 80,
        "length_mm": 100,
        "height_mm": 10,
        "modulus_mpa": 68_900,
    }
    hard = squeeze(**sizes, grip_mm=4)
    soft = squeeze(**sizes, grip_mm=4, pressed_mm=4 / 3)
    assert soft.bows_mm / hard.bows_mm == pytest.approx((5 - 4 / 3) / 3)
