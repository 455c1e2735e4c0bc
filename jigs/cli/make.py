"""``jigs make``: the whole job, worked out and written."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from jigs.cli.common import CHECK_FAILED, GOOD, say


def make(
    job: Annotated[Path, typer.Argument(help="Job file (TOML).")],
    out: Annotated[Path, typer.Option(help="Folder the files are written to.")] = Path("out"),
    release: Annotated[str, typer.Option(help="DXF release: R2000 or R12.")] = "R2000",
    no_proof: Annotated[
        bool,
        typer.Option("--no-proof", help="Skip the virtual cut of each file; the sheet says so."),
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the record on standard output.")
    ] = False,
) -> int:
    """Make the guides of a job: cut files, set-up sheet, preview and record."""
    from jigs.burning import burning, burning_text
    from jigs.job import read_job
    from jigs.outputs import write_outputs
    from jigs.plan import plan
    from jigs.proof import CutFileUnproven
    from jigs.record import record_bytes
    from jigs.report import findings_text
    from jigs.stock import is_banned
    from kerf.errors import InputError
    from kerf.writing.dxf import RELEASES

    if release not in RELEASES:
        raise InputError(
            f'DXF release "{release}" is not offered', hint=f"use {' or '.join(RELEASES)}"
        )
    worked = plan(read_job(job))
    if is_banned(worked.findings):
        say(findings_text(worked.findings))
        say("nothing was written")
        return CHECK_FAILED
    try:
        worked, paths = write_outputs(worked, out, release=release, with_proof=not no_proof)
    except CutFileUnproven as fault:
        say(fault.describe())
        return CHECK_FAILED
    for path in paths:
        say(f"wrote {path}")
    for planned in worked.setups:
        say(burning_text(planned.setup.name, burning(planned, worked.job.shop)))
    if as_json:
        typer.echo(record_bytes(worked).decode(), nl=False)
    text = findings_text(worked.findings)
    if text:
        say("\n" + text)
    return GOOD if worked.is_good else CHECK_FAILED
