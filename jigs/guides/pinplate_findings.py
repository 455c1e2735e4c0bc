"""What a pin plate has to say of itself: overhangs, tape, stops, and what its pins stand in."""

from __future__ import annotations

import math
from itertools import permutations
from typing import Final

from jigs import quantity
from jigs.finding import Finding, Severity
from jigs.guides.machined import MachinedPlate
from jigs.guides.tape_zones import LEAST_PATCH_MM2, reach_mm
from jigs.holding.means import Tape
from jigs.locating.pin_places import round_holes
from jigs.part import Part
from kerf.contour import Region
from kerf.materials import material_named

#: Materials a pin is not pressed into, by the name the table of materials gives them.
SOFT: Final = ("acrylic", "acetal", "MDF", "plywood")
#: Words of plates that the table does not know but that are soft.
_SOFT_WORDS: Final = ("plastic", "hdpe", "delrin", "wood", "nylon", "phenolic")
#: A turn smaller than this is the right place, taken up by the pins' play, rad.
SAME_TURN_RAD: Final = math.radians(1.0)
#: Less than this share of the part on tape is told, never judged: the holding check judges.
FEW_SHARE: Final = 0.25


def is_soft(material: str) -> bool:
    """Return whether a plate's material gives way under a pressed pin."""
    known = material_named(material)
    words = material.lower()
    return (known is not None and known.name in SOFT) or any(w in words for w in _SOFT_WORDS)


def plate_findings(
    machined: MachinedPlate, part: Part, plate: Region, *, subject: str
) -> tuple[Finding, ...]:
    """Return what is wrong with, or worth knowing of, plate and pins."""
    found: list[Finding] = []
    if is_soft(machined.material):
        found.append(
            Finding(
                code="pin-in-plastic",
                severity=Severity.WARN,
                subject=subject,
                message=f"steel pins would stand in {machined.material}: a press fit there creeps, "
                "cracks or lets go",
                hint="make the plate of metal, or set steel bushes in it and slip the pins",
            )
        )
    found += [
        Finding(
            code="pin-soft",
            severity=Severity.WARN,
            subject=f"{subject}: pin {place.name}",
            message=f"{place.pin.name} is of {place.pin.material}: it wears and bends where a part "
            "is put on again and again",
            hint="use a steel pin",
        )
        for place in machined.places
        if is_soft(place.pin.material)
    ]
    found.append(_wrong_ways(machined, part, subject=subject))
    for piece in machined.overhangs:
        at = piece.bounds().centre
        reach = reach_mm(piece, plate)
        found.append(
            Finding(
                code="part-overhangs",
                severity=Severity.WARN,
                subject=subject,
                message=(
                    f"{piece.area_mm2:.0f} mm² of the part at ({at.x:.1f}, {at.y:.1f}) mm of the "
                    f"plate hang up to {reach:.1f} mm over its edge, unsupported"
                ),
                measured=reach,
                limit=0.0,
                unit="mm",
                hint="make the plate larger, or do not cut there",
            )
        )
    return tuple(found)


def _wrong_ways(machined: MachinedPlate, part: Part, *, subject: str) -> Finding:
    """Return the note of the ways in which pins alone let the part on.

    About the line of two pins a part always turns over onto the same two.
    """
    turns = wrong_turns(machined, part)
    ways = "upside down"
    if turns:
        ways += ", and either way up turned by " + ", ".join(
            quantity.angle_text(math.radians(round(math.degrees(turn), 1))) for turn in turns
        )
    return Finding(
        code="pins-wrong-way",
        severity=Severity.NOTE,
        subject=subject,
        message=f"pins alone let the part on {ways} as well",
        hint="lay the part against the outline scored on the sheet before the sheet is lifted "
        "off, and mark the plate",
    )


def wrong_turns(machined: MachinedPlate, part: Part) -> tuple[float, ...]:
    """Return the turns at which two pins enter two other bores, face up as drawn, rad.

    Counter-clockwise, above 0 and below a full turn, in order; empty for a pin beside an edge.
    """
    first, second = machined.places[0], machined.places[-1]
    if first.fit is None or second.fit is None:
        return ()
    span = math.dist(first.at, second.at)
    heading = math.atan2(second.at.y - first.at.y, second.at.x - first.at.x)
    play = (first.fit.most_mm + second.fit.most_mm) / 2
    turns = set()
    for (a, size_a), (b, size_b) in permutations(round_holes(part.region), 2):
        enters = (
            first.pin.limits.least_mm <= size_a + first.fit.bore.plus_minus_mm
            and second.pin.limits.least_mm <= size_b + second.fit.bore.plus_minus_mm
        )
        # Of pins that rattle in larger bores the distance may be off by what they rattle.
        spare = max(0.0, size_a - first.pin.limits.least_mm) / 2
        spare += max(0.0, size_b - second.pin.limits.least_mm) / 2
        if not enters or abs(math.dist(a, b) - span) > max(play, spare):
            continue
        turn = (heading - math.atan2(b.y - a.y, b.x - a.x)) % math.tau
        if min(turn, math.tau - turn) > SAME_TURN_RAD:
            turns.add(round(turn, 4))
    return tuple(sorted(turns))


def tape_findings(
    machined: MachinedPlate, part: Part, *, taped: bool, subject: str
) -> tuple[Finding, ...]:
    """Return what is wrong with the tape."""
    if not taped:
        return ()
    area, whole = machined.tape_area_mm2, part.region.area_mm2
    if not machined.tape:
        return (
            Finding(
                code="tape-gone",
                severity=Severity.FAIL,
                subject=subject,
                message=(
                    "no tape is left under the part: its margin, bores, pins, stops and what is "
                    f"cut through leave no patch of {LEAST_PATCH_MM2:.0f} mm²"
                ),
                measured=0.0,
                limit=LEAST_PATCH_MM2,
                unit="mm²",
                hint="lessen the margin or `setback`, leave the stops out, or hold it by clamps",
            ),
        )
    if area < FEW_SHARE * whole:
        return (
            Finding(
                code="tape-little",
                severity=Severity.WARN,
                subject=subject,
                message=f"tape covers {area:.0f} mm² of the part's {whole:.0f} mm²",
                measured=area,
                limit=FEW_SHARE * whole,
                unit="mm²",
                hint="lessen the margin or `setback`, or add clamps",
            ),
        )
    return ()


def stop_findings(
    machined: MachinedPlate, tape: Tape | None, *, subject: str
) -> tuple[Finding, ...]:
    """Return what is wrong with stops and tape together."""
    if tape is None or not machined.stops:
        return ()
    tall, thick = machined.stops[0].height_mm, tape.thickness_mm
    if tall > thick + 1e-6:
        return (
            Finding(
                code="stop-too-high",
                severity=Severity.FAIL,
                subject=subject,
                message=f"stops of {tall:.3f} mm keep the part off a tape of {thick:.3f} mm",
                measured=tall,
                limit=thick,
                unit="mm",
                hint="make the stops as high as the tape or a little lower",
            ),
        )
    return ()
