"""``jigs read``: what a drawing holds, what was mended, what is wrong with it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from jigs.cli.common import CHECK_FAILED, GOOD, say

if TYPE_CHECKING:
    from kerf.reading.step import StepView


def read(
    drawing: Annotated[Path, typer.Argument(help="DXF, SVG or STEP file.")],
    units: Annotated[
        str, typer.Option(help="Unit of the drawing (mm, inch, …); overrides what the file says.")
    ] = "",
    layer: Annotated[
        list[str] | None,
        typer.Option(help='Layer to read; wildcards allowed, "!NAME" leaves one out. Repeatable.'),
    ] = None,
    part: Annotated[int | None, typer.Option(help="Show this part only, by number.")] = None,
    hatch: Annotated[
        bool, typer.Option("--hatch", help="Read the boundaries of hatched areas as outlines too.")
    ] = False,
    axis: Annotated[str, typer.Option(help="STEP: side it is seen from, such as +Z.")] = "",
    section: Annotated[
        float | None, typer.Option(help="STEP: cut at this height along the axis, mm.")
    ] = None,
    face: Annotated[str, typer.Option(help="STEP: outline of this planar face (F1 …).")] = "",
    solid: Annotated[int | None, typer.Option(help="STEP: number of the solid.")] = None,
    fix: Annotated[
        Path | None,
        typer.Option(help="Write the clean outline to this DXF, when nothing is wrong."),
    ] = None,
    out: Annotated[Path, typer.Option(help="Folder the picture is written to.")] = Path("out"),
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> int:
    """Read a drawing: its loops, what was mended, and what stops it from being used."""
    import json

    from jigs.drawing.faults_view import faults_figure
    from jigs.drawing.png import png_bytes
    from jigs.drawing_report import drawing_record, drawing_table
    from kerf.reading import survey_drawing
    from kerf.reading.clean import clean_dxf_bytes
    from kerf.reading.drawing import parse_unit
    from kerf.writing.disk import write_whole

    found = survey_drawing(
        drawing,
        unit=parse_unit(units) if units else None,
        layers=tuple(layer or ()),
        hatches=hatch,
        view=_view(axis, section, face, solid),
    )
    if part is not None and not found.faults:
        found.region(part)  # says which numbers there are
    if as_json:
        typer.echo(json.dumps(drawing_record(found, part), indent=1, ensure_ascii=False))
    else:
        typer.echo(drawing_table(found, part))
    if found.strands:
        picture = out / f"{drawing.stem}-read.png"
        write_whole(picture, png_bytes(faults_figure(found, part)))
        say(f"wrote {picture}")
    if fix is not None:
        if found.faults:
            say(f"{fix} is not written: the drawing has {len(found.faults)} fault(s)")
            return CHECK_FAILED
        regions = found.regions if part is None else (found.region(part),)
        write_whole(fix, clean_dxf_bytes(regions))
        say(f"wrote {fix}")
    return CHECK_FAILED if found.faults else GOOD


def _view(axis: str, section: float | None, face: str, solid: int | None) -> StepView | None:
    """Return how to look at a solid; None when nothing was said about it."""
    if not axis and section is None and not face and solid is None:
        return None
    from kerf.reading.step import StepView, ViewKind

    kind = ViewKind.OUTLINE if section is None else ViewKind.SECTION
    if face:
        kind = ViewKind.FACE
    return StepView(kind=kind, axis=axis or "+Z", at_mm=section, face=face, solid=solid)
