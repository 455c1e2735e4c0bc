"""SVG's attribute values: lists of numbers, lengths and transform lists, read strictly.

Source: W3C SVG 1.1 (Second Edition), chapter Coordinate Systems (transform lists, units), and
CSS absolute lengths: 1 in = 96 px = 72 pt = 6 pc = 25.4 mm.
"""

from __future__ import annotations

import math
import re

from kerf.contour import Transform
from kerf.errors import InputError

#: One number of SVG's grammar.
NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
#: What may stand between two numbers.
GAP = " \t\r\n\f,"
_NUMBERS = re.compile(NUMBER)


def numbers(text: str) -> list[float] | None:
    """Return a list of numbers parted by blanks and commas; None when it holds anything else."""
    if without_numbers(text):
        return None
    return [float(n) for n in _NUMBERS.findall(text)]


def without_numbers(text: str) -> str:
    """Return what a text holds besides numbers and gaps."""
    return _NUMBERS.sub("", text).strip(GAP)


_STEP = re.compile(r"\s*,?\s*([A-Za-z]+)\s*\(([^()]*)\)")
_STEP_ARGUMENTS = {
    "matrix": (6,),
    "translate": (1, 2),
    "scale": (1, 2),
    "rotate": (1, 3),
    "skewX": (1,),
    "skewY": (1,),
}


def transform(text: str, *, where: str) -> Transform:
    """Return the map of a ``transform`` attribute: the last of the list applies first.

    Raises:
        InputError: an unknown step, a wrong number of arguments, or an argument that is no
            plain number.
    """
    whole, at = Transform(), 0
    while found := _STEP.match(text, at):
        name, values = found[1], numbers(found[2])
        if (
            values is None
            or len(values) not in _STEP_ARGUMENTS.get(name, ())
            or not all(map(math.isfinite, values))
        ):
            break
        whole = _step(name, values).then(whole)
        at = found.end()
    if text[at:].strip(GAP) and text.strip() != "none":
        raise InputError(
            f'cannot read the transform "{text[at : at + 40].strip()}"',
            where=where,
            hint="use matrix, translate, scale, rotate, skewX or skewY with plain numbers",
        )
    return whole


def _step(name: str, n: list[float]) -> Transform:
    """Return the map of one step of a transform list."""
    if name == "matrix":
        return Transform(a=n[0], b=n[2], c=n[4], d=n[1], e=n[3], f=n[5])
    if name == "translate":
        return Transform.translation(n[0], n[1] if len(n) == 2 else 0.0)
    if name == "scale":
        return Transform(a=n[0], e=n[-1])
    angle = math.radians(n[0])
    if name == "rotate":
        return Transform.rotation(angle, about=(n[1], n[2]) if len(n) == 3 else (0.0, 0.0))
    slope = math.tan(angle)
    return Transform(b=slope) if name == "skewX" else Transform(d=slope)


#: Millimetres in one CSS absolute unit. The pixel is a 96th of an inch by definition.
ABSOLUTE_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "q": 0.25,
    "in": 25.4,
    "pt": 25.4 / 72,
    "pc": 25.4 / 6,
    "px": 25.4 / 96,
}
#: Pixels in a millimetre.
PX_PER_MM = 96 / 25.4

_LENGTH = re.compile(rf"\s*({NUMBER})\s*([A-Za-z]*|%)\s*")


def length(text: str, *, where: str) -> tuple[float, str]:
    """Return a length's number and its unit in lower case ("" when bare, "%" for a share).

    Raises:
        InputError: no number, an unknown unit, or a unit that hangs on a font (em, ex).
    """
    found = _LENGTH.fullmatch(text)
    value, unit = (float(found[1]), found[2].lower()) if found else (math.nan, "")
    if not math.isfinite(value) or (unit not in ABSOLUTE_MM and unit not in ("", "%")):
        raise InputError(
            f'cannot read the length "{text.strip()[:40]}"',
            where=where,
            hint="give a number with mm, cm, in, pt, pc, px or no unit",
        )
    return value, unit
