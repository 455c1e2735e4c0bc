"""No-fit regions and their rasters against areas known in closed form and against shapely."""

from __future__ import annotations

import random

import numpy as np
import pytest
import shapely
from shapely import affinity

from kerf.errors import GeometryError
from kerf.nofit import convex_parts, convex_sums, no_fit_region, opposite, raster

SQUARE = shapely.box(0, 0, 10, 10)
FRAME = shapely.box(0, 0, 30, 30).difference(shapely.box(5, 5, 25, 25))
HOOK = shapely.Polygon([(0, 0), (20, 0), (20, 5), (5, 5), (5, 15), (20, 15), (20, 20), (0, 20)])


def star(dice: random.Random, size: float) -> shapely.Polygon:
    """Return a random star-shaped polygon about (0, 0)."""
    n = dice.randint(3, 9)
    angles = sorted(dice.uniform(0, 2 * np.pi) for _ in range(n))
    return shapely.Polygon(
        [(r * np.cos(a), r * np.sin(a)) for a in angles for r in [dice.uniform(0.3, 1) * size]]
    ).buffer(0)


@pytest.mark.parametrize("body", [SQUARE, FRAME, HOOK], ids=["square", "frame", "hook"])
def test_convex_parts_cover_without_overlap(body: shapely.Polygon) -> None:
    """Parts are convex, add up to the area, and join to the body (definition)."""
    parts = [shapely.Polygon(p) for p in convex_parts(body)]
    assert all(abs(p.convex_hull.area - p.area) < 1e-9 for p in parts)
    assert sum(p.area for p in parts) == pytest.approx(body.area)
    assert shapely.union_all(parts).symmetric_difference(body).area == pytest.approx(0, abs=1e-9)


def test_a_rectangle_stays_one_part() -> None:
    """Merging undoes the triangulation of what is convex."""
    assert len(convex_parts(SQUARE)) == 1


def test_no_fit_region_of_rectangles_is_their_sum() -> None:
    """Two rectangles a × b and c × d: (a + c)(b + d).

    Source: Minkowski sum of boxes, any computational geometry textbook (de Berg et al., ch. 13).
    """
    region = no_fit_region(convex_parts(SQUARE), convex_parts(shapely.box(0, 0, 4, 3)))
    assert region.area == pytest.approx(14 * 13)
    assert region.bounds == pytest.approx((-4, -3, 10, 10))


def test_no_fit_region_of_a_triangle_with_itself_is_six_times_it() -> None:
    """Source: Rogers & Shephard, Arch. Math. 8 (1957): the difference body of a triangle is 6 A."""
    triangle = shapely.Polygon([(0, 0), (7, 1), (2, 5)])
    parts = convex_parts(triangle)
    assert no_fit_region(parts, parts).area == pytest.approx(6 * triangle.area)


def test_a_window_leaves_places_inside() -> None:
    """A 10 mm square in a 20 mm window has a 10 × 10 mm field of places."""
    region = no_fit_region(convex_parts(FRAME), convex_parts(SQUARE))
    (hole,) = shapely.get_parts(region)[0].interiors
    assert shapely.Polygon(hole).bounds == pytest.approx((5, 5, 15, 15))


@pytest.mark.parametrize("seed", range(12))
def test_raster_is_free_exactly_where_the_pieces_do_not_overlap(seed: int) -> None:
    """Every place of the raster against shapely's intersection of the moved pieces."""
    dice = random.Random(seed)
    standing, moving = star(dice, 12), star(dice, 9)
    if standing.geom_type != "Polygon" or moving.geom_type != "Polygon":
        standing, moving = HOOK, SQUARE
    grid = raster(convex_sums(convex_parts(standing), convex_parts(moving)), 1.0)
    for column in range(0, grid.depth.shape[0], 3):
        for row in range(0, grid.depth.shape[1], 3):
            moved = affinity.translate(moving, grid.x + column, grid.y + row)
            overlap = standing.intersection(moved).area
            assert (grid.depth[column, row] > 0) == (overlap > 1e-6), (column, row, overlap)


def test_touching_along_edges_is_free_on_the_grid() -> None:
    """Squares side by side touch: the place 10 mm on is free, 9 mm on is not."""
    grid = raster(convex_sums(convex_parts(SQUARE), convex_parts(SQUARE)), 1.0)
    at = lambda x, y: grid.depth[x - grid.x, y - grid.y]  # noqa: E731
    assert at(10, 0) == 0
    assert at(0, 10) == 0
    assert at(9, 0) == 1
    assert at(0, 0) == 10


def test_opposite_exchanges_the_pieces() -> None:
    """The depth at v of one about the other is that at −v the other way round."""
    a, b = convex_parts(HOOK), convex_parts(shapely.box(0, 0, 4, 3))
    turned = opposite(raster(convex_sums(a, b), 1.0))
    straight = raster(convex_sums(b, a), 1.0)
    assert (turned.x, turned.y) == (straight.x, straight.y)
    np.testing.assert_array_equal(turned.depth, straight.depth)


def test_a_grid_needs_a_pitch() -> None:
    """A pitch of 0 is refused."""
    with pytest.raises(GeometryError, match="pitch above 0 mm"):
        raster(convex_sums(convex_parts(SQUARE), convex_parts(SQUARE)), 0.0)
