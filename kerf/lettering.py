"""Single-stroke letters and marks that a laser can burn: open polylines, nothing filled.

Letters are Simplex Roman (``kerf/hershey.py``, straight strokes as the font has them); the
signs a shop needs and that font lacks (Ø µ ± ° × − · and four arrows) are drawn here on the
same grid, as are l (the font draws it like I) and ^ (the font's is an arrow). A letter's
height is that of its capitals. A text's width is that of its ink, so that text placed to the
right of a line never begins with a blank.

A character outside the set is refused by name: dropping one silently would burn a wrong job
number on the plate.
"""

from __future__ import annotations

import functools
import math
from enum import StrEnum
from typing import Final

from kerf.contour import Point, Transform
from kerf.errors import InputError
from kerf.hershey import BASE_LINE, CAP_LINE, SIMPLEX

#: A stroke: two or more points, mm.
Stroke = tuple[Point, ...]

_CAP_UNITS: Final = BASE_LINE - CAP_LINE

#: Descenders reach this far below the foot of a capital, as a share of the letter height.
DESCENT: Final = (16 - BASE_LINE) / _CAP_UNITS

#: Brackets and the bar reach this far above the head of a capital, as a share of the height.
ASCENT: Final = (CAP_LINE + 16) / _CAP_UNITS


class Anchor(StrEnum):
    """Which place of the text stands at the given point."""

    LEFT = "left"  #: foot of the first letter
    CENTRE = "centre"  #: middle of the foot line
    RIGHT = "right"  #: foot of the last letter
    MIDDLE = "middle"  #: middle of the text, half a capital above the foot line
    MIDDLE_LEFT = "middle left"
    MIDDLE_RIGHT = "middle right"


#: Half the opening of an arrow's barbs: 25°, open enough to read when burnt 3 mm long.
_BARB_RAD: Final = math.radians(25.0)

#: A glyph: left and right end of its advance, then its strokes; table units, y down.
_Glyph = tuple[int, int, tuple[tuple[tuple[int, int], ...], ...]]


def _decoded(row: str) -> _Glyph:
    """Return a glyph from its row of the table."""
    values = [ord(c) - ord("R") for c in row[:2]]
    strokes = tuple(
        tuple((ord(w[i]) - ord("R"), ord(w[i + 1]) - ord("R")) for i in range(0, len(w), 2))
        for w in row[2:].split(" ")
        if w
    )
    return values[0], values[1], strokes


_MINUS: Final[_Glyph] = _decoded(SIMPLEX["-"])
_DIAMETER: Final[_Glyph] = (-11, 11, (*_decoded(SIMPLEX["O"])[2], ((-8, 10), (8, -13))))
_MICRO: Final[_Glyph] = (-9, 10, (*_decoded(SIMPLEX["u"])[2], ((-5, 4), (-5, 16))))
_RING: Final = ((0, -12), (2, -11), (3, -9), (2, -7), (0, -6), (-2, -7), (-3, -9), (-2, -11))

#: Signs drawn here, on the font's grid.
_OWN: Final[dict[str, _Glyph]] = {
    "Ø": _DIAMETER,
    "⌀": _DIAMETER,
    "µ": _MICRO,
    "μ": _MICRO,
    "±": (-11, 11, (((0, -10), (0, 4)), ((-7, -3), (7, -3)), ((-7, 8), (7, 8)))),
    "°": (-5, 5, ((*_RING, _RING[0]),)),
    "×": (-9, 9, (((-6, -6), (6, 6)), ((-6, 6), (6, -6)))),
    "−": _MINUS,
    "–": _MINUS,
    "·": (-5, 5, (((0, -2), (-1, -1), (0, 0), (1, -1), (0, -2)),)),
    # The font draws a lower-case l exactly like a capital I; a tail tells them apart.
    "l": (-5, 5, (((-2, -12), (-2, 6), (-1, 8), (1, 9), (2, 9)),)),
    "^": (-8, 8, (((-6, -4), (0, -11), (6, -4)),)),
    "→": (-12, 12, (((-9, -1), (9, -1)), ((4, -6), (9, -1), (4, 4)))),
    "←": (-12, 12, (((9, -1), (-9, -1)), ((-4, -6), (-9, -1), (-4, 4)))),
    "↑": (-8, 8, (((0, 9), (0, -12)), ((-5, -6), (0, -12), (5, -6)))),
    "↓": (-8, 8, (((0, -12), (0, 9)), ((-5, 3), (0, 9), (5, 3)))),
}

#: Every character that can be burnt.
CHARACTERS: Final[frozenset[str]] = frozenset(SIMPLEX) | frozenset(_OWN)


@functools.cache
def _glyph(character: str) -> _Glyph:
    """Return the glyph of a character of the set."""
    own = _OWN.get(character)
    return own if own is not None else _decoded(SIMPLEX[character])


def check_characters(text: str) -> None:
    """Refuse text that holds a character outside the set.

    Raises:
        InputError: names every such character once, in the order they stand.
    """
    strange = list(dict.fromkeys(c for c in text if c not in CHARACTERS))
    if strange:
        names = ", ".join(
            f'"{c}" (U+{ord(c):04X})' if c.isprintable() else f"U+{ord(c):04X}" for c in strange
        )
        raise InputError(
            f"{text!r} cannot be engraved: no single-stroke letter for {names}",
            hint="use plain letters, digits and punctuation, or Ø µ ± ° × − · → ← ↑ ↓",
        )


@functools.lru_cache(maxsize=2048)
def _laid(text: str) -> tuple[float, tuple[tuple[tuple[float, float], ...], ...]]:
    """Return (width of the ink, strokes from its left end) in table units, y up from the foot."""
    check_characters(text)
    x, ink = 0.0, []
    for character in text:
        left, right, parts = _glyph(character)
        ink += [tuple((x + px - left, float(BASE_LINE - py)) for px, py in part) for part in parts]
        x += right - left
    if not ink:
        return x, ()
    xs = [px for part in ink for px, _ in part]
    low = min(xs)
    return max(xs) - low, tuple(tuple((px - low, py) for px, py in part) for part in ink)


def text_width_mm(text: str, height_mm: float) -> float:
    """Return the width of the ink of a line of text, mm.

    Args:
        text: one line.
        height_mm: height of a capital, mm.
    Raises:
        InputError: a character outside the set, named.
    """
    return _laid(text)[0] * height_mm / _CAP_UNITS


def _shift(anchor: Anchor, width_mm: float, height_mm: float) -> tuple[float, float]:
    """Return where the foot of the first letter lies from the anchor, mm."""
    x = {
        Anchor.LEFT: 0.0,
        Anchor.MIDDLE_LEFT: 0.0,
        Anchor.CENTRE: -width_mm / 2,
        Anchor.MIDDLE: -width_mm / 2,
        Anchor.RIGHT: -width_mm,
        Anchor.MIDDLE_RIGHT: -width_mm,
    }[anchor]
    return x, -height_mm / 2 if anchor.value.startswith("middle") else 0.0


def _check_height(height_mm: float) -> None:
    """Refuse a letter height that is not a positive length."""
    if not (math.isfinite(height_mm) and height_mm > 0):
        raise InputError(f"lettering needs a height above 0 mm, not {height_mm:.4g} mm")


def strokes(
    text: str,
    *,
    height_mm: float,
    at: tuple[float, float],
    angle_rad: float = 0.0,
    anchor: Anchor = Anchor.LEFT,
) -> tuple[Stroke, ...]:
    """Return one line of text as open polylines.

    Args:
        text: the line; empty gives no strokes.
        height_mm: height of a capital, mm, > 0.
        at: where the anchor stands, mm.
        angle_rad: direction the text runs in, counter-clockwise from +x.
        anchor: which place of the text stands at ``at``.
    Returns:
        strokes in reading order, each of two or more points, mm.
    Raises:
        InputError: a character outside the set (each is named), or a height not above 0.
    """
    _check_height(height_mm)
    scale = height_mm / _CAP_UNITS
    width, ink = _laid(text)
    dx, dy = _shift(anchor, width * scale, height_mm)
    place = Transform.translation(dx, dy).then(Transform.rotation(angle_rad))
    place = place.then(Transform.translation(*at))
    return tuple(tuple(place.point(x * scale, y * scale) for x, y in part) for part in ink)


def mirror_written(lines: tuple[Stroke, ...]) -> tuple[Stroke, ...]:
    """Return a mark in mirror writing: reflected about the upright through its box's middle.

    It keeps its box, and reads right from the other side of the sheet.
    """
    xs = [x for line in lines for x, _ in line]
    both = min(xs, default=0.0) + max(xs, default=0.0)
    return tuple(tuple(Point(both - x, y) for x, y in line) for line in lines)


def text_box(
    text: str,
    *,
    height_mm: float,
    at: tuple[float, float],
    angle_rad: float = 0.0,
    anchor: Anchor = Anchor.LEFT,
) -> tuple[Point, Point, Point, Point]:
    """Return the corners of the box that holds the text whatever its letters, mm.

    The box reaches from the deepest descender to the tallest bracket; counter-clockwise from
    its lower left corner. Arguments as ``strokes``.
    """
    _check_height(height_mm)
    width = text_width_mm(text, height_mm)
    dx, dy = _shift(anchor, width, height_mm)
    place = Transform.rotation(angle_rad).then(Transform.translation(*at))
    low, high = dy - DESCENT * height_mm, dy + (1 + ASCENT) * height_mm
    return (
        place.point(dx, low),
        place.point(dx + width, low),
        place.point(dx + width, high),
        place.point(dx, high),
    )


def arrow(
    start: tuple[float, float], end: tuple[float, float], *, head_mm: float
) -> tuple[Stroke, ...]:
    """Return an open arrow from start to end: the shaft, then the two barbs as one stroke.

    Args:
        start, end: mm, distinct.
        head_mm: length of a barb, mm; shortened to the shaft's length when that is less.
    Raises:
        InputError: start and end are the same point.
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = math.hypot(dx, dy)
    if not length > 0:
        raise InputError("an arrow needs two different ends")
    ux, uy = dx / length, dy / length
    back, side = (
        min(head_mm, length) * math.cos(_BARB_RAD),
        min(head_mm, length) * math.sin(_BARB_RAD),
    )
    tip = Point(*end)
    barbs = tuple(
        Point(tip.x - back * ux - s * side * uy, tip.y - back * uy + s * side * ux)
        for s in (1.0, -1.0)
    )
    return (Point(*start), tip), (barbs[0], tip, barbs[1])


def up_mark(at: tuple[float, float], *, height_mm: float, text: str = "UP") -> tuple[Stroke, ...]:
    """Return an arrow that points along +y with its word beside it.

    Args:
        at: foot of the arrow, mm.
        height_mm: height of the word's capitals, mm; the arrow is three times as tall.
        text: the word.
    """
    shaft = arrow(at, (at[0], at[1] + 3 * height_mm), head_mm=height_mm)
    word = strokes(
        text,
        height_mm=height_mm,
        at=(at[0] + height_mm, at[1] + height_mm),
    )
    return (*shaft, *word)


def scale_bar(
    at: tuple[float, float], *, length_mm: float, height_mm: float, text: str = ""
) -> tuple[Stroke, ...]:
    """Return a bar of known length, to lay a caliper or rule on and see true size.

    Args:
        at: lower left end, mm.
        length_mm: distance between the outer ticks, mm, > 0.
        height_mm: height of its lettering, mm; the ticks are as tall.
        text: what stands beside it; "<length> mm" when empty.
    Returns:
        the bar, its two end ticks, a middle tick half as tall, and the text to its right.
    """
    if not length_mm > 0:
        raise InputError(f"a scale bar needs a length above 0 mm, not {length_mm:.4g} mm")
    x, y = at
    half = height_mm / 2
    line = (Point(x, y + half), Point(x + length_mm, y + half))
    ticks = tuple(
        (Point(tx, y + half - h / 2), Point(tx, y + half + h / 2))
        for tx, h in ((x, height_mm), (x + length_mm, height_mm), (x + length_mm / 2, half))
    )
    label = strokes(
        text or f"{length_mm:g} mm",
        height_mm=height_mm,
        at=(x + length_mm + height_mm, y),
    )
    return (line, *ticks, *label)
