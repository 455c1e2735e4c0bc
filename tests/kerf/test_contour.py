"""Loops and regions: closed forms, places on the loop, and what must not change anything.

Source of every expected area and length: plane geometry (circle, stadium, segment), worked by
hand beside the case.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerf.contour import Contour, Edge, Point, Region, Transform, Vertex
from kerf.errors import GeometryError

QUARTER = math.tan(math.pi / 8)  # bulge of a quarter turn


def stadium(length: float, radius: float) -> Contour:
    """Return a slot shape: straight sides of a length between two half turns."""
    half = length / 2
    return Contour.of(
        [(-half, -radius), (half, -radius, 1.0), (half, radius), (-half, radius, 1.0)]
    )


#: name → (loop, area, length, bounds)
LOOPS = {
    "rectangle": (Contour.rectangle(-3, 2, 8, 5), 40.0, 26.0, (-3, 2, 5, 7)),
    "circle": (Contour.circle(4, -1, 7), 49 * math.pi, 14 * math.pi, (-3, -8, 11, 6)),
    "stadium": (stadium(20, 6), 240 + 36 * math.pi, 40 + 12 * math.pi, (-16, -6, 16, 6)),
    "half disc": (
        Contour.of([(5, 0, 1), (-5, 0)]),
        12.5 * math.pi,
        10 + 5 * math.pi,
        (-5, 0, 5, 5),
    ),
    "one corner filleted": (
        Contour.of([(0, 0), (10, 0), (10, 8, QUARTER), (8, 10), (0, 10)]),
        100 - (4 - math.pi),
        36 + math.pi,
        (0, 0, 10, 10),
    ),
    "hollow fillet": (
        Contour.of([(0, 0), (10, 0), (10, 8, -QUARTER), (8, 10), (0, 10)]),
        100 - math.pi,
        36 + math.pi,
        (0, 0, 10, 10),
    ),
    # Segment of 90° of r = 10: r² (π/2 − 1)/2; chord 10 √2, arc 5 π; sagitta r (1 − cos 45°).
    "segment": (
        Contour.of([(0, 0), (10 * math.sqrt(2), 0, QUARTER)]),
        50 * (math.pi / 2 - 1),
        10 * math.sqrt(2) + 5 * math.pi,
        (0, 0, 10 * math.sqrt(2), 10 - 5 * math.sqrt(2)),
    ),
    # Three quarters of a disc of r = 4 on a chord of 4 √2.
    "major segment": (
        Contour.of([(0, 0), (4 * math.sqrt(2), 0, math.tan(3 * math.pi / 8))]),
        8 * (3 * math.pi / 2 + 1),
        4 * math.sqrt(2) + 6 * math.pi,
        (2 * math.sqrt(2) - 4, 0, 2 * math.sqrt(2) + 4, 2 * math.sqrt(2) + 4),
    ),
}
EACH = pytest.mark.parametrize(
    ("loop", "area", "length", "bounds"), LOOPS.values(), ids=LOOPS.keys()
)


def forms(loop: Contour) -> list[Contour]:
    """Return the loop reversed, from every start vertex, turned and shifted."""
    vs = loop.vertices
    out = [Contour(vertices=vs[k:] + vs[:k]) for k in range(len(vs))]
    out += [loop.reversed(), loop.reversed().reversed()]
    for angle in (0.3, math.pi / 2, 2.0):
        out.append(loop.transformed(Transform.rotation(angle, about=(3.0, -7.0))))
    out.append(loop.transformed(Transform.translation(1e4, -2e4)))
    out.append(loop.transformed(Transform.mirror_y()))
    return out


@EACH
def test_area_and_length_are_exact_in_every_form(loop, area, length, bounds):
    for form in forms(loop):
        assert form.area_mm2 == pytest.approx(area, rel=1e-11)
        assert form.length_mm == pytest.approx(length, rel=1e-11)


@EACH
def test_bounds_hold_the_extremes_of_arcs(loop, area, length, bounds):
    for start in range(len(loop.vertices)):
        vs = loop.vertices[start:] + loop.vertices[:start]
        assert tuple(Contour(vertices=vs).bounds()) == pytest.approx(bounds, abs=1e-12)
    assert tuple(loop.reversed().bounds()) == pytest.approx(bounds, abs=1e-12)


@EACH
def test_sense_of_turn(loop, area, length, bounds):
    flipped = loop.reversed()
    assert loop.is_ccw != flipped.is_ccw
    assert loop.signed_area_mm2 == pytest.approx(-flipped.signed_area_mm2, rel=1e-14)
    mirrored = loop.transformed(Transform.mirror_x())
    assert mirrored.is_ccw != loop.is_ccw


def test_reversing_keeps_the_first_vertex_and_undoes_itself():
    loop = LOOPS["one corner filleted"][0]
    back = loop.reversed()
    assert back.vertices[0][:2] == loop.vertices[0][:2]
    assert back.reversed() == loop


@EACH
def test_containment_agrees_with_fine_facets(loop, area, length, bounds):
    """Source: shapely on facets of a nanometre, points at least a micrometre off the loop."""
    import shapely

    ring = shapely.Polygon(loop.facets(1e-6))
    rng = np.random.default_rng(5)
    box = loop.bounds()
    x = rng.uniform(box.x_min - 1, box.x_max + 1, 100)
    y = rng.uniform(box.y_min - 1, box.y_max + 1, 100)
    inside = shapely.contains_xy(ring, x, y)
    far = shapely.distance(ring.exterior, shapely.points(x, y)) > 1e-5
    assert far.sum() > 95
    for form in (loop, loop.reversed()):
        ours = np.array([form.contains(a, b) for a, b in zip(x, y, strict=True)])
        assert (ours == inside)[far].all()


@pytest.mark.parametrize("angle", [0.0, math.pi / 2, math.pi, -math.pi / 2, 0.7])
@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 0.8])
def test_points_on_chords_belong_to_the_segment(angle, share):
    """A chord is no edge: a point on it is inside where the arc bulges beyond it."""
    turn = Transform.rotation(angle)
    disc = Contour.circle(0, 0, 5).transformed(turn)
    x, y = turn.point(-5 + 10 * share, 0.0)
    if share:
        assert disc.contains(x, y)
        assert disc.reversed().contains(x, y)
    # A square with one side hollowed by a half turn: the chord of that side lies outside.
    hollow = Contour.of([(-5, 0, -0.5), (5, 0), (5, 10), (-5, 10)])
    bulging = Contour.of([(-5, 0, 0.5), (5, 0), (5, 10), (-5, 10)])
    x, y = turn.point(-4 + 8 * share, 0.0)
    assert not hollow.transformed(turn).contains(x, y)
    assert bulging.transformed(turn).contains(x, y)


def test_a_point_level_with_vertices_is_counted_once():
    star = Contour.of([(0, -5), (2, 0), (0, 5), (-2, 0)])
    assert star.contains(0.0, 0.0)
    assert not star.contains(-3.0, 0.0)
    assert not star.contains(3.0, 0.0)
    assert not star.contains(-3.0, 5.0)
    assert star.winding(0.0, 0.0) == 1
    assert star.reversed().winding(0.0, 0.0) == -1


@EACH
def test_points_and_normals_at_any_length(loop, area, length, bounds):
    total = loop.length_mm
    for form, side in ((loop, 1.0), (loop.reversed(), -1.0)):
        sense = side if loop.is_ccw else -side
        for s in np.linspace(0.013, total * 1.3, 19):
            p, n = form.point_at(float(s)), form.normal_at(float(s))
            assert form.nearest(*p)[2] < 1e-12 * 100
            assert math.hypot(*n) == pytest.approx(1.0, abs=1e-14)
            # The normal is at right angles to the way the loop goes there.
            q = form.point_at(float(s) + 1e-6)
            assert abs((q.x - p.x) * n.x + (q.y - p.y) * n.y) < 1e-6 * 2e-6 or _near_corner(form, s)
            # A hair to the left lies inside a counter-clockwise loop.
            assert form.contains(p.x + 1e-6 * n.x, p.y + 1e-6 * n.y) == (sense > 0)
            assert form.contains(p.x - 1e-6 * n.x, p.y - 1e-6 * n.y) == (sense < 0)


def _near_corner(loop: Contour, s: float) -> bool:
    i, t = loop.locate(s)
    return (1 - t) * loop.edge(i).length_mm < 2e-6


def test_lengths_along_an_edge_are_true():
    loop = LOOPS["major segment"][0]
    p, q = loop.point_at(9.0), loop.point_at(9.0 + 2 * math.pi)
    # A quarter turn of r = 4 apart on the arc: the chord is 4 √2.
    assert math.hypot(q.x - p.x, q.y - p.y) == pytest.approx(4 * math.sqrt(2), rel=1e-13)


@pytest.mark.parametrize(
    ("bulge", "radius", "sweep", "centre"),
    [
        (1.0, 5.0, math.pi, (0.0, 0.0)),
        (-1.0, 5.0, -math.pi, (0.0, 0.0)),
        (QUARTER, 5 * math.sqrt(2), math.pi / 2, (0.0, 5.0)),
        (-QUARTER, 5 * math.sqrt(2), -math.pi / 2, (0.0, -5.0)),
        (0.5, 6.25, 4 * math.atan(0.5), (0.0, 3.75)),
        (2.0, 6.25, 4 * math.atan(2.0), (0.0, -3.75)),
    ],
)
def test_arc_from_bulge(bulge, radius, sweep, centre):
    """Source: DXF reference, LWPOLYLINE group 42; radius c (1 + b²) / (4 |b|)."""
    edge = Edge(start=Point(-5, 0), end=Point(5, 0), bulge=bulge)
    assert edge.radius_mm == pytest.approx(radius, rel=1e-14)
    assert edge.sweep_rad == pytest.approx(sweep, rel=1e-14)
    assert tuple(edge.centre) == pytest.approx(centre, abs=1e-13)
    assert edge.length_mm == pytest.approx(radius * abs(sweep), rel=1e-14)
    # The arc turns left for a positive bulge, so its middle lies right of the chord.
    assert edge.point_at(0.5).y == pytest.approx(-5 * bulge, rel=1e-13)
    for t in (0.0, 0.2, 0.9, 1.0):
        p = edge.point_at(t)
        assert math.hypot(p.x - centre[0], p.y - centre[1]) == pytest.approx(radius, rel=1e-13)
    back = edge.reversed()
    assert back.point_at(0.3) == pytest.approx(edge.point_at(0.7), abs=1e-13)
    assert back.normal_at(0.3) == pytest.approx(tuple(-v for v in edge.normal_at(0.7)), abs=1e-13)


@pytest.mark.parametrize("bulge", [0.0, 1e-11, 1e-7, 0.3, -0.3, 1.0, -2.5])
def test_nearest_point_against_a_dense_search(bulge):
    edge = Edge(start=Point(1, 2), end=Point(8, -3), bulge=bulge)
    t = np.linspace(0, 1, 4001)
    dense = np.array([edge.point_at(float(s)) for s in t])
    rng = np.random.default_rng(11)
    for x, y in rng.uniform(-12, 12, (40, 2)):
        p, d = edge.nearest(float(x), float(y))
        apart = np.hypot(*(dense - (x, y)).T).min()
        assert math.hypot(x - p.x, y - p.y) == pytest.approx(d, abs=1e-12)
        assert d <= apart + 1e-12
        assert apart - d < 2e-2  # half a sample step of the dense points, at worst


def test_a_flat_arc_keeps_its_digits():
    """1 m chord with a sagitta of 1 nm: area 2/3 · chord · sagitta to first order."""
    flat = Contour.of([(0, 0), (1000, 0, 2e-9), (1000, 50), (0, 50)])
    straight = Contour.rectangle(0, 0, 1000, 50)
    assert flat.length_mm == pytest.approx(straight.length_mm, rel=1e-12)
    arc = flat.edge(1)
    assert arc.radius_mm == pytest.approx(50 / (4 * 2e-9), rel=1e-12)
    bulged = Contour.of([(0, 0, 2e-9), (1000, 0), (1000, 50), (0, 50)])
    extra = bulged.area_mm2 - straight.area_mm2
    assert extra == pytest.approx(2 / 3 * 1000 * 1e-6, rel=1e-4)


@pytest.mark.parametrize("error", [0.1, 1e-4])
@EACH
def test_facets_stay_within_the_chord_error(loop, area, length, bounds, error):
    points = loop.facets(error)
    middles = (points + np.roll(points, -1, axis=0)) / 2
    worst = max(loop.nearest(float(x), float(y))[2] for x, y in middles[:: len(middles) // 100 + 1])
    assert worst <= error * (1 + 1e-9)
    for x, y in points[:: len(points) // 50 + 1]:
        assert loop.nearest(float(x), float(y))[2] < 1e-12 * 100
    gaps = [np.hypot(*(points - v[:2]).T).min() for v in loop.vertices]
    assert max(gaps) < 1e-12


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ([(0, 0)], "at least 2 vertices"),
        ([(0, 0), (1, 0)], "two straight edges enclose nothing"),
        ([(0, 0), (1, 0), (1, 0), (0, 1)], "no length"),
        ([(0, 0), (math.nan, 0), (1, 1)], "not a finite number"),
        ([(0, 0), (math.inf, 0), (1, 1)], "not a finite number"),
    ],
)
def test_impossible_loops_are_refused(rows, says):
    with pytest.raises(GeometryError, match=says):
        Contour.of(rows)


def test_a_circle_needs_a_radius():
    for radius in (0.0, -1.0, math.nan):
        with pytest.raises(GeometryError, match="radius above zero"):
            Contour.circle(0, 0, radius)


def test_a_straight_edge_has_no_centre():
    with pytest.raises(GeometryError, match="no centre"):
        _ = Edge(start=Point(0, 0), end=Point(1, 0)).centre


def test_a_stretch_that_is_not_uniform_is_refused_for_arcs_only():
    squash = Transform(a=2.0, e=1.0)
    assert Contour.rectangle(0, 0, 3, 4).transformed(squash).area_mm2 == pytest.approx(24.0)
    with pytest.raises(GeometryError, match="uniform"):
        Contour.circle(0, 0, 1).transformed(squash)


def test_transforms():
    turn = Transform.rotation(math.pi / 2, about=(1.0, 1.0))
    assert turn.point(3.0, 1.0) == (1.0, 3.0)
    four = turn.then(turn).then(turn).then(turn)
    loop = LOOPS["one corner filleted"][0]
    assert loop.transformed(four) == loop
    shift = Transform.translation(5, -2)
    assert shift.then(turn).point(0, 0) == turn.point(5, -2)
    odd = (
        Transform.rotation(0.4, about=(2, 3))
        .then(Transform.scaling(1.7))
        .then(Transform.mirror_x())
    )
    assert odd.determinant == pytest.approx(-(1.7**2))
    assert odd.is_similarity
    assert odd.then(odd.inverse()).point(12.0, -5.0) == pytest.approx((12.0, -5.0), abs=1e-12)
    assert odd.vector(1.0, 0.0) == pytest.approx(
        tuple(np.subtract(odd.point(1, 0), odd.point(0, 0))), abs=1e-12
    )
    assert odd.rows() == ((odd.a, odd.b, odd.c), (odd.d, odd.e, odd.f))
    with pytest.raises(GeometryError, match="cannot be undone"):
        Transform(a=0.0, e=0.0).inverse()


def test_scaling_scales_area_by_its_square():
    loop = LOOPS["stadium"][0]
    assert loop.transformed(Transform.scaling(25.4)).area_mm2 == pytest.approx(
        loop.area_mm2 * 25.4**2, rel=1e-12
    )


class TestRegion:
    plate = Region(
        outer=Contour.rectangle(0, 0, 100, 60).reversed(),
        holes=(
            Contour.circle(20, 30, 5),
            stadium(20, 6).transformed(Transform.translation(70, 30)),
        ),
    )

    def test_material_lies_left_of_travel(self):
        assert self.plate.outer.is_ccw
        assert not any(hole.is_ccw for hole in self.plate.holes)

    def test_area_and_length(self):
        assert self.plate.area_mm2 == pytest.approx(6000 - 25 * math.pi - 240 - 36 * math.pi)
        assert self.plate.length_mm == pytest.approx(320 + 10 * math.pi + 40 + 12 * math.pi)

    @pytest.mark.parametrize(
        ("x", "y", "distance"),
        [(20, 30, 5.0), (1, 30, -1.0), (-3, 30, 3.0), (26, 30, -1.0), (70, 30, 6.0), (-3, -4, 5.0)],
    )
    def test_signed_distance(self, x, y, distance):
        assert self.plate.distance_mm(x, y) == pytest.approx(distance, abs=1e-12)
        assert self.plate.contains(x, y) == (distance < 0)

    def test_a_mirror_keeps_material_left(self):
        flipped = self.plate.transformed(Transform.mirror_x())
        assert flipped.outer.is_ccw
        assert flipped.area_mm2 == pytest.approx(self.plate.area_mm2, rel=1e-14)
        back = flipped.transformed(Transform.mirror_x())
        assert back.area_mm2 == pytest.approx(self.plate.area_mm2, rel=1e-14)
        assert tuple(back.bounds()) == tuple(self.plate.bounds())


def test_a_vertex_is_a_row():
    assert Vertex(1.0, 2.0) == (1.0, 2.0, 0.0)
