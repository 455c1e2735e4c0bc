"""Elastic bond groups against the textbook's bolt group, springs solved by force, and Roark."""

from __future__ import annotations

import math

import numpy as np
import pytest

from jigs.holding.bond import (
    BondStrength,
    HoldingPin,
    bond_factors,
    bond_group,
    slip_capacity_n,
)
from kerf.contour import Contour, Point, Region
from kerf.measure import distances_mm
from kerf.shapes import ell

ONE = BondStrength(shear_mpa=1.0, pull_mpa=1.0, proven=True, said="unit")


def rectangle(x: float, y: float, width: float, height: float) -> Region:
    return Region(outer=Contour.rectangle(x, y, width, height))


def test_four_bolts_under_an_eccentric_load():
    """16 kN at 425 mm from four bolts 150 × 120 mm apart: 21.0 kN on the near pair, 14.8 far.

    Source: Budynas and Nisbett, *Shigley's Mechanical Engineering Design*, example 8-7
    (numbers from memory, worked anew: F' = 4, F'' = 17.7 kN, r = 96.0 mm).
    """
    radius = 0.05
    bolts = [
        Region(outer=Contour.circle(x, y, radius)) for x in (-75.0, 75.0) for y in (-60.0, 60.0)
    ]
    area = math.pi * radius**2
    group = bond_group(bolts)
    assert group.moments.polar_mm4 == pytest.approx(4 * area * (60**2 + 75**2), rel=1e-6)
    found = bond_factors(group, ONE, np.array([[425.0, 0.0, 0.0, 0.0, -16_000.0, 0.0]]))
    assert area / found.slip[0] == pytest.approx(21_000, rel=2e-3)
    # The far pair: the same field at its place.
    near, far = 4_000 + 17_700 * 75 / 96.0, 17_700 * 75 / 96.0 - 4_000
    across = 17_700 * 60 / 96.0
    assert math.hypot(near, across) == pytest.approx(21_000, rel=2e-3)
    assert math.hypot(far, across) == pytest.approx(14_800, rel=3e-3)


def test_a_welded_rectangle_patch():
    """τ = V/A and M c/J, joined as vectors; J = b h (b² + h²)/12.

    Source: *Shigley*, 9-2 (primary and secondary shear), second moments from any table.
    """
    found = bond_factors(
        bond_group([rectangle(0, 0, 80, 50)]), ONE, np.array([[120.0, 25.0, 0, 0, 900.0, 0]])
    )
    polar = 80 * 50 * (80**2 + 50**2) / 12
    moment = 900.0 * 80
    wanted = math.hypot(900 / 4000 + moment * 40 / polar, moment * 25 / polar)
    assert 1 / found.slip[0] == pytest.approx(wanted, rel=1e-12)


def test_an_uplift_off_the_middle_is_the_textbook_section():
    """σ = F/A + M c/I for a load on the axis; overturning by a side force at height z likewise.

    Source: combined axial and bending stress, any text on mechanics of materials.
    """
    group = bond_group([rectangle(-40, -25, 80, 50)])
    lift = bond_factors(group, ONE, np.array([[10.0, 0, 0, 0, 0, 500.0]]))
    inertia = 50 * 80**3 / 12
    assert 1 / lift.peel[0] == pytest.approx(500 / 4000 + 500 * 10 * 40 / inertia, rel=1e-12)
    side = bond_factors(group, ONE, np.array([[0.0, 0, 12.0, 300.0, 0, 0]]))
    assert 1 / side.peel[0] == pytest.approx(300 * 12 * 40 / inertia, rel=1e-12)
    # The force pushes toward +x: it lifts the edge it comes from.
    assert group.corners[int(side.lifts[0])].x == pytest.approx(-40) or side.bond[0] <= side.slip[0]


@pytest.mark.parametrize("seed", range(6))
def test_against_ten_thousand_springs(seed):
    """A stiff plate on a grid of springs, solved by least squares. Source: numpy's solver."""
    random = np.random.default_rng(seed)
    shape = ell(width_mm=70, height_mm=50, leg_mm=22)
    pitch = 0.5
    xs, ys = np.meshgrid(np.arange(-40, 75, pitch) + 0.25, np.arange(-40, 75, pitch) + 0.25)
    grid = np.column_stack((xs.ravel(), ys.ravel()))
    p = grid[distances_mm(shape, grid) < 0]
    load = np.array([*random.uniform(-30, 80, 2), random.uniform(0, 20), *random.normal(0, 100, 3)])
    x, y, z, fx, fy, fz = load
    da = pitch**2
    one, none = np.ones(len(p)), np.zeros(len(p))
    # Rigid movements (u, v, ω) in the plane and (w, slopes) off it; stiffness 1.
    plane = np.stack((np.stack((one, none, -p[:, 1]), 1), np.stack((none, one, p[:, 0]), 1)), 1)
    k = np.einsum("nij,nik->jk", plane, plane) * da
    move = np.linalg.solve(k, [fx, fy, x * fy - y * fx])
    shear = np.linalg.norm(plane @ move, axis=1)
    off = np.stack((one, p[:, 0], p[:, 1]), 1)
    field = np.linalg.solve(off.T @ off * da, [fz, x * fz - z * fx, y * fz - z * fy])
    pull = np.maximum(off @ field, 0)
    found = bond_factors(bond_group([shape]), ONE, load[None, :])
    # The springs stand a quarter of a millimetre inside the edges: their worst is a little less.
    assert shear.max() == pytest.approx(1 / found.slip[0], rel=0.03)
    assert pull.max() == pytest.approx(1 / found.peel[0], rel=0.03)
    assert np.hypot(shear, pull).max() == pytest.approx(1 / found.bond[0], rel=0.03)
    assert shear.max() <= 1 / found.slip[0] * (1 + 2e-3)


def test_a_stiff_pin_takes_what_the_textbook_gives_a_cantilever():
    """F = 3 E I δ / L³ and σ = 32 F L / (π d³). Source: *Roark*, table 8.1, end-loaded."""
    pin = HoldingPin(name="P", at=Point(0, 0), diameter_mm=6, free_mm=10, modulus_mpa=205_000)
    inertia = math.pi * 6**4 / 64
    assert pin.stiffness_n_mm == pytest.approx(3 * 205_000 * inertia / 1000)
    assert pin.bending_mpa(100.0) == pytest.approx(100 * 10 * 3 / inertia)


def test_pins_and_bond_share_by_stiffness():
    """Springs in parallel: each takes its share of the stiffness. Source: Hooke."""
    pins = [
        HoldingPin(name=name, at=Point(x, 0), diameter_mm=3, free_mm=15)
        for name, x in (("A", -30.0), ("B", 30.0))
    ]
    group = bond_group([rectangle(-50, -20, 100, 40)], pins)
    found = bond_factors(group, ONE, np.array([[0.0, 0, 0, 800.0, 0, 0]]))
    k_bond, k_pin = 4000 * ONE.stiffness_n_mm3, pins[0].stiffness_n_mm
    share = k_pin / (k_bond + 2 * k_pin)
    assert found.pin_force_n[0] == pytest.approx([800 * share] * 2, rel=1e-9)
    assert found.slip[0] == pytest.approx(4000 / (800 * (1 - 2 * share)), rel=1e-9)


def test_a_pin_takes_nothing_before_its_gap_is_gone():
    """Below the gap the bond stands alone, above it the balance is exact. Source: statics."""
    pin = HoldingPin(name="A", at=Point(0, 0), diameter_mm=8, free_mm=6, gap_mm=0.02)
    group = bond_group([rectangle(-50, -20, 100, 40)], [pin])
    k_bond = 4000 * ONE.stiffness_n_mm3
    light, heavy = 0.5 * k_bond * 0.02, 40 * k_bond * 0.02
    rows = np.array([[0.0, 0, 0, light, 0, 0], [0.0, 0, 0, heavy, 0, 0]])
    found = bond_factors(group, ONE, rows)
    assert found.pin_force_n[0, 0] == pytest.approx(0.0, abs=light * 1e-6)
    k = pin.stiffness_n_mm
    moved = (heavy + k * 0.02) / (k_bond + k)
    assert found.pin_force_n[1, 0] == pytest.approx(k * (moved - 0.02), rel=1e-4)


def test_capacity_is_area_times_strength():
    """Source: definition of a mean shear strength."""
    assert slip_capacity_n(bond_group([rectangle(0, 0, 100, 60)]), ONE) == pytest.approx(6000)
