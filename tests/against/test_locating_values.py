"""Locating, closure and clamping against published cases and independently computed values.

Sources, by block:

- Poses and errors: the method of Asada & By 1985 (locating matrix), Cai, Hu & Yuan 1997 (linear
  deviation), Wang & Pelinescu 2001 and Carlson 2001 (second order). Only the method was found
  in them, no number to copy; the numbers were computed by hand and by brute force.
- Closure: Lynch & Park, Modern Robotics, example 12.7 (number read there); Cheong et al., the
  equilateral triangle held at its edge middles (read there); Nguyen 1988, two frictional
  contacts (method); the rest computed by hand.
- Clamp: equilibrium of three forces by hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from jigs.locating.candidates import candidates
from jigs.locating.clamping import clamp_reactions
from jigs.locating.closure import Closure, balancing_weights, closure_report, has_force_closure
from jigs.locating.contacts import Contact, ContactKind, Source, support_contact
from jigs.locating.determinacy import plane_determinacy
from jigs.locating.error import critical_errors
from jigs.locating.heights import support_plane, support_weights
from jigs.locating.pose import (
    gaps_mm,
    locating_rows,
    pose_exact,
    pose_linear,
)
from jigs.locating.seating import Push
from jigs.locating.space_pose import space_pose_exact, space_pose_linear, space_rows
from jigs.part import Critical
from kerf.contour import Contour, Point, Region, Vector

FAR, MIDDLE = Point(100, 60), Point(50, 30)


def wall(x: float, y: float, nx: float, ny: float, **more: object) -> Contact:
    """Return a contact at (x, y) with its normal along (nx, ny)."""
    size = math.hypot(nx, ny)
    at, normal = Point(x, y), Vector(nx / size, ny / size)
    return Contact(name=f"{x},{y}", at=at, normal=normal, kind=ContactKind.WALL, on="", **more)  # type: ignore[arg-type]


def turned(x: float, y: float, degrees: float) -> Contact:
    """Return a contact whose normal stands at an angle from x."""
    return wall(x, y, math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))


PLATE = (wall(20, 0, 0, 1), wall(80, 0, 0, 1), wall(0, 30, 1, 0))


# --- poses -----------------------------------------------------------------------------------

POSES = [
    pytest.param(PLATE, (0.1, -0.05, 0.2), 60.0, (0.125, 0.15, -0.0025), id="plate 100 x 60"),
    pytest.param(
        (wall(64, 12, -0.6, -0.8), wall(16, 48, -0.6, -0.8), wall(0, 30, 1, 0)),
        (0.1, 0, 0),
        -48.0,
        (-0.05, 0.2 / 48, -0.08 / 48),
        id="right triangle",
    ),
]


@pytest.mark.parametrize(("contacts", "delta", "det", "pose"), POSES)
def test_linear_pose(contacts, delta, det, pose):
    """Source: method of Asada & By 1985 and Cai, Hu & Yuan 1997; numbers computed by hand."""
    assert np.linalg.det(locating_rows(contacts)) == pytest.approx(det, rel=1e-9)
    q = pose_linear(contacts, delta)
    assert (q.x_mm, q.y_mm, q.turn_rad) == pytest.approx(pose, rel=1e-6)


def test_linear_shift_of_features():
    """Source: as above."""
    q = pose_linear(PLATE, (0.1, -0.05, 0.2))
    assert q.linear_shift_at(FAR) == pytest.approx((0.275, -0.1), rel=1e-9)
    assert q.linear_shift_at(MIDDLE) == pytest.approx((0.2, 0.025), rel=1e-9)


def test_exact_pose():
    """Source: exact intersection of the lines through the displaced locators; method of Carlson
    2001 (no number found there)."""
    q = pose_exact(PLATE, (0.1, -0.05, 0.2))
    assert q.turn_rad == pytest.approx(math.atan(-0.0025), rel=1e-12)
    assert round(q.turn_rad, 8) == -0.00249999
    assert (round(q.x_mm, 6), round(q.y_mm, 6)) == (0.125374, 0.149687)
    dx, dy = q.shift_at(FAR)
    assert (round(dx, 6), round(dy, 6)) == (0.275061, -0.100500)


def test_spread_of_pose_and_feature():
    """Source: JCGM 100:2008, 5.1.2, applied to the plate; numbers by hand."""
    sigma = 0.02
    inverse = np.linalg.inv(locating_rows(PLATE))
    spread = sigma * np.sqrt((inverse**2).sum(axis=1))
    assert spread == pytest.approx((0.0244949, 0.0274874, 0.000471405), rel=2e-6)
    sources = (Source(name="locator", limit_mm=1.0, u_mm=sigma),)
    made = [
        Contact(name=c.name, at=c.at, normal=c.normal, kind=c.kind, on="", sources=sources)
        for c in PLATE
    ]
    features = [
        Critical(name="far", at=FAR, tolerance_mm=9.0),
        Critical(name="middle", at=MIDDLE, tolerance_mm=9.0),
    ]
    far, middle = critical_errors(features, made)
    assert (far.rss_x_mm, far.rss_y_mm) == pytest.approx((0.0244949, 0.0274874), rel=2e-6)
    assert (far.worst_x_mm, far.worst_y_mm) == pytest.approx((2, 5 / 3), rel=1e-12)
    assert (middle.worst_x_mm, middle.worst_y_mm) == pytest.approx((1, 1), rel=1e-12)


def test_concurrent_normals_leave_a_spin():
    """Source: geometry of three lines through a point; numbers by hand."""
    meeting = (wall(30, 0, 0, 1), wall(0, 20, 1, 0), wall(60, 60, -0.6, -0.8))
    found = plane_determinacy(meeting)
    assert found.rank == 2
    assert found.free == ("turning about (30, 20)",)
    apart = (*meeting[:2], wall(64, 57, -0.6, -0.8))
    assert abs(np.linalg.det(locating_rows(apart))) == pytest.approx(5, rel=1e-9)
    assert plane_determinacy(apart).determined


def test_three_parallel_normals():
    """Source: as above."""
    found = plane_determinacy([wall(10, 0, 0, 1), wall(50, 0, 0, 1), wall(30, 60, 0, -1)])
    assert (found.rank, found.free) == (2, ("sliding along x",))


def test_determinant_is_sine_times_distance():
    """|det G| = |sin of normals 1 and 2| × distance of line 3 from where lines 1 and 2 meet.

    Source: identity, derived by hand; checked on random contacts.
    """
    rng = np.random.default_rng(3)
    for _ in range(50):
        contacts = [turned(*rng.uniform(-50, 50, 2), rng.uniform(0, 360)) for _ in range(3)]
        (p1, n1), (p2, n2), (p3, n3) = ((c.at, c.normal) for c in contacts)
        sine = n1.x * n2.y - n1.y * n2.x
        a = np.array([(-n1.y, n1.x), (-n2.y, n2.x)])
        x, y = np.linalg.solve(a, [-n1.y * p1.x + n1.x * p1.y, -n2.y * p2.x + n2.x * p2.y])
        distance = abs((x - p3.x) * n3.y - (y - p3.y) * n3.x)
        det = np.linalg.det(locating_rows(contacts))
        assert abs(det) == pytest.approx(abs(sine) * distance, rel=1e-6)


SIX = (
    support_contact("Z1", Point(10, 10), on="plate"),
    support_contact("Z2", Point(90, 10), on="plate"),
    support_contact("Z3", Point(50, 50), on="plate"),
    wall(20, 0, 0, 1, z_mm=20.0),
    wall(80, 0, 0, 1, z_mm=20.0),
    wall(0, 30, 1, 0, z_mm=20.0),
)


def test_three_two_one_in_space():
    """Source: method of Asada & By 1985 in space; numbers by hand."""
    assert abs(np.linalg.det(space_rows(SIX))) == pytest.approx(192000, rel=1e-9)
    q = space_pose_linear(SIX, (0.05, 0, 0, 0.02, -0.01, 0.03))
    assert q.shift_mm == pytest.approx((0.0025, 0.0175, 0.0625), rel=1e-9)
    assert q.turn_rad == pytest.approx((-0.000625, 0.000625, -0.0005), rel=1e-9)
    far = (100, 60, 40)
    assert q.linear_shift_at(far) == pytest.approx((0.0575, -0.0075, -0.0375), rel=1e-9)
    exact = space_pose_exact(SIX, (0.05, 0, 0, 0.02, -0.01, 0.03)).shift_at(far)
    assert exact == pytest.approx((0.0575, -0.0075, -0.0375), abs=1.2e-4)
    assert exact != pytest.approx((0.0575, -0.0075, -0.0375), abs=1e-6)


@pytest.mark.parametrize(
    ("heights", "degrees"),
    [((0.05, 0, 0), 0.0506428), ((0, 0, 0.05), 0.0716197), ((0.06, 0.06, 0), 0.0859436)],
)
def test_a_plate_on_three_supports_leans_by_the_closed_form(heights, degrees):
    """Source: the plane through three tips, atan of its slope; numbers by hand."""
    pose = space_pose_exact(SIX, (*heights, 0, 0, 0))
    assert math.degrees(pose.tilt_rad) == pytest.approx(degrees, rel=1e-5)
    plane = support_plane(SIX[:3], heights)
    assert pose.tilt_rad == pytest.approx(plane.tilt_rad, rel=1e-12)


def test_quality_of_layouts_on_a_grid():
    """Best |det| is 100 with a pair at the ends of a long edge, 60 with a short one.

    Source: determinant as layout measure (Asada & By 1985); numbers by hand. Many layouts tie,
    so that none is asked for by place.
    """
    region = Region(outer=Contour.rectangle(0, 0, 100, 60))
    grid = [c.contact for c in candidates(region, pitch_mm=10)]
    rows = locating_rows(grid)
    n = len(rows)
    i, j, k = np.array([(a, b, c) for a in range(n) for b in range(a) for c in range(b)]).T
    dets = np.abs(np.einsum("ij,ij->i", rows[i], np.cross(rows[j], rows[k])))
    assert dets.max() == pytest.approx(100, rel=1e-12)
    ends = locating_rows([wall(0, 0, 0, 1), wall(100, 0, 0, 1), wall(0, 30, 1, 0)])
    short = locating_rows([wall(0, 0, 1, 0), wall(0, 60, 1, 0), wall(50, 0, 0, 1)])
    assert np.linalg.det(ends.T @ ends) == pytest.approx(1e4, rel=1e-9)
    assert np.linalg.det(short.T @ short) == pytest.approx(3600, rel=1e-9)


@pytest.mark.parametrize("d", [1.0, 7.0, 60.0])
def test_trace_of_the_inverse(d):
    """Pair d apart about the origin, third normal through it. Source: by hand."""
    g = locating_rows([wall(-d / 2, 0, 0, 1), wall(d / 2, 0, 0, 1), wall(0, 0, 1, 0)])
    assert np.trace(np.linalg.inv(g.T @ g)) == pytest.approx(1.5 + 2 / d**2, rel=1e-9)


def test_three_normals_at_120_degrees():
    """|det| = (3√3/2) h for moment arm h. Source: by hand."""
    contacts = []
    for angle in (0, 120, 240):
        a = math.radians(angle)
        contacts.append(turned(7 * math.cos(a), 7 * math.sin(a), angle + 90))
    assert abs(np.linalg.det(locating_rows(contacts))) == pytest.approx(18.186533, abs=5e-7)


def test_circle_about_its_own_centre_has_no_turn():
    """Source: symmetry."""
    rim = [
        turned(-9 * math.cos(math.radians(a)), -9 * math.sin(math.radians(a)), a)
        for a in (0, 80, 200)
    ]
    assert locating_rows(rim)[:, 2] == pytest.approx((0, 0, 0), abs=1e-12)


HEIGHTS = [
    pytest.param((0.05, 0, 0), 0.0506428, id="first up"),
    pytest.param((0, 0, 0.05), 0.0716197, id="third up"),
    pytest.param((0.06, 0.06, 0), 0.0859436, id="two up"),
]


@pytest.mark.parametrize(("heights", "degrees"), HEIGHTS)
def test_tilt_on_three_supports(heights, degrees):
    """Source: plane through three points; numbers by hand."""
    plane = support_plane(SIX[:3], heights)
    assert math.degrees(plane.tilt_rad) == pytest.approx(degrees, abs=5e-8)


def test_plane_on_three_supports():
    """Source: as above."""
    plane = support_plane(SIX[:3], (0.05, 0, 0))
    found = (plane.slope_x, plane.slope_y, plane.at_origin_mm)
    assert found == pytest.approx((-0.000625, -0.000625, 0.0625), rel=1e-9)
    assert support_plane(SIX[:3], (0.06, 0.06, 0)).height_mm(MIDDLE) == pytest.approx(0.03)
    assert sum(map(abs, support_weights(SIX[:3], Point(50, 20)))) == pytest.approx(1, rel=1e-12)
    assert sum(map(abs, support_weights(SIX[:3], Point(0, 60)))) == pytest.approx(2.5, rel=1e-12)


# --- closure ---------------------------------------------------------------------------------


def test_published_closure_example():
    """Source: Lynch & Park, Modern Robotics, example 12.7; rows there are (m, fx, fy)."""
    wrenches = np.array([[0, 0, -1, 2], [-1, 0, 1, 0], [0, -1, 0, 1]], dtype=float).T
    assert balancing_weights(wrenches) == pytest.approx((2, 1, 2, 1), rel=1e-9)


def four(b: float, t: float, left: float, right: float) -> list[Contact]:
    """Return contacts on the four sides of the plate."""
    return [wall(b, 0, 0, 1), wall(t, 60, 0, -1), wall(0, left, 1, 0), wall(100, right, -1, 0)]


def skew(last: float) -> list[Contact]:
    """Return four contacts on the corners of a 3 × 2 plate."""
    return [turned(1.5, 1, 225), turned(-1.5, 1, 315), turned(-1.5, -1, 45), turned(1.5, -1, last)]


CLOSURES = [
    pytest.param(skew(135), Closure.FIRST_ORDER, (1, 1, 1, 1), id="corners"),
    pytest.param(skew(154), Closure.FREE, (), id="corners, last normal at 154°"),
    pytest.param(four(70, 30, 40, 20), Closure.FIRST_ORDER, (1, 1, 2, 2), id="plate, wound"),
    pytest.param(four(70, 30, 20, 40), Closure.FREE, (), id="plate, unwound"),
    pytest.param(four(50, 50, 30, 30), Closure.SECOND_ORDER, (), id="plate, middles"),
]


@pytest.mark.parametrize(("contacts", "closure", "weights"), CLOSURES)
def test_closure(contacts, closure, weights):
    """Source: by hand; rule (xb − xt)(yl − yr) > 0 for the plate."""
    found = closure_report(contacts)
    assert found.closure is closure
    assert found.weights == pytest.approx(weights, rel=1e-6)


def test_rule_for_the_plate():
    """(xb − xt)(yl − yr) > 0 decides. Source: moment balance by hand."""
    rng = np.random.default_rng(5)
    for b, t, left, right in rng.uniform(5, 55, (60, 4)):
        closed = closure_report(four(b, t, left, right)).closure is Closure.FIRST_ORDER
        assert closed == ((b - t) * (left - right) > 0)


def test_penetration_of_the_turned_plate():
    """Locators at the middles of the sides are entered by 50 (1 − cos θ) at the short ones.

    Source: geometry of a turned square, by hand.
    """
    theta = np.array([0.01, 0.1, 0.3])
    centre = np.array([50.0, 30.0])
    turn = np.array([[np.cos(theta), -np.sin(theta)], [np.sin(theta), np.cos(theta)]])
    shift = centre[:, None] - np.einsum("ijk,j->ik", turn, centre)
    poses = np.column_stack((*shift, theta))
    gaps = gaps_mm(four(50, 50, 30, 30), poses, np.zeros((3, 4)))
    # The sides at x = 0 and 100 lie 50 from the centre: the locator sits that much inside.
    assert gaps[:, 2] == pytest.approx(-50 * (1 - np.cos(theta)), rel=1e-9)
    assert gaps[:, 3] == pytest.approx(-50 * (1 - np.cos(theta)), rel=1e-9)


@pytest.mark.parametrize("count", [2, 3, 5, 9])
def test_disc_is_never_held(count):
    """Source: symmetry."""
    rng = np.random.default_rng(count)
    rim = [
        Contact(
            name="",
            at=Point(4 - 10 * math.cos(a), 7 - 10 * math.sin(a)),
            normal=Vector(math.cos(a), math.sin(a)),
            kind=ContactKind.WALL,
            on="",
            radius_mm=10.0,
        )
        for a in [*rng.uniform(0, math.tau, count - 2).tolist(), 0.3, 0.3 + math.pi]
    ]
    found = closure_report(rim)
    assert found.closure is Closure.FREE


def test_triangle_is_immobile_not_closed():
    """Equilateral triangle held at its edge middles. Source: Cheong et al., immobilising
    planar parts; the penetration 1 − cos θ at inradius 1 by hand."""
    middles = [
        turned(-math.cos(a), -math.sin(a), math.degrees(a))
        for a in np.arange(3) * 2.0943951023931953
    ]
    found = closure_report(middles)
    assert found.closure is Closure.SECOND_ORDER
    theta = 0.2
    gaps = gaps_mm(middles, np.array([[0.0, 0.0, theta]]), np.zeros((1, 3)))
    assert gaps[0] == pytest.approx([-(1 - math.cos(theta))] * 3, rel=1e-9)


def test_three_frictionless_contacts_never_close():
    """Source: Lynch & Park, Modern Robotics, ch. 12: four contacts are needed in the plane."""
    rng = np.random.default_rng(8)
    for _ in range(60):
        three = [turned(*rng.uniform(-9, 9, 2), rng.uniform(0, 360)) for _ in range(3)]
        assert closure_report(three).closure is not Closure.FIRST_ORDER


@pytest.mark.parametrize(("friction", "closed"), [(0.333, False), (0.3334, True), (0.6, True)])
def test_two_frictional_contacts(friction, closed):
    """(30,0) up and (50,60) down close above a friction of 1/3. Source: Nguyen 1988, the line
    between the contacts within both cones (method, from memory; the number by hand)."""
    pair = [wall(30, 0, 0, 1), wall(50, 60, 0, -1)]
    assert has_force_closure(pair, friction=friction) is closed


CLAMPS = [
    pytest.param(45, (-0.0589256, 0.766032, 0.707107), id="lifts"),
    pytest.param(50, (0, 0.707107, 0.707107), id="limit"),
    pytest.param(60, (0.117851, 0.589256, 0.707107), id="seats"),
]


@pytest.mark.parametrize(("y", "reactions"), CLAMPS)
def test_clamp_reactions(y, reactions):
    """Unit clamp (−1, −1)/√2 at (100, y). Source: equilibrium by hand."""
    push = Push(at=Point(100, y), along=Vector(-math.sqrt(0.5), -math.sqrt(0.5)))
    assert clamp_reactions(PLATE, push) == pytest.approx(reactions, abs=5e-7)
