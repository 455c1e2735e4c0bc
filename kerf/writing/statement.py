"""The sentence every cut file carries: its unit, whether the kerf is in it, what is mirrored."""

from __future__ import annotations

from kerf.beam import CutPlan


def statement(plan: CutPlan) -> str:
    """Return what a person must know before burning the file: unit, kerf, mirrored pieces."""
    turned = f" - MIRRORED ON PURPOSE: {', '.join(plan.mirrored)}" if plan.mirrored else ""
    if plan.left_to_laser:
        return f"mm - KERF NOT APPLIED: finished size, set the kerf in the laser's software{turned}"
    if plan.kerf is None:
        return f"mm - KERF NOT APPLIED: burn as drawn{turned}"
    return (
        f"mm - KERF APPLIED: {plan.kerf.kerf_mm:.3f} mm full width, card {plan.kerf.name}: "
        f"burn as drawn{turned}"
    )
