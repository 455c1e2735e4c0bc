"""Where a clamp may push, in which direction, and how hard."""

from __future__ import annotations

import math

import numpy as np
import pytest

from jigs.finding import Severity
from jigs.locating.clamping import (
    SideLoad,
    check_push,
    clamp_directions,
    clamp_force_range,
    clamp_places,
    clamp_reactions,
    least_reactions,
)
from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.seating import Push
from kerf.contour import Contour, Point, Vector
from kerf.errors import GeometryError


def wall(name, x, y, nx, ny):
    return Contact(name=name, at=Point(x, y), normal=Vector(nx, ny), kind=ContactKind.WALL, on="")


PLATE = (wall("Y1", 20, 0, 0, 1), wall("Y2", 80, 0, 0, 1), wall("X1", 0, 30, 1, 0))
S = math.sqrt(0.5)
CORNER = Push(at=Point(100, 60), along=Vector(-S, -S))
LOW = Push(at=Point(100, 45), along=Vector(-S, -S))


@pytest.mark.parametrize("friction", [0.0, 0.1])
@pytest.mark.parametrize("at", [Point(100, 60), Point(60, 60), Point(100, 20), Point(-5, 90)])
def test_directions_against_sampling(at, friction):
    """Source: brute force over a circle of directions."""
    wedge = clamp_directions(PLATE, at, friction=friction)
    seats = []
    for angle in np.linspace(-math.pi, math.pi, 2881)[:-1]:
        push = Push(at=at, along=Vector(math.cos(angle), math.sin(angle)))
        if min(least_reactions(PLATE, push, friction=friction)) > 1e-4:
            seats.append(angle)
    if wedge is None:
        assert seats == []
        return
    least, most = wedge
    assert seats
    for angle in seats:
        turn = (angle - least) % math.tau
        assert turn <= most - least + 1e-9
    step = math.tau / 2880
    assert len(seats) * step == pytest.approx(most - least, abs=3 * step)


def test_square_push_cannot_seat_a_rectangle():
    """Square to one face a push loads no stop on the other: no stretch of a rectangle serves."""
    assert clamp_places(Contour.rectangle(0, 0, 100, 60), PLATE) == ()


def test_force_range_by_hand():
    """Reactions per unit push (0.118, 0.589, 0.707); a side load of 50 N at the middle swings
    Y1 and Y2 by 50 √(1/4 + (30/60 − 30/60)²) = 25 N and X1 by 50 N. Source: equilibrium by hand.
    """
    unit = clamp_reactions(PLATE, CORNER)
    load = SideLoad(at=Point(50, 30), force_n=50)
    found = clamp_force_range(PLATE, CORNER, [load], contact_limit_n=500)
    assert found.least_n == pytest.approx(25 / unit[0])
    assert found.most_n == pytest.approx(min((500 - 25) / unit[1], (500 - 50) / unit[2]))
    assert found.possible
    tight = clamp_force_range(PLATE, CORNER, [load], contact_limit_n=150)
    assert not tight.possible
    free = clamp_force_range(PLATE, CORNER, [load])
    assert math.isinf(free.most_n)
    assert clamp_force_range(PLATE, LOW, [load]) is None


def test_force_range_with_friction_against_sampling():
    """No load direction or state of friction lifts a contact at the least force. Source: brute
    force over directions and slopes."""
    mu = 0.05
    push = Push(at=Point(70, 60), along=Vector(-0.6, -0.8))
    load = SideLoad(at=Point(40, 40), force_n=30)
    found = clamp_force_range(PLATE, push, [load], friction=mu)
    rng = np.random.default_rng(3)
    rows = np.array([[0, 1, 20], [0, 1, 80], [1, 0, -30.0]])
    along = np.array([[-1, 0, 0], [-1, 0, 0], [0, 1, 0.0]])
    angle = rng.uniform(0, math.tau, 20000)
    force = np.column_stack((np.cos(angle), np.sin(angle))) * load.force_n
    moment = load.at.x * force[:, 1] - load.at.y * force[:, 0]
    wrench = found.least_n * np.array(push.wrench) + np.column_stack((force, moment))
    slopes = rng.choice((-mu, mu), (20000, 3))
    leaning = rows + slopes[:, :, None] * along
    reactions = np.linalg.solve(leaning.transpose(0, 2, 1), -wrench[:, :, None])[:, :, 0]
    assert reactions.min() > -1e-9
    assert reactions.min() < 0.01 * load.force_n  # and the force is not wasteful


def test_pushes_are_checked_in_words():
    assert check_push(PLATE, CORNER) == []
    (lifted,) = check_push(PLATE, LOW)
    assert (lifted.code, lifted.severity) == ("clamp-lifts", Severity.FAIL)
    assert 'contact "Y1"' in lifted.subject
    assert lifted.measured == pytest.approx(-0.0589256, rel=1e-5)
    (unsure,) = check_push(PLATE, CORNER, friction=0.2)
    assert (unsure.code, unsure.severity) == ("clamp-unsure", Severity.WARN)
    (jam,) = check_push(PLATE, CORNER, friction=3.0)
    assert jam.code == "part-jams"
    assert least_reactions(PLATE, CORNER, friction=3.0) is None
    assert clamp_places(Contour.rectangle(0, 0, 100, 60), PLATE, friction=3.0) == ()


def test_impossible_requests_are_refused():
    meeting = (PLATE[0], PLATE[2], wall("A", 20, 60, 0, -1))
    for call in (
        lambda: clamp_reactions(meeting, CORNER),
        lambda: clamp_places(Contour.rectangle(0, 0, 1, 1), meeting),
        lambda: least_reactions(PLATE, CORNER, friction=-0.1),
        lambda: least_reactions(PLATE, CORNER, clamp_friction=-0.1),
        lambda: clamp_force_range(PLATE, CORNER, [SideLoad(at=Point(0, 0), force_n=-1)]),
        lambda: clamp_force_range(PLATE, CORNER, [], contact_limit_n=0),
        lambda: Push(at=Point(0, 0), along=Vector(1.0, 1.0)),
    ):
        with pytest.raises(GeometryError):
            call()
