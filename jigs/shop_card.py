"""A beam card put into the shop file as text, so that a person's comments and order stay.

The new ``[[laser.card]]`` goes at the end of its laser's block; cards that were there stay,
for the newest is last and last is what counts. The result is read back and compared before
anyone may write it: the same file, and one card more.
"""

from __future__ import annotations

import json
import math
import re
import tomllib
from typing import Any

from kerf.beam import KerfCard
from kerf.errors import InputError

#: A table's or an array of tables' header line.
HEADER = re.compile(r"^\s*\[\[?\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$")


def shop_with_card(text: str, *, laser: str, sheet: str, card: KerfCard, name: str) -> str:
    """Return the text of the shop file with the card added.

    Args:
        text: the file as it stands.
        laser: name of the laser.
        sheet: name of the sheet.
        card: the card.
        name: of the file, for messages.
    Raises:
        InputError: the file cannot be read, has no such laser or sheet, has a card of that
            name already, or the text cannot be placed safely.
    """
    before = _read(text, name)
    lasers = before.get("laser", [])
    names = [str(entry.get("name", "")) for entry in lasers]
    if laser not in names:
        raise InputError(
            f'laser "{laser}" is not in the shop file',
            where=name,
            hint=f"lasers there: {', '.join(names) or 'none'}",
        )
    sheets = [str(entry.get("name", "")) for entry in before.get("sheet", [])]
    if sheet not in sheets:
        raise InputError(
            f'sheet "{sheet}" is not in the shop file',
            where=name,
            hint=f"sheets there: {', '.join(sheets) or 'none'}",
        )
    index = names.index(laser)
    cards = lasers[index].get("card", [])
    if any(entry.get("name") == card.name for entry in cards):
        raise InputError(
            f'laser "{laser}" has a card named "{card.name}" already',
            where=name,
            hint="give the new card another name; older cards are kept",
        )
    written = card_toml(card, sheet=sheet)
    after = _placed(text, index, written)
    expected: dict[str, Any] = tomllib.loads(text)
    expected["laser"][index].setdefault("card", []).append(
        tomllib.loads(written)["laser"]["card"][0]
    )
    try:
        same = tomllib.loads(after) == expected
    except tomllib.TOMLDecodeError:
        same = False
    if not same:
        raise InputError(
            "the card cannot be placed in this shop file without touching something else",
            where=name,
            hint=f"add it by hand under its laser:\n{written}",
        )
    return after


def card_toml(card: KerfCard, *, sheet: str) -> str:
    """Return the card as it stands in a shop file; lengths carry their unit."""

    def mm(value: float) -> str:
        return f'"{value:.4f} mm"'

    rows: list[tuple[str, str]] = [
        ("name", quoted(card.name)),
        ("sheet", quoted(sheet)),
        ("kerf", mm(card.kerf_mm)),
        ("u", mm(card.u_mm)),
    ]
    rows += [
        (key, mm(value))
        for key, value in (
            ("entry", card.entry_mm),
            ("exit", card.exit_mm),
            ("kerf_x", card.kerf_x_mm),
            ("kerf_y", card.kerf_y_mm),
        )
        if value is not None
    ]
    rows += [
        ("scale_x", f"{card.scale_x:.6f}"),
        ("scale_y", f"{card.scale_y:.6f}"),
        ("u_scale", f"{card.u_scale:.6f}"),
        ("inside_extra", mm(card.inside_extra_mm)),
        ("curve_mm2", f"{card.curve_mm2:.4f}"),
    ]
    if math.isfinite(card.dof):
        rows.append(("dof", f"{card.dof:.1f}"))
    if card.temperature_c is not None:
        rows.append(("temperature", f"{card.temperature_c:.1f}"))
    rows += [
        ("measured_on", quoted(card.measured_on)),
        ("measured_by", quoted(card.measured_by)),
        ("instrument", quoted(card.instrument)),
    ]
    return "[[laser.card]]\n" + "".join(f"{key} = {value}\n" for key, value in rows)


def quoted(text: str) -> str:
    """Return a TOML basic string (JSON's escapes are TOML's, but for DEL)."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _read(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise InputError(f"the shop file is not valid TOML: {fault}", where=name) from None


def _placed(text: str, laser: int, block: str) -> str:
    """Return the text with the block at the end of the laser's own lines."""
    lines = text.splitlines(keepends=True)
    seen = -1
    end = len(lines)
    for i, line in enumerate(lines):
        header = HEADER.match(line)
        if header is None:
            continue
        key = header[1].replace('"', "").replace("'", "")
        if key == "laser":
            seen += 1
        if seen > laser or (seen == laser and key != "laser" and not key.startswith("laser.")):
            end = i
            break
    # Blank lines and comments just above the next header belong to it.
    while end > 0 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    head, tail = "".join(lines[:end]), "".join(lines[end:])
    if head and not head.endswith("\n"):
        head += "\n"
    if tail and not tail.startswith(("\n", "\r")):
        tail = "\n" + tail
    return f"{head}\n{block}{tail}"
