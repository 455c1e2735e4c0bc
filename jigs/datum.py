"""From named faces to machine axes: what sets X, Y and Z, from which side, and how far.

The sheet's axes lie along machine axes (``Plane.axes``). A face's offset is the machine
coordinate of the face when program zero reads 0: the face's sheet coordinate less that of
the zero point. A finder with tip radius r touching a face whose outward normal points
along −X stands r short of it, so at touch the axis must read offset − r; from the + side
it reads offset + r.

Uncertainty of an offset, first order (JCGM 100, 5.1.2): a kerf in error by δ moves every cut
wall by δ/2 along its normal; the centre of a pocket does not move, a single face does, so
half of the card's u enters; the finder's u and, for Z, the sheet's or part's own join it
in quadrature.
"""

from __future__ import annotations

import math

from jigs.guides.guide import Datum, Face, Plane, SetBy
from jigs.part import Part
from jigs.setup import Flip, Setup
from jigs.shop import Finder
from kerf.beam import KerfCard
from kerf.contour import Point, Transform

#: ISO 2768-1 class m for sizes over 6 up to 30 mm, taken for a part height nobody
#: toleranced: ±0.2 mm. Source: ISO 2768-1, table 1.
UNTOLERANCED_HEIGHT_MM = 0.2


def face_datum(face: Face, *, plane: Plane, zero: Point, finder: Finder, card: KerfCard) -> Datum:
    """Return how the axis square to a face is set.

    Args:
        face: a face along one of the sheet's axes.
        plane: how the sheet stands.
        zero: program zero in sheet coordinates, mm.
        finder: what touches the face.
        card: the kerf the face was cut with.
    """
    along_x = abs(face.normal.x) > abs(face.normal.y)
    axis = plane.axes[0] if along_x else plane.axes[1]
    sign = math.copysign(1.0, face.normal.x if along_x else face.normal.y)
    offset_mm = face.start.x - zero.x if along_x else face.start.y - zero.y
    return Datum(
        axis=axis,
        face=f"face {face.name}",
        set_by=SetBy.GUIDE_FACE,
        side=("+" if sign > 0 else "−") + axis,
        offset_mm=offset_mm,
        u_mm=math.hypot(card.u_mm / 2, finder.u_mm),
        pick_up=f"touch face {face.name} from {'+' if sign > 0 else '−'}{axis}",
        finder=finder.name,
        tip_radius_mm=finder.radius_mm,
        reading_mm=offset_mm + sign * finder.radius_mm,
    )


def height_datum(part: Part, setup: Setup, *, finder: Finder) -> Datum:
    """Return how Z is set for a guide that lies flat, the part standing on the bed with it.

    Zero at the part's upper face is touched there; any other height is set from the bed.
    """
    z = setup.zero_mm[2]
    above_bed = z if setup.flip is Flip.NONE else part.height_mm - z
    if math.isclose(above_bed, part.height_mm, abs_tol=1e-9):
        return Datum(
            axis="Z",
            face="part's upper face",
            set_by=SetBy.PART_FACE,
            side="+Z",
            offset_mm=0.0,
            u_mm=finder.u_mm,
            pick_up="touch the part's upper face with the tool, or a block of known height",
            finder="",
            tip_radius_mm=0.0,
            reading_mm=0.0,
        )
    return Datum(
        axis="Z",
        face="bed under the part",
        set_by=SetBy.PLATE,
        side="+Z",
        offset_mm=-above_bed,
        u_mm=finder.u_mm,
        pick_up="touch the bed that the part stands on with the tool, or a block of known height",
        finder="",
        tip_radius_mm=0.0,
        reading_mm=-above_bed,
    )


def jaw_datum(
    part: Part, setup: Setup, *, plane: Plane, fixed: str, away: bool, finder: Finder
) -> Datum:
    """Return how the axis across the jaws is set: by the part's own face on the fixed jaw.

    The part's z runs out of the sheet toward the eye, which looks along +Y at XZ and along −X
    at YZ; the jaw away from the eye carries the face that is lowest there.

    Args:
        part: gives the size across the jaws.
        setup: its zero and flip.
        plane: how the sheet stands.
        fixed: machine side of the fixed jaw ("+Y").
        away: whether that jaw stands away from the eye.
        finder: what touches the jaw.
    """
    axis = plane.axes[2]
    z = setup.zero_mm[2] if setup.flip is Flip.NONE else part.height_mm - setup.zero_mm[2]
    deep = -z if away else part.height_mm - z  # of the face on the jaw, toward the eye
    offset_mm = -deep if plane is Plane.XZ else deep
    sign = -1.0 if fixed.startswith("+") else 1.0
    side = ("+" if sign > 0 else "−") + axis
    return Datum(
        axis=axis,
        face="fixed jaw, the part's face on it",
        set_by=SetBy.JAW,
        side=side,
        offset_mm=offset_mm + 0.0,
        u_mm=finder.u_mm,
        pick_up=f"touch the fixed jaw beside the plate from {side}; part and plate lie flat on it",
        finder=finder.name,
        tip_radius_mm=finder.radius_mm,
        reading_mm=offset_mm + sign * finder.radius_mm,
    )


def zero_in_sheet(setup: Setup, to_part: Transform) -> Point:
    """Return program zero in sheet coordinates, mm.

    Args:
        setup: the set-up.
        to_part: sheet → part.
    """
    return to_part.inverse().point(setup.zero_mm[0], setup.zero_mm[1])
