"""Unions, differences and intersections against closed forms, touching and coincident edges too.

Source: areas of circles and of the lens common to two, by elementary geometry; inclusion and
exclusion for the rest.
"""

from __future__ import annotations

import math

import pytest
from filleted import RADII, region

from kerf.boolean import BooleanUnproven, difference, intersection, union
from kerf.contour import Contour, Region, Transform
from kerf.errors import GeometryError

PI = math.pi


def rect(x: float, y: float, w: float, h: float, *holes: Contour) -> Region:
    return Region(outer=Contour.rectangle(x, y, w, h), holes=holes)


def disc(x: float, y: float, r: float) -> Region:
    return Region(outer=Contour.circle(x, y, r))


SQUARE = rect(0, 0, 10, 10)
LENS = 2 * 9 * math.acos(0.5) - 1.5 * math.sqrt(27)  # two circles of radius 3, 3 apart


def areas(regions: tuple[Region, ...]) -> list[float]:
    return [r.area_mm2 for r in regions]


def edges(regions: tuple[Region, ...]) -> list[list[int]]:
    return [[len(loop.vertices) for loop in r.loops()] for r in regions]


@pytest.mark.parametrize(
    ("parts", "area", "loops"),
    [
        pytest.param([SQUARE, rect(10, 0, 10, 10)], [200], [[4]], id="abut along an edge"),
        pytest.param([SQUARE, rect(10, 2, 10, 5)], [150], [[8]], id="abut along part of an edge"),
        pytest.param([SQUARE, rect(10, 10, 9, 9)], [100, 81], [[4], [4]], id="touch in a corner"),
        pytest.param([SQUARE, rect(20, 0, 9, 9)], [100, 81], [[4], [4]], id="apart"),
        pytest.param([SQUARE, SQUARE], [100], [[4]], id="the same twice"),
        pytest.param([SQUARE, rect(2, 2, 3, 3)], [100], [[4]], id="one within the other"),
        pytest.param([SQUARE, rect(2, 0, 3, 3)], [100], [[4]], id="within, edges running over"),
        pytest.param(
            [SQUARE, disc(10, 5, 3)], [100 + 4.5 * PI], [[6]], id="half a disc on an edge"
        ),
        pytest.param(
            [SQUARE, disc(13, 5, 3)], [100, 9 * PI], [[4], [2]], id="disc touches an edge"
        ),
        pytest.param([SQUARE, disc(7, 5, 3)], [100], [[4]], id="disc touches from within"),
        pytest.param([SQUARE, disc(5, 5, 5)], [100], [[4]], id="inscribed disc"),
        pytest.param(
            [disc(0, 0, 3), disc(6, 0, 3)], [9 * PI, 9 * PI], [[2], [2]], id="discs touch"
        ),
        pytest.param([disc(0, 0, 3), disc(3, 0, 3)], [18 * PI - LENS], [[2]], id="discs overlap"),
        pytest.param([disc(0, 0, 3), disc(0, 0, 3)], [9 * PI], [[2]], id="the same disc"),
        pytest.param([disc(0, 0, 3), disc(1, 0, 2)], [9 * PI], [[2]], id="disc in disc, touching"),
        pytest.param(
            [rect(0, 0, 30, 4), rect(0, 26, 30, 4), rect(0, 0, 4, 30), rect(26, 0, 4, 30)],
            [900 - 22 * 22],
            [[4, 4]],
            id="frame of four",
        ),
        pytest.param(
            [rect(0, 0, 10, 10, Contour.rectangle(3, 3, 4, 4)), rect(3, 3, 4, 4)],
            [100],
            [[4]],
            id="a plug fills its hole",
        ),
        pytest.param([SQUARE], [100], [[4]], id="one"),
        pytest.param([], [], [], id="none"),
    ],
)
def test_union(parts, area, loops) -> None:
    got = union(parts)
    assert areas(got) == pytest.approx(area, rel=1e-12)
    assert edges(got) == loops


@pytest.mark.parametrize(
    ("a", "b", "area", "loops"),
    [
        pytest.param(SQUARE, [SQUARE], [], [], id="itself"),
        pytest.param(SQUARE, [], [100], [[4]], id="nothing"),
        pytest.param(SQUARE, [rect(20, 0, 1, 1)], [100], [[4]], id="what it does not meet"),
        pytest.param(SQUARE, [rect(10, 0, 5, 10)], [100], [[4]], id="what abuts"),
        pytest.param(SQUARE, [rect(0, 0, 5, 10)], [50], [[4]], id="half"),
        pytest.param(
            SQUARE, [rect(-1, 4, 12, 2)], [40, 40], [[4], [4]], id="a band cuts it in two"
        ),
        pytest.param(SQUARE, [disc(5, 5, 2)], [100 - 4 * PI], [[4, 2]], id="a bore"),
        pytest.param(SQUARE, [disc(5, 5, 5)], [25 - 6.25 * PI] * 4, [[3]] * 4, id="inscribed disc"),
        pytest.param(
            SQUARE, [disc(2, 5, 2)], [100 - 4 * PI], [[4, 2]], id="a bore touches the edge"
        ),
        pytest.param(SQUARE, [disc(0, 0, 4)], [100 - 4 * PI], [[5]], id="a corner relief"),
        pytest.param(
            *(SQUARE, [disc(3, 5, 1), disc(7, 5, 1), rect(3, 4, 4, 2)], [100 - 8 - PI], [[4, 4]]),
            id="a slot from two bores and a bar",
        ),
        pytest.param(disc(0, 0, 3), [disc(1, 0, 2)], [5 * PI], [[2, 2]], id="crescent, touching"),
        pytest.param(disc(0, 0, 3), [disc(0, 0, 2)], [5 * PI], [[2, 2]], id="ring"),
    ],
)
def test_difference(a, b, area, loops) -> None:
    got = difference(a, b)
    assert areas(got) == pytest.approx(area, rel=1e-12)
    assert edges(got) == loops


@pytest.mark.parametrize(
    ("a", "b", "area", "loops"),
    [
        pytest.param(SQUARE, SQUARE, [100], [[4]], id="itself"),
        pytest.param(SQUARE, rect(10, 0, 5, 10), [], [], id="what abuts"),
        pytest.param(SQUARE, rect(20, 0, 5, 10), [], [], id="what lies apart"),
        pytest.param(SQUARE, rect(5, -5, 20, 20), [50], [[4]], id="half"),
        pytest.param(SQUARE, disc(5, 5, 5), [25 * PI], [[2]], id="inscribed disc"),
        pytest.param(disc(0, 0, 3), disc(3, 0, 3), [LENS], [[2]], id="lens"),
        pytest.param(disc(0, 0, 3), disc(6, 0, 3), [], [], id="discs that touch"),
        pytest.param(
            *(rect(0, 0, 10, 10, Contour.circle(5, 5, 2)), rect(0, 0, 5, 10), [50 - 2 * PI], [[6]]),
            id="half a bore",
        ),
    ],
)
def test_intersection(a, b, area, loops) -> None:
    for got in (intersection(a, b), intersection(b, a)):
        assert areas(got) == pytest.approx(area, rel=1e-12)
        assert edges(got) == loops


def test_arcs_keep_their_centre_and_radius() -> None:
    (only,) = difference(SQUARE, [disc(10, 5, 3)])
    arcs = [e for e in only.outer.edges() if not e.is_line]
    assert len(arcs) == 1
    assert arcs[0].centre == pytest.approx((10, 5), abs=1e-12)
    assert arcs[0].radius_mm == pytest.approx(3, abs=1e-12)


def partner(seed: int, a: Region) -> Region:
    """A second region that shares edges, corners or tangents with the first."""
    kind = seed % 5
    if kind == 0:
        return region(seed + 1)
    if kind == 1:
        return a.transformed(Transform.rotation(PI / 2))
    if kind == 2:
        return a.transformed(Transform.mirror_x())
    if kind == 3:
        corner = a.outer.vertices[0]
        return rect(corner.x, corner.y, 3 * RADII[seed % 9], 3 * RADII[seed % 7])
    edge = a.outer.edge(seed)
    at, normal, r = edge.point_at(0.5), edge.normal_at(0.5), RADII[seed % 8]
    side = r if seed % 2 else -r
    return disc(at.x + side * normal.x, at.y + side * normal.y, r)


@pytest.mark.parametrize("first", range(0, 150, 30))
def test_inclusion_and_exclusion_on_random_regions(first) -> None:
    """|A ∪ B| = |A| + |B| − |A ∩ B| and |A − B| = |A| − |A ∩ B|."""
    for seed in range(first, first + 30):
        a = region(seed)
        b = partner(seed, a)
        both = sum(areas(intersection(a, b)))
        assert sum(areas(union([a, b]))) == pytest.approx(a.area_mm2 + b.area_mm2 - both, abs=1e-7)
        assert sum(areas(difference(a, [b]))) == pytest.approx(a.area_mm2 - both, abs=1e-7)
        assert sum(areas(difference(b, [a]))) == pytest.approx(b.area_mm2 - both, abs=1e-7)


def test_many_at_once() -> None:
    """A plate with a hundred bores comes out of one difference, and back out of one union."""
    plate = rect(0, 0, 110, 110)
    bores = [disc(10 * i + 10, 10 * j + 10, 3) for i in range(10) for j in range(10)]
    (drilled,) = difference(plate, bores)
    assert len(drilled.holes) == 100
    assert drilled.area_mm2 == pytest.approx(110 * 110 - 900 * PI, rel=1e-12)
    (whole,) = union([drilled, *bores])
    assert whole.area_mm2 == pytest.approx(110 * 110, rel=1e-12)
    assert not whole.holes


def test_an_outline_that_crosses_itself_is_named_with_its_place() -> None:
    crossed = Region(outer=Contour.of(((0, 0), (10, 10), (10, 0), (0, 5))))
    with pytest.raises(GeometryError, match=r"crosses or touches itself at \(3\.33333, 3\.33333\)"):
        union([crossed, rect(3, 0, 10, 2)])


def test_unproven_is_a_geometry_error() -> None:
    assert issubclass(BooleanUnproven, GeometryError)
