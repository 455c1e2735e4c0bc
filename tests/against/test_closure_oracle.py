"""Closure, seating and clamping against independent judges: linear programmes and brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import linprog

from jigs.locating.clamping import clamp_places, least_reactions
from jigs.locating.closure import Closure, closure_report, tangent_rows
from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.pose import gaps_mm, locating_rows
from jigs.locating.seating import Push, Rest, possible_seats, seating
from kerf.contour import Contour, Point, Vector


def wall(x, y, nx, ny, **more):
    size = math.hypot(nx, ny)
    return Contact(
        name=f"{x:.3f},{y:.3f}",
        at=Point(x, y),
        normal=Vector(nx / size, ny / size),
        kind=ContactKind.WALL,
        on="",
        **more,
    )


def random_contacts(rng, count):
    """Contacts on a random convex polygon-like outline, normals inward within a cone."""
    out = []
    for a in rng.uniform(0, math.tau, count):
        lean = rng.uniform(-0.8, 0.8)
        out.append(
            wall(
                50 * math.cos(a) + rng.uniform(-5, 5),
                30 * math.sin(a) + rng.uniform(-5, 5),
                -math.cos(a + lean),
                -math.sin(a + lean),
            )
        )
    return out


def closes_by_linear_programme(rows):
    """Greatest t with rowsᵀ k = 0 and t <= k <= 1, above 0, and full rank."""
    n = len(rows)
    scaled = rows / np.abs(rows).max(axis=0)
    answer = linprog(
        np.r_[np.zeros(n), -1.0],
        A_eq=np.c_[scaled.T, np.zeros(3)],
        b_eq=np.zeros(3),
        A_ub=np.c_[-np.eye(n), np.ones(n)],
        b_ub=np.zeros(n),
        bounds=[(0, 1)] * n + [(None, 1)],
    )
    return np.linalg.matrix_rank(scaled) == 3 and -answer.fun > 1e-7


def test_form_closure_against_linprog():
    """300 random sets of four to seven contacts. Source: Lynch & Park, Modern Robotics, ch. 12
    (closure as a linear programme); scipy's linprog as the judge."""
    rng = np.random.default_rng(12)
    closed = 0
    for _ in range(300):
        contacts = random_contacts(rng, int(rng.integers(4, 8)))
        mine = closure_report(contacts)
        theirs = closes_by_linear_programme(locating_rows(contacts))
        assert (mine.closure is Closure.FIRST_ORDER) == theirs
        closed += theirs
        if mine.weights:
            rest = np.array(mine.weights) @ locating_rows(contacts)
            assert np.abs(rest).max() < 1e-6 * max(mine.weights)
    assert 60 < closed < 240  # both verdicts were met often


def escapes(contacts, rng, size):
    """Return whether some small random pose opens every gap (or leaves it at zero)."""
    reach = 50.0
    poses = rng.normal(size=(200_000, 3))
    poses *= size / np.linalg.norm(poses, axis=1)[:, None] * rng.uniform(0.2, 1, (200_000, 1))
    poses[:, 2] /= reach
    gaps = gaps_mm(contacts, poses, np.zeros((len(poses), len(contacts))))
    return bool(np.any(gaps.min(axis=1) >= 0))


THREE = tuple(math.pi / 2 + k * math.tau / 3 for k in range(3))
HELD = [
    pytest.param(
        [wall(-30 * math.cos(a), -30 * math.sin(a), math.cos(a), math.sin(a)) for a in THREE],
        id="triangle at its middles",
    ),
    pytest.param(
        [wall(50, 0, 0, 1), wall(50, 60, 0, -1), wall(0, 30, 1, 0), wall(100, 30, -1, 0)],
        id="plate at its middles",
    ),
    pytest.param(
        [wall(0, 0, 0, 1, radius_mm=-20.0), wall(0, 60, 0, -1, radius_mm=-25.0)],
        id="two hollows on one line",
    ),
]


@pytest.mark.parametrize("contacts", HELD)
def test_second_order_immobility_by_sampling(contacts):
    """Held to second order, and none of 200,000 small poses gets out. Source: brute force."""
    assert closure_report(contacts).closure is Closure.SECOND_ORDER
    assert not escapes(contacts, np.random.default_rng(1), 0.5)


LOOSE = [
    pytest.param(
        [wall(-30 * math.cos(a), -30 * math.sin(a), math.cos(a), math.sin(a)) for a in THREE[:2]],
        id="two of three",
    ),
    pytest.param(
        [wall(0, 0, 0, 1, radius_mm=20.0), wall(0, 60, 0, -1, radius_mm=25.0)],
        id="two bulges on one line",
    ),
    pytest.param(
        [wall(70, 60, 0, -1), wall(30, 0, 0, 1), wall(0, 40, 1, 0), wall(100, 20, -1, 0)],
        id="plate, unwound",
    ),
]


@pytest.mark.parametrize("contacts", LOOSE)
def test_free_parts_get_out_by_sampling(contacts):
    """Free by verdict, and a small pose out is found. Source: brute force."""
    found = closure_report(contacts)
    assert found.closure is Closure.FREE
    assert found.motion
    assert escapes(contacts, np.random.default_rng(2), 0.5)


def test_seating_against_linprog():
    """Where a pushed part comes to rest is the answer of a linear programme.

    Source: scipy's linprog on max w·q with every gap open; Lynch & Park, ch. 12.
    """
    rng = np.random.default_rng(4)
    outcomes = set()
    for _ in range(200):
        contacts = random_contacts(rng, int(rng.integers(4, 12)))
        a = rng.uniform(0, math.tau)
        push = Push(at=Point(*rng.uniform(-30, 30, 2)), along=Vector(math.cos(a), math.sin(a)))
        rows = locating_rows(contacts)
        answer = linprog(
            -np.array(push.wrench), A_ub=-rows, b_ub=np.full(len(rows), 0.2), bounds=(None, None)
        )
        found = seating(contacts, push, clearance_mm=0.2)
        outcomes.add(found.rest)
        assert (found.rest is not Rest.LOOSE) == (answer.status == 0)
        if found.rest is Rest.SEATED:
            pose = (found.pose.x_mm, found.pose.y_mm, found.pose.turn_rad)
            assert np.dot(push.wrench, pose) == pytest.approx(-answer.fun, rel=1e-6, abs=1e-9)
            assert min(found.reactions) > 0
    assert {Rest.SEATED, Rest.LOOSE} <= outcomes


def test_possible_seats_cover_what_errors_decide():
    """With four locators, whatever their errors, the part rests on one of the sets told.

    Source: linprog's active set for random locator errors.
    """
    contacts = [wall(10, 0, 0, 1), wall(90, 0, 0, 1), wall(0, 20, 1, 0), wall(0, 50, 1, 0)]
    push = Push(at=Point(80, 60), along=Vector(-0.6, -0.8))
    told = {frozenset(c.name for c in seat) for seat in possible_seats(contacts, push)}
    rows = locating_rows(contacts)
    rng = np.random.default_rng(6)
    met = set()
    for _ in range(200):
        delta = rng.uniform(-0.05, 0.05, 4)
        answer = linprog(-np.array(push.wrench), A_ub=-rows, b_ub=-delta, bounds=(None, None))
        active = np.flatnonzero(np.abs(rows @ answer.x - delta) < 1e-9)
        met.add(frozenset(contacts[i].name for i in active))
    assert met <= told
    assert met == told


PLATE = (wall(20, 0, 0, 1), wall(80, 0, 0, 1), wall(0, 30, 1, 0))


def test_least_reactions_against_random_friction():
    """No random state of friction gives a lesser reaction than the corners of the slopes.

    Source: brute force over slopes.
    """
    rng = np.random.default_rng(9)
    rows, along = locating_rows(PLATE), tangent_rows(PLATE)
    for _ in range(20):
        mu, grip = rng.uniform(0, 0.25), rng.uniform(0, 0.2)
        a = rng.uniform(math.pi, 1.5 * math.pi)
        push = Push(at=Point(*rng.uniform(20, 90, 2)), along=Vector(math.cos(a), math.sin(a)))
        least = least_reactions(PLATE, push, friction=mu, clamp_friction=grip)
        slopes = rng.uniform(-mu, mu, (4000, 3))
        lean = rng.uniform(-grip, grip, 4000)
        fx, fy = math.cos(a) - lean * math.sin(a), math.sin(a) + lean * math.cos(a)
        wrench = np.column_stack((fx, fy, push.at.x * fy - push.at.y * fx))
        leaning = rows + slopes[:, :, None] * along
        reactions = np.linalg.solve(leaning.transpose(0, 2, 1), -wrench[:, :, None])[:, :, 0]
        # Where a reaction is negative the corner may not be its least value; the sign is proven.
        if min(least) > 0:
            assert np.all(reactions > 0)
            assert np.all(reactions >= np.array(least) - 1e-9)


@pytest.mark.parametrize("friction", [0.0, 0.05, 0.15])
def test_clamp_places_against_sampling(friction):
    """Stretches found in closed form are those where a sampled square push seats. Source: brute
    force along the edge, arcs included."""
    corner = math.tan(math.pi / 8)
    loop = Contour.of(((0, 0), (100, 0), (100, 20, corner), (60, 60), (0, 60)))
    places = clamp_places(loop, PLATE, friction=friction, clamp_friction=friction)
    before = 0.0
    for index, edge in enumerate(loop.edges()):
        for t in np.linspace(0.0005, 0.9995, 500):
            at = edge.point_at(float(t))
            push = Push(at=at, along=edge.normal_at(float(t)))
            least = least_reactions(PLATE, push, friction=friction, clamp_friction=friction)
            s = before + float(t) * edge.length_mm
            inside = any(p.edge == index and p.start_mm <= s <= p.end_mm for p in places)
            if abs(min(least)) > 1e-6:
                assert inside == (min(least) > 0)
        before += edge.length_mm
    assert places
