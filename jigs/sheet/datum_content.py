"""How zero is set, in words and figures: the part of the sheet nobody may misread.

One line an axis, in plain figures that a script can read back: face, side, where the face is
when program zero reads 0, uncertainty, what the axis must read at touch. Under it stands
where program zero lies on the part and how the part is turned, so that the part's pose in
the machine follows from the page alone:

    machine = turn(flip(part point − zero)).
"""

from __future__ import annotations

import math
from typing import Final

from jigs import quantity
from jigs.drawing.height_view import HeightView, height_figure
from jigs.guides.guide import Datum, Face, Jaws, Plane
from jigs.plan import Plan, PlannedSetup
from jigs.setup import Flip
from jigs.sheet.content import Grid, Lines, Notice, Notices, Picture, Section
from kerf.lean import LeanUse

#: Share of a feature's tolerance that a guide out of square may use.
#: Source: gauging takes 10 % of the part tolerance (common practice).
SQUARE_SHARE: Final = 0.1

#: Turn no sweep may exceed, rad: 0.02 mm over 100 mm. Source: common practice.
SQUARE_MOST_RAD: Final = 0.02 / 100.0

#: What an indicator leaves unswept at each end of a face, mm.
SWEEP_END_MM: Final = 5.0

_FLIP_WORDS = {
    Flip.NONE: "not turned over",
    Flip.X: "turned over about its x axis",
    Flip.Y: "turned over about its y axis",
}


def datum_section(planned: PlannedSetup, plan: Plan) -> Section:
    """Return the datum table and the pose of the part."""
    units, setup = plan.job.units, planned.setup
    x, y, z = (quantity.offset_text(v, units) for v in setup.zero_mm)
    sense = "clockwise" if setup.turn_rad < 0 else "counter-clockwise"
    across = " and ".join(planned.guide.plane.axes[:2])
    lettered = ("drawing\ndatum",) if setup.heading.letters else ()
    return Section(
        key="datums",
        heading=f"Zero: work offset {setup.work_offset}",
        blocks=(
            Grid(
                columns=(
                    "axis",
                    "face",
                    "touch\nfrom",
                    "face lies at",
                    "standard\nunc.",
                    "tip\nradius",
                    "at touch\nset axis to",
                    *lettered,
                ),
                rows=tuple(
                    (
                        *_datum_row(datum, units),
                        *(setup.heading.letter(datum.axis) or "none" for _ in lettered),
                    )
                    for datum in planned.guide.datums
                ),
                strong=True,
            ),
            *_heights(planned, plan),
            Lines(
                lines=(
                    f"Program zero is part point x {x}, y {y}, z {z} of the drawing.",
                    f"The part is {_FLIP_WORDS[setup.flip]}, and turned "
                    f"{quantity.angle_text(abs(setup.turn_rad))} {sense}, seen with {across} "
                    "to the right and up.",
                    *_turned_over(planned),
                    *_finder_lines(planned.guide.datums, units),
                )
            ),
        ),
    )


def _turned_over(planned: PlannedSetup) -> tuple[str, ...]:
    """Return how a plate lies that is not as it was cut."""
    if planned.setup.lean is not LeanUse.OPPOSED:
        return ()
    if planned.guide.jaws is not None:
        return ("The plate is turned over: its engraved side looks away from you.",)
    return ("The plate is turned over: its engraved side lies down.",)


def _heights(planned: PlannedSetup, plan: Plan) -> tuple[Picture, ...]:
    """Return the picture of what lies along the sheet's thickness."""
    guide, setup = planned.guide, planned.setup
    if guide.jaws is not None:
        return (Picture(figures=(height_figure(_between_jaws(planned, guide.jaws, plan)),)),)
    touched = next((d for d in guide.datums if d.axis == "Z"), None)
    if guide.plane is not Plane.XY or touched is None:
        return ()
    height, z = planned.part.height_mm, setup.zero_mm[2]
    low = -z if setup.flip is Flip.NONE else z - height
    bottom = low - guide.seat_mm
    view = HeightView(
        part_low_mm=low,
        part_high_mm=low + height,
        plate_low_mm=bottom,
        plate_high_mm=bottom
        + (
            max(plate.low_mm + plate.thickness_mm for plate in guide.plates)
            if guide.base is None
            else guide.base.thickness_mm
        ),
        touched=touched.face,
        touched_mm=touched.offset_mm,
        units=plan.job.units,
    )
    return (Picture(figures=(height_figure(view),)),)


def _between_jaws(planned: PlannedSetup, jaws: Jaws, plan: Plan) -> HeightView:
    """Return how plate and part lie between the jaws, along the axis across them."""
    axis = planned.guide.plane.axes[2]
    datum = next(d for d in planned.guide.datums if d.axis == axis)
    fixed = datum.offset_mm
    inward = -1.0 if jaws.fixed.startswith("+") else 1.0

    def span(thick_mm: float) -> tuple[float, float]:
        low, high = sorted((fixed, fixed + inward * thick_mm))
        return low, high

    part, plate = span(planned.part.height_mm), span(planned.guide.plates[0].thickness_mm)
    return HeightView(
        part_low_mm=part[0],
        part_high_mm=part[1],
        plate_low_mm=plate[0],
        plate_high_mm=plate[1],
        touched="the fixed jaw",
        touched_mm=fixed,
        units=plan.job.units,
        axis=axis,
        jaws_mm=(fixed, fixed + inward * jaws.opening_mm),
    )


def _datum_row(datum: Datum, units: str) -> tuple[str, ...]:
    """Return one axis as a row: plain hyphens, so that the figures can be typed as they stand."""
    return (
        datum.axis,
        datum.face,
        datum.side.replace(quantity.MINUS, "-"),
        quantity.offset_text(datum.offset_mm, units),
        quantity.plus_minus_text(datum.u_mm, units),
        quantity.length_text(datum.tip_radius_mm, units, places=quantity.OFFSET_PLACES[units])
        if datum.finder
        else "none",
        quantity.offset_text(datum.reading_mm, units),
    )


def _finder_lines(datums: tuple[Datum, ...], units: str) -> tuple[str, ...]:
    """Return how each axis is picked up, in words, with the tip's radius and sign."""
    lines = []
    for datum in datums:
        line = f"{datum.axis}: {datum.pick_up}"
        if datum.finder:
            sign = "+" if datum.side.startswith("+") else quantity.MINUS
            radius = quantity.length_text(
                datum.tip_radius_mm, units, places=quantity.OFFSET_PLACES[units]
            )
            line += f", with {datum.finder}; its radius {radius} counts {sign}"
        lines.append(line + ".")
    return tuple(lines)


def square_section(planned: PlannedSetup, plan: Plan) -> Section | None:
    """Return how to sweep the longest face square; None when no face sets an axis.

    A plate that stands in a vise turns with the fixed jaw, so the jaw is swept over the plate's
    width; its lower edge keeps it upright.
    """
    guide = planned.guide
    faces = [f for f in guide.faces if f.plate == guide.plates[0].name]
    if not faces:
        return None
    face = max(faces, key=_length_mm)
    level = abs(face.normal.y) > abs(face.normal.x)
    what, axis, across_mm = (
        f"face {face.name}",
        guide.plane.axes[0 if level else 1],
        _length_mm(face),
    )
    then = "Tap it true, clamp, sweep again."
    if guide.jaws is not None:
        what, axis = "the fixed jaw", guide.plane.axes[0]
        across_mm = guide.plates[0].region.bounds().width
        then = (
            "Then press the plate down until no light shows under its lower edge, and hold it "
            "there while the jaws close."
        )
    length_mm = across_mm - 2 * SWEEP_END_MM
    if length_mm <= 0:
        return None
    allowed = allowed_turn_rad(planned, plan)
    units = plan.job.units
    places = quantity.SIZE_PLACES[units]
    step = 10.0**-places
    reading = math.floor(quantity.in_units(length_mm * allowed, units) / step + 1e-9) * step
    unit = {"mm": "mm", "inch": "in"}[units]
    return Section(
        key="square",
        heading="Square the guide",
        blocks=(
            Lines(
                lines=(
                    f"Sweep {what} with an indicator along {axis} over "
                    f"{quantity.length_text(length_mm, units, places=1 if units == 'mm' else 2)}: "
                    f"the reading may change by {quantity.number(reading, places)} {unit} at most "
                    f"(allowed turn {quantity.angle_text(round(allowed, 6))}). {then}",
                )
            ),
        ),
    )


def allowed_turn_rad(planned: PlannedSetup, plan: Plan) -> float:
    """Return how far the guide may be out of square, rad.

    A turn about the touched faces moves a feature by its distance from program zero times the
    turn; that may use ``SQUARE_SHARE`` of the feature's tolerance. Never above
    ``SQUARE_MOST_RAD``.
    """
    x, y, _ = planned.setup.zero_mm
    allowed = [SQUARE_MOST_RAD]
    for feature in planned.part.critical:
        arm = math.hypot(feature.at.x - x, feature.at.y - y)
        if arm > 0:
            allowed.append(SQUARE_SHARE * feature.tolerance_mm / arm)
    return min(allowed)


def _length_mm(face: Face) -> float:
    """Return the length of a face, mm."""
    return math.dist(face.start, face.end)


def offset_lines_section(planned: PlannedSetup, units: str) -> Section | None:
    """Return RS-274 lines that set the work offset from the faces' machine positions.

    Source: G10 L2, NIST RBS 274/NGC, 3.5.5. The machine position of a face is not known
    here, so the lines hold places to fill in.
    """
    number = int(planned.setup.work_offset.removeprefix("G")) - 53
    words = []
    for datum in planned.guide.datums:
        value = -datum.reading_mm
        size = quantity.bare_length(abs(value), units, places=quantity.OFFSET_PLACES[units])
        words.append(f"{datum.axis}[{datum.axis.lower()} {'-' if value < 0 else '+'} {size}]")
    return Section(
        key="offset-lines",
        heading="Work offset as RS-274 lines",
        blocks=(
            Lines(
                lines=(
                    "G20 (inches)" if units == "inch" else "G21 (millimetres)",
                    *(f"G10 L2 P{number} {word}" for word in words),
                ),
                mono=True,
            ),
            Notices(
                notices=(
                    Notice(
                        weight="CAUTION",
                        text="x, y and z stand for the machine coordinates read at touch. Verify "
                        "the sign and value of every axis against the table, above the part, "
                        "before the first cut.",
                    ),
                )
            ),
        ),
    )
