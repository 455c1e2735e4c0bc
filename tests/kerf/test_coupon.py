"""The coupon is cut as drawn, says so, and its list of sizes is what is drawn."""

from __future__ import annotations

import math

import pytest
import shapely

from kerf.coupon import LADDER_HOLES, coupon
from kerf.errors import InputError
from kerf.readings import Axis, Kind, Side
from kerf.writing.statement import statement

THICKNESSES = (1.0, 3.0, 4.92, 6.0, 10.0)


def polygon(region):
    return shapely.Polygon(region.outer.facets(), [h.facets() for h in region.holes])


def body(piece):
    return shapely.union_all([polygon(r) for _, r in piece.regions])


@pytest.mark.parametrize("thickness_mm", THICKNESSES)
def test_every_listed_size_is_the_distance_between_two_walls(thickness_mm):
    piece = coupon(thickness_mm=thickness_mm)
    loops = [loop for _, region in piece.regions for loop in region.loops()]
    for size in piece.sizes:
        assert math.dist(size.start, size.end) == pytest.approx(size.drawn_mm, abs=1e-9)
        along = 0 if size.axis is Axis.X else 1
        assert size.start[1 - along] == pytest.approx(size.end[1 - along], abs=1e-9)
        for end in (size.start, size.end):
            # FAR and NEAR end at the edge, across the passage's mouth for FAR.
            wall = min(loop.nearest(*end)[2] for loop in loops)
            assert wall < 1e-9 or (size.kind is Kind.FAR and wall <= 2.0 + 1e-9), size.feature


@pytest.mark.parametrize("thickness_mm", THICKNESSES)
def test_kinds_lie_in_void_or_material_as_they_say(thickness_mm):
    piece = coupon(thickness_mm=thickness_mm)
    plate = body(piece)
    for size in piece.sizes:
        middle = shapely.Point((size.start.x + size.end.x) / 2, (size.start.y + size.end.y) / 2)
        if size.kind in (Kind.SLOT, Kind.GAP, Kind.HOLE, Kind.FAR):
            assert not plate.contains(middle), size.feature
        elif size.kind in (Kind.NEAR, Kind.WEB, Kind.PLUG):
            assert plate.contains(middle), size.feature


@pytest.mark.parametrize("thickness_mm", THICKNESSES)
def test_webs_are_no_thinner_than_the_sheet(thickness_mm):
    """Source: laser-cutting services: web at least the thickness."""
    for _, region in coupon(thickness_mm=thickness_mm, pins_mm=(6.0,)).regions:
        eroded = polygon(region).buffer(-(max(thickness_mm, 3.0) / 2 - 1e-3), join_style="mitre")
        opened = eroded.buffer(max(thickness_mm, 3.0) / 2 - 1e-3, join_style="mitre")
        assert polygon(region).difference(opened.buffer(1e-6)).area < 0.02


def test_sizes_of_three_lengths_and_three_windows_on_each_axis():
    piece = coupon(thickness_mm=3.0)
    for axis in Axis:
        for kind, count in ((Kind.OUTSIDE, 3), (Kind.SLOT, 3)):
            sizes = {s.drawn_mm for s in piece.sizes if s.axis is axis and s.kind is kind}
            assert len(sizes) == count
        kinds = {s.kind for s in piece.sizes if s.axis is axis}
        assert kinds == set(Kind)
    both = [s for s in piece.sizes if s.faces == (Side.ENTRY, Side.EXIT)]
    assert {s.kind for s in both} == {Kind.OUTSIDE, Kind.SLOT}


@pytest.mark.parametrize("thickness_mm", THICKNESSES)
@pytest.mark.parametrize(
    "marks", [(), ("acrylic-5 cast", "CO2 laser no. 1")], ids=["bare", "named"]
)
def test_engraving_is_whole_on_the_pieces_and_clear_of_cuts(thickness_mm, marks):
    piece = coupon(thickness_mm=thickness_mm, pins_mm=(3.0, 12.7), marks=marks)
    rings = shapely.MultiLineString(
        [shapely.LinearRing(loop.facets()).coords for _, r in piece.regions for loop in r.loops()]
    )
    whole = body(piece)
    lines = [shapely.LineString(s.points) for s in piece.plan.strokes]
    assert all(whole.contains(line) for line in lines)
    assert min(line.distance(rings) for line in lines) >= 0.5
    boxes = [shapely.box(*line.bounds) for line in lines]
    assert len(boxes) > 40


def test_it_is_not_compensated_and_says_so():
    piece = coupon(thickness_mm=3.0, pins_mm=(6.0,))
    assert piece.plan.kerf is None
    assert "KERF NOT APPLIED" in statement(piece.plan)
    drawn = sorted(loop.length_mm for _, r in piece.regions for loop in r.loops())
    cut = sorted(path.contour.length_mm for path in piece.plan.paths)
    assert cut == pytest.approx(drawn, abs=1e-9)


def test_pierces_lie_in_scrap_away_from_what_is_measured():
    piece = coupon(thickness_mm=3.0, pins_mm=(6.0,))
    whole = body(piece)
    for path in piece.plan.paths:
        (pierce,) = path.lead_in
        assert not whole.contains(shapely.Point(pierce))
        start = path.contour.vertices[0]
        nearest = min(math.dist(start[:2], end) for s in piece.sizes for end in (s.start, s.end))
        assert nearest >= 2.0


def test_ladders_bracket_the_pin_by_two_hundredths():
    (ladder,) = coupon(thickness_mm=3.0, pins_mm=(6.0,), expected_kerf_mm=0.24).ladders
    assert len(ladder.holes_mm) == LADDER_HOLES
    steps = [b - a for a, b in zip(ladder.holes_mm, ladder.holes_mm[1:], strict=False)]
    assert steps == pytest.approx([0.02] * (LADDER_HOLES - 1))
    # The middle hole, widened by the expected kerf, is the pin.
    assert ladder.holes_mm[LADDER_HOLES // 2] + 0.24 == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"thickness_mm": 0.0}, "0 to 30 mm"),
        ({"thickness_mm": 6.0, "span_mm": 60.0}, "too short"),
        ({"thickness_mm": 3.0, "expected_kerf_mm": -0.1}, "expected kerf"),
        ({"thickness_mm": 3.0, "pins_mm": (0.25,)}, "ladders are made for pins"),
        ({"thickness_mm": 3.0, "marks": ("名",)}, "cannot be engraved"),
    ],
)
def test_a_coupon_that_cannot_be_is_refused(options, words):
    with pytest.raises(InputError) as fault:
        coupon(**options)
    assert words in fault.value.describe()


def test_a_longer_span_tells_the_scale_better():
    assert coupon(thickness_mm=3.0, span_mm=180.0).span_mm == 180.0
    lengths = {
        s.drawn_mm for s in coupon(thickness_mm=3.0, span_mm=180.0).sizes if s.kind is Kind.OUTSIDE
    }
    assert lengths == {60.0, 120.0, 180.0}
