"""Several pockets on one plate: copies of the first at a pitch along the sheet's x or y.

A copy is the first pocket moved, so that what is said of the first (clearance, contacts,
errors) holds for each; program zero of a copy lies one pitch further. Between two pockets
stands a web of plate, as wide as a finger notch asks and twice the sheet's thickness at least.

The laser's scale is the only error that grows along the row: the kerf moves like walls alike.
Its standard uncertainty times the distance is told for each copy.

Refused: a pitch at which two pockets meet.
Reported elsewhere: a web thinner than the sheet's thickness.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from jigs.guides.guide import CheckSize
from jigs.setup import Setup
from jigs.table import Table
from kerf.beam import KerfCard
from kerf.boolean import intersection
from kerf.contour import Point, Region, Transform, Vector
from kerf.errors import InputError

#: More pockets than this on one plate is a slip of the pen.
MOST_COPIES: Final = 100

#: A pitch found by the program is a whole number of these, mm: it is typed at a control.
PITCH_STEP_MM: Final = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Copies:
    """How many pockets a plate is to have.

    Args:
        count: 1 or more.
        along: "x" or "y", the sheet's.
        pitch_mm: from pocket to pocket; None for the least with a good web, mm.
    """

    count: int = 1
    along: str = "x"
    pitch_mm: float | None = None


def read_copies(table: Table) -> Copies:
    """Read ``copies``, ``along`` and ``pitch`` of a set-up, noting faults."""
    count = table.whole("copies", 1, least=1)
    if count > MOST_COPIES:
        table.fault(
            "copies", f"{count} copies are asked for; at most {MOST_COPIES} go on one plate"
        )
        count = 1
    along = table.choice("along", ("x", "y"), "x")
    pitch = table.length_mm("pitch", above=0.0) if table.has("pitch") else None
    if count == 1 and pitch is not None:
        table.fault("pitch", "a pitch is given for one copy", "set copies = 2 or more")
    return Copies(count=count, along=along, pitch_mm=pitch)


def copy_shifts(void: Region, copies: Copies, *, web_mm: float, setup: Setup) -> tuple[Vector, ...]:
    """Return how far each pocket lies from the first, that one's (0, 0) included, sheet axes, mm.

    Args:
        void: the pocket with its notches and reliefs, as it lies on the sheet.
        copies: what is asked.
        web_mm: plate between two pockets when the program finds the pitch.
        setup: for messages.
    Raises:
        InputError: at the pitch given, two pockets meet.
    """
    if copies.count == 1:
        return (Vector(0.0, 0.0),)
    box = void.bounds()
    long = box.width if copies.along == "x" else box.height
    if copies.pitch_mm is None:
        pitch = math.ceil((long + web_mm) / PITCH_STEP_MM - 1e-9) * PITCH_STEP_MM
    else:
        pitch = copies.pitch_mm
        one = _moved(pitch, copies.along)
        if intersection(void, void.transformed(Transform.translation(*one))):
            raise InputError(
                f"at a pitch of {pitch:.2f} mm the pockets of two copies meet",
                where=setup.key_path + ".pitch",
                hint=f"{long + web_mm:.1f} mm are surely enough; leave pitch out to have it found",
            )
    return tuple(_moved(i * pitch, copies.along) for i in range(copies.count))


def _moved(by_mm: float, along: str) -> Vector:
    """Return a shift along an axis."""
    return Vector(by_mm, 0.0) if along == "x" else Vector(0.0, by_mm)


def copy_checks(
    shifts: tuple[Vector, ...], wall_at: Point | None, card: KerfCard
) -> tuple[CheckSize, ...]:
    """Return the distance from the first pocket's wall to the like wall of each copy.

    The kerf moves both alike, so that the laser's scale alone is measured. ±: twice the scale's
    standard uncertainty over the distance, and never less than 0.02 mm, which is what a
    calliper tells.

    Args:
        shifts: of the copies.
        wall_at: a place on the first pocket's wall that faces along the row; none to measure
            where a notch has taken it.
        card: gives the scale's uncertainty.
    """
    if wall_at is None:
        return ()
    return tuple(
        CheckSize(
            name=f"copy 1 to copy {number}, like walls",
            nominal_mm=math.hypot(*shift),
            plus_minus_mm=max(2 * copy_u_mm(shift, card), 0.02),
            start=wall_at,
            end=Point(wall_at.x + shift.x, wall_at.y + shift.y),
        )
        for number, shift in enumerate(shifts, 1)
        if number > 1
    )


def copy_u_mm(shift: Vector, card: KerfCard) -> float:
    """Return the standard uncertainty of a copy's distance from the first, mm."""
    return math.hypot(*shift) * card.u_scale
