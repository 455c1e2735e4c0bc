"""Laws of holding: more area holds more, a load further out never holds better, nothing jumps."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from jigs.holding.bond import BondStrength, bond_factors, bond_group, slip_capacity_n
from jigs.holding.clamp import Straps, ViseGrip, strap_factors, vise_factors
from jigs.holding.cut import Bore, Cut, ToolKind
from jigs.holding.cutting import Engagement, milling_forces
from jigs.holding.materials import ALUMINIUM_HARDENED
from jigs.holding.toolpath import tool_path
from kerf.contour import Contour, Point, Region, Transform
from kerf.proof import faceted
from kerf.shapes import ell

STRENGTH = BondStrength(shear_mpa=0.3, pull_mpa=0.2, proven=True, said="")
JOBS = 1000


def jobs():
    """Yield random bonds of one to three patches, each with a random load."""
    random = np.random.default_rng(9)
    for _ in range(JOBS):
        patches = []
        x = 0.0
        for _ in range(int(random.integers(1, 4))):
            width, height, y = random.uniform(5, 60), random.uniform(5, 60), random.uniform(-40, 40)
            patches.append(Region(outer=Contour.rectangle(x, y, width, height)))
            x += width + random.uniform(1, 20)
        load = np.array(
            [*random.uniform(-80, 160, 2), random.uniform(0, 25), *random.normal(0, 150, 3)]
        )
        yield patches, load


def test_a_thousand_random_jobs_keep_the_laws():
    """Doubling the area doubles slip capacity; moving a load outward never raises the factor.

    Doubling by scale √2 about the centroid, load through the centroid. Outward along the ray
    from the centroid. Source: convexity of the elastic field, derived in the module.
    """
    for patches, load in jobs():
        group = bond_group(patches)
        grown = bond_group([p.transformed(Transform.scaling(math.sqrt(2))) for p in patches])
        assert slip_capacity_n(grown, STRENGTH) == pytest.approx(
            2 * slip_capacity_n(group, STRENGTH), rel=1e-9
        )
        cx, cy = group.moments.centroid
        side = [*load[3:5], 0.0]
        through = bond_factors(group, STRENGTH, np.array([[cx, cy, 0.0, *side]]))
        gx, gy = grown.moments.centroid
        twice = bond_factors(grown, STRENGTH, np.array([[gx, gy, 0.0, *side]]))
        assert twice.slip[0] == pytest.approx(2 * through.slip[0], rel=1e-9)

        out = np.linspace(0, 1, 5)[:, None] * (load[:2] - (cx, cy)) + (cx, cy)
        flat = np.column_stack((out, np.zeros(5), np.tile(load[3:], (5, 1))))
        found = bond_factors(group, STRENGTH, flat)
        for factors in (found.slip, found.peel, found.bond):
            least = np.minimum.accumulate(factors)
            assert np.all(factors <= least * (1 + 1e-9))
        # The joint factor is never above either way alone, and a force twice as great halves it.
        assert np.all(found.bond <= np.minimum(found.slip, found.peel) * (1 + 1e-12))
        flat[:, 3:] *= 2
        assert bond_factors(group, STRENGTH, flat).bond == pytest.approx(found.bond / 2)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    turn=st.floats(0, math.tau),
    shift=st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
    fx=st.floats(-200, 200),
    fy=st.floats(-200, 200),
    fz=st.floats(-200, 200),
)
def test_a_rigid_motion_changes_no_factor(turn, shift, fx, fy, fz):
    """Source: physics does not know the coordinates."""
    by = Transform.rotation(turn).then(Transform.translation(*shift))
    shape = ell(width_mm=60, height_mm=45, leg_mm=18)
    at, force = by.point(50.0, 10.0), by.vector(fx, fy)
    here = bond_factors(
        bond_group([shape]), STRENGTH, np.array([[50.0, 10.0, 8.0, fx, fy, fz, 500.0]])
    )
    there = bond_factors(
        bond_group([shape.transformed(by)]),
        STRENGTH,
        np.array([[*at, 8.0, *force, fz, 500.0]]),
    )
    assert there.bond == pytest.approx(here.bond, rel=1e-7)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    force=st.floats(100, 20_000),
    more=st.floats(1.0, 5.0),
    load=st.tuples(*[st.floats(-300, 300)] * 4),
    z=st.floats(0, 40),
)
def test_a_harder_vise_and_harder_straps_hold_in_proportion(force, more, load, z):
    """Source: Coulomb; every factor is a ratio of two forces."""
    rows = np.array([[12.0, 3.0, z, *load]])
    made = [
        ViseGrip(
            force_n=f,
            friction=0.15,
            left_mm=-30,
            right_mm=40,
            fixed_mm=25,
            moving_mm=-25,
            grip_mm=12,
        )
        for f in (force, force * more)
    ]
    a, b = (vise_factors(grip, rows).factor[0] for grip in made)
    assert b == pytest.approx(a * more, rel=1e-9)
    bed = (Point(-30, -25), Point(40, -25), Point(40, 25), Point(-30, 25))
    straps = [
        Straps(at=(Point(-20, 0), Point(30, 5)), force_n=f, friction=0.15, carried=bed)
        for f in (force, force * more)
    ]
    a, b = (strap_factors(s, rows).factor[0] for s in straps)
    assert b == pytest.approx(a * more, rel=1e-9)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    feed=st.floats(0.01, 0.2),
    depth=st.floats(0.1, 10),
    width=st.floats(0.2, 10),
    more=st.floats(1.0, 2.0),
)
def test_a_heavier_cut_never_pushes_less(feed, depth, width, more):
    """Peak and mean grow with depth in proportion, and with feed. Source: Kienzle, m < 1."""
    kw = {"diameter_mm": 10, "teeth": 3, "width_mm": width, "helix_rad": 0.0}
    a = milling_forces(Engagement(feed_mm=feed, depth_mm=depth, **kw), ALUMINIUM_HARDENED)
    b = milling_forces(Engagement(feed_mm=feed, depth_mm=depth * more, **kw), ALUMINIUM_HARDENED)
    c = milling_forces(Engagement(feed_mm=feed * more, depth_mm=depth, **kw), ALUMINIUM_HARDENED)
    assert b.peak_n == pytest.approx(a.peak_n * more, rel=1e-9)
    assert c.peak_n == pytest.approx(a.peak_n * more**0.75, rel=1e-9)


def cut(**keys) -> Cut:
    base = {
        "name": "cut",
        "kind": ToolKind.END_MILL,
        "tool_material": "carbide",
        "diameter_mm": 6.0,
        "teeth": 3,
        "feed_mm": 0.03,
        "depth_mm": 2.0,
        "width_mm": 1.0,
        "speed_rpm": 8000.0,
        "climb": True,
        "helix_rad": 0.5,
        "lead_rad": math.pi / 2,
        "outline": False,
        "bore": None,
        "points": (),
        "low_mm": 0.0,
        "high_mm": 10.0,
        "reach_mm": 0.0,
        "holder_mm": 0.0,
        "relief": True,
        "key_path": "",
    }
    return Cut(**{**base, **keys})


def test_swept_areas_are_shapelys_buffered_paths():
    """120 random paths, drills, bores and outlines. Source: shapely's buffer, 256 facets a turn."""
    random = np.random.default_rng(3)
    for number in range(120):
        part = ell(width_mm=60 + number % 7, height_mm=45, leg_mm=18, radius_mm=4)
        diameter = float(random.uniform(1, 12))
        points = tuple(Point(*map(float, p)) for p in random.uniform(-40, 40, (number % 5 + 2, 2)))
        asked = (
            cut(diameter_mm=diameter, points=points),
            cut(kind=ToolKind.DRILL, diameter_mm=diameter, points=points),
            cut(
                diameter_mm=diameter,
                bore=Bore(at=points[0], diameter_mm=diameter * float(random.uniform(1.1, 4))),
            ),
            cut(diameter_mm=diameter, outline=True),
        )[number % 4]
        pose = Transform.rotation(float(random.uniform(0, 6)))
        path = tool_path(asked, part, pose=pose, height_mm=10, turned_over=False)
        lines = [
            shapely.Point(track[0]) if len(track) == 1 else shapely.LineString(track)
            for track in path.tracks
        ]
        wanted = shapely.union_all([line.buffer(diameter / 2, quad_segs=64) for line in lines])
        ours = shapely.union_all([faceted(region, 1e-3) for region in path.swept])
        length = ours.length + wanted.length
        # Facets: ours 1 µm, the track 2 µm, the buffer 0.5 µm; half of both lengths is the edge.
        assert ours.symmetric_difference(wanted).area <= 0.0035 * length / 2, number


@pytest.mark.parametrize("climb", [True, False])
def test_climb_keeps_the_work_on_the_right_of_the_feed(climb):
    """Round an outline climb milling runs clockwise, in a bore the other way.

    Source: a right-hand cutter in climb milling has the work on its right, any text.
    """
    part = ell(width_mm=60, height_mm=45, leg_mm=18)
    for asked, turn in (
        (cut(outline=True, climb=climb), -1 if climb else 1),
        (cut(bore=Bore(at=Point(0, 0), diameter_mm=20), climb=climb), 1 if climb else -1),
    ):
        path = tool_path(asked, part, pose=Transform(), height_mm=10, turned_over=False)
        assert shapely.LinearRing(path.tracks[0]).is_ccw == (turn > 0)
