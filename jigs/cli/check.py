"""``jigs check``: everything ``make`` would find, with nothing written."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from jigs.cli.common import CHECK_FAILED, GOOD


def check(
    job: Annotated[Path, typer.Argument(help="Job file (TOML).")],
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the record instead of the report.")
    ] = False,
) -> int:
    """Check a job: read it, work it out, report; write nothing."""
    from jigs.job import read_job
    from jigs.plan import plan
    from jigs.record import record_bytes
    from jigs.report import findings_text, summary_text

    worked = plan(read_job(job))
    if as_json:
        typer.echo(record_bytes(worked).decode(), nl=False)
    else:
        typer.echo(summary_text(worked))
        typer.echo(findings_text(worked.findings) or "no findings")
    return GOOD if worked.is_good else CHECK_FAILED
