"""How near each cut comes to guide, jaws, straps and pins: the nearest of each, by name."""

from __future__ import annotations

import math

from jigs import quantity
from jigs.holding.access import ABOVE_MM, CHIP_ROOM_MM, Access
from jigs.plan import Plan, PlannedSetup
from jigs.sheet.content import Grid, Lines, Section

#: Farther than this nothing is told, mm: no cutter is near.
_NEAR_MM = 100.0


def clearance_section(planned: PlannedSetup, plan: Plan) -> Section | None:
    """Return the clearances of every cut; None when nothing was looked at."""
    found = [item for item in planned.machined.access if item.cut]  # jaws close before it cuts
    keys = list(dict.fromkeys((item.cut, item.what) for item in found))
    units = plan.job.units
    rows = []
    for cut, what in keys:
        items = [item for item in found if (item.cut, item.what) == (cut, what)]
        rows.append((cut, what, _beside(items, units), _above(items, units)))
    if not rows:
        return None
    room, over = (quantity.length_text(v, units, places=2) for v in (CHIP_ROOM_MM, ABOVE_MM))
    return Section(
        key="clearances",
        heading="Clearances of the cutter",
        blocks=(
            Grid(
                columns=("cut", "of the", "nearest beside it", "nearest under it"), rows=tuple(rows)
            ),
            Lines(
                lines=(
                    f"Asked: {room} beside a guide, for chips, and {over} above what is passed "
                    "over. Worked out from this sheet's sizes: prove it with the spindle still.",
                )
            ),
        ),
    )


def _beside(items: list[Access], units: str) -> str:
    """Return what the cutter comes nearest to that stands as high as it goes."""
    tall = [item for item in items if item.above_mm < 0 and item.gap_mm < _NEAR_MM]
    if not tall:
        return "nothing near"
    nearest = min(tall, key=lambda item: (bool(item.ok), item.gap_mm))
    if not nearest.ok:
        return f"MEETS {nearest.against}"
    return f"{quantity.length_text(nearest.gap_mm, units, places=2)} to {nearest.against}"


def _above(items: list[Access], units: str) -> str:
    """Return what the cutter passes over with the least height between."""
    under = [item for item in items if item.above_mm >= 0 and item.gap_mm == 0.0]
    nearest = min(under, key=lambda item: item.above_mm, default=None)
    if nearest is None or not math.isfinite(nearest.above_mm):
        return "nothing"
    return f"{quantity.length_text(nearest.above_mm, units, places=2)} over {nearest.against}"
