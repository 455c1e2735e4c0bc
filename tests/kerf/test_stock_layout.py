"""Layouts on sheets and remnants: gaps, windows, turns, what is left, and what is refused."""

from __future__ import annotations

import math
import random

import layouts
import pytest
import shapely

from kerf.contour import Contour, Region, Transform
from kerf.errors import GeometryError
from kerf.stock import LaidStock, Piece, Place, Stock, Turns, check_laid, laid_out

SHEET = layouts.SHEET


def rectangle(name: str, width: float, height: float) -> Piece:
    """Return a rectangular piece."""
    return Piece(name=name, region=Region(outer=Contour.rectangle(0, 0, width, height)))


@pytest.mark.parametrize("seed", range(25))
def test_random_layouts_keep_every_gap(seed: int) -> None:
    """0 overlaps, 0 gaps under the limit, measured by shapely from the pieces."""
    dice = random.Random(seed)
    pieces = layouts.random_pieces(dice)
    gap, margin = dice.choice([0.5, 2.0, 4.0]), dice.choice([0.0, 3.0])
    laid = laid_out(pieces, sheet=SHEET, gap_mm=gap, margin_mm=margin, effort=0)
    assert sorted(p.piece for one in laid for p in one.places) == list(range(len(pieces)))
    for one in laid:
        assert layouts.faults(one, pieces, gap, margin) == []


def test_a_small_plate_goes_into_the_window_of_a_large_one() -> None:
    """The window is scrap: the small plate lies in it, and the strip gets no longer."""
    frame = Piece(
        name="frame",
        region=Region(
            outer=Contour.rectangle(0, 0, 150, 150), holes=(Contour.rectangle(20, 20, 100, 100),)
        ),
    )
    pieces = [frame, rectangle("small", 60, 40)]
    (laid,) = laid_out(pieces, sheet=SHEET, gap_mm=3, margin_mm=5)
    outer, inner = (
        shapely.Polygon(pieces[p.piece].region.transformed(p.to_stock).outer.facets(0.1))
        for p in laid.places
    )
    assert outer.contains(inner)


def test_remnants_are_used_before_a_sheet_the_smallest_first() -> None:
    """A piece that fits on the small remnant leaves the large one and the sheets alone."""
    small = Stock(name="r1", region=Region(outer=Contour.rectangle(0, 0, 90, 60)), is_remnant=True)
    large = Stock(name="r2", region=Region(outer=Contour.rectangle(0, 0, 150, 90)), is_remnant=True)
    laid = laid_out(
        [rectangle("a", 70, 40)], remnants=[large, small], sheet=SHEET, gap_mm=2, margin_mm=3
    )
    assert [one.stock.name for one in laid] == ["r1"]


def test_pieces_stay_on_a_remnant_of_any_outline() -> None:
    """An L-shaped remnant: the pieces lie on its legs, never across its notch."""
    outline = Contour.of([(0, 0), (200, 0), (200, 60), (60, 60), (60, 180), (0, 180)])
    remnant = Stock(name="r", region=Region(outer=outline), is_remnant=True)
    pieces = [rectangle("a", 45, 100), rectangle("b", 90, 45), rectangle("c", 40, 30)]
    (laid,) = laid_out(pieces, remnants=[remnant], gap_mm=2, margin_mm=4)
    assert layouts.faults(laid, pieces, 2, 4) == []


@pytest.mark.parametrize(
    ("turns", "allowed"),
    [(Turns.NONE, {0}), (Turns.HALF, {0, 180}), (Turns.QUARTER, {0, 90, 180, 270})],
)
def test_only_allowed_turns_are_used(turns: Turns, allowed: set[int]) -> None:
    """A print keeps its way up, a grain its direction."""
    pieces = layouts.random_pieces(random.Random(5))
    laid = laid_out(pieces, sheet=SHEET, gap_mm=2, margin_mm=3, turns=turns, effort=0)
    used = {round(math.degrees(p.angle_rad)) for one in laid for p in one.places}
    assert used <= allowed


def test_what_is_left_is_outside_every_piece_and_worth_keeping() -> None:
    """Two plates at one end leave the rest of the sheet, in one outline."""
    pieces = [rectangle("a", 100, 90), rectangle("b", 60, 80)]
    (laid,) = laid_out(pieces, sheet=SHEET, gap_mm=2, margin_mm=3)
    assert laid.left is not None
    assert laid.left.is_ccw
    assert layouts.faults(laid, pieces, 2, 3) == []
    used = 100 * 90 + 60 * 80
    assert laid.left.area_mm2 > 0.75 * (300 * 200 - used)


def test_a_full_sheet_leaves_nothing_to_keep() -> None:
    """A rim of 7 mm is no remnant."""
    (laid,) = laid_out([rectangle("a", 286, 186)], sheet=SHEET, gap_mm=2, margin_mm=3)
    assert laid.left is None


def test_the_same_pieces_give_the_same_layout() -> None:
    """Byte for byte: seeded and counted, never timed."""
    pieces = layouts.random_pieces(random.Random(8))
    runs = [laid_out(pieces, sheet=SHEET, gap_mm=2, margin_mm=3, effort=10**8) for _ in range(2)]
    assert runs[0] == runs[1]


def test_sheets_are_taken_as_needed() -> None:
    """Five plates of half a sheet each need three sheets."""
    pieces = [rectangle(f"p{k}", 140, 190) for k in range(5)]
    laid = laid_out(pieces, sheet=SHEET, gap_mm=2, margin_mm=3)
    assert [len(one.places) for one in laid] == [2, 2, 1]


def test_nothing_fits_says_the_sizes() -> None:
    """The piece, its size, and the stock it was tried on."""
    with pytest.raises(GeometryError) as fault:
        laid_out([rectangle("beam", 400, 20)], sheet=SHEET, gap_mm=2, margin_mm=3)
    assert '"beam" is 400.0 × 20.0 mm and fits on none of the stock' in fault.value.what
    assert '"sheet" 300.0 × 200.0 mm' in fault.value.what
    assert "margin of 3.0 mm" in fault.value.hint


def test_no_stock_at_all_is_said() -> None:
    """Without sheet or remnant nothing can be laid out."""
    with pytest.raises(GeometryError, match="none is given"):
        laid_out([rectangle("a", 10, 10)], gap_mm=2, margin_mm=3)


@pytest.mark.parametrize("what", ["gap_mm", "margin_mm"])
def test_a_length_below_zero_is_refused(what: str) -> None:
    """A negative gap would let pieces overlap."""
    lengths = {"gap_mm": 2.0, "margin_mm": 3.0} | {what: -0.5}
    with pytest.raises(GeometryError, match=r"must be 0 mm or more, not -0\.5 mm"):
        laid_out([rectangle("a", 10, 10)], sheet=SHEET, **lengths)


def test_a_remnant_with_a_hole_is_refused() -> None:
    """Its outline without the hole is asked for."""
    with pytest.raises(GeometryError, match=r"has 1 hole\(s\) in it") as fault:
        Stock(
            name="r",
            region=Region(
                outer=Contour.rectangle(0, 0, 100, 100), holes=(Contour.circle(50, 50, 10),)
            ),
        )
    assert "without holes" in fault.value.hint


def test_a_remnant_that_crosses_itself_is_refused() -> None:
    """A bow tie is no outline."""
    with pytest.raises(GeometryError, match="crosses itself"):
        Stock(name="r", region=Region(outer=Contour.of([(0, 0), (10, 10), (10, 0), (0, 9)])))


def test_a_layout_from_elsewhere_is_measured() -> None:
    """Two plates 1 mm apart do not pass where 2 mm are asked; nor one over the edge."""
    pieces = [rectangle("a", 50, 50), rectangle("b", 50, 50)]

    def laid(x: float) -> LaidStock:
        return LaidStock(
            stock=SHEET,
            places=(
                Place(piece=0, to_stock=Transform.translation(10, 10), angle_rad=0),
                Place(piece=1, to_stock=Transform.translation(x, 10), angle_rad=0),
            ),
            left=None,
        )

    check_laid(laid(62), pieces, gap_mm=2, margin_mm=3)
    with pytest.raises(GeometryError, match=r'"a" and "b" lie 1\.000 mm apart'):
        check_laid(laid(61), pieces, gap_mm=2, margin_mm=3)
    with pytest.raises(GeometryError, match='"b" lies'):
        check_laid(laid(249), pieces, gap_mm=2, margin_mm=3)
    with pytest.raises(GeometryError, match="apart on stock"):
        check_laid(laid(30), pieces, gap_mm=0, margin_mm=3)


def test_a_plate_as_large_as_the_margins_leave_fits() -> None:
    """294 × 194 mm on 300 × 200 with 3 mm all round: exactly; a tenth more does not."""
    (laid,) = laid_out([rectangle("a", 294, 194)], sheet=SHEET, gap_mm=2, margin_mm=3)
    assert laid.places[0].to_stock.c == pytest.approx(3, abs=1e-6)
    with pytest.raises(GeometryError, match="fits on none"):
        laid_out([rectangle("a", 294.1, 194)], sheet=SHEET, gap_mm=2, margin_mm=3)
