"""The job file: a part and its set-ups, validated with every fault reported in one run."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

from jigs.blank import BlankAsked, blank_for, blank_part, repeated_cuts
from jigs.drawn import Drawn
from jigs.guides.kinds import KINDS
from jigs.heading import JobHeading, read_job_heading, read_setup_heading
from jigs.holding.cut import read_cuts
from jigs.holding.hold import HAND_PUSH_N, read_hold
from jigs.holding.means import FORCE_UNITS
from jigs.part import Part
from jigs.seat_push import read_seat_push
from jigs.setup import Flip, Setup
from jigs.shop import Shop, read_shop
from jigs.table import Table, read_table
from kerf.contour import Point
from kerf.lean import LeanUse

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
        healed: what the reader mended in the drawing or has to say of it, for the sheet.
        heading: revision and change log of its sheets.
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
    heading: JobHeading = field(default_factory=JobHeading)


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
    heading = JobHeading()
    if head is not None:
        number, name = head.engraved("number"), head.text("name")
        revision = head.engraved("revision", "-")
        note = head.text("note", "")
        quantity = head.whole("quantity", 1, least=1)
        heading = read_job_heading(head)
        head.finish()
    part_table = table.table("part", required=True)
    drawn = Drawn.read(part_table) if part_table is not None else None
    asked = [_setup(row, drawn) for row in table.tables("setup")]
    setups = tuple(setup for setup, _ in asked)
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
    part, healed, inputs = drawn.part(name, path)
    for i, (setup, view) in enumerate(asked):
        if view is not None and view.blank is not None:
            asked[i] = (_from_blank(setup, part, view, view.blank), view)
        elif view is not None:
            seen, mended, files = view.part(name, path)
            asked[i] = (replace(setup, view=seen), view)
            healed += tuple(f"{setup.name}: {words}" for words in mended)
            inputs += tuple(file for file in files if file not in inputs)
    return Job(
        file=path,
        number=number,
        name=name,
        revision=revision,
        note=note,
        quantity=quantity,
        units="inch" if table.unit_mm == 25.4 else "mm",
        part=part,
        setups=tuple(setup for setup, _ in asked),
        shop=shop,
        inputs=(path, shop.file, *shop.inputs, *inputs),
        healed=healed,
        heading=heading,
    )


def _from_blank(setup: Setup, part: Part, view: Drawn, asked: BlankAsked) -> Setup:
    """Return the set-up with its blank worked out, and its cuts at every copy."""
    blank = blank_for(part.region, asked)
    seen = blank_part(
        replace(part, critical=view.critical or part.critical),
        blank,
        height_mm=view.height_mm,
        edge_tolerance_mm=view.edge_tolerance_mm,
        material=view.material,
    )
    return replace(setup, view=seen, blank=blank, cuts=repeated_cuts(setup.cuts, blank))


def _setup(row: Table, part: Drawn | None) -> tuple[Setup, Drawn | None]:
    """Return one set-up, and the view of the part it asks for, if any.

    The height of what is seen stands for heights a cut does not give.
    """
    seen = row.table("view")
    view = Drawn.read(seen, of=part) if seen is not None else None
    of = view or part
    height_mm = of.height_mm if of is not None else 1.0
    kind = row.choice("guide", tuple(KINDS))
    zero = row.lengths_mm("zero", 3, None if KINDS[kind].sets_zero else (0.0, 0.0, 0.0))
    contacts, contact_points = _contacts(row, KINDS[kind].contacts)
    flip = Flip(row.choice("flip", tuple(Flip), "none"))
    plane = row.choice("plane", KINDS[kind].planes, KINDS[kind].planes[0])
    setup = Setup(
        name=row.engraved("name"),
        guide=kind,
        plane=plane,
        turn_rad=row.angle_rad("turn", 0.0),
        flip=flip,
        sheet=row.text("sheet"),
        laser=row.text("laser", ""),
        finder=row.text("finder", ""),
        clearance_mm=row.length_mm("clearance", 0.1, least=0.0),
        work_offset=row.choice("work_offset", WORK_OFFSETS, "G54"),
        zero_mm=(zero[0], zero[1], zero[2]),
        lean=_lean(row, kind),
        tabs=row.whole("tabs", 0),
        change_k=row.number("temperature_change", 0.0, least=0.0, most=60.0),
        used_at_c=row.number("used_at", least=-20.0, most=60.0) if row.has("used_at") else None,
        change_percent=row.number("moisture_change", 0.0, least=0.0, most=20.0),
        contacts=contacts,
        contact_points=contact_points,
        key_path=f"{row.faults.file.name}: {row.path}",
        options=KINDS[kind].read_options(row),
        cuts=read_cuts(
            row, height_mm=height_mm, turned_over=flip is not Flip.NONE, stands=plane != "XY"
        ),
        hold=read_hold(row),
        mill=row.text("mill", ""),
        push_n=row.amount("push", FORCE_UNITS, HAND_PUSH_N, least=0.0),
        push=read_seat_push(row, key_path=f"{row.faults.file.name}: {row.path}"),
        heading=read_setup_heading(row, sets_zero=KINDS[kind].sets_zero),
    )
    row.finish()
    return setup, view


def _lean(row: Table, kind: str) -> LeanUse:
    """Return what the guide does about the lean of its walls."""
    use = LeanUse(row.choice("lean", tuple(LeanUse), LeanUse.ALLOWED))
    if use is LeanUse.OPPOSED and not KINDS[kind].has_walls:
        row.fault(
            "lean",
            f"nothing touches a laser-cut wall of a {kind}, so there is no lean to oppose",
            "leave `lean` out",
        )
    return use


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
