"""What a reader hands on: closed regions in millimetres, and everything done to get them.

A drawing arrives as loose ends: lines that nearly meet, doubled outlines, dimensions, a unit
nobody wrote down. A reader turns each entity into a ``Strand`` (a run of line and arc edges
that knows where it came from) and ``chain.py`` makes loops of the strands. What was mended on
the way is a ``Healed`` with its place; what could not be mended is a ``Fault``, and a drawing
with faults yields no region until they are gone.

Units are never guessed. The header or the job says them; when neither does, or when the
size they give is not one a person would lay on a laser bed, reading stops and the message
gives the size each way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fnmatch import fnmatchcase
from typing import Final, NamedTuple

from kerf.contour import Bounds, Point, Region
from kerf.errors import InputError, InputErrors
from kerf.tolerance import NUMBER_LARGEST, PART_LARGEST_MM, PART_SMALLEST_MM, READ_LARGEST_MM

#: Millimetres in one of each unit a drawing may be in. The inch is exactly 25.4 mm
#: (Source: international yard and pound agreement, 1959); the point and the pixel are CSS's
#: 72nd and 96th of it, and older drawing editors had 90 pixels to the inch.
MM_PER_UNIT: Final[dict[str, float]] = {
    "mm": 1.0,
    "inch": 25.4,
    "cm": 10.0,
    "m": 1000.0,
    "foot": 304.8,
    "yard": 914.4,
    "dm": 100.0,
    "mil": 0.0254,
    "microinch": 25.4e-6,
    "micron": 1e-3,
    "pt": 25.4 / 72,
    "px": 25.4 / 96,
    "px90": 25.4 / 90,
}
_PLURAL: Final[dict[str, str]] = {
    "mm": "millimetres",
    "inch": "inches",
    "cm": "centimetres",
    "m": "metres",
    "foot": "feet",
    "yard": "yards",
    "dm": "decimetres",
    "mil": "thousandths of an inch",
    "microinch": "microinches",
    "micron": "microns",
    "pt": "points (72 to the inch)",
    "px": "pixels (96 to the inch)",
    "px90": "pixels (90 to the inch)",
}

#: Faults spelled out in one error; a scribble has thousands of loose ends.
FAULTS_LISTED: Final = 20


class Origin(NamedTuple):
    """Where an edge came from.

    Args:
        kind: entity or element name ("LINE", "path").
        handle: its handle, id or line in the file; empty when it has none.
        layer: its layer or group; empty when it has none.
    """

    kind: str
    handle: str = ""
    layer: str = ""

    def __str__(self) -> str:
        """Return the words for a message: ``LINE #2F on layer "CUT"``."""
        words = self.kind + (f" #{self.handle}" if self.handle else "")
        return words + (f' on layer "{self.layer}"' if self.layer else "")


def place_text(p: tuple[float, float]) -> str:
    """Return "(12.5, 0)": a place in mm to six digits, without a negative zero."""
    x, y = (round(v, 6) + 0.0 for v in p)
    return f"({x:.6g}, {y:.6g})"


class Strand(NamedTuple):
    """A run of line and arc edges as one entity drew it.

    Args:
        rows: (x, y, bulge) per vertex, drawing units or mm (``chain`` says which), two or
            more; the bulge belongs to the edge that leaves the vertex, and that of the last
            vertex of an open strand is ignored.
        closed: whether a last edge runs back to the first vertex.
        origin: where it came from.
    """

    rows: tuple[tuple[float, float, float], ...]
    closed: bool
    origin: Origin


class Healing(StrEnum):
    """What was mended."""

    GAP = "gap closed"
    DUPLICATE = "duplicate removed"
    OVERLAP = "overlap removed"
    ZERO = "edge of no length dropped"
    DEAD_END = "dead end removed"
    BRANCH = "branch resolved"
    CENTRE_MARK = "centre mark set aside"
    CURVE = "curve replaced by arcs"


class FaultKind(StrEnum):
    """What could not be mended."""

    OPEN = "open outline"
    CROSSING = "outline crosses itself"
    OVERLAPPING = "outlines cross each other"
    BRANCH = "outline branches"
    FLAT = "outline encloses nothing"
    UNREADABLE = "entity cannot be used"


@dataclass(frozen=True, slots=True, kw_only=True)
class Healed:
    """One thing that was mended, and where.

    Args:
        kind: what was done.
        at: where, mm.
        origin: the entity it was done to.
        amount_mm: width of the gap, length removed or greatest deviation, mm.
    """

    kind: Healing
    at: Point
    origin: Origin
    amount_mm: float

    def describe(self) -> str:
        """Return one line: what, how much, where, which entity."""
        return f"{self.kind}: {self.amount_mm:.4g} mm at {place_text(self.at)}, {self.origin}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that stops the drawing from being used, and where.

    Args:
        kind: what is wrong.
        at: where, mm.
        origin: the entity it was found on.
        message: one sentence with its numbers.
        hint: what to do about it.
        to: the other side of a gap, mm; equal to ``at`` when there is none.
    """

    kind: FaultKind
    at: Point
    origin: Origin
    message: str
    hint: str
    to: Point

    def error(self, path: str) -> InputError:
        """Return the fault as the error it becomes when the drawing is to be used."""
        where = f"{path}: {self.origin}, {place_text(self.at)} mm"
        return InputError(self.message, where=where, hint=self.hint)


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerUse:
    """One layer, how many entities it holds, and why it was left out (empty when used)."""

    name: str
    entities: int
    left_out: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A drawing read into regions of material, mm.

    Args:
        path: file as it was named.
        regions: the parts, largest first (part number = index + 1).
        layer_of: for each region the layer of its outer loop.
        unit: unit it was read in (a key of ``MM_PER_UNIT``).
        healed: what was mended, with place and amount.
        faults: what could not be mended.
        notes: what a person should know, one sentence each.
        set_aside: (kind of entity, how many) that are no outline, sorted by kind.
        layers: every layer that holds something.
        strands: the edges that were read, mm, for drawing a picture.
    """

    path: str
    regions: tuple[Region, ...]
    layer_of: tuple[str, ...]
    unit: str
    healed: tuple[Healed, ...] = ()
    faults: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()
    set_aside: tuple[tuple[str, int], ...] = ()
    layers: tuple[LayerUse, ...] = ()
    strands: tuple[Strand, ...] = ()

    def usable(self) -> Drawing:
        """Return the drawing itself when it has no fault.

        Raises:
            InputErrors: every fault, with entity, layer and place.
        """
        if self.faults:
            raise fault_errors(self.faults, self.path)
        return self

    def region(self, part: int | None = None) -> Region:
        """Return one part.

        Args:
            part: its number from 1; None when the drawing must hold exactly one.
        Raises:
            InputErrors: the drawing has faults.
            InputError: several parts and none chosen (they are listed), or no such part.
        """
        self.usable()
        if part is None and len(self.regions) == 1:
            return self.regions[0]
        if part is not None and 1 <= part <= len(self.regions):
            return self.regions[part - 1]
        listed = "; ".join(
            f"{i}: {box.width:.6g} × {box.height:.6g} mm"
            + (f' on layer "{layer}"' if layer else "")
            + f" at {place_text((box.x_min, box.y_min))}"
            for i, (box, layer) in enumerate(
                zip((r.bounds() for r in self.regions), self.layer_of, strict=True), start=1
            )
        )
        if part is None:
            raise InputError(
                f"the drawing holds {len(self.regions)} parts: {listed}",
                where=self.path,
                hint="choose one by its number (`number` in [part], --part) or by `layer`",
            )
        raise InputError(
            f"there is no part {part}: the drawing holds {listed}",
            where=self.path,
            hint="choose one of the numbers listed",
        )


def fault_errors(faults: Sequence[Fault], path: str) -> InputErrors:
    """Return the faults as one error; after the first twenty it only says how many follow."""
    errors = [fault.error(path) for fault in faults[:FAULTS_LISTED]]
    if len(faults) > FAULTS_LISTED:
        errors.append(InputError(f"and {len(faults) - FAULTS_LISTED} more faults", where=path))
    return InputErrors(tuple(errors))


def parse_unit(text: str) -> str:
    """Return the unit a person means ("in", "inches", '"', "millimeters" …).

    Raises:
        InputError: it is no unit of length known here.
    """
    word = text.strip().lower()
    short = {"in": "inch", '"': "inch", "ft": "foot", "'": "foot", "thou": "mil", "yd": "yard"}
    plural = {name: unit for unit, name in _PLURAL.items()}
    plural |= {name.replace("metres", "meters"): unit for name, unit in plural.items()}
    plural |= {name.removesuffix("s"): unit for name, unit in plural.items()}
    for table in (short, plural):
        word = table.get(word, word)
    if word not in MM_PER_UNIT:
        raise InputError(f'"{text}" is not a unit of length', hint='use "mm" or "inch"')
    return word


def unit_name(unit: str) -> str:
    """Return a unit in words, many of it ("millimetres")."""
    return _PLURAL[unit]


def is_sensible_size(largest_mm: float) -> bool:
    """Return whether outlines this large across may be meant as they stand."""
    return PART_SMALLEST_MM <= largest_mm <= PART_LARGEST_MM


def refuse_boundless(across_mm: float, *, path: str) -> None:
    """Refuse a drawing that no unit makes a part of.

    Args:
        across_mm: its largest size in the unit it is asked to be read in, mm.
        path: file, for the message.
    Raises:
        InputError: it is beyond ``READ_LARGEST_MM``.
    """
    if not across_mm <= READ_LARGEST_MM:
        raise InputError(
            f"the drawing would be {across_mm / 1e6:.4g} km across in the unit asked for",
            where=path,
            hint="set `units` to the right one, or delete what lies far out",
        )


def settled_unit(
    *, path: str, stated: str | None, given: str | None, size: tuple[float, float]
) -> tuple[str, tuple[str, ...]]:
    """Return the unit a drawing is to be read in, and notes about it.

    Args:
        path: file, for the message.
        stated: unit the file states; None when it states none.
        given: unit the job gives; None when it gives none. It overrides the file.
        size: width and height of the largest outline, drawing units.
    Raises:
        InputError: nobody states a unit, or the one that holds gives a size that no part has.
    """
    width, height = size
    if given is not None:
        refuse_boundless(max(width, height) * MM_PER_UNIT[given], path=path)
        if stated is None or stated == given:
            return given, ()
        return given, (
            f"the file says {_PLURAL[stated]}; read in {_PLURAL[given]} because the job says so: "
            f"{_sizes(width, height, given)}",
        )
    if stated is None:
        raise InputError(
            f"the drawing does not say its unit: it is {_sizes(width, height, 'mm')}, "
            f"or {_sizes(width, height, 'inch')}",
            where=path,
            hint="set `units` to the right one",
        )
    largest = max(width, height) * MM_PER_UNIT[stated]
    if is_sensible_size(largest):
        return stated, ()
    across, word = (width, "wide") if width >= height else (height, "high")
    others = [u for u in ("mm", "inch") if u != stated]
    ways = ", ".join(
        f"{across * MM_PER_UNIT[u]:.4g} mm {word + ' ' if u == stated else ''}as {_PLURAL[u]}"
        if u == stated
        else f"{across * MM_PER_UNIT[u]:.4g} mm as {_PLURAL[u]}"
        for u in (stated, *others)
    )
    raise InputError(
        f"the drawing reads {ways}: set `units`",
        where=path,
        hint="`units` in the job's [part] (or --units) overrides what the file says",
    )


def _sizes(width: float, height: float, unit: str) -> str:
    """Return "32.2 × 32 mm as millimetres"."""
    k = MM_PER_UNIT[unit]
    return f"{width * k:.6g} × {height * k:.6g} mm as {_PLURAL[unit]}"


def is_layer_wanted(layer: str, patterns: tuple[str, ...]) -> bool:
    """Return whether a layer is to be read.

    Args:
        layer: its name; letter case does not matter.
        patterns: wildcard patterns (* ? [ ]); those that start with "!" leave layers out; when
            there is none without "!", every other layer is read.
    """
    name = layer.casefold()

    def hit(words: list[str]) -> bool:
        return any(fnmatchcase(name, word.casefold()) for word in words)

    wanted = [p for p in patterns if not p.startswith("!")]
    return (not wanted or hit(wanted)) and not hit([p[1:] for p in patterns if p.startswith("!")])


def box_of(strands: tuple[Strand, ...]) -> Bounds:
    """Return the box round the vertices of strands (arcs' bellies not counted).

    Raises:
        InputError: there is no vertex.
    """
    xs = [row[0] for strand in strands for row in strand.rows]
    ys = [row[1] for strand in strands for row in strand.rows]
    if not xs:
        raise InputError("there is nothing to measure")
    return Bounds(min(xs), min(ys), max(xs), max(ys))


def is_usable_number(*values: float) -> bool:
    """Return whether every value is finite and small enough to square without overflow."""
    return all(math.isfinite(v) and abs(v) < NUMBER_LARGEST for v in values)
