"""Closure verdicts where pins, curvature and too few contacts come in."""

from __future__ import annotations

import math

import pytest

from jigs.locating.closure import Closure, closure_report, has_force_closure
from jigs.locating.contacts import Contact, ContactKind, bore_contacts, support_contact
from kerf.contour import Point, Vector
from kerf.errors import GeometryError


def wall(x, y, nx, ny, radius=0.0):
    return Contact(
        name="",
        at=Point(x, y),
        normal=Vector(nx, ny),
        kind=ContactKind.WALL,
        on="",
        radius_mm=radius,
    )


ROUND = bore_contacts("P", Point(7, 8), bore_diameter_mm=6, pin_diameter_mm=6, on="the bore")
RELIEVED = bore_contacts(
    "Q", Point(70, 8), bore_diameter_mm=6, pin_diameter_mm=6, relief=Vector(1.0, 0.0)
)
ALONG = bore_contacts(
    "Q", Point(70, 8), bore_diameter_mm=6, pin_diameter_mm=6, relief=Vector(0.0, 1.0)
)

CASES = [
    pytest.param((), Closure.FREE, "sliding along x", id="nothing"),
    pytest.param((wall(50, 0, 0, 1),), Closure.FREE, "sliding along y", id="one wall"),
    pytest.param(ROUND, Closure.FREE, "turning about the bore", id="one round pin"),
    pytest.param((*ROUND, *RELIEVED), Closure.FIRST_ORDER, "", id="round and relieved"),
    # Without clearance the second pin blocks the turn, but only by its cosine.
    pytest.param((*ROUND, *ALONG), Closure.SECOND_ORDER, "", id="relief wrong way"),
    pytest.param(
        (wall(0, 0, 0, 1, -5), wall(0, 20, 0, -1, -5)), Closure.SECOND_ORDER, "", id="two hollows"
    ),
    pytest.param(
        (wall(0, 0, 0, 1, 5), wall(0, 20, 0, -1, 5)),
        Closure.FREE,
        "sliding along x",
        id="two bulges",
    ),
    pytest.param(
        (wall(0, 0, 0, 1), wall(0, 20, 0, -1)), Closure.FREE, "sliding along x", id="vise jaws"
    ),
    pytest.param(
        (wall(0, 0, 0, 1), wall(0, 20, 0, -1), support_contact("Z", Point(0, 0), on="")),
        Closure.FREE,
        "sliding along x",
        id="supports do not count",
    ),
]


@pytest.mark.parametrize(("contacts", "closure", "motion"), CASES)
def test_verdict(contacts, closure, motion):
    found = closure_report(contacts)
    assert found.closure is closure
    assert found.motion.startswith(motion)
    assert bool(found.motion) == (closure is Closure.FREE)


def test_verdict_far_from_the_origin():
    """A part drawn 3 m from its origin is judged alike."""
    for far in (0.0, 3000.0):
        sides = [
            wall(50 + far, far, 0, 1),
            wall(50 + far, 60 + far, 0, -1),
            wall(far, 30 + far, 1, 0),
            wall(100 + far, 30 + far, -1, 0),
        ]
        assert closure_report(sides).closure is Closure.SECOND_ORDER
        two = closure_report(sides[:1] + sides[2:3])
        assert two.closure is Closure.FREE


def test_force_closure_needs_contacts_and_a_friction():
    assert not has_force_closure([], friction=0.5)
    assert not has_force_closure([wall(0, 0, 0, 1)], friction=0.5)
    assert has_force_closure([*ROUND, *RELIEVED], friction=0.0)
    with pytest.raises(GeometryError, match="friction"):
        has_force_closure([wall(0, 0, 0, 1)], friction=math.nan)
