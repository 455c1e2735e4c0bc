"""How a set-up holds its part, as the job says: tape, vise or clamps, and nothing assumed.

A guide locates; it holds nothing. Only what the job names here is judged, and a job that gives
cuts and names nothing is told that holding was not judged.

Soft jaws are jaws of aluminium, cut to the part where they grip it; with a step the part stands
on what the cutter left below, and is gripped over the step's depth.

Source: coefficients of friction, design values for wet metal on metal 0.15 to 0.20, from
memory: the lower end for ground hard jaws, the upper for soft jaws as milled. Handbooks give
0.3 for greasy aluminium on aluminium, so both are on the safe side.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from jigs.holding.means import FORCE_UNITS, Coolant
from jigs.table import Table
from kerf.contour import Point

#: Friction of jaws and clamps on metal when the job gives none.
FRICTION: Final = 0.15
SOFT_FRICTION: Final = 0.20
#: Push by hand that seats a part against its pads, N. Source: common practice.
HAND_PUSH_N: Final = 50.0
#: Least factor against slip, lift and peel; the shop may ask for more, or for less down to
#: ``LEAST_FACTOR_FLOOR``.
LEAST_FACTOR: Final = 3.0
LEAST_FACTOR_FLOOR: Final = 1.5
#: Radius of a strap's head on the part, and its height above it, mm. Source: common practice.
STRAP_MM: Final = 9.0
STRAP_TALL_MM: Final = 25.0


class HoldBy(StrEnum):
    """What holds the part against cutting forces."""

    TAPE = "tape"
    VISE = "vise"
    CLAMPS = "clamps"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """What the job says of holding.

    Args:
        by: what holds.
        tape: name in the shop file; empty for the first.
        coolant, temperature_c: at work.
        margin_mm: how far the tape stands back from the part's edge, mm.
        force_n: of the vise, or of each clamp, N; None when neither job nor mill says.
        friction: of jaws or clamps and bed on the part.
        friction_given: whether the job gives it; else it is assumed.
        soft: whether the jaws are soft ones, cut to the part.
        step_mm: depth of the step cut into soft jaws, on which the part stands, mm; 0 for none.
        clamps: where clamps press, part coordinates, mm.
        jaws: machine axis along which the vise closes, "X" or "Y".
        grip_mm: height of part between the jaws, mm; 0 for as much as the jaws cover.
        bow_mm: how far clamping may bend or shorten the part, mm.
        key_path: where it stands in the job file.
    """

    by: HoldBy
    tape: str
    coolant: Coolant
    temperature_c: float
    margin_mm: float
    force_n: float | None
    friction: float
    friction_given: bool
    soft: bool
    step_mm: float
    clamps: tuple[Point, ...]
    jaws: str
    grip_mm: float
    bow_mm: float
    key_path: str

    @property
    def friction_text(self) -> str:
        """The friction, and whether it is assumed."""
        return f"friction {self.friction:.2f}{'' if self.friction_given else ' (assumed)'}"


def read_hold(row: Table) -> Hold | None:
    """Read ``hold`` and [setup.holding] of a set-up; None when the job does not say."""
    table = row.table("holding") if row.has("holding") else None
    if not row.has("hold"):
        if table is not None:
            row.fault("holding", "holding is described, but hold does not say by what", _HINT)
        return None
    by = HoldBy(row.choice("hold", tuple(HoldBy), HoldBy.CLAMPS.value))
    if table is None:
        table = Table({}, path=row.where("holding"), faults=row.faults, unit_mm=row.unit_mm)
    force = (
        table.amount("clamp_force", FORCE_UNITS, above=0.0) if table.has("clamp_force") else None
    )
    clamps = table.points_mm("clamps") if table.has("clamps") else ()
    if by is HoldBy.CLAMPS:
        if not clamps:
            table.fault("clamps", "clamps are to hold, but none is given", "clamps = [[x, y], …]")
        if force is None:
            table.fault(
                "clamp_force", '"clamp_force" is missing', 'clamp_force = "800 N", of each clamp'
            )
    soft = table.choice("jaw_faces", ("hard", "soft"), "hard") == "soft"
    step_mm = table.length_mm("step", 0.0, least=0.0)
    if step_mm > 0.0 and not soft:
        table.fault("step", "a step is cut into soft jaws only", 'jaw_faces = "soft"')
    if step_mm > 0.0 and table.has("grip"):
        table.fault(
            "grip", "the step already says how high the part is gripped", "leave out grip or step"
        )
    hold = Hold(
        by=by,
        tape=table.text("tape", ""),
        coolant=Coolant(table.choice("coolant", tuple(Coolant), Coolant.DRY.value)),
        temperature_c=table.number("temperature", 25.0, least=-20.0, most=200.0),
        margin_mm=table.length_mm("margin", 1.0, least=0.0),
        force_n=force,
        friction=table.number("friction", SOFT_FRICTION if soft else FRICTION, above=0.0, most=1.0),
        friction_given=table.has("friction"),
        soft=soft,
        step_mm=step_mm,
        clamps=clamps,
        jaws=table.choice("jaws", ("Y", "X"), "Y"),
        grip_mm=table.length_mm("grip", 0.0, least=0.0),
        bow_mm=table.length_mm("bow", 0.02, above=0.0),
        key_path=f"{row.faults.file.name}: {table.path}",
    )
    table.finish()
    return hold


_HINT: Final = 'write hold = "tape", "vise" or "clamps"'
