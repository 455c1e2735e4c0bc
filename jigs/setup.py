"""One set-up as the job file asks for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from jigs.blank import Blank
from jigs.heading import SetupHeading
from jigs.holding.cut import Cut
from jigs.holding.hold import HAND_PUSH_N, Hold
from jigs.holding.means import Mill
from jigs.part import Part
from jigs.seat_push import SeatPush
from kerf.contour import Point, Transform
from kerf.lean import LeanUse


class Flip(StrEnum):
    """Which axis of the part it is turned over about."""

    NONE = "none"
    X = "x"
    Y = "y"

    def transform(self) -> Transform:
        """Return what the flip does to the outline seen from above."""
        return {
            Flip.NONE: Transform(),
            Flip.X: Transform.mirror_x(),
            Flip.Y: Transform.mirror_y(),
        }[self]


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What the job says of one set-up.

    Args:
        name: "op20".
        guide: key of the guide kind.
        plane: how the sheet stands in the machine, "XY", "XZ" or "YZ".
        turn_rad: turn of the part in the guide, after the flip, rad.
        flip: whether the part is turned over.
        sheet, laser, finder: names in the shop file; empty means the first that serves.
        clearance_mm: per side, mm.
        work_offset: "G54" ….
        zero_mm: the part point that is program zero: x, y as drawn, z from the underside
            of the part as drawn, mm.
        contacts: "float" (the part floats in its pocket), "auto" (chosen by the program) or
            "given" (at ``contact_points``).
        contact_points: where the part rests, part coordinates, mm.
        change_k, change_percent: greatest ± change of temperature, and of the guide's moisture
            content, between measuring the guide and using it.
        used_at_c: temperature at the machine, °C; None when it is that of the kerf card.
        lean: what the guide does about the lean of its walls: allowed, it lies as it lay in the
            laser; opposed, it is cut mirrored and turned over.
        tabs: how many uncut places hold each plate in its sheet; never on an edge that locates.
        key_path: where it stands in the job file, for messages.
        options: the kind's own options, read by the kind.
        cuts: what is cut in this set-up, in order.
        hold: what holds the part meanwhile; None when the job does not say.
        mill: name in the shop file; empty means the first.
        push_n: force that seats the part against its contacts, N.
        push: where it acts, and the friction that hinders it.
        view: the part as it is seen in this set-up, when that is not the part as drawn: a
            side view, or the blank it is cut from; ``zero_mm`` is in its coordinates then.
        blank: the blank of several parts that ``view`` is; None when it is none.
        heading: machine, program, storage slot and drawing datums, as the shop calls them.
    """

    name: str
    guide: str
    plane: str
    turn_rad: float
    flip: Flip
    sheet: str
    laser: str
    finder: str
    clearance_mm: float
    work_offset: str
    zero_mm: tuple[float, float, float]
    contacts: str
    contact_points: tuple[Point, ...]
    key_path: str
    lean: LeanUse = LeanUse.ALLOWED
    tabs: int = 0
    change_k: float = 0.0
    used_at_c: float | None = None
    change_percent: float = 0.0
    options: object
    cuts: tuple[Cut, ...] = ()
    hold: Hold | None = None
    mill: str = ""
    push_n: float = HAND_PUSH_N
    push: SeatPush = field(default_factory=SeatPush)
    view: Part | None = None
    blank: Blank | None = None
    heading: SetupHeading = field(default_factory=SetupHeading)

    def seen(self, part: Part) -> Part:
        """Return the part as it is seen in this set-up."""
        return self.view or part

    def machine(self, mills: Sequence[Mill]) -> str:
        """Return what it runs on: as the job calls it, or the shop's mill it was judged by.

        Args:
            mills: of the shop; the first is meant where the job names none.
        """
        first = mills[0].name if mills and (self.cuts or self.hold is not None) else ""
        return self.heading.machine or self.mill or first

    def pose(self) -> Transform:
        """Return the part → set-up turn: flip first, then turn, no shift."""
        return self.flip.transform().then(Transform.rotation(self.turn_rad))
