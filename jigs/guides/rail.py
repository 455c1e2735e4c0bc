"""The shapes of a datum fence: rail, seats for stops, stops, bolt holes, scale.

All left-handed, in the set-up's turn: the part lies above the rail, its end against a stop on
its left. A stop is a T lying in the plane of the rail: its neck fits the mouth of a seat and
its head, dropped in from above, keeps it from leaving. What seats it is the neck's left side
on the mouth's left wall, where the part pushes it; every other side has play.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from kerf.contour import Contour, Region
from kerf.errors import InputError

#: The T of a stop: width of neck and head, depth of each, mm.
NECK_MM: Final = 14.0
HEAD_MM: Final = 24.0
NECK_DEEP_MM: Final = 7.0
HEAD_DEEP_MM: Final = 9.0
#: Play of a stop in its seat, mm, on every side but the one that seats it.
PLAY_MM: Final = 0.15
#: Width of a stop's arm, mm.
ARM_MM: Final = 24.0
#: Radius of the relief in a corner of seat or stop, mm.
CORNER_MM: Final = 0.8
#: Least plate between a seat, hole or end of the rail and the next, mm.
RIM_MM: Final = 9.0
#: Greatest distance between bolts, mm. Source: common practice.
BOLTS_MM: Final = 120.0

#: Clearance holes for bolts, medium fit, mm (ISO 273, from memory).
CLEARANCE_HOLES: Final = {
    4.0: 4.5, 5.0: 5.5, 6.0: 6.6, 8.0: 9.0, 10.0: 11.0, 12.0: 13.5, 14.0: 15.5, 16.0: 17.5,
    20.0: 22.0,
}  # fmt: skip


def bolt_hole_mm(bolt_mm: float) -> float:
    """Return the diameter of the hole for a bolt: ISO 273 medium, a tenth more for others."""
    return CLEARANCE_HOLES.get(bolt_mm, 1.1 * bolt_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rail:
    """Where a rail lies, left-handed in the set-up's turn, mm.

    Args:
        x_min, x_max: ends of the rail.
        y_min, y_max: outer edge, and the edge toward the part before pads.
        stops: x of the face of a stop in each seat.
    """

    x_min: float
    x_max: float
    y_min: float
    y_max: float
    stops: tuple[float, ...]

    def neck_x(self, stop_x: float) -> float:
        """Return the left wall of the seat of a stop, which seats its neck."""
        return stop_x - ARM_MM / 2 - NECK_MM / 2

    def seat(self, stop_x: float) -> tuple[Region, ...]:
        """Return what is cut from the rail for one seat: mouth, room for the head, reliefs."""
        left, top = self.neck_x(stop_x), self.y_max
        right = left + NECK_MM + PLAY_MM
        side = (HEAD_MM - NECK_MM) / 2 + PLAY_MM
        low, floor = top - NECK_DEEP_MM, top - NECK_DEEP_MM - HEAD_DEEP_MM - 2 * PLAY_MM
        shape = Contour.of(
            (
                (left, top + 1.0),
                (left, low),
                (left - side, low),
                (left - side, floor),
                (right + side, floor),
                (right + side, low),
                (right, low),
                (right, top + 1.0),
            )
        )
        corners = [
            (left - side, floor),
            (right + side, floor),
            (left - side, low),
            (right + side, low),
        ]
        return (
            Region(outer=shape),
            *(Region(outer=Contour.circle(x, y, CORNER_MM)) for x, y in corners),
        )

    def keeps_clear(self, x: float, width_mm: float) -> bool:
        """Return whether a pad of this width at x stands clear of every seat's mouth."""
        return all(
            x + width_mm / 2 < self.neck_x(stop) - 2.0
            or x - width_mm / 2 > self.neck_x(stop) + NECK_MM + 2.0
            for stop in self.stops
        )


def stop_shape(
    rail: Rail, stop_x: float, *, clearance_mm: float, top_mm: float
) -> tuple[Region, tuple[Region, ...]]:
    """Return a stop without its pad, and the reliefs to cut from it.

    Args:
        rail: the rail it sits in.
        stop_x: its face.
        clearance_mm: how far its edge stands back from the face, away from the pad.
        top_mm: its upper end.
    """
    left, y = rail.neck_x(stop_x), rail.y_max
    right = left + NECK_MM
    side = (HEAD_MM - NECK_MM) / 2
    low = y - NECK_DEEP_MM - PLAY_MM
    floor = low - HEAD_DEEP_MM
    body = Contour.of(
        (
            (left - side, floor),
            (right + side, floor),
            (right + side, low),
            (right, low),
            (right, y),
            (stop_x - clearance_mm, y),
            (stop_x - clearance_mm, top_mm),
            (stop_x - ARM_MM, top_mm),
            (stop_x - ARM_MM, y),
            (left, y),
            (left, low),
            (left - side, low),
        )
    )
    corners = ((left, y), (right, y), (left, low), (right, low))
    return Region(outer=body), tuple(
        Region(outer=Contour.circle(px, py, CORNER_MM)) for px, py in corners
    )


def bolt_rows(
    rail: Rail, *, pitch_mm: float, slots: bool, bolt_mm: float
) -> tuple[tuple[float, float], ...]:
    """Return where the bolts go: on one line parallel to the rail.

    On a T-slot they may stand anywhere along it; on a grid of holes at multiples of its pitch.

    Args:
        rail: the rail.
        pitch_mm: of slots or holes.
        slots: whether the table has T-slots.
        bolt_mm: nominal diameter.
    Raises:
        InputError: the rail has no room for two bolts.
    """
    half = bolt_hole_mm(bolt_mm) / 2
    y = rail.y_min + RIM_MM + half
    room = rail.x_max - rail.x_min - 2 * (RIM_MM + half)
    if slots:
        step = room / max(1, math.ceil(room / BOLTS_MM))
    else:
        most = math.floor(room / pitch_mm + 1e-9)
        step = pitch_mm * max(1, min(most, math.floor(BOLTS_MM / pitch_mm)))
    count = math.floor(room / step + 1e-9) + 1 if step > 0 else 0
    if count < 2 or room < 2 * half + RIM_MM:
        raise InputError(
            f"the rail is {rail.x_max - rail.x_min:.1f} mm long and has no room for two bolts "
            f"of {bolt_mm:g} mm" + ("" if slots else f" {pitch_mm:g} mm apart"),
            hint='make the rail longer (`length`), or fasten it by other means (fasten = "none")',
        )
    first = (rail.x_min + rail.x_max - (count - 1) * step) / 2
    return tuple((first + i * step, y) for i in range(count))
