"""``jigs shelf``: the register of guides: list, show, add, out, back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from jigs.cli.common import GOOD, day_or_today, say

if TYPE_CHECKING:
    from jigs.shelf import Entry, Event


def shelf(
    what: Annotated[str, typer.Argument(help="list, show, add, out or back.")] = "list",
    guide: Annotated[str, typer.Argument(help="Guide ID; for add, the set-up's name.")] = "",
    shop: Annotated[Path, typer.Option(help="Shop file; the register lies beside it.")] = Path(
        "shop.toml"
    ),
    record: Annotated[Path, typer.Option(help="add: the record the guide was made with.")] = Path(
        "out/record.json"
    ),
    slot: Annotated[
        str, typer.Option(help="add: where it lies; the job's own slot when left out.")
    ] = "",
    by: Annotated[str, typer.Option(help="Who does it.")] = "",
    on: Annotated[str, typer.Option(help="Date, year-month-day; today when left out.")] = "",
    note: Annotated[str, typer.Option(help="A remark.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="list, show: as JSON.")] = False,
) -> int:
    """List the guides on the shelf, show one, add one, take one out, bring one back."""
    import difflib
    import hashlib
    import json
    from dataclasses import asdict

    from jigs import shelf as register
    from jigs.heading import guide_id
    from jigs.repeat import read_record
    from kerf.errors import InputError

    deeds = ("list", "show", "add", "out", "back")
    if what not in deeds:
        near = difflib.get_close_matches(what, deeds, n=1)
        raise InputError(
            f'"{what}" is not something the shelf does; it does {", ".join(deeds)}',
            hint=f'did you mean "{near[0]}"?' if near else "",
        )
    folder = shop.parent
    if not folder.is_dir():
        raise InputError("the shop's folder does not exist", where=str(folder))
    if what == "list":
        entries = register.guides(folder)
        if as_json:
            typer.echo(json.dumps([asdict(e) for e in entries], indent=1, ensure_ascii=False))
            return GOOD
        for e in entries:
            state = "out" if e.is_out else "in"
            typer.echo(
                f"{e.slot:<8} {e.id:<20} {e.kind:<9} rev {e.revision:<4} {state:<4} "
                f"{e.uses:>3} uses  {e.last}" + (f"  (measured {e.measured})" if e.measured else "")
            )
        if not entries:
            say("the shelf is empty")
        return GOOD
    if not guide:
        raise InputError(
            f"{what} needs {'a set-up' if what == 'add' else 'a guide ID'}",
            hint=f"jigs shelf {what} NAME",
        )
    if what == "show":
        entry, events = register.history(folder, guide)
        if as_json:
            shown = asdict(entry) | {"events": [asdict(event) for event in events]}
            typer.echo(json.dumps(shown, indent=1, ensure_ascii=False))
        else:
            typer.echo(_history_text(entry, events), nl=False)
        return GOOD
    day = day_or_today(on)
    if what == "add":
        values = read_record(record)
        names = [s["name"] for s in values["setups"]]
        if guide not in names:
            raise InputError(
                f'set-up "{guide}" is not in the record',
                where=str(record),
                hint=f"there are {', '.join(names)}",
            )
        slot = slot or values["setups"][names.index(guide)].get("slot", "")
        if not slot:
            raise InputError(
                "add needs the slot the guide lies in",
                hint="--slot B3, or slot in the job's set-up",
            )
        job = values["job"]
        id = guide_id(job["number"], guide)
        register.add_guide(
            folder,
            register.Entry(
                id=id,
                job=job["number"],
                revision=job["revision"],
                setup=guide,
                kind=values["setups"][names.index(guide)]["guide"],
                slot=slot,
                record_sha256=hashlib.sha256(record.read_bytes()).hexdigest(),
            ),
            day=day,
            who=by,
            note=note,
        )
        say(f"{id} lies in slot {slot}")
    elif what == "out":
        register.take_out(folder, guide, day=day, who=by, note=note)
        say(f"{guide} is out")
    else:
        register.bring_back(folder, guide, day=day, who=by, note=note)
        say(f"{guide} is back")
    return GOOD


def _history_text(entry: Entry, events: tuple[Event, ...]) -> str:
    """Return a guide and its history, readings under each measuring."""
    lines = [
        f"{entry.id}: {entry.kind} for job {entry.job} rev {entry.revision}, {entry.setup}",
        f"slot {entry.slot}, {'out' if entry.is_out else 'in'}, {entry.uses} uses, "
        f"record {entry.record_sha256[:12]}",
        "",
    ]
    for event in events:
        said = " ".join(part for part in (event.who, event.note) if part)
        lines.append(f"{event.day or 'no date':<10}  {event.what:<8}  {said}".rstrip())
        lines += [
            f"{'':<12}{reading.size:<28} {reading.measured_mm:.3f} mm, standard unc. "
            f"{reading.u_mm:.3f} mm, nominal {reading.nominal_mm:.3f} mm, "
            f"{'within' if reading.within else 'OUT OF LIMITS'}"
            for reading in event.readings
        ]
    return "\n".join(lines) + "\n"
