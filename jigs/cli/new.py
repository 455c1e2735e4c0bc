"""``jigs new``: a folder with a job, a shop file and, where the job has one, its drawing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from jigs.cli.common import GOOD, say


def new(
    name: Annotated[str, typer.Argument(help="Folder to make; it must not exist yet.")],
    start: Annotated[str, typer.Option("--from", help="Starter job to begin with.")] = "nest",
    out: Annotated[Path, typer.Option(help="Where to make the folder.")] = Path(),
) -> int:
    """Start a job: a folder with job.toml, shop.toml and the drawing, ready to edit."""
    import difflib

    from jigs.templates import starters, template_path
    from kerf.errors import InputError
    from kerf.writing.disk import write_whole

    offered = starters()
    if start not in offered:
        near = difflib.get_close_matches(start, offered, n=1)
        raise InputError(
            f'there is no starter job "{start}"; there are {", ".join(offered)}',
            hint=f'did you mean "{near[0]}"?' if near else "",
        )
    folder = out / name
    if folder.exists():
        raise InputError(f'"{name}" exists already', where=str(folder), hint="choose another name")
    files = {path.name: path for path in sorted(template_path(start).iterdir())}
    files.setdefault("shop.toml", template_path("shop.toml"))
    for file, source in sorted(files.items()):
        write_whole(folder / file, source.read_bytes())
        say(f"wrote {folder / file}")
    say(f"next: jigs make {folder / 'job.toml'}")
    return GOOD
