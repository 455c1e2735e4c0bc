"""Strips packed: what must fit exactly does, nothing overlaps, and it comes out the same twice."""

from __future__ import annotations

import itertools
import math
import random

import pytest
import shapely
from shapely import affinity

from kerf.packing import Shapes, Turned
from kerf.strip import DoesNotFit, Strip, packed, pitch_mm

QUARTERS = (0.0, math.pi / 2, math.pi, 3 * math.pi / 2)


def turned(bodies: list[shapely.Polygon], angles=(0.0,)) -> list[list[Turned]]:
    """Return pieces in the given turns."""
    shapes = Shapes()
    return [[shapes.turned(body, angle) for angle in angles] for body in bodies]


def placed(pieces: list[list[Turned]], strip: Strip) -> list[shapely.Polygon]:
    """Return the pieces where the strip puts them."""
    return [
        affinity.translate(piece[turn].polygon, x, y)
        for piece, turn, (x, y) in zip(pieces, strip.turns, strip.places_mm, strict=True)
    ]


def overlap_mm2(bodies: list[shapely.Polygon]) -> float:
    """Return the greatest overlap of two bodies."""
    return max((a.intersection(b).area for a, b in itertools.combinations(bodies, 2)), default=0.0)


def test_squares_fill_a_strip_without_waste() -> None:
    """Six squares of 10 in a strip of 20: 30 long."""
    pieces = turned([shapely.box(0, 0, 10, 10)] * 6)
    assert packed(pieces, height_mm=20, effort=0).length_mm == pytest.approx(30)


def test_two_ells_interlock() -> None:
    """Two L of 20 × 20 with legs of 10 make a block of 20 × 30: area 600, no waste."""
    ell = shapely.Polygon([(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)])
    pieces = turned([ell, ell], QUARTERS)
    strip = packed(pieces, height_mm=20, effort=10**8)
    assert strip.length_mm == pytest.approx(30, abs=1e-6)
    assert overlap_mm2(placed(pieces, strip)) < 1e-6


@pytest.mark.parametrize("seed", range(4))
def test_random_pieces_do_not_overlap_and_stay_in_the_strip(seed: int) -> None:
    """Random polygons in random turns, searched a little: shapely finds no overlap."""
    dice = random.Random(seed)
    bodies = [
        shapely.convex_hull(
            shapely.MultiPoint([(dice.uniform(0, 40), dice.uniform(0, 30)) for _ in range(6)])
        )
        for _ in range(7)
    ]
    pieces = turned(bodies, QUARTERS)
    strip = packed(pieces, height_mm=70, effort=10**8)
    lying = placed(pieces, strip)
    assert overlap_mm2(lying) < 1e-5
    x0, y0, x1, y1 = shapely.total_bounds(lying)
    assert min(x0, y0) > -1e-6
    assert y1 < 70 + 1e-6
    assert x1 == pytest.approx(strip.length_mm, abs=1e-6)


def test_the_search_shortens_and_repeats() -> None:
    """More effort is never worse, and the same effort gives the same places."""
    dice = random.Random(3)
    bodies = [
        shapely.Polygon([(0, 0), (dice.uniform(10, 30), 0), (0, dice.uniform(10, 40))])
        for _ in range(10)
    ]
    pieces = turned(bodies, (0.0, math.pi))
    start = packed(pieces, height_mm=60, effort=0)
    once, twice = (packed(pieces, height_mm=60, effort=2 * 10**8) for _ in range(2))
    assert once == twice
    assert once.length_mm < start.length_mm


def test_a_piece_higher_than_the_strip_is_refused() -> None:
    """The height stands in the message."""
    with pytest.raises(DoesNotFit, match=r"higher than the strip of 20\.0 mm"):
        packed(turned([shapely.box(0, 0, 10, 21)]), height_mm=20, effort=0)


def test_nothing_to_pack_is_a_strip_of_no_length() -> None:
    """A named outcome, not an error."""
    assert packed([], height_mm=20) == Strip(length_mm=0.0, turns=(), places_mm=())


def test_pieces_on_a_lattice_are_searched_on_it() -> None:
    """Whole centimetres in a strip of 40 cells give 10 mm; anything else a hundredth."""
    assert pitch_mm(turned([shapely.box(0, 0, 30, 20)]), 400.0) == pytest.approx(10.0)
    assert pitch_mm(turned([shapely.box(0, 0, 30.0004, 20)]), 400.0) == pytest.approx(4.0)


def test_a_full_strip_ends_the_search_at_once() -> None:
    """Nothing is shorter than all pieces without waste; the default effort is not spent."""
    pieces = turned([shapely.box(0, 0, 10, 10)] * 8, QUARTERS)
    assert packed(pieces, height_mm=20).length_mm == pytest.approx(40)


def test_a_strip_is_no_shorter_than_its_widest_piece() -> None:
    """A bar that fits only lengthwise beside two small squares: 50 long, whatever the effort."""
    bodies = [shapely.box(0, 0, 50, 8), shapely.box(0, 0, 9, 9), shapely.box(0, 0, 9, 9)]
    pieces = turned(bodies, QUARTERS)
    strip = packed(pieces, height_mm=20, effort=10**8)
    assert strip.length_mm == pytest.approx(50)
    assert overlap_mm2(placed(pieces, strip)) < 1e-9


def test_a_piece_too_long_for_the_shorter_strip_is_turned() -> None:
    """Six bars of 30 × 5 in a strip of 31: upright they take 30, lengthwise 30 at best too."""
    pieces = turned([shapely.box(0, 0, 30, 5)] * 6, QUARTERS)
    strip = packed(pieces, height_mm=31, effort=2 * 10**8)
    lying = placed(pieces, strip)
    assert strip.length_mm == pytest.approx(30, abs=1e-6)
    assert overlap_mm2(lying) < 1e-6
    assert shapely.total_bounds(lying)[3] <= 31 + 1e-6
