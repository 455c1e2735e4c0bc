"""Whether a recipe is one a machinist would run: speed, chip load, power, gear.

Each figure is compared with what is usual for the material, the tool's own material and its
size; the messages give the value, the range and what to dial in instead, in both units, since
speeds travel between shops in feet and metres alike. Power is what the first published
cutting force asks at the motor, against the mill's own curve at that very speed: a spindle
that runs out of power below its corner speed is told which gear would serve.

Sources: speeds and feeds of high-speed-steel drills in aluminium, 100 to 200 ft/min and about
0.005 in/rev, common practice (handbooks go to 400 ft/min); feed per turn by drill diameter,
drill makers' tables; chip loads of end mills and fly cutters, common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from jigs.finding import Finding, Severity
from jigs.holding.cut import Cut, ToolKind
from jigs.holding.cutting import (
    CutForces,
    DrillForces,
    drill_forces,
    milling_forces,
    milling_power_kw,
    spindle_speed_rpm,
    surface_speed_m_min,
)
from jigs.holding.materials import WorkMaterial
from jigs.holding.means import Gear, Mill

M_PER_FT: Final = 0.3048
KW_PER_HP: Final = 0.745699872

#: Feed per turn of drills by diameter, mm: up to 1/8, 1/4, 1/2 and 1 in, then beyond.
_DRILL_FEEDS: Final = (
    (3.175, 0.025, 0.051),
    (6.35, 0.051, 0.102),
    (12.7, 0.102, 0.178),
    (25.4, 0.178, 0.381),
    (math.inf, 0.25, 0.6),
)
#: Speeds of drills in aluminium, m/min: the shop's rule, and how far handbooks go.
_DRILL_ALUMINIUM_M_MIN: Final = (100 * M_PER_FT, 200 * M_PER_FT, 400 * M_PER_FT)
#: Chip load of an end mill as a share of its diameter, and its least, mm: thinner rubs.
_CHIP_SHARES: Final = (0.002, 0.025)
_CHIP_LEAST_MM: Final = 0.005
#: Chip load of a fly cutter, mm.
_FLY_CHIP_MM: Final = (0.03, 0.3)
#: A speed this far over the usual range is a fault of the recipe, this far under is a note.
_OVER: Final = 1.1
_UNDER: Final = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """What one cut asks of tool and spindle.

    Args:
        cut: the cut.
        surface_m_min: cutting speed, m/min.
        usual_m_min: usual range of it, m/min.
        usual_feed_mm: usual range of the feed per tooth (per turn for a drill), mm.
        removal_cm3_min: material removed, cm³/min.
        power_kw: at the motor, kW.
        has_kw: what the mill's curve gives at that speed, kW; None when it is not known.
        gear: name of the gear that serves; empty when there is one only, or none known.
        torque_nm: at the spindle, N·m.
        forces: for holding; drilling or milling.
    """

    cut: Cut
    surface_m_min: float
    usual_m_min: tuple[float, float]
    usual_feed_mm: tuple[float, float]
    removal_cm3_min: float
    power_kw: float
    has_kw: float | None
    gear: str
    torque_nm: float
    forces: CutForces | DrillForces


def recipe(cut: Cut, material: WorkMaterial, mill: Mill | None) -> Recipe:
    """Return what a cut asks, and what is usual.

    Args:
        cut: the cut.
        material: of the part.
        mill: what it runs on; None when the shop lists none.
    """
    efficiency = mill.efficiency if mill is not None else 0.8
    usual = material.speeds_carbide_m_min
    if cut.tool_material == "hss":
        usual = material.speeds_hss_m_min
    forces: CutForces | DrillForces
    if cut.kind is ToolKind.DRILL:
        if cut.tool_material == "hss" and _is_aluminium(material):
            usual = _DRILL_ALUMINIUM_M_MIN[:2]
        usual_feed = next(
            (low, high) for most, low, high in _DRILL_FEEDS if cut.diameter_mm <= most
        )
        plain = drill_forces(
            diameter_mm=cut.diameter_mm,
            feed_mm_rev=cut.feed_mm,
            material=material,
            for_holding=False,
        )
        forces = drill_forces(
            diameter_mm=cut.diameter_mm, feed_mm_rev=cut.feed_mm, material=material
        )
        torque = plain.torque_nm
        power = torque * cut.speed_rpm * math.tau / 60 / 1000 / efficiency
        removal = math.pi / 4 * cut.diameter_mm**2 * cut.feed_mm_min / 1000
    else:
        usual_feed = _FLY_CHIP_MM
        if cut.kind is ToolKind.END_MILL:
            usual_feed = (
                max(_CHIP_LEAST_MM, _CHIP_SHARES[0] * cut.diameter_mm),
                _CHIP_SHARES[1] * cut.diameter_mm,
            )
        forces = milling_forces(cut.engagement, material)
        power = milling_power_kw(
            depth_mm=cut.depth_mm,
            width_mm=cut.engaged_mm,
            feed_mm_min=cut.feed_mm_min,
            kc_mpa=material.kc_mpa(cut.engagement.mean_chip_mm),
            efficiency=efficiency,
        )
        torque = power * efficiency * 1000 * 60 / (math.tau * cut.speed_rpm)
        removal = cut.depth_mm * cut.engaged_mm * cut.feed_mm_min / 1000
    gear = _gear_for(cut.speed_rpm, power, mill)
    return Recipe(
        cut=cut,
        surface_m_min=surface_speed_m_min(diameter_mm=cut.diameter_mm, speed_rpm=cut.speed_rpm),
        usual_m_min=(usual[0], usual[1]),
        usual_feed_mm=usual_feed,
        removal_cm3_min=removal,
        power_kw=power,
        has_kw=gear.power_kw(cut.speed_rpm) if gear is not None else None,
        gear=gear.name if gear is not None else "",
        torque_nm=torque,
        forces=forces,
    )


def check_recipe(asked: Recipe, mill: Mill | None, *, subject: str) -> list[Finding]:
    """Return what a machinist would say of a recipe."""
    return [
        *_check_speed(asked, subject),
        *_check_feed(asked, subject),
        *_check_power(asked, mill, subject),
    ]


def speed_text(speed_m_min: float) -> str:
    """Return a cutting speed in both units."""
    return f"{speed_m_min:.0f} m/min ({speed_m_min / M_PER_FT:.0f} ft/min)"


def _is_aluminium(material: WorkMaterial) -> bool:
    return "aluminium" in material.name


def _gear_for(speed_rpm: float, power_kw: float, mill: Mill | None) -> Gear | None:
    """Return the fastest gear that gives the power at that speed, else the strongest there."""
    reach = [g for g in (mill.gears if mill else ()) if g.power_kw(speed_rpm) is not None]
    enough = [g for g in reach if (g.power_kw(speed_rpm) or 0.0) >= power_kw]
    if enough:
        return enough[-1]
    return max(reach, key=lambda g: g.power_kw(speed_rpm) or 0.0, default=None)


def _check_speed(asked: Recipe, subject: str) -> list[Finding]:
    cut, v = asked.cut, asked.surface_m_min
    low, high = asked.usual_m_min
    if _UNDER * low <= v <= _OVER * high:
        return []
    fast = v > high
    aim = high if fast else low
    rpm = spindle_speed_rpm(diameter_mm=cut.diameter_mm, surface_m_min=aim)
    hint = f"{rpm:.0f} rpm gives {speed_text(aim)}"
    beyond = fast
    if fast and cut.kind is ToolKind.DRILL and low == _DRILL_ALUMINIUM_M_MIN[0]:
        beyond = v > _DRILL_ALUMINIUM_M_MIN[2]
        hint += "; handbooks go to 400 ft/min with good coolant"
    return [
        Finding(
            code="speed-high" if fast else "speed-low",
            severity=Severity.WARN if beyond else Severity.NOTE,
            subject=subject,
            message=(
                f"{cut.speed_rpm:.0f} rpm on {cut.diameter_mm:.3f} mm is {speed_text(v)}; usual "
                f"for this {_TOOL_NAMES[cut.tool_material]} tool is {speed_text(low)} to "
                f"{speed_text(high)}"
            ),
            measured=v,
            limit=aim,
            unit="m/min",
            hint=hint,
        )
    ]


_TOOL_NAMES: Final = {"hss": "high-speed-steel", "carbide": "carbide"}


def _check_feed(asked: Recipe, subject: str) -> list[Finding]:
    cut, (low, high) = asked.cut, asked.usual_feed_mm
    if low * 0.99 <= cut.feed_mm <= high * 1.01:
        return []
    per = "turn" if cut.kind is ToolKind.DRILL else "tooth"
    thin = cut.feed_mm < low
    return [
        Finding(
            code="chip-thin" if thin else "chip-thick",
            severity=Severity.WARN,
            subject=subject,
            message=(
                f"{feed_text(cut.feed_mm)} a {per} is "
                + ("so thin that the edge rubs" if thin else "more than such a tool usually takes")
                + f"; usual is {feed_text(low)} to {feed_text(high)}"
            ),
            measured=cut.feed_mm,
            limit=low if thin else high,
            unit="mm",
            hint="change the feed or the spindle speed",
        )
    ]


def feed_text(feed_mm: float) -> str:
    """Return a feed per tooth or turn in both units."""
    return f"{feed_mm:.3f} mm ({feed_mm / 25.4:.4f} in)"


def power_text(power_kw: float) -> str:
    """Return a power in both units."""
    return f"{power_kw:.2f} kW ({power_kw / KW_PER_HP:.2f} hp)"


def _check_power(asked: Recipe, mill: Mill | None, subject: str) -> list[Finding]:
    if mill is None or not mill.gears:
        return []
    speed = asked.cut.speed_rpm
    if asked.has_kw is None:
        slowest = min(g.slowest_rpm for g in mill.gears)
        fastest = max(g.fastest_rpm for g in mill.gears)
        return [
            Finding(
                code="speed-unreachable",
                severity=Severity.FAIL,
                subject=subject,
                message=(
                    f"{speed:.0f} rpm lies outside what {mill.name} turns, "
                    f"{slowest:.0f} to {fastest:.0f} rpm"
                ),
                measured=speed,
                limit=fastest if speed > fastest else slowest,
                unit="1/min",
                hint="change the speed, or name another mill",
            )
        ]
    findings = []
    if asked.power_kw > asked.has_kw:
        findings.append(
            Finding(
                code="power-short",
                severity=Severity.FAIL,
                subject=subject,
                message=(
                    f"the cut asks {power_text(asked.power_kw)} at {speed:.0f} rpm; "
                    f"{mill.name} gives {power_text(asked.has_kw)} there"
                ),
                measured=asked.power_kw,
                limit=asked.has_kw,
                unit="kW",
                hint=_power_hint(asked, mill),
            )
        )
    elif asked.gear and asked.gear != mill.gears[-1].name:
        fast = mill.gears[-1].power_kw(speed)
        gives = f"gives {power_text(fast)}" if fast is not None else "does not turn"
        findings.append(
            Finding(
                code="gear",
                severity=Severity.NOTE,
                subject=subject,
                message=(
                    f'take gear "{asked.gear}": at {speed:.0f} rpm gear "{mill.gears[-1].name}" '
                    f"{gives}, the cut asks {power_text(asked.power_kw)}"
                ),
                measured=asked.power_kw,
                limit=fast,
                unit="kW",
            )
        )
    return findings


def _power_hint(asked: Recipe, mill: Mill) -> str:
    """Return what depth the power there would carry."""
    assert asked.has_kw is not None
    share = asked.has_kw / asked.power_kw
    if asked.cut.kind is ToolKind.DRILL:
        return "drill a pilot first, or take less feed"
    return f"no gear of {mill.name} gives more there; take {share:.0%} of the depth or of the feed"
