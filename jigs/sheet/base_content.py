"""The machined plate on the sheet: pins, hole table, tape and glue, heights.

The hole table is what the plate is drilled from, so every number in it that is set or read at
the machine stands in both units.
"""

from __future__ import annotations

import math
from typing import Final

from jigs import quantity
from jigs.drawing.base_view import base_figure
from jigs.drilling import Step
from jigs.fits import Limits
from jigs.guides.machined import MachinedPlate
from jigs.locating.contacts import ContactKind
from jigs.locating.pin_places import PinPlace, Role
from jigs.pins import MEASURED, Pin
from jigs.plan import Plan, PlannedSetup
from jigs.sheet.content import Block, Grid, Lines, Notice, Notices, Picture, Section

#: Height of the picture of the plate, mm on paper.
PICTURE_MM: Final = 100.0

_GLUE: Final = (
    "Superglue (cyanoacrylate): fume stings eyes and lungs, it bonds skin at once, and it flares "
    "hot on cotton. Gloves without cotton, eye protection, fresh air. Never pull bonded skin "
    "apart: soak it in warm soapy water.",
    "Degreasers and glue removers (acetone, alcohol): fume and fire. Fresh air, no flame or "
    "spark, lids on. They craze acrylic, and superglue bonds to it: lift every sheet off first.",
    "A part that lets go of its tape is thrown. Prove the bond by pulling at it before the first "
    "cut, take that cut light, keep guards shut and stand clear of the cutter's plane.",
    "Cut steel pins to length with eye protection, and break their ends: chips of hardened steel "
    "fly.",
    "Makers' safety data sheets and local rules come before this sheet.",
)


def base_sections(planned: PlannedSetup, plan: Plan, *, width_mm: float) -> tuple[Section, ...]:
    """Return what the sheet says of a machined plate; nothing when there is none.

    Args:
        planned: the set-up.
        plan: the job.
        width_mm: between the paper's margins, mm.
    """
    base, units = planned.guide.base, plan.job.units
    if base is None:
        return ()
    found = (
        _plate_section(base, planned, units, width_mm),
        _pin_section(base, units),
        _hole_section(base),
        _tape_section(base, units),
        _height_section(base, planned, units),
    )
    return tuple(section for section in found if section is not None)


def seat_lines(base: MachinedPlate, units: str) -> list[str]:
    """Return how the part goes onto its pins."""
    names = [place.name for place in base.places]
    lines = [f"Lower the part square onto {' and '.join(names)}; do not drive it on."]
    edge = next((p for p in base.places if p.role is Role.EDGE), None)
    if edge is not None:
        lines.append(f"Turn it until its edge touches pin {edge.name}, and hold it there.")
    if base.slack_mm is not None and base.slack_rad is not None:
        x, y = base.slack_mm
        lines.append(
            "On its smallest pins, in its largest bores, it can shift at most "
            f"{quantity.plus_minus_text(x, units)} along the drawing's x and "
            f"{quantity.plus_minus_text(y, units)} along its y, and turn "
            f"±{quantity.angle_text(round(base.slack_rad, 6))}."
        )
    return lines


def _plate_section(
    base: MachinedPlate, planned: PlannedSetup, units: str, width_mm: float
) -> Section:
    """Return the plate to make, with its picture."""
    size = " × ".join(
        quantity.bare_length(v, units) for v in (base.width_mm, base.height_mm, base.thickness_mm)
    )
    unit = "in" if units == "inch" else "mm"
    figure = base_figure(
        base, planned.part.region, units=units, width_mm=width_mm, height_mm=PICTURE_MM
    )
    return Section(
        key="base",
        heading="The plate to machine",
        blocks=(
            Lines(
                lines=(
                    f"{base.material}, {size} {unit}. Deck both faces; mill edges X (left) and Y "
                    "(lower) square to each other: all places below are counted from them.",
                    "Lay the laser-cut sheet on it, edges X and Y flush, clamp it, and start each "
                    "drill through its hole. Lift the sheet off, then finish every hole at its "
                    "place from the table: the sheet's holes are a start, not the place.",
                )
            ),
            Picture(figures=(figure,)),
        ),
    )


def _pin_section(base: MachinedPlate, units: str) -> Section:
    """Return the pins with their fit."""
    pins = tuple(
        (
            place.name,
            place.role.value,
            place.pin.name,
            quantity.length_text(place.pin.nominal_mm, units, places=4),
            quantity.length_text(length, units, places=2),
            _measured(place.pin, units),
        )
        for place, length in zip(base.places, base.pin_lengths_mm, strict=True)
    )
    fits = tuple((place.name, *_fit_cells(place, units)) for place in base.places)
    lines = [
        "Measure each pin before it is used and write its size beside it."
        if any(not pin[-1] for pin in pins)
        else "Measured by the shop, as its file says; measure again if a pin was dropped or worn.",
        *(
            f"{p.name}: turn its lands square to the line from {base.places[0].name}, so that it "
            "holds across that line and leaves it free along it."
            for p in base.places
            if p.role is Role.RELIEVED
        ),
    ]
    return Section(
        key="pins",
        heading="Pins",
        blocks=(
            Grid(
                columns=("pin", "work", "from", "nominal", "length at least", "measured"),
                rows=pins,
            ),
            Grid(columns=("pin", "stands in", "least play", "most play"), rows=fits),
            Lines(lines=tuple(lines)),
        ),
    )


def _measured(pin: Pin, units: str) -> str:
    """Return what the shop measured of a pin; a box to fill in when it did not."""
    if pin.made_to != MEASURED:
        return ""
    return quantity.length_text((pin.limits.least_mm + pin.limits.most_mm) / 2, units, places=4)


def _fit_cells(place: PinPlace, units: str) -> tuple[str, str, str]:
    """Return the bore and the least and greatest diametral clearance in it."""
    if place.fit is None or place.bore is None:
        return "part's edge", "none", "none"
    size = "–".join(
        quantity.bare_length(v, units) for v in (place.fit.bore.least_mm, place.fit.bore.most_mm)
    )
    return (
        f"{place.bore.name}, {size} {'in' if units == 'inch' else 'mm'}",
        quantity.length_text(place.fit.least_mm, units),
        quantity.length_text(place.fit.most_mm, units),
    )


def _hole_section(base: MachinedPlate) -> Section:
    """Return the hole table, in both units."""
    rows = []
    for hole in base.holes:
        for number, step in enumerate(hole.steps):
            deep = "through" if hole.is_through else _both(hole.depth_mm, places=(2, 3))
            rows.append(
                (
                    hole.name if number == 0 else "",
                    _both(hole.at.x) if number == 0 else "",
                    _both(hole.at.y) if number == 0 else "",
                    f"{step.work} {step.tool}".strip(),
                    _both_limits(step.limits),
                    deep,
                    *_speed_cells(step),
                )
            )
    return Section(
        key="holes",
        heading="Hole table, from the plate's edges X and Y",
        blocks=(
            Grid(
                columns=(
                    "hole",
                    "from edge X",
                    "from edge Y",
                    "work",
                    "size",
                    "depth",
                    "rpm",
                    "feed a turn",
                    "feed a minute",
                ),
                rows=tuple(rows),
            ),
            Lines(
                lines=(
                    "High-speed steel tools. Speeds and feeds are on the careful side; slow down "
                    "for a long or worn tool, and clear chips often.",
                    *(
                        (
                            "Drill blind holes a little deeper than they are finished, never "
                            "through, so that the reamer does not bottom.",
                        )
                        if any(not hole.is_through for hole in base.holes)
                        else ()
                    ),
                )
            ),
        ),
    )


def _speed_cells(step: Step) -> tuple[str, str, str]:
    """Return speed and feed; boxes to fill in when the plate's material is not known."""
    if step.speed_rpm is None or step.feed_mm_rev is None or step.feed_mm_min is None:
        return "", "", ""
    return (
        f"{step.speed_rpm:.0f}",
        _both(step.feed_mm_rev),
        _both(step.feed_mm_min, places=(0, 1)),
    )


def _both_limits(limits: Limits) -> str:
    """Return what a tool leaves, in both units."""
    if limits.plus_minus_mm == 0.0:
        return _both(limits.most_mm)
    ends = (limits.least_mm, limits.most_mm)
    metric = " to ".join(quantity.bare_length(v, "mm") for v in ends)
    return f"{metric} mm\n{' to '.join(quantity.bare_length(v, 'inch') for v in ends)} in"


def _both(length_mm: float, *, places: tuple[int, int] = (3, 4)) -> str:
    """Return a length in both units, one under the other."""
    metric = quantity.length_text(length_mm, "mm", places=places[0])
    return f"{metric}\n{quantity.length_text(length_mm, 'inch', places=places[1])}"


def _tape_section(base: MachinedPlate, units: str) -> Section | None:
    """Return where tape and glue go, with their cautions; None when nothing is stuck."""
    if not base.tape_name:
        return None
    back = quantity.length_text(base.setback_mm, units, places=1 if units == "mm" else 2)
    count = "1 patch" if len(base.tape) == 1 else f"{len(base.tape)} patches"
    area = base.tape_area_mm2
    lines = [
        f"{base.tape_name}: {count}, {area:.0f} mm² ({area / 645.16:.2f} in²), as scored on the "
        "sheet: under material only, off bores, pins and whatever is cut through.",
        "Degrease plate and part; press one tape on each, rub both down; glue between them on the "
        "tape only.",
        f"Keep glue and solvent {back} from every pin and stop, and as far from any acrylic.",
        *(
            f"Stop {stop.name}: Ø {quantity.length_text(stop.diameter_mm, units)}, "
            f"{quantity.length_text(stop.height_mm, units)} high, at x "
            f"{quantity.length_text(stop.at.x, units)}, y "
            f"{quantity.length_text(stop.at.y, units)} from the plate's edges. No glue on it."
            for stop in base.stops
        ),
    ]
    blocks: tuple[Block, ...] = (
        Lines(lines=tuple(lines)),
        Notices(notices=tuple(Notice(weight="CAUTION", text=text) for text in _GLUE)),
    )
    return Section(key="tape", heading="Tape and glue", blocks=blocks)


def _height_section(base: MachinedPlate, planned: PlannedSetup, units: str) -> Section:
    """Return what the part's upper face stands on, and how sure its height is."""
    rows = [
        (
            layer.name,
            quantity.length_text(layer.thickness_mm, units),
            quantity.plus_minus_text(layer.u_mm, units),
            "",
        )
        for layer in base.layers
    ]
    rows += [
        (
            "part's top above the plate's underside",
            quantity.length_text(base.top_mm, units),
            quantity.plus_minus_text(base.top_u_mm, units),
            "",
        ),
        (
            "part's top above the decked face",
            quantity.length_text(base.top_above_deck_mm, units),
            quantity.plus_minus_text(base.top_above_deck_u_mm, units),
            "",
        ),
    ]
    return Section(
        key="z-stack",
        heading="Heights, one upon the other",
        blocks=(
            Grid(columns=("what", "thickness", "standard unc.", "actual"), rows=tuple(rows)),
            *_lean(planned, units),
        ),
    )


def _lean(planned: PlannedSetup, units: str) -> tuple[Lines, ...]:
    """Return how far unequal stops lean the part, where three carry it."""
    report = planned.locating
    if report is None or not report.heights:
        return ()
    up = max(report.heights, key=lambda one: one.worst_mm)
    aside = max(report.heights, key=lambda one: one.aside_mm)
    limit = max(c.limit_mm for c in report.contacts if c.kind is ContactKind.SUPPORT)
    far = f"{quantity.plus_minus_text(aside.aside_mm, units)} aside at the part's upper face"
    said = far if aside.name == up.name else f"{aside.name} {far}"
    line = (
        f"Stops each {quantity.plus_minus_text(limit, units)} off lean the part by "
        f"{math.degrees(up.tilt_rad):.3f}° at worst: {up.name} "
        f"{quantity.plus_minus_text(up.worst_mm, units)} up or down, {said} (in the error budget). "
        "Grind the three in one setting."
    )
    return (Lines(lines=(line,)),)
