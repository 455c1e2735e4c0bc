"""The shop file: what is on hand and what was measured of it.

Lasers with their beam cards, sheets with their measured thickness, finders, the colours
of the cut file. Values carry who measured them and when; nothing here is guessed for a
shop that has not said it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from jigs.holding.hold import LEAST_FACTOR, LEAST_FACTOR_FLOOR
from jigs.holding.means import Mill, Tape, read_mill, read_tape
from jigs.output_profile import COLOURS, OutputProfile, read_profile
from jigs.pins import Pin, read_pins
from jigs.remnants import Remnant, read_remnant
from jigs.table import Table, read_table
from jigs.templates import template_path
from kerf.beam import KerfCard, Operation
from kerf.burn_time import Speeds
from kerf.errors import InputError
from kerf.materials import material_named
from kerf.stock import Turns

#: Between two cuts and at a sheet's edge when the shop says nothing, mm: a way in from either
#: side, and a web that keeps its shape. Source: common practice.
GAP_MM, MARGIN_MM = 5.0, 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A kind of sheet on hand.

    Args:
        name: key the job uses.
        material: as the shop calls it ("cast acrylic").
        thickness_mm, thickness_u_mm: measured thickness and its standard uncertainty, mm.
        size_mm: width and height, mm.
        price: price of a whole sheet, in the shop's currency; 0 when not given.
        turns: how pieces may be turned on it: its grain or its print.
        gap_mm: what must stand between two cuts, mm.
        margin_mm: what must stand between a piece and the sheet's edge, mm.
        clear: whether an engraved mark is read through it; None when the shop does not say.
    """

    name: str
    material: str
    thickness_mm: float
    thickness_u_mm: float
    size_mm: tuple[float, float]
    price: float = 0.0
    turns: Turns = Turns.QUARTER
    gap_mm: float = GAP_MM
    margin_mm: float = MARGIN_MM
    clear: bool | None = None

    @property
    def is_clear(self) -> bool:
        """Whether it is known that a mark is read through it."""
        return self.clear is True

    @property
    def is_opaque(self) -> bool:
        """Whether it is known that none is: the shop says so, or the material never is clear."""
        material = material_named(self.material)
        return self.clear is False or (material is not None and material.is_opaque)


@dataclass(frozen=True, slots=True, kw_only=True)
class Laser:
    """A laser: its bed, and by sheet name, newest last, its beam cards and speeds.

    ``rate`` is what an hour of it costs, in the shop's currency; 0 when not given.
    """

    name: str
    bed_mm: tuple[float, float]
    cards: tuple[tuple[str, KerfCard], ...] = ()
    speeds: tuple[tuple[str, Speeds], ...] = ()
    rate: float = 0.0

    def card_for(self, sheet: str) -> KerfCard | None:
        """Return the newest card for a sheet, or None."""
        for name, card in reversed(self.cards):
            if name == sheet:
                return card
        return None

    def speeds_for(self, sheet: str) -> Speeds | None:
        """Return the newest speeds in a sheet, or None when no card says them."""
        return next((s for name, s in reversed(self.speeds) if name == sheet), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finder:
    """An edge finder or probe.

    Args:
        name: what it is called at the machine.
        tip_diameter_mm: diameter of its tip, mm.
        u_mm: standard uncertainty of a pick-up with it, mm.
        reach_mm: how far its tip reaches below its body, mm; 0 when not given.
        body_mm: diameter of that body, mm; 0 when not given.
    """

    name: str
    tip_diameter_mm: float
    u_mm: float
    reach_mm: float = 0.0
    body_mm: float = 0.0

    @property
    def radius_mm(self) -> float:
        """Half the tip's diameter: how far the spindle stands from the face at touch, mm."""
        return self.tip_diameter_mm / 2


_Named = TypeVar("_Named", Tape, Finder)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """All that the shop file says.

    Args:
        file: the shop file.
        lasers, sheets, finders, tapes, mills, pins: what is on hand.
        colours: of the operations in the cut files.
        paper: of the set-up sheet.
        setup_sheet: the shop's own template of it; None for the program's.
        offset_lines: whether it prints RS-274 lines for the work offset.
        least_factor: below which a hold is a failed check.
        output: what its cut files look like.
        remnants: what is left of sheets.
    """

    file: Path
    lasers: tuple[Laser, ...]
    sheets: tuple[Sheet, ...]
    finders: tuple[Finder, ...]
    colours: dict[Operation, str] = field(default_factory=lambda: dict(COLOURS))
    paper: str = "a4"
    setup_sheet: Path | None = None
    offset_lines: bool = False
    tapes: tuple[Tape, ...] = ()
    mills: tuple[Mill, ...] = ()
    pins: tuple[Pin, ...] = ()
    least_factor: float = LEAST_FACTOR
    output: OutputProfile = field(default_factory=OutputProfile)
    remnants: tuple[Remnant, ...] = ()

    @property
    def inputs(self) -> tuple[Path, ...]:
        """The files that the shop file names and the outputs depend on."""
        return () if self.setup_sheet is None else (self.setup_sheet,)

    def tape(self, name: str, *, where: str) -> Tape:
        """Return the tape of that name; the first one if unnamed.

        Raises:
            InputError: there is none of that name, or none at all.
        """
        return self._named(
            "tape", self.tapes, name, where=where, remedy="add [[tape]] with its pull tests"
        )

    def mill(self, name: str, *, where: str) -> Mill | None:
        """Return the mill of that name; the first one if unnamed, None when there is none.

        Raises:
            InputError: there is none of that name.
        """
        for mill in self.mills:
            if not name or mill.name == name:
                return mill
        if not name:
            return None
        known = ", ".join(mill.name for mill in self.mills) or "none"
        raise InputError(
            f'mill "{name}" is not in the shop file',
            where=where,
            hint=f"mills in {self.file.name}: {known}; add [[mill]] with its travel",
        )

    def sheet(self, name: str, *, where: str) -> Sheet:
        """Return the sheet of that name.

        Raises:
            InputError: there is none; the message lists those there are.
        """
        for sheet in self.sheets:
            if sheet.name == name:
                return sheet
        known = ", ".join(sheet.name for sheet in self.sheets) or "none"
        raise InputError(
            f'sheet "{name}" is not in the shop file',
            where=where,
            hint=f"sheets in {self.file.name}: {known}",
        )

    def _named(
        self, what: str, things: Sequence[_Named], name: str, *, where: str, remedy: str
    ) -> _Named:
        """Return the thing of that name, the first one if unnamed; refuse what is not there."""
        for thing in things:
            if not name or thing.name == name:
                return thing
        known = ", ".join(thing.name for thing in things) or "none"
        raise InputError(
            f'{what} "{name}" is not in the shop file' if name else f"the shop has no {what}",
            where=where,
            hint=f"{what}s in {self.file.name}: {known}; {remedy}",
        )

    def finder(self, name: str, *, where: str) -> Finder:
        """Return the finder of that name; the first one if unnamed.

        Raises:
            InputError: there is none of that name, or none at all.
        """
        return self._named(
            "finder", self.finders, name, where=where, remedy="add [[finder]] with its tip_diameter"
        )

    def laser_for(self, sheet: str, name: str, *, where: str) -> tuple[Laser, KerfCard]:
        """Return the laser and its card for a sheet; the first laser with a card if unnamed.

        Raises:
            InputError: no such laser, or no card for the sheet.
        """
        lasers = [laser for laser in self.lasers if not name or laser.name == name]
        for laser in lasers:
            card = laser.card_for(sheet)
            if card is not None:
                return laser, card
        if not lasers:
            raise InputError(f'laser "{name}" is not in the shop file', where=where)
        raise InputError(
            f'no kerf card for sheet "{sheet}" on {" or ".join(laser.name for laser in lasers)}',
            where=where,
            hint="cut and measure a coupon, or add a [[laser.card]] with the kerf you know",
        )


def read_shop(path: Path) -> Shop:
    """Read and validate a shop file.

    Raises:
        InputError: see ``read_table``; all faults of the file together.
    """
    table = read_table(path, what="shop file")
    sheets = tuple(_sheet(row) for row in table.tables("sheet"))
    lasers = tuple(_laser(row) for row in table.tables("laser"))
    finders = tuple(_finder(row) for row in table.tables("finder"))
    if not lasers:
        table.fault("laser", "no laser is given", "add [[laser]] with its bed and a card")
    if not sheets:
        table.fault("sheet", "no sheet is given", "add [[sheet]] with its measured thickness")
    output = read_profile(table.table("output") if table.has("output") else None)
    remnants = tuple(r for row in table.tables("remnant") if (r := read_remnant(row)))
    known = {sheet.name for sheet in sheets}
    for i, remnant in enumerate(remnants):
        if remnant.sheet not in known:
            table.fault(
                f"remnant[{i}].sheet",
                f'remnant "{remnant.name}" is of sheet "{remnant.sheet}", which is not listed',
                f"sheets here: {', '.join(sorted(known)) or 'none'}",
            )
        if remnant.name in {other.name for other in remnants[:i]}:
            table.fault(f"remnant[{i}].name", f'two remnants are called "{remnant.name}"')
    paper = table.choice("paper", ("a4", "us-letter"), "a4")
    offset_lines = table.flag("offset_lines", False)
    own = table.text("setup_sheet", "")
    setup_sheet = path.parent / own if own else None
    if setup_sheet is not None and not setup_sheet.is_file():
        table.fault(
            "setup_sheet",
            f'the set-up sheet\'s template "{own}" does not exist beside the shop file',
            f"copy {template_path('setup-sheet.typ')} there and edit the copy",
        )
    tapes = tuple(read_tape(row) for row in table.tables("tape"))
    mills = tuple(read_mill(row) for row in table.tables("mill"))
    pins = tuple(pin for row in table.tables("pin") for pin in read_pins(row))
    least_factor = table.number("least_factor", LEAST_FACTOR, least=LEAST_FACTOR_FLOOR)
    table.finish()
    table.faults.raise_if_any()
    return Shop(
        file=path,
        lasers=lasers,
        sheets=sheets,
        finders=finders,
        colours=output.colours,
        paper=paper,
        setup_sheet=setup_sheet,
        offset_lines=offset_lines,
        tapes=tapes,
        mills=mills,
        pins=pins,
        least_factor=least_factor,
        output=output,
        remnants=remnants,
    )


def _sheet(row: Table) -> Sheet:
    thickness = row.length_mm("thickness", above=0.0)
    width, height = row.lengths_mm("size", 2)
    if not (width > 0 and height > 0):
        row.fault("size", f"size is {width:.6g} × {height:.6g} mm; both must be above 0")
    sheet = Sheet(
        name=row.text("name"),
        material=row.text("material"),
        thickness_mm=thickness,
        thickness_u_mm=row.length_mm("thickness_u", 0.05, least=0.0),
        size_mm=(width, height),
        price=row.number("price", 0.0, least=0.0),
        turns=Turns(row.choice("turns", tuple(Turns), Turns.QUARTER)),
        gap_mm=row.length_mm("gap", GAP_MM, least=0.0),
        margin_mm=row.length_mm("margin", MARGIN_MM, least=0.0),
        clear=row.flag("clear", False) if row.has("clear") else None,
    )
    if sheet.is_clear and sheet.is_opaque:
        row.fault(
            "clear",
            f'sheet "{sheet.name}" is {sheet.material}: nobody sees through that',
            "write clear = false, or leave it out",
        )
    row.finish()
    return sheet


def _laser(row: Table) -> Laser:
    bed = row.lengths_mm("bed", 2)
    cards, speeds = [], []
    for entry in row.tables("card"):
        sheet = entry.text("sheet")
        card = _card(entry)
        speed = _speeds(entry, row)
        entry.finish()
        if card is not None:
            cards.append((sheet, card))
        if speed is not None:
            speeds.append((sheet, speed))
    for key in _HEAD:
        row.raw(key)
    laser = Laser(
        name=row.text("name"),
        bed_mm=(bed[0], bed[1]),
        cards=tuple(cards),
        speeds=tuple(speeds),
        rate=row.number("rate", 0.0, least=0.0),
    )
    row.finish()
    return laser


#: What a laser must say of its head before any time can be told; lengths per second, or per
#: second squared.
_HEAD = ("engrave_speed", "travel_speed", "acceleration")


def _speeds(entry: Table, laser: Table) -> Speeds | None:
    """Return how fast a laser works the sheet of one card, or None when the card does not say."""
    if not entry.has("cut_speed"):
        return None
    cut, pierce_s = entry.length_mm("cut_speed", above=0.0), entry.number("pierce", 0.0, least=0.0)
    missing = [key for key in _HEAD if not laser.has(key)]
    if missing:
        entry.fault(
            "cut_speed",
            f"cut_speed is given, but not the laser's {', '.join(missing)}",
            "a time needs all of them; give them at the laser, lengths per second",
        )
        return None
    engrave, travel, acceleration = (laser.length_mm(key, above=0.0) for key in _HEAD)
    return entry.build(
        "cut_speed",
        lambda: Speeds(
            cut_mm_s=cut,
            engrave_mm_s=engrave,
            travel_mm_s=travel,
            accel_mm_s2=acceleration,
            pierce_s=pierce_s,
        ),
    )


def _card(entry: Table) -> KerfCard | None:
    def length_or_none(key: str) -> float | None:
        return entry.length_mm(key) if entry.has(key) else None

    given: dict[str, Any] = {
        "name": entry.text("name"),
        "kerf_mm": entry.length_mm("kerf"),
        "u_mm": entry.length_mm("u", least=0.0),
        "entry_mm": length_or_none("entry"),
        "exit_mm": length_or_none("exit"),
        "kerf_x_mm": length_or_none("kerf_x"),
        "kerf_y_mm": length_or_none("kerf_y"),
        "scale_x": entry.number("scale_x", 1.0),
        "scale_y": entry.number("scale_y", 1.0),
        "u_scale": entry.number("u_scale", 0.0, least=0.0),
        "inside_extra_mm": entry.length_mm("inside_extra", 0.0),
        "curve_mm2": entry.number("curve_mm2", 0.0),
        "dof": entry.number("dof", math.inf),
        "temperature_c": entry.number("temperature") if entry.has("temperature") else None,
        "measured_on": entry.text("measured_on", ""),
        "measured_by": entry.text("measured_by", ""),
        "instrument": entry.text("instrument", ""),
    }
    return entry.build("kerf", lambda: KerfCard(**given))


def _finder(row: Table) -> Finder:
    finder = Finder(
        name=row.text("name"),
        tip_diameter_mm=row.length_mm("tip_diameter", least=0.0),
        u_mm=row.length_mm("u", 0.01, least=0.0),
        reach_mm=row.length_mm("reach", 0.0, least=0.0),
        body_mm=row.length_mm("body", 0.0, least=0.0),
    )
    if row.has("reach") != row.has("body"):
        missing = "body" if row.has("reach") else "reach"
        row.fault(
            missing,
            f'"{missing}" is missing: how far the tip reaches below the body, and how thick that '
            "is, go together",
            "reach = 50, body = 20",
        )
    row.finish()
    return finder
