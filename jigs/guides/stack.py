"""Stack: sheets pinned on one another, for a part that is taller than a sheet is thick.

From the bed up: a *base* that carries the part, *walls* that surround it, the *nest* that
locates it, and a *cap* that reaches over its edge, for straps to press on. Only the nest
locates: it is made exactly as a nest by itself. The walls below it stand further back, by all
that the layers can shift on their dowels, so that the part never rests on a layer whose place
the float of two dowels decides.

Zero is taken from the nest's own edges, which stand out over the other layers: then no dowel
enters the error of location. Where the base is to stay on the machine while nests are changed
(``zero_on = "base"``), zero is the base's, and the float of base and nest on their dowels,
with the kerf that widens both holes, joins the error budget.

Two dowels go through all layers (``dowels``); their holes are part of every cut file.

Refused: a nest that is refused, a cap whose lip leaves no opening, a dowel that is no dowel.
Reported: a dowel through a wall, a cap that cannot reach the part, a part no taller than one
sheet.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from jigs.datum import face_datum, zero_in_sheet
from jigs.finding import Finding
from jigs.fits import Limits
from jigs.guides import nest
from jigs.guides.dowels import (
    Dowel,
    Layer,
    Stack,
    check_dowels,
    dowel_frame,
    dowel_places,
    drive_hole_mm,
    moved_mm,
    no_places,
    slip_float_mm,
    slip_hole_mm,
)
from jigs.guides.guide import CheckSize, Datum, Guide, Plane, Plate, SetBy
from jigs.guides.pocket import SHARPEST_INSIDE_MM
from jigs.guides.resting import face_frame
from jigs.guides.stack_findings import stack_findings
from jigs.guides.stack_options import StackOptions, read_options
from jigs.locating.contacts import FrameSource
from jigs.locating.sources import COVERAGE_WORST
from jigs.part import Part
from jigs.pins import pin_limits
from jigs.setup import Setup
from jigs.shop import Finder, Sheet, Shop
from kerf.beam import KerfCard
from kerf.contour import Contour, Point, Region, Transform
from kerf.errors import InputError
from kerf.offset import OffsetOutcome, offset

__all__ = ["make", "read_options"]

#: By how much the walls stand further back than the float asks, mm: what a calliper tells.
SPARE_MM: Final = 0.02


def make(part: Part, setup: Setup, shop: Shop) -> Guide:
    """Return the stack for a part.

    Raises:
        InputError: see ``nest.make``; the lip leaves no opening; no dowel of that size.
    """
    options = setup.options
    assert isinstance(options, StackOptions)
    sheet = shop.sheet(setup.sheet, where=setup.key_path + ".sheet")
    _, card = shop.laser_for(setup.sheet, setup.laser, where=setup.key_path + ".laser")
    finder = shop.finder(setup.finder, where=setup.key_path + ".finder")
    pin = _pin(shop, setup, options)
    made = nest.make(part, replace(setup, options=options.nest), shop)
    first = made.plates[0]
    subject = f'stack "{setup.name}"'

    spread_mm = COVERAGE_WORST * sheet.thickness_u_mm
    count = options.layers or _count(part, sheet, options, spread_mm)
    slip_mm = slip_hole_mm(pin, u_kerf_mm=card.u_mm)
    float_mm = slip_float_mm(pin, u_kerf_mm=card.u_mm)
    drive_mm = drive_hole_mm(pin, u_kerf_mm=card.u_mm)

    box = first.region.bounds()
    back = Contour.rectangle(
        options.step_mm, options.step_mm, box.width - options.step_mm, box.height - options.step_mm
    )
    void = first.region.holes[0]
    web_mm = sheet.thickness_mm
    # Where dowels can stand whatever the walls' stand-off turns out to be: it is tenths.
    keep_mm = web_mm + slip_mm / 2
    dowels, findings = _dowels(
        Region(outer=back, holes=(void,)), first, setup, options, pin, keep_mm, subject
    )
    lying = first.to_part.inverse()
    stand_off_mm = _stand_off_mm(part, dowels, float_mm, hole_mm=slip_mm)
    wall = offset(Region(outer=void), stand_off_mm).regions[0].outer
    room = Region(outer=back, holes=(wall,))
    dowels, broken = check_dowels(
        room, dowels, to_sheet=lying, hole_mm=slip_mm, web_mm=web_mm, subject=subject
    )
    findings += broken

    stack = _stack(part, setup, sheet, options, count, dowels, slip_mm, drive_mm)
    stack = replace(stack, float_mm=float_mm, stand_off_mm=stand_off_mm)
    # Where pads locate, a wall stands off their own faces.
    gap_mm = stand_off_mm + (setup.clearance_mm if made.pocket is not None else 0.0)
    cut_outs: dict[str, tuple[Contour, ...]] = {"base": (), "nest": (void,), "wall": (wall,)}
    if options.lip_mm:
        cut_outs["cap"] = (_opening(part, setup, options, first),)
    plates = []
    for number, layer in enumerate(stack.layers, 1):
        outer = first.region.outer if layer.role == options.zero_on else back
        plate = _plate(first, stack, number, outer, cut_outs[layer.role])
        plates.append(_told(plate, layer, options, gap_mm=gap_mm))
    # The nest comes first: the picture of the set-up and the sizes to measure are its own.
    plates.sort(key=lambda plate: stack.layer(plate.name).role != "nest")
    on = next(layer for layer in stack.layers if layer.role == options.zero_on)
    faces = tuple(replace(face, plate=on.plate) for face in made.faces)
    zero = zero_in_sheet(setup, first.to_part)
    return replace(
        made,
        kind="stack",
        plane=Plane.XY,
        plates=tuple(plates),
        faces=faces,
        datums=(
            *(face_datum(f, plane=Plane.XY, zero=zero, finder=finder, card=card) for f in faces),
            _height(next(d for d in made.datums if d.axis == "Z"), stack, sheet),
        ),
        checks=(
            *_checks(made.checks, options, on.plate, plates[0].name),
            *_hole_checks(stack, plates, lying, card),
        ),
        seat_mm=stack.layers[0].high_mm if options.base else 0.0,
        findings=(
            *made.findings,
            *findings,
            *stack_findings(part, sheet, options, stack, spread_mm, subject),
        ),
        frame=_frame(made, setup, options, stack, finder, card),
        stack=stack,
    )


def _pin(shop: Shop, setup: Setup, options: StackOptions) -> Limits:
    """Return what a dowel's diameter may be: as measured on hand, else by its class."""
    for pin in shop.pins:
        if (
            abs(pin.nominal_mm - options.pin_mm) < 1e-6
            and pin.made_to in (options.pin_class, "measured")
            and not pin.relieved
        ):
            return pin.limits
    try:
        return pin_limits(options.pin_class, options.pin_mm)
    except InputError as fault:
        raise InputError(fault.what, where=setup.key_path + ".pin", hint=fault.hint) from None


def _count(part: Part, sheet: Sheet, options: StackOptions, spread_mm: float) -> int:
    """Return how many sheets about the part stay below its top, one at least.

    All come from one kind of sheet, so that their thickness errs alike and adds up.
    """
    thickest = sheet.thickness_mm + spread_mm
    return max(1, math.floor((part.height_mm - options.proud_mm) / thickest + 1e-9))


def _dowels(
    room: Region,
    nested: Plate,
    setup: Setup,
    options: StackOptions,
    pin: Limits,
    keep_mm: float,
    subject: str,
) -> tuple[tuple[Dowel, ...], tuple[Finding, ...]]:
    """Return where the dowels stand: as asked, or as far apart as there is room."""
    places = options.pin_points
    if not places:
        # A millimetre covers the walls' stand-off from the part.
        found = dowel_places(room, keep_mm=keep_mm + 1.0)
        if found is None:
            box = room.outer.bounds()
            return (), (
                no_places(options.nest.border_mm, keep_mm=keep_mm + 1.0, box=box, subject=subject),
            )
        places = tuple(nested.to_part.point(round(x, 1), round(y, 1)) for x, y in found)
    return tuple(Dowel(name=f"P{i}", at=at, limits=pin) for i, at in enumerate(places, 1)), ()


def _stand_off_mm(
    part: Part, dowels: tuple[Dowel, ...], float_mm: float, *, hole_mm: float
) -> float:
    """Return how far walls stand further back than the nest: all that they can shift, mm.

    Nest and wall each float about the dowels; 0 where there are no two that hold a layer.
    """
    if len(dowels) < 2 or math.dist(dowels[0].at, dowels[1].at) < 2 * hole_mm:
        return 0.0
    ends = (dowels[0].at, dowels[1].at)
    # Convex in the place: the greatest lies on the outline.
    most = max(
        moved_mm(Point(float(x), float(y)), ends, 2 * float_mm)
        for x, y in part.region.outer.facets(0.02)
    )
    return math.ceil((SPARE_MM + most) / 0.01 - 1e-9) * 0.01


def _plate(
    nested: Plate, stack: Stack, number: int, outer: Contour, cut_outs: tuple[Contour, ...]
) -> Plate:
    """Return the plate of a layer, with its dowel holes, in the nest's own coordinates.

    Args:
        nested: the nest.
        stack: layers and dowels.
        number: of the layer, from the lowest, 1.
        outer: its outer edge.
        cut_outs: what is cut out of it beside the dowels' holes.
    """
    layer, lying = stack.layers[number - 1], nested.to_part.inverse()
    holes = (Contour.circle(*lying.point(*d.at), layer.hole_mm / 2) for d in stack.dowels)
    pinned = (f"DOWELS {stack.dowel_size} {layer.fit}".upper(),) if stack.dowels else ()
    return replace(
        nested,
        name=layer.plate,
        region=Region(outer=outer, holes=(*cut_outs, *holes)),
        strokes=tuple(replace(s, piece=layer.plate) for s in nested.strokes),
        lines=(f"LAYER {number} OF {len(stack.layers)} {layer.role.upper()}", *pinned),
        low_mm=layer.low_mm,
    )


def _stack(
    part: Part,
    setup: Setup,
    sheet: Sheet,
    options: StackOptions,
    count: int,
    dowels: tuple[Dowel, ...],
    slip_mm: float,
    drive_mm: float,
) -> Stack:
    """Return the layers from the lowest up, with their heights and holes."""
    thick = sheet.thickness_mm
    roles = [
        *(["base"] if options.base else []),
        *["wall"] * (count - 1),
        "nest",
        *(["cap"] if options.lip_mm else []),
    ]
    seat_mm = thick if options.base else 0.0
    under_cap = seat_mm + count * thick
    carried = max(under_cap, seat_mm + part.height_mm)
    layers = []
    for i, role in enumerate(roles):
        number = f"-{roles[: i + 1].count('wall')}" if role == "wall" and count > 2 else ""
        low = carried if role == "cap" else i * thick
        fit = options.pin_fit if i == 0 else "slip"
        layers.append(
            Layer(
                plate=f"{setup.name}-{role}{number}",
                role=role,
                low_mm=low,
                high_mm=low + thick,
                fit=fit,
                hole_mm=drive_mm if fit == "drive" else slip_mm,
            )
        )
    return Stack(
        layers=tuple(layers),
        dowels=dowels,
        dowel_size=f"{options.pin_mm:g} mm {options.pin_class}",
        length_mm=float(math.floor(layers[-1].high_mm - 0.5)),
        float_mm=0.0,
        stand_off_mm=0.0,
        cap_gap_mm=seat_mm + part.height_mm - under_cap if options.lip_mm else None,
    )


def _opening(part: Part, setup: Setup, options: StackOptions, nested: Plate) -> Contour:
    """Return the cap's opening: the outline shrunk by the lip, its corners no sharper than may be.

    Raises:
        InputError: nothing is left of it, or it falls apart.
    """
    outline = Region(outer=part.region.outer.transformed(nested.to_part.inverse()))
    shrunk = offset(outline, -options.lip_mm - SHARPEST_INSIDE_MM)
    if shrunk.outcome is not OffsetOutcome.WHOLE:
        raise InputError(
            f"a lip of {options.lip_mm:.2f} mm leaves no one opening in the cap",
            where=setup.key_path + ".lip",
            hint="make the lip less than half of the part's narrowest place, or 0 for no cap",
        )
    return offset(shrunk.regions[0], SHARPEST_INSIDE_MM).regions[0].outer


def _told(plate: Plate, layer: Layer, options: StackOptions, *, gap_mm: float) -> Plate:
    """Return the plate with what it does to the part: locates, clears, covers or carries.

    Args:
        plate: the plate.
        layer: its layer.
        options: give the lip.
        gap_mm: least gap of a wall to the part.
    """
    if layer.role == "nest":
        return plate
    if layer.role == "base":
        return replace(plate, touches=(), is_under=True)
    return replace(plate, touches=(), gap_mm=gap_mm if layer.role == "wall" else -options.lip_mm)


def _height(made: Datum, stack: Stack, sheet: Sheet) -> Datum:
    """Return how Z is set: as for a nest, or from the bed under the base."""
    if made.set_by is SetBy.PART_FACE:
        return made
    seat_mm = stack.layers[0].high_mm if stack.layers[0].role == "base" else 0.0
    return replace(
        made,
        face="bed under the stack",
        offset_mm=made.offset_mm - seat_mm,
        u_mm=math.hypot(made.u_mm, sheet.thickness_u_mm if seat_mm else 0.0),
        pick_up="touch the bed that the stack lies on with the tool, or a block of known height",
        reading_mm=made.reading_mm - seat_mm,
    )


def _checks(
    made: tuple[CheckSize, ...], options: StackOptions, on: str, nested: str
) -> tuple[CheckSize, ...]:
    """Return the nest's sizes; from its own edges where the faces are the base's."""
    if on == nested:
        return tuple(replace(check, plate=nested) for check in made)
    # The other layers stand back at their left and lower edges, where every size begins.
    out = []
    for check in made:
        x, y = check.start
        along_x = check.start.y == check.end.y
        start = Point(x + options.step_mm, y) if along_x else Point(x, y + options.step_mm)
        out.append(
            replace(
                check,
                name=check.name.replace("face X", "left edge").replace("face Y", "lower edge"),
                nominal_mm=check.nominal_mm - options.step_mm,
                start=start,
                plate=nested,
            )
        )
    return tuple(out)


def _hole_checks(
    stack: Stack, plates: list[Plate], lying: Transform, card: KerfCard
) -> tuple[CheckSize, ...]:
    """Return the dowel holes to gauge: across, and from the nest's or base's lower left edges.

    ±: twice the card's u, and never less than 0.02 mm, which is what a calliper tells.
    """
    limit = max(2 * card.u_mm, 0.02)
    checks = []
    for plate in plates:
        layer = stack.layer(plate.name)
        box = plate.region.bounds()
        for dowel in stack.dowels:
            at, r = lying.point(*dowel.at), layer.hole_mm / 2
            checks.append(
                CheckSize(
                    name=f"hole {dowel.name}, {layer.fit} ({_short(layer, plate)})",
                    nominal_mm=layer.hole_mm,
                    plus_minus_mm=limit,
                    start=Point(at.x - r, at.y),
                    end=Point(at.x + r, at.y),
                    plate=plate.name,
                )
            )
            if layer.role not in ("nest", "base"):
                continue
            for edge, start, end in (
                ("left edge", Point(box.x_min, at.y), Point(at.x - r, at.y)),
                ("lower edge", Point(at.x, box.y_min), Point(at.x, at.y - r)),
            ):
                checks.append(
                    CheckSize(
                        name=f"{edge} to hole {dowel.name} ({layer.role})",
                        nominal_mm=math.dist(start, end),
                        plus_minus_mm=limit,
                        start=start,
                        end=end,
                        plate=plate.name,
                    )
                )
    return tuple(checks)


def _short(layer: Layer, plate: Plate) -> str:
    """Return a layer's name without its set-up's ("wall-2")."""
    return plate.name[plate.name.index(f"-{layer.role}") + 1 :]


def _frame(
    made: Guide, setup: Setup, options: StackOptions, stack: Stack, finder: Finder, card: KerfCard
) -> tuple[FrameSource, ...] | None:
    """Return what moves the whole guide: with the faces on the base, the float on the dowels.

    Base and nest were cut by one beam, so that one kerf widens the holes of both: their floats
    add up.
    """
    if options.zero_on == "nest":
        return None
    faces = face_frame(
        tuple(face.normal for face in made.faces),
        to_part=setup.pose().inverse(),
        finder=finder,
        card=card,
    )
    if len(stack.dowels) < 2:
        return faces
    first, second = stack.dowels
    slips = [layer.fit == "slip" for layer in stack.layers if layer.role in ("base", "nest")]
    return (*faces, *dowel_frame((first.at, second.at), sum(slips) * stack.float_mm))
