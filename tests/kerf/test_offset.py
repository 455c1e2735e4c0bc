"""Offsets against closed forms, and everything that must not change them.

Source: area of a body offset by d, A + P d + π d² for a convex one (Steiner's formula, any text
on convex geometry); areas of circles, slots, segments and lenses by elementary geometry.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest
from filleted import filleted, stands_at

from kerf.contour import Contour, Region, Transform
from kerf.errors import GeometryError
from kerf.offset import Joint, Offset, OffsetOutcome, OffsetUnproven, offset

PI = math.pi
WHOLE, CHANGED = OffsetOutcome.WHOLE, OffsetOutcome.HOLES_CHANGED
SPLIT, VANISHED = OffsetOutcome.SPLIT, OffsetOutcome.VANISHED


def poly(*rows: tuple[float, ...]) -> Region:
    return Region(outer=Contour.of(rows))


def slot(x: float, y: float, length: float, r: float) -> Contour:
    return Contour.of(((x, y - r), (x + length, y - r, 1), (x + length, y + r), (x, y + r, 1)))


def box(w: float, h: float, *holes: Contour) -> Region:
    return Region(outer=Contour.rectangle(-w / 2, -h / 2, w, h), holes=holes)


def steiner(area: float, length: float, d: float) -> float:
    return area + length * d + PI * d * d


def lens(r: float, s: float, apart: float) -> float:
    """Area common to circles of radii r and s whose centres stand apart."""
    x = (apart * apart + r * r - s * s) / (2 * apart)
    y = apart - x
    root = math.sqrt(r * r - x * x)
    return r * r * math.acos(x / r) + s * s * math.acos(y / s) - apart * root


RING = Region(outer=Contour.circle(0, 0, 10), holes=(Contour.circle(0, 0, 6),))
OFF_CENTRE = Region(outer=Contour.circle(0, 0, 10), holes=(Contour.circle(2, 0, 6),))
DISC = Region(outer=Contour.circle(0, 0, 10))
SLOT = box(100, 100, slot(-15, 0, 30, 6))
HOLE = box(100, 100, Contour.circle(30, 30, 8))
TWO_HOLES = box(40, 20, Contour.circle(-5, 0, 4), Contour.circle(5, 0, 4))
DUMBBELL = poly(
    *((-20, -10), (-5, -10), (-5, -2), (5, -2), (5, -10), (20, -10)),
    *((20, 10), (5, 10), (5, 2), (-5, 2), (-5, 10), (-20, 10)),
)
ROUNDED = Region(outer=filleted([0j, 20 + 0j, 20 + 10j, 10j], [2.0, 2.0, 2.0, 2.0]))
L_SHAPE = poly((0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20))
INNER = Region(
    outer=filleted([0j, 20 + 0j, 20 + 10j, 10 + 10j, 10 + 20j, 20j], [0, 0, 0, 3.0, 0, 0])
)
U_OPEN = poly((0, 0), (30, 0), (30, 20), (18, 20), (18, 8), (12, 8), (12, 20), (0, 20))
COLLINEAR = poly((0, 0), (3, 0), (5, 0), (10, 0), (10, 10), (5, 10), (0, 10), (0, 1))
LENS = poly((0, 0, 0.3), (10, 0, 0.3))  # radius 109/12, centres 91/6 apart
HALF_DISC = poly((-5, 0), (5, 0, 1))
FLAT_ARC = poly((0, 0, 1e-9), (10, 0), (10, 10), (0, 10))  # radius 2500 km


@dataclass(frozen=True, kw_only=True)
class Case:
    """A region, a distance, and what must come out: net area, and edges of each loop."""

    name: str
    region: Region
    d: float
    area: float
    edges: tuple[int, ...]
    outcome: OffsetOutcome = WHOLE


def gone(name: str, region: Region, d: float) -> Case:
    return Case(name=name, region=region, d=d, area=0.0, edges=(), outcome=VANISHED)


CASES = (
    Case(name="rectangle out", region=box(20, 10), d=2, area=332.566370614359, edges=(8,)),
    Case(name="rectangle in", region=box(20, 10), d=-2, area=96, edges=(4,)),
    gone("rectangle to its middle", box(20, 10), -5),
    gone("rectangle past its middle", box(20, 10), -6),
    Case(name="circle out", region=DISC, d=1, area=121 * PI, edges=(2,)),
    Case(name="circle in", region=DISC, d=-9.99, area=1e-4 * PI, edges=(2,)),
    gone("circle to its centre", DISC, -10),
    gone("circle to a film about its centre", DISC, -10 + 1e-7),
    Case(name="ring in", region=RING, d=-1, area=(81 - 49) * PI, edges=(2, 2)),
    gone("ring to its middle", RING, -2),
    Case(name="hole closes in ring", region=RING, d=6, area=256 * PI, edges=(2,), outcome=CHANGED),
    Case(name="hole touches rim", region=OFF_CENTRE, d=-1, area=(81 - 49) * PI, edges=(2, 2)),
    Case(
        name="hole breaks the rim",
        region=OFF_CENTRE,
        d=-2.9,
        area=7.1**2 * PI - lens(7.1, 8.9, 2),
        edges=(2,),
        outcome=CHANGED,
    ),
    Case(
        name="slot all but closes",
        region=SLOT,
        d=5.9,
        area=steiner(1e4, 400, 5.9) - (30 * 0.2 + 0.01 * PI),
        edges=(4, 8),
    ),
    *(
        Case(
            name=f"slot of radius 6 by {d!r}",
            region=SLOT,
            d=d,
            area=steiner(1e4, 400, d),
            edges=(8,),
            outcome=CHANGED,
        )
        for d in (6.0, 6 - 1e-11, 6 - 1e-9, 6 - 1e-7, 6 + 1e-7, 7.0)
    ),
    Case(
        name="hole of radius 8 by 8",
        region=HOLE,
        d=8,
        area=steiner(1e4, 400, 8),
        edges=(8,),
        outcome=CHANGED,
    ),
    Case(name="holes touch", region=TWO_HOLES, d=-1, area=38 * 18 - 50 * PI, edges=(2, 2, 4)),
    Case(
        name="holes merge",
        region=TWO_HOLES,
        d=-1.5,
        area=37 * 17 - 2 * 5.5**2 * PI + lens(5.5, 5.5, 10),
        edges=(2, 4),
        outcome=CHANGED,
    ),
    Case(
        name="neck closes exactly",
        region=DUMBBELL,
        d=-2,
        area=2 * (11 * 16 + 8 - 2 * PI),
        edges=(7, 7),
        outcome=SPLIT,
    ),
    Case(
        name="neck closes",
        region=DUMBBELL,
        d=-2.5,
        area=2 * (150 + 2 * (5 - 1.5 - 3.125 * math.asin(0.8))),
        edges=(7, 7),
        outcome=SPLIT,
    ),
    Case(
        name="gap closes exactly",
        region=U_OPEN,
        d=3,
        area=900 + 9 * PI - (18 - 4.5 * PI),
        edges=(11,),
    ),
    Case(name="fillets to points", region=ROUNDED, d=-2, area=96, edges=(4,)),
    Case(
        name="fillets out",
        region=ROUNDED,
        d=3,
        area=steiner(200 - 4 * (4 - PI), 44 + 4 * PI, 3),
        edges=(8,),
    ),
    Case(
        name="hollow fillet to a point",
        region=INNER,
        d=3,
        area=steiner(300 + 9 * (1 - PI / 4), 74 + 1.5 * PI, 3),
        edges=(11,),
    ),
    Case(name="collinear run", region=COLLINEAR, d=1, area=140 + PI, edges=(8,)),
    Case(name="collinear run in", region=COLLINEAR, d=-1, area=64, edges=(4,)),
    Case(
        name="two arcs in",
        region=LENS,
        d=-1,
        area=lens(97 / 12, 97 / 12, 91 / 6),
        edges=(2,),
    ),
    gone("two arcs to their middle", LENS, -1.5),
    Case(
        name="line and arc out",
        region=HALF_DISC,
        d=1,
        area=steiner(12.5 * PI, 10 + 5 * PI, 1),
        edges=(4,),
    ),
    gone("line and arc to their middle", HALF_DISC, -2.5),
    Case(name="arc of 2500 km radius", region=FLAT_ARC, d=1, area=140 + PI, edges=(8,)),
    Case(name="far out", region=box(20, 10), d=1e5, area=steiner(200, 60, 1e5), edges=(8,)),
    Case(name="hardly at all", region=box(20, 10), d=1e-7, area=200 + 60e-7, edges=(8,)),
)


def net_area(result: Offset) -> float:
    return sum(region.area_mm2 for region in result.regions)


def edge_counts(result: Offset) -> tuple[int, ...]:
    return tuple(sorted(len(loop.vertices) for r in result.regions for loop in r.loops()))


def with_other_starts(region: Region) -> Region:
    """The same loops, each from a later vertex and given in the other sense of turn."""
    loops = [Contour(vertices=c.vertices[1:] + c.vertices[:1]).reversed() for c in region.loops()]
    return Region(outer=loops[0], holes=tuple(loops[1:]))


POSES = {
    "as drawn": lambda r: r,
    "other start and sense": with_other_starts,
    "turned 90°": lambda r: r.transformed(Transform.rotation(PI / 2)),
    "turned 1 rad": lambda r: r.transformed(Transform.rotation(1.0)),
    "mirrored": lambda r: r.transformed(Transform.mirror_x()),
    "moved": lambda r: r.transformed(Transform.translation(123.456, -78.9)),
}


@pytest.mark.parametrize("pose", POSES.values(), ids=POSES)
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_closed_form_in_every_pose(case, pose) -> None:
    result = offset(pose(case.region), case.d)
    assert net_area(result) == pytest.approx(case.area, rel=1e-10, abs=1e-7)
    assert edge_counts(result) == case.edges
    assert result.outcome is case.outcome


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_points_of_the_result_lie_at_the_distance(case) -> None:
    """Deviation at most 1e-9 mm per 100 mm of size, by another path than the proof's own."""
    size = max(case.region.bounds().width, case.region.bounds().height) + abs(case.d)
    for region in offset(case.region, case.d).regions:
        for loop in region.loops():
            for edge in loop.edges():
                for t in (0.0, 0.17, 0.5, 0.83):
                    p = edge.point_at(t)
                    away = case.region.distance_mm(p.x, p.y)
                    assert abs(abs(away) - abs(case.d)) <= 1e-11 * max(size, 100)
                    assert away * case.d > 0


def test_nothing_moves_at_distance_zero() -> None:
    result = offset(TWO_HOLES, 0.0)
    assert result.regions == (TWO_HOLES,)
    assert result.outcome is WHOLE


def test_regions_come_largest_first() -> None:
    uneven = poly(
        *((-9, -10), (-5, -10), (-5, -1), (5, -1), (5, -10), (20, -10)),
        *((20, 10), (5, 10), (5, 1), (-5, 1), (-5, 10), (-9, 10)),
    )
    areas = [region.area_mm2 for region in offset(uneven, -1.2).regions]
    assert len(areas) == 2
    assert areas == sorted(areas, reverse=True)


def test_a_hole_that_splits_changes_the_holes() -> None:
    bone = Contour.of((v.x * 0.5, v.y * 0.5) for v in DUMBBELL.outer.vertices)
    result = offset(box(40, 30, bone), 1.2)
    assert result.outcome is CHANGED
    assert len(result.regions[0].holes) == 2


TRIANGLE = poly((-10, 0), (10, 0), (0, 10 * math.sqrt(3)))
SQUARE = box(10, 10)


@pytest.mark.parametrize(
    ("region", "d", "joint", "limit", "area", "edges"),
    [
        pytest.param(SQUARE, 2, Joint.MITRE, 4, 196, 4, id="square mitred"),
        pytest.param(SQUARE, 2, Joint.BEVEL, 4, 196 - 8, 8, id="square bevelled"),
        pytest.param(SQUARE, -2, Joint.MITRE, 4, 36, 4, id="square in has no joints"),
        pytest.param(L_SHAPE, -1, Joint.MITRE, 4, 224, 6, id="hollow corner mitred"),
        pytest.param(L_SHAPE, -1, Joint.ROUND, 4, 225 - PI / 4, 7, id="hollow corner rounded"),
        pytest.param(L_SHAPE, -1, Joint.BEVEL, 4, 224.5, 7, id="hollow corner bevelled"),
        pytest.param(
            *(TRIANGLE, 1, Joint.MITRE, 2.001),
            100 * math.sqrt(3) * (1 + math.sqrt(3) / 10) ** 2,
            3,
            id="60° tip within a limit of 2",
        ),
        pytest.param(
            *(TRIANGLE, 1, Joint.MITRE, 1.999),
            100 * math.sqrt(3) + 60 + PI,
            6,
            id="60° tip beyond a limit of 2 is rounded",
        ),
        pytest.param(
            *(HALF_DISC, 1, Joint.MITRE, 4),
            12.5 * PI + 10 + 5 * PI + PI / 2 + 2,
            4,
            id="arc mitred",
        ),
        pytest.param(
            box(20, 10, Contour.circle(0, 0, 3)), 1, Joint.MITRE, 4, 264 - 4 * PI, 4, id="hole"
        ),
    ],
)
def test_joints(region, d, joint, limit, area, edges) -> None:
    result = offset(region, d, joint=joint, limit=limit)
    assert net_area(result) == pytest.approx(area, rel=1e-12)
    assert len(result.regions[0].outer.vertices) == edges


@pytest.mark.parametrize("joint", [Joint.MITRE, Joint.BEVEL])
@pytest.mark.parametrize("d", [0.4, -0.4, 1.5, -1.5, 3.0])
def test_joints_agree_with_round_where_nothing_opens(joint, d) -> None:
    """Without an opened corner, and with tangent fillets, every joint gives one result."""
    assert net_area(offset(RING, d, joint=joint)) == pytest.approx(net_area(offset(RING, d)))
    assert net_area(offset(ROUNDED, d, joint=joint)) == pytest.approx(net_area(offset(ROUNDED, d)))


CUSP = -math.tan((PI / 2 - math.atan2(3, 4)) / 4)  # arc about (0, 5) from (4, 2) to (0, 0)
CUSPS = {
    "outward": poly((0, 0), (4, 0), (4, 2, CUSP)),
    "inward": poly(
        *((-5, -5), (9, -5), (9, 0), (4, 0), (0, 0, -CUSP), (4, 2), (9, 2), (9, 9), (-5, 9))
    ),
}


@pytest.mark.parametrize("joint", Joint)
@pytest.mark.parametrize("d", [0.05, 0.3, 1.0, -0.05, -0.3, -1.0])
@pytest.mark.parametrize("pose", [0.0, 0.7, 1.4, 2.1])
@pytest.mark.parametrize("cusp", CUSPS)
def test_cusps(cusp, pose, d, joint) -> None:
    """Where an arc and a line meet in a point of no angle, curvature tells tip from hollow."""
    region = CUSPS[cusp].transformed(Transform.rotation(pose))
    result = offset(region, d, joint=joint)
    assert len(result.regions) == (0 if (cusp, d) == ("outward", -1.0) else 1)
    if joint is Joint.ROUND:
        assert stands_at(region, d, result)


@pytest.mark.parametrize("d", [0.1, 1.0, -1.0])
def test_spikes_and_slits_without_width_are_taken_out(d) -> None:
    clean = poly((0, 0), (10, 0), (10, 10), (0, 10))
    spike = poly((0, 0), (10, 0), (10, 5), (20, 5), (10, 5), (10, 10), (0, 10))
    slit = poly((0, 0), (10, 0), (10, 5), (4, 5), (10, 5), (10, 10), (0, 10))
    for region in (spike, slit):
        assert net_area(offset(region, d)) == pytest.approx(net_area(offset(clean, d)), rel=1e-12)


@pytest.mark.parametrize("size", [1e-4, 1e-7, 1e-9])
@pytest.mark.parametrize("d", [1.0, -1.0])
def test_notches_at_and_below_the_tolerance_do_no_harm(size, d) -> None:
    notched = poly(
        *((0, 0), (5, 0), (5, size), (5 + size, size), (5 + size, 0), (10, 0), (10, 10), (0, 10))
    )
    expected = 140 + PI if d > 0 else 64
    assert net_area(offset(notched, d)) == pytest.approx(expected, abs=10 * size + 1e-9)


def test_a_part_far_from_the_origin_keeps_its_arcs() -> None:
    moved = offset(ROUNDED.transformed(Transform.translation(1e5, -2e5)), -1)
    assert net_area(moved) == pytest.approx(net_area(offset(ROUNDED, -1)), rel=1e-9)
    assert edge_counts(moved) == (8,)


@pytest.mark.parametrize("d", [math.nan, math.inf, -math.inf])
def test_a_distance_that_is_no_number_is_refused(d) -> None:
    with pytest.raises(GeometryError, match="finite"):
        offset(SQUARE, d)


def test_a_mitre_limit_below_one_is_refused() -> None:
    with pytest.raises(GeometryError, match="at least 1"):
        offset(SQUARE, 1, joint=Joint.MITRE, limit=0.5)


@pytest.mark.parametrize("d", [1.0, -0.5])
def test_an_outline_that_crosses_itself_is_named_with_its_place(d) -> None:
    bow_tie = poly((0, 0), (10, 10), (10, 0), (0, 5))
    with pytest.raises(GeometryError, match=r"crosses or touches itself at \(3\.33333, 3\.33333\)"):
        offset(bow_tie, d)


def test_unproven_is_a_geometry_error() -> None:
    assert issubclass(OffsetUnproven, GeometryError)


def test_the_same_input_gives_the_same_output() -> None:
    assert offset(TWO_HOLES, -1.5) == offset(TWO_HOLES, -1.5)
