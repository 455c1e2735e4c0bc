"""Several pockets on one plate, on the sheet: where each copy lies from program zero."""

from __future__ import annotations

from jigs import quantity
from jigs.guides.several import copy_u_mm
from jigs.plan import Plan, PlannedSetup
from jigs.sheet.content import Grid, Lines, Section


def copies_section(planned: PlannedSetup, plan: Plan) -> Section | None:
    """Return the table of copies; None when the plate has one pocket."""
    guide, units = planned.guide, plan.job.units
    if len(guide.copies) < 2:
        return None
    across, up, _ = guide.plane.axes
    rows = tuple(
        (
            str(number),
            quantity.offset_text(shift.x, units),
            quantity.offset_text(shift.y, units),
            quantity.plus_minus_text(copy_u_mm(shift, planned.card), units)
            if planned.card.u_scale
            else "scale not measured",
        )
        for number, shift in enumerate(guide.copies, 1)
    )
    last, batch = len(guide.copies), plan.job.quantity
    loads = -(-batch // last)
    rest = batch - (loads - 1) * last
    fills = f"{batch} parts take {loads} loads" if loads > 1 else f"{batch} parts take one load"
    if rest < last:
        fills += f", the last of {rest}"
    return Section(
        key="copies",
        heading=f"{last} parts on one plate",
        blocks=(
            Grid(columns=("copy", f"shift {across}", f"shift {up}", "standard unc."), rows=rows),
            Lines(
                lines=(
                    f"Program zero {planned.setup.work_offset} is copy 1's. Shift the program by "
                    "the row of each copy, or give each its own work offset.",
                    f"{fills}.",
                )
            ),
        ),
    )
