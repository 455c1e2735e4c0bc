"""The job file: a part and its set-ups, validated with every fault reported in one run."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jigs.guides.kinds import KINDS
from jigs.holding.cut import read_cuts
from jigs.holding.hold import HAND_PUSH_N, read_hold
from jigs.holding.means import FORCE_UNITS
from jigs.part import Critical, Part
from jigs.setup import Flip, Setup
from jigs.shop import Shop, read_shop
from jigs.table import Table, read_table
from kerf import shapes
from kerf.contour import Point, Region
from kerf.errors import InputError

if TYPE_CHECKING:
    from kerf.reading.step import StepView

WORK_OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59")


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A validated job.

    Args:
        file: the job file.
        number, name, revision, note: as written.
        quantity: parts to make.
        units: "mm" or "inch": what a person reads on the sheet.
        part: the part, its region read and healed.
        setups: in the order they are run.
        shop: the shop file it names.
        inputs: every file that was read, the job file first.
        healed: what the reader repaired in the drawing, for the sheet.
    """

    file: Path
    number: str
    name: str
    revision: str
    note: str
    quantity: int
    units: str
    part: Part
    setups: tuple[Setup, ...]
    shop: Shop
    inputs: tuple[Path, ...]
    healed: tuple[str, ...] = ()


def read_job(path: Path) -> Job:
    """Read a job file, its shop file and its profile.

    Args:
        path: the job file (TOML).
    Raises:
        InputError: anything that cannot be used; faults of one file are reported together.
    """
    table = read_table(path, what="job file")
    faults = table.faults
    head = table.table("job", required=True)
    number = name = revision = note = ""
    quantity = 1
    if head is not None:
        number, name = head.text("number"), head.text("name")
        revision = head.text("revision", "-")
        note = head.text("note", "")
        quantity = head.whole("quantity", 1, least=1)
        head.finish()
    part_table = table.table("part", required=True)
    drawn = _Drawn.read(part_table) if part_table is not None else None
    height_mm = drawn.height_mm if drawn is not None else 1.0
    setups = tuple(_setup(row, height_mm) for row in table.tables("setup"))
    if not setups and not table.has("setup"):
        table.fault("setup", "no set-up is given", "add [[setup]] with its guide and sheet")
    for i, setup in enumerate(setups):
        if setup.name in {other.name for other in setups[:i]}:
            faults.add(f'two set-ups are called "{setup.name}"', f"setup[{i}].name")
    shop_name = table.text("shop", "shop.toml")
    table.finish()
    faults.raise_if_any()
    assert drawn is not None
    shop = read_shop(path.parent / shop_name)
    region, healed, inputs = drawn.region(path)
    return Job(
        file=path,
        number=number,
        name=name,
        revision=revision,
        note=note,
        quantity=quantity,
        units="inch" if table.unit_mm == 25.4 else "mm",
        part=Part(
            name=name,
            region=region,
            height_mm=drawn.height_mm,
            material=drawn.material,
            edge_tolerance_mm=drawn.edge_tolerance_mm,
            critical=drawn.critical,
        ),
        setups=setups,
        shop=shop,
        inputs=(path, shop.file, *inputs),
        healed=healed,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    """The [part] table, before its drawing is opened."""

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

    @classmethod
    def read(cls, table: Table) -> _Drawn:
        """Read the table, noting faults."""
        shape = None
        if table.has("profile") == table.has("shape"):
            table.fault("profile", "give either a profile (a file) or a shape, and only one")
        elif table.has("shape"):
            shape_table = table.table("shape")
            shape = _shape(shape_table) if shape_table is not None else None
        drawn = cls(
            profile=table.text("profile") if table.has("profile") else "",
            shape=shape,
            units=table.choice("units", _DRAWING_UNITS) if table.has("units") else None,
            layers=table.texts("layer"),
            view=_view(table),
            number=table.whole("number", least=1) if table.has("number") else None,
            height_mm=table.length_mm("height", above=0.0),
            material=table.text("material"),
            edge_tolerance_mm=table.length_mm("edge_tolerance", least=0.0),
            critical=tuple(c for row in table.tables("critical") if (c := _critical(row))),
        )
        table.finish()
        return drawn

    def region(self, job: Path) -> tuple[Region, tuple[str, ...], tuple[Path, ...]]:
        """Return the outline, what was healed, and the files read."""
        if self.shape is not None:
            return self.shape, (), ()
        from kerf.reading import read_drawing

        path = job.parent / self.profile
        drawing = read_drawing(path, unit=self.units, layers=self.layers, view=self.view)
        return (
            drawing.region(self.number),
            tuple(healed.describe() for healed in drawing.healed),
            (path,),
        )


#: What a drawing's unit may be; the last three are what an SVG's pixel may be.
_DRAWING_UNITS = ("mm", "inch", "px", "px90", "pt")


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


def _setup(row: Table, height_mm: float) -> Setup:
    """Return one set-up; ``height_mm`` of the part stands for heights a cut does not give."""
    kind = row.choice("guide", tuple(KINDS))
    zero = row.lengths_mm("zero", 3)
    contacts, contact_points = _contacts(row, KINDS[kind].contacts)
    flip = Flip(row.choice("flip", tuple(Flip), "none"))
    setup = Setup(
        name=row.text("name"),
        guide=kind,
        plane=row.choice("plane", KINDS[kind].planes, KINDS[kind].planes[0]),
        turn_rad=row.angle_rad("turn", 0.0),
        flip=flip,
        sheet=row.text("sheet"),
        laser=row.text("laser", ""),
        finder=row.text("finder", ""),
        clearance_mm=row.length_mm("clearance", 0.1, least=0.0),
        work_offset=row.choice("work_offset", WORK_OFFSETS, "G54"),
        zero_mm=(zero[0], zero[1], zero[2]),
        change_k=row.number("temperature_change", 0.0, least=0.0, most=60.0),
        change_percent=row.number("moisture_change", 0.0, least=0.0, most=20.0),
        contacts=contacts,
        contact_points=contact_points,
        key_path=f"{row.faults.file.name}: {row.path}",
        options=KINDS[kind].read_options(row),
        cuts=read_cuts(row, height_mm=height_mm, turned_over=flip is not Flip.NONE),
        hold=read_hold(row),
        mill=row.text("mill", ""),
        push_n=row.amount("push", FORCE_UNITS, HAND_PUSH_N, least=0.0),
    )
    row.finish()
    return setup


def _contacts(row: Table, ways: tuple[str, ...]) -> tuple[str, tuple[Point, ...]]:
    """Return how the part is located: "float", "auto", or "given" with its points."""
    if not isinstance(row.raw("contacts"), list):
        return row.choice("contacts", ways, ways[0]), ()
    points = row.points_mm("contacts")
    if len(points) < 3:
        row.fault(
            "contacts",
            f"{len(points)} contacts are given; a part in the plane rests on 3",
            'give 3 points of the outline, or "auto"',
        )
    return "given", points


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
