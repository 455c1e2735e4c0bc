"""One door for every drawing: DXF, SVG or STEP, told by what is in the file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from kerf.errors import InputError
from kerf.reading.drawing import Drawing

if TYPE_CHECKING:
    from kerf.reading.step import StepView


def survey_drawing(
    path: Path,
    *,
    unit: str | None = None,
    layers: tuple[str, ...] = (),
    hatches: bool = False,
    view: StepView | None = None,
) -> Drawing:
    """Return a drawing with its faults listed, for showing them to a person.

    Args:
        path: the file.
        unit: unit that overrides the file's; None when nobody gave one.
        layers: wildcard patterns of layers to read; those that start with "!" are left out.
        hatches: also read the boundaries of hatched areas (DXF).
        view: how to look at a solid (STEP); None for its outline from above.
    Raises:
        InputError: the file cannot be read at all, or its unit cannot be settled.
    """
    suffix = path.suffix.lower()
    if suffix == ".svg":
        from kerf.reading.svg import survey_svg

        return survey_svg(path, unit=unit, layers=layers)
    if suffix in (".step", ".stp"):
        from kerf.reading.step import survey_step

        return survey_step(path, unit=unit, view=view)
    if suffix == ".dwg":
        raise InputError("a DWG cannot be read", where=str(path), hint="save it as DXF")
    from kerf.reading.dxf import survey_dxf

    return survey_dxf(path, unit=unit, layers=layers, hatches=hatches)


def read_drawing(
    path: Path,
    *,
    unit: str | None = None,
    layers: tuple[str, ...] = (),
    hatches: bool = False,
    view: StepView | None = None,
) -> Drawing:
    """Return a drawing that has no fault; take a part of it with ``drawing.region(number)``.

    Args, raises: as ``survey_drawing``; InputErrors when the outlines have faults.
    """
    return survey_drawing(path, unit=unit, layers=layers, hatches=hatches, view=view).usable()
