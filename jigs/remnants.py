"""Remnants: what is left of sheets, on the shelf in the shop file.

A remnant is a ``[[remnant]]`` with its name, the sheet it is of, and its outline: corners in
order round the edge. What a layout leaves is appended as text and what it used up is taken out,
so that a person's comments and order stay; the result is read back and compared before anyone
may write it: the same file, those remnants less and those more.
"""

from __future__ import annotations

import itertools
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from jigs.shop_card import HEADER, quoted
from jigs.table import Table
from kerf.contour import Contour, Region, Transform
from kerf.errors import InputError
from kerf.stock import Stock


@dataclass(frozen=True, slots=True, kw_only=True)
class Remnant:
    """What is left of a sheet.

    Args:
        name: what it is marked with.
        sheet: name of the sheet it is of.
        stock: its outline, mm, its box's lower left corner at (0, 0).
    """

    name: str
    sheet: str
    stock: Stock


def read_remnant(row: Table) -> Remnant | None:
    """Return the remnant of a [[remnant]] table, or None with faults noted."""
    name, sheet = row.text("name"), row.text("sheet")
    corners = row.points_mm("outline")
    holes = row.raw("holes")
    row.finish()
    if holes:
        row.fault(
            "holes",
            f'remnant "{name}" has a hole in it; only one plain outline is laid out',
            "leave holes out and give the outline of the part of it without them",
        )
        return None
    if len(corners) < 3:
        row.fault("outline", f"an outline needs at least 3 corners, this one has {len(corners)}")
        return None

    return row.build(
        "outline", lambda: remnant_of(name, sheet, Contour.of([tuple(p) for p in corners]))
    )


def remnant_of(name: str, sheet: str, outline: Contour) -> Remnant:
    """Return a remnant of an outline, its box's lower left corner moved to (0, 0).

    Raises:
        GeometryError: the outline crosses itself.
    """
    box = outline.bounds()
    moved = outline.transformed(Transform.translation(-box.x_min, -box.y_min))
    stock = Stock(name=name, region=Region(outer=moved), is_remnant=True)
    return Remnant(name=name, sheet=sheet, stock=stock)


def remnant_toml(remnant: Remnant) -> str:
    """Return a remnant as it stands in a shop file; lengths carry their unit."""
    corners = ", ".join(
        f'["{v.x:.1f} mm", "{v.y:.1f} mm"]' for v in remnant.stock.region.outer.vertices
    )
    return (
        "[[remnant]]\n"
        f"name = {quoted(remnant.name)}\n"
        f"sheet = {quoted(remnant.sheet)}\n"
        f"outline = [{corners}]\n"
    )


def shop_with_remnants(
    text: str, *, used: Sequence[str], left: Sequence[Remnant], name: str
) -> str:
    """Return the text of the shop file without the remnants used and with those left.

    Args:
        text: the file as it stands.
        used: names of the remnants that are cut up.
        left: what is put on the shelf.
        name: of the file, for messages.
    Raises:
        InputError: the file cannot be read, a remnant of a name is there already, or the text
            cannot be changed safely.
    """
    try:
        expected: dict[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise InputError(f"the shop file is not valid TOML: {fault}", where=name) from None
    kept = [r for r in expected.get("remnant", []) if r.get("name") not in set(used)]
    for remnant in left:
        if any(r.get("name") == remnant.name for r in kept):
            raise InputError(
                f'a remnant named "{remnant.name}" is on the shelf already',
                where=name,
                hint="if this layout was put back before, do not put it back again",
            )
    written = "\n".join(remnant_toml(r) for r in left)
    after = _without(text, set(used))
    if written:
        after = f"{after.rstrip()}\n\n{written}"
    kept += tomllib.loads(written).get("remnant", [])
    expected.pop("remnant", None)
    if kept:
        expected["remnant"] = kept
    try:
        same = tomllib.loads(after) == expected
    except tomllib.TOMLDecodeError:
        same = False
    if not same:
        raise InputError(
            "the remnants cannot be changed in this shop file without touching something else",
            where=name,
            hint=f"take out {', '.join(used) or 'nothing'} and add by hand:\n{written}",
        )
    return after


def _without(text: str, used: set[str]) -> str:
    """Return the text without the [[remnant]] blocks of those names."""
    if not used:
        return text
    lines = text.splitlines(keepends=True)
    starts = [i for i, line in enumerate(lines) if HEADER.match(line)]
    out = lines[: starts[0]] if starts else list(lines)
    for start, end in itertools.pairwise([*starts, len(lines)]):
        block = lines[start:end]
        header = HEADER.match(lines[start])
        if header is not None and header[1].strip("\"'") == "remnant":
            try:
                (row,) = tomllib.loads("".join(block)).get("remnant", [{}])
            except (tomllib.TOMLDecodeError, ValueError):
                row = {}
            if row.get("name") in used:
                # Comments above the next header belong to it.
                tail = len(block)
                while tail > 0 and (
                    not block[tail - 1].strip() or block[tail - 1].lstrip().startswith("#")
                ):
                    tail -= 1
                block = block[tail:]
        out += block
    return "".join(out)
