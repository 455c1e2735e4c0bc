"""What stands about a part in its set-up, and whether tool and finder get past it.

All is laid out in set-up coordinates: the part as it lies, x and y along the machine's axes,
heights from its lower face. Plates (also the base of a stack, under the part), pins, straps,
jaws and the ledges of soft jaws become outlines between two heights. A sheet that stands is
looked at in ``checks.upright``.

Refused: relief into a plate whose pocket the part floats in, since the pocket's walls are
what locates there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide, Plane, Plate
from jigs.guides.machined import MachinedPlate
from jigs.holding.access import JAW_MM, JAWS, Access, Obstacle, access, holder_on_part, relieved
from jigs.holding.clamp import ViseGrip
from jigs.holding.finder_reach import check_finder_body, check_reach
from jigs.holding.hold import STRAP_MM, STRAP_TALL_MM
from jigs.holding.means import Mill
from jigs.holding.overhang import plan_view
from jigs.holding.toolpath import ToolPath
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Finder
from kerf.boolean import difference, intersection
from kerf.contour import Contour, Region, Transform
from kerf.tolerance import CLASH_DUST_MM2, COINCIDENT_MM, JAW_TOUCH_MM, ROUGH_FACET_MM

#: How far the step of soft jaws reaches under the part, mm. Source: common practice.
LEDGE_MM: Final = 3.0


def to_setup(plate: Plate, setup: Setup) -> Transform:
    """Return sheet → set-up coordinates of a plate."""
    return plate.to_part.then(setup.pose())


def obstacles(
    guide: Guide,
    part: Part,
    setup: Setup,
    grip: ViseGrip | None = None,
    mill: Mill | None = None,
) -> list[Obstacle]:
    """Return all that stands about the part, for a guide that lies flat.

    Args:
        guide, part, setup: of the set-up.
        grip: of the vise that holds the part; None without one.
        mill: whose jaws they are; jaws of unknown width are taken as long as they grip.
    """
    pose = setup.pose()
    # A sheet laid on a machined plate is lifted off before anything is cut.
    found = [
        Obstacle(
            name=f'plate "{plate.name}"',
            shape=plate.region.transformed(to_setup(plate, setup)),
            bottom_mm=plate.low_mm - guide.seat_mm,
            top_mm=plate.low_mm + plate.thickness_mm - guide.seat_mm,
        )
        for plate in guide.plates
        if guide.base is None and (not plate.is_under or guide.stack is not None)
    ]
    if guide.base is not None:
        found.append(_machined(guide.base, part, pose))
    found += [
        Obstacle(
            name=f'pin "{pin.name}"',
            shape=Region(outer=Contour.circle(*pose.point(*pin.at), pin.diameter_mm / 2)),
            bottom_mm=-guide.seat_mm,
            top_mm=pin.top_mm,
        )
        for pin in guide.pins
    ]
    if len(guide.copies) > 1:
        by = guide.copies[1]
        found += [
            Obstacle(
                name="the part beside it",
                shape=part.region.transformed(pose.then(Transform.translation(x, y))),
                bottom_mm=0.0,
                top_mm=part.height_mm,
            )
            for x, y in (by, (-by.x, -by.y))
        ]
    hold = setup.hold
    found += [
        Obstacle(
            name=f"clamp {number}",
            shape=Region(outer=Contour.circle(*pose.point(*at), STRAP_MM)),
            bottom_mm=part.height_mm,
            top_mm=part.height_mm + STRAP_TALL_MM,
        )
        for number, at in enumerate(hold.clamps if hold is not None else (), 1)
    ]
    return found + (_jaws(grip, part, setup, mill) if grip is not None else [])


def jaws_on_plates(about: Sequence[Obstacle]) -> tuple[Access, ...]:
    """Return where the jaws would close on a plate of the guide."""
    return tuple(
        Access(cut="", against=plate.name, what=jaw.name, clash=clash, gap_mm=0.0, above_mm=over)
        for plate in about
        if plate.name.startswith("plate")
        for jaw in about
        if jaw.name in JAWS
        for over in (min(jaw.top_mm, plate.top_mm) - max(jaw.bottom_mm, plate.bottom_mm),)
        if over > COINCIDENT_MM
        for clash in (_overlaps(jaw.shape, plate.shape),)
        if clash
    )


def _overlaps(one: Region, other: Region) -> tuple[Region, ...]:
    """Return what two outlines share, dust left out."""
    return tuple(piece for piece in intersection(one, other) if piece.area_mm2 > CLASH_DUST_MM2)


def _machined(base: MachinedPlate, part: Part, pose: Transform) -> Obstacle:
    """Return the plate that carries the part; its deck lies below by tape or stops."""
    deck = part.height_mm - base.top_above_deck_mm
    return Obstacle(
        name="the machined plate",
        shape=Region(outer=Contour.rectangle(0.0, 0.0, base.width_mm, base.height_mm)).transformed(
            base.to_part.then(pose)
        ),
        bottom_mm=deck - base.thickness_mm,
        top_mm=deck,
    )


def _jaws(grip: ViseGrip, part: Part, setup: Setup, mill: Mill | None) -> list[Obstacle]:
    """Return the two jaws; the grip is given with y across them.

    Soft jaws reach round the outline as far as they grip it.
    """
    hold = setup.hold
    width = max(mill.jaw_width_mm if mill is not None else 0.0, grip.length_mm)
    start = (grip.left_mm + grip.right_mm - width) / 2
    turned = Transform() if hold is None or hold.jaws == "Y" else _swapped()
    soft = hold is not None and hold.soft
    lying = part.region.transformed(setup.pose()).transformed(turned)
    found = []
    sides = ((grip.fixed_mm, 1.0), (grip.moving_mm, -1.0))
    for name, (y, sign) in zip(JAWS, sides, strict=True):
        reach = _reach_mm(lying, grip, y, sign) if soft else 0.0
        low = y - reach if sign > 0 else y - JAW_MM
        box = Region(outer=Contour.rectangle(start, low, width, JAW_MM + reach))
        found += [
            Obstacle(
                name=name,
                shape=piece.transformed(turned),
                bottom_mm=-JAW_MM,
                top_mm=grip.grip_mm,
            )
            for piece in (difference(box, (lying,)) if reach > COINCIDENT_MM else (box,))
        ]
        if setup.hold is not None and setup.hold.step_mm:
            ledge = Contour.rectangle(start, y - LEDGE_MM if sign > 0 else y, width, LEDGE_MM)
            found.append(
                Obstacle(
                    name=f"the ledge of {name}",
                    shape=Region(outer=ledge).transformed(turned),
                    bottom_mm=-JAW_MM,
                    top_mm=0.0,
                )
            )
    return found


def _reach_mm(lying: Region, grip: ViseGrip, y: float, side: float) -> float:
    """Return how far a soft jaw reaches round the part at the ends of its grip, mm."""
    box = lying.bounds()
    band = Contour.rectangle(grip.left_mm, box.y_min - 1.0, grip.length_mm, box.height + 2.0)
    pieces = intersection(Region(outer=lying.outer), Region(outer=band))
    ends = [
        side * (y - point[1])
        for piece in pieces
        for point in piece.outer.facets(ROUGH_FACET_MM)
        if side * (point[1] - (grip.fixed_mm + grip.moving_mm) / 2) > 0
        and min(abs(point[0] - grip.left_mm), abs(point[0] - grip.right_mm)) < JAW_TOUCH_MM
    ]
    return max(0.0, min(ends, default=0.0))


def _swapped() -> Transform:
    """Return the map that swaps x and y."""
    return Transform(a=0.0, b=1.0, d=1.0, e=0.0)


def flat_access(
    paths: Sequence[ToolPath], part: Part, setup: Setup, about: Sequence[Obstacle]
) -> tuple[Access, ...]:
    """Return how near every cut comes to everything, for a guide that lies flat."""
    lying = part.region.transformed(setup.pose())
    seen = plan_view((lying,))
    found = [a for path in paths for item in about for a in access(path, item, part=seen)]
    for path in paths:
        holder = holder_on_part(path, lying, height_mm=part.height_mm)
        if holder is not None:
            found.append(holder)
    return tuple(found)


def relieved_guide(
    guide: Guide, setup: Setup, paths: Sequence[ToolPath]
) -> tuple[Guide, tuple[Finding, ...]]:
    """Return the guide cut away where a cut would meet it and may, and what was cut away.

    A clash that stays is left to the access check.
    """
    if guide.plane is not Plane.XY or guide.pocket is not None or guide.base is not None:
        return guide, ()
    pose = setup.pose()
    plates, findings = [], []
    for plate in guide.plates:
        lay = to_setup(plate, setup)
        given = region = plate.region.transformed(lay)
        for path in paths:
            body = Obstacle(
                name=plate.name,
                shape=region,
                bottom_mm=plate.low_mm - guide.seat_mm,
                top_mm=plate.low_mm + plate.thickness_mm - guide.seat_mm,
            )
            if not path.cut.relief or all(a.ok for a in access(path, body) if a.what == "tool"):
                continue
            room = relieved(
                region,
                path,
                contacts=[
                    pose.point(*c.at)
                    for c in guide.contacts
                    if plate.touches is None or c.name in plate.touches
                ],
                faces=[
                    (lay.point(*f.start), lay.point(*f.end))
                    for f in guide.faces
                    if f.plate == plate.name
                ],
            )
            if room is None:
                continue
            region = room
            findings.append(
                Finding(
                    code="guide-relieved",
                    severity=Severity.NOTE,
                    subject=f'{guide.kind} "{setup.name}": plate "{plate.name}"',
                    message=f'the guide is cut away where the tool of "{path.cut.name}" passes',
                )
            )
        changed = region is not given
        plates.append(
            replace(plate, region=region.transformed(lay.inverse())) if changed else plate
        )
    return (replace(guide, plates=tuple(plates)), tuple(findings)) if findings else (guide, ())


def check_faces(
    guide: Guide,
    part: Part,
    setup: Setup,
    finder: Finder,
    *,
    about: Sequence[Obstacle],
    subject: str,
) -> list[Finding]:
    """Return what keeps the finder from the faces that set zero.

    Args:
        guide, part, setup, finder: of the set-up.
        about: what else stands about a guide that lies flat; its own plates may be among it.
        subject: for messages.
    """
    findings = []
    lying = part.region.transformed(setup.pose())
    flat = guide.plane is Plane.XY
    plates = {plate.name: plate for plate in guide.plates}
    for face in guide.faces:
        if not any(d.finder and d.face == f"face {face.name}" for d in guide.datums):
            continue
        plate = plates[face.plate]
        lay = to_setup(plate, setup)
        low = plate.low_mm - guide.seat_mm if flat else 0.0
        tall = plate.thickness_mm if guide.base is None else guide.base.thickness_mm
        if guide.base is not None:
            low = part.height_mm - guide.base.top_above_deck_mm - tall
        others = [
            Obstacle(
                name=f'plate "{p.name}"',
                shape=p.region.transformed(to_setup(p, setup)),
                bottom_mm=p.low_mm - guide.seat_mm if flat else low,
                top_mm=p.low_mm - guide.seat_mm + p.thickness_mm if flat else low + tall,
            )
            for p in guide.plates
            if p.name == face.plate or (flat and guide.base is None)
        ]
        top = part.height_mm if flat else low + tall
        others.append(Obstacle(name="the part", shape=lying, bottom_mm=min(low, 0.0), top_mm=top))
        others += [item for item in about if not item.name.startswith("plate")]
        findings += check_reach(
            face.name,
            lay.point(*face.start),
            lay.point(*face.end),
            lay.vector(*face.normal),
            tip_mm=finder.tip_diameter_mm,
            low_mm=low,
            tall_mm=tall,
            others=others,
            subject=subject,
        )
        if flat:
            findings += check_finder_body(
                face.name,
                (lay.point(*face.start), lay.point(*face.end), lay.vector(*face.normal)),
                finder_mm=(finder.tip_diameter_mm, finder.reach_mm, finder.body_mm),
                middle_mm=low + tall / 2,
                others=others,
                subject=subject,
            )
    return findings
