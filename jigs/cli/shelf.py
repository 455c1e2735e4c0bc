"""``jigs shelf``: the register of guides: list, add, out, back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from jigs.cli.common import GOOD, say


def shelf(
    what: Annotated[str, typer.Argument(help="list, add, out or back.")] = "list",
    guide: Annotated[str, typer.Argument(help="Guide ID; for add, the set-up's name.")] = "",
    shop: Annotated[Path, typer.Option(help="Shop file; the register lies beside it.")] = Path(
        "shop.toml"
    ),
    record: Annotated[Path, typer.Option(help="add: the record the guide was made with.")] = Path(
        "out/record.json"
    ),
    slot: Annotated[str, typer.Option(help="add: where it lies.")] = "",
    by: Annotated[str, typer.Option(help="Who does it.")] = "",
    on: Annotated[str, typer.Option(help="Date, year-month-day; today when left out.")] = "",
    note: Annotated[str, typer.Option(help="A remark.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="list: as JSON.")] = False,
) -> int:
    """List the guides on the shelf, add one, take one out, bring one back."""
    import datetime
    import difflib
    import hashlib
    import json
    from dataclasses import asdict

    from jigs import shelf as register
    from jigs.repeat import read_record
    from kerf.errors import InputError

    deeds = ("list", "add", "out", "back")
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
                f"{e.uses:>3} uses  {e.last}"
            )
        if not entries:
            say("the shelf is empty")
        return GOOD
    if not guide:
        raise InputError(
            f"{what} needs {'a set-up' if what == 'add' else 'a guide ID'}",
            hint=f"jigs shelf {what} NAME",
        )
    try:
        day = on or datetime.date.today().isoformat()
        datetime.date.fromisoformat(day)
    except ValueError:
        raise InputError(f'"{on}" is no date', hint="write it as year-month-day") from None
    if what == "add":
        if not slot:
            raise InputError("add needs the slot the guide lies in", hint="--slot B3")
        values = read_record(record)
        names = [s["name"] for s in values["setups"]]
        if guide not in names:
            raise InputError(
                f'set-up "{guide}" is not in the record',
                where=str(record),
                hint=f"there are {', '.join(names)}",
            )
        job = values["job"]
        id = register.guide_id(job["number"], guide)
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
