"""What must be said about a stock before it goes under a laser, as findings.

A stock that must not be cut fails the run; one the table does not know warns. Those who have
checked the maker's safety sheet may go on with some of them, never with stock that gives off
halogen acids.
"""

from __future__ import annotations

from jigs.finding import Finding, Severity
from kerf.materials import Cutting, cutting_verdict


def check_stock(
    material: str, *, thickness_mm: float, subject: str, has_checked: bool = False
) -> tuple[Finding, ...]:
    """Return what speaks against cutting a stock, and the cautions for one that may be cut.

    Args:
        material: as the shop file names it.
        thickness_mm: of the sheet, mm.
        subject: what it is about, in the reader's words ('sheet "acrylic-5"').
        has_checked: whether a person says to have read its safety sheet.
    """
    verdict = cutting_verdict(material, thickness_mm=thickness_mm)
    cautions = tuple(
        Finding(
            code="stock-caution",
            severity=Severity.NOTE,
            subject=subject,
            message=caution[0].upper() + caution[1:],
        )
        for caution in verdict.cautions
    )
    if verdict.cutting is Cutting.MAY:
        return cautions
    if verdict.cutting is Cutting.UNKNOWN:
        return (
            Finding(
                code="stock-unknown",
                severity=Severity.NOTE if has_checked else Severity.WARN,
                subject=subject,
                message=verdict.reason,
                hint="read its maker's safety sheet and the laser's manual first",
            ),
            *cautions,
        )
    overridden = has_checked and verdict.may_override
    return (
        Finding(
            code="stock-never",
            severity=Severity.WARN if overridden else Severity.FAIL,
            subject=subject,
            message=verdict.reason,
            hint="choose another stock"
            if not verdict.may_override
            else "choose another stock, or say that you have checked it against its maker's "
            "safety sheet",
        ),
        *cautions,
    )
