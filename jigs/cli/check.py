"""``jigs check``: everything ``make`` would find, with nothing written."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from jigs.cli.common import CHECK_FAILED, GOOD


def check(
    job: Annotated[Path, typer.Argument(help="Job file (TOML).")],
    against: Annotated[
        Path | None,
        typer.Option(help="A kept record.json: say what changed, and whether its guides serve."),
    ] = None,
    i_have_checked: Annotated[
        bool,
        typer.Option(
            "--i-have-checked",
            help="The sheets' safety data was read; not for halogenated stock.",
        ),
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the record instead of the report.")
    ] = False,
) -> int:
    """Check a job: read it, work it out, report; write nothing."""
    from jigs.job import read_job
    from jigs.plan import plan
    from jigs.record import record, record_bytes
    from jigs.report import findings_text, summary_text

    worked = plan(read_job(job), has_checked=i_have_checked)
    if against is not None:
        return _compared(record(worked), against, as_json=as_json)
    if as_json:
        typer.echo(record_bytes(worked).decode(), nl=False)
    else:
        typer.echo(summary_text(worked))
        typer.echo(findings_text(worked.findings) or "no findings")
    return GOOD if worked.is_good else CHECK_FAILED


def _compared(today: dict[str, Any], kept: Path, *, as_json: bool) -> int:
    """Print what changed since a kept record; the exit code says whether every guide serves."""
    import json

    from jigs.repeat import Verdict, changes, input_changes, read_record

    old = read_record(kept)
    inputs, setups = input_changes(old, today), changes(old, today)
    if as_json:
        rows = [
            {"setup": c.setup, "verdict": c.verdict.value, "reasons": list(c.reasons)}
            for c in setups
        ]
        typer.echo(json.dumps({"inputs": list(inputs), "setups": rows}, indent=1))
    else:
        for line in inputs or ("inputs and program are as they were",):
            typer.echo(line)
        for c in setups:
            typer.echo(f"{c.setup}: {c.verdict.value}")
            for reason in c.reasons:
                typer.echo(f"  {reason}")
    serves = all(c.verdict in (Verdict.SERVES, Verdict.NEW_SHEET) for c in setups)
    return GOOD if serves else CHECK_FAILED
