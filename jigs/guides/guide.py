"""What every guide kind returns: plates of finished size, named faces, contacts, the pose.

Frames. *Part*: as drawn. *Sheet*: the plate as it lies in use, seen so that the machine's axes
run right and up, lower left corner at (0, 0); that is also how it lies in the laser, unless its
lean is opposed (``jigs.in_laser``). *Machine*: the plate as it stands in the set-up; ``Plane``
says which machine axes the sheet's x and y follow, and along which axis its thickness lies.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from jigs.finding import Finding
from jigs.holding.bond import HoldingPin
from jigs.locating.contacts import Contact, FrameSource
from kerf.beam import Operation, Stroke
from kerf.contour import Point, Region, Transform, Vector

if TYPE_CHECKING:
    from jigs.guides.dowels import Stack
    from jigs.guides.machined import MachinedPlate
    from jigs.locating.choose import Choice


class Plane(StrEnum):
    """How the sheet stands in the machine: axis of the sheet's x, then of its y."""

    XY = "XY"
    XZ = "XZ"
    YZ = "YZ"

    @property
    def axes(self) -> tuple[str, str, str]:
        """Machine axes of the sheet's x, of its y, and of its thickness."""
        return {"XY": ("X", "Y", "Z"), "XZ": ("X", "Z", "Y"), "YZ": ("Y", "Z", "X")}[self.value]


class SetBy(StrEnum):
    """What a machine axis is zeroed from."""

    GUIDE_FACE = "guide face"
    PART_FACE = "part face"
    JAW = "jaw"
    PLATE = "plate"


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """A straight, named, engraved edge of a plate from which the machine is zeroed.

    Args:
        name: engraved name ("A").
        plate: name of the plate it belongs to.
        start, end: ends of the straight edge in sheet coordinates, mm, material on the left.
        normal: unit outward normal (out of the plate), sheet coordinates.
    """

    name: str
    plate: str
    start: Point
    end: Point
    normal: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """One piece of sheet at its finished size.

    Args:
        name: plate name, also the stem of its file names.
        region: finished size in sheet coordinates, mm.
        strokes: marks to burn and references to show, sheet coordinates.
        to_part: sheet → part transform (the part's pose in the plate).
        stock: key of the sheet in the shop file.
        thickness_mm: measured thickness of that sheet.
        lines: what else is engraved on it, one text a line.
        touches: names of the contacts that lie on it; all of the guide's when None.
        gap_mm: gap between the part's outline and the plate, when it is not the guide's
            clearance; negative where the part must not go in.
        is_under: whether it lies under the part or away from it, so that the part's outline
            may cross it.
        is_small: whether it is a small piece that bears its name and job alone.
        low_mm: height of its underside above the lowest plate's, mm.
        spots: what the picture names on it: name and place, sheet coordinates, mm.
        is_mirrored: whether these coordinates are those of a cut file that holds its mirror
            image, because it is turned over in use.
    """

    name: str
    region: Region
    strokes: tuple[Stroke, ...]
    to_part: Transform
    stock: str
    thickness_mm: float
    lines: tuple[str, ...] = ()
    touches: tuple[str, ...] | None = None
    gap_mm: float | None = None
    is_under: bool = False
    is_small: bool = False
    low_mm: float = 0.0
    spots: tuple[tuple[str, Point], ...] = ()
    is_mirrored: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """A jaw, stop or table as a line beside the plate or the part, for the picture.

    Args:
        name: what is written ("jaw top").
        start, end: ends of the line, sheet coordinates of the first plate, mm.
        normal: unit normal from it toward what it stops.
    """

    name: str
    start: Point
    end: Point
    normal: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Jaws:
    """How plate and part stand between a vise's jaws, along the sheet's thickness.

    Args:
        fixed: machine side on which the fixed jaw stands ("+Y").
        opening_mm: how far the jaws are apart: what they grip, mm.
        squeezed: what the moving jaw presses: the part, or the plate when it is the spacer.
    """

    fixed: str
    opening_mm: float
    squeezed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Datum:
    """How one machine axis is set.

    Args:
        axis: "X", "Y" or "Z".
        face: name of the face, or a short phrase for a part face, jaw or plate.
        set_by: what kind of thing it is.
        side: from which side it is touched, in machine terms ("-X").
        offset_mm: machine coordinate of the face when program zero reads 0, mm.
        u_mm: standard uncertainty of the offset, mm.
        pick_up: how it is picked up, in words, without numbers.
        finder: name of the finder or probe; empty when none is used.
        tip_radius_mm: how far the spindle stands from the face at touch, mm, >= 0.
        reading_mm: what the axis must read at touch: the offset and the tip radius with its
            sign, mm.
    """

    axis: str
    face: str
    set_by: SetBy
    side: str
    offset_mm: float
    u_mm: float
    pick_up: str
    finder: str
    tip_radius_mm: float
    reading_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckSize:
    """A dimension of the finished plate to measure after cutting.

    Args:
        name: what is measured ("A to opposite edge").
        nominal_mm: finished size, mm.
        plus_minus_mm: ± within which the guide serves, mm.
        start, end: ends of the dimension, sheet coordinates, mm.
        plate: name of the plate it is measured on; empty for the first.
    """

    name: str
    nominal_mm: float
    plus_minus_mm: float
    start: Point
    end: Point
    plate: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """A guide of any kind.

    Args:
        kind: the table's key ("nest").
        plane: how the sheet stands in the machine.
        plates: one or more plates.
        faces: the faces the machine is zeroed from.
        contacts: where the part touches.
        datums: how X, Y and Z are set.
        checks: what to measure after cutting.
        clearance_mm: asked clearance per side, mm.
        pocket: free space the part floats in, part coordinates; None when it rests against
            ``contacts``.
        room: free space of a guide whose walls go round the part, part coordinates, for asking
            which other ways it goes in; None where the guide is open.
        seat_mm: for a sheet that lies flat, height of the part's underside above the plate's
            underside, mm: 0 when both stand on the bed, negative when the plate lies on the jaws.
        findings: what the kind itself has to say.
        rests: what else stands in the picture.
        jaws: for a plate that stands in a vise; None when it lies flat.
        words: what the sheet says of its use.
        pad_mm: width of a pad where the part touches, mm; 0 when the walls touch as they are.
        pins: pins in the part's bores, which stand up and take side load.
        frame: causes that move the whole guide; None for those of its laser-cut faces.
        base: the plate that carries the part, when it is machined and not laser-cut.
        stack: layers and dowels, when the plates lie on one another.
        copies: how far each of several like pockets lies from the first, sheet axes, mm.
        choice: how the contacts were chosen; None when they were given or there are none.
        bolts: where the first plate is bolted to the table, part coordinates.
    """

    kind: str
    plane: Plane
    plates: tuple[Plate, ...]
    faces: tuple[Face, ...]
    contacts: tuple[Contact, ...]
    datums: tuple[Datum, ...]
    checks: tuple[CheckSize, ...]
    clearance_mm: float
    pocket: Region | None = None
    room: Region | None = None
    seat_mm: float = 0.0
    findings: tuple[Finding, ...] = ()
    rests: tuple[Rest, ...] = ()
    jaws: Jaws | None = None
    pad_mm: float = 0.0
    words: tuple[str, ...] = ()
    pins: tuple[HoldingPin, ...] = ()
    frame: tuple[FrameSource, ...] | None = None
    base: MachinedPlate | None = None
    stack: Stack | None = None
    copies: tuple[Vector, ...] = (Vector(0.0, 0.0),)
    choice: Choice | None = None
    bolts: tuple[Point, ...] = ()

    @property
    def tape(self) -> tuple[Region, ...] | None:
        """Where the guide itself lays tape, part coordinates; None when it does not say."""
        if self.base is None or not self.base.tape_name:
            return None
        return tuple(zone.transformed(self.base.to_part) for zone in self.base.tape)

    def moved(self, dx_mm: float, dy_mm: float) -> Guide:
        """Return the same guide with its sheets' coordinates shifted, mm.

        Contacts and datums do not change: they are the part's and the machine's.
        """
        by = Transform.translation(dx_mm, dy_mm)
        return self.laid({plate.name: by for plate in self.plates})

    def laid(self, by: Mapping[str, Transform]) -> Guide:
        """Return the same guide with each plate's sheet coordinates mapped.

        Contacts and datums do not change: they are the part's and the machine's.

        Args:
            by: for each plate's name, the map: a turn, a shift, or a mirror.
        """
        first = by[self.plates[0].name]
        return replace(
            self,
            plates=tuple(
                replace(
                    plate,
                    region=plate.region.transformed(by[plate.name]),
                    strokes=tuple(
                        replace(s, points=tuple(by[plate.name].point(*p) for p in s.points))
                        for s in plate.strokes
                    ),
                    to_part=by[plate.name].inverse().then(plate.to_part),
                    spots=tuple((name, by[plate.name].point(*at)) for name, at in plate.spots),
                )
                for plate in self.plates
            ),
            faces=tuple(_laid_face(face, by[face.plate]) for face in self.faces),
            checks=tuple(
                replace(
                    c,
                    start=by.get(c.plate, first).point(*c.start),
                    end=by.get(c.plate, first).point(*c.end),
                )
                for c in self.checks
            ),
            rests=tuple(
                replace(
                    r,
                    start=first.point(*r.start),
                    end=first.point(*r.end),
                    normal=first.vector(*r.normal),
                )
                for r in self.rests
            ),
            copies=tuple(first.vector(*shift) for shift in self.copies),
        )


def _laid_face(face: Face, by: Transform) -> Face:
    """Return the face after a map; after a mirror the material is left of it the other way."""
    ends = (by.point(*face.start), by.point(*face.end))
    start, end = ends if by.determinant > 0.0 else ends[::-1]
    return replace(face, start=start, end=end, normal=by.vector(*face.normal))


def part_outline(outline: Region, piece: str) -> tuple[Stroke, ...]:
    """Return the part's outline as a reference line for the eye, never burnt."""
    points = [Point(float(x), float(y)) for x, y in outline.outer.facets(0.02)]
    return (Stroke(operation=Operation.REFERENCE, points=(*points, points[0]), piece=piece),)
