"""The report the pipeline asks for: verdicts, words, numbers and what is refused."""

from __future__ import annotations

import math

import pytest

from jigs.finding import Severity
from jigs.locating.contacts import (
    Contact,
    ContactKind,
    bore_contacts,
    contact_at_length,
    contact_at_point,
    support_contact,
)
from jigs.locating.error import critical_errors
from jigs.locating.report import locating_report
from jigs.locating.seating import Push, Rest, seating
from jigs.locating.sources import edge_source, kerf_source, locator_source, pick_up_frame
from jigs.part import Critical, Part
from kerf.contour import Contour, Point, Region, Vector
from kerf.errors import GeometryError, InputError

SOURCES = (kerf_source(u_kerf_mm=0.01, sheet="s"), edge_source(edge_tolerance_mm=0.02))
PLATE = Region(outer=Contour.rectangle(0, 0, 100, 60), holes=(Contour.circle(30, 30, 6),))


def part(region=PLATE, tolerance=0.2, *places):
    places = places or ((50, 30), (100, 60))
    return Part(
        name="lever",
        region=region,
        height_mm=10,
        material="6061-T6",
        edge_tolerance_mm=0.02,
        critical=tuple(
            Critical(name=f"bore {n}", at=Point(*at), tolerance_mm=tolerance)
            for n, at in enumerate(places, 1)
        ),
    )


def on(x, y, name, sources=SOURCES, region=PLATE):
    return contact_at_point(region, Point(x, y), name=name, on="wall", sources=sources)


THREE = (on(20, 0, "Y1"), on(80, 0, "Y2"), on(0, 30, "X1"))


def codes(report):
    return [f.code for f in report.findings]


def test_a_located_part():
    report = locating_report(part(), THREE)
    assert report.determined
    assert (report.free, report.fought, report.findings) == ((), (), ())
    assert report.conditioning == pytest.approx(2.1417, abs=1e-4)
    middle, far = report.critical
    # Kerf moves all three together by 0.015, edges by 0.02 each: 1 × and (2, 5/3) ×.
    assert (middle.worst_x_mm, middle.worst_y_mm) == pytest.approx((0.035, 0.035))
    assert (far.worst_x_mm, far.worst_y_mm) == pytest.approx((0.055, 0.015 + 0.02 * 5 / 3))
    assert far.worst_mm == far.worst_x_mm
    assert dict(far.shares) == pytest.approx({"part edge": 0.04 / 0.055, "kerf": 0.015 / 0.055})
    assert sum(share for _, share in far.shares) == pytest.approx(1)
    assert sum(share for _, share in far.rss_shares) == pytest.approx(1)
    assert (far.tolerance_mm, far.limit_mm, far.ok) == (0.2, 0.1, True)


def test_share_and_tolerance_decide():
    assert [c.ok for c in locating_report(part(tolerance=0.1), THREE).critical] == [True, False]
    report = locating_report(part(tolerance=0.1), THREE)
    (finding,) = report.findings
    assert (finding.code, finding.severity) == ("location-over-share", Severity.WARN)
    assert "73% of it from part edge" in finding.message
    assert finding.limit == pytest.approx(0.05)
    assert finding.measured == pytest.approx(0.055, abs=2e-4)
    tight = locating_report(part(tolerance=0.05), THREE)
    assert "location-over-tolerance" in codes(tight)
    assert tight.findings[-1].severity is Severity.FAIL
    assert all(c.ok for c in locating_report(part(tolerance=0.1), THREE, share=0.6).critical)


@pytest.mark.parametrize("share", [0.0, -0.1, 1.01, math.nan])
def test_share_out_of_range_is_refused(share):
    with pytest.raises(InputError, match="share"):
        locating_report(part(), THREE, share=share)


@pytest.mark.parametrize("scale", [0.0, -3.0, math.inf])
def test_length_scale_out_of_range_is_refused(scale):
    with pytest.raises(GeometryError, match="length scale"):
        locating_report(part(), THREE, length_scale_mm=scale)


def test_tolerance_zero_is_refused():
    with pytest.raises(GeometryError, match="above 0 mm"):
        part(tolerance=0.0)


WRONG = [
    pytest.param(
        (
            *THREE[:2],
            Contact(
                name="X1",
                at=Point(-0.5, 30),
                normal=Vector(1.0, 0.0),
                kind=ContactKind.WALL,
                on="w",
            ),
        ),
        "contact-off-outline",
        id="off the outline",
    ),
    pytest.param(
        (
            *THREE[:2],
            Contact(
                name="X1", at=Point(0, 30), normal=Vector(-1.0, 0.0), kind=ContactKind.WALL, on="w"
            ),
        ),
        "contact-normal",
        id="normal out of the part",
    ),
    pytest.param((THREE[0], on(20, 0, "Y2"), THREE[2]), "contact-doubled", id="doubled"),
    pytest.param(THREE[:2], "contacts-too-few", id="two"),
    pytest.param((), "contacts-too-few", id="none"),
    pytest.param((THREE[0], THREE[1], on(50, 60, "T")), "part-free", id="parallel normals"),
    pytest.param((*THREE, on(0, 50, "X2")), "part-not-seated", id="four, no push"),
    pytest.param(
        (*bore_contacts("P", Point(60, 30), bore_diameter_mm=6, pin_diameter_mm=6), THREE[0]),
        "pin-off-bore",
        id="pin in no hole",
    ),
    pytest.param(
        (*THREE, support_contact("Z1", Point(30, 30), on="p")),
        "support-off-part",
        id="support in a hole",
    ),
    pytest.param(
        (*THREE, *(support_contact(f"Z{x}", Point(x, 10), on="p") for x in (10, 50, 90))),
        "part-tilts",
        id="supports on a line",
    ),
    pytest.param(
        (
            *THREE,
            *(support_contact(f"Z{x}{y}", Point(x, y), on="p") for x in (10, 90) for y in (10, 50)),
        ),
        "supports-rock",
        id="four supports",
    ),
]


@pytest.mark.parametrize(("contacts", "code"), WRONG)
def test_bad_contacts_are_named(contacts, code):
    report = locating_report(part(), contacts)
    assert code in codes(report)
    found = next(f for f in report.findings if f.code == code)
    assert found.message
    assert found.hint
    if code not in ("part-tilts", "supports-rock"):
        assert report.critical == (), "never a number for contacts that do not locate"


def test_disc_cannot_hold_its_turn():
    disc = Contour.circle(50, 50, 20)
    contacts = tuple(
        contact_at_length(disc, s, name=f"C{s}", on="wall", sources=SOURCES) for s in (1, 40, 80)
    )
    report = locating_report(part(Region(outer=disc), 0.1, (50, 50)), contacts)
    assert not report.determined
    assert report.free == ("turning about (50, 50)",)
    (finding, fight) = report.findings
    assert finding.code == "part-free"
    assert finding.message == "turning about (50, 50) is free"
    assert "round edge" in finding.hint
    assert fight.message == "C1, C40, C80 fight over both slides: one of them is too many"
    assert report.critical == ()


def test_two_pins_in_two_bores():
    """Round pin, relieved pin: turn comes from the relieved one over the distance of bores."""
    region = Region(
        outer=Contour.rectangle(0, 0, 100, 60),
        holes=(Contour.circle(20, 30, 5), Contour.circle(80, 30, 5)),
    )
    pins = (
        *bore_contacts("large bore", Point(20, 30), bore_diameter_mm=10, pin_diameter_mm=9.96),
        *bore_contacts(
            "small bore",
            Point(80, 30),
            bore_diameter_mm=10,
            pin_diameter_mm=9.96,
            relief=Vector(1.0, 0.0),
        ),
    )
    report = locating_report(part(region, 0.2, (20, 30), (80, 30), (50, 30)), pins)
    at_round, at_relieved, middle = report.critical
    assert (at_round.worst_x_mm, at_round.worst_y_mm) == pytest.approx((0.02, 0.02))
    assert at_relieved.worst_y_mm == pytest.approx(0.02)
    assert middle.worst_y_mm == pytest.approx(0.02)
    one = locating_report(part(region), pins[:2])
    assert one.free == ("turning about large bore",)


def test_weak_layout_is_warned():
    fine = (edge_source(edge_tolerance_mm=0.002),)
    weak = (on(49, 0, "Y1", fine), on(51, 0, "Y2", fine), on(0, 30, "X1", fine))
    report = locating_report(part(tolerance=9.0), weak)
    assert codes(report) == ["locating-weak"]
    assert "length scale of" in report.findings[0].message


def test_errors_beyond_any_bound_are_named():
    """Two stops 2 mm apart with errors of 0.035 mm: the part slips past them as it turns."""
    report = locating_report(
        part(tolerance=9.0), (on(49, 0, "Y1"), on(51, 0, "Y2"), on(0, 30, "X1"))
    )
    assert "location-unbounded" in codes(report)
    assert not any(c.ok for c in report.critical)


def test_missing_variation_is_warned():
    bare = tuple(on(c.at.x, c.at.y, c.name, ()) for c in THREE)
    assert codes(locating_report(part(), bare)) == ["variation-missing"]


def test_pick_up_adds_along_its_axis():
    frame = (pick_up_frame(along=Vector(1.0, 0.0), limit_mm=0.01, u_mm=0.004),)
    bare = locating_report(part(), THREE).critical[0]
    more = locating_report(part(), THREE, frame=frame).critical[0]
    assert more.worst_x_mm == pytest.approx(bare.worst_x_mm + 0.01)
    assert more.worst_y_mm == pytest.approx(bare.worst_y_mm)
    assert more.rss_x_mm == pytest.approx(math.hypot(bare.rss_x_mm, 0.004))
    assert "pick-up" in dict(more.shares)


def test_push_decides_among_many():
    """With four stops the worst of the possible seats is told."""
    contacts = (*THREE, on(0, 50, "X2"))
    push = Push(at=Point(80, 60), along=Vector(-0.6, -0.8))
    report = locating_report(part(tolerance=9.0), contacts, push=push)
    assert codes(report) == ["locators-fight"]
    seats = [
        critical_errors(part(tolerance=9.0).critical, s)
        for s in ((contacts[0], contacts[1], contacts[2]), (contacts[0], contacts[1], contacts[3]))
    ]
    for index, found in enumerate(report.critical):
        assert found.worst_mm >= max(s[index].worst_mm for s in seats) - 1e-12
    loose = locating_report(part(), contacts, push=Push(at=Point(50, 30), along=Vector(1.0, 0.0)))
    assert "part-not-seated" in codes(loose)
    assert loose.critical == ()


def test_seating_in_a_nest():
    """A finger in the corner of a nest drives the part by its clearance onto two walls."""
    walls = [
        on(x, y, f"{x},{y}")
        for x, y in ((20, 0), (80, 0), (20, 60), (80, 60), (0, 10), (0, 50), (100, 10), (100, 50))
    ]
    finger = Push(at=Point(100, 58), along=Vector(-0.8, -0.6))
    found = seating(walls, finger, clearance_mm=0.1)
    assert found.rest is Rest.SEATED
    assert (found.pose.x_mm, found.pose.y_mm) == pytest.approx((-0.1, -0.1))
    assert {c.on for c in found.contacts} == {"wall"}
    assert all(c.at.x == 0 or c.at.y == 0 for c in found.contacts)
    assert seating(walls[:2], finger).rest is Rest.LOOSE
    with pytest.raises(GeometryError, match="clearance"):
        seating(walls, finger, clearance_mm=-0.1)


def test_heights_on_three_supports():
    supports = tuple(
        support_contact(
            f"Z{n}", Point(*at), on="plate", sources=(locator_source(tolerance_mm=0.05),)
        )
        for n, at in enumerate(((10, 10), (90, 10), (50, 50)), 1)
    )
    report = locating_report(part(PLATE, 0.2, (50, 20), (0, 60)), (*THREE, *supports))
    inside, outside = report.heights
    assert (inside.amplification, inside.worst_mm) == pytest.approx((1, 0.05))
    assert (outside.amplification, outside.worst_mm) == pytest.approx((2.5, 0.125))
