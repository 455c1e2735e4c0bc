"""Location error of a part that floats in its pocket: nothing pushes it against three contacts.

The part may sit anywhere within its slack, so a critical feature's error is its greatest
displacement in the widest pocket: the clearance as asked, the part at its smallest and the
walls at their furthest (a kerf in error by δ sets every wall back by δ/2). That pocket is
made and the proven bound of its slack taken (``certify``); nothing is linearised. The pick-up of
the guide is added.

The worst case is shared among the causes in proportion to the gap each opens. For the root
sum of squares the float is uniform within its limits, u = ± / √3 (JCGM 100:2008, 4.3.7), and
kerf and edge act through the slope of the slack against the gap, by finite difference.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from jigs.finding import Finding, Severity
from jigs.locating.contacts import FrameSource
from jigs.locating.error import SHARE, CriticalError, check_share
from jigs.locating.slack import BoundOutcome, FeatureSlack, Slack, SlackOutcome, slack
from jigs.locating.sources import COVERAGE_WORST
from jigs.locating.verdict import check_location
from jigs.part import Critical, Part
from kerf.contour import Region
from kerf.offset import offset


@dataclass(frozen=True, slots=True, kw_only=True)
class Floating:
    """How a floating part is located.

    Args:
        slack: in the pocket as designed.
        widest: in the widest pocket, with the smallest part.
        least_clearance_mm: per side, largest part in the tightest pocket; below 0 it jams.
        critical: the errors, empty where the slack has no bound.
        findings: what is wrong, in words.
    """

    slack: Slack
    widest: Slack
    least_clearance_mm: float
    critical: tuple[CriticalError, ...]
    findings: tuple[Finding, ...]


def floating(
    part: Part,
    void: Region,
    *,
    clearance_mm: float,
    u_kerf_mm: float,
    subject: str,
    frame: tuple[FrameSource, ...] = (),
    share: float = SHARE,
) -> Floating:
    """Return how well a pocket locates a part that floats in it.

    Args:
        part: the part.
        void: the pocket's free space as designed, part coordinates.
        clearance_mm: asked clearance per side.
        u_kerf_mm: standard uncertainty of the full kerf.
        subject: what the findings are about ('nest "op20"').
        frame: causes that move the whole guide.
        share: share of each tolerance that location may use.
    """
    check_share(share)
    outline = Region(outer=part.region.outer)
    kerf_limit, edge_limit = COVERAGE_WORST * u_kerf_mm / 2, part.edge_tolerance_mm
    gap_growth = kerf_limit + edge_limit
    designed = slack(outline, void, part.critical, certify=gap_growth <= 0)
    widest = designed
    if gap_growth > 0:
        # A smaller part in a wider pocket: the same slack as the part in a pocket wider by both.
        grown = offset(void, gap_growth)
        widest = slack(outline, grown.regions[0], part.critical, certify=True)
    least = clearance_mm - gap_growth
    critical = tuple(
        _error(one, a, b, most, kerf_limit, u_kerf_mm / 2, edge_limit, frame, share)
        for one, a, b, most in zip(
            part.critical, designed.features, widest.features, widest.most.features, strict=True
        )
        if a.x_mm is not None and b.x_mm is not None
    )
    return Floating(
        slack=designed,
        widest=widest,
        least_clearance_mm=least,
        critical=critical,
        findings=tuple(_findings(subject, widest, least, clearance_mm, critical)),
    )


def _error(
    one: Critical,
    designed: FeatureSlack,
    widest: FeatureSlack,
    most: FeatureSlack,
    kerf_limit_mm: float,
    u_half_kerf_mm: float,
    edge_limit_mm: float,
    frame: tuple[FrameSource, ...],
    share: float,
) -> CriticalError:
    """Return the error of one feature from its slack in both pockets.

    What the bound of the widest pocket, ``most``, has over the attained slack is set down to
    the clearance.
    """
    worst, variance, by_axis = [], [], []
    growth = kerf_limit_mm + edge_limit_mm
    for axis, (a, b, c) in enumerate(
        (
            (designed.x_mm, widest.x_mm, most.x_mm),
            (designed.y_mm, widest.y_mm, most.y_mm),
        )
    ):
        assert a is not None
        assert b is not None
        assert c is not None
        slope = (b - a) / growth if growth > 0 else 0.0
        causes = {
            "clearance": (a + c - b, a / math.sqrt(3)),
            "kerf": (slope * kerf_limit_mm, slope * u_half_kerf_mm),
            "part edge": (slope * edge_limit_mm, slope * edge_limit_mm / math.sqrt(3)),
        }
        for source in frame:
            moved = abs(source.moves(one.at)[axis])
            limit, u = causes.get(source.name, (0.0, 0.0))
            causes[source.name] = (limit + source.limit * moved, math.hypot(u, source.u * moved))
        worst.append(sum(limit for limit, _ in causes.values()))
        variance.append(sum(u * u for _, u in causes.values()))
        by_axis.append(causes)
    main = 0 if worst[0] >= worst[1] else 1
    causes = by_axis[main]
    order = sorted(causes, key=lambda name: -causes[name][0])
    limit_mm = share * one.tolerance_mm
    total, total_variance = worst[main] or 1.0, variance[main] or 1.0
    return CriticalError(
        name=one.name,
        worst_mm=worst[main],
        worst_x_mm=worst[0],
        worst_y_mm=worst[1],
        rss_mm=math.sqrt(variance[main]),
        rss_x_mm=math.sqrt(variance[0]),
        rss_y_mm=math.sqrt(variance[1]),
        expanded_mm=2 * math.sqrt(max(variance)),
        second_order_mm=0.0,
        tolerance_mm=one.tolerance_mm,
        limit_mm=limit_mm,
        ok=worst[main] <= limit_mm,
        shares=tuple((name, causes[name][0] / total) for name in order),
        rss_shares=tuple((name, causes[name][1] ** 2 / total_variance) for name in order),
    )


def _unproven(subject: str, widest: Slack) -> Finding:
    """Return the warning that the float was searched for and no bound of it was proven."""
    assert widest.x_mm is not None
    assert widest.y_mm is not None
    turn = widest.turn_rad
    turned = "any turn" if turn is None else f"a turn of ±{math.degrees(turn):.3f}°"
    return Finding(
        code="float-not-proven",
        severity=Severity.WARN,
        subject=subject,
        message=f"the part was found to move ±{widest.x_mm:.3f} mm along x, ±{widest.y_mm:.3f} mm "
        f"along y and {turned}; that it can move no further was not proven, so its features may "
        "be off by more than is told",
        hint="feel how far the part moves in the cut guide against these figures; less clearance "
        "makes the proof short, three contacts make it needless",
    )


def _findings(
    subject: str,
    widest: Slack,
    least_mm: float,
    clearance_mm: float,
    critical: tuple[CriticalError, ...],
) -> list[Finding]:
    """Return what is wrong with a floating part."""
    findings = []
    if widest.outcome is SlackOutcome.FOULS:
        findings.append(
            Finding(
                code="part-fouls",
                severity=Severity.FAIL,
                subject=subject,
                message="the part overlaps the guide at its place",
                hint="give the part clearance, or move what stands in its way",
            )
        )
    elif widest.outcome is not SlackOutcome.HELD:
        what = (
            "is round: nothing holds its turn"
            if widest.outcome is SlackOutcome.TURN_FREE
            else "is loose: it can leave its place"
        )
        findings.append(
            Finding(
                code="not-located",
                severity=Severity.FAIL,
                subject=subject,
                message=f"the part {what}",
                hint="add a pin in a bore, or locate from another edge",
            )
        )
    if widest.bound_outcome is BoundOutcome.NOT_FOUND:
        findings.append(_unproven(subject, widest))
    if least_mm < 0:
        findings.append(
            Finding(
                code="part-may-jam",
                severity=Severity.WARN,
                subject=subject,
                message=(
                    f"the largest part in the tightest pocket has {least_mm:.3f} mm clearance "
                    f"per side (asked {clearance_mm:.3f} mm, less part edge and kerf): "
                    "it may not go in"
                ),
                measured=least_mm,
                limit=0.0,
                unit="mm",
                hint="ask for more clearance, or measure the kerf and the part better",
            )
        )
    findings += [
        f
        for c in critical
        for f in check_location(
            c,
            subject=f"{subject}: {c.name}",
            hint="push the part against three contacts, or ask for less clearance",
        )
    ]
    return findings
