"""The room of a part in a pocket, by hand and by trying shifts one by one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerf.contour import Contour, Region, Transform
from kerf.erosion import erosion
from kerf.offset import offset

ELL = Contour.of([(0, 0), (40, 0), (40, 15), (15, 15), (15, 40), (0, 40)])
Q = math.tan(math.pi / 8)
FILLETED = Contour.of(
    [(5, 0), (35, 0, Q), (40, 5), (40, 25, Q), (35, 30), (5, 30, Q), (0, 25), (0, 5, Q)]
)
HOOK = Contour.of(
    [(0, 0), (40, 0), (40, 30, 0.3), (10, 30), (10, 20), (30, 20, -0.4), (30, 10), (0, 10)]
)


def box(x: float, y: float, w: float, h: float) -> Region:
    return Region(outer=Contour.rectangle(x, y, w, h))


def disc(x: float, y: float, r: float) -> Region:
    return Region(outer=Contour.circle(x, y, r))


def test_box_in_box():
    (room,) = erosion(box(0, 0, 100, 60), box(10, 10, 30, 20))
    assert tuple(room.bounds()) == pytest.approx((-10, -10, 60, 30), abs=1e-12)
    assert room.area_mm2 == pytest.approx(70 * 40, rel=1e-14)


def test_disc_in_disc():
    (room,) = erosion(disc(3, 2, 10), disc(5, 5, 4))
    assert room.area_mm2 == pytest.approx(36 * math.pi, rel=1e-13)
    assert tuple(room.bounds().centre) == pytest.approx((-2, -3), abs=1e-12)
    assert len(room.outer.vertices) == 2


def test_disc_in_box_with_a_boss():
    pocket = Region(outer=Contour.rectangle(0, 0, 100, 60), holes=(Contour.circle(50, 30, 8),))
    (room,) = erosion(pocket, disc(20, 20, 5))
    assert room.area_mm2 == pytest.approx(90 * 50 - math.pi * 13**2, rel=1e-13)
    assert len(room.holes) == 1
    assert room.holes[0].edge(0).radius_mm == pytest.approx(13, rel=1e-12)


def test_box_in_disc_is_four_arcs():
    """Each corner of a 6 × 4 box keeps inside r = 10: four arcs of r = 10 about its opposite."""
    (room,) = erosion(disc(0, 0, 10), box(-3, -2, 6, 4))
    assert len(room.outer.vertices) == 4
    assert room.bounds().x_max == pytest.approx(math.sqrt(96) - 3, rel=1e-12)
    assert room.bounds().y_max == pytest.approx(math.sqrt(91) - 2, rel=1e-12)
    assert all(e.radius_mm == pytest.approx(10, rel=1e-12) for e in room.outer.edges())


def test_a_ring_may_go_round_the_post_or_beside_it():
    pocket = Region(outer=Contour.circle(0, 0, 30), holes=(Contour.circle(0, 0, 3),))
    ring = Region(outer=Contour.circle(0, 0, 10), holes=(Contour.circle(0, 0, 8),))
    beside, around = erosion(pocket, ring)
    assert beside.area_mm2 == pytest.approx(math.pi * (20**2 - 13**2), rel=1e-12)
    assert around.area_mm2 == pytest.approx(math.pi * (8 - 3) ** 2, rel=1e-12)


@pytest.mark.parametrize("loop", [ELL, FILLETED, HOOK], ids=["ell", "filleted", "hook"])
@pytest.mark.parametrize("clearance", [0.05, 0.3, 2.0])
def test_a_part_in_its_own_outline_grown_by_a_clearance(loop, clearance):
    """Grown by a disc, eroded by itself: shifts in that disc always fit, and here no others."""
    part = Region(outer=loop)
    (pocket,) = offset(part, clearance).regions
    (room,) = erosion(pocket, part)
    assert room.area_mm2 == pytest.approx(math.pi * clearance**2, rel=1e-9)
    assert tuple(room.bounds()) == pytest.approx((-clearance,) * 2 + (clearance,) * 2, abs=1e-8)
    far = Transform.rotation(0.4).then(Transform.translation(700, -300))
    (moved,) = erosion(pocket.transformed(far), part.transformed(far))
    assert moved.area_mm2 == pytest.approx(math.pi * clearance**2, rel=1e-8)


def test_ell_with_clearance_all_round():
    grown = Contour.of(
        [(-0.2, -0.2), (40.2, -0.2), (40.2, 15.2), (15.2, 15.2), (15.2, 40.2), (-0.2, 40.2)]
    )
    (room,) = erosion(Region(outer=grown), Region(outer=ELL))
    assert room.area_mm2 == pytest.approx(0.16, rel=1e-12)


def test_no_play_or_no_room_is_empty():
    assert erosion(Region(outer=ELL), Region(outer=ELL)) == ()
    assert erosion(disc(0, 0, 4), disc(0, 0, 4)) == ()
    assert erosion(box(0, 0, 10, 10), box(0, 0, 11, 2)) == ()
    assert erosion(box(0, 0, 10, 10), box(0, 0, 10, 2)) == ()


def test_two_rooms_on_either_side_of_a_neck():
    """A dumb-bell pocket and a disc too wide for its neck: two separate places."""
    pocket = Contour.of(
        [
            (0, 0),
            (20, 0),
            (20, 7),
            (40, 7),
            (40, 0),
            (60, 0),
            (60, 20),
            (40, 20),
            (40, 13),
            (20, 13),
            (20, 20),
            (0, 20),
        ]
    )
    rooms = erosion(Region(outer=pocket), disc(0, 0, 5))
    assert len(rooms) == 2
    assert all(r.area_mm2 == pytest.approx(rooms[0].area_mm2, rel=1e-9) for r in rooms)
    (joined,) = erosion(Region(outer=pocket), disc(0, 0, 2))
    assert joined.area_mm2 > sum(r.area_mm2 for r in rooms)


def star(rng, count: int, low: float, high: float) -> Region | None:
    import shapely

    angle = np.sort(rng.uniform(0, 2 * np.pi, count))
    radius = rng.uniform(low, high, count)
    bulge = rng.uniform(-0.3, 0.3, count)
    loop = Contour.of(zip(radius * np.cos(angle), radius * np.sin(angle), bulge, strict=True))
    return Region(outer=loop) if shapely.Polygon(loop.facets(1e-5)).is_valid else None


@pytest.mark.parametrize("seed", range(24))
def test_shifts_tried_one_by_one(seed):
    """Source: shapely.contains on facets of 0.1 µm; shifts within 1 µm of the border left out."""
    import shapely
    import shapely.affinity

    rng = np.random.default_rng(1000 + seed)
    pocket = part = None
    while pocket is None or part is None:
        pocket = star(rng, int(rng.integers(5, 14)), 25, 50)
        part = star(rng, int(rng.integers(4, 9)), 4, 18)
    rooms = erosion(pocket, part)
    big = shapely.Polygon(pocket.outer.facets(1e-4))
    small = shapely.Polygon(part.outer.facets(1e-4))
    box = pocket.bounds()
    tried = rng.uniform((box.x_min, box.y_min), (box.x_max, box.y_max), (150, 2))
    if rooms:
        at = rooms[0].bounds()
        tried = np.vstack((tried, rng.uniform((at.x_min, at.y_min), (at.x_max, at.y_max), (50, 2))))
    wrong = 0
    for x, y in tried.tolist():
        fits = big.contains(shapely.affinity.translate(small, x, y))
        near = min((abs(r.distance_mm(x, y)) for r in rooms), default=1.0)
        inside = any(r.contains(x, y) for r in rooms)
        wrong += near > 1e-3 and fits != inside
    assert wrong == 0
