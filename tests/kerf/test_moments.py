"""Centroid and second moments against closed forms, and the laws they obey.

Source of the closed forms: circle, annulus, half disc, rectangle and fillet (spandrel of a
quarter circle) as tabulated in Roark's Formulas for Stress and Strain, appendix A, and Beer &
Johnston, Mechanics of Materials; from memory, the fillet derived below by difference.
"""

from __future__ import annotations

import math

import pytest

from kerf.contour import Contour, Region, Transform
from kerf.errors import GeometryError
from kerf.moments import centroid, moments

HALF = Contour.of([(5, 0, 1), (-5, 0)])
#: What a fillet of r = 5 adds to an inner corner: the square less the quarter disc.
FILLET = Contour.of([(0, 0), (5, 0, -math.tan(math.pi / 8)), (0, 5)])


def test_circle():
    m = moments(Region(outer=Contour.circle(1000, 2000, 3)))
    assert m.area_mm2 == pytest.approx(9 * math.pi, rel=1e-14)
    assert tuple(m.centroid) == pytest.approx((1000, 2000), abs=1e-12)
    assert m.ixx_mm4 == pytest.approx(math.pi * 81 / 4, rel=1e-13)
    assert m.iyy_mm4 == pytest.approx(math.pi * 81 / 4, rel=1e-13)
    assert m.polar_mm4 == pytest.approx(math.pi * 81 / 2, rel=1e-13)
    assert abs(m.ixy_mm4) < 1e-12


def test_annulus():
    m = moments(Region(outer=Contour.circle(0, 0, 10), holes=(Contour.circle(0, 0, 6),)))
    assert m.polar_mm4 == pytest.approx(math.pi / 2 * (10**4 - 6**4), rel=1e-13)


def test_rectangle():
    m = moments(Region(outer=Contour.rectangle(-7, 3, 8, 5)))
    assert tuple(m.centroid) == pytest.approx((-3, 5.5))
    assert m.ixx_mm4 == pytest.approx(8 * 5**3 / 12, rel=1e-14)
    assert m.iyy_mm4 == pytest.approx(5 * 8**3 / 12, rel=1e-14)
    assert m.principal_mm4 == pytest.approx((5 * 8**3 / 12, 8 * 5**3 / 12))
    # The stiff axis is the short one: bending about y moves the 8 mm side.
    assert abs(m.principal_angle_rad) == pytest.approx(math.pi / 2)


def test_half_disc():
    m = moments(Region(outer=HALF))
    assert tuple(m.centroid) == pytest.approx((0, 4 * 5 / (3 * math.pi)), abs=1e-14)
    assert m.ixx_mm4 == pytest.approx((math.pi / 8 - 8 / (9 * math.pi)) * 5**4, rel=1e-13)
    assert m.iyy_mm4 == pytest.approx(math.pi / 8 * 5**4, rel=1e-13)


def test_fillet():
    """Square r × r about its corner less a quarter disc about the opposite corner."""
    r = 5.0
    area = r * r * (1 - math.pi / 4)
    first = r**3 / 2 - (math.pi * r * r / 4) * (r - 4 * r / (3 * math.pi))
    quarter_own = math.pi * r**4 / 16 - (math.pi * r * r / 4) * (4 * r / (3 * math.pi)) ** 2
    about_corner = r**4 / 3 - (
        quarter_own + (math.pi * r * r / 4) * (r - 4 * r / (3 * math.pi)) ** 2
    )
    m = moments(Region(outer=FILLET))
    assert m.area_mm2 == pytest.approx(area, rel=1e-13)
    assert tuple(m.centroid) == pytest.approx((first / area, first / area), rel=1e-13)
    ixx, iyy, _ = m.about(0.0, 0.0)
    assert ixx == pytest.approx(about_corner, rel=1e-12)
    assert iyy == pytest.approx(about_corner, rel=1e-12)
    # By symmetry the principal axes stand at 45°.
    assert abs(m.principal_angle_rad) == pytest.approx(math.pi / 4, abs=1e-12)


def test_three_quarter_disc_on_its_own_arc():
    """A pacman: a whole disc less a quarter, with one arc of 270° and a corner at the centre."""
    pac = Region(outer=Contour.of([(0, 0), (4, 0, math.tan(3 * math.pi / 8)), (0, -4)]))
    m = moments(pac)
    ixx, iyy, ixy = m.about(0, 0)
    assert m.area_mm2 == pytest.approx(12 * math.pi, rel=1e-13)
    assert ixx == pytest.approx(0.75 * math.pi * 4**4 / 4, rel=1e-13)
    assert iyy == pytest.approx(ixx, rel=1e-13)
    # ∫ x y over the missing quarter (x > 0 > y) is −r⁴/8.
    assert ixy == pytest.approx(4**4 / 8, rel=1e-12)


def test_a_flat_arc_keeps_its_digits():
    """Segment under a sagitta s on a chord c: 2/3 c s, as for a parabola."""
    flat = Region(outer=Contour.of([(0, 0), (100, 0, 1e-6)]))
    m = moments(flat)
    sagitta = 50 * 1e-6
    assert m.area_mm2 == pytest.approx(2 / 3 * 100 * sagitta, rel=1e-10)
    assert m.centroid.x == pytest.approx(50, rel=1e-10)
    assert m.centroid.y == pytest.approx(0.4 * sagitta, rel=1e-6)
    assert m.iyy_mm4 == pytest.approx(100**3 * sagitta / 30, rel=1e-8)


PLATE = Region(
    outer=Contour.of([(0, 0), (80, 0), (80, 30, 0.4), (50, 60), (0, 40, -0.2)]),
    holes=(Contour.circle(20, 20, 7), Contour.of([(50, 20), (60, 20, 1), (60, 30), (50, 30, 1)])),
)


def test_parts_add_up():
    whole = moments(PLATE).about(3, -8)
    outer = moments(Region(outer=PLATE.outer)).about(3, -8)
    holes = [moments(Region(outer=h.reversed())).about(3, -8) for h in PLATE.holes]
    for k in range(3):
        assert whole[k] == pytest.approx(outer[k] - sum(h[k] for h in holes), rel=1e-12)
    apart = Region(outer=Contour.circle(200, 0, 9))
    both = moments((PLATE, apart)).about(0, 0)
    assert both[0] == pytest.approx(moments(PLATE).about(0, 0)[0] + moments(apart).about(0, 0)[0])


@pytest.mark.parametrize("angle", [0.4, 2.0, math.pi / 2])
def test_turning_keeps_what_it_must(angle):
    turn = Transform.rotation(angle, about=(3, 4)).then(Transform.translation(1e3, -5e3))
    a, b = moments(PLATE), moments(PLATE.transformed(turn))
    assert tuple(b.centroid) == pytest.approx(tuple(turn.point(*a.centroid)), abs=1e-9)
    assert b.polar_mm4 == pytest.approx(a.polar_mm4, rel=1e-11)
    assert b.principal_mm4 == pytest.approx(a.principal_mm4, rel=1e-10)
    assert math.remainder(
        b.principal_angle_rad - a.principal_angle_rad - angle, math.pi
    ) == pytest.approx(0, abs=1e-9)
    assert centroid(PLATE) == a.centroid


def test_a_mirror_changes_the_sign_of_the_product_only():
    a, b = moments(PLATE), moments(PLATE.transformed(Transform.mirror_x()))
    assert b.ixx_mm4 == pytest.approx(a.ixx_mm4, rel=1e-12)
    assert b.ixy_mm4 == pytest.approx(-a.ixy_mm4, rel=1e-12)


def test_moments_of_nothing_are_refused():
    with pytest.raises(GeometryError, match="no region"):
        moments(())
