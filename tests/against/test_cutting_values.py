"""Cutting forces, power and drill loads against worked examples and published figures."""

from __future__ import annotations

import math

import numpy as np
import pytest

from jigs.holding.cutting import (
    RADIAL_SHARE,
    Engagement,
    drill_forces,
    engaged_mm,
    handbook_drill,
    milling_forces,
    milling_power_kw,
    spindle_speed_rpm,
    surface_speed_m_min,
)
from jigs.holding.materials import (
    ALUMINIUM_HARDENED,
    ALUMINIUM_WROUGHT,
    BRASS,
    CARBON_STEEL,
    HOLDING_SCATTER,
    STAINLESS,
    TEMPERED_STEEL,
    work_material_named,
)

SLOT = Engagement(diameter_mm=6, teeth=2, feed_mm=0.03, depth_mm=1, width_mm=6)


@pytest.mark.parametrize(
    ("group", "kc1", "m"),
    [
        (ALUMINIUM_WROUGHT, 700, 0.25),
        (ALUMINIUM_HARDENED, 800, 0.25),
        (CARBON_STEEL, 1500, 0.22),
        (TEMPERED_STEEL, 1675, 0.24),
        (STAINLESS, 2150, 0.20),
        (BRASS, 700, 0.27),
    ],
    ids=lambda value: getattr(value, "name", None),
)
def test_specific_cutting_force(group, kc1, m):
    """Source: VDI 3323 groups as tabulated by cutting-tool makers."""
    assert group.kc_mpa(1.0) == pytest.approx(kc1)
    assert group.kc_mpa(0.1) == pytest.approx(kc1 * 10**m)


def test_holding_takes_the_higher_table():
    """Source: two published tables for C45: 1500/0.22 and (from memory) 2220/0.14."""
    assert CARBON_STEEL.highest_kc_mpa(1.0) == pytest.approx(2220)
    assert CARBON_STEEL.highest_kc_mpa(0.003) == pytest.approx(1500 * 0.003**-0.22)


@pytest.mark.parametrize(
    ("name", "group"),
    [
        ("6061-T6", ALUMINIUM_HARDENED),
        ("EN AW-5083", ALUMINIUM_WROUGHT),
        ("C45", CARBON_STEEL),
        ("mild steel", CARBON_STEEL),
        ("4140 pre-hard", TEMPERED_STEEL),
        ("tool steel", TEMPERED_STEEL),
        ("stainless steel 316", STAINLESS),
        ("free-cutting brass", BRASS),
        ("zirconium", None),
        ("16061", None),
    ],
)
def test_names_of_materials(name, group):
    """Source: common practice."""
    assert work_material_named(name) is group


def test_power_of_a_face_mill():
    """Source: handbook example, 2 × 80 × 280 mm/min at 1800 N/mm², efficiency 0.8: 1.68 kW."""
    power = milling_power_kw(depth_mm=2, width_mm=80, feed_mm_min=280, kc_mpa=1800, efficiency=0.8)
    assert power == pytest.approx(1.68, abs=0.005)


def test_a_slot_worked_by_hand():
    """Kienzle, 700/0.25, D 6, z 2, f_z 0.03, a_p 1, 12000 rpm. Source: worked by hand."""
    assert SLOT.mean_chip_mm == pytest.approx(0.0191, abs=5e-5)
    kc = ALUMINIUM_WROUGHT.kc_mpa(SLOT.mean_chip_mm)
    assert kc == pytest.approx(1883, abs=0.5)
    power = milling_power_kw(depth_mm=1, width_mm=6, feed_mm_min=720, kc_mpa=kc)
    assert power * 1000 == pytest.approx(136, abs=0.5)
    torque = power * 1000 / (2 * math.pi * 12000 / 60)
    assert torque == pytest.approx(0.108, abs=0.0005)
    assert torque / 0.003 == pytest.approx(36, abs=0.5)
    forces = milling_forces(SLOT, ALUMINIUM_WROUGHT, for_holding=False)
    assert forces.peak_n == pytest.approx(50, abs=0.5)
    # The force at the mean chip stands for the mean over the arc within a few per cent.
    assert forces.mean_n == pytest.approx(36, rel=0.04)


@pytest.mark.parametrize(
    ("width", "tool", "bore"),
    [(0.3, 6, 10), (2, 25, 30), (1, 6, 40), (6, 6, 14), (10, 25, 30), (0.2, 9.9, 10)],
)
def test_a_bore_engages_more_of_its_tool(width, tool, bore):
    """Share of the tool's rim that lies in the ring still to be cut. Source: counted, numpy."""
    turn = np.linspace(0, math.tau, 2_000_001)[:-1]
    middle = (bore - tool) / 2
    rim = np.hypot(middle + tool / 2 * np.cos(turn), tool / 2 * np.sin(turn))
    arc = np.count_nonzero(rim > bore / 2 - width) / len(turn) * math.pi  # either half of it
    wide = engaged_mm(width_mm=width, tool_mm=tool, bore_mm=bore)
    made = Engagement(diameter_mm=tool, teeth=2, feed_mm=0.03, depth_mm=1, width_mm=wide)
    assert made.arc_rad == pytest.approx(arc, abs=2e-5)
    # What the ring holds, cut in one turn at the feed of the tool's middle.
    ring = math.pi * ((bore / 2) ** 2 - (bore / 2 - width) ** 2)
    if arc < math.pi:
        assert wide * math.tau * middle == pytest.approx(ring)


@pytest.mark.parametrize("climb", [True, False])
@pytest.mark.parametrize("width", [0.5, 2.0, 6.0])
def test_mean_force_is_the_integral_over_the_arc(climb, width):
    """Mean over a turn = z a_p kc₁ f^(1−m) ∫ cos^(1−m) / 2π. Source: scipy's quadrature."""
    from scipy.integrate import quad

    cut = Engagement(diameter_mm=6, teeth=3, feed_mm=0.04, depth_mm=2, width_mm=width, climb=climb)
    enter, leave = cut.angles_rad
    arc, _ = quad(lambda a: math.cos(a) ** 0.75, leave, enter)
    wanted = 3 * 2 * 700 * 0.04**0.75 * arc / (2 * math.pi)
    forces = milling_forces(cut, ALUMINIUM_WROUGHT, for_holding=False)
    assert forces.mean_n == pytest.approx(wanted, rel=0.02)
    assert forces.torque_nm == pytest.approx(wanted * 0.003, rel=0.02)


def test_climb_milling_pulls_the_part_along_and_conventional_pushes_it_back():
    """The tooth moves with the table's feed in climb milling. Source: any text on machining."""
    for climb in (True, False):
        cut = Engagement(
            diameter_mm=10, teeth=4, feed_mm=0.05, depth_mm=5, width_mm=1.0, climb=climb
        )
        rows = milling_forces(cut, ALUMINIUM_HARDENED).phases
        along = sum(row[0] for row in rows)
        assert (along < 0) == climb


def test_a_helix_lifts_by_its_tangent_and_the_other_hand_presses():
    """Axial share F_t tan β, its bound without friction. Source: oblique cutting, any text."""
    made = {
        sign: milling_forces(
            Engagement(
                diameter_mm=6,
                teeth=1,
                feed_mm=0.03,
                depth_mm=0.01,
                width_mm=6,
                helix_rad=sign * math.radians(30),
            ),
            ALUMINIUM_WROUGHT,
        )
        for sign in (1, -1)
    }
    up, down = made[1], made[-1]
    assert up.lift_n == pytest.approx(up.peak_n * math.tan(math.radians(30)), rel=1e-3)
    assert down.lift_n == 0.0
    assert down.press_n == pytest.approx(up.lift_n)


def test_a_leading_edge_presses_the_part_down():
    """A fly cutter at 45°: the normal force has equal parts outward and down."""
    cut = Engagement(
        diameter_mm=40,
        teeth=1,
        feed_mm=0.1,
        depth_mm=0.5,
        width_mm=30,
        lead_rad=math.radians(45),
    )
    forces = milling_forces(cut, ALUMINIUM_HARDENED)
    assert forces.lift_n == 0.0
    assert forces.press_n == pytest.approx(
        RADIAL_SHARE * forces.peak_n * math.cos(math.radians(45)), rel=1e-9
    )


def test_holding_carries_the_scatter():
    """Source: published figures scatter about twofold."""
    plain = milling_forces(SLOT, ALUMINIUM_WROUGHT, for_holding=False)
    assert milling_forces(SLOT, ALUMINIUM_WROUGHT).peak_n == pytest.approx(
        HOLDING_SCATTER * plain.peak_n
    )


def test_a_drill_in_hardened_aluminium():
    """D 6, f 0.1, 800/0.25: kc 1758, torque 0.79 N·m, thrust 369 N. Source: worked by hand."""
    chip = 0.05 * math.sin(math.radians(59))
    assert ALUMINIUM_HARDENED.kc_mpa(chip) == pytest.approx(1758, abs=0.5)
    forces = drill_forces(
        diameter_mm=6, feed_mm_rev=0.1, material=ALUMINIUM_HARDENED, for_holding=False
    )
    assert forces.torque_nm == pytest.approx(0.79, abs=0.005)
    assert forces.thrust_n == pytest.approx(369, abs=0.5)


def test_handbook_drill_in_steel():
    """7/8 in, 200 BHN, .008 in/rev, usual wear: 2313 lb, 559 in·lb, 3.10 hp at 350 rpm.

    Source: *Machinery's Handbook*, "Estimating Thrust, Torque and Horsepower for Twist Drills";
    the constants are from memory, the results as printed.
    """
    thrust, torque = handbook_drill(diameter_in=0.875, feed_in_rev=0.008, constant=24_000, wear=1.3)
    assert thrust == pytest.approx(2313, abs=0.5)
    assert torque == pytest.approx(559, abs=0.5)
    assert torque * 350 / 63_025 == pytest.approx(3.10, abs=0.01)


def test_handbook_drill_in_aluminium():
    """.250 in, .005 in/rev: 101 lb, 8.7 in·lb; the table rounds .005^0.8 = .0144 to .014.

    Source: *Machinery's Handbook*, same section.
    """
    thrust, torque = handbook_drill(diameter_in=0.25, feed_in_rev=0.005, constant=7_000)
    table = 0.014 / 0.005**0.8
    chisel = 7_000 * 0.25**2 * 0.030
    assert (thrust - chisel) * table + chisel == pytest.approx(101, abs=0.5)
    # The torque rounds the diameter's factor too: 0.082 for 0.0825.
    assert torque * table == pytest.approx(8.7, abs=0.1)


@pytest.mark.parametrize(
    ("diameter_in", "sfm", "rpm"),
    [
        (0.386, 300, 2970),
        (0.386, 152, 1500),
        (0.250, 150, 2292),
        (0.5, 80, 611),
        (0.375, 901, 9176),
    ],
)
def test_spindle_speeds(diameter_in, sfm, rpm):
    """Source: rpm = 12 · SFM / (π D), worked by hand."""
    mm, m_min = diameter_in * 25.4, sfm * 0.3048
    assert spindle_speed_rpm(diameter_mm=mm, surface_m_min=m_min) == pytest.approx(rpm, rel=4e-3)
    assert surface_speed_m_min(diameter_mm=mm, speed_rpm=rpm) / 0.3048 == pytest.approx(
        sfm, abs=0.55
    )
