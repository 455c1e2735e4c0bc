"""A stack on the sheet: how it goes together, its layers and dowels, and what they can shift."""

from __future__ import annotations

from typing import Final

from jigs import quantity
from jigs.drawing.stack_view import ROLES, stack_figure
from jigs.plan import Plan, PlannedSetup
from jigs.sheet.content import Block, Grid, Lines, Picture, Section
from kerf.lean import LeanUse

#: Height of the picture on paper, mm.
PICTURE_MM: Final = 75.0


def stack_section(planned: PlannedSetup, plan: Plan, *, width_mm: float) -> Section | None:
    """Return what the sheet says of a stack; None when there is none.

    Args:
        planned: the set-up.
        plan: the job.
        width_mm: between the paper's margins, mm.
    """
    guide, units = planned.guide, plan.job.units
    stack = guide.stack
    if stack is None:
        return None
    on = guide.faces[0].plate
    figure = stack_figure(
        stack,
        seat_mm=guide.seat_mm,
        part_mm=planned.part.height_mm,
        zero_on=stack.layer(on).role,
        units=units,
        width_mm=width_mm,
        height_mm=PICTURE_MM,
    )
    rows = tuple(
        (
            str(number),
            f"{plan.job.shop.output.stem(layer.plate)}.dxf",
            ROLES[layer.role],
            quantity.length_text(layer.low_mm, units, places=2),
            f"{quantity.length_text(layer.hole_mm, units)}, {layer.fit}",
        )
        for number, layer in reversed(list(enumerate(stack.layers, 1)))
    )
    blocks: list[Block] = [
        Picture(figures=(figure,)),
        Grid(columns=("layer", "file", "what it does", "underside at", "dowel hole"), rows=rows),
        Lines(lines=tuple(_lines(planned, on, units))),
    ]
    return Section(key="stack", heading="Putting the stack together", blocks=tuple(blocks))


def _lines(planned: PlannedSetup, on: str, units: str) -> list[str]:
    """Return how the stack is put together and what the dowels' play does."""
    guide = planned.guide
    stack = guide.stack
    assert stack is not None
    side = "down" if planned.setup.lean is LeanUse.OPPOSED else "up"
    play = quantity.plus_minus_text(stack.float_mm, units)
    lines = [
        "Deburr every sheet, brush off chips, and lay the layers on their dowels in the order of "
        f"their numbers, engraved side {side}. A layer turned round stands out at its edges.",
    ]
    if stack.dowels:
        lines.append(
            f"A slip hole can move {play} about its dowel at worst (smallest dowel, widest kerf). "
            f"The walls stand {quantity.length_text(stack.stand_off_mm, units)} further back than "
            "the nest, so that the part touches the nest alone."
        )
    if stack.layer(on).role == "nest":
        lines.append(
            "Zero is taken from the nest's own edges, which stand out over the other layers: no "
            "dowel's play lies between zero and the part."
        )
    else:
        lines.append(
            "Zero is taken from the base's edges, which stand out: the play of base and nest on "
            "their dowels is in the location error of every feature."
        )
    if stack.cap_gap_mm is not None:
        gap = quantity.length_text(stack.cap_gap_mm, units, places=2)
        lines.append(
            f"The cap lies on the part, {gap} above the layer below it. Press it down with straps "
            "on the cap above the part's edge; the dowels do not hold it down."
        )
    return lines
