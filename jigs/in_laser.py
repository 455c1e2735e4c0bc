"""A guide as it lies in the laser: as it lies in use, or its mirror image when it is turned over.

Everything about a guide is worked out and drawn as it lies in use. Where the lean of its walls
is opposed, each plate is cut mirrored, left for right, and turned over sideways like a page:
then every wall stands where it was designed and its exit face is up. Cut files, their proof and
the record hold the plate as it lies in the laser, so that the record speaks of the file.

Engraving is burnt on the entry face, which then lies down. Through a clear sheet it is read
from above, in mirror writing in the cut file; through any other it cannot be, and is written
to be read on the engraved face itself before the plate is laid down. Lines, arrows and scales
stand in their places either way.
"""

from __future__ import annotations

from dataclasses import replace

from jigs.cut_files import frame_mm
from jigs.guides.guide import Guide
from jigs.setup import Setup
from jigs.shop import Sheet
from kerf.lean import LeanUse, cut_transform


def in_laser(guide: Guide, use: LeanUse) -> Guide:
    """Return the guide in the coordinates of its cut files.

    Args:
        guide: in sheet coordinates, marked.
        use: what it does about the lean; allowed leaves it as it is.
    """
    if use is LeanUse.ALLOWED:
        return guide
    laid = guide.laid({p.name: cut_transform(use, width_mm=frame_mm(p)[0]) for p in guide.plates})
    return replace(laid, plates=tuple(replace(p, is_mirrored=True) for p in laid.plates))


def is_read_below(setup: Setup, sheet: Sheet) -> bool:
    """Return whether marks are read on the face that lies down, so on a plate turned over.

    They then are mirror writing as the plate lies in use.
    """
    return setup.lean is LeanUse.OPPOSED and not sheet.is_clear
