"""``jigs measured``: sizes taken on the real guide, and the offsets that go with it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from jigs.cli.common import CHECK_FAILED, GOOD, day_or_today, say


def measured(
    job: Annotated[Path, typer.Argument(help="Job file (TOML).")],
    sizes: Annotated[
        Path | None, typer.Option(help="CSV: name of the check size, then its readings.")
    ] = None,
    set_: Annotated[
        list[str] | None,
        typer.Option("--set", help='"NAME=READING", may be repeated; same name, more readings.'),
    ] = None,
    setup: Annotated[str, typer.Option(help="Set-up; may be left out if there is one.")] = "",
    unit: Annotated[str, typer.Option(help="Unit of the readings: mm or inch.")] = "mm",
    resolution: Annotated[float, typer.Option(help="Smallest step of the instrument.")] = 0.01,
    accuracy: Annotated[float, typer.Option(help="Its permissible error, ±; 0 if unknown.")] = 0.0,
    on: Annotated[str, typer.Option(help="Date, year-month-day.")] = "",
    by: Annotated[str, typer.Option(help="Who measured.")] = "",
    out: Annotated[Path, typer.Option(help="Folder that holds the record.")] = Path("out"),
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the result on standard output.")
    ] = False,
) -> int:
    """Correct a cut guide's offsets for what it really measures, or say to recut it."""
    import json
    import math

    from jigs.ascut import Serves, as_cut
    from jigs.ascut_budget import as_cut_critical, as_cut_record
    from jigs.ascut_text import as_cut_text, parse_settings, parse_sizes, record_with_reading
    from jigs.heading import guide_id
    from jigs.job import read_job
    from jigs.plan import plan
    from jigs.record import record
    from jigs.shelf import Reading, note_readings
    from kerf.errors import InputError
    from kerf.writing.disk import read_text, write_whole

    if unit not in ("mm", "inch"):
        raise InputError(f'unit "{unit}" is not offered', hint="use mm or inch")
    unit_mm = 25.4 if unit == "inch" else 1.0
    day = day_or_today(on)
    if not (resolution > 0.0 and accuracy >= 0.0):
        raise InputError("the resolution must be above 0, and the accuracy 0 or more")
    readings = parse_settings(tuple(set_ or ()), unit_mm=unit_mm)
    if sizes is not None:
        for name, values in parse_sizes(
            read_text(sizes, what="sizes file"), unit_mm=unit_mm, name=sizes.name
        ).items():
            readings[name] = (*readings.get(name, ()), *values)
    path = out / "record.json"
    before = read_text(path, what="record")
    worked = plan(read_job(job))
    names = [planned.setup.name for planned in worked.setups]
    chosen = setup or (names[0] if len(names) == 1 else "")
    if chosen not in names:
        raise InputError(
            f'set-up "{chosen}" is not in the job' if chosen else "the job has several set-ups",
            where=str(job),
            hint=f"--setup {' or '.join(names)}",
        )
    planned = worked.setups[names.index(chosen)]
    # Display step as a rectangle of one step, permissible error as one of twice itself (GUM).
    u_mm = math.hypot(resolution / math.sqrt(12), accuracy / math.sqrt(3)) * unit_mm
    cut = as_cut(planned.guide, planned.card, readings, zero=planned.zero, instrument_u_mm=u_mm)
    critical = as_cut_critical(worked.job, planned, cut)
    entry = as_cut_record(
        cut, critical, readings, measured_on=on, measured_by=by, instrument_u_mm=u_mm
    )
    after = record_with_reading(
        before, setup=chosen, made=record(worked), entry=entry, name=str(path)
    )
    write_whole(path, after.encode())
    say(f"wrote {path}")
    id = guide_id(worked.job.number, chosen)
    sizes_read = tuple(
        Reading(
            size=one.check.name,
            nominal_mm=one.check.nominal_mm,
            measured_mm=one.measured_mm,
            u_mm=one.u_mm,
            within=one.is_within,
        )
        for one in cut.checked
    )
    shelf = worked.job.shop.file.parent
    if note_readings(shelf, id, sizes_read, day=day, who=by, note=cut.serves.value):
        say(f"{id}: readings are in the shelf's register")
    if as_json:
        typer.echo(json.dumps(entry, indent=1, ensure_ascii=False))
    else:
        typer.echo(as_cut_text(cut, critical, units=worked.job.units), nl=False)
    good = cut.serves is not Serves.RECUT and all(one.ok for one in critical)
    return GOOD if good else CHECK_FAILED
