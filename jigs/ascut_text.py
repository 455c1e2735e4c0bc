"""Readings of a cut guide in, the verdict in words out, and the reading kept in the record."""

from __future__ import annotations

import csv
import io
import json
import math
from typing import Any

from jigs.ascut import AsCut
from jigs.locating.error import CriticalError
from jigs.quantity import length_text, offset_text, plus_minus_text
from kerf.errors import InputError


def parse_settings(given: tuple[str, ...], *, unit_mm: float) -> dict[str, tuple[float, ...]]:
    """Return the readings of "NAME=READING" arguments, mm, by name.

    Raises:
        InputError: an argument without a name or a number.
    """
    out: dict[str, tuple[float, ...]] = {}
    for text in given:
        name, equals, value = text.rpartition("=")
        if not equals or not name.strip():
            raise InputError(
                f'"{text}" names no check size', hint='write it as "plate along x=128.21"'
            )
        name = name.strip()
        out[name] = (*out.get(name, ()), _reading(value, f"--set {name}") * unit_mm)
    return out


def parse_sizes(text: str, *, unit_mm: float, name: str) -> dict[str, tuple[float, ...]]:
    """Return the readings of a CSV of check sizes, mm, by name.

    A row is a name and its readings; a first row whose second cell is no number is a heading,
    and rows without readings are passed over.

    Raises:
        InputError: a cell that is not a number above 0.
    """
    out: dict[str, tuple[float, ...]] = {}
    for number, cells in enumerate(csv.reader(io.StringIO(text)), start=1):
        cells = [cell.strip() for cell in cells]
        if not cells or not cells[0] or cells[0].startswith("#"):
            continue
        values = [cell for cell in cells[1:] if cell]
        if not values or (number == 1 and not _is_number(values[0])):
            continue
        where = f"{name}: line {number}"
        out[cells[0]] = (
            *out.get(cells[0], ()),
            *(_reading(value, where) * unit_mm for value in values),
        )
    return out


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False


def _reading(text: str, where: str) -> float:
    if not _is_number(text) or float(text) <= 0.0:
        raise InputError(
            f'"{text.strip()}" is no reading; it must be a plain number above 0',
            where=where,
            hint="leave the unit to --unit",
        )
    return float(text)


def record_with_reading(
    before: str, *, setup: str, made: dict[str, Any], entry: dict[str, Any], name: str
) -> str:
    """Return the record's text with one more measuring kept under its set-up, newest last.

    Args:
        before: the record as it stands.
        setup: name of the set-up.
        made: the record the job would give today.
        entry: what to keep.
        name: of the file, for messages.
    Raises:
        InputError: the record is no record, lacks the set-up, or is of another guide.
    """
    try:
        record = json.loads(before)
        kept = next(one for one in record["setups"] if one["name"] == setup)
    except (ValueError, KeyError, TypeError, StopIteration):
        raise InputError(
            f'the record does not hold set-up "{setup}"',
            where=name,
            hint="make the job first, and give the same --out",
        ) from None
    today = next(one for one in made["setups"] if one["name"] == setup)
    # Through JSON, so that numbers and lists compare as they were written.
    now = json.loads(json.dumps(today))
    for key in ("plates", "faces", "checks"):
        if kept.get(key) != now.get(key):
            raise InputError(
                f'set-up "{setup}" has changed since the record was written (its {key} differ)',
                where=name,
                hint="these readings belong to the guide as it was cut then: measure the new one, "
                "or bring the job back",
            )
    kept.setdefault("as_cut", []).append(entry)
    return json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def as_cut_text(cut: AsCut, critical: tuple[CriticalError, ...], *, units: str) -> str:
    """Return the verdict, the sizes, the new offsets and the budget as lines of text."""
    lines = [f"The guide serves {cut.serves.value}." if cut.serves != "recut" else "Recut.", ""]
    lines.append(cut.advice[0].upper() + cut.advice[1:] + ".")
    lines.append("")
    for one in cut.checked:
        state = "within" if one.is_within else "OUT"
        lines.append(
            f"  {one.check.name:<24} {length_text(one.measured_mm, units):>14} "
            f"({length_text(one.off_mm, units, signed=True)}, {state} "
            f"{plus_minus_text(one.check.plus_minus_mm, units)})"
        )
    lines.append("")
    for offset in cut.offsets:
        lines.append(
            f"  {offset.axis}  {offset.face:<8} now {offset_text(offset.now_mm, units)} "
            f"(was {offset_text(offset.was_mm, units)}), u {length_text(offset.u_mm, units)}; "
            f"at touch set {offset_text(offset.reading_mm, units)}"
        )
    least, greatest = cut.clearance_mm
    lines.append(
        f"  clearance per side {length_text(least, units)} to {length_text(greatest, units)}, "
        f"u {length_text(cut.clearance_u_mm, units)}"
    )
    for error in critical:
        lines.append(
            f"  {error.name}: worst {length_text(error.worst_mm, units)} of "
            f"{length_text(error.limit_mm, units)} allowed, {'ok' if error.ok else 'TOO MUCH'}"
        )
    return "\n".join(lines) + "\n"
