"""``jigs new``: a folder with a job, a shop file and, where the job has one, its drawing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from jigs.cli.common import GOOD, say


def new(
    name: Annotated[str, typer.Argument(help="Folder to make; it must not exist yet.")],
    start: Annotated[str, typer.Option("--from", help="Starter job to begin with.")] = "nest",
    drawing: Annotated[
        Path | None, typer.Option(help="DXF, SVG or STEP file of the part; it is copied.")
    ] = None,
    units: Annotated[
        str, typer.Option(help="Unit of the drawing (mm, inch, …); overrides what the file says.")
    ] = "",
    layer: Annotated[
        list[str] | None,
        typer.Option(help='Layer to read; wildcards allowed, "!NAME" leaves one out. Repeatable.'),
    ] = None,
    part: Annotated[int | None, typer.Option(help="Number of the part in the drawing.")] = None,
    out: Annotated[Path, typer.Option(help="Where to make the folder.")] = Path(),
) -> int:
    """Start a job: a folder with job.toml, shop.toml and the drawing, ready to edit."""
    import difflib

    from jigs.starting import started_job
    from jigs.templates import starters, template_path
    from kerf.errors import InputError
    from kerf.reading import read_drawing
    from kerf.reading.drawing import parse_unit
    from kerf.writing.disk import write_set

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
    if drawing is None and (units or layer or part is not None):
        raise InputError("--units, --layer and --part are for a drawing", hint="add --drawing FILE")
    sources = {path.name: path for path in template_path(start).iterdir()}
    sources.setdefault("shop.toml", template_path("shop.toml"))
    files = {file: source.read_bytes() for file, source in sources.items()}
    if drawing is not None:
        unit, layers = parse_unit(units) if units else None, tuple(layer or ())
        text = started_job(
            files["job.toml"].decode(),
            read_drawing(drawing, unit=unit, layers=layers).region(part),
            name=name,
            profile=drawing.name,
            unit=unit,
            layers=layers,
            number=part,
        )
        files |= {"job.toml": text.encode(), drawing.name: drawing.read_bytes()}
    write_set({folder / file: content for file, content in sorted(files.items())})
    for file in sorted(files):
        say(f"wrote {folder / file}")
    say(f"next: jigs make {folder / 'job.toml'}")
    return GOOD
