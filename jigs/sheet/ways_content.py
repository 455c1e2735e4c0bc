"""Which way the part comes out of its guide, and directions and places as the sheet tells them.

Directions are those of the machine, counted counter-clockwise from the axis that lies to the
right in the picture; places are those of the drawing, as the job gives them.
"""

from __future__ import annotations

import math
from typing import Final

from jigs import quantity
from jigs.checks.comes_out import Drawer, Leaving
from jigs.guides.guide import Plane
from jigs.plan import PlannedSetup
from kerf.contour import Point, Transform, Vector
from kerf.tolerance import FREE_WAY_RAD

#: Decimals of a clamp's place: it is set by eye.
PLACES: Final = {"mm": 1, "inch": 2}
#: A direction counts towards an axis when this share of it lies along it.
_ALONG: Final = 0.26


def leaving_lines(out: Leaving, planned: PlannedSetup, units: str) -> list[str]:
    """Return how the part comes out, and whether it can wedge."""
    plane, turn = planned.guide.plane, planned.setup.pose()
    if plane is Plane.XY:
        first = "With the cap off the" if out.over == "cap" else "The"
        straight = f"{first} part comes out straight up"
    else:
        straight = (
            f"With the jaws open the part comes out straight across the plate, along "
            f"{plane.axes[2]}"
        )
    ways = []
    for slide in out.slides:
        low, high = arc_rad(turn, slide.from_rad, slide.to_rad)
        if high - low <= 8 * FREE_WAY_RAD:
            said = f"towards {towards_text(low, plane)} ({degrees_text(low)})"
        elif high - low >= math.tau - FREE_WAY_RAD:
            said = "any way in the plane"
        else:
            said = f"any way from {_axis_text(low, plane)} round to {_axis_text(high, plane)}"
        if not all(slide.clear):
            said += ", though not everywhere clear of the guide further on"
        ways.append(said)
    if not ways:
        barred = "pins in its bores" if planned.guide.base else "walls"
        return [f"{straight}; {barred} bar every slide."]
    lines = [f"{straight}; it also slides out {' or '.join(ways)}."]
    if out.drawer is not None:
        lines.append(_drawer_line(out.drawer, units))
    return lines


def _drawer_line(drawer: Drawer, units: str) -> str:
    """Return whether a slide wedges."""

    def length(value_mm: float) -> str:
        return quantity.length_text(value_mm, units, places=PLACES[units])

    half = drawer.width_mm / 2
    tilt = (
        f", and can tilt by {math.degrees(drawer.tilt_rad):.2f}° in its clearance"
        if drawer.tilt_rad is not None
        else ""
    )
    verdict = (
        f"pushed anywhere on its width (±{length(half)} off its middle) it does not wedge"
        if drawer.offset_mm >= half
        else f"pushed more than {length(drawer.offset_mm)} off its middle it WEDGES"
    )
    return (
        f"The walls guide that slide over {length(drawer.guidance_mm)}{tilt}: at a friction of "
        f"{drawer.friction:.2f}, {verdict}."
    )


def place_text(at: Point, units: str) -> str:
    """Return a place of the drawing."""
    x, y = (quantity.bare_length(v, units, places=PLACES[units]) for v in at)
    text = f"x {x}, y {y} {'in' if units == 'inch' else 'mm'}"
    return text.replace("-", quantity.MINUS)


def direction_rad(turn: Transform, direction: Vector) -> float:
    """Return the angle of a part direction in the set-up, from its first axis, rad."""
    x, y = turn.vector(*direction)
    return math.atan2(y, x)


def arc_rad(turn: Transform, low_rad: float, high_rad: float) -> tuple[float, float]:
    """Return an arc of part directions in the set-up; a flip swaps its ends."""
    ends = [
        direction_rad(turn, Vector(math.cos(a), math.sin(a)))
        for a in (low_rad, (low_rad + high_rad) / 2, high_rad)
    ]
    half = (high_rad - low_rad) / 2
    return ends[1] - half, ends[1] + half


def degrees_text(angle_rad: float) -> str:
    """Return a direction in whole degrees, 0 to 359."""
    return f"{round(math.degrees(angle_rad)) % 360}°"


def _axis_text(angle_rad: float, plane: Plane) -> str:
    """Return a direction as an axis where it lies along one, else in degrees from the first."""
    first, second, _ = plane.axes
    quarter = math.degrees(angle_rad) / 90
    if abs(quarter - round(quarter)) < 0.005:
        return (f"+{first}", f"+{second}", f"{quantity.MINUS}{first}", f"{quantity.MINUS}{second}")[
            round(quarter) % 4
        ]
    return f"{degrees_text(angle_rad)} from +{first}"


def towards_text(angle_rad: float, plane: Plane) -> str:
    """Return the axes a direction goes towards: "−X and −Y"."""
    first, second, _ = plane.axes
    x, y = math.cos(angle_rad), math.sin(angle_rad)
    return " and ".join(
        ("+" if share > 0 else quantity.MINUS) + axis
        for share, axis in ((x, first), (y, second))
        if abs(share) > _ALONG
    )
