"""One verdict on the location error of a feature, however the part is located.

Over the drawing's tolerance the guide must not be used: that fails. Over the share of it
that location may use, but within the tolerance, a person decides: that warns, with the
numbers. An error that has no bound fails.

Source: common practice (fixtures are given 20 to 50 % of the part's tolerance).
"""

from __future__ import annotations

import math

from jigs.finding import Finding, Severity
from jigs.locating.error import CriticalError


def check_location(error: CriticalError, *, subject: str, hint: str) -> list[Finding]:
    """Return a finding when location takes more of a tolerance than it may.

    Args:
        error: of one critical feature.
        subject: what the finding is about ('nest "op20": pivot bore').
        hint: what would lessen it, for this way of locating.
    """
    if error.ok:
        return []
    reach = error.worst_mm + error.second_order_mm
    if not math.isfinite(reach):
        return [
            Finding(
                code="location-unbounded",
                severity=Severity.FAIL,
                subject=subject,
                message="the locators' errors are so large against the contacts' spread or the "
                "edge's curvature that no bound can be given",
                hint="spread the contacts, or lessen their errors",
            )
        ]
    over = reach > error.tolerance_mm
    lead = f", {error.shares[0][1]:.0%} of it from {error.shares[0][0]}" if error.shares else ""
    return [
        Finding(
            code="location-over-tolerance" if over else "location-over-share",
            severity=Severity.FAIL if over else Severity.WARN,
            subject=subject,
            message=f"location alone may move it {reach:.3f} mm{lead}; "
            f"the drawing allows ±{error.tolerance_mm:.3f} mm and location "
            f"±{error.limit_mm:.3f} mm (95 % of parts stay within {error.expanded_mm:.3f} mm)",
            measured=reach,
            limit=error.tolerance_mm if over else error.limit_mm,
            unit="mm",
            hint=hint,
        )
    ]
