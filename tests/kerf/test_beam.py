"""Cards that contradict themselves are refused; paths keep what the card asks."""

from __future__ import annotations

import math

import pytest

from kerf.beam import (
    KerfCard,
    Operation,
    Stroke,
    beam_paths,
    commanded_strokes,
    drawn_paths,
)
from kerf.contour import Contour, Point, Region
from kerf.errors import GeometryError
from kerf.shapes import circle, rectangle, slot

SIMPLE = {"name": "card", "kerf_mm": 0.2, "u_mm": 0.01}


def test_one_number_and_its_uncertainty_make_a_card():
    card = KerfCard(**SIMPLE)
    assert (card.along_x_mm, card.along_y_mm) == (0.2, 0.2)
    assert math.isinf(card.dof)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"kerf_mm": -0.1}, "kerf is -0.1 mm"),
        ({"kerf_mm": 2.1}, "kerf is 2.1 mm"),
        ({"kerf_mm": math.nan}, "kerf is nan mm"),
        ({"u_mm": -0.1}, "uncertainty"),
        ({"entry_mm": 0.3}, "come together"),
        ({"kerf_x_mm": 0.3}, "come together"),
        ({"entry_mm": 0.3, "exit_mm": 0.24}, "more material is left"),
        ({"kerf_x_mm": 0.3, "kerf_y_mm": 0.25}, "outside what is given"),
        ({"scale_x": 1.03}, "within 2 %"),
        ({"scale_y": 0.0}, "within 2 %"),
        ({"inside_extra_mm": -0.25}, "cut-out"),
        ({"dof": 0.0}, "degrees of freedom"),
        ({"curve_mm2": math.inf}, "curve widening"),
        ({"curve_mm2": -0.01}, "never narrower"),
    ],
)
def test_cards_that_cannot_be_are_refused(more, words):
    with pytest.raises(GeometryError) as fault:
        KerfCard(**{**SIMPLE, **more})
    assert words in fault.value.describe()


def test_a_disc_and_a_hole_on_an_elliptical_beam():
    """A dimension along X feels the kerf along X: Ø10 needs a path 10 + kerf wide."""
    card = KerfCard(name="a", kerf_mm=0.2, u_mm=0.0, kerf_x_mm=0.25, kerf_y_mm=0.15)
    (disc,) = beam_paths(circle(diameter_mm=10), card, piece="disc")
    box = disc.contour.bounds()
    assert box.width == pytest.approx(10.25, abs=2 * disc.deviation_mm)
    assert box.height == pytest.approx(10.15, abs=2 * disc.deviation_mm)
    assert 0 < disc.deviation_mm <= 0.00101
    plate = Region(outer=Contour.rectangle(-20, -20, 40, 40), holes=(Contour.circle(0, 0, 5),))
    hole, outer = beam_paths(plate, card, piece="plate")
    assert hole.contour.bounds().width == pytest.approx(9.75, abs=2e-3)
    assert hole.contour.bounds().height == pytest.approx(9.85, abs=2e-3)
    assert outer.contour.bounds().width == pytest.approx(40.25, abs=1e-6)
    assert (hole.contour.is_ccw, outer.contour.is_ccw) == (False, True)


def test_scale_alone_is_undone_exactly_when_axes_agree():
    card = KerfCard(name="a", kerf_mm=0.2, u_mm=0.0, scale_x=1.002, scale_y=1.002)
    (path,) = beam_paths(circle(diameter_mm=10), card, piece="disc")
    assert path.deviation_mm == 0.0
    assert len(path.contour.vertices) == 2
    assert path.contour.bounds().width * 1.002 == pytest.approx(10.2, abs=1e-12)


def test_cut_outs_have_their_own_kerf():
    card = KerfCard(name="a", kerf_mm=0.2, u_mm=0.0, inside_extra_mm=0.04)
    plate = Region(outer=Contour.rectangle(0, 0, 40, 40), holes=(Contour.circle(20, 20, 5),))
    hole, outer = beam_paths(plate, card, piece="plate")
    assert hole.contour.bounds().width == pytest.approx(10 - 0.24)
    assert outer.contour.bounds().width == pytest.approx(40.2)


@pytest.mark.parametrize("curve_mm2", [0.05, 0.01])
def test_curves_are_cut_wider_by_curve_over_radius(curve_mm2):
    """Whole circles: path radius p solves p ∓ (kerf + curve/p)/2 = drawn radius, first order."""
    card = KerfCard(name="a", kerf_mm=0.2, u_mm=0.0, curve_mm2=curve_mm2)
    (disc,) = beam_paths(circle(diameter_mm=6), card, piece="disc")
    p = disc.contour.bounds().width / 2
    assert p - (0.2 + curve_mm2 / p) / 2 == pytest.approx(3.0, abs=1e-4)
    plate = Region(outer=Contour.rectangle(0, 0, 40, 40), holes=(Contour.circle(20, 20, 3),))
    hole, outer = beam_paths(plate, card, piece="plate")
    p = hole.contour.bounds().width / 2
    assert p + (0.2 + curve_mm2 / p) / 2 == pytest.approx(3.0, abs=1e-4)
    assert outer.contour.bounds().width == pytest.approx(40.2)  # straight: no widening


def test_straight_walls_of_a_slot_do_not_widen_with_its_ends():
    card = KerfCard(name="a", kerf_mm=0.2, u_mm=0.0, curve_mm2=0.06)
    region = slot(length_mm=30, width_mm=8)
    (path,) = beam_paths(region, card, piece="slot")
    box, drawn = path.contour.bounds(), region.bounds()
    assert box.width - drawn.width == pytest.approx(0.2 + 0.06 / 4.1, abs=1e-3)
    middle = path.contour.nearest(drawn.centre.x, drawn.y_min)[1]
    assert drawn.y_min - middle.y == pytest.approx(0.1, abs=1e-6)


def test_a_hole_or_gap_narrower_than_the_beam_is_refused():
    card = KerfCard(name="a", kerf_mm=0.5, u_mm=0.0)
    plate = Region(outer=Contour.rectangle(0, 0, 20, 20), holes=(Contour.circle(10, 10, 0.2),))
    with pytest.raises(GeometryError, match="narrower than the kerf"):
        beam_paths(plate, card, piece="plate")
    gap = Region(
        outer=Contour.of(
            [(0, 0), (20, 0), (20, 20), (10.2, 20), (10.2, 5), (9.8, 5), (9.8, 20), (0, 20)]
        )
    )
    with pytest.raises(GeometryError, match="narrower than the kerf"):
        beam_paths(gap, card, piece="plate")


def test_marks_land_where_they_were_drawn():
    card = KerfCard(name="a", kerf_mm=0.2, u_mm=0.0, scale_x=1.01, scale_y=0.99)
    stroke = Stroke(
        operation=Operation.ENGRAVE, points=(Point(0, 0), Point(101.0, 99.0)), piece="p"
    )
    (moved,) = commanded_strokes((stroke,), card)
    assert moved.points[1] == pytest.approx((100.0, 100.0))
    assert commanded_strokes((stroke,), KerfCard(**SIMPLE)) == (stroke,)


def test_a_coupon_follows_the_drawn_lines():
    region = Region(outer=rectangle(width_mm=9, height_mm=5).outer, holes=())
    (path,) = drawn_paths(region, piece="coupon")
    assert path.contour == region.outer
    assert path.operation is Operation.OUTSIDE
