"""The shop file: what is on hand and what was measured of it.

Lasers with their beam cards, sheets with their measured thickness, finders, the colours
of the cut file. Values carry who measured them and when; nothing here is guessed for a
shop that has not said it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from jigs.holding.hold import LEAST_FACTOR, LEAST_FACTOR_FLOOR
from jigs.holding.means import Mill, Tape, read_mill, read_tape
from jigs.pins import Pin, read_pins
from jigs.table import Table, read_table
from kerf.beam import KerfCard, Operation
from kerf.errors import InputError

#: Colours of the operations in DXF and SVG when the shop sets none.
COLOURS: dict[Operation, str] = {
    Operation.INSIDE: "#0a7f78",
    Operation.OUTSIDE: "#6a2c91",
    Operation.SCORE: "#b07a12",
    Operation.ENGRAVE: "#4a5560",
    Operation.REFERENCE: "#a8adb3",
}
_COLOUR = re.compile(r"#[0-9a-f]{6}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A kind of sheet on hand.

    Args:
        name: key the job uses.
        material: as the shop calls it ("cast acrylic").
        thickness_mm, thickness_u_mm: measured thickness and its standard uncertainty, mm.
        size_mm: width and height, mm.
        price: price of a whole sheet, in the shop's currency; 0 when not given.
    """

    name: str
    material: str
    thickness_mm: float
    thickness_u_mm: float
    size_mm: tuple[float, float]
    price: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Laser:
    """A laser: its bed and its beam cards by sheet name, newest last."""

    name: str
    bed_mm: tuple[float, float]
    cards: tuple[tuple[str, KerfCard], ...] = ()

    def card_for(self, sheet: str) -> KerfCard | None:
        """Return the newest card for a sheet, or None."""
        for name, card in reversed(self.cards):
            if name == sheet:
                return card
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Finder:
    """An edge finder or probe.

    Args:
        name: what it is called at the machine.
        tip_diameter_mm: diameter of its tip, mm.
        u_mm: standard uncertainty of a pick-up with it, mm.
    """

    name: str
    tip_diameter_mm: float
    u_mm: float

    @property
    def radius_mm(self) -> float:
        """Half the tip's diameter: how far the spindle stands from the face at touch, mm."""
        return self.tip_diameter_mm / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """All that the shop file says.

    Args:
        file: the shop file.
        lasers, sheets, finders, tapes, mills, pins: what is on hand.
        colours: of the operations in the cut files.
        paper: of the set-up sheet.
        least_factor: below which a hold is a failed check.
    """

    file: Path
    lasers: tuple[Laser, ...]
    sheets: tuple[Sheet, ...]
    finders: tuple[Finder, ...]
    colours: dict[Operation, str] = field(default_factory=lambda: dict(COLOURS))
    paper: str = "a4"
    tapes: tuple[Tape, ...] = ()
    mills: tuple[Mill, ...] = ()
    pins: tuple[Pin, ...] = ()
    least_factor: float = LEAST_FACTOR

    def tape(self, name: str, *, where: str) -> Tape:
        """Return the tape of that name; the first one if unnamed.

        Raises:
            InputError: there is none of that name, or none at all.
        """
        for tape in self.tapes:
            if not name or tape.name == name:
                return tape
        known = ", ".join(tape.name for tape in self.tapes) or "none"
        raise InputError(
            f'tape "{name}" is not in the shop file' if name else "the shop has no tape",
            where=where,
            hint=f"tapes in {self.file.name}: {known}; add [[tape]] with its pull tests",
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

    def finder(self, name: str, *, where: str) -> Finder:
        """Return the finder of that name; the first one if unnamed.

        Raises:
            InputError: there is none of that name, or none at all.
        """
        for finder in self.finders:
            if not name or finder.name == name:
                return finder
        known = ", ".join(finder.name for finder in self.finders) or "none"
        raise InputError(
            f'finder "{name}" is not in the shop file' if name else "the shop has no finder",
            where=where,
            hint=f"finders in {self.file.name}: {known}; add [[finder]] with its tip_diameter",
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
    colours = dict(COLOURS)
    output = table.table("output")
    if output is not None:
        chosen = output.table("colours")
        if chosen is not None:
            for operation in Operation:
                colour = chosen.text(operation.value, colours[operation]).lower()
                if not _COLOUR.fullmatch(colour):
                    chosen.fault(operation.value, f"{colour} is no colour", 'write it as "#1a2b3c"')
                    continue
                colours[operation] = colour
            chosen.finish()
        output.finish()
    paper = table.choice("paper", ("a4", "us-letter"), "a4")
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
        colours=colours,
        paper=paper,
        tapes=tapes,
        mills=mills,
        pins=pins,
        least_factor=least_factor,
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
    )
    row.finish()
    return sheet


def _laser(row: Table) -> Laser:
    bed = row.lengths_mm("bed", 2)
    cards = []
    for entry in row.tables("card"):
        sheet = entry.text("sheet")
        card = _card(entry)
        entry.finish()
        if card is not None:
            cards.append((sheet, card))
    laser = Laser(name=row.text("name"), bed_mm=(bed[0], bed[1]), cards=tuple(cards))
    row.finish()
    return laser


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
    )
    row.finish()
    return finder
