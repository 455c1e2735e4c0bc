"""The blank of several parts on the sheet: its size, the saw, what serves as datum afterwards."""

from __future__ import annotations

from typing import Final

from jigs import quantity
from jigs.blank import LETTERS, Blank
from jigs.drawing.blank_view import blank_figure
from jigs.plan import Plan, PlannedSetup
from jigs.sheet.content import Lines, Notice, Notices, Picture, Section

#: Height of the picture of the blank, mm on paper.
PICTURE_MM: Final = 85.0

_SAW: Final = (
    "Sawing: deburr sawn edges before they are handled, clamp short blanks so that they cannot "
    "be pulled into the blade, and keep to the saw's manual and local rules."
)


def blank_section(planned: PlannedSetup, plan: Plan, *, width_mm: float) -> Section | None:
    """Return what the sheet says of a blank; None when the set-up has none.

    Args:
        planned: the set-up.
        plan: the job.
        width_mm: between the paper's margins, mm.
    """
    blank, units = planned.setup.blank, plan.job.units
    if blank is None:
        return None
    figure = blank_figure(
        blank, plan.job.part.region, units=units, width_mm=width_mm, height_mm=PICTURE_MM
    )
    return Section(
        key="blank",
        heading=f"The blank for {blank.asked.copies} parts",
        blocks=(
            Lines(lines=tuple(_lines(blank, planned.part.height_mm, units))),
            Picture(figures=(figure,)),
            Notices(notices=(Notice(weight="CAUTION", text=_SAW),)),
        ),
    )


def _lines(blank: Blank, height_mm: float, units: str) -> list[str]:
    """Return size, pitch, saw, datums after the cut, and what is left over."""
    asked, box = blank.asked, blank.box

    def told(value_mm: float) -> str:
        return quantity.length_text(value_mm, units)

    by_x = asked.along == "x"
    low = box.x_min if by_x else box.y_min
    saws = ", ".join(told(at - low) for at in blank.saw_at_mm)
    lines = [
        f"Blank {told(box.width)} × {told(box.height)} × {told(height_mm)}; parts follow each "
        f"other along {asked.along} at a pitch of {told(blank.pitch_mm)}.",
        f"Saw across {asked.along}, middle of the cut {saws} from the "
        f"{'left' if by_x else 'lower'} edge; the saw takes {told(asked.saw_mm)}, and "
        f"{told(asked.clean_up_mm)} is left on every side to clean up.",
        _datums(blank),
    ]
    spare = [
        f"{told(left)} along {axis}"
        for axis, left in zip("xy", blank.left_over_mm, strict=True)
        if left > 0.005
    ]
    if spare:
        lines.append(f"Left over beside the parts: {' and '.join(spare)}.")
    return lines


def _datums(blank: Blank) -> str:
    """Return which faces of each part are still true after the saw."""
    by_x = blank.asked.along == "x"
    first, last = ("left", "right") if by_x else ("lower", "upper")
    sides = "lower and upper" if by_x else "left and right"
    letters = LETTERS[: blank.asked.copies]
    said = f"part {letters[0]} keeps its {first} face, part {letters[-1]} its {last} face"
    if len(letters) > 2:
        said += ", those between neither"
    return (
        f"After the saw every part keeps its {sides} faces as they were; {said}. Sawn faces are no "
        "datums: locate from the bores or from the faces kept until they are cleaned up."
    )
