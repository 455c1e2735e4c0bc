"""Features made in two set-ups and tied by the drawing: both set-ups' errors count.

The drawing does not say in which set-up a feature is made, so each pair of set-ups is looked
at both ways round and the worst is told. The set-ups are taken as independent, also where
both rest on the same edge of the part or on guides of one sheet: what they share could
cancel, which is not claimed. Set-ups that turn or flip the part tell their errors along the
part's own axes, so x meets x.

Source: JCGM 100:2008, 5.1.2 (independent contributions).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

from jigs.finding import Finding, Severity
from jigs.locating.error import SHARE, CriticalError, check_share
from jigs.part import Critical


@dataclass(frozen=True, slots=True, kw_only=True)
class PairError:
    """How far two features made in different set-ups can be off from one another.

    Args:
        first, second: the features' names.
        worst_x_mm, worst_y_mm, worst_mm: both set-ups at their worst, mm.
        rss_mm: standard uncertainty of the two together, the greater of the two axes, mm.
        tolerance_mm: the smaller tolerance of the two.
        limit_mm: the share of it that location may use.
        ok: the worst case is within ``limit_mm``.
    """

    first: str
    second: str
    worst_x_mm: float
    worst_y_mm: float
    worst_mm: float
    rss_mm: float
    tolerance_mm: float
    limit_mm: float
    ok: bool


def pair_error(first: CriticalError, second: CriticalError, *, share: float = SHARE) -> PairError:
    """Return the error between two features located in two set-ups.

    The set-ups are taken as independent, also where both rest on the same edge of the part
    or on guides of the same sheet: what they share could cancel, which is not claimed.

    Args:
        first, second: each feature's error in its own set-up, both along part axes.
        share: share of the tolerance that location may use.
    """
    check_share(share)
    x, y = first.worst_x_mm + second.worst_x_mm, first.worst_y_mm + second.worst_y_mm
    curved = first.second_order_mm + second.second_order_mm
    tolerance = min(first.tolerance_mm, second.tolerance_mm)
    rss = max(
        math.hypot(first.rss_x_mm, second.rss_x_mm), math.hypot(first.rss_y_mm, second.rss_y_mm)
    )
    return PairError(
        first=first.name,
        second=second.name,
        worst_x_mm=x,
        worst_y_mm=y,
        worst_mm=max(x, y),
        rss_mm=rss,
        tolerance_mm=tolerance,
        limit_mm=share * tolerance,
        ok=max(x, y) + curved <= share * tolerance,
    )


def pair_errors(
    critical: Sequence[Critical],
    setups: Sequence[Sequence[CriticalError]],
    *,
    share: float = SHARE,
) -> tuple[PairError, ...]:
    """Return the worst error of every tie between features, over all pairs of set-ups.

    Args:
        critical: the part's features; ``pair`` names the one each is tied to.
        setups: the features' errors in each set-up; two set-ups or more, else nothing is tied.
        share: share of the tolerance that location may use.
    Returns:
        one entry a tie, in the order of ``critical``; a tie told from both ends counts once. Ties
        to unknown names, or to features no second set-up reports, are left out (``check_pairs``).
    """
    found = []
    seen: set[frozenset[str]] = set()
    for one in critical:
        tie = frozenset((one.name, one.pair))
        if not one.pair or tie in seen:
            continue
        seen.add(tie)
        errors = [
            pair_error(a, b, share=share)
            for first, second in permutations(setups, 2)
            for a in first
            for b in second
            if (a.name, b.name) == (one.name, one.pair)
        ]
        if errors:
            found.append(max(errors, key=lambda e: e.worst_mm))
    return tuple(found)


def check_pairs(critical: Sequence[Critical], pairs: Sequence[PairError]) -> list[Finding]:
    """Return a finding for every tie that is out of its share, or that cannot be judged."""
    findings = []
    names = {c.name for c in critical}
    judged = {frozenset((p.first, p.second)) for p in pairs}
    for one in critical:
        if not one.pair or frozenset((one.name, one.pair)) in judged:
            continue
        known = one.pair in names and one.pair != one.name
        findings.append(
            Finding(
                code="pair-not-judged" if known else "pair-unknown",
                severity=Severity.WARN if known else Severity.FAIL,
                subject=f'feature "{one.name}"',
                message=f'tied to "{one.pair}", but no two set-ups locate both'
                if known
                else f'tied to "{one.pair}", which is no other feature of this part',
                hint="a tie needs two set-ups whose contacts fix the part"
                if known
                else f"the features are: {', '.join(sorted(names - {one.name})) or 'none'}",
            )
        )
    for p in pairs:
        if p.ok:
            continue
        over = p.worst_mm > p.tolerance_mm
        findings.append(
            Finding(
                code="pair-over-tolerance" if over else "pair-over-share",
                severity=Severity.FAIL if over else Severity.WARN,
                subject=f'features "{p.first}" and "{p.second}"',
                message=f"location in two set-ups may move them {p.worst_mm:.3f} mm apart; the "
                f"drawing allows ±{p.tolerance_mm:.3f} mm and location ±{p.limit_mm:.3f} mm",
                measured=p.worst_mm,
                limit=p.tolerance_mm if over else p.limit_mm,
                unit="mm",
                hint="make both in one set-up, or rest both set-ups on better contacts",
            )
        )
    return findings
