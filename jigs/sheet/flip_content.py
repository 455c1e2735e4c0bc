"""The second side on the sheet: what it rests on, and what both sides together can be off."""

from __future__ import annotations

from jigs import quantity
from jigs.plan import Plan, PlannedSetup
from jigs.sheet.content import Block, Grid, Lines, Section


def flip_section(planned: PlannedSetup, plan: Plan) -> Section | None:
    """Return how the second side stays true to the first; None for a first side."""
    turned, units = planned.turned, plan.job.units
    if turned is None:
        return None
    made = turned.is_made_before
    datums = tuple(
        (
            axis.axis,
            quantity.told_in(", ".join(axis.before), units) or "nothing",
            quantity.told_in(", ".join(axis.after), units) or "nothing",
            "kept" if axis.is_kept else "cut there" if made and axis.axis != "z" else "changed",
        )
        for axis in turned.axes
    )
    blocks: list[Block] = [
        Grid(columns=("drawing's", f"in {turned.before}", f"in {turned.after}", ""), rows=datums)
    ]
    ties = [(f"{p.first} to {p.second}, tied by the drawing", p) for p in plan.pairs]
    rows = tuple(
        (
            name,
            quantity.plus_minus_text(pair.worst_x_mm, units),
            quantity.plus_minus_text(pair.worst_y_mm, units),
            quantity.plus_minus_text(pair.tolerance_mm, units),
            "kept" if pair.ok else "over",
        )
        for name, pair in (*((p.first, p) for p in turned.features), *ties)
    )
    if rows:
        blocks.append(
            Grid(
                columns=(
                    "both sides together",
                    "along x",
                    "along y",
                    "drawing allows",
                    "location's share",
                ),
                rows=rows,
            )
        )
    lines = [
        f"{turned.before} has cut itself what {turned.after} rests on: the error of locating there "
        f"moves both alike, and only that of {turned.after} stands between the sides."
        if made
        else f"Worst case of {turned.before} and {turned.after} added, as if they had nothing in "
        "common."
    ]
    if turned.height_mm:
        lines.append(
            "z is counted from the other face: measure the part's height and allow for it "
            f"({quantity.plus_minus_text(turned.height_mm, units)} where nobody toleranced it)."
        )
    blocks.append(Lines(lines=tuple(lines)))
    return Section(key="flip", heading="The second side", blocks=tuple(blocks))
