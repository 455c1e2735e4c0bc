"""What a table of the job file says of an outline: a drawing to open, or a parametric shape.

``[part]`` gives the part as drawn; ``[setup.view]`` gives it as one set-up sees it: its side
view for a guide that stands in the vise, or the blank it is cut from. A view takes material and
edge tolerance from the part unless it says its own; its ``zero`` and critical features are in
its own coordinates.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jigs.blank import BlankAsked, read_blank
from jigs.part import Critical, Part
from jigs.table import Table
from kerf import shapes
from kerf.contour import Point, Region
from kerf.errors import InputError

if TYPE_CHECKING:
    from kerf.reading.step import StepView


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A [part] or [setup.view] table, before its drawing is opened."""

    profile: str
    shape: Region | None
    units: str | None
    layers: tuple[str, ...]
    view: StepView | None
    number: int | None
    height_mm: float
    material: str
    edge_tolerance_mm: float
    critical: tuple[Critical, ...]
    blank: BlankAsked | None = None

    @classmethod
    def read(cls, table: Table, *, of: Drawn | None = None) -> Drawn:
        """Read the table, noting faults.

        Args:
            table: the table.
            of: the part it is a view of; gives material and edge tolerance by default.
        """
        shape = blank = None
        if of is not None and table.has("blank"):
            asked = table.table("blank")
            blank = read_blank(asked) if asked is not None else None
            if table.has("profile") or table.has("shape"):
                table.fault("blank", "a blank has no profile or shape of its own")
        elif table.has("profile") == table.has("shape"):
            table.fault("profile", "give either a profile (a file) or a shape, and only one")
        elif table.has("shape"):
            shape_table = table.table("shape")
            shape = _shape(shape_table) if shape_table is not None else None
        drawn = cls(
            profile=table.text("profile") if table.has("profile") else "",
            shape=shape,
            units=_unit(table) if table.has("units") else None,
            layers=table.texts("layer"),
            view=_view(table),
            number=table.whole("number", least=1) if table.has("number") else None,
            height_mm=table.length_mm("height", above=0.0),
            material=table.text("material", of.material if of else None),
            edge_tolerance_mm=table.length_mm(
                "edge_tolerance", of.edge_tolerance_mm if of else None, least=0.0
            ),
            critical=tuple(c for row in table.tables("critical") if (c := _critical(row))),
            blank=blank,
        )
        table.finish()
        return drawn

    def part(self, name: str, job: Path) -> tuple[Part, tuple[str, ...], tuple[Path, ...]]:
        """Return the part, what was healed in its drawing, and the files read.

        Args:
            name: of the part.
            job: the job file, which the drawing's path starts from.
        Raises:
            InputError: the drawing cannot be used.
        """
        region, healed, inputs = self._region(job)
        part = Part(
            name=name,
            region=region,
            height_mm=self.height_mm,
            material=self.material,
            edge_tolerance_mm=self.edge_tolerance_mm,
            critical=self.critical,
        )
        return part, healed, inputs

    def _region(self, job: Path) -> tuple[Region, tuple[str, ...], tuple[Path, ...]]:
        """Return the outline, what was healed, and the files read."""
        if self.shape is not None:
            return self.shape, (), ()
        from kerf.reading import read_drawing

        path = job.parent / self.profile
        drawing = read_drawing(path, unit=self.units, layers=self.layers, view=self.view)
        return (
            drawing.region(self.number),
            (*(healed.describe() for healed in drawing.healed), *drawing.notes),
            (path,),
        )


def _unit(table: Table) -> str | None:
    """Return the unit of the drawing; None with a fault noted when it is none."""
    from kerf.reading.drawing import parse_unit

    return table.build("units", lambda: parse_unit(table.text("units")))


def _view(table: Table) -> StepView | None:
    """Return how a STEP profile is looked at; None when the table does not say."""
    given = [key for key in ("axis", "section", "face", "solid") if table.has(key)]
    if not given:
        return None
    from kerf.reading.step import AXES, StepView, ViewKind

    kind = ViewKind.OUTLINE
    if "section" in given:
        kind = ViewKind.SECTION
    if "face" in given:
        kind = ViewKind.FACE
    return StepView(
        kind=kind,
        axis=table.choice("axis", AXES, "+Z"),
        at_mm=table.length_mm("section") if "section" in given else None,
        face=table.text("face") if "face" in given else "",
        solid=table.whole("solid", least=1) if "solid" in given else None,
    )


def _critical(row: Table) -> Critical | None:
    name, at = row.text("name"), row.point_mm("at")
    tolerance_mm = row.length_mm("tolerance")
    pair = row.text("pair", "")
    row.finish()
    return row.build(
        "tolerance", lambda: Critical(name=name, at=at, tolerance_mm=tolerance_mm, pair=pair)
    )


def _shape(table: Table) -> Region | None:
    """Return the parametric outline a [part.shape] table asks for, or None with faults noted."""
    kind = table.choice("kind", tuple(_SHAPES))
    region = table.build("kind", lambda: _SHAPES[kind](table))
    table.finish()
    return region


def _points(table: Table) -> Region:
    raw: Any = table.raw("points")
    if not isinstance(raw, list) or not all(isinstance(p, list) and len(p) in (2, 3) for p in raw):
        raise InputError("points must be a list of [x, y] or [x, y, corner radius]")
    rows = []
    for i, p in enumerate(raw):
        values = [table.length_of("points", v, f"[{i}][{j}]") for j, v in enumerate(p)]
        rows.append([v if v is not None else math_nan for v in values])
    if any(v != v for row in rows for v in row):
        raise InputError("points could not be read")
    return shapes.filleted(
        [Point(row[0], row[1]) for row in rows],
        [row[2] if len(row) == 3 else 0.0 for row in rows],
    )


math_nan = float("nan")

_SHAPES = {
    "rectangle": lambda t: shapes.rectangle(
        width_mm=t.length_mm("width"), height_mm=t.length_mm("height")
    ),
    "rounded rectangle": lambda t: shapes.rounded_rectangle(
        width_mm=t.length_mm("width"),
        height_mm=t.length_mm("height"),
        radius_mm=t.length_mm("radius"),
    ),
    "circle": lambda t: shapes.circle(diameter_mm=t.length_mm("diameter")),
    "polygon": lambda t: shapes.regular_polygon(
        sides=t.whole("sides"),
        across_flats_mm=t.length_mm("across_flats"),
        radius_mm=t.length_mm("radius", 0.0),
    ),
    "slot": lambda t: shapes.slot(length_mm=t.length_mm("length"), width_mm=t.length_mm("width")),
    "L": lambda t: shapes.ell(
        width_mm=t.length_mm("width"),
        height_mm=t.length_mm("height"),
        leg_mm=t.length_mm("leg"),
        radius_mm=t.length_mm("radius", 0.0),
    ),
    "T": lambda t: shapes.tee(
        width_mm=t.length_mm("width"),
        height_mm=t.length_mm("height"),
        leg_mm=t.length_mm("leg"),
        radius_mm=t.length_mm("radius", 0.0),
    ),
    "D": lambda t: shapes.dee(diameter_mm=t.length_mm("diameter"), flat_mm=t.length_mm("flat")),
    "kidney": lambda t: shapes.kidney(
        pitch_radius_mm=t.length_mm("pitch_radius"),
        width_mm=t.length_mm("width"),
        sweep_rad=t.angle_rad("sweep", 90.0),
    ),
    "flange": lambda t: shapes.flange(
        diameter_mm=t.length_mm("diameter"),
        bore_mm=t.length_mm("bore", 0.0),
        bolt_circle_mm=t.length_mm("bolt_circle"),
        bolts=t.whole("bolts"),
        bolt_hole_mm=t.length_mm("bolt_hole"),
    ),
    "points": _points,
}
