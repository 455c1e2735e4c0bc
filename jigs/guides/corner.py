"""Corner guide: two walls that meet, against which the part is pushed.

For a part with two straight edges square to each other. The walls stand back from those
edges by the clearance; three pads come up to touch, two on one wall and one on the other,
where the locating engine puts them, so that chips and a bowed edge do not lift the part. The
corner between the walls is relieved, because the part's own corner must never touch it. The
outer edges of the plate are parallel to the walls: one pick-up of each gives both zeros.
Left- or right-handed: the side wall stands left or right of the part.

Refused: no straight edge along the lower wall or the side wall in this turn; the message
names the turns that would put one there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from jigs.datum import face_datum, height_datum, zero_in_sheet
from jigs.guides.edges import edges_along, edges_in_part, turns_hint
from jigs.guides.guide import CheckSize, Face, Guide, Plane, Plate, part_outline
from jigs.guides.resting import face_frame, off_cuts, resting
from jigs.locating.contacts import Contact
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Shop
from jigs.table import Table
from kerf.beam import KerfCard
from kerf.boolean import difference, union
from kerf.contour import Contour, Point, Region, Transform, Vector
from kerf.errors import InputError

HANDS = ("left", "right")


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerOptions:
    """The corner guide's own keys of a set-up.

    Args:
        hand: side on which the side wall stands.
        wall_mm: width of a wall, outer edge to pad face, mm.
        relief_mm: radius of the relief between the walls, mm.
        pad_mm: width of a pad, mm.
        reach: share of the part's side that a wall covers.
    """

    hand: str
    wall_mm: float
    relief_mm: float
    pad_mm: float
    reach: float


def read_options(table: Table) -> CornerOptions:
    """Read the corner guide's own keys.

    Source: burr relief 1.5 to 3 mm at corners, common practice.
    """
    return CornerOptions(
        hand=table.choice("hand", HANDS, "left"),
        wall_mm=table.length_mm("wall", 30.0, least=6.0),
        relief_mm=table.length_mm("relief", 3.0, least=0.5),
        pad_mm=table.length_mm("pad", 6.0, least=1.0),
        reach=table.number("reach", 0.9, above=0.2, most=1.5),
    )


def make(part: Part, setup: Setup, shop: Shop) -> Guide:
    """Return the corner guide for a part.

    Raises:
        InputError: no straight edges to rest on in this turn; no three contacts; a name that
            the shop file does not have.
    """
    options = setup.options
    assert isinstance(options, CornerOptions)
    sheet = shop.sheet(setup.sheet, where=setup.key_path + ".sheet")
    _, card = shop.laser_for(setup.sheet, setup.laser, where=setup.key_path + ".laser")
    finder = shop.finder(setup.finder, where=setup.key_path + ".finder")

    # Worked out left-handed; a right hand is its mirror image.
    hand = Transform() if options.hand == "left" else Transform.mirror_y()
    pose = setup.pose().then(hand)
    outline = Region(outer=part.region.outer.transformed(pose))
    box = outline.bounds()
    low = edges_along(outline, Vector(0.0, 1.0), box.y_min)
    side = edges_along(outline, Vector(1.0, 0.0), box.x_min)
    for found, wall in ((low, "lower"), (side, "side")):
        if not found:
            raise InputError(
                f'corner guide "{setup.name}": no straight edge of the part lies along the '
                f"{wall} wall",
                where=setup.key_path + ".turn",
                hint=turns_hint(part.region, options.hand),
            )
    lower_edges, side_edges = edges_in_part(part, pose, low), edges_in_part(part, pose, side)
    normals = (hand.vector(-1.0, 0.0), Vector(0.0, -1.0))
    rests = resting(
        part,
        setup,
        card=card,
        frame=face_frame(normals, to_part=setup.pose().inverse(), finder=finder, card=card),
        keep_mm=options.pad_mm / 2 + options.relief_mm,
        pad_mm=options.pad_mm,
        at_place=off_cuts(part, setup, thickness_mm=sheet.thickness_mm),
        on_edge=lambda loop, edge: loop == 0 and edge in lower_edges | side_edges,
    )
    shape = _plate_shape(outline, rests.contacts, pose, setup, options)
    frame_box = shape.transformed(hand).bounds()
    to_sheet = Transform.translation(-frame_box.x_min, -frame_box.y_min)
    region = shape.transformed(hand.then(to_sheet))
    part_to_sheet = setup.pose().then(to_sheet)
    plate = Plate(
        name=setup.name,
        region=region,
        strokes=part_outline(part.region.transformed(part_to_sheet), setup.name),
        to_part=part_to_sheet.inverse(),
        stock=sheet.name,
        thickness_mm=sheet.thickness_mm,
    )
    faces = _faces(plate, options.hand)
    zero = zero_in_sheet(setup, plate.to_part)
    return Guide(
        kind="corner",
        plane=Plane.XY,
        plates=(plate,),
        faces=faces,
        contacts=rests.contacts,
        datums=(
            *(
                face_datum(face, plane=Plane.XY, zero=zero, finder=finder, card=card)
                for face in faces
            ),
            height_datum(part, setup, finder=finder),
        ),
        checks=_checks(plate, faces, rests.contacts, card),
        clearance_mm=setup.clearance_mm,
        findings=rests.findings,
        pad_mm=options.pad_mm,
        choice=rests.choice,
    )


def _plate_shape(
    outline: Region,
    contacts: tuple[Contact, ...],
    pose: Transform,
    setup: Setup,
    options: CornerOptions,
) -> Region:
    """Return the plate, left-handed, in the set-up's turn."""
    box = outline.bounds()
    c, w = setup.clearance_mm, options.wall_mm
    x0, y0 = box.x_min, box.y_min
    # The walls reach past the outermost pads, however short `reach` asks them to be.
    places = [pose.point(*contact.at) for contact in contacts]
    past = options.pad_mm
    x1 = max(x0 + options.reach * box.width, *(p.x + past for p in places))
    y1 = max(y0 + options.reach * box.height, *(p.y + past for p in places))
    walls = Region(
        outer=Contour.of(
            (
                (x0 - w, y0 - w),
                (x1, y0 - w),
                (x1, y0 - c),
                (x0 - c, y0 - c),
                (x0 - c, y1),
                (x0 - w, y1),
            )
        )
    )
    pads = []
    for contact in contacts:
        at, normal = pose.point(*contact.at), pose.vector(*contact.normal)
        half, deep = options.pad_mm / 2, min(w / 2, c + 1.0)
        pads.append(
            Region(
                outer=Contour.of(
                    (
                        (at.x + normal.y * half, at.y - normal.x * half),
                        (at.x - normal.y * half, at.y + normal.x * half),
                        (
                            at.x - normal.y * half - normal.x * deep,
                            at.y + normal.x * half - normal.y * deep,
                        ),
                        (
                            at.x + normal.y * half - normal.x * deep,
                            at.y - normal.x * half - normal.y * deep,
                        ),
                    )
                )
            )
        )
    whole = union((walls, *pads)) if c > 0 else (walls,)
    relief = Region(outer=Contour.circle(x0 - c, y0 - c, options.relief_mm))
    left = difference(whole[0], (relief,))
    if len(whole) != 1 or len(left) != 1:
        raise InputError(
            f'corner guide "{setup.name}": the plate falls apart',
            where=setup.key_path,
            hint="widen the wall or make the relief smaller",
        )
    return left[0]


def _faces(plate: Plate, hand: str) -> tuple[Face, ...]:
    """Return the outer edges parallel to the walls."""
    box = plate.region.bounds()
    x = box.x_min if hand == "left" else box.x_max
    side = (Point(x, box.y_max), Point(x, box.y_min))
    return (
        Face(
            name="X",
            plate=plate.name,
            start=side[0] if hand == "left" else side[1],
            end=side[1] if hand == "left" else side[0],
            normal=Vector(-1.0 if hand == "left" else 1.0, 0.0),
        ),
        Face(
            name="Y",
            plate=plate.name,
            start=Point(box.x_min, box.y_min),
            end=Point(box.x_max, box.y_min),
            normal=Vector(0.0, -1.0),
        ),
    )


def _checks(
    plate: Plate, faces: tuple[Face, ...], contacts: tuple[Contact, ...], card: KerfCard
) -> tuple[CheckSize, ...]:
    """Return the sizes that set zero: each face across its wall to the pads on it."""
    limit = max(2 * card.u_mm, 0.02)
    to_sheet = plate.to_part.inverse()
    checks = []
    for contact in contacts:
        at, normal = to_sheet.point(*contact.at), to_sheet.vector(*contact.normal)
        for face in faces:
            if normal.x * face.normal.x + normal.y * face.normal.y > -0.9:
                continue
            across_x = abs(face.normal.x) > 0.5
            foot = Point(face.start.x, at.y) if across_x else Point(at.x, face.start.y)
            checks.append(
                CheckSize(
                    name=f"face {face.name} to pad {contact.name}",
                    nominal_mm=math.dist(foot, at),
                    plus_minus_mm=limit,
                    start=foot,
                    end=at,
                )
            )
    return tuple(checks)
