"""Numbers as a person reads them: the one place where millimetres become inches.

The unit is always written, and a value that rounds to zero never carries a minus.

Offsets carry a micrometre (3 places of mm, 5 of inch: 0.00001 in is 0.25 µm), so that the
pose of a part read back from a sheet is right to a micrometre in either unit; other lengths
carry what a caliper or micrometer tells.
"""

from __future__ import annotations

import math
import re
from typing import Final

MM_PER_INCH: Final = 25.4

#: Decimal places of an offset and of a measured size, by unit.
OFFSET_PLACES: Final = {"mm": 3, "inch": 5}
SIZE_PLACES: Final = {"mm": 3, "inch": 4}

#: The minus sign of running text.
MINUS: Final = "\u2212"

#: Lengths in mm within a sentence: one, or a row of them before one unit ("80.0 × 50.0 mm",
#: "(3.000, 4.500) mm"); not an area, a rate, or one whose inches follow already.
_NUMBER: Final = r"[±+\-\u2212]?\d+(?:\.\d+)?"
_PLACE: Final = rf"\({_NUMBER}(?:, {_NUMBER})+\)"
_IN_TEXT: Final = re.compile(
    rf"(?<![\w.])(?:{_NUMBER}(?:(?: × | to |–){_NUMBER})*|{_PLACE}(?: to {_PLACE})*) mm"
    r"(?![\w²³/])(?! \([^)]* in\b)"
)

_SYMBOL: Final = {"mm": "mm", "inch": "in"}


def number(value: float, places: int, *, signed: bool = False) -> str:
    """Return a fixed-point number; a value that rounds to zero has no minus sign."""
    text = f"{value:.{places}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    elif signed and not text.startswith("-"):
        text = "+" + text
    return text


def in_units(length_mm: float, units: str) -> float:
    """Return a length in the reader's unit, "mm" or "inch"."""
    return length_mm / MM_PER_INCH if units == "inch" else length_mm


def bare_length(
    value_mm: float, units: str, *, signed: bool = False, places: int | None = None
) -> str:
    """Return a length without its unit, for a place that states its unit once."""
    if places is None:
        places = SIZE_PLACES[units]
    return number(in_units(value_mm, units), places, signed=signed)


def length_text(
    value_mm: float, units: str, *, places: int | None = None, signed: bool = False
) -> str:
    """Return a length with its unit ("12.700 mm", "−0.5000 in").

    Args:
        value_mm: the length, mm.
        units: "mm" (3 places) or "inch" (4 places).
        places: decimals, when not the usual.
        signed: whether a plus sign is written.
    """
    text = bare_length(value_mm, units, signed=signed, places=places)
    return f"{text.replace('-', MINUS)} {_SYMBOL[units]}"


def offset_text(value_mm: float, units: str) -> str:
    """Return an offset with sign and unit, to a micrometre; plain "-", as a control takes it."""
    places = OFFSET_PLACES[units]
    return f"{bare_length(value_mm, units, signed=True, places=places)} {_SYMBOL[units]}"


def plus_minus_text(length_mm: float, units: str) -> str:
    """Return "±0.020 mm"; it is rounded up, so that no uncertainty reads smaller than it is."""
    places = SIZE_PLACES[units]
    step = 10.0**-places
    up = math.ceil(abs(in_units(length_mm, units)) / step - 1e-6) * step
    return f"±{number(up, places)} {_SYMBOL[units]}"


def angle_text(angle_rad: float) -> str:
    """Return an angle in degrees, up to five places, without trailing zeros ("37.25°")."""
    text = number(math.degrees(angle_rad), 5)
    return text.rstrip("0").rstrip(".") + "°"


def told_in(text: str, units: str) -> str:
    """Return a sentence written in mm as a reader of ``units`` needs it.

    For an inch reader the inches follow each length in brackets, with two places more than the
    millimetres have and four at most; a reader of mm gets the sentence as it is.

    >>> told_in("web is 1.00 mm at (94.6, 30.9) mm", "inch")
    'web is 1.00 mm (0.0394 in) at (94.6, 30.9) mm (3.724, 1.217 in)'
    """
    return _IN_TEXT.sub(_with_inches, text) if units == "inch" else text


def _with_inches(found: re.Match[str]) -> str:
    """Return lengths in mm followed by the same in inches."""
    mm = found.group()
    inches = re.sub(
        r"\d+(?:\.\d+)?",
        lambda n: number(
            float(n.group()) / MM_PER_INCH, min(len(n.group().partition(".")[2]) + 2, 4)
        ),
        mm.removesuffix(" mm"),
    )
    if inches.count("(") == 1:
        inches = inches.strip("()")
    return f"{mm} ({inches} in)"
