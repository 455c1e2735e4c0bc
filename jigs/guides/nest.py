"""Nest: a plate with a pocket of the part's outline, clear of it by the asked clearance.

The wall of the pocket is the part's outline offset by the clearance, arcs kept. Two things
are added to it, both void: a relief at each corner of the part that is sharper than the
pocket may be (a laser leaves half a kerf there, and acrylic cracks from a sharp inside
corner), and a pair of finger notches across the narrowest grip so that the part can be
lifted. The plate is a rectangle with two datum faces, X on the left and Y at the bottom,
parallel to the machine's axes. Holes of the part are left open: an island in a bore would
be a loose piece.

Refused: a clearance so large that the outline closes on itself (a feature is eaten).
Reported: a wall of plate thinner than the sheet's thickness.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from jigs.datum import face_datum, height_datum, zero_in_sheet
from jigs.guides.guide import CheckSize, Face, Guide, Plane, Plate, part_outline
from jigs.guides.pads import padded
from jigs.guides.pocket import (
    SHARPEST_INSIDE_MM,
    corner_reliefs,
    edge_pairs,
    pocket_wall,
    turn_rad,
)
from jigs.guides.resting import face_frame, off_cuts, resting
from jigs.guides.several import Copies, copy_checks, copy_shifts, read_copies
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Shop
from jigs.table import Table
from kerf.beam import KerfCard
from kerf.boolean import union
from kerf.contour import Bounds, Contour, Edge, Point, Region, Transform, Vector
from kerf.tolerance import TANGENT_RAD

#: Least plate between a finger notch and the outer edge, mm: enough not to snap when a part is
#: prised out, and twice the sheet's thickness where that is more. Source: common practice.
NOTCH_RIM_MM = 8.0

#: Least wall between a finger notch and a pad, mm.
NOTCH_CLEAR_MM = 2.0

LEFT, DOWN = Vector(-1.0, 0.0), Vector(0.0, -1.0)

ONE = Copies()


@dataclass(frozen=True, slots=True, kw_only=True)
class NestOptions:
    """The nest's own keys of a set-up.

    Args:
        border_mm: width of plate between the pocket's wall and the outer edge, mm.
        notch_mm: diameter of a finger notch, mm; 0 for none.
        relief_mm: radius of a corner relief, mm.
        pad_mm: width of a pad where the part rests on contacts, mm.
        copies: how many pockets the plate has.
    """

    border_mm: float
    notch_mm: float
    relief_mm: float
    pad_mm: float
    copies: Copies = ONE


def read_options(table: Table) -> NestOptions:
    """Read the nest's own keys. Defaults: border 24, notch 22, relief 1.5 mm.

    Source: finger notch 20 to 25 mm and burr relief 1.5 to 3 mm, common practice.
    """
    return NestOptions(
        border_mm=table.length_mm("border", 24.0, least=3.0),
        notch_mm=table.length_mm("notch", 22.0, least=0.0),
        relief_mm=table.length_mm("relief", 1.5, least=SHARPEST_INSIDE_MM),
        pad_mm=table.length_mm("pad", 6.0, least=1.0),
        copies=read_copies(table),
    )


def make(part: Part, setup: Setup, shop: Shop) -> Guide:
    """Return the nest for a part.

    Raises:
        InputError: the clearance closes a gap of the outline; the set-up names a sheet, laser
            or finder that the shop does not have.
    """
    options = setup.options
    assert isinstance(options, NestOptions)
    sheet = shop.sheet(setup.sheet, where=setup.key_path + ".sheet")
    _, card = shop.laser_for(setup.sheet, setup.laser, where=setup.key_path + ".laser")
    finder = shop.finder(setup.finder, where=setup.key_path + ".finder")

    outline = Region(outer=part.region.outer.transformed(setup.pose()))
    rests = resting(
        part,
        setup,
        card=card,
        frame=face_frame((LEFT, DOWN), to_part=setup.pose().inverse(), finder=finder, card=card),
        keep_mm=options.pad_mm / 2 + options.relief_mm,
        pad_mm=options.pad_mm,
        at_place=off_cuts(part, setup, thickness_mm=sheet.thickness_mm),
    )
    contacts = rests.contacts
    wall = pocket_wall(outline, setup)
    reliefs = corner_reliefs(
        outline, clearance_mm=setup.clearance_mm, relief_mm=options.relief_mm, card=card
    )
    notches = _notches(outline, wall, options, tuple(setup.pose().point(*c.at) for c in contacts))
    space = (
        padded(
            wall,
            outline,
            contacts,
            to_set=setup.pose(),
            width_mm=options.pad_mm,
            where=setup.key_path + ".pad",
        )
        if contacts
        else wall
    )
    # What a notch cuts loose from the wall (a tooth of a gear) leaves with the slug.
    joined = union((space, *reliefs, *notches)) if reliefs or notches else (space,)
    void = Region(outer=joined[0].outer)

    shifts = copy_shifts(
        void, options.copies, web_mm=max(NOTCH_RIM_MM, 2 * sheet.thickness_mm), setup=setup
    )
    frame = _frame(wall, notches, options, thickness_mm=sheet.thickness_mm)
    frame = Bounds(frame.x_min, frame.y_min, frame.x_max + shifts[-1].x, frame.y_max + shifts[-1].y)
    to_sheet = Transform.translation(-frame.x_min, -frame.y_min)
    width, height = frame.width, frame.height
    region = Region(
        outer=Contour.rectangle(0.0, 0.0, width, height),
        holes=tuple(
            void.outer.transformed(to_sheet.then(Transform.translation(*by))) for by in shifts
        ),
    )
    part_to_sheet = setup.pose().then(to_sheet)
    plate = Plate(
        name=setup.name,
        region=region,
        strokes=tuple(
            stroke
            for by in shifts
            for stroke in part_outline(
                outline.transformed(to_sheet.then(Transform.translation(*by))), setup.name
            )
        ),
        to_part=part_to_sheet.inverse(),
        stock=sheet.name,
        thickness_mm=sheet.thickness_mm,
    )
    faces = (
        Face(
            name="X",
            plate=plate.name,
            start=Point(0.0, height),
            end=Point(0.0, 0.0),
            normal=LEFT,
        ),
        Face(
            name="Y",
            plate=plate.name,
            start=Point(0.0, 0.0),
            end=Point(width, 0.0),
            normal=DOWN,
        ),
    )
    zero = zero_in_sheet(setup, plate.to_part)
    room = Region(outer=void.outer.transformed(setup.pose().inverse()))
    return Guide(
        kind="nest",
        plane=Plane.XY,
        plates=(plate,),
        faces=faces,
        contacts=contacts,
        datums=(
            *(
                face_datum(face, plane=Plane.XY, zero=zero, finder=finder, card=card)
                for face in faces
            ),
            height_datum(part, setup, finder=finder),
        ),
        checks=_checks(wall.transformed(to_sheet), region, card, shifts),
        clearance_mm=setup.clearance_mm,
        copies=shifts,
        pocket=None if contacts else room,
        pad_mm=options.pad_mm if contacts else 0.0,
        room=room,
        choice=rests.choice,
    )


def _frame(
    wall: Region, notches: tuple[Region, ...], options: NestOptions, *, thickness_mm: float
) -> Bounds:
    """Return the plate's outer rectangle: the border round the wall, and room for the notches."""
    boxes = [_grown(wall.bounds(), options.border_mm)]
    rim = max(NOTCH_RIM_MM, 2 * thickness_mm)
    boxes += [_grown(notch.bounds(), rim) for notch in notches]
    return Bounds(
        min(b.x_min for b in boxes),
        min(b.y_min for b in boxes),
        max(b.x_max for b in boxes),
        max(b.y_max for b in boxes),
    )


def _grown(box: Bounds, by_mm: float) -> Bounds:
    """Return a box grown on every side."""
    return Bounds(box.x_min - by_mm, box.y_min - by_mm, box.x_max + by_mm, box.y_max + by_mm)


def _notches(
    outline: Region, wall: Region, options: NestOptions, contacts: tuple[Point, ...]
) -> tuple[Region, ...]:
    """Return two discs on the wall, opposite each other across the narrowest grip.

    Grips are tried every 5° through the middle of the outline; the notches stay clear of the
    outline's corners, which locate, and of the contacts, which must not be cut away.
    """
    if options.notch_mm == 0.0:
        return ()
    box = outline.bounds()
    middle = box.centre
    corners = [
        edge.start
        for before, edge in edge_pairs(outline.outer)
        if abs(turn_rad(before, edge)) > TANGENT_RAD
    ]
    best: tuple[tuple[bool, float], tuple[Point, Point]] | None = None
    for step in range(36):
        angle = step * math.pi / 36
        hits = _hits(wall.outer, middle, angle)
        if len(hits) < 2:
            continue
        a, b = hits[0], hits[-1]
        near = min((math.dist(p, c) for p in (a, b) for c in corners), default=math.inf)
        if any(
            math.dist(p, c) < (options.notch_mm + options.pad_mm) / 2 + NOTCH_CLEAR_MM
            for p in (a, b)
            for c in contacts
        ):
            continue
        rank = (near < options.notch_mm * 0.75, math.dist(a, b))
        if best is None or rank < best[0]:
            best = (rank, (a, b))
    if best is None:
        return ()
    return tuple(Region(outer=Contour.circle(*p, options.notch_mm / 2)) for p in best[1])


def _hits(contour: Contour, through: Point, angle_rad: float) -> list[Point]:
    """Return where a line meets the loop, in order along the line."""
    ux, uy = math.cos(angle_rad), math.sin(angle_rad)
    hits: list[tuple[float, Point]] = []
    for edge in contour.edges():
        for p in _line_hits(edge, through, ux, uy):
            hits.append(((p.x - through.x) * ux + (p.y - through.y) * uy, p))
    return [p for _, p in sorted(hits)]


def _line_hits(edge: Edge, through: Point, ux: float, uy: float) -> list[Point]:
    """Return where the line through a point along (ux, uy) meets one edge."""
    if edge.is_line:
        a, b = edge.start, edge.end
        side_a = (a.x - through.x) * uy - (a.y - through.y) * ux
        side_b = (b.x - through.x) * uy - (b.y - through.y) * ux
        if (side_a > 0) == (side_b > 0):
            return []
        return [edge.point_at(side_a / (side_a - side_b))]
    c, r = edge.centre, edge.radius_mm
    along = (c.x - through.x) * ux + (c.y - through.y) * uy
    across = (c.x - through.x) * uy - (c.y - through.y) * ux
    if abs(across) >= r:
        return []
    half = math.sqrt(r * r - across * across)
    points = [Point(through.x + s * ux, through.y + s * uy) for s in (along - half, along + half)]
    return [p for p in points if edge.covers_angle(math.atan2(p.y - c.y, p.x - c.x))]


def _checks(
    wall: Region, plate: Region, card: KerfCard, shifts: tuple[Vector, ...]
) -> tuple[CheckSize, ...]:
    """Return what to measure on the cut plate: its size, each face to the first pocket's wall,
    and how far the copies lie from it.

    A pocket's extreme point is used only where the wall still stands there: a notch or a
    relief may have taken it. ±: twice the card's u, and never less than 0.02 mm, which is
    what a calliper tells.
    """
    limit = max(2 * card.u_mm, 0.02)
    box, frame = wall.bounds(), plate.bounds()
    hole = plate.holes[0]
    middle = frame.centre
    checks = [
        CheckSize(
            name="plate along x",
            nominal_mm=frame.width,
            plus_minus_mm=limit,
            start=Point(0.0, middle.y),
            end=Point(frame.width, middle.y),
        ),
        CheckSize(
            name="plate along y",
            nominal_mm=frame.height,
            plus_minus_mm=limit,
            start=Point(middle.x, 0.0),
            end=Point(middle.x, frame.height),
        ),
    ]
    along_row: Point | None = None
    for name, reach, along_x in (
        ("face X to near wall", box.x_min, True),
        ("face X to far wall", box.x_max, True),
        ("face Y to near wall", box.y_min, False),
        ("face Y to far wall", box.y_max, False),
    ):
        at = _extreme(wall.outer, reach, along_x=along_x)
        if at is None or hole.nearest(*at)[2] > 1e-6:
            continue
        if along_x == (abs(shifts[-1].x) > 0.0):
            along_row = along_row or at
        checks.append(
            CheckSize(
                name=name,
                nominal_mm=reach,
                plus_minus_mm=limit,
                start=Point(0.0, at.y) if along_x else Point(at.x, 0.0),
                end=at,
            )
        )
    return (*checks, *copy_checks(shifts, along_row, card))


def _extreme(contour: Contour, reach: float, *, along_x: bool) -> Point | None:
    """Return a point of the loop at the given extreme, or None."""
    for edge in contour.edges():
        box = edge.bounds()
        low, high = (box.x_min, box.x_max) if along_x else (box.y_min, box.y_max)
        if min(abs(low - reach), abs(high - reach)) > 1e-9 * max(1.0, abs(reach)):
            continue
        if edge.is_line:
            return (
                edge.point_at(0.5)
                if low == high
                else (
                    edge.start
                    if abs((edge.start.x if along_x else edge.start.y) - reach)
                    <= abs((edge.end.x if along_x else edge.end.y) - reach)
                    else edge.end
                )
            )
        c, r = edge.centre, edge.radius_mm
        sign = 1.0 if reach > (c.x if along_x else c.y) else -1.0
        top = Point(c.x + sign * r, c.y) if along_x else Point(c.x, c.y + sign * r)
        return min(
            (top, edge.start, edge.end), key=lambda p: abs((p.x if along_x else p.y) - reach)
        )
    return None
