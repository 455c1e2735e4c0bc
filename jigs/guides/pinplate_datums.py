"""How X, Y and Z are set on a pin plate: from its own machined edges and its decked face."""

from __future__ import annotations

import math
from dataclasses import replace

from jigs.datum import face_datum, height_datum, zero_in_sheet
from jigs.guides.guide import Datum, Face, Plane, SetBy
from jigs.guides.machined import MachinedPlate
from jigs.part import Part
from jigs.setup import Flip, Setup
from jigs.shop import Finder
from kerf.beam import KerfCard


def plate_datums(
    part: Part,
    setup: Setup,
    machined: MachinedPlate,
    faces: tuple[Face, ...],
    *,
    finder: Finder,
    card: KerfCard,
) -> tuple[Datum, ...]:
    """Return how the three axes are set.

    Args:
        part, setup: what is set up.
        machined: the plate.
        faces: its datum edges X and Y, plate coordinates.
        finder: what touches them.
        card: kerf of the sheet; it does not move a machined edge.
    """
    zero = zero_in_sheet(setup, machined.to_part)
    edges = tuple(
        replace(found, set_by=SetBy.PLATE, u_mm=finder.u_mm, pick_up=_pick_up(face, found.side))
        for face in faces
        for found in (face_datum(face, plane=Plane.XY, zero=zero, finder=finder, card=card),)
    )
    return (*edges, _height(part, setup, machined, finder=finder))


def _pick_up(face: Face, side: str) -> str:
    return f"touch the plate's own edge {face.name} from {side}"


def _height(part: Part, setup: Setup, machined: MachinedPlate, *, finder: Finder) -> Datum:
    """Return how Z is set: at the part's upper face when zero is there, else at the deck."""
    datum = height_datum(part, setup, finder=finder)
    if datum.set_by is SetBy.PART_FACE:
        return datum
    between = machined.layers[1:-1]
    z = setup.zero_mm[2]
    above = z if setup.flip is Flip.NONE else part.height_mm - z
    offset_mm = -(above + sum(layer.thickness_mm for layer in between))
    return replace(
        datum,
        face="plate's decked face",
        offset_mm=offset_mm,
        u_mm=math.hypot(finder.u_mm, *(layer.u_mm for layer in between)),
        pick_up="touch the plate's decked face with the tool, or a block of known height",
        reading_mm=offset_mm,
    )
