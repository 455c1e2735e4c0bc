"""The sentence every cut file carries: its unit, and whether the kerf is in it."""

from __future__ import annotations

from kerf.beam import CutPlan


def statement(plan: CutPlan) -> str:
    """Return what a person must know before burning the file: unit and state of the kerf."""
    if plan.left_to_laser:
        return "mm - KERF NOT APPLIED: finished size, set the kerf in the laser's software"
    if plan.kerf is None:
        return "mm - KERF NOT APPLIED: burn as drawn"
    return (
        f"mm - KERF APPLIED: {plan.kerf.kerf_mm:.3f} mm full width, card {plan.kerf.name}: "
        "burn as drawn"
    )
