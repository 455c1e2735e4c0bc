"""What was read from a drawing, as a table and as JSON: loops, mendings, faults, what is left out.

Holes are set against the nearest gauge pin of the common sets in thousandths of an inch
(.011 to 1.000), because a pin in the hole is how a shop checks a drawing against the part in
hand.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

from jigs.quantity import number as number_text
from kerf.contour import Contour
from kerf.reading.chain import circle_of
from kerf.reading.drawing import Drawing

#: Faults spelled out in the table; the picture numbers as many.
_LISTED: Final = 99
_THOU_MM: Final = 0.0254
#: Smallest and largest pin of the common sets, thousandths of an inch.
#: Source: ASME B89.1.5 size ranges; set contents common practice.
_PINS: Final = (11, 1000)


def nearest_pin(diameter_mm: float) -> tuple[float, float] | None:
    """Return the nearest gauge pin, in, and how much larger the hole is, mm.

    Args:
        diameter_mm: hole diameter, mm.
    Returns:
        None when the hole is beyond the sets by half a thousandth or more.

    >>> nearest_pin(6.35)
    (0.25, 0.0)
    """
    thou = round(diameter_mm / _THOU_MM)
    if not _PINS[0] <= thou <= _PINS[1]:
        return None
    return thou / 1000, round(diameter_mm - thou * _THOU_MM, 9)


def drawing_table(drawing: Drawing, part: int | None = None) -> str:
    """Return the drawing as lines for a person: each loop, then what was done and is wrong.

    Args:
        drawing: as surveyed.
        part: only this part (from 1); None for all.
    """
    lines = [f"{drawing.path}: {len(drawing.regions)} part(s), read in {drawing.unit}, sizes in mm"]
    rows = [
        ("part", "loop", "width", "height", "area mm²", "diameter", "nearest pin", "at", "layer")
    ]
    for number, kind, loop, layer in _loops(drawing, part):
        box = loop.bounds()
        circle = circle_of(loop)
        at, diameter, pin = f"({box.centre.x:.4f}, {box.centre.y:.4f})", "", ""
        if circle is not None:
            diameter = f"{2 * circle[1]:.4f}"
            near = nearest_pin(2 * circle[1]) if kind == "hole" else None
            pin = f"{near[0]:.3f} in {number_text(near[1], 4, signed=True)} mm" if near else ""
        rows.append(
            (
                str(number),
                kind,
                f"{box.width:.4f}",
                f"{box.height:.4f}",
                f"{loop.area_mm2:.3f}",
                diameter,
                pin,
                at,
                layer,
            )
        )
    if len(rows) > 1:
        lines += _aligned(rows)
    if drawing.healed:
        lines += ["", f"mended ({len(drawing.healed)}):"]
        lines += _grouped([(h.kind.value, h.describe()) for h in drawing.healed])
    if drawing.faults:
        lines += ["", f"faults ({len(drawing.faults)}), numbered as in the picture:"]
        for i, fault in enumerate(drawing.faults[:_LISTED], start=1):
            lines.append(f"  {i}. {fault.message}; {fault.origin}")
            lines.append(f"     hint: {fault.hint}")
        if len(drawing.faults) > _LISTED:
            lines.append(f"  … and {len(drawing.faults) - _LISTED} more (all of them with --json)")
    lines += _remarks(drawing)
    return "\n".join(lines)


def _remarks(drawing: Drawing) -> list[str]:
    """Return the lines on what was set aside, left out, and worth knowing."""
    lines: list[str] = []
    if drawing.set_aside:
        counts = ", ".join(f"{count} × {kind}" for kind, count in drawing.set_aside)
        lines += ["", f"set aside, no outline: {counts}"]
    if drawing.notes:
        lines += ["", *(f"note: {note}" for note in drawing.notes)]
    return lines


def _loops(drawing: Drawing, part: int | None) -> list[tuple[int, str, Contour, str]]:
    """Return (part number, kind, loop, layer) of every loop to show."""
    out = []
    pairs = zip(drawing.regions, drawing.layer_of, strict=True)
    for number, (region, layer) in enumerate(pairs, start=1):
        if part is None or number == part:
            out.append((number, "outline", region.outer, layer))
            out += [(number, "hole", hole, "") for hole in region.holes]
    return out


def _aligned(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Return rows as columns: numbers to the right, words to the left."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    right = {0, 2, 3, 4, 5}
    return [
        "  ".join(
            cell.rjust(width) if i in right else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def _grouped(entries: list[tuple[str, str]], most: int = 10) -> list[str]:
    """Return at most ``most`` lines of each kind, and how many of it follow."""
    shown: Counter[str] = Counter()
    lines = []
    for kind, line in entries:
        shown[kind] += 1
        if shown[kind] <= most:
            lines.append(f"  {line}")
    lines += [
        f"  … and {count - most} more: {kind}"
        for kind, count in sorted(shown.items())
        if count > most
    ]
    return lines


def drawing_record(drawing: Drawing, part: int | None = None) -> dict[str, Any]:
    """Return the drawing as JSON values, lengths in mm."""
    parts = []
    pairs = zip(drawing.regions, drawing.layer_of, strict=True)
    for number, (region, layer) in enumerate(pairs, start=1):
        if part is None or number == part:
            parts.append(
                {
                    "number": number,
                    "layer": layer,
                    "area_mm2": region.area_mm2,
                    "outline": _loop_record(region.outer),
                    "holes": [_loop_record(hole) for hole in region.holes],
                }
            )
    return {
        "schema": 1,
        "path": drawing.path,
        "unit": drawing.unit,
        "parts": parts,
        "healed": [
            {
                "kind": h.kind.value,
                "at": list(h.at),
                "amount_mm": h.amount_mm,
                "entity": h.origin._asdict(),
            }
            for h in drawing.healed
        ],
        "faults": [
            {
                "kind": f.kind.value,
                "at": list(f.at),
                "to": list(f.to),
                "message": f.message,
                "hint": f.hint,
                "entity": f.origin._asdict(),
            }
            for f in drawing.faults
        ],
        "notes": list(drawing.notes),
        "set_aside": dict(drawing.set_aside),
        "layers": [
            {"name": use.name, "entities": use.entities, "left_out": use.left_out}
            for use in drawing.layers
        ],
    }


def _loop_record(loop: Contour) -> dict[str, Any]:
    """Return one loop's measures."""
    circle = circle_of(loop)
    pin = nearest_pin(2 * circle[1]) if circle else None
    return {
        "bounds": list(loop.bounds()),
        "area_mm2": loop.area_mm2,
        "length_mm": loop.length_mm,
        "centre": list(circle[0]) if circle else None,
        "diameter_mm": 2 * circle[1] if circle else None,
        "nearest_pin_in": pin[0] if pin else None,
        "over_pin_mm": pin[1] if pin else None,
        "vertices": [list(v) for v in loop.vertices],
    }
