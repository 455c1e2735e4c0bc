"""Every tolerance of the two packages, named, with its reason.

No other module holds a bare small number. Lengths are millimetres.
"""

from __future__ import annotations

from typing import Final

#: Two points closer than this are the same point: a hundredth of what a laser can place,
#: ten thousand times the rounding of a float at 1 m.
COINCIDENT_MM: Final = 1e-6

#: Rounding allowance for a length computed from coordinates of size ``extent_mm``:
#: 2**-52 times a handful of operations, kept well under the 1e-9 mm per 100 mm we promise.
RELATIVE_ROUNDING: Final = 1e-12

#: A bulge smaller than this is a straight edge: the sagitta of a 1 m chord is then 0.5e-9 mm.
STRAIGHT_BULGE: Final = 1e-12

#: Chord error of facets handed to shapely to decide topology: a micrometre.
FACET_MM: Final = 1e-3

#: Default deviation allowed when splines, ellipses and point runs become arcs.
ARC_FIT_MM: Final = 2e-3

#: Edges that meet within this turn are tangent (radians): 1 µm of step over 1 mm of edge.
TANGENT_RAD: Final = 1e-3

#: A drawing whose outlines are smaller than this across is taken for one in another unit:
#: no guide can hold a part below a millimetre.
PART_SMALLEST_MM: Final = 1.0

#: A drawing whose outlines are larger than this across is taken for one in another unit:
#: twice the bed of a common sheet laser (1.5 m), so that a page of nested parts still reads.
PART_LARGEST_MM: Final = 3000.0

#: Engraving keeps this far from every cut: a wall that sets zero must not be scarred, and a
#: letter half cut away is misread.
MARK_CLEAR_MM: Final = 1.0

#: A curve whose speed falls below this share of its greatest stops there: a cusp, cut as a corner.
CUSP_SPEED: Final = 1e-6

#: A full kerf above this is no laser's: a wrong unit, or half against full.
GREATEST_KERF_MM: Final = 2.0

#: An axis further off its scale than this is not corrected but mended at the laser.
GREATEST_SCALE_ERROR: Final = 0.02

#: Kerfs written on one card may differ by rounding to a micrometre, and no more.
CARD_AGREES_MM: Final = 1e-3

#: An arc chain may miss the heading of a curve at its end by this (radians): a quarter of what
#: still counts as tangent.
END_HEADING_RAD: Final = 2.5e-4
