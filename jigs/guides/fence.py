"""Datum fence: a rail along one edge of the part, with stops for repeat lengths.

The part's long edge rests on two pads of the rail and its end on the pad of a stop. The rail
has a seat for a stop at each repeat length; the stop moves from seat to seat, and ``stop`` says
which one this set-up uses. Between the pads the rail stands back by the clearance: with the
seats that are empty, that is where chips go. A scale is engraved along the edge from the
stop's face, and bolt holes lie on the table's T-slots or grid.

The rail's outer edge and its end, square to each other and parallel to what locates, set zero.

The stop is a piece of its own, so three walls stand between the end of the rail and the part
(the seat's wall, the stop's neck, its pad): a kerf wider than its card moves the part by three
halves of the excess, and the error budget says so.

Refused: no straight edge on the rail or no end at the stop in this turn; seats that run into
each other; a rail with no room for its bolts.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

from jigs.datum import face_datum, height_datum, zero_in_sheet
from jigs.finding import Finding, Severity
from jigs.guides.edges import edges_along, edges_in_part, turns_hint
from jigs.guides.fence_options import FenceOptions, fence_options
from jigs.guides.guide import CheckSize, Face, Guide, Plane, Plate, part_outline
from jigs.guides.rail import (
    ARM_MM,
    HEAD_MM,
    NECK_DEEP_MM,
    RIM_MM,
    Rail,
    bolt_hole_mm,
    bolt_rows,
    stop_shape,
)
from jigs.guides.resting import Resting, face_frame, named_by_axis, off_cuts, resting
from jigs.guides.scale import rail_marks
from jigs.in_laser import is_read_below
from jigs.locating.contacts import Contact, FrameSource
from jigs.locating.sources import edge_source, kerf_source
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Laser, Sheet, Shop
from jigs.table import Table
from kerf.beam import KerfCard
from kerf.boolean import difference, union
from kerf.contour import Contour, Point, Region, Transform, Vector
from kerf.errors import GeometryError, InputError

LEFT, DOWN = Vector(-1.0, 0.0), Vector(0.0, -1.0)

#: Walls between the end of the rail and the part's end: seat, neck and pad.
STOP_WALLS = 3

#: A stop's shoulder must stand on the rail beside its neck, mm.
MOST_CLEARANCE_MM = 3.0


def read_options(table: Table) -> FenceOptions:
    """Read the fence's own keys."""
    return fence_options(table)


def make(part: Part, setup: Setup, shop: Shop) -> Guide:
    """Return the fence for a part: its rail, then its stop.

    Raises:
        InputError: no straight edges to rest on in this turn; no three contacts; seats or
            bolts that find no room; a name that the shop file does not have.
    """
    options = setup.options
    assert isinstance(options, FenceOptions)
    sheet = shop.sheet(setup.sheet, where=setup.key_path + ".sheet")
    laser, card = shop.laser_for(setup.sheet, setup.laser, where=setup.key_path + ".laser")
    finder = shop.finder(setup.finder, where=setup.key_path + ".finder")

    if setup.clearance_mm > MOST_CLEARANCE_MM:
        raise InputError(
            f'fence "{setup.name}": the clearance is {setup.clearance_mm:.2f} mm; the stop stands '
            f"on the rail with {MOST_CLEARANCE_MM:.2f} mm at most",
            where=setup.key_path + ".clearance",
            hint=f"make the clearance {MOST_CLEARANCE_MM:g} mm or less",
        )
    # Worked out left-handed; a right hand is its mirror image.
    hand = Transform() if options.hand == "left" else Transform.mirror_y()
    pose = setup.pose().then(hand)
    outline = Region(outer=part.region.outer.transformed(pose))
    rail = _rail(outline, setup, options)
    rests = _rests(part, setup, card, pose, outline, rail, face_frame(
        (hand.vector(*LEFT), DOWN), to_part=setup.pose().inverse(), finder=finder, card=card
    ), sheet.thickness_mm)  # fmt: skip
    contacts = _named(rests.contacts, setup, part, card)
    rail = _reaching(rail, [pose.point(*c.at).x for c in contacts], options)
    holes, notes = _bolts(rail, setup, shop, options)
    shapes = (
        _rail_shape(rail, contacts, holes, pose, setup, options),
        _stop_plate(rail, contacts, pose, setup, options),
    )
    plates = []
    for name, shape, axis in ((setup.name, shapes[0], "Y"), (f"{setup.name}-stop", shapes[1], "X")):
        box = shape.transformed(hand).bounds()
        to_sheet = Transform.translation(-box.x_min, -box.y_min)
        part_to_sheet = setup.pose().then(to_sheet)
        plates.append(
            Plate(
                name=name,
                region=shape.transformed(hand.then(to_sheet)),
                strokes=part_outline(part.region.transformed(part_to_sheet), name),
                to_part=part_to_sheet.inverse(),
                stock=sheet.name,
                thickness_mm=sheet.thickness_mm,
                touches=tuple(c.name for c in contacts if c.name.startswith(axis)),
                is_small=axis == "X",
            )
        )
    marks = rail_marks(
        rail,
        start_mm=rail.stops[options.stop - 1],
        pitch_mm=options.scale_mm,
        unit_mm=options.unit_mm,
        by=pose.inverse().then(plates[0].to_part.inverse()),
        shape=plates[0].region,
        piece=setup.name,
        mirror_writing=is_read_below(setup, sheet),
    )
    plates[0] = replace(plates[0], strokes=(*plates[0].strokes, *marks))
    faces = _faces(plates[0], options.hand)
    zero = zero_in_sheet(setup, plates[0].to_part)
    return Guide(
        kind="fence",
        plane=Plane.XY,
        plates=tuple(plates),
        faces=faces,
        contacts=contacts,
        datums=(
            *(
                face_datum(face, plane=Plane.XY, zero=zero, finder=finder, card=card)
                for face in faces
            ),
            height_datum(part, setup, finder=finder),
        ),
        checks=_checks(plates[0], rail, contacts, options, hand, card),
        clearance_mm=setup.clearance_mm,
        findings=(
            *rests.findings,
            *notes,
            *_check_stops(rail, options, sheet, laser, subject=f'fence "{setup.name}"'),
        ),
        pad_mm=options.pad_mm,
        choice=rests.choice,
        bolts=tuple(pose.inverse().point(*hole.bounds().centre) for hole in holes),
    )


def _rail(outline: Region, setup: Setup, options: FenceOptions) -> Rail:
    """Return the rail and its seats, before the contacts are known.

    Raises:
        InputError: two seats run into each other.
    """
    box = outline.bounds()
    used = options.stops_mm[options.stop - 1]
    stops = tuple(box.x_min + at - used for at in options.stops_mm)
    least = HEAD_MM + RIM_MM
    for i, (a, b) in enumerate(itertools.pairwise(stops), 1):
        if b - a < least:
            raise InputError(
                f'fence "{setup.name}": stops {i} and {i + 1} are {b - a:.2f} mm apart; their '
                f"seats need {least:.2f} mm",
                where=setup.key_path + ".stops",
                hint="leave one out, and make a second fence for it",
            )
    rail = Rail(
        x_min=stops[0] - ARM_MM / 2 - HEAD_MM / 2 - RIM_MM,
        x_max=max(stops[-1] - ARM_MM / 2 + HEAD_MM / 2 + RIM_MM, box.x_min + 0.6 * box.width),
        y_min=box.y_min - setup.clearance_mm - options.rail_mm,
        y_max=box.y_min - setup.clearance_mm,
        stops=stops,
    )
    return replace(rail, x_max=max(rail.x_max, rail.x_min + options.length_mm))


def _reaching(rail: Rail, places: list[float], options: FenceOptions) -> Rail:
    """Return the rail, long enough that its end stands past the outermost pad."""
    return replace(rail, x_max=max(rail.x_max, *(x + 2 * options.pad_mm for x in places)))


def _rests(
    part: Part,
    setup: Setup,
    card: KerfCard,
    pose: Transform,
    outline: Region,
    rail: Rail,
    frame: tuple[FrameSource, ...],
    thickness_mm: float,
) -> Resting:
    """Return where the part rests: two pads of the rail and one of the stop."""
    options = setup.options
    assert isinstance(options, FenceOptions)
    box = outline.bounds()
    low = edges_along(outline, Vector(0.0, 1.0), box.y_min)
    end = edges_along(outline, Vector(1.0, 0.0), box.x_min)
    for found, what in ((low, "rail"), (end, "stop")):
        if not found:
            raise InputError(
                f'fence "{setup.name}": no straight edge of the part lies along the {what}',
                where=setup.key_path + ".turn",
                hint=turns_hint(part.region, options.hand),
            )
    on_rail, on_stop = edges_in_part(part, pose, low), edges_in_part(part, pose, end)
    edges = tuple(outline.outer.edges())
    # One pad on the stop, low on its arm: within less than two contacts' least distance.
    apart = max(2 * options.pad_mm, max(box.width, box.height) / 10)
    foot = min(min(edges[i].start.y, edges[i].end.y) for i in end)
    most_y = foot + options.pad_mm / 2 + 0.95 * apart

    uncut = off_cuts(part, setup, thickness_mm=thickness_mm)

    def clear(contact: Contact) -> bool:
        if uncut is not None and not uncut(contact):
            return False
        at = pose.point(*contact.at)
        if pose.vector(*contact.normal).y < 0.5:
            return at.y <= most_y
        return rail.keeps_clear(at.x, options.pad_mm)

    return resting(
        part,
        setup,
        card=card,
        frame=frame,
        keep_mm=options.pad_mm,
        pad_mm=options.pad_mm,
        on_edge=lambda loop, edge: loop == 0 and edge in on_rail | on_stop,
        at_place=clear,
    )


def _named(
    contacts: tuple[Contact, ...], setup: Setup, part: Part, card: KerfCard
) -> tuple[Contact, ...]:
    """Return the contacts named by the axis they hold, the stop's with its three walls."""
    at_stop = (
        kerf_source(u_kerf_mm=STOP_WALLS * card.u_mm, sheet=card.name),
        edge_source(edge_tolerance_mm=part.edge_tolerance_mm),
    )
    return tuple(
        replace(c, sources=at_stop) if c.name.startswith("X") else c
        for c in named_by_axis(contacts, setup)
    )


def _bolts(
    rail: Rail, setup: Setup, shop: Shop, options: FenceOptions
) -> tuple[tuple[Region, ...], tuple[Finding, ...]]:
    """Return the bolt holes, or why there are none."""
    if options.fasten == "none":
        return (), ()
    where = setup.key_path + ".fasten"
    mill = shop.mill(setup.mill, where=setup.key_path + ".mill")
    pitches = {
        "slots": mill.slot_pitch_mm if mill else 0.0,
        "grid": mill.hole_pitch_mm if mill else 0.0,
    }
    ways = [way for way, pitch in pitches.items() if pitch > 0.0]
    way = options.fasten or (ways[0] if ways else "")
    if way and (pitches[way] == 0.0 or mill is None or mill.bolt_mm == 0.0):
        raise InputError(
            f'the shop file does not describe the table for fasten = "{way}"',
            where=where,
            hint=f"give [[mill]] {'slot_pitch' if way == 'slots' else 'hole_pitch'} and bolt",
        )
    if not way or mill is None:
        return (), (
            Finding(
                code="fence-unfastened",
                severity=Severity.NOTE,
                subject=f'fence "{setup.name}"',
                message="the shop file describes no T-slots and no holes: the rail has no bolt "
                "holes",
                hint="give [[mill]] slot_pitch or hole_pitch, and bolt; or clamp the rail",
            ),
        )
    try:
        places = bolt_rows(rail, pitch_mm=pitches[way], slots=way == "slots", bolt_mm=mill.bolt_mm)
    except InputError as fault:
        raise InputError(
            f'fence "{setup.name}": {fault.what}', where=where, hint=fault.hint
        ) from None
    radius = bolt_hole_mm(mill.bolt_mm) / 2
    return tuple(Region(outer=Contour.circle(x, y, radius)) for x, y in places), ()


def _rail_shape(
    rail: Rail,
    contacts: tuple[Contact, ...],
    holes: tuple[Region, ...],
    pose: Transform,
    setup: Setup,
    options: FenceOptions,
) -> Region:
    """Return the rail, left-handed, in the set-up's turn."""
    body = Region(
        outer=Contour.rectangle(
            rail.x_min, rail.y_min, rail.x_max - rail.x_min, rail.y_max - rail.y_min
        )
    )
    pads = [
        Region(
            outer=Contour.rectangle(
                at.x - half, rail.y_max - 1.0, 2 * half, at.y - rail.y_max + 1.0
            )
        )
        for c in contacts
        if c.name.startswith("Y")
        for at, half in ((pose.point(*c.at), options.pad_mm / 2),)
    ]
    whole = union((body, *pads)) if setup.clearance_mm > 0 else (body,)
    cut = (*(piece for x in rail.stops for piece in rail.seat(x)), *holes)
    left = difference(whole[0], cut)
    if len(whole) != 1 or len(left) != 1:
        raise InputError(
            f'fence "{setup.name}": the rail falls apart',
            where=setup.key_path,
            hint="make `rail` wider, or set the stops further apart",
        )
    return left[0]


def _stop_plate(
    rail: Rail,
    contacts: tuple[Contact, ...],
    pose: Transform,
    setup: Setup,
    options: FenceOptions,
) -> Region:
    """Return the stop in the seat that is used, left-handed, in the set-up's turn."""
    face = rail.stops[options.stop - 1]
    ends = [pose.point(*c.at) for c in contacts if c.name.startswith("X")]
    body, reliefs = stop_shape(
        rail,
        face,
        clearance_mm=setup.clearance_mm,
        top_mm=max([rail.y_max + ARM_MM, *(at.y + 2 * options.pad_mm for at in ends)]),
    )
    half = options.pad_mm / 2
    pads = [
        Region(
            outer=Contour.rectangle(
                face - setup.clearance_mm - 1.0,
                at.y - half,
                at.x - face + setup.clearance_mm + 1.0,
                2 * half,
            )
        )
        for at in ends
    ]
    whole = union((body, *pads)) if setup.clearance_mm > 0 else (body,)
    left = difference(whole[0], reliefs)
    if len(left) != 1:
        raise GeometryError(f'fence "{setup.name}": the stop falls apart')
    return left[0]


def _faces(plate: Plate, hand: str) -> tuple[Face, ...]:
    """Return the rail's end on the stop's side, and its outer edge."""
    box = plate.region.bounds()
    left = hand == "left"
    x = box.x_min if left else box.x_max
    high = max(
        (max(e.start.y, e.end.y) for e in plate.region.outer.edges()
         if e.is_line and abs(e.start.x - x) + abs(e.end.x - x) < 1e-6),
        default=box.y_max,
    )  # fmt: skip
    ends = (Point(x, high), Point(x, box.y_min))
    return (
        Face(
            name="X",
            plate=plate.name,
            start=ends[0] if left else ends[1],
            end=ends[1] if left else ends[0],
            normal=Vector(-1.0 if left else 1.0, 0.0),
        ),
        Face(
            name="Y",
            plate=plate.name,
            start=Point(box.x_min, box.y_min),
            end=Point(box.x_max, box.y_min),
            normal=DOWN,
        ),
    )


def _checks(
    plate: Plate,
    rail: Rail,
    contacts: tuple[Contact, ...],
    options: FenceOptions,
    hand: Transform,
    card: KerfCard,
) -> tuple[CheckSize, ...]:
    """Return the rail's sizes that set zero: its outer edge to each pad, its end to the seat."""
    limit = max(2 * card.u_mm, 0.02)
    to_sheet, box = plate.to_part.inverse(), plate.region.bounds()
    checks = []
    for contact in contacts:
        if not contact.name.startswith("Y"):
            continue
        at = to_sheet.point(*contact.at)
        checks.append(
            CheckSize(
                name=f"face Y to pad {contact.name}",
                nominal_mm=at.y - box.y_min,
                plus_minus_mm=limit,
                start=Point(at.x, box.y_min),
                end=at,
            )
        )
    face = rail.stops[options.stop - 1]
    deep = rail.neck_x(face) - rail.x_min
    y = box.y_min + rail.y_max - rail.y_min - NECK_DEEP_MM / 2
    near, sign = (box.x_min, 1.0) if hand.determinant > 0 else (box.x_max, -1.0)
    checks.append(
        CheckSize(
            name=f"face X to the wall that seats stop {options.stop}",
            nominal_mm=deep,
            plus_minus_mm=limit,
            start=Point(near, y),
            end=Point(near + sign * deep, y),
        )
    )
    return tuple(checks)


def _check_stops(
    rail: Rail, options: FenceOptions, sheet: Sheet, laser: Laser, *, subject: str
) -> tuple[Finding, ...]:
    """Return a finding for the first stop that a sheet or bed is too short for."""
    room = min(max(sheet.size_mm), max(laser.bed_mm))
    for number, (at, x) in enumerate(zip(options.stops_mm, rail.stops, strict=True), 1):
        need = x - ARM_MM / 2 + HEAD_MM / 2 + RIM_MM - rail.x_min
        if need > room:
            return (
                Finding(
                    code="stop-off-sheet",
                    severity=Severity.FAIL,
                    subject=subject,
                    message=f"stop {number} at {at:.1f} mm asks for a rail of {need:.1f} mm; the "
                    f"sheet or the laser's bed is {room:.1f} mm long",
                    measured=need,
                    limit=room,
                    unit="mm",
                    hint="leave that stop out, use a longer sheet, or set a second fence for it",
                ),
            )
    return ()
