"""What the job says of the push that seats a part against its contacts, beside its force.

Source: friction of metal on metal or plastic, wet, 0.15 to 0.2, from memory; here friction
hinders, so the upper end is taken. Dry acrylic can have twice as much, from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from jigs.table import Table
from kerf.contour import Point, Region, Vector
from kerf.errors import InputError
from kerf.tolerance import PUSH_PLACE_MM

if TYPE_CHECKING:
    from jigs.locating.seating import Push

#: Friction between the part and the guide's pads when the job gives none.
PAD_FRICTION: Final = 0.2
#: No dry pair of metal and plastic has more.
_MOST_FRICTION: Final = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatPush:
    """Where a clamp or finger pushes the part against its contacts.

    Args:
        at: on the part's outline, part coordinates, mm; None when the job does not say.
        angle_rad: direction of the push from the drawing's x, counter-clockwise, rad; None for
            square to the edge.
        friction: between the part and what it is pushed against.
        key_path: where it stands in the job file.
    """

    at: Point | None = None
    angle_rad: float | None = None
    friction: float = PAD_FRICTION
    key_path: str = ""

    def on(self, region: Region) -> Push | None:
        """Return the push on a part; None when the job gives no place.

        Raises:
            InputError: the place is off the outline, or the push pulls away from the part.
        """
        from jigs.locating.pushes import square_push
        from jigs.locating.seating import Push

        if self.at is None:
            return None
        _, point, off = region.outer.nearest(*self.at)
        if off > PUSH_PLACE_MM:
            raise InputError(
                f"push_at ({self.at.x:.3f}, {self.at.y:.3f}) mm lies {off:.3f} mm off the part's "
                "outline",
                where=self.key_path + ".push_at",
                hint=f"the nearest point of the outline is ({point.x:.3f}, {point.y:.3f}) mm",
            )
        push = square_push(region.outer, point)
        if self.angle_rad is None:
            return push
        along = Vector(math.cos(self.angle_rad), math.sin(self.angle_rad))
        if push.along.x * along.x + push.along.y * along.y <= 0.0:
            square = math.degrees(math.atan2(push.along.y, push.along.x)) % 360
            raise InputError(
                f"push_angle {math.degrees(self.angle_rad):.4g}° pulls away from the part at "
                f"({point.x:.3f}, {point.y:.3f}) mm",
                where=self.key_path + ".push_angle",
                hint=f"square into the part is {square:.1f}°, counter-clockwise from the "
                "drawing's x",
            )
        return Push(at=push.at, along=along)


def read_seat_push(row: Table, *, key_path: str) -> SeatPush:
    """Read where the part is pushed, and the friction that hinders it."""
    friction = row.number("pad_friction", PAD_FRICTION, least=0.0, most=_MOST_FRICTION)
    if not row.has("push_at"):
        if row.has("push_angle"):
            row.fault(
                "push_angle",
                "push_angle is given without push_at",
                "say where on the outline the push acts, push_at = [x, y]",
            )
        return SeatPush(friction=friction, key_path=key_path)
    return SeatPush(
        at=row.point_mm("push_at"),
        angle_rad=row.angle_rad("push_angle", 0.0) if row.has("push_angle") else None,
        friction=friction,
        key_path=key_path,
    )
