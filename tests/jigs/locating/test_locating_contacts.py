"""Contacts, their constructors and what makes them vary."""

from __future__ import annotations

import math

import pytest

from jigs.locating.contacts import (
    Contact,
    ContactKind,
    Source,
    Tie,
    bore_contacts,
    contact_at_length,
    contact_at_point,
    support_contact,
)
from jigs.locating.sources import (
    clearance_source,
    edge_source,
    give_source,
    kerf_source,
    lean_source,
    locator_source,
    pick_up_frame,
    temperature_frame,
    temperature_source,
    tram_frame,
)
from kerf.contour import Contour, Point, Region, Vector
from kerf.errors import GeometryError

BULGE = math.tan(math.pi / 8)
# A plate with one round corner, one hollow corner and a hole.
PLATE = Region(
    outer=Contour.of(
        ((0, 0), (90, 0, BULGE), (100, 10), (100, 50, -BULGE), (90, 60), (0, 60)),
    ),
    holes=(Contour.circle(30, 30, 6),),
)

PLACES = [
    pytest.param(Point(40, 0), (0, 1), 0.0, id="line"),
    pytest.param(Point(90 + 10 * math.sqrt(0.5), 10 - 10 * math.sqrt(0.5)), None, 10.0, id="bulge"),
    pytest.param(
        Point(100 - 10 * math.sqrt(0.5), 60 - 10 * math.sqrt(0.5)), None, -10.0, id="hollow"
    ),
    pytest.param(Point(36, 30), (1, 0), -6.0, id="wall of the hole"),
]


@pytest.mark.parametrize(("at", "normal", "radius"), PLACES)
def test_contact_at_point(at, normal, radius):
    c = contact_at_point(PLATE, at, name="A", on="wall")
    s = math.sqrt(0.5)
    assert tuple(c.normal) == pytest.approx(normal or (-s, s * (1 if radius > 0 else -1)), abs=1e-9)
    assert c.radius_mm == pytest.approx(radius)
    inside = PLATE.contains(at.x + 0.01 * c.normal.x, at.y + 0.01 * c.normal.y)
    assert inside, "the normal points into the part"


def test_contact_at_length_agrees_with_contact_at_point():
    for s in (3.0, 95.0, 130.0, 160.0, 300.0):
        a = contact_at_length(PLATE.outer, s, name="A", on="wall")
        b = contact_at_point(PLATE, a.at, name="A", on="wall")
        assert tuple(a.normal) == pytest.approx(tuple(b.normal), abs=1e-9)
        assert a.radius_mm == pytest.approx(b.radius_mm)


def test_contact_off_the_outline_is_refused():
    with pytest.raises(GeometryError, match=r"0\.500 mm off the outline") as caught:
        contact_at_point(PLATE, Point(40, -0.5), name="A", on="wall")
    assert "(40.0000, 0.0000)" in caught.value.hint


def test_round_pin_floats_in_a_circle():
    x, y = bore_contacts(
        "P",
        Point(30, 30),
        bore_diameter_mm=12.0,
        pin_diameter_mm=11.9,
        bore_tolerance_mm=0.02,
        pin_tolerance_mm=0.01,
    )
    assert (x.normal, y.normal) == (Vector(1, 0), Vector(0, 1))
    for c in (x, y):
        (fit,) = c.sources
        assert (fit.tie, fit.group) == (Tie.ROUND, "float of P")
        assert fit.limit_mm == pytest.approx(0.13 / 2)
        assert fit.u_mm == pytest.approx(0.13 / 4)
        assert c.holds_both_ways


def test_relieved_pin_holds_across_its_relief():
    (c,) = bore_contacts(
        "Q", Point(30, 30), bore_diameter_mm=6, pin_diameter_mm=5.9, relief=Vector(1.0, 0.0)
    )
    assert (c.kind, c.name) == (ContactKind.RELIEVED_PIN, "Q")
    assert tuple(c.normal) == pytest.approx((0, 1))
    assert c.sources[0].limit_mm == pytest.approx(0.05)


def test_pin_that_does_not_enter_is_refused():
    with pytest.raises(GeometryError, match=r"clearance of -0\.0050 mm"):
        bore_contacts(
            "P",
            Point(0, 0),
            bore_diameter_mm=6,
            pin_diameter_mm=5.995,
            bore_tolerance_mm=0.005,
            pin_tolerance_mm=0.005,
        )


def make(**more):
    given = {
        "name": "A",
        "at": Point(0, 0),
        "normal": Vector(0.0, 1.0),
        "kind": ContactKind.WALL,
        "on": "",
    }
    return Contact(**{**given, **more})


BAD = [
    pytest.param({"normal": Vector(0.0, 2.0)}, "unit vector", id="normal"),
    pytest.param({"at": Point(math.nan, 0.0)}, "not finite", id="nan"),
    pytest.param({"locator_radius_mm": -1.0}, "0 mm or more", id="nose"),
    pytest.param({"radius_mm": -4.0, "locator_radius_mm": 4.0}, "does not fit", id="hollow"),
]


@pytest.mark.parametrize(("given", "said"), BAD)
def test_impossible_contacts_are_refused(given, said):
    with pytest.raises(GeometryError, match=said):
        make(**given)


def test_impossible_sources_are_refused():
    for limit, u in ((-0.1, 0.0), (0.1, -0.1), (math.inf, 0.0), (math.nan, 0.0)):
        with pytest.raises(GeometryError, match="0 mm or more"):
            Source(name="x", limit_mm=limit, u_mm=u)
    with pytest.raises(GeometryError, match="go together"):
        Source(name="x", limit_mm=1.0, u_mm=1.0, tie=Tie.TOGETHER)
    with pytest.raises(GeometryError, match=r"\+1 or -1"):
        Source(name="x", limit_mm=1.0, u_mm=1.0, sign=0)


def test_sources_in_numbers():
    """Uniform within ± has u = ±/√3. Source: JCGM 100:2008, 4.3.7."""
    assert kerf_source(u_kerf_mm=0.02, sheet="s").u_mm == pytest.approx(0.01)
    assert kerf_source(u_kerf_mm=0.02, sheet="s").limit_mm == pytest.approx(0.03)
    assert edge_source(edge_tolerance_mm=0.03).u_mm == pytest.approx(0.03 / math.sqrt(3))
    assert locator_source(tolerance_mm=0.01, name="pin").limit_mm == 0.01
    assert lean_source(lean_rad=math.radians(1), height_mm=-6).limit_mm == pytest.approx(
        0.104730, abs=1e-6
    )
    assert give_source(force_n=50, stiffness_n_per_mm=1000).limit_mm == pytest.approx(0.05)
    assert clearance_source(clearance_mm=0.0).limit_mm == 0.0


def test_growth_of_guide_and_part():
    """200 mm over 10 K: acrylic 0.15, aluminium 0.047, difference 0.1 mm.

    Source: coefficients as published for PMMA (75e-6/K) and 6061 (23.6e-6/K); by hand.
    """
    heat = temperature_source(
        at=Point(200, 0),
        normal=Vector(1.0, 0.0),
        zero=Point(0, 0),
        part_per_k=23.6e-6,
        guide_per_k=75e-6,
        change_k=10,
    )
    assert heat.limit_mm == pytest.approx(200 * 10 * (75e-6 - 23.6e-6))
    assert heat.sign == 1
    frame = temperature_frame(zero=Point(0, 0), part_per_k=23.6e-6, change_k=10)
    moved = frame.moves(Point(200, 0))
    assert moved.x * frame.limit == pytest.approx(0.0472)
    assert heat.group == frame.group


def test_frames_move_points():
    pick = pick_up_frame(along=Vector(0.0, 1.0), limit_mm=0.01)
    assert tuple(pick.moves(Point(7, 8))) == (0.0, 1.0)
    tram = tram_frame(about=Point(1, 2), limit_rad=1e-4)
    assert tuple(tram.moves(Point(4, 7))) == (-5.0, 3.0)


def test_negative_clearance_and_friends_are_refused():
    with pytest.raises(GeometryError, match="press fit") as caught:
        raise_hint(lambda: clearance_source(clearance_mm=-0.01))
    assert "0 mm or more per side" in str(caught.value)
    for call in (
        lambda: kerf_source(u_kerf_mm=-1, sheet="s"),
        lambda: lean_source(lean_rad=2.0, height_mm=1),
        lambda: give_source(force_n=1, stiffness_n_per_mm=0),
        lambda: tram_frame(about=Point(0, 0), limit_rad=math.nan),
    ):
        with pytest.raises(GeometryError):
            call()


def raise_hint(call):
    """Run a call, adding its hint to what is matched."""
    try:
        call()
    except GeometryError as error:
        raise GeometryError(f"{error.what}; {error.hint}") from error


def test_support_points_up():
    c = support_contact("Z1", Point(3, 4), on="plate", z_mm=5.0)
    assert (c.kind, c.z_mm) == (ContactKind.SUPPORT, 5.0)
