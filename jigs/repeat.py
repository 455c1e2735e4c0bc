"""The repeat a year later: what changed since a record was written, and does the guide serve.

Inputs are compared by their hashes, the guide by its geometry: a drawing that was saved again
changes a hash and nothing else. The verdict is about the guide on the shelf: it *serves* when
its plates, pose and kerf are as they were; it must be *measured again* when the kerf card or
the sheet it was cut from is no longer what the shop file says; it must be *recut* when its
finished outline or the part's place in it is another. New offsets from the same plate only
need the new sheet.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from kerf.errors import InputError
from kerf.lean import LeanUse
from kerf.tolerance import COINCIDENT_MM
from kerf.writing.disk import read_text


class Verdict(StrEnum):
    """What to do with the guide on the shelf."""

    SERVES = "serves"
    NEW_SHEET = "serves, with a new set-up sheet"
    MEASURE = "measure again"
    RECUT = "recut"


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What changed for one set-up.

    Args:
        setup: its name.
        verdict: what to do with its guide.
        reasons: one sentence each.
    """

    setup: str
    verdict: Verdict
    reasons: tuple[str, ...]


def read_record(path: Path) -> dict[str, Any]:
    """Read a record.

    Raises:
        InputError: missing, not UTF-8, not JSON, or not one of our records.
    """
    text = read_text(path, what="record")
    try:
        value = json.loads(text)
    except json.JSONDecodeError as fault:
        raise InputError(f"the record is not valid JSON: {fault}", where=str(path)) from None
    if not isinstance(value, dict) or value.get("schema") != 1 or "setups" not in value:
        raise InputError(
            "this is no record of schema 1", where=str(path), hint="give a record.json of `make`"
        )
    return value


def input_changes(old: dict[str, Any], new: dict[str, Any]) -> tuple[str, ...]:
    """Return one sentence for each input that is not what it was, and for the program."""
    said = []
    before = {row["file"]: row["sha256"] for row in old.get("inputs", [])}
    after = {row["file"]: row["sha256"] for row in new["inputs"]}
    for name in (*after, *(n for n in before if n not in after)):
        if name not in before:
            said.append(f"{name} is new")
        elif name not in after:
            said.append(f"{name} is no longer read")
        elif before[name] != after[name]:
            said.append(f"{name} was saved with other content")
    was, now = old.get("program", {}).get("version"), new["program"]["version"]
    if was != now:
        said.append(f"the program was version {was} and is {now}")
    return tuple(said)


def changes(old: dict[str, Any], new: dict[str, Any]) -> tuple[Changes, ...]:
    """Return what changed for every set-up of the old record.

    Args:
        old: the record kept with the guide.
        new: the record the same job gives today.
    """
    today = {setup["name"]: setup for setup in new["setups"]}
    return tuple(_setup_changes(setup, today.get(setup["name"])) for setup in old["setups"])


def _setup_changes(old: dict[str, Any], new: dict[str, Any] | None) -> Changes:
    name = str(old["name"])
    if new is None:
        return Changes(
            setup=name, verdict=Verdict.RECUT, reasons=("the job no longer has this set-up",)
        )
    recut, measure, sheet = [], [], []
    # A record from before the lean could be asked for is of a guide that allowed it.
    was, is_ = (s.get("lean", {}).get("use", LeanUse.ALLOWED.value) for s in (old, new))
    if old["guide"] != new["guide"]:
        recut.append(f"the guide was a {old['guide']} and is a {new['guide']}")
    elif len(old["plates"]) != len(new["plates"]):
        recut.append(f"it had {len(old['plates'])} plates and has {len(new['plates'])}")
    elif was != is_:
        # Every outline and place is another one then, because the file is the mirror image.
        recut.append(f"the lean of its walls was {was} and is {is_}: its file is the mirror image")
    else:
        for a, b in zip(old["plates"], new["plates"], strict=True):
            recut += _plate_recut(a, b)
            measure += _plate_measure(a, b)
    for axis, datum in old["datums"].items():
        now = new["datums"].get(axis)
        if now is None or now["face"] != datum["face"]:
            sheet.append(f"{axis} is set from another face")
        elif abs(now["offset_mm"] - datum["offset_mm"]) > COINCIDENT_MM:
            sheet.append(
                f"offset {axis} was {datum['offset_mm']:.3f} mm and is {now['offset_mm']:.3f} mm"
            )
    for reasons, verdict in (
        (recut, Verdict.RECUT),
        (measure, Verdict.MEASURE),
        (sheet, Verdict.NEW_SHEET),
    ):
        if reasons:
            return Changes(setup=name, verdict=verdict, reasons=(*recut, *measure, *sheet))
    return Changes(setup=name, verdict=Verdict.SERVES, reasons=())


def _plate_recut(a: dict[str, Any], b: dict[str, Any]) -> list[str]:
    """Return why a plate must be cut anew: another outline, or another place of the part."""
    reasons = []
    if not _alike(a["finished"], b["finished"]):
        reasons.append(f"plate {a['name']} has another finished outline")
    elif not _alike(a["to_part"], b["to_part"]):
        reasons.append(f"the part has another place in plate {a['name']}")
    return reasons


def _plate_measure(a: dict[str, Any], b: dict[str, Any]) -> list[str]:
    """Return why a plate's sizes are no longer vouched for."""
    reasons = []
    was, now = a["kerf"], b["kerf"]
    if was["card"] != now["card"] or abs(was["used_mm"] - now["used_mm"]) > COINCIDENT_MM:
        reasons.append(
            f"plate {a['name']} was cut with card {was['card']} ({was['used_mm']:.3f} mm); "
            f"today's is {now['card']} ({now['used_mm']:.3f} mm)"
        )
    if a["stock"] != b["stock"] or abs(a["thickness_mm"] - b["thickness_mm"]) > COINCIDENT_MM:
        reasons.append(
            f"plate {a['name']} is {a['stock']}, {a['thickness_mm']:.2f} mm; "
            f"the job now asks for {b['stock']}, {b['thickness_mm']:.2f} mm"
        )
    return reasons


def _alike(a: Any, b: Any) -> bool:
    """Return whether two nested lists of numbers agree to ``COINCIDENT_MM``."""
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(_alike(x, y) for x, y in zip(a, b, strict=True))
    if isinstance(a, (int, float)) and isinstance(b, (int, float)):
        return abs(a - b) <= COINCIDENT_MM
    return bool(a == b)
