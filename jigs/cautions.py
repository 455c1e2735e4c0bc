"""What the sheet and the record warn of, set-up by set-up: the gravest first.

Common sense of a shop, printed whenever something is cut or held; what is assumed of the hold
stands first. Source: common practice.
"""

from __future__ import annotations

from typing import Final

from jigs.holding.hold import HoldBy
from jigs.plan import PlannedSetup
from kerf.lean import LeanUse

_CUTTING: Final = (
    "A part that comes loose is thrown. Wear eye protection, close the guards, stand out of the "
    "plane of the cutter, and stop the spindle before reaching in.",
    "Make the first cut light, at half the depth and feed, and look again at part, guide and hold "
    "before the full recipe.",
    "Forces here are worked out from published figures with the stated reserve; a dull edge, chips "
    "that pack, or chatter raise them. Your own test of your own hold comes before this sheet.",
)
_TAPE: Final = (
    "Tape and glue: clean and dry both faces, press for the maker's full time, keep coolant and "
    "heat off the edges, and pull-test a piece of known area before the first part of a batch."
)
_VISE: Final = (
    "Vise: clean jaws, parallels and part, tap the part down while tightening and feel that no "
    "parallel slides; take the handle off before the spindle turns."
)
_ALWAYS: Final = (
    "Laser: cut only sheet you know. Never PVC or vinyl, PTFE, ABS, polycarbonate over 1 mm, or "
    "an unknown plastic. Never unattended; extraction on, extinguisher at hand.",
    "The guide locates the part; it does not hold it against cutting forces unless this sheet "
    "says so. Clamp or bond the part, and prove the first pass clear of guide and clamps.",
    "Plastic grows by about 0.08 mm a metre for each °C. Let guide, part and machine come to one "
    "temperature before the offsets are set.",
    "Local codes, makers' data sheets and licensed practice come before this sheet.",
)


_TURNED_OVER: Final = (
    "Every plate of this guide is cut mirrored and turned over. Read the engraved words before it "
    "is clamped: the wrong way up, every offset is wrong."
)


def setup_cautions(planned: PlannedSetup) -> tuple[str, ...]:
    """Return the cautions of a set-up, one text each."""
    setup, holding = planned.setup, planned.machined.holding
    turned = (_TURNED_OVER,) if setup.lean is LeanUse.OPPOSED else ()
    if not setup.cuts and setup.hold is None:
        return (*turned, *_ALWAYS)
    texts = list(_CUTTING)
    if setup.hold is not None and setup.hold.by is HoldBy.TAPE:
        texts.insert(0, _TAPE)
    if setup.hold is not None and setup.hold.by is HoldBy.VISE:
        texts.insert(0, _VISE)
    if holding is not None and not holding.proven:
        texts.insert(0, f"The hold is assumed, not tested: {holding.said}.")
    return (*turned, *texts, *_ALWAYS)
