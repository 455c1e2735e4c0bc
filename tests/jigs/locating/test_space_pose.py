"""The exact pose in space: against plane and line geometry solved apart from it."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import fsolve, minimize_scalar
from scipy.spatial.transform import Rotation

from jigs.locating import space_pose
from jigs.locating.contacts import Contact, ContactKind, Source, support_contact
from jigs.locating.heights import height_errors, lean_frame
from jigs.locating.pose import pose_exact
from jigs.locating.space_pose import space_pose_exact, space_pose_linear
from jigs.part import Critical
from kerf.contour import Point, Vector
from kerf.errors import GeometryError

SUPPORTS = tuple(
    support_contact(name, Point(x, y), on="plate")
    for name, x, y in (("Z1", 10, 10), ("Z2", 90, 10), ("Z3", 50, 50))
)


def side(x, y, angle, kind=ContactKind.WALL, **more):
    return Contact(
        name=f"{x:g},{y:g}",
        at=Point(x, y),
        normal=Vector(math.cos(angle), math.sin(angle)),
        kind=kind,
        on="",
        **more,
    )


UP, RIGHT = math.pi / 2, 0.0
PLAIN = (*SUPPORTS, side(20, 0, UP, z_mm=20), side(80, 0, UP, z_mm=20), side(0, 30, RIGHT, z_mm=20))
CURVED = (
    *SUPPORTS,
    side(20, 0, UP, z_mm=8, radius_mm=25, locator_radius_mm=3),
    side(80, 0, UP, z_mm=12, radius_mm=-30, locator_radius_mm=6),
    side(0, 30, 0.3, z_mm=5, radius_mm=12, locator_radius_mm=math.inf),
)
PINNED = (
    *SUPPORTS,
    side(20, 20, RIGHT, ContactKind.PIN, z_mm=4),
    side(20, 20, UP, ContactKind.PIN, z_mm=4),
    side(80, 40, 2.2, ContactKind.RELIEVED_PIN, z_mm=4),
)
SETS = pytest.mark.parametrize("contacts", [PLAIN, CURVED, PINNED], ids=("plain", "curved", "pins"))


def moves(rng, size):
    return rng.uniform(-size, size, 6)


@SETS
def test_it_meets_the_linear_pose_to_second_order(contacts):
    """Halving every movement quarters what the linear pose leaves out."""
    rng = np.random.default_rng(4)
    at = (70.0, 45.0, 12.0)
    for _ in range(10):
        by = moves(rng, 1.0)
        off = []
        for size in (1.0, 0.5, 0.25):
            exact = space_pose_exact(contacts, size * by).shift_at(at)
            linear = space_pose_linear(contacts, size * by).linear_shift_at(at)
            off.append(math.dist(exact, linear))
        assert off[0] / off[1] == pytest.approx(4, rel=0.2)
        assert off[1] / off[2] == pytest.approx(4, rel=0.1)


@SETS
def test_level_supports_give_the_pose_in_the_plane(contacts):
    """Source: ``pose_exact``, which is checked by itself; all supports rise alike."""
    rng = np.random.default_rng(7)
    for _ in range(10):
        by = moves(rng, 0.5)
        by[:3] = by[0]
        flat = pose_exact(contacts[3:], by[3:])
        found = space_pose_exact(contacts, by)
        assert found.turn_rad == pytest.approx((0, 0, flat.turn_rad), abs=1e-12)
        # Walls see the part by the supports' rise further down: an upright edge is alike there.
        assert found.shift_mm == pytest.approx((flat.x_mm, flat.y_mm, by[0]), abs=1e-10)
        assert found.tilt_rad == pytest.approx(0, abs=1e-12)


def gap_apart(c, by, turn, shift):
    """One gap from points and surfaces placed by scipy's rotation: nothing of the solver's."""
    p = np.array([*c.at, c.z_mm])
    n = np.array([0, 0, 1.0]) if c.kind is ContactKind.SUPPORT else np.array([*c.normal, 0.0])
    centre, axis = turn.apply(p + c.radius_mm * n) + shift, turn.apply([0, 0, 1.0])
    if c.holds_both_ways or math.isinf(c.locator_radius_mm):
        # The points of the leaning cylinder at the contact's height, the furthest against n.
        def far(angle):
            e1 = np.cross(axis, [0.3, 1.0, 0.2])
            e1 /= np.linalg.norm(e1)
            rim = c.radius_mm * (math.cos(angle) * e1 + math.sin(angle) * np.cross(axis, e1))
            s = (c.z_mm - centre[2] - rim[2]) / axis[2]
            return float(n @ (centre + rim + s * axis))

        if c.radius_mm == 0:
            return far(0.0) - float(n @ p) - by
        starts = np.linspace(0, math.tau, 13)
        a = min(starts, key=far)
        best = minimize_scalar(far, bounds=(a - 0.6, a + 0.6), options={"xatol": 1e-10})
        return best.fun - float(n @ p) - by
    tip = p + (by - c.locator_radius_mm) * n
    if c.radius_mm == 0:
        return float(turn.apply(n) @ (centre - tip)) - c.locator_radius_mm
    # Distance from a point to a line, by the foot of the perpendicular.
    foot = minimize_scalar(
        lambda s: float(np.linalg.norm(centre + s * axis - tip)), options={"xtol": 1e-12}
    )
    reach = c.radius_mm + c.locator_radius_mm
    return math.copysign(1, reach) * (foot.fun - abs(reach))


@SETS
def test_every_locator_touches_and_another_solver_agrees(contacts):
    """Source: surfaces placed by scipy's rotations, distances by its minimiser, pose by fsolve."""
    rng = np.random.default_rng(11)
    for _ in range(8):
        by = moves(rng, 1.5)
        found = space_pose_exact(contacts, by)
        turn = Rotation.from_rotvec(found.turn_rad)
        for c, d in zip(contacts, by, strict=True):
            assert gap_apart(c, d, turn, np.array(found.shift_mm)) == pytest.approx(0, abs=1e-8)

        def gaps(v, by=by):
            turn = Rotation.from_rotvec(v[3:] / 50)
            return [gap_apart(c, d, turn, v[:3]) for c, d in zip(contacts, by, strict=True)]

        other = fsolve(gaps, np.zeros(6), xtol=1e-11)
        mine = np.array([*found.shift_mm, *(50 * np.array(found.turn_rad))])
        assert mine == pytest.approx(other, abs=1e-5)
        moved = Rotation.from_rotvec(found.turn_rad).apply([70, 45, 12]) + found.shift_mm
        assert found.shift_at((70, 45, 12)) == pytest.approx(moved - [70, 45, 12], abs=1e-11)


@SETS
def test_every_pass_squares_the_error(contacts, monkeypatch):
    """Newton: from a millimetre to rounding in a few passes, digits doubling."""
    seen = []
    plain = space_pose.space_gaps

    def watched(*args):
        gaps, rows = plain(*args)
        seen.append(float(np.abs(gaps).max()))
        return gaps, rows

    monkeypatch.setattr(space_pose, "space_gaps", watched)
    space_pose_exact(contacts, (1.0, -0.8, 0.6, 1.2, -1.0, 0.7))
    assert len(seen) <= 7
    for before, after in pairwise(seen):
        assert after <= 0.2 * before**2 + 1e-12


def test_tilt_takes_a_tall_part_aside():
    """Source: a plate tipped about two supports by atan(h / 40): its top goes by sin of it.

    The pins hold it at its underside; supports Z1, Z2 at y = 10, Z3 at y = 50.
    """
    pinned = (
        side(20, 10, RIGHT, ContactKind.PIN),
        side(20, 10, UP, ContactKind.PIN),
        side(80, 10, UP, ContactKind.RELIEVED_PIN),
    )
    h, tall = 0.4, 25.0
    found = space_pose_exact((*SUPPORTS, *pinned), (0, 0, h, 0, 0, 0))
    lean = math.atan(h / 40)
    assert found.tilt_rad == pytest.approx(lean, rel=1e-12)
    dx, dy, dz = found.shift_at((20, 10, tall))
    assert (dx, dy, dz) == pytest.approx(
        (0, -tall * math.sin(lean), tall * (math.cos(lean) - 1)), abs=1e-10
    )


def test_movements_too_large_are_refused():
    with pytest.raises(GeometryError, match="no pose of the part touches all six"):
        space_pose_exact(CURVED, (0, 0, 0, 40.0, -50.0, 300.0))


def test_six_are_needed_and_each_in_one_place():
    with pytest.raises(GeometryError, match="exactly six contacts, not 5"):
        space_pose_exact(PLAIN[:5], (0.0,) * 5)
    with pytest.raises(GeometryError, match="leave a motion free"):
        space_pose_exact((*PLAIN[:5], side(50, 0, UP, z_mm=20)), (0.0,) * 6)
    with pytest.raises(GeometryError, match="as many finite movements"):
        space_pose_exact(PLAIN, (0.0,) * 5)
    flat = side(0, 30, RIGHT, z_mm=20, locator_radius_mm=math.inf)
    with pytest.raises(GeometryError, match="no one place"):
        space_pose_exact((*PLAIN[:5], flat), (0.0,) * 6)


@pytest.mark.parametrize("height", [3.0, 25.0])
def test_the_budget_of_unequal_supports_is_the_slope_of_the_exact_pose(height):
    """Each support raised by a micrometre: the top goes aside by the frame source's shift."""
    pinned = (
        side(50, 20, RIGHT, ContactKind.PIN),
        side(50, 20, UP, ContactKind.PIN),
        side(80, 40, UP, ContactKind.RELIEVED_PIN),
    )
    tall = Source(name="stop height", limit_mm=0.005, u_mm=0.003)
    supports = tuple(replace(c, sources=(tall,)) for c in SUPPORTS)
    frame = lean_frame(supports, height_mm=height)
    assert [f.limit for f in frame] == [0.005] * 3
    for i, source in enumerate(frame):
        by = [0.0] * 6
        by[i] = 1e-3
        x, y, _ = space_pose_exact((*supports, *pinned), by).shift_at((50, 20, height))
        assert (x, y) == pytest.approx([1e-3 * v for v in source.moves(Point(50, 20))], abs=1e-6)
    (one,) = height_errors(
        (Critical(name="hole", at=Point(50, 20), tolerance_mm=0.1),),
        supports,
        pinned,
        height_mm=height,
    )
    # Worst of the eight ways the three can be off: no less than two steepest of them alone.
    both = [math.hypot(*f.moves(Point(50, 20))) * f.limit for f in frame]
    assert max(both) < one.aside_mm <= sum(both)
    assert one.worst_mm == pytest.approx(0.005)  # within the supports: no more than theirs
    assert one.amplification == pytest.approx(1.0)
