"""Check template: go and no-go openings for the outline, and gauges for its radii.

GO is a window of the whole outline, larger by the tolerance all round: a part that is nowhere
too large goes in. NO GO are two notches in the plate's edges, one a size: the least size along
x and along y, which a part that is not too small must not enter. (A full no-go outline would
pass a part that is too small in one place only. Source: Taylor's principle, as in ISO 1938:
the go gauge has the full form, each no-go gauge checks one dimension.) A second plate carries
one gauge for each radius of the outline: a hollow for a rounded corner, a nose for a fillet.

A laser's wall is only as sure as its kerf. A gauge may take a tenth of what it gauges (common
practice): where the walls' expanded uncertainty (95 %, k = 2) is more than a tenth of the
tolerance's whole width, the plate is a guide to the eye and says so, on itself and on the sheet.

Refused: no tolerance to gauge; one that closes a gap of the outline or leaves nothing of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from jigs.finding import Finding, Severity
from jigs.guides.engraving import Engraving
from jigs.guides.guide import CheckSize, Guide, Plane, Plate, part_outline
from jigs.guides.pocket import SHARPEST_INSIDE_MM, corner_reliefs, pocket_wall
from jigs.guides.radii import radius_gauges
from jigs.in_laser import is_read_below
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Sheet, Shop
from jigs.table import Table
from kerf.beam import KerfCard
from kerf.boolean import difference, union
from kerf.contour import Bounds, Contour, Point, Region, Transform
from kerf.errors import InputError
from kerf.tolerance import WALL_OWN_U_MM

#: Share of a tolerance that its gauge may take. Source: common practice.
GAUGE_SHARE = 0.1

#: Coverage of 95 % for the expanded uncertainty (JCGM 100, 6.3.3).
COVERAGE = 2.0

#: Depth of a no-go notch, and radius of the relief in its corners, mm.
NOTCH_DEEP_MM = 12.0
NOTCH_RELIEF_MM = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class TemplateOptions:
    """The template's own keys of a set-up.

    Args:
        tolerance_mm: ± of the outline, mm; None for the part's edge tolerance.
        border_mm: width of plate round the window, mm.
        relief_mm: radius of a corner relief, mm.
        radii: whether gauges for the radii are made.
    """

    tolerance_mm: float | None
    border_mm: float
    relief_mm: float
    radii: bool


def read_options(table: Table) -> TemplateOptions:
    """Read the template's own keys."""
    return TemplateOptions(
        tolerance_mm=(table.length_mm("tolerance", above=0.0) if table.has("tolerance") else None),
        border_mm=table.length_mm("border", 12.0, least=6.0),
        relief_mm=table.length_mm("relief", 1.0, least=SHARPEST_INSIDE_MM),
        radii=table.flag("radii", True),
    )


def make(part: Part, setup: Setup, shop: Shop) -> Guide:
    """Return the check template for a part.

    Raises:
        InputError: no tolerance; one that the outline has no room for; contacts, which a
            template has none of; a name that the shop file does not have.
    """
    options = setup.options
    assert isinstance(options, TemplateOptions)
    sheet = shop.sheet(setup.sheet, where=setup.key_path + ".sheet")
    _, card = shop.laser_for(setup.sheet, setup.laser, where=setup.key_path + ".laser")
    tolerance_mm = _tolerance_mm(part, setup, options)

    outline = Region(outer=part.region.outer.transformed(setup.pose()))
    window = _window(outline, setup, options, card, tolerance_mm)
    least = _least_sizes(outline, setup, tolerance_mm)
    shape = _go_shape(window, least, options, sheet)
    box = shape.bounds()
    to_sheet = Transform.translation(-box.x_min, -box.y_min)
    part_to_sheet = setup.pose().then(to_sheet)
    spread_mm = COVERAGE * math.hypot(card.u_mm / 2, WALL_OWN_U_MM)
    gauges = spread_mm <= GAUGE_SHARE * 2 * tolerance_mm
    said = f"GAUGE FOR ±{tolerance_mm:.2f} mm" if gauges else "GUIDE ONLY, NOT A GAUGE"
    go = Plate(
        name=setup.name,
        region=shape.transformed(to_sheet),
        strokes=part_outline(outline.transformed(to_sheet), setup.name),
        to_part=part_to_sheet.inverse(),
        stock=sheet.name,
        thickness_mm=sheet.thickness_mm,
        lines=(said,),
        gap_mm=tolerance_mm,
    )
    notches = [notch.transformed(to_sheet).bounds() for notch in _notches(shape, window, least)]
    told = _told(go, notches, least, is_read_below(setup, sheet))
    go = replace(go, strokes=(*go.strokes, *told.strokes()))
    plates = [go]
    if options.radii:
        radii = radius_gauges(
            outline,
            name=f"{setup.name}-radii",
            sheet=sheet,
            kerf_mm=card.kerf_mm,
            mirror_writing=is_read_below(setup, sheet),
        )
        if radii is not None:
            # It lies below the window in the picture; nothing of the part lies in it.
            below = Transform.translation(0.0, -radii.region.bounds().height - 12.0)
            plates.append(
                replace(radii, to_part=below.then(go.to_part), lines=(said,), is_under=True)
            )
    return Guide(
        kind="template",
        plane=Plane.XY,
        plates=tuple(plates),
        faces=(),
        contacts=(),
        datums=(),
        checks=_checks(
            notches, least, GAUGE_SHARE * tolerance_mm if gauges else max(2 * card.u_mm, 0.02)
        ),
        clearance_mm=tolerance_mm,
        findings=() if gauges else (_guide_only(setup, tolerance_mm, spread_mm),),
        words=_words(least, tolerance_mm, spread_mm, gauges),
    )


def _tolerance_mm(part: Part, setup: Setup, options: TemplateOptions) -> float:
    """Return the ± to gauge, mm, refusing what a template cannot do."""
    if setup.contacts == "given":
        raise InputError(
            f'template "{setup.name}": a template has no contacts',
            where=setup.key_path + ".contacts",
            hint="leave `contacts` out",
        )
    found = options.tolerance_mm if options.tolerance_mm is not None else part.edge_tolerance_mm
    if not found > 0.0:
        raise InputError(
            f'template "{setup.name}": there is no tolerance to gauge',
            where=setup.key_path + ".tolerance",
            hint="give `tolerance`, the ± of the outline on the drawing",
        )
    return found


def _window(
    outline: Region,
    setup: Setup,
    options: TemplateOptions,
    card: KerfCard,
    tolerance_mm: float,
) -> Region:
    """Return the go window: the outline at its largest, corners relieved."""
    wide = replace(setup, clearance_mm=tolerance_mm)
    try:
        wall = pocket_wall(outline, wide)
    except InputError as fault:
        raise InputError(
            f'template "{setup.name}": a tolerance of ±{tolerance_mm:.3f} mm is too coarse: '
            f"{fault.what}",
            where=setup.key_path + ".tolerance",
            hint="leave the template out, or gauge a finer tolerance",
        ) from None
    discs = corner_reliefs(
        outline, clearance_mm=tolerance_mm, relief_mm=options.relief_mm, card=card
    )
    joined = union((wall, *discs)) if discs else (wall,)
    return Region(outer=joined[0].outer)


def _least_sizes(outline: Region, setup: Setup, tolerance_mm: float) -> tuple[float, float]:
    """Return the least size of the part along x and y, mm."""
    box = outline.bounds()
    least = (box.width - 2 * tolerance_mm, box.height - 2 * tolerance_mm)
    if min(least) < 2 * NOTCH_RELIEF_MM + 1.0:
        raise InputError(
            f'template "{setup.name}": a part of {box.width:.3f} × {box.height:.3f} mm with '
            f"±{tolerance_mm:.3f} mm leaves nothing to gauge",
            where=setup.key_path + ".tolerance",
            hint="gauge a finer tolerance, or measure the part",
        )
    return least


def _frame(window: Region, options: TemplateOptions, sheet: Sheet) -> Bounds:
    """Return the plate's outer rectangle: a border, wider where the notches are."""
    box = window.bounds()
    rim = max(options.border_mm, 1.5 * sheet.thickness_mm)
    far = rim + NOTCH_DEEP_MM
    return Bounds(box.x_min - rim, box.y_min - rim, box.x_max + far, box.y_max + far)


def _go_shape(
    window: Region, least: tuple[float, float], options: TemplateOptions, sheet: Sheet
) -> Region:
    """Return the plate with its window and its notches, in the set-up's turn."""
    frame = _frame(window, options, sheet)
    body = Region(
        outer=Contour.rectangle(frame.x_min, frame.y_min, frame.width, frame.height),
        holes=(window.outer,),
    )
    notches = _notches(body, window, least)
    discs = []
    for notch, level in zip(notches, (True, False), strict=True):
        b = notch.bounds()
        corners = ((b.x_min, b.y_min), (b.x_max, b.y_min) if level else (b.x_min, b.y_max))
        discs += [Region(outer=Contour.circle(x, y, NOTCH_RELIEF_MM)) for x, y in corners]
    return difference(body, (*notches, *discs))[0]


def _notches(body: Region, window: Region, least: tuple[float, float]) -> tuple[Region, Region]:
    """Return the no-go notches: along x in the upper edge, along y in the right one."""
    frame, middle = body.bounds(), window.bounds().centre
    deep = NOTCH_DEEP_MM
    return (
        Region(
            outer=Contour.rectangle(
                middle.x - least[0] / 2, frame.y_max - deep, least[0], deep + 1.0
            )
        ),
        Region(
            outer=Contour.rectangle(
                frame.x_max - deep, middle.y - least[1] / 2, deep + 1.0, least[1]
            )
        ),
    )


def _told(
    go: Plate, notches: list[Bounds], least: tuple[float, float], mirror_writing: bool
) -> Engraving:
    """Return the words beside the openings."""
    marks = Engraving(go.region, go.name, mirror_writing=mirror_writing)
    over, right = notches
    heights = (3.5, 3.0, 2.5, 2.0)
    window = go.region.holes[0].bounds()
    marks.tell("GO", Point(window.centre.x, window.y_min - 6.5), heights_mm=heights)
    at = Point(over.centre.x, (over.y_min + window.y_max) / 2 - 1.2)
    marks.tell(f"NO GO {least[0]:.2f}", at, heights_mm=heights)
    at = Point((right.x_min + window.x_max) / 2 + 1.2, right.centre.y)
    marks.tell(f"NO GO {least[1]:.2f}", at, heights_mm=heights, angle_rad=math.pi / 2)
    return marks


def _checks(
    notches: list[Bounds], least: tuple[float, float], limit_mm: float
) -> tuple[CheckSize, ...]:
    """Return the sizes to measure: the no-go notches."""
    over, right = notches
    y = over.y_min + NOTCH_DEEP_MM / 2
    x = right.x_min + NOTCH_DEEP_MM / 2
    return (
        CheckSize(
            name="no-go notch along x",
            nominal_mm=least[0],
            plus_minus_mm=limit_mm,
            start=Point(over.x_min, y),
            end=Point(over.x_max, y),
        ),
        CheckSize(
            name="no-go notch along y",
            nominal_mm=least[1],
            plus_minus_mm=limit_mm,
            start=Point(x, right.y_min),
            end=Point(x, right.y_max),
        ),
    )


def _guide_only(setup: Setup, tolerance_mm: float, spread_mm: float) -> Finding:
    """Return the finding that the beam is not sure enough, and what would make it so."""
    share = GAUGE_SHARE * 2 * tolerance_mm
    own = share / COVERAGE
    if own > WALL_OWN_U_MM:
        needed = 2 * math.sqrt(own**2 - WALL_OWN_U_MM**2)
        hint = f"calibrate this sheet's kerf to u = {needed:.3f} mm or less with a coupon"
    else:
        hint = f"no laser's wall is that sure (u {WALL_OWN_U_MM:.3f} mm each): gauge it another way"
    return Finding(
        code="template-guide-only",
        severity=Severity.WARN,
        subject=f'template "{setup.name}"',
        message=f"its walls are sure to ±{spread_mm:.3f} mm (95 %); a gauge for "
        f"±{tolerance_mm:.3f} mm may take {share:.3f} mm: it guides the eye and does not gauge",
        measured=spread_mm,
        limit=share,
        unit="mm",
        hint=hint,
    )


def _words(
    least: tuple[float, float], tolerance_mm: float, spread_mm: float, gauges: bool
) -> tuple[str, ...]:
    """Return how the template is used, for the sheet."""
    return (
        f"GO: the whole part must drop into the window, which is {tolerance_mm:.3f} mm larger "
        "all round, without force.",
        f"NO GO: along x the part must not enter the notch of {least[0]:.3f} mm in the upper "
        f"edge, along y not that of {least[1]:.3f} mm in the right edge.",
        "Radii: hold the gauge against the part in front of a light; no light may show along "
        "the arc.",
        f"The walls are sure to ±{spread_mm:.3f} mm (95 %): "
        + ("this plate may gauge." if gauges else "THIS PLATE GUIDES ONLY AND MUST NOT GAUGE."),
    )
