"""How a hole for a pin is made: drill, then ream or bore, with speed and feed.

The drill before a reamer leaves it a little to cut; a size no reamer is made for, and any
hole wider than drills are usually held, is bored. Speeds are the conservative rule of a small
shop with high-speed steel. A material whose name says nothing gets no speed: it is left to
the machinist, never taken as "about like steel".

Sources: drill sizes of ASME B94.11M (those that a published chart confirmed are tested, the
rest from memory); rpm = 12 SFM / (π D); high-speed steel drills in aluminium 100 to 200 ft/min
at about 0.005 in a turn and feed by diameter, common practice and *Machinery's Handbook*;
reaming at half the drill's speed and twice its feed, common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from jigs.fits import Limits
from jigs.holding.materials import work_material_named

INCH: Final = 25.4

#: Number drills 1 to 60, in. Source: ASME B94.11M.
_NUMBERS: Final = (
    *(0.2280, 0.2210, 0.2130, 0.2090, 0.2055, 0.2040, 0.2010, 0.1990, 0.1960, 0.1935),
    *(0.1910, 0.1890, 0.1850, 0.1820, 0.1800, 0.1770, 0.1730, 0.1695, 0.1660, 0.1610),
    *(0.1590, 0.1570, 0.1540, 0.1520, 0.1495, 0.1470, 0.1440, 0.1405, 0.1360, 0.1285),
    *(0.1200, 0.1160, 0.1130, 0.1110, 0.1100, 0.1065, 0.1040, 0.1015, 0.0995, 0.0980),
    *(0.0960, 0.0935, 0.0890, 0.0860, 0.0820, 0.0810, 0.0785, 0.0760, 0.0730, 0.0700),
    *(0.0670, 0.0635, 0.0595, 0.0550, 0.0520, 0.0465, 0.0430, 0.0420, 0.0410, 0.0400),
)
#: Letter drills A to Z, in. Source: ASME B94.11M.
_LETTERS: Final = (
    *(0.234, 0.238, 0.242, 0.246, 0.250, 0.257, 0.261, 0.266, 0.272, 0.277, 0.281, 0.290, 0.295),
    *(0.302, 0.316, 0.323, 0.332, 0.339, 0.348, 0.358, 0.368, 0.377, 0.386, 0.397, 0.404, 0.413),
)


def _chart() -> dict[str, float]:
    """Return the inch drills by name, in: numbers, letters, and 64ths up to an inch."""
    chart = {f"no. {i}": size for i, size in enumerate(_NUMBERS, 1)}
    chart |= {chr(ord("A") + i): size for i, size in enumerate(_LETTERS)}
    for n in range(2, 65):
        d = math.gcd(n, 64)
        chart[f"{n // d}/{64 // d} in" if n < 64 else "1 in"] = n / 64
    return chart


DRILLS_IN: Final = _chart()

#: Speeds of high-speed steel drills by group of work material, ft/min: the middle of a
#: conservative range. Source: common practice (aluminium 100 to 200).
_SFM: Final = {
    "wrought aluminium": 150.0,
    "hardened aluminium": 150.0,
    "carbon steel": 70.0,
    "quenched and tempered steel": 45.0,
    "austenitic stainless steel": 40.0,
    "brass": 130.0,
}
#: Feed by diameter, in a turn: (up to, in), most. Source: *Machinery's Handbook*, HSS drills.
_IPR: Final = ((0.125, 0.002), (0.25, 0.004), (0.5, 0.005), (1.0, 0.007))
_IPR_LARGE: Final = 0.010

#: What a reamer is left to cut on diameter, mm, by the largest diameter it holds for.
_REAM_STOCK_MM: Final = ((6.0, 0.15), (13.0, 0.25), (math.inf, 0.4))
#: Reamers are sold in these sizes, mm: halves of a millimetre and 64ths of an inch. A hole off
#: them is bored from ``BORED_FROM_MM`` up and needs a reamer of its own below.
_REAMERS_MM: Final = (0.5, INCH / 64)
_ON_SIZE_MM: Final = 0.002
BORED_FROM_MM: Final = 10.0
#: What a boring head is left to cut on diameter, mm. Source: common practice.
_BORE_STOCK_MM: Final = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One tool of a hole.

    Args:
        work: "drill", "ream" or "bore".
        tool: as printed ("5.8 mm", "no. 1 (0.2280 in)"); for a finish what is odd about it.
        limits: what it leaves, mm.
        speed_rpm: of the spindle; None where the material is not known.
        feed_mm_rev: per turn, mm; None likewise.
    """

    work: str
    tool: str
    limits: Limits
    speed_rpm: float | None
    feed_mm_rev: float | None

    @property
    def diameter_mm(self) -> float:
        """Middle of what it leaves, mm."""
        return self.limits.middle_mm

    @property
    def feed_mm_min(self) -> float | None:
        """Feed per minute, mm; None where the material is not known."""
        if self.speed_rpm is None or self.feed_mm_rev is None:
            return None
        return self.speed_rpm * self.feed_mm_rev


def speed_rpm(*, surface_ft_min: float, diameter_mm: float) -> float:
    """Return the spindle speed of a surface speed, rpm: 12 SFM / (π D in inches).

    >>> round(speed_rpm(surface_ft_min=150, diameter_mm=0.25 * 25.4))
    2292
    """
    return 12 * surface_ft_min / (math.pi * diameter_mm / INCH)


def drill_below(size_mm: float) -> tuple[str, float]:
    """Return the largest drill not above a size: its name, and its diameter in mm.

    Metric drills by 0.1 mm and the inch chart are both looked through; a tie goes to metric.
    """
    metric = math.floor(size_mm / 0.1 + 1e-9) * 0.1
    below = [(size * INCH, name) for name, size in DRILLS_IN.items() if size * INCH <= size_mm]
    inch, name = max(below, default=(0.0, ""))
    if inch > metric + 1e-6:
        return f"{name} ({inch / INCH:.4f} in)" if " in" not in name else name, inch
    return f"{metric:.1f} mm", metric


def hole_steps(nominal_mm: float, limits: Limits, *, material: str) -> tuple[Step, ...]:
    """Return how a hole to close limits is made: a drill, then a reamer or a boring head.

    Args:
        nominal_mm: size of the hole, mm.
        limits: its limits, mm.
        material: of the plate.
    """
    is_reamed = nominal_mm < BORED_FROM_MM or _is_reamer(nominal_mm)
    stock = next(left for to, left in _REAM_STOCK_MM if nominal_mm <= to)
    name, drill_mm = drill_below(nominal_mm - (stock if is_reamed else _BORE_STOCK_MM))
    if is_reamed:
        odd = "" if _is_reamer(nominal_mm) else "with a reamer of this size"
        finish = _step("ream", odd, limits, material, slower=0.5, faster=2.0)
    else:
        finish = _step("bore", "with a boring head", limits, material, slower=1.0, faster=0.5)
    drilled = Limits(least_mm=drill_mm, most_mm=drill_mm)
    return _step("drill", name, drilled, material, slower=1.0, faster=1.0), finish


def _is_reamer(size_mm: float) -> bool:
    """Return whether reamers of a size are usually sold."""
    return any(abs(size_mm - round(size_mm / s) * s) <= _ON_SIZE_MM for s in _REAMERS_MM)


def _step(
    work: str, tool: str, limits: Limits, material: str, *, slower: float, faster: float
) -> Step:
    """Return a step with its speed and feed, as multiples of a drill's."""
    group = work_material_named(material)
    surface = None if group is None else _SFM.get(group.name)
    if surface is None:
        return Step(work=work, tool=tool, limits=limits, speed_rpm=None, feed_mm_rev=None)
    inches = limits.middle_mm / INCH
    per_turn = next((most for to, most in _IPR if inches <= to), _IPR_LARGE)
    return Step(
        work=work,
        tool=tool,
        limits=limits,
        speed_rpm=speed_rpm(surface_ft_min=surface, diameter_mm=limits.middle_mm) * slower,
        feed_mm_rev=per_turn * faster * INCH,
    )
