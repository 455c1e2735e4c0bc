"""What contacts fix, in words a machinist can act on."""

from __future__ import annotations

import math

import pytest

from jigs.locating.contacts import Contact, ContactKind, bore_contacts, support_contact
from jigs.locating.determinacy import plane_determinacy, space_determinacy
from kerf.contour import Point, Vector


def wall(name, x, y, nx, ny, z=0.0):
    return Contact(
        name=name, at=Point(x, y), normal=Vector(nx, ny), kind=ContactKind.WALL, on="", z_mm=z
    )


Y1, Y2, X1 = wall("Y1", 20, 0, 0, 1), wall("Y2", 80, 0, 0, 1), wall("X1", 0, 30, 1, 0)
T1, X2 = wall("T1", 20, 60, 0, -1), wall("X2", 0, 50, 1, 0)
PIN = bore_contacts("P", Point(7, 8), bore_diameter_mm=6, pin_diameter_mm=5.9, on="the large bore")

PLANE = [
    pytest.param(
        (), 0, ("sliding along x", "sliding along y", "turning about (0, 0)"), (), id="none"
    ),
    pytest.param((Y1,), 1, ("sliding along x", "turning about (20, 0)"), (), id="one"),
    pytest.param((Y1, Y2), 2, ("sliding along x",), (), id="one face"),
    pytest.param((Y1, X1), 2, ("turning about (20, 30)",), (), id="two faces"),
    pytest.param((Y1, Y2, X1), 3, (), (), id="two and one"),
    pytest.param(PIN, 2, ("turning about the large bore",), (), id="round pin"),
    pytest.param((*PIN, Y2), 3, (), (), id="round pin and a wall"),
    pytest.param(
        (Y1, T1, X1),
        2,
        ("turning about (20, 30)",),
        ("Y1, T1 fight over sliding along y: one of them is too many",),
        id="opposed",
    ),
    pytest.param(
        (Y1, Y2, wall("Y3", 50, 0, 0, 1)),
        2,
        ("sliding along x",),
        ("Y1, Y2, Y3 fight over sliding along y and turning: one of them is too many",),
        id="three on a face",
    ),
    pytest.param(
        (Y1, Y2, X1, X2),
        3,
        (),
        ("Y1, Y2, X1, X2 fight over the whole place of the part: one of them is too many",),
        id="two and two",
    ),
    pytest.param(
        (wall("A", 10, 10, 0.6, 0.8), wall("B", 40, -20, 0.6, 0.8)),
        2,
        ("sliding along (0.8, -0.6)",),
        (),
        id="slanted face",
    ),
]


@pytest.mark.parametrize(("contacts", "rank", "free", "fought"), PLANE)
def test_plane(contacts, rank, free, fought):
    found = plane_determinacy(contacts)
    assert (found.rank, found.free, found.fought) == (rank, free, fought)
    assert found.determined == (rank == 3)
    assert math.isinf(found.conditioning) == (rank < 3)


SIX = (
    support_contact("Z1", Point(10, 10), on="plate"),
    support_contact("Z2", Point(90, 10), on="plate"),
    support_contact("Z3", Point(50, 50), on="plate"),
    wall("Y1", 20, 0, 0, 1, 20.0),
    wall("Y2", 80, 0, 0, 1, 20.0),
    wall("X1", 0, 30, 1, 0, 20.0),
)
MISSING = [
    pytest.param(5, "sliding along x", id="without X1"),
    pytest.param(2, "turning about the line along x through (0, 10, 20)", id="without Z3"),
    pytest.param(3, "turning about the line along z through (80, 30, 0)", id="without Y1"),
]


@pytest.mark.parametrize(("index", "free"), MISSING)
def test_space(index, free):
    assert space_determinacy(SIX).determined
    found = space_determinacy(SIX[:index] + SIX[index + 1 :])
    assert (found.rank, found.free) == (5, (free,))


def test_space_fights_and_freedoms():
    four = (*SIX[:3], support_contact("Z4", Point(10, 50), on="plate"))
    found = space_determinacy(four)
    assert found.fought == ("Z1, Z2, Z3, Z4 fight over z and both tilts: one of them is too many",)
    assert found.free[:2] == ("sliding along x", "sliding along y")
    assert found.free[2].startswith("turning about the line along z")


def test_conditioning_states_its_length():
    """With the pair d apart on a face the conditioning at scale d/2 is independent of d."""
    for d in (10.0, 200.0):
        contacts = (wall("a", -d / 2, 0, 0, 1), wall("b", d / 2, 0, 0, 1), wall("c", 0, 0, 1, 0))
        found = plane_determinacy(contacts, length_scale_mm=d / 2)
        assert found.length_scale_mm == d / 2
        assert found.conditioning == pytest.approx(math.sqrt(2))
    assert plane_determinacy(contacts).length_scale_mm == pytest.approx(100)
