"""Standing guide: a plate upright in the vise whose cut edges carry the part's side view.

The sheet stands in XZ or YZ, flat on the fixed jaw beside the part: its x runs along the jaws,
its y up, its thickness lies across them. The part rests in it on three pads, two under it that
carry its weight and one at its side, so the plate gives, say, X and Z; the part's own face on
the fixed jaw, coplanar with the plate's, gives Y. Everything above the part's widest points is
open: the part drops in from above and the tool comes down to it.

The foot under the part is as high as jaws and parallels ask, so that the jaws cover `grip` of
the part and the faces that set zero stand `clear` above them. The Z face and the pads under the
part face the same way, so a kerf wider than its card moves both alike and Z does not change.

Two supports hold the part against gravity only when its weight falls between them, and on a
sloping flank only when the third contact takes what slides: the choice of contacts asks for
that, without friction, and contacts given by hand are checked for it.

Assumed: the view is the part's shape at every depth, so its centre of mass is the view's.
Refused: no vise in the shop file; an outline that would let the part drop, in any layout.
"""

from __future__ import annotations

import contextlib
import math
from dataclasses import dataclass, replace

from jigs.datum import face_datum, jaw_datum, zero_in_sheet
from jigs.finding import Finding, Severity
from jigs.guides.guide import CheckSize, Face, Guide, Jaws, Plane, Plate, Rest, part_outline
from jigs.guides.pads import padded
from jigs.guides.pocket import (
    SHARPEST_INSIDE_MM,
    corner_reliefs,
    furthest_point,
    opened,
    pocket_wall,
)
from jigs.guides.resting import Resting, face_frame, named_by_axis, resting
from jigs.guides.vise import FIXED, Stand, check_vise, vise_of
from jigs.holding.means import Mill
from jigs.locating.clamping import clamp_reactions
from jigs.locating.contacts import Contact, FrameSource
from jigs.locating.seating import Push
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Shop
from jigs.table import Table
from kerf.beam import KerfCard
from kerf.boolean import difference, union
from kerf.contour import Contour, Point, Region, Transform, Vector
from kerf.errors import GeometryError, InputError
from kerf.lean import LeanUse
from kerf.moments import centroid
from kerf.tolerance import COINCIDENT_MM, WEIGHT_CARRIED

UP, DOWN = Vector(0.0, 1.0), Vector(0.0, -1.0)

#: A pad carries the part where its normal rises at least this much. Level edges are taken where
#: they serve; a flank steeper than 45° wedges.
LEVEL_RISE = math.cos(math.radians(15.0))
FLANK_RISE = math.cos(math.radians(45.0))

#: The side pad's normal runs along the jaws within this cosine.
SIDE_ALONG = math.cos(math.radians(30.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingOptions:
    """The standing guide's own keys of a set-up.

    Args:
        side: side of the part on which the side pad and the face along the jaws stand.
        fixed_jaw: machine side of the fixed jaw; empty for the usual one.
        grip_mm: height of part between the jaws, mm; 0 for half of it.
        parallels_mm: height of what the plate stands on, above the vise's floor, mm.
        foot_mm: plate under the part's lowest point, mm; 0 for as much as the jaws ask.
        wall_mm: width of plate beside the part, mm.
        rise_mm: how far the walls rise above the part's lowest point, mm; 0 for as far as the
            jaws ask.
        clear_mm: height of the zero faces above the jaws, mm.
        gap_mm: by how much the plate must be thinner than the part, mm.
        spacer: whether the jaws press the plate instead of the part, by choice.
        pad_mm: width of a pad, mm.
        relief_mm: radius of a corner relief, mm.
    """

    side: str
    fixed_jaw: str
    grip_mm: float
    parallels_mm: float
    foot_mm: float
    wall_mm: float
    rise_mm: float
    clear_mm: float
    gap_mm: float
    spacer: bool
    pad_mm: float
    relief_mm: float


def read_options(table: Table) -> StandingOptions:
    """Read the standing guide's own keys."""
    every = ("", *(side for sides in FIXED.values() for side in sides))
    return StandingOptions(
        side=table.choice("side", ("left", "right"), "left"),
        fixed_jaw=table.choice("fixed_jaw", every, ""),
        grip_mm=table.length_mm("grip", 0.0, least=0.0),
        parallels_mm=table.length_mm("parallels", 0.0, least=0.0),
        foot_mm=table.length_mm("foot", 0.0, least=0.0),
        wall_mm=table.length_mm("wall", 25.0, least=8.0),
        rise_mm=table.length_mm("rise", 0.0, least=0.0),
        clear_mm=table.length_mm("clear", 10.0, least=0.0),
        gap_mm=table.length_mm("gap", 0.2, least=0.0),
        spacer=table.flag("spacer", False),
        pad_mm=table.length_mm("pad", 6.0, least=1.0),
        relief_mm=table.length_mm("relief", 1.5, least=SHARPEST_INSIDE_MM),
    )


def make(part: Part, setup: Setup, shop: Shop) -> Guide:
    """Return the standing guide for a part.

    Raises:
        InputError: no vise; the part would drop; the clearance closes a gap; a name that the
            shop file does not have.
    """
    options = setup.options
    assert isinstance(options, StandingOptions)
    sheet = shop.sheet(setup.sheet, where=setup.key_path + ".sheet")
    _, card = shop.laser_for(setup.sheet, setup.laser, where=setup.key_path + ".laser")
    finder = shop.finder(setup.finder, where=setup.key_path + ".finder")
    mill, plane = vise_of(shop, setup), Plane(setup.plane)
    fixed = _fixed(setup, plane, options)

    outline = Region(outer=part.region.outer.transformed(setup.pose()))
    stand = _stand(outline, mill, options, thickness_mm=sheet.thickness_mm)
    above_mm = max(stand.top_mm, outline.bounds().y_max) + 10.0
    void = opened(pocket_wall(outline, setup), up_to_mm=above_mm)
    left = options.side == "left"
    across = Vector(-1.0, 0.0) if left else Vector(1.0, 0.0)
    weight = Push(at=centroid(part.region), along=setup.pose().inverse().vector(*DOWN))
    rests = _rests(part, setup, card, void, stand, across, weight, face_frame(
        (across, UP), to_part=setup.pose().inverse(), finder=finder, card=card
    ))  # fmt: skip
    contacts = named_by_axis(rests.contacts, setup)
    shape = _plate_shape(outline, void, contacts, stand, setup, card)
    box = shape.bounds()
    to_sheet = Transform.translation(-box.x_min, -box.y_min)
    part_to_sheet = setup.pose().then(to_sheet)
    away = fixed == FIXED[plane][0]
    plate = Plate(
        name=setup.name,
        region=shape.transformed(to_sheet),
        strokes=part_outline(outline.transformed(to_sheet), setup.name),
        to_part=part_to_sheet.inverse(),
        stock=sheet.name,
        thickness_mm=sheet.thickness_mm,
        lines=(_stands(setup.lean, away=away),),
    )
    jaw_top_mm = to_sheet.point(0.0, stand.jaw_top_mm).y
    faces = _faces(plate, plane, left=left, above_mm=jaw_top_mm)
    zero = zero_in_sheet(setup, plate.to_part)
    along, up = (
        face_datum(face, plane=plane, zero=zero, finder=finder, card=card) for face in faces
    )
    jaw = jaw_datum(part, setup, plane=plane, fixed=fixed, away=away, finder=finder)
    rise = replace(
        up,
        pick_up="touch face Z from above with the tool, or a block of known height",
        finder="",
        tip_radius_mm=0.0,
        reading_mm=up.offset_mm,
    )
    subject = f'standing guide "{setup.name}"'
    return Guide(
        kind="standing",
        plane=plane,
        plates=(plate,),
        faces=faces,
        contacts=contacts,
        datums=tuple(sorted((along, jaw, rise), key=lambda datum: datum.axis)),
        checks=_checks(plate, faces, contacts, card),
        clearance_mm=setup.clearance_mm,
        findings=(
            *rests.findings,
            *check_weight(contacts, weight, subject=subject),
            *check_vise(
                mill,
                stand,
                part=part,
                outline=outline.bounds(),
                plate=box,
                sheet=sheet,
                finder=finder,
                grip_mm=options.grip_mm,
                gap_mm=options.gap_mm,
                clear_mm=options.clear_mm,
                spacer=options.spacer,
                subject=subject,
            ),
        ),
        rests=_picture(plate, stand.parallels_mm, jaw_top_mm),
        jaws=Jaws(
            fixed=fixed,
            opening_mm=max(part.height_mm, sheet.thickness_mm),
            squeezed="plate" if options.spacer else "part",
        ),
        pad_mm=options.pad_mm,
        choice=rests.choice,
    )


def _stands(use: LeanUse, *, away: bool) -> str:
    """Return which jaw the plate says it faces.

    Args:
        use: cut as drawn, its engraved side faces the eye; turned over, it looks away.
        away: whether the fixed jaw is the one away from the eye.
    """
    if use is LeanUse.ALLOWED:
        return f"THIS SIDE TO {'MOVING' if away else 'FIXED'} JAW"
    return f"ENGRAVED SIDE TO {'FIXED' if away else 'MOVING'} JAW"


def _fixed(setup: Setup, plane: Plane, options: StandingOptions) -> str:
    """Return the side of the fixed jaw, checked against the plane."""
    if options.fixed_jaw in ("", *FIXED[plane]):
        return options.fixed_jaw or FIXED[plane][0]
    raise InputError(
        f"the fixed jaw cannot stand at {options.fixed_jaw} of a plate in {plane}: "
        f"it lies along {plane.axes[2]}",
        where=setup.key_path + ".fixed_jaw",
        hint=f"write {' or '.join(FIXED[plane])}, or choose the other plane",
    )


def _stand(outline: Region, mill: Mill, options: StandingOptions, *, thickness_mm: float) -> Stand:
    """Return the heights: what the job gives, and else what jaws and parallels ask."""
    box = outline.bounds()
    jaw = mill.jaw_height_mm - options.parallels_mm
    grip = options.grip_mm or box.height / 2
    least = max(2 * thickness_mm, options.relief_mm + thickness_mm + options.pad_mm)
    foot = options.foot_mm or max(least, jaw - grip)
    floor = box.y_min - foot
    jaw_top = floor + jaw
    rise = options.rise_mm or max(
        0.6 * box.height, jaw_top + options.clear_mm - box.y_min, 2 * options.pad_mm
    )
    return Stand(
        floor_mm=floor,
        jaw_top_mm=jaw_top,
        top_mm=box.y_min + rise,
        parallels_mm=options.parallels_mm,
    )


def _rests(
    part: Part,
    setup: Setup,
    card: KerfCard,
    void: Region,
    stand: Stand,
    across: Vector,
    weight: Push,
    frame: tuple[FrameSource, ...],
) -> Resting:
    """Return where the part rests: two pads under it, one at its side."""
    options, pose = setup.options, setup.pose()
    assert isinstance(options, StandingOptions)

    def is_offered(contact: Contact, rise: float) -> bool:
        at, normal = pose.point(*contact.at), pose.vector(*contact.normal)
        side = -(normal.x * across.x + normal.y * across.y)
        if normal.y < rise and side < SIDE_ALONG:
            return False
        if 0.0 < contact.radius_mm < options.pad_mm:
            return False  # a pad round a small corner is no place to rest
        behind = setup.clearance_mm + options.pad_mm / 2
        x, y = at.x - behind * normal.x, at.y - behind * normal.y
        return at.y < stand.top_mm - options.pad_mm and not void.contains(x, y)

    def rests(rise: float) -> Resting:
        return resting(
            part,
            setup,
            card=card,
            frame=frame,
            keep_mm=options.pad_mm / 2 + options.relief_mm,
            pad_mm=options.pad_mm,
            at_place=lambda contact: is_offered(contact, rise),
            load=weight,
        )

    try:
        with contextlib.suppress(InputError):
            return rests(LEVEL_RISE)
        return rests(FLANK_RISE)
    except InputError as fault:
        if setup.contacts == "given":
            raise
        raise InputError(
            f'standing guide "{setup.name}": no two pads under the part and one at its '
            f"{options.side} carry its weight: it would drop or slide ({fault.what})",
            where=setup.key_path + ".turn",
            hint="turn the part so that an edge lies level under its middle, change `side`, make "
            "`pad` or `relief` smaller, or let the walls rise higher (`rise`)",
        ) from None


def check_weight(
    contacts: tuple[Contact, ...], weight: Push, *, subject: str
) -> tuple[Finding, ...]:
    """Return a finding when the contacts alone do not carry the part's weight.

    Frictionless: what only friction holds, a tap or a chip lets go.
    """
    if len(contacts) != 3:
        return ()
    try:
        reactions = clamp_reactions(contacts, weight)
    except GeometryError:
        return ()  # the locating report says that they do not hold the part
    least, name = min(zip(reactions, (c.name for c in contacts), strict=True))
    if least >= -WEIGHT_CARRIED:
        return ()
    return (
        Finding(
            code="part-drops",
            severity=Severity.FAIL,
            subject=subject,
            message=f"the part's weight lifts it off contact {name} ({-least:.2f} of the weight "
            "would have to pull there): it would drop or slide",
            measured=least,
            limit=0.0,
            hint="put the two supports left and right of the part's middle, and the side pad "
            'where the part would slide to; or contacts = "auto"',
        ),
    )


def _plate_shape(
    outline: Region,
    void: Region,
    contacts: tuple[Contact, ...],
    stand: Stand,
    setup: Setup,
    card: KerfCard,
) -> Region:
    """Return the plate in the set-up's turn."""
    options = setup.options
    assert isinstance(options, StandingOptions)
    space = void
    if setup.clearance_mm > 0.0:
        space = padded(
            void,
            outline,
            contacts,
            to_set=setup.pose(),
            width_mm=options.pad_mm,
            where=setup.key_path + ".pad",
        )
    box = outline.bounds()
    under = opened(outline, up_to_mm=max(stand.top_mm, box.y_max) + 10.0).outer
    ends = {furthest_point(outline.outer, sign) for sign in (-1.0, 1.0)}
    discs = [
        disc
        for disc in corner_reliefs(
            outline, clearance_mm=setup.clearance_mm, relief_mm=options.relief_mm, card=card
        )
        for c in (disc.bounds().centre,)
        if under.nearest(*c)[2] < COINCIDENT_MM
        and all(math.dist(c, end) > COINCIDENT_MM for end in ends)
    ]
    joined = union((space, *discs)) if discs else (space,)
    x0, x1 = box.x_min - options.wall_mm, box.x_max + options.wall_mm
    body = Region(
        outer=Contour.rectangle(x0, stand.floor_mm, x1 - x0, stand.top_mm - stand.floor_mm)
    )
    pieces = difference(body, (Region(outer=joined[0].outer),))
    # What the part's shape cuts off from the foot falls out with the slug.
    return min(pieces, key=lambda piece: piece.bounds().y_min)


def _faces(plate: Plate, plane: Plane, *, left: bool, above_mm: float) -> tuple[Face, ...]:
    """Return the plate's outer edge on the pad's side above the jaws, and the wall's top there."""
    box = plate.region.bounds()
    x = box.x_min if left else box.x_max
    tops = [
        edge
        for edge in plate.region.outer.edges()
        if edge.is_line and min(edge.start.y, edge.end.y) > box.y_max - COINCIDENT_MM
    ]
    if not tops:
        raise InputError(f'plate "{plate.name}" has no level top', hint="make `wall` wider")
    top = min(tops, key=lambda edge: min(abs(edge.start.x - x), abs(edge.end.x - x)))
    low = above_mm if above_mm < box.y_max - 1.0 else box.y_min
    ends = (Point(x, box.y_max), Point(x, max(low, box.y_min)))
    return (
        Face(
            name=plane.axes[0],
            plate=plate.name,
            start=ends[0] if left else ends[1],
            end=ends[1] if left else ends[0],
            normal=Vector(-1.0 if left else 1.0, 0.0),
        ),
        Face(name="Z", plate=plate.name, start=top.start, end=top.end, normal=UP),
    )


def _checks(
    plate: Plate, faces: tuple[Face, ...], contacts: tuple[Contact, ...], card: KerfCard
) -> tuple[CheckSize, ...]:
    """Return the sizes that set zero: the side wall's width, and heights from the lower edge."""
    limit = max(2 * card.u_mm, 0.02)
    along, top = faces
    box, to_sheet = plate.region.bounds(), plate.to_part.inverse()
    middle = (top.start.x + top.end.x) / 2
    checks = [
        CheckSize(
            name="lower edge to face Z",
            nominal_mm=box.height,
            plus_minus_mm=limit,
            start=Point(middle, box.y_min),
            end=Point(middle, box.y_max),
        )
    ]
    for contact in contacts:
        at, normal = to_sheet.point(*contact.at), to_sheet.vector(*contact.normal)
        if normal.y > SIDE_ALONG:
            name, foot = f"lower edge to pad {contact.name}", Point(at.x, box.y_min)
        elif -normal.x * along.normal.x > SIDE_ALONG:
            name, foot = f"face {along.name} to pad {contact.name}", Point(along.start.x, at.y)
        else:
            continue
        checks.append(
            CheckSize(
                name=name,
                nominal_mm=math.dist(foot, at),
                plus_minus_mm=limit,
                start=foot,
                end=at,
            )
        )
    return tuple(checks)


def _picture(plate: Plate, parallels_mm: float, jaw_top: float) -> tuple[Rest, ...]:
    """Return what the plate stands on, and the jaws' top on both sides of it."""
    box = plate.region.bounds()
    reach = 0.12 * box.width
    on = f"parallels {parallels_mm:g} mm" if parallels_mm else "floor of the vise"
    return (
        Rest(name=on, start=Point(box.x_min, 0.0), end=Point(box.x_max, 0.0), normal=UP),
        Rest(
            name="top of the jaws",
            start=Point(box.x_max, jaw_top),
            end=Point(box.x_max + reach, jaw_top),
            normal=UP,
        ),
        Rest(
            name="",
            start=Point(box.x_min - reach, jaw_top),
            end=Point(box.x_min, jaw_top),
            normal=UP,
        ),
    )
