"""Location error of a part that floats in its pocket."""

from __future__ import annotations

import math

import pytest

from jigs.finding import Severity
from jigs.locating import certify
from jigs.locating.floating import floating
from jigs.locating.slack import BoundOutcome
from jigs.locating.sources import pick_up_frame
from jigs.part import Critical, Part
from kerf.contour import Contour, Point, Region, Vector
from kerf.offset import offset
from kerf.shapes import rectangle
from kerf.tolerance import CERTIFIED_SHARE


def plate(tolerance_mm: float = 1.0, edge_mm: float = 0.0) -> Part:
    return Part(
        name="plate",
        region=rectangle(width_mm=100, height_mm=60),
        height_mm=10,
        material="steel",
        edge_tolerance_mm=edge_mm,
        critical=(Critical(name="middle", at=Point(50, 30), tolerance_mm=tolerance_mm),),
    )


def box_void(c: float) -> Region:
    return Region(outer=Contour.rectangle(-c, -c, 100 + 2 * c, 60 + 2 * c))


def test_rectangle_in_a_pocket_matches_the_closed_forms():
    """Source: θmax = atan(a/b) − acos((b+c)/√(a²+b²)), c diametral: (100, 60, 0.2) 0.114660°."""
    found = floating(plate(), box_void(0.1), clearance_mm=0.1, u_kerf_mm=0.0, subject="nest")
    assert math.degrees(found.slack.turn_rad) == pytest.approx(0.114660, abs=1e-5)
    (middle,) = found.critical
    # The worst case is the proven bound: never under the true one, and within its share of it.
    assert 0.1 <= middle.worst_mm <= 0.1 * (1 + CERTIFIED_SHARE)
    assert found.widest.x_mm == pytest.approx(0.1, rel=1e-6)
    assert middle.rss_mm == pytest.approx(0.1 / math.sqrt(3), rel=1e-6)


def test_kerf_and_edge_open_the_pocket_and_take_their_share():
    part = plate(edge_mm=0.04)
    found = floating(part, box_void(0.1), clearance_mm=0.1, u_kerf_mm=0.02, subject="nest")
    (middle,) = found.critical
    assert 0.17 <= middle.worst_mm <= 0.17 * (1 + CERTIFIED_SHARE)
    shares = dict(middle.shares)
    assert shares["clearance"] == pytest.approx(0.10 / 0.17, rel=2 * CERTIFIED_SHARE)
    assert shares["part edge"] == pytest.approx(0.04 / 0.17, rel=2 * CERTIFIED_SHARE)
    assert sum(shares.values()) == pytest.approx(1.0)
    assert found.least_clearance_mm == pytest.approx(0.03)


def test_pick_up_is_added_along_its_face():
    frame = (pick_up_frame(along=Vector(1.0, 0.0), limit_mm=0.03, u_mm=0.01),)
    found = floating(
        plate(), box_void(0.1), clearance_mm=0.1, u_kerf_mm=0.0, subject="nest", frame=frame
    )
    (middle,) = found.critical
    assert 0.13 <= middle.worst_x_mm <= 0.13 + 0.1 * CERTIFIED_SHARE
    assert 0.10 <= middle.worst_y_mm <= 0.10 * (1 + CERTIFIED_SHARE)


def test_a_disc_is_never_given_a_number_for_its_turn():
    disc = Part(
        name="disc",
        region=Region(outer=Contour.circle(0, 0, 20)),
        height_mm=5,
        material="steel",
        edge_tolerance_mm=0.0,
        critical=(Critical(name="hole", at=Point(12, 0), tolerance_mm=1.0),),
    )
    (void,) = offset(disc.region, 0.1).regions
    found = floating(disc, void, clearance_mm=0.1, u_kerf_mm=0.0, subject="nest")
    assert found.critical == ()
    assert found.slack.turn_rad is None
    assert [f.code for f in found.findings] == ["not-located"]
    assert found.findings[0].severity is Severity.FAIL


def test_a_part_that_may_not_go_in_is_said_so():
    found = floating(
        plate(edge_mm=0.1), box_void(0.05), clearance_mm=0.05, u_kerf_mm=0.02, subject="nest"
    )
    jam = next(f for f in found.findings if f.code == "part-may-jam")
    assert jam.measured == pytest.approx(0.05 - 0.1 - 0.03)


@pytest.mark.parametrize(
    ("tolerance_mm", "code", "severity", "limit_mm"),
    [
        (0.15, "location-over-share", Severity.WARN, 0.075),
        (0.09, "location-over-tolerance", Severity.FAIL, 0.09),
    ],
    ids=["over its share", "over the tolerance"],
)
def test_location_weighs_the_same_as_on_contacts(tolerance_mm, code, severity, limit_mm):
    found = floating(
        plate(tolerance_mm=tolerance_mm),
        box_void(0.1),
        clearance_mm=0.1,
        u_kerf_mm=0.0,
        subject="nest",
    )
    assert not found.critical[0].ok
    (told,) = found.findings
    assert (told.code, told.severity, told.subject) == (code, severity, "nest: middle")
    assert told.measured == pytest.approx(0.1, rel=CERTIFIED_SHARE)
    assert told.limit == pytest.approx(limit_mm)
    assert "three contacts" in told.hint


def test_location_within_its_share_is_not_told():
    found = floating(
        plate(tolerance_mm=0.21), box_void(0.1), clearance_mm=0.1, u_kerf_mm=0.0, subject="nest"
    )
    assert found.critical[0].ok
    assert found.findings == ()


def test_a_float_that_is_not_proven_is_told_with_its_figures(monkeypatch):
    """No programme is left for the proof: what was found stands, and is said to be no bound."""
    monkeypatch.setattr(certify, "_PROGRAMMES", 0)
    found = floating(plate(), box_void(0.1), clearance_mm=0.1, u_kerf_mm=0.0, subject="nest")
    assert found.widest.bound_outcome is BoundOutcome.NOT_FOUND
    (warning,) = found.findings
    assert (warning.code, warning.severity) == ("float-not-proven", Severity.WARN)
    assert "±0.100 mm along x, ±0.100 mm along y and a turn of ±0.115°" in warning.message
    assert "not proven" in warning.message
    assert "three contacts" in warning.hint
    (middle,) = found.critical
    assert middle.worst_mm == pytest.approx(0.1, rel=1e-6)
