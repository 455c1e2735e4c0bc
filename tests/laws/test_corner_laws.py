"""Laws of cracks: a harder push, a sharper corner or a thinner sheet never helps."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from jigs.holding.corners import cracks, fillet_factor, inside_corners
from jigs.holding.strength import Body, Rest
from kerf.contour import Contour, Point, Region, Transform, Vector
from kerf.materials import ACRYLIC
from kerf.shapes import ell


def body(region: Region, *, thick: float = 5.0, corner: float = 0.1) -> Body:
    return Body(region=region, thickness_mm=thick, touched_mm=5, material=ACRYLIC, corner_mm=corner)


def push(x: float, y: float, normal: Vector) -> Rest:
    return Rest(name="A", at=Point(x, y), normal=normal, part_radius_mm=0, pad_mm=6, step_mm=0)


def test_random_angles_keep_the_laws():
    """Stress goes as push over sheet, and never falls with a sharper corner. Source: statics."""
    random = np.random.default_rng(7)
    for _ in range(300):
        leg = random.uniform(8, 25)
        shape = ell(width_mm=leg + random.uniform(30, 90), height_mm=leg + 60, leg_mm=leg)
        at = leg + random.uniform(5, 55)
        rests = (push(leg, at, Vector(1.0, 0.0)),)
        force, more = random.uniform(5, 200), random.uniform(1, 4)
        (a,) = cracks(body(shape), rests, push_n=force)
        (b,) = cracks(body(shape), rests, push_n=force * more)
        assert b.stress_mpa == pytest.approx(a.stress_mpa * more)
        (thin,) = cracks(body(shape, thick=5 / more), rests, push_n=force)
        assert thin.stress_mpa == pytest.approx(a.stress_mpa * more)
        (round_,) = cracks(body(shape, corner=0.1 * more), rests, push_n=force)
        assert round_.stress_mpa <= a.stress_mpa
        # Further up the arm it bends the corner more.
        (far,) = cracks(body(shape), (push(leg, leg + 58, Vector(1.0, 0.0)),), push_n=force)
        assert far.stress_mpa >= a.stress_mpa
        if a.asks_mm:
            assert a.asks_mm > a.radius_mm
        else:
            assert a.asks_mm is None or a.factor >= 2


def test_a_rigid_motion_changes_no_crack():
    """Source: physics does not know the coordinates."""
    shape = ell(width_mm=90, height_mm=70, leg_mm=15)
    (here,) = cracks(body(shape), (push(15.0, 60.0, Vector(1.0, 0.0)),), push_n=40)
    for turn in np.linspace(0.3, 6.0, 12):
        by = Transform.rotation(float(turn)).then(Transform.translation(33.0, -8.0))
        normal = Vector(*by.vector(1.0, 0.0))
        moved = (push(*by.point(15.0, 60.0), normal),)
        (there,) = cracks(body(shape.transformed(by)), moved, push_n=40)
        assert there.stress_mpa == pytest.approx(here.stress_mpa, rel=1e-4)
        assert len(inside_corners(shape.transformed(by))) == 1


def test_a_turned_pocket_cracks_where_it_did():
    """Source: physics does not know the coordinates."""
    shape = Region(
        outer=Contour.rectangle(0, 0, 140, 100),
        holes=(Contour.rectangle(20, 20, 100, 60).reversed(),),
    )
    here = cracks(body(shape), (push(60.0, 20.0, Vector(0.0, 1.0)),), push_n=50)
    assert len(here) == 2
    for turn in np.linspace(0.3, 6.0, 12):
        by = Transform.rotation(float(turn)).then(Transform.translation(33.0, -8.0))
        moved = (push(*by.point(60.0, 20.0), Vector(*by.vector(0.0, 1.0))),)
        there = cracks(body(shape.transformed(by)), moved, push_n=50)
        assert [c.stress_mpa for c in there] == pytest.approx(
            [c.stress_mpa for c in here], rel=1e-4
        )


def test_the_concentration_falls_with_the_radius_and_never_under_one():
    """Source: a smooth bar has 1; a step no higher than its radius barely raises it."""
    found = [fillet_factor(radius_mm=float(r), depth_mm=10) for r in np.geomspace(0.05, 20, 40)]
    assert all(b <= a for a, b in itertools.pairwise(found))
    assert found[-1] == 1.0
    assert math.isfinite(found[0])
    low = [fillet_factor(radius_mm=0.2, depth_mm=10, rise_mm=float(h)) for h in (0.1, 0.5, 2, 9)]
    assert low == sorted(low)
