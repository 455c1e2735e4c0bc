"""What speaks against putting a stock under a laser, as findings.

A stock that must not be cut fails the run; one the table does not know warns. Those who have
checked the maker's safety sheet may go on with some of them, never with stock that gives off
halogen acids.
"""

from __future__ import annotations

from typing import Final

from jigs.finding import Finding, Severity
from kerf.materials import Cutting, cutting_verdict

#: Code of the finding that stops a run.
NEVER: Final = "stock-never"


def check_stock(
    material: str, *, thickness_mm: float, subject: str, has_checked: bool = False
) -> tuple[Finding, ...]:
    """Return what speaks against cutting a stock; nothing for one commonly cut.

    Args:
        material: as the shop file names it.
        thickness_mm: of the sheet, mm.
        subject: what it is about, in the reader's words ('sheet "acrylic-5"').
        has_checked: whether a person says to have read its safety sheet.
    """
    verdict = cutting_verdict(material, thickness_mm=thickness_mm)
    if verdict.cutting is Cutting.MAY:
        return ()
    if verdict.cutting is Cutting.UNKNOWN:
        return (
            Finding(
                code="stock-unknown",
                severity=Severity.NOTE if has_checked else Severity.WARN,
                subject=subject,
                message=verdict.reason,
                hint="read its maker's safety sheet and the laser's manual first",
            ),
        )
    overridden = has_checked and verdict.may_override
    return (
        Finding(
            code=NEVER,
            severity=Severity.WARN if overridden else Severity.FAIL,
            subject=subject,
            message=verdict.reason,
            hint="choose another stock"
            if not verdict.may_override
            else "choose another stock, or add --i-have-checked once you have read its maker's "
            "safety sheet",
        ),
    )


def is_banned(findings: tuple[Finding, ...]) -> bool:
    """Return whether a finding forbids cutting the stock: then no cut file is written."""
    return any(f.code == NEVER and f.severity is Severity.FAIL for f in findings)
