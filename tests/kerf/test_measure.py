"""Gaps and webs whose size and place are known by hand.

Source: plane geometry, worked beside each case.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerf.contour import Contour, Region, Transform
from kerf.measure import distances_mm, narrowest_gap, region_gap, thinnest_web

PLATE = Region(
    outer=Contour.rectangle(0, 0, 100, 60),
    holes=(
        Contour.circle(20, 30, 5),
        Contour.circle(31.5, 30, 5),
        Contour.rectangle(70, 20, 25, 10),
    ),
)
MOVES = [
    Transform(),
    Transform.rotation(0.37, about=(11, 5)),
    Transform.translation(3e3, -1e3),
    Transform.mirror_y(),
]
EACH_MOVE = pytest.mark.parametrize("move", MOVES, ids=["as drawn", "turned", "far", "mirrored"])


@EACH_MOVE
class TestWeb:
    def test_between_two_holes(self, move):
        web = thinnest_web(PLATE.transformed(move))
        assert web.width_mm == pytest.approx(1.5, abs=1e-9)
        assert tuple(web.centre) == pytest.approx(tuple(move.point(25.75, 30)), abs=1e-4)
        ends = sorted([tuple(web.a), tuple(web.b)])
        wanted = sorted([tuple(move.point(25, 30)), tuple(move.point(26.5, 30))])
        assert np.abs(np.subtract(ends, wanted)).max() < 1e-4

    def test_eccentric_annulus(self, move):
        """Circles of 10 and 6, 1 apart: 10 − 6 − 1 = 3 at the far side."""
        ring = Region(outer=Contour.circle(0, 0, 10), holes=(Contour.circle(1, 0, 6),))
        web = thinnest_web(ring.transformed(move))
        assert web.width_mm == pytest.approx(3.0, abs=1e-9)
        assert tuple(web.centre) == pytest.approx(tuple(move.point(8.5, 0)), abs=1e-4)

    def test_neck_between_two_reflex_corners(self, move):
        """Two notches point at each other across 2 mm, 1 mm offset sideways: √5."""
        neck = Contour.of(
            [
                (0, 0),
                (19, 0),
                (20, 9),
                (21, 0),
                (40, 0),
                (40, 20),
                (22, 20),
                (21, 11),
                (20, 20),
                (0, 20),
            ]
        )
        web = thinnest_web(Region(outer=neck).transformed(move))
        assert web.width_mm == pytest.approx(math.sqrt(5), abs=1e-9)
        assert tuple(web.centre) == pytest.approx(tuple(move.point(20.5, 10)), abs=1e-6)

    def test_blunt_tip_of_a_tapered_prong(self, move):
        """Sides 1:80 off upright, tip 1 mm wide: the disc that touches sides and tip.

        Half width w(y) = 0.5 + (60 − y)/80 at height y; a disc of radius r centred on the axis
        at 60 − r touches sides when r = (0.5 + r/80) cos β with tan β = 1/80.
        """
        prong = Contour.of(
            [(0, 0), (50, 0), (50, 20), (26, 20), (25.5, 60), (24.5, 60), (24, 20), (0, 20)]
        )
        web = thinnest_web(Region(outer=prong).transformed(move))
        cos = 1 / math.hypot(1, 1 / 80)
        assert web.width_mm == pytest.approx(2 * 0.5 * cos / (1 - cos / 80), abs=1e-7)

    def test_slot_near_an_edge(self, move):
        slot = Contour.of([(30, 2.5), (60, 2.5, 1), (60, 8.5), (30, 8.5, 1)])
        part = Region(outer=Contour.rectangle(0, 0, 100, 40), holes=(slot,)).transformed(move)
        web = thinnest_web(part)
        assert web.width_mm == pytest.approx(2.5, abs=1e-9)
        assert thinnest_web(part, below_mm=2.4) is None
        assert thinnest_web(part, below_mm=2.6).width_mm == pytest.approx(2.5, abs=1e-9)

    @pytest.mark.parametrize(
        "loop",
        [
            Contour.circle(0, 0, 10),
            Contour.of([(0, 0), (50, 0), (20, 40)]),
        ],
        ids=["disc", "triangle"],
    )
    def test_figures_without_a_web(self, move, loop):
        assert thinnest_web(Region(outer=loop).transformed(move)) is None

    def test_corners_chamfers_and_fillets_are_no_webs(self, move):
        """A 40 × 30 plate with a 1 mm chamfer and a 1 mm fillet: its web is its own width."""
        q = math.tan(math.pi / 8)
        plate = Contour.of([(0, 0), (39, 0), (40, 1), (40, 29, q), (39, 30), (0, 30)])
        web = thinnest_web(Region(outer=plate).transformed(move))
        assert web.width_mm == pytest.approx(30.0, abs=1e-9)


@EACH_MOVE
class TestGap:
    def test_narrow_slot(self, move):
        notched = Contour.of(
            [(0, 0), (40, 0), (40, 30), (21.2, 30), (21.2, 10), (20, 10), (20, 30), (0, 30)]
        )
        gap = narrowest_gap([Region(outer=notched).transformed(move)])
        assert gap.width_mm == pytest.approx(1.2, abs=1e-9)

    def test_between_pieces(self, move):
        pair = [Region(outer=Contour.circle(x, 0, 5)).transformed(move) for x in (0, 10.7)]
        gap = narrowest_gap(pair)
        assert gap.width_mm == pytest.approx(0.7, abs=1e-9)
        assert tuple(gap.centre) == pytest.approx(tuple(move.point(5.35, 0)), abs=1e-4)

    def test_a_convex_figure_has_none(self, move):
        assert (
            narrowest_gap([Region(outer=Contour.rectangle(0, 0, 9, 4)).transformed(move)]) is None
        )


def test_gaps_of_nothing():
    assert narrowest_gap([]) is None


@EACH_MOVE
@pytest.mark.parametrize(
    ("other", "distance", "a", "b"),
    [
        # From the corner (100, 60) towards (120, 80): 20 √2 less the radius.
        (
            Contour.circle(120, 80, 10),
            20 * math.sqrt(2) - 10,
            (100, 60),
            (120 - 5 * math.sqrt(2), 80 - 5 * math.sqrt(2)),
        ),
        (Contour.circle(20, 30, 4), 1.0, None, None),
        (Contour.circle(21, 30, 3.5), 0.5, (25, 30), (24.5, 30)),
        (Contour.rectangle(103, 10, 5, 5), 3.0, None, None),
        (Contour.circle(-9, 20, 4), 5.0, (0, 20), (-5, 20)),
        (Contour.circle(50, 50, 4), 0.0, None, None),
        (Contour.circle(99, 59, 4), 0.0, None, None),
        (Contour.rectangle(-50, -50, 300, 300), 0.0, None, None),
        (Contour.rectangle(100, 20, 10, 10), 0.0, None, None),
    ],
    ids=[
        "corner",
        "round in hole",
        "nearer one side",
        "parallel",
        "side",
        "in",
        "across",
        "round",
        "touching",
    ],
)
def test_region_gap(move, other, distance, a, b):
    plate, other = PLATE.transformed(move), Region(outer=other).transformed(move)
    for first, second, p, q in ((plate, other, a, b), (other, plate, b, a)):
        gap = region_gap(first, second)
        assert gap.distance_mm == pytest.approx(distance, abs=1e-9)
        assert math.dist(gap.a, gap.b) == pytest.approx(distance, abs=1e-9)
        if p is not None:
            assert tuple(gap.a) == pytest.approx(tuple(move.point(*p)), abs=1e-6)
            assert tuple(gap.b) == pytest.approx(tuple(move.point(*q)), abs=1e-6)


def test_distances_of_many_points_are_those_of_each():
    rng = np.random.default_rng(8)
    points = rng.uniform((-10, -10), (110, 70), (500, 2))
    many = distances_mm(PLATE, points.tolist())
    assert many == pytest.approx([PLATE.distance_mm(x, y) for x, y in points.tolist()], abs=1e-11)
