"""Pins on hand: gauge pins by class, dowels by standard, single pins as measured.

A pin is what it was measured to be, or else anything its class allows. For every pin in a
bore the question is the same: does the largest pin enter the smallest bore, and how far does
the part move on the smallest pin in the largest bore. A pin relieved along one direction
(its sides ground away but for two lands) leaves the distance between two bores free.

Refused: a pin of no size, a land as wide as its pin, a set of more steps than a box holds.

Sources: ASME B89.1.5 (class tolerances, plus +t/−0, minus +0/−t); ASME B18.8.2 (hardened
dowel: nominal + 0.0002 ± 0.0001 in); ISO 8734 (m6) and ISO 2338 (m6 or h8), the latter
two from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from jigs.fits import Clearance, Limits, clearance, iso_limits
from jigs.table import Table
from kerf.errors import GeometryError, InputError

INCH: Final = 25.4
#: Upper end of each range of gauge pins, in; the first starts at 0.010 in.
_GAUGE_TO_IN: Final = (0.825, 1.510, 2.510)
_GAUGE_FROM_IN: Final = 0.010
#: Whole tolerance of each class by range, µin.
_GAUGE: Final = {
    "XX": (20, 30, 40),
    "X": (40, 60, 80),
    "Y": (70, 90, 120),
    "Z": (100, 120, 160),
    "ZZ": (200, 240, 320),
}
#: Standard nominal diameters of ISO dowels, mm.
ISO_DOWELS_MM: Final = (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0)
#: The classes a shop file may name: gauge pins, then dowels.
CLASSES: Final = (
    *(f"{side} {name}" for side in ("minus", "plus") for name in _GAUGE),
    "ISO 8734",
    "ISO 2338 m6",
    "ISO 2338 h8",
    "ASME B18.8.2",
)
#: Pins that are pressed into their plate; all others slip into a reamed hole.
PRESSED: Final = ("ISO 8734", "ISO 2338 m6", "ASME B18.8.2")

#: More steps than this is a slip of the pen: the largest sets sold hold 250 pins.
_MOST_IN_SET: Final = 1000

#: Steps in which gauge pins are sold, mm: 0.001 in and 0.01 mm. Source: common practice.
SOLD_IN_MM: Final = (0.001 * INCH, 0.01)


#: What ``Pin.made_to`` says of a pin whose diameter the shop measured.
MEASURED: Final = "measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """A pin on hand.

    Args:
        name: as the shop calls it.
        nominal_mm: what is written on it, mm.
        limits: what its diameter may be, mm.
        made_to: its class, or "measured".
        relieved: whether it is relieved along one direction.
        land_mm: width of each of a relieved pin's two lands, along the relief, mm.
        material: what it is made of.
    """

    name: str
    nominal_mm: float
    limits: Limits
    made_to: str
    relieved: bool = False
    land_mm: float = 0.0
    material: str = "steel"

    def __post_init__(self) -> None:
        if self.relieved and not 0 < self.land_mm < self.limits.least_mm:
            raise GeometryError(
                f'pin "{self.name}": a land of {self.land_mm:.4g} mm is not between 0 and the '
                f"pin's {self.limits.least_mm:.4g} mm",
                hint="measure the ground land across; a quarter of the diameter is usual",
            )

    @property
    def is_pressed(self) -> bool:
        """Whether it is pressed into its plate."""
        return self.made_to in PRESSED

    def float_along_mm(self, bore_mm: float, pin_mm: float) -> float:
        """Return how far the bore can shift along the relief, either way, mm.

        For a round pin half the clearance. For lands of width b on a pin of radius r in a bore
        of radius R: e = [−b + √(b² + 4 (R² − r²))] / 2, where a land's corner meets the bore.
        """
        if not self.relieved:
            return (bore_mm - pin_mm) / 2
        square = (bore_mm**2 - pin_mm**2) / 4
        return (math.sqrt(self.land_mm**2 + 4 * square) - self.land_mm) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class PinFit:
    """A pin in a bore.

    Args:
        pin: the pin.
        bore: the bore's limits.
        least_mm, most_mm: diametral clearance, mm.
    """

    pin: Pin
    bore: Limits
    least_mm: float
    most_mm: float

    @property
    def float_mm(self) -> float:
        """How far the part can move on the pin either way, across a relief or anywhere, mm."""
        return self.most_mm / 2


def gauge_limits(gauge_class: str, nominal_mm: float) -> Limits:
    """Return the limits of a gauge pin.

    Args:
        gauge_class: "minus ZZ", "plus X" …
        nominal_mm: nominal diameter, mm, 0.010 to 2.510 in.
    Raises:
        InputError: no such class, or a size outside it.
    Source: ASME B89.1.5.

    >>> limits = gauge_limits("minus ZZ", 0.386 * 25.4)
    >>> round(limits.least_mm / 25.4, 4), round(limits.most_mm / 25.4, 4)
    (0.3858, 0.386)
    """
    side, _, name = gauge_class.partition(" ")
    if side not in ("minus", "plus") or name not in _GAUGE:
        raise InputError(
            f'gauge pin class "{gauge_class}" is not known',
            hint=f"write minus or plus and one of {', '.join(_GAUGE)}",
        )
    inches = nominal_mm / INCH
    if not _GAUGE_FROM_IN - 1e-9 <= inches <= _GAUGE_TO_IN[-1] + 1e-9:
        raise InputError(
            f"{inches:.4f} in is no gauge pin: classes run from {_GAUGE_FROM_IN:.3f} to "
            f"{_GAUGE_TO_IN[-1]:.3f} in"
        )
    row = next(i for i, to in enumerate(_GAUGE_TO_IN) if inches <= to + 1e-9)
    whole = _GAUGE[name][row] * 1e-6 * INCH
    lower, upper = (-whole, 0.0) if side == "minus" else (0.0, whole)
    return Limits.about(nominal_mm, lower_mm=lower, upper_mm=upper)


def pin_limits(made_to: str, nominal_mm: float) -> Limits:
    """Return what a pin's diameter may be by its class or standard.

    Raises:
        InputError: a class that is not known, or a size outside it.
    """
    if made_to == "ASME B18.8.2":
        return Limits.about(nominal_mm, lower_mm=0.0001 * INCH, upper_mm=0.0003 * INCH)
    if made_to in ("ISO 8734", "ISO 2338 m6"):
        return iso_limits("m6", nominal_mm)
    if made_to == "ISO 2338 h8":
        return iso_limits("h8", nominal_mm)
    return gauge_limits(made_to, nominal_mm)


def hole_limits(pin: Pin, *, slip: str = "H7") -> Limits:
    """Return the limits of the hole in a metal plate that the pin stands in.

    Args:
        pin: the pin.
        slip: tolerance class of the hole for a pin that is not pressed.
    Source: ASME B18.8.2 (hole +0/−0.0005 in); H7 for m6 and for a slip fit, common practice.
    """
    if pin.made_to == "ASME B18.8.2":
        return Limits.about(pin.nominal_mm, lower_mm=-0.0005 * INCH, upper_mm=0.0)
    return iso_limits("H7" if pin.is_pressed else slip, pin.nominal_mm)


def fits_in(bore: Limits, pins: Iterable[Pin], *, least_mm: float = 0.0) -> tuple[PinFit, ...]:
    """Return the pins that enter a bore, the closest first.

    Args:
        bore: the bore.
        pins: the pins on hand.
        least_mm: diametral clearance that must be left, mm, >= 0.
    """
    found = []
    for pin in pins:
        play: Clearance = clearance(bore, pin.limits)
        # A nanometre of rounding does not keep a pin out.
        if play.least_mm >= least_mm - 1e-6:
            found.append(
                PinFit(pin=pin, bore=bore, least_mm=max(0.0, play.least_mm), most_mm=play.most_mm)
            )
    return tuple(sorted(found, key=lambda f: (f.most_mm, f.pin.relieved, f.pin.name)))


def pins_to_buy(bore: Limits, *, least_mm: float = 0.0) -> tuple[Pin, ...]:
    """Return the largest minus ZZ gauge pin of each ladder that is sure to enter a bore.

    Empty when the bore is smaller or larger than any gauge pin.
    """
    out = []
    for step in SOLD_IN_MM:
        nominal = math.floor((bore.least_mm - least_mm) / step + 1e-6) * step
        unit = f"{nominal / INCH:.3f} in" if step == SOLD_IN_MM[0] else f"{nominal:.2f} mm"
        try:
            limits = gauge_limits("minus ZZ", nominal)
        except (InputError, GeometryError):
            continue
        out.append(
            Pin(name=f"gauge pin {unit}", nominal_mm=nominal, limits=limits, made_to="minus ZZ")
        )
    return tuple(out)


def read_pins(row: Table) -> tuple[Pin, ...]:
    """Read one [[pin]] of the shop file: a single pin, or a set by ``from``, ``to``, ``step``."""
    name = row.text("name")
    relieved = row.flag("relieved", False)
    material = row.text("material", "steel")
    is_set = row.has("from") or row.has("to") or row.has("step")
    measured = row.length_mm("measured", above=0.0) if row.has("measured") else None
    u_mm = row.length_mm("measured_u", 0.001, least=0.0)
    made_to = row.choice("class", CLASSES) if measured is None else row.text("class", MEASURED)
    row.text("measured_on", "")
    row.text("measured_by", "")
    sizes: list[float] = []
    in_inches = False
    if is_set:
        sizes = _set_sizes(row)
        in_inches = len(sizes) > 1 and _is_inch_step(sizes[1] - sizes[0])
        if measured is not None:
            row.fault("measured", "a set has no one measured diameter", "give the pin by itself")
    else:
        sizes = [row.length_mm("diameter", measured, above=0.0)]
    land = row.length_mm("land", above=0.0) if relieved else 0.0
    row.finish()
    pins = []
    for nominal in sizes:
        # Twice the standard uncertainty each way: 95 % of what a micrometer tells.
        limits = (
            row.build("class", lambda size=nominal: pin_limits(made_to, size))  # type: ignore[misc]
            if measured is None
            else Limits.about(measured, lower_mm=-2 * u_mm, upper_mm=2 * u_mm)
        )
        if limits is None:
            break
        label = f"{name} {_size_name(nominal, in_inches=in_inches)}" if is_set else name
        pin = row.build(
            "land",
            lambda label=label, nominal=nominal, limits=limits: Pin(  # type: ignore[misc]
                name=label,
                nominal_mm=nominal,
                limits=limits,
                made_to=made_to if measured is None else MEASURED,
                relieved=relieved,
                land_mm=land,
                material=material,
            ),
        )
        if pin is None:
            break
        pins.append(pin)
    return tuple(pins)


def _set_sizes(row: Table) -> list[float]:
    """Return the nominal diameters of a set, mm."""
    first = row.length_mm("from", above=0.0)
    last = row.length_mm("to", above=0.0)
    step = row.length_mm("step", above=0.0)
    if last < first:
        row.fault("to", f"the set ends at {last:.4g} mm, below its first pin")
        return []
    count = round((last - first) / step) + 1
    if count > _MOST_IN_SET or abs((count - 1) * step - (last - first)) > step / 100:
        row.fault(
            "step",
            f"steps of {step:.4g} mm do not lead from {first:.4g} to {last:.4g} mm",
            f"a set holds at most {_MOST_IN_SET} pins, the last of them at `to`",
        )
        return []
    return [first + i * step for i in range(count)]


def _is_inch_step(step_mm: float) -> bool:
    """Return whether a set goes up by ten-thousandths of an inch and not by micrometres."""
    tenths, microns = step_mm / INCH * 1e4, step_mm * 1e3
    return abs(tenths - round(tenths)) < 1e-3 < abs(microns - round(microns))


def _size_name(nominal_mm: float, *, in_inches: bool) -> str:
    """Return a nominal diameter as it is written on the pin."""
    if not in_inches:
        return f"{round(nominal_mm, 4):g} mm"
    inches = round(nominal_mm / INCH, 4)
    return f"{inches:.3f} in" if abs(round(inches, 3) - inches) < 1e-9 else f"{inches:.4f} in"
