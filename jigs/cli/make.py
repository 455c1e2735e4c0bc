"""``jigs make``: the whole job, worked out and written; or several, laid out together."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from jigs.cli.common import CHECK_FAILED, GOOD, say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from jigs.plan import Plan


def make(
    jobs: Annotated[list[Path], typer.Argument(metavar="JOB...", help="Job files (TOML).")],
    out: Annotated[Path, typer.Option(help="Folder the files are written to.")] = Path("out"),
    release: Annotated[
        str, typer.Option(help="DXF release: R2000 or R12; the shop's when not given.")
    ] = "",
    no_proof: Annotated[
        bool,
        typer.Option("--no-proof", help="Skip the virtual cut of each file; the sheet says so."),
    ] = False,
    together: Annotated[
        bool, typer.Option("--together", help="Lay the plates of all jobs out on sheets.")
    ] = False,
    dense: Annotated[
        int, typer.Option(help="With --together: seconds for the dense layout library.")
    ] = 0,
    put_back: Annotated[
        bool,
        typer.Option(
            "--put-back",
            help="With --together: take used remnants out of the shop file, put what is left in.",
        ),
    ] = False,
    i_have_checked: Annotated[
        bool,
        typer.Option(
            "--i-have-checked",
            help="The sheets' safety data was read; not for halogenated stock.",
        ),
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the record on standard output.")
    ] = False,
) -> int:
    """Make the guides of a job: cut files, set-up sheet, preview and record."""
    from jigs.job import read_job
    from jigs.plan import plan
    from jigs.proof import CutFileUnproven
    from jigs.report import findings_text
    from jigs.stock import is_banned
    from kerf.errors import InputError
    from kerf.writing.dxf import RELEASES

    if release and release not in RELEASES:
        raise InputError(
            f'DXF release "{release}" is not offered', hint=f"use {' or '.join(RELEASES)}"
        )
    if not together and (len(jobs) > 1 or dense or put_back):
        raise InputError(
            "several jobs, --dense and --put-back are for jobs laid out on sheets",
            hint="add --together, or make one job at a time",
        )
    plans = [plan(read_job(job), has_checked=i_have_checked) for job in jobs]
    if any(is_banned(worked.findings) for worked in plans):
        say("\n".join(findings_text(worked.findings) for worked in plans))
        say("nothing was written")
        return CHECK_FAILED
    try:
        if together:
            return _together(
                plans, out, release=release, dense=dense, keeps=put_back,
                with_proof=not no_proof, as_json=as_json,
            )  # fmt: skip
        return _one(plans[0], out, release=release, with_proof=not no_proof, as_json=as_json)
    except CutFileUnproven as fault:
        say(fault.describe())
        return CHECK_FAILED


def _one(worked: Plan, out: Path, *, release: str, with_proof: bool, as_json: bool) -> int:
    """Write one job."""
    from jigs.outputs import write_outputs

    worked, paths = write_outputs(worked, out, release=release or None, with_proof=with_proof)
    for path in paths:
        say(f"wrote {path}")
    return _said([worked], as_json=as_json)


def _together(
    plans: Sequence[Plan],
    out: Path,
    *,
    release: str,
    dense: int,
    keeps: bool,
    with_proof: bool,
    as_json: bool,
) -> int:
    """Lay several jobs out on sheets and write them."""
    from jigs.remnants import remnant_toml
    from jigs.together import cut_sheets, put_back, write_together
    from kerf.writing.disk import write_whole

    sheets = cut_sheets(plans, dense_s=dense, kept=out)
    # Worked out before anything is written, written after the cut files are.
    shelf = put_back(plans, sheets) if keeps else None
    done, paths = write_together(plans, sheets, out, release=release or None, with_proof=with_proof)
    if shelf is not None:
        write_whole(shelf[0], shelf[1].encode())
    for path in paths:
        say(f"wrote {path}")
    for sheet in sheets:
        say(sheet.describe())
    left = [sheet.remnant for sheet in sheets if sheet.remnant is not None]
    if keeps:
        say(f"put {len(left)} remnant(s) back into {plans[0].job.shop.file.name}")
    elif left:
        say("left over; --put-back writes it to the shop file once the sheets are cut:")
        for remnant in left:
            say(remnant_toml(remnant).rstrip())
    return _said(done, as_json=as_json)


def _said(plans: Sequence[Plan], *, as_json: bool) -> int:
    """Print times, costs and findings; return the exit code."""
    import json

    from jigs.burning import burning, burning_text
    from jigs.record import record
    from jigs.report import findings_text

    for worked in plans:
        prefix = f"{worked.job.number} " if len(plans) > 1 else ""
        for planned in worked.setups:
            burnt = burning(planned, worked.job.shop)
            say(burning_text(prefix + planned.setup.name, burnt))
    if as_json:
        records = [record(worked) for worked in plans]
        shown = records[0] if len(records) == 1 else records
        typer.echo(json.dumps(shown, indent=1, ensure_ascii=False, allow_nan=False))
    for worked in plans:
        text = findings_text(worked.findings)
        if text:
            say("\n" + text)
    return GOOD if all(worked.is_good for worked in plans) else CHECK_FAILED
