"""Pin plate: a decked plate with pins for the part's bores, tape round them, and a sheet over it.

The plate is machined: its holes are drilled and reamed or bored from the hole table, places
counted from its own left and lower edges, which are also what the machine is zeroed from.
What is laser-cut is a sheet of the plate's size that lies on it, edges flush: its holes guide
the first drill, the part's outline and the tape are scored on it, and it is lifted off before
anything is glued. It locates no part.

Two pins in two bores locate best (``pinning``), one in a bore and one beside an edge when there
is only one. The first stands at whole millimetres from both edges, so that the table is easy to
set. Z of the part follows from plate, tape or stops, and part, each with its uncertainty.

Refused: no bore that a pin of the shop enters; a given plate that does not hold its pins.
Reported: what hangs over the plate, tape with no room, stops above the tape, pins in plastic.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from jigs.drilling import hole_steps
from jigs.guides.guide import CheckSize, Face, Guide, Plane, Plate
from jigs.guides.machined import MachinedPlate, PlateHole
from jigs.guides.pinplate_datums import plate_datums
from jigs.guides.pinplate_findings import plate_findings, stop_findings, tape_findings
from jigs.guides.pinplate_options import PinPlateOptions, part_bores, read_options
from jigs.guides.pinplate_standing import (
    holding_pins,
    pin_float,
    plate_stops,
    stop_contacts,
    z_layers,
)
from jigs.guides.tape_zones import overhangs, tape_zones
from jigs.holding.hold import HoldBy
from jigs.holding.means import Tape
from jigs.holding.toolpath import ToolPath, tool_path
from jigs.locating.contacts import FrameSource
from jigs.locating.pin_places import PartBore, PinPlace, Role, Seating
from jigs.locating.pinning import Pinning, chosen_pins
from jigs.locating.sources import COVERAGE_WORST, pick_up_frame
from jigs.part import Part
from jigs.setup import Flip, Setup
from jigs.shop import Finder, Shop
from kerf import lettering
from kerf.beam import KerfCard, Operation, Stroke
from kerf.contour import Contour, Point, Region, Transform, Vector
from kerf.errors import InputError
from kerf.lettering import Anchor
from kerf.materials import material_named
from kerf.tolerance import MARK_CLEAR_MM

__all__ = ["PinPlateOptions", "make", "read_options"]

#: A plate is made in steps of this, mm.
SIZE_STEP_MM: Final = 5.0
#: How deep a pin stands in its plate: so many diameters, and at least so many mm. A plate less
#: than this much thicker is drilled through. Source: common practice.
DEEP_DIAMETERS: Final = 2.0
DEEP_MM: Final = 8.0
THROUGH_LEFT_MM: Final = 3.0
#: Share of the part's height that a pin reaches up its bore, and what it stays below the top, mm.
REACH_SHARE: Final = 0.75
BELOW_TOP_MM: Final = 1.0
#: Height of a hole's engraved name, mm.
NAME_MM: Final = 3.0
#: Sagitta of scored curves, mm: for the eye.
SCORE_CHORD_MM: Final = 0.02

LEFT, DOWN = Vector(-1.0, 0.0), Vector(0.0, -1.0)


def make(part: Part, setup: Setup, shop: Shop) -> Guide:
    """Return the pin plate for a part.

    Raises:
        InputError: no bore fits a pin, nothing holds the part's turn, a given plate is too
            small; the set-up names a sheet, laser, finder or tape that the shop does not have.
    """
    options = setup.options
    assert isinstance(options, PinPlateOptions)
    if setup.contacts == "given":
        raise InputError(
            "a pin plate locates from bores, not from points of the outline",
            where=setup.key_path + ".contacts",
            hint="give the bores instead: bores = [[x, y], [x, y]]",
        )
    sheet = shop.sheet(setup.sheet, where=setup.key_path + ".sheet")
    _, card = shop.laser_for(setup.sheet, setup.laser, where=setup.key_path + ".laser")
    finder = shop.finder(setup.finder, where=setup.key_path + ".finder")
    tape = _tape(setup, shop)
    pose = setup.pose()
    paths = [
        tool_path(
            cut,
            part.region,
            pose=pose,
            height_mm=part.height_mm,
            turned_over=setup.flip is not Flip.NONE,
        )
        for cut in setup.cuts
    ]
    reach_mm = max(min(REACH_SHARE * part.height_mm, part.height_mm - BELOW_TOP_MM), 0.5)
    bores, assumed = part_bores(part, options, where=setup.key_path)
    frame = _frame(pose, finder)
    pinning = chosen_pins(
        part,
        _left_alone(bores, paths, setup, reach_mm=reach_mm, fixed=bool(options.bores)),
        shop.pins,
        Seating(
            slip=options.slip,
            hole_place_mm=options.hole_place_mm,
            pitch_mm=options.pitch_mm,
            least_mm=options.least_mm,
            fit=options.fit,
            web_mm=sheet.thickness_mm,
        ),
        frame=frame,
        is_fixed=bool(options.bores),
        where=setup.key_path + ".bores",
    )
    to_sheet, width, height = _laid(part.region.transformed(pose), pinning, pose, options)
    part_to_sheet = pose.then(to_sheet)
    lying = part.region.transformed(part_to_sheet)
    plate_region = Region(outer=Contour.rectangle(0.0, 0.0, width, height))
    holes = tuple(_hole(place, part_to_sheet, options) for place in pinning.places)
    _check_holes(holes, plate_region, sheet.thickness_mm, setup)

    run_outs = tuple(
        swept.transformed(to_sheet) for path in paths if path.low_mm <= 0.0 for swept in path.swept
    )
    stops, no_stops = plate_stops(
        options, tape, lying, plate_region, holes, run_outs, part_to_sheet
    )
    gap_mm = stops[0].height_mm if stops else tape.thickness_mm if tape else 0.0
    taped: tuple[Region, ...] = ()
    if tape is not None and setup.hold is not None:
        taped = tape_zones(
            lying,
            plate_region,
            margin_mm=setup.hold.margin_mm,
            setback_mm=options.setback_mm,
            keep_off=(
                *((hole.at, hole.limits.most_mm) for hole in holes),
                *((stop.at, stop.diameter_mm) for stop in stops),
            ),
            run_outs=run_outs,
        )
    slack = pin_float(part, pinning.places)
    machined = MachinedPlate(
        width_mm=width,
        height_mm=height,
        thickness_mm=options.thickness_mm,
        material=options.material,
        to_part=part_to_sheet.inverse(),
        places=pinning.places,
        pin_lengths_mm=tuple(hole.depth_mm + gap_mm + reach_mm for hole in holes),
        holes=holes,
        tape_name=tape.name if tape is not None else "",
        tape=taped,
        setback_mm=options.setback_mm,
        stops=stops,
        overhangs=overhangs(lying, plate_region),
        layers=z_layers(part, options, tape, stops),
        slack_mm=slack[0],
        slack_rad=slack[1],
    )
    material = material_named(sheet.material)
    is_acrylic = material is not None and material.name == "acrylic"
    plate = Plate(
        name=setup.name,
        region=Region(
            outer=plate_region.outer,
            holes=tuple(Contour.circle(*hole.at, hole.pilot_mm / 2) for hole in holes),
        ),
        strokes=(*_scored(lying, taped, setup.name), *_names(holes, width, height, setup.name)),
        to_part=machined.to_part,
        stock=sheet.name,
        thickness_mm=sheet.thickness_mm,
        lines=("LIFT OFF BEFORE GLUING", *(("NO GLUE, NO SOLVENT",) if is_acrylic else ())),
        touches=(),
        is_under=True,
    )
    faces = (
        Face(
            name="X", plate=plate.name, start=Point(0.0, height), end=Point(0.0, 0.0), normal=LEFT
        ),
        Face(name="Y", plate=plate.name, start=Point(0.0, 0.0), end=Point(width, 0.0), normal=DOWN),
    )
    subject = f'pin plate "{setup.name}"'
    return Guide(
        kind="pinplate",
        plane=Plane.XY,
        plates=(plate,),
        faces=faces,
        contacts=(*pinning.contacts, *stop_contacts(stops, machined)),
        datums=plate_datums(part, setup, machined, faces, finder=finder, card=card),
        checks=_checks(machined, card),
        clearance_mm=0.0,
        seat_mm=options.thickness_mm + gap_mm,
        findings=(
            *assumed,
            *pinning.findings,
            *no_stops,
            *plate_findings(machined, part, plate_region, subject=subject),
            *tape_findings(machined, part, taped=tape is not None, subject=subject),
            *stop_findings(machined, tape, subject=subject),
        ),
        pins=holding_pins(machined, gap_mm, reach_mm),
        frame=frame,
        base=machined,
    )


def _tape(setup: Setup, shop: Shop) -> Tape | None:
    """Return the tape under the part; None when something else holds it."""
    hold = setup.hold
    if hold is None or hold.by is not HoldBy.TAPE:
        return None
    return shop.tape(hold.tape, where=hold.key_path + ".tape")


def _frame(pose: Transform, finder: Finder) -> tuple[FrameSource, ...]:
    """Return what picking up the plate's two edges does to the part, part coordinates.

    The edges are machined: no kerf moves them.
    """
    return tuple(
        pick_up_frame(
            along=pose.inverse().vector(*normal),
            limit_mm=COVERAGE_WORST * finder.u_mm,
            u_mm=finder.u_mm,
        )
        for normal in (LEFT, DOWN)
    )


def _left_alone(
    bores: Sequence[PartBore],
    paths: Sequence[ToolPath],
    setup: Setup,
    *,
    reach_mm: float,
    fixed: bool,
) -> tuple[PartBore, ...]:
    """Return the bores in which no cutter of the set-up comes down to a pin's end.

    Raises:
        InputError: every one of them is cut, or one that the job names is.
    """
    pose = setup.pose()
    kept, lost = [], {}
    for bore in bores:
        at = pose.point(*bore.at)
        cut = next(
            (
                path.cut.name
                for path in paths
                for swept in path.swept
                if path.low_mm < reach_mm and swept.distance_mm(*at) < bore.limits.most_mm / 2
            ),
            None,
        )
        if cut is None:
            kept.append(bore)
        else:
            lost[bore.name] = cut
    if lost and (fixed or not kept):
        name, cut = next(iter(lost.items()))
        raise InputError(
            f'the cutter of "{cut}" passes over {name}: a pin cannot stand in it',
            where=setup.key_path + ".bores",
            hint="locate from other bores, or make this cut in another set-up",
        )
    return tuple(kept)


def _laid(
    lying: Region, pinning: Pinning, pose: Transform, options: PinPlateOptions
) -> tuple[Transform, float, float]:
    """Return where the part lies on the plate (set-up → plate), and the plate's size, mm."""
    box = lying.bounds()
    edge = [(pose.point(*p.at), p.hole.most_mm / 2) for p in pinning.places if p.role is Role.EDGE]
    low_x = min([box.x_min, *(at.x - r for at, r in edge)])
    low_y = min([box.y_min, *(at.y - r for at, r in edge)])
    high_x = max([box.x_max, *(at.x + r for at, r in edge)])
    high_y = max([box.y_max, *(at.y + r for at, r in edge)])
    first = pose.point(*pinning.places[0].at)
    dx = math.ceil(first.x - low_x + options.border_mm - 1e-9) - first.x
    dy = math.ceil(first.y - low_y + options.border_mm - 1e-9) - first.y
    if options.size_mm is not None:
        width, height = options.size_mm
    else:
        width, height = (
            math.ceil((high + by + options.border_mm) / SIZE_STEP_MM - 1e-9) * SIZE_STEP_MM
            for high, by in ((high_x, dx), (high_y, dy))
        )
    return Transform.translation(dx, dy), width, height


def _hole(place: PinPlace, part_to_sheet: Transform, options: PinPlateOptions) -> PlateHole:
    """Return the hole of a pin, with its place from the plate's edges."""
    nominal = place.pin.nominal_mm
    steps = hole_steps(nominal, place.hole, material=options.material)
    deep = max(DEEP_DIAMETERS * nominal, DEEP_MM)
    is_through = options.thickness_mm <= deep + THROUGH_LEFT_MM
    return PlateHole(
        name=place.name,
        at=part_to_sheet.point(*place.at),
        limits=place.hole,
        depth_mm=options.thickness_mm if is_through else deep,
        is_through=is_through,
        steps=steps,
        pilot_mm=steps[0].diameter_mm,
    )


def _check_holes(holes: Sequence[PlateHole], plate: Region, web_mm: float, setup: Setup) -> None:
    """Refuse a plate that does not hold its pins.

    Raises:
        InputError: a hole lies off the plate, or too near to its edge.
    """
    for hole in holes:
        rim = -plate.distance_mm(*hole.at) - hole.limits.most_mm / 2
        if rim < web_mm - 1e-9:
            box = plate.bounds()
            raise InputError(
                f"pin {hole.name} at ({hole.at.x:.2f}, {hole.at.y:.2f}) mm is not held by a plate "
                f"of {box.width:.1f} × {box.height:.1f} mm: {rim:.2f} mm are left beside its hole, "
                f"{web_mm:.2f} mm are needed",
                where=setup.key_path + ".plate",
                hint="give a larger plate, a narrower border, or leave `plate` out",
            )


def _scored(lying: Region, taped: Sequence[Region], piece: str) -> tuple[Stroke, ...]:
    """Return the part's outline and the tape's as scored lines."""
    loops = (lying.outer, *(loop for region in taped for loop in region.loops()))
    strokes = []
    for loop in loops:
        points = [Point(float(x), float(y)) for x, y in loop.facets(SCORE_CHORD_MM)]
        strokes.append(Stroke(operation=Operation.SCORE, points=(*points, points[0]), piece=piece))
    return tuple(strokes)


def _names(
    holes: Sequence[PlateHole], width_mm: float, height_mm: float, piece: str
) -> tuple[Stroke, ...]:
    """Return each hole's name engraved beside it, on the first side that has room."""
    strokes: list[tuple[Point, ...]] = []
    for hole in holes:
        wide, tall = lettering.text_width_mm(hole.name, NAME_MM), NAME_MM
        off = hole.pilot_mm / 2 + MARK_CLEAR_MM + NAME_MM / 4
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            x = hole.at.x + dx * (off + wide / 2)
            y = hole.at.y + dy * (off + tall / 2)
            reach = math.hypot(wide, tall) / 2 + MARK_CLEAR_MM
            if (
                reach < x < width_mm - reach
                and reach < y < height_mm - reach
                and all(
                    math.dist((x, y), other.at) > reach + other.pilot_mm / 2
                    for other in holes
                    if other is not hole
                )
            ):
                strokes += lettering.strokes(
                    hole.name, height_mm=NAME_MM, at=(x, y), anchor=Anchor.MIDDLE
                )
                break
    return tuple(
        Stroke(operation=Operation.ENGRAVE, points=points, piece=piece) for points in strokes
    )


def _checks(machined: MachinedPlate, card: KerfCard) -> tuple[CheckSize, ...]:
    """Return what to measure on the cut sheet: its size, and each edge to each hole.

    ±: twice the card's u, and never less than 0.02 mm, which is what a calliper tells.
    """
    limit = max(2 * card.u_mm, 0.02)
    width, height = machined.width_mm, machined.height_mm
    sizes = [
        ("sheet along x", width, Point(0.0, height / 2), Point(width, height / 2)),
        ("sheet along y", height, Point(width / 2, 0.0), Point(width / 2, height)),
    ]
    for hole in machined.holes:
        r, at = hole.pilot_mm / 2, hole.at
        sizes += [
            (f"edge X to hole {hole.name}", at.x - r, Point(0.0, at.y), Point(at.x - r, at.y)),
            (f"edge Y to hole {hole.name}", at.y - r, Point(at.x, 0.0), Point(at.x, at.y - r)),
        ]
    return tuple(
        CheckSize(name=name, nominal_mm=size, plus_minus_mm=limit, start=start, end=end)
        for name, size, start, end in sizes
    )
