"""What the shop holds and cuts with: tapes with their pull tests, mills with jaws and power.

A pull test is the only proof of a bond there is: a test piece of known area, stuck as the part
will be, pulled along the bed or straight off it until it gives. The lowest of a shop's tests
counts, not their mean; a way of pulling that was never tested is taken at the lowest figure
there is, and everything that rests on it is called unproven.

Sources: heat, common practice: full strength up to 30 °C, none at the tape's limit (66 °C for
masking tape), linear between; coolant on a bond that is not sealed, common practice: half.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

from jigs.holding.bond import (
    ASSUMED_PULL_MPA,
    ASSUMED_SHEAR_MPA,
    ASSUMED_STIFFNESS,
    BondStrength,
)
from jigs.holding.cutting import N_PER_LBF
from jigs.holding.jaw_lift import MovingJaw, read_moving_jaw, usual_jaw
from jigs.table import Table

FORCE_UNITS: Final = {"N": 1.0, "kN": 1000.0, "lbf": N_PER_LBF, "lb": N_PER_LBF}
POWER_UNITS: Final = {"kW": 1.0, "W": 0.001, "hp": 0.745699872}

#: A bond is at full strength up to here, °C.
COOL_C: Final = 30.0
#: Where a tape that says nothing of itself has no strength left, °C (masking tape).
HOT_C: Final = 66.0


class Coolant(StrEnum):
    """What runs over the bond."""

    DRY = "dry"
    MIST = "mist"
    FLOOD = "flood"


#: Share of a bond's strength under each coolant when the shop gives none.
WET: Final = {Coolant.DRY: 1.0, Coolant.MIST: 0.8, Coolant.FLOOD: 0.5}


@dataclass(frozen=True, slots=True, kw_only=True)
class PullTest:
    """One pull of a test piece.

    Args:
        way: "shear" (along the bed) or "pull" (straight off it).
        area_mm2: bonded area of the piece, mm².
        force_n: at which it gave way, N.
        give_mm: how far it moved before it gave way, mm; 0 when not measured.
    """

    way: str
    area_mm2: float
    force_n: float
    give_mm: float = 0.0

    @property
    def strength_mpa(self) -> float:
        """Force per area, MPa."""
        return self.force_n / self.area_mm2


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    """A way of sticking parts down, tape or tape and glue.

    Args:
        name: key the job uses.
        thickness_mm: of everything between part and bed, mm.
        tests: the shop's pull tests; may be empty.
        measured_on, measured_by: of the tests.
        hot_c: where it has no strength left, °C.
        wet: share of its strength that is left under flood coolant, 0 to 1.
    """

    name: str
    thickness_mm: float
    tests: tuple[PullTest, ...] = ()
    measured_on: str = ""
    measured_by: str = ""
    hot_c: float = HOT_C
    wet: float = WET[Coolant.FLOOD]

    def strength(self, *, coolant: Coolant, temperature_c: float) -> BondStrength | None:
        """Return what the bond carries at work; None when it is too hot to hold at all.

        Args:
            coolant: what runs over it.
            temperature_c: of part and bed at work, °C.
        """
        heat = min(1.0, (self.hot_c - temperature_c) / (self.hot_c - COOL_C))
        if heat <= 0.0:
            return None
        dry = 1.0 - (1.0 - self.wet) * (1.0 - WET[coolant]) / (1.0 - WET[Coolant.FLOOD])
        share = heat * dry
        found = {way: [t for t in self.tests if t.way == way] for way in ("shear", "pull")}
        shear = min((t.strength_mpa for t in found["shear"]), default=ASSUMED_SHEAR_MPA)
        pull = min((t.strength_mpa for t in found["pull"]), default=ASSUMED_PULL_MPA)
        gave = [t.strength_mpa / t.give_mm for t in found["shear"] if t.give_mm > 0]
        said = [
            _said("shear", found["shear"], shear),
            _said("pull", found["pull"], pull),
        ]
        if share < 1.0:
            said.append(f"{share:.0%} of it left at {temperature_c:.0f} °C, {coolant.value}")
        return BondStrength(
            shear_mpa=shear * share,
            pull_mpa=pull * share,
            proven=bool(found["shear"] and found["pull"]),
            said=f'tape "{self.name}": ' + "; ".join(said),
            stiffness_n_mm3=min(gave, default=ASSUMED_STIFFNESS),
        )


def _said(way: str, tests: list[PullTest], strength_mpa: float) -> str:
    """Return where a strength comes from, in words."""
    if not tests:
        return f"{way} {strength_mpa:.3f} MPa assumed, never tested here: UNPROVEN"
    count = "1 pull test" if len(tests) == 1 else f"{len(tests)} pull tests"
    return f"{way} {strength_mpa:.3f} MPa, the lowest of {count}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gear:
    """One gear (or the only one) of a spindle.

    Args:
        name: "low", "high"; "" for the only one.
        power: (speed in rpm, power in kW) along the curve, speeds rising.
    """

    name: str
    power: tuple[tuple[float, float], ...]

    @property
    def slowest_rpm(self) -> float:
        """Slowest speed, rpm."""
        return self.power[0][0]

    @property
    def fastest_rpm(self) -> float:
        """Fastest speed, rpm."""
        return self.power[-1][0]

    def power_kw(self, speed_rpm: float) -> float | None:
        """Return the power at a speed, kW, straight between the curve's points; None outside."""
        if not self.slowest_rpm <= speed_rpm <= self.fastest_rpm:
            return None
        for (n0, p0), (n1, p1) in itertools.pairwise(self.power):
            if speed_rpm <= n1:
                return p0 + (p1 - p0) * (speed_rpm - n0) / (n1 - n0)
        return self.power[-1][1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mill:
    """A milling machine with its vise.

    Args:
        name: key the job uses.
        travel_mm: of X, Y and Z, mm.
        jaw_opening_mm, jaw_height_mm, jaw_width_mm: of the vise; 0 where there is none.
        jaw_lift_mm: how far the moving jaw lifts a part, by an indicator, mm; None when nobody
            measured it.
        moving_jaw: how that jaw is carried, for where nobody measured.
        clamp_force_n: of the vise as it is usually tightened, N; 0 when not given.
        gears: of the spindle, slowest first; empty when no curve is given.
        efficiency: of the drive.
        slot_pitch_mm: from T-slot to T-slot of the table, mm; 0 where there is none.
        hole_pitch_mm: of the table's or plate's grid of tapped holes, mm; 0 where there is none.
        bolt_mm: nominal diameter of the bolts for slots or holes, mm.
    """

    name: str
    travel_mm: tuple[float, float, float]
    jaw_opening_mm: float = 0.0
    jaw_height_mm: float = 0.0
    jaw_width_mm: float = 0.0
    jaw_lift_mm: float | None = None
    moving_jaw: MovingJaw = field(default_factory=lambda: usual_jaw(0.0))
    clamp_force_n: float = 0.0
    gears: tuple[Gear, ...] = ()
    efficiency: float = 0.8
    slot_pitch_mm: float = 0.0
    hole_pitch_mm: float = 0.0
    bolt_mm: float = 0.0


def read_tape(row: Table) -> Tape:
    """Read one [[tape]] of the shop file."""
    tests = []
    for entry in row.tables("test"):
        width, height = entry.lengths_mm("area", 2)
        if not (width > 0 and height > 0):
            entry.fault("area", "area must be two lengths above 0", "area = [25, 25]")
            width = height = 1.0
        tests.append(
            PullTest(
                way=entry.choice("way", ("shear", "pull"), "shear"),
                area_mm2=width * height,
                force_n=entry.amount("force", FORCE_UNITS, above=0.0),
                give_mm=entry.length_mm("give", 0.0, least=0.0),
            )
        )
        entry.finish()
    tape = Tape(
        name=row.text("name"),
        thickness_mm=row.length_mm("thickness", 0.3, above=0.0),
        tests=tuple(tests),
        measured_on=row.text("measured_on", ""),
        measured_by=row.text("measured_by", ""),
        hot_c=row.number("most_temperature", HOT_C, above=COOL_C),
        wet=row.number("wet", WET[Coolant.FLOOD], least=0.05, most=1.0),
    )
    row.finish()
    return tape


def read_mill(row: Table) -> Mill:
    """Read one [[mill]] of the shop file."""
    travel = row.lengths_mm("travel", 3, (0.0, 0.0, 0.0))
    jaw_width_mm = row.length_mm("jaw_width", 0.0, least=0.0)
    mill = Mill(
        name=row.text("name"),
        travel_mm=(travel[0], travel[1], travel[2]),
        jaw_opening_mm=row.length_mm("jaw_opening", 0.0, least=0.0),
        jaw_height_mm=row.length_mm("jaw_height", 0.0, least=0.0),
        jaw_width_mm=jaw_width_mm,
        jaw_lift_mm=row.length_mm("jaw_lift", least=0.0) if row.has("jaw_lift") else None,
        moving_jaw=read_moving_jaw(row, width_mm=jaw_width_mm),
        clamp_force_n=row.amount("clamp_force", FORCE_UNITS, 0.0, least=0.0),
        gears=tuple(
            sorted(
                (gear for entry in row.tables("gear") if (gear := _gear(entry))),
                key=lambda gear: gear.fastest_rpm,
            )
        ),
        efficiency=row.number("efficiency", 0.8, above=0.0, most=1.0),
        slot_pitch_mm=row.length_mm("slot_pitch", 0.0, least=0.0),
        hole_pitch_mm=row.length_mm("hole_pitch", 0.0, least=0.0),
        bolt_mm=row.length_mm("bolt", 0.0, least=0.0),
    )
    row.finish()
    return mill


def _gear(entry: Table) -> Gear | None:
    """Read a gear: its power curve as [[rpm, kW], …]; None with a fault noted."""
    name, raw = entry.text("name", ""), entry.raw("power")
    entry.finish()
    good = isinstance(raw, list) and len(raw) >= 2
    good = good and all(
        isinstance(p, list)
        and len(p) == 2
        and all(isinstance(v, (int, float)) and not isinstance(v, bool) and v >= 0 for v in p)
        for p in raw or ()
    )
    if not good or any(a[0] >= b[0] for a, b in itertools.pairwise(raw or ())):
        entry.fault(
            "power",
            "power must be a curve of [rpm, kW], speeds rising, two points or more",
            "power = [[500, 0.8], [2000, 3.0], [8000, 3.0]]",
        )
        return None
    return Gear(name=name, power=tuple((float(n), float(p)) for n, p in raw or ()))
