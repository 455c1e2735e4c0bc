"""A vise against statics done another way: a jaw on springs, a part between two faces."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq, linprog

from jigs.holding.clamp import ViseGrip, squeeze, vise_factors
from jigs.holding.jaw_lift import LIFTING_FRICTION, MovingJaw, jaw_lift, usual_jaw
from kerf.contour import Region
from kerf.shapes import ell


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


def vise(face: tuple[Region, ...] = ()) -> ViseGrip:
    return ViseGrip(
        force_n=6000, friction=0.2, left_mm=0, right_mm=80, fixed_mm=50, moving_mm=0, grip_mm=12,
        face=face,
    )  # fmt: skip


def factors(row: list[float], face: tuple[Region, ...] = ()) -> tuple[float, float]:
    found = vise_factors(vise(face), np.array([row], dtype=float))
    return float(found.slip[0]), float(found.tip[0])


def test_a_vise_worked_by_hand():
    """Force 6 kN, face 80 × 12, friction 0.2, by Coulomb and the middle third. Source: statics."""
    middle = [40.0, 25.0, 6.0]
    # Along the jaws through the middle: both faces rub, 2 μ F. Nothing rolls.
    slip, tip = factors([*middle, 300, 0, 0, 0])
    assert (slip, tip) == (pytest.approx(2 * 0.2 * 6000 / 300), math.inf)
    # Square to them: F leaves one face, and its friction goes with it.
    slip, tip = factors([*middle, 0, 300, 0, 0])
    assert (slip, tip) == (pytest.approx(20), pytest.approx(20))
    # Square to them 20 mm above the middle of the grip: 300 × 20 against F × 12 / 6, and F.
    _, tip = factors([40.0, 25.0, 26.0, 0, 300, 0, 0])
    assert 1 / tip == pytest.approx(300 * 20 / (6000 * 12 / 6) + 300 / 6000)
    # A turn about the spindle, 20 N·m: F × 80 / 6.
    _, tip = factors([*middle, 0, 0, 0, 20_000])
    assert tip == pytest.approx(6000 * 80 / 6 / 20_000)
    # Lifted 20 mm off the middle: 45 of 50 mm from one face, which takes nine tenths of it.
    slip, tip = factors([40.0, 45.0, 6.0, 0, 0, 300, 0])
    assert (slip, tip) == (pytest.approx(0.2 * 6000 / (0.9 * 300)), math.inf)
    # Pressed down on what it stands on, nothing; 30 mm beyond its end the faces hold the couple.
    assert factors([*middle, 0, 0, -400, 0]) == (math.inf, math.inf)
    slip, _ = factors([110.0, 25.0, 6.0, 0, 0, -400, 0])
    polar = 80 * 12 * (80**2 + 12**2) / 12
    shear = 400 * 30 / 2 * math.hypot(40, 6) / polar
    assert slip == pytest.approx(0.2 * 6000 / (80 * 12) / shear)


@pytest.mark.parametrize("seed", range(6))
def test_a_face_on_ten_thousand_springs(seed):
    """An L of a face: pressure and rub of each spring by least squares. Source: numpy."""
    random = np.random.default_rng(seed)
    shape = ell(width_mm=80, height_mm=30, leg_mm=12)
    fine = np.linspace(0.05, 79.95, 800), np.linspace(0.05, 29.95, 300)
    x, z = (v.ravel() for v in np.meshgrid(*fine))
    inside = (x < 12) | (z < 12)
    x, z = x[inside], z[inside]
    row = [*random.uniform(-20, 100, 2), *random.uniform(0, 40, 1), *random.normal(0, 300, 2),
           abs(random.normal(0, 300)), random.normal(0, 3000)]  # fmt: skip
    px, py, pz, fx, fy, fz, turn = row
    mx, mz = x.mean(), z.mean()
    # A couple about x or z comes of the force square to the jaws, and of the turn.
    ax, az = px - mx, pz - mz
    roll, yaw = -az * fy, ax * fy + turn
    even = 6000 / len(x)
    basis = np.column_stack((np.ones_like(x), x - mx, z - mz))
    # Plane of pressures with no sum and these moments; whether it loads or unloads, it counts.
    plane = basis @ np.linalg.solve(basis.T @ basis, [0.0, yaw, -roll])
    off = abs(fy) / 6000
    slip, tip = factors(row, (shape,))
    assert 1 / tip == pytest.approx(off + np.abs(plane).max() / even, rel=0.01)
    polar = ((x - mx) ** 2 + (z - mz) ** 2).sum()
    rubs = []
    for share in (py / 50, 1 - py / 50):
        along, up = fx * share, max(fz * share, 0.0)
        spin = (ax * up - az * along) / polar
        rub = np.hypot(along / len(x) - spin * (z - mz), up / len(x) + spin * (x - mx))
        rubs.append(rub.max())
    assert 1 / slip == pytest.approx(max(rubs) / (0.2 * even) + off, rel=0.01)
