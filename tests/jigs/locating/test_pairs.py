"""Features tied across set-ups."""

from __future__ import annotations

import math

import pytest

from jigs.finding import Severity
from jigs.locating.contacts import contact_at_point
from jigs.locating.error import critical_errors
from jigs.locating.pairs import check_pairs, pair_error, pair_errors
from jigs.locating.sources import edge_source
from jigs.part import Critical
from kerf.contour import Contour, Point, Region
from kerf.errors import InputError

PLATE = Region(outer=Contour.rectangle(0, 0, 100, 60))
SOURCES = (edge_source(edge_tolerance_mm=0.02),)


def errors(critical, *places):
    contacts = [
        contact_at_point(PLATE, Point(*at), name=str(at), on="w", sources=SOURCES) for at in places
    ]
    return critical_errors(critical, contacts)


def features(tolerance=0.2, pair="B", back="A"):
    return (
        Critical(name="A", at=Point(50, 30), tolerance_mm=tolerance, pair=pair),
        Critical(name="B", at=Point(100, 60), tolerance_mm=tolerance, pair=back),
    )


FIRST, SECOND = ((20, 0), (80, 0), (0, 30)), ((10, 60), (90, 60), (100, 20))


def test_both_setups_count():
    made = features()
    one, two = errors(made, *FIRST), errors(made, *SECOND)
    tied = pair_error(one[0], two[1])
    assert tied.worst_x_mm == pytest.approx(one[0].worst_x_mm + two[1].worst_x_mm)
    assert tied.worst_y_mm == pytest.approx(one[0].worst_y_mm + two[1].worst_y_mm)
    assert tied.rss_mm == pytest.approx(
        max(
            math.hypot(one[0].rss_x_mm, two[1].rss_x_mm),
            math.hypot(one[0].rss_y_mm, two[1].rss_y_mm),
        )
    )
    with pytest.raises(InputError, match="share"):
        pair_error(one[0], two[1], share=0)


def test_worst_way_round_is_told_once():
    made = features()
    one, two = errors(made, *FIRST), errors(made, *SECOND)
    (tied,) = pair_errors(made, [one, two])
    ways = [pair_error(one[0], two[1]).worst_mm, pair_error(two[0], one[1]).worst_mm]
    assert tied.worst_mm == max(ways)
    assert check_pairs(made, [tied]) == []


@pytest.mark.parametrize(
    ("tolerance", "code", "severity"),
    [(0.1, "pair-over-share", Severity.WARN), (0.04, "pair-over-tolerance", Severity.FAIL)],
)
def test_ties_out_of_tolerance_are_named(tolerance, code, severity):
    made = features(tolerance)
    found = pair_errors(made, [errors(made, *FIRST), errors(made, *SECOND)])
    (finding,) = check_pairs(made, found)
    assert (finding.code, finding.severity) == (code, severity)
    assert finding.subject == 'features "A" and "B"'


def test_ties_that_cannot_be_judged_are_named():
    made = features()
    alone = pair_errors(made, [errors(made, *FIRST)])
    assert alone == ()
    assert {f.code for f in check_pairs(made, alone)} == {"pair-not-judged"}
    lost = features(pair="C", back="")
    (finding,) = check_pairs(lost, pair_errors(lost, [errors(lost, *FIRST)] * 2))
    assert (finding.code, finding.severity) == ("pair-unknown", Severity.FAIL)
    assert "the features are: B" in finding.hint
