"""The readings of a coupon: the CSV a person filled in, read with suspicion.

One row is one size measured at one face, with its repeats side by side; lines that begin
with ``#`` carry what goes for all rows (unit, sheet, instrument, date, who). The file is
self-contained: the drawn sizes stand in it, so that a shop may add rows for a test piece of
its own.

All faults of a file are reported together, each with its line. Whether the numbers make
sense is asked in ``kerf.readings_check``.
"""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Final

from kerf.errors import InputError, InputErrors
from kerf.writing.disk import read_text

INCH_MM: Final = 25.4
#: Step between the holes of a fit ladder, mm.
LADDER_STEP_MM: Final = 0.02


class Kind(StrEnum):
    """What a size spans, and so what the kerf does to it."""

    OUTSIDE = "outside"  #: between two outer edges: one kerf smaller
    GAP = "gap"  #: across a slot open to the outside: one kerf larger
    NEAR = "near"  #: outer edge to the near wall of an open slot: one kerf smaller
    FAR = "far"  #: outer edge to the far wall of an open slot: the kerf does nothing
    SLOT = "slot"  #: across a closed window: one kerf of a cut-out larger
    WEB = "web"  #: outer edge to the near wall of a window: half a kerf of each
    HOLE = "hole"  #: diameter of a round hole: one kerf of a cut-out larger, and wider on curves
    PLUG = "plug"  #: diameter of a disc: one kerf smaller, and wider on curves


class Side(StrEnum):
    """Which face of the sheet the size was taken at."""

    ENTRY = "entry"  #: the face the beam went in: up, as it lay in the laser
    EXIT = "exit"  #: the face the beam came out


class Axis(StrEnum):
    """Which axis of the laser the size lies along."""

    X = "X"
    Y = "Y"


#: Kerf and inside-extra multiples each kind feels: size cut − size drawn, without scale.
FEELS: Final[dict[Kind, tuple[float, float]]] = {
    Kind.OUTSIDE: (-1.0, 0.0),
    Kind.GAP: (1.0, 0.0),
    Kind.NEAR: (-1.0, 0.0),
    Kind.FAR: (0.0, 0.0),
    Kind.SLOT: (1.0, 1.0),
    Kind.WEB: (-1.0, -0.5),
    Kind.HOLE: (1.0, 1.0),
    Kind.PLUG: (-1.0, 0.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One size of the coupon at one face, with its repeats.

    Args:
        feature: its name on the coupon ("X60").
        kind, axis, face: what it spans, along which axis, at which face.
        drawn_mm: size as drawn, mm, > 0.
        values_mm: what was read, mm; one or more.
        line: line of the file, for messages; 0 when not from a file.
    """

    feature: str
    kind: Kind
    axis: Axis
    face: Side
    drawn_mm: float
    values_mm: tuple[float, ...]
    line: int = 0

    @property
    def mean_mm(self) -> float:
        """Mean of the repeats, mm."""
        return math.fsum(self.values_mm) / len(self.values_mm)

    @property
    def label(self) -> str:
        """How messages name it."""
        return f"{self.feature} at the {self.face.value} face"


@dataclass(frozen=True, slots=True, kw_only=True)
class PinFit:
    """What the fit ladder said of one pin.

    Args:
        pin_mm: diameter of the pin, mm.
        drawn_mm: diameter as drawn of the smallest hole it enters by hand, mm.
    """

    pin_mm: float
    drawn_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """All readings of one coupon and what they were taken with.

    Args:
        rows: the sizes.
        resolution_mm: smallest step of the instrument's display or scale, mm, > 0.
        accuracy_mm: largest permissible error of the instrument (± about true, mm), from
            its certificate or makers' data; 0 when it is not to be counted.
        laser, sheet, instrument, measured_on, measured_by: as written; may be empty.
        temperature_c: temperature of the coupon when measured, °C; None when not written.
        pins: what the fit ladders said; a check on the fit, not part of it.
    """

    rows: tuple[Reading, ...]
    resolution_mm: float
    accuracy_mm: float = 0.0
    laser: str = ""
    sheet: str = ""
    instrument: str = ""
    measured_on: str = ""
    measured_by: str = ""
    temperature_c: float | None = None
    pins: tuple[PinFit, ...] = ()


#: Column names; "drawn mm" is always millimetres, the readings are in the unit of the form.
COLUMNS: Final = ("feature", "kind", "axis", "face", "drawn mm")
_NOTE = re.compile(r"^#\s*([A-Za-z ]+?)\s*[:=]\s*(.*)$")
_PIN = re.compile(r"^#\s*pin\s+([0-9.,]+)\s+enters[^:=]*[:=]\s*(.*)$", re.IGNORECASE)
_NOTES: Final = (
    "unit",
    "laser",
    "sheet",
    "instrument",
    "resolution",
    "accuracy",
    "temperature",
    "measured on",
    "measured by",
)
_UNITS: Final = {"mm": 1.0, "inch": INCH_MM, "in": INCH_MM}
_LENGTH = re.compile(r"([0-9.,eE-]+)\s*(mm|inch|in)?")
_ALLOWED: Final[dict[str, tuple[str, ...]]] = {
    "kind": tuple(kind.value for kind in Kind),
    "axis": ("x", "y"),
    "face": tuple(face.value for face in Side),
}
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


def read_readings(path: Path) -> Readings:
    """Read a filled-in form.

    Raises:
        InputError: the file cannot be read, or see ``parse_readings``.
    """
    return parse_readings(read_text(path, what="readings file"), name=path.name)


def parse_readings(text: str, *, name: str) -> Readings:
    """Return the readings in the text of a form.

    Rows without any reading are passed over: the form may be filled in part.

    Args:
        text: CSV, comma or semicolon between cells (then a decimal comma is understood).
        name: name of the file, for messages.
    Raises:
        InputErrors: all faults found, each with its line.
    """
    faults = _Faults(name)
    notes: dict[str, str] = {}
    pins: list[tuple[int, str, str]] = []
    lines: list[tuple[int, str]] = []
    for number, line in enumerate(text.splitlines(), start=1):
        bare = line.strip().strip('"')
        if not bare.strip(",; \t"):
            continue
        if bare.startswith("#"):
            bare = bare.rstrip(',; \t"')
            pin = _PIN.match(bare)
            if pin and pin[2].strip():
                pins.append((number, pin[1], pin[2].strip()))
            note = _NOTE.match(bare)
            if note and note[1].lower() in _NOTES:
                notes[note[1].lower()] = note[2].strip().strip('"')
            continue
        lines.append((number, line))
    if not lines:
        raise InputError(
            "the file holds no readings",
            where=name,
            hint=f"its first row must name the columns: {', '.join(COLUMNS)}, reading 1, …",
        )
    semicolons = ";" in lines[0][1]
    table = [
        (number, next(csv.reader(io.StringIO(line), delimiter=";" if semicolons else ",")))
        for number, line in lines
    ]
    header_line, header = table[0]
    columns = [cell.strip().lower() for cell in header]
    missing = [column for column in COLUMNS if column not in columns]
    repeats = [i for i, column in enumerate(columns) if column.startswith("reading")]
    if missing or not repeats:
        lacking = ", ".join(missing) if missing else "reading 1"
        raise InputError(
            f"the row of column names lacks: {lacking}",
            where=f"{name}: line {header_line}",
            hint=f"columns: {', '.join(COLUMNS)}, reading 1, reading 2, …",
        )
    form = _Form(
        columns=columns,
        repeats=repeats,
        unit_mm=_unit_mm(notes, faults),
        comma=semicolons,
    )
    rows = [row for number, cells in table[1:] if (row := form.row(cells, number, faults))]
    if not rows and not faults.found:
        raise InputError(
            "no reading is filled in", where=name, hint="measure the coupon and fill in the form"
        )
    resolution_mm = form.note_mm(notes, "resolution", faults)
    if resolution_mm is None or not resolution_mm > 0:
        faults.add(
            "the resolution of the instrument is missing",
            0,
            'write its smallest step at the top, such as "# resolution: 0.01"',
        )
    on = notes.get("measured on", "")
    if on and not _DATE.fullmatch(on):
        faults.add(f'measured on "{on}" is no date', 0, "write year-month-day, as 2025-03-31")
    temperature = notes.get("temperature", "")
    temperature_c = (
        form.number(temperature.removesuffix("C").removesuffix("°")) if temperature else None
    )
    if temperature and (temperature_c is None or not -20 <= temperature_c <= 60):
        faults.add(f'temperature "{temperature}" is no shop temperature in °C', 0)
    accuracy_mm = form.note_mm(notes, "accuracy", faults) or 0.0
    fits = []
    for at_line, pin_text, drawn_text in pins:
        pin_mm, drawn_mm = form.number(pin_text), form.number(drawn_text)
        if pin_mm is None or drawn_mm is None or not 0 <= pin_mm - drawn_mm <= 1:
            faults.add(
                f"pin {pin_text} enters hole {drawn_text}: that is no hole of its ladder",
                at_line,
                "write the size as drawn that stands beside the hole's number on the form, mm",
            )
        else:
            fits.append(PinFit(pin_mm=pin_mm, drawn_mm=drawn_mm))
    if faults.found:
        raise InputErrors(tuple(faults.found))
    assert resolution_mm is not None
    return Readings(
        rows=tuple(rows),
        resolution_mm=resolution_mm,
        accuracy_mm=accuracy_mm,
        laser=notes.get("laser", ""),
        sheet=notes.get("sheet", ""),
        instrument=notes.get("instrument", ""),
        measured_on=on,
        measured_by=notes.get("measured by", ""),
        temperature_c=temperature_c,
        pins=tuple(fits),
    )


class _Faults:
    """The faults found so far in one form."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.found: list[InputError] = []

    def add(self, what: str, line: int, hint: str = "") -> None:
        """Note a fault; line 0 is the head of the file."""
        where = f"{self.name}: line {line}" if line else f"{self.name}: head"
        self.found.append(InputError(what, where=where, hint=hint))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Form:
    """How the cells of one file are read."""

    columns: list[str]
    repeats: list[int]
    unit_mm: float
    comma: bool

    def number(self, text: str) -> float | None:
        """Return a plain number, or None."""
        text = text.strip()
        if self.comma:
            text = text.replace(",", ".")
        try:
            value = float(text)
        except ValueError:
            return None
        return value if math.isfinite(value) else None

    def note_mm(self, notes: dict[str, str], key: str, faults: _Faults) -> float | None:
        """Return a length of the head in mm; a bare number is in the unit of the form."""
        text = notes.get(key, "")
        if not text:
            return None
        match = _LENGTH.fullmatch(text.lstrip("±+- "))
        value = self.number(match[1]) if match else None
        if match is None or value is None:
            faults.add(f'{key} "{text}" is no length', 0, 'write it as "0.01" or "0.01 mm"')
            return None
        return value * {"mm": 1.0, "in": INCH_MM, "inch": INCH_MM, None: self.unit_mm}[match[2]]

    def row(self, cells: list[str], line: int, faults: _Faults) -> Reading | None:
        """Return one row's reading; None when nothing is filled in or it is at fault."""
        cells = [cell.strip() for cell in cells] + [""] * (len(self.columns) - len(cells))
        read = [(self.columns[i], cells[i]) for i in self.repeats if cells[i]]
        if not read:
            return None
        given = {column: cells[self.columns.index(column)] for column in COLUMNS}
        before = len(faults.found)
        for column, allowed in _ALLOWED.items():
            if given[column].lower() not in allowed:
                faults.add(
                    f'{column} is "{given[column]}"; it must be {" or ".join(allowed)}',
                    line,
                    _exchanged(column, given),
                )
        drawn_mm = self.number(given["drawn mm"])
        if drawn_mm is None or not drawn_mm > 0:
            faults.add(
                f'drawn mm is "{given["drawn mm"]}"; it must be a size above 0',
                line,
                _exchanged("drawn mm", given),
            )
        values = []
        for column, text in read:
            value = self.number(text)
            if value is None or not value > 0:
                faults.add(
                    f'{column} is "{text}"; it must be a plain number above 0',
                    line,
                    "leave the unit to the head of the form, and a cell empty if not measured",
                )
            else:
                values.append(value * self.unit_mm)
        if len(faults.found) > before or drawn_mm is None:
            return None
        return Reading(
            feature=given["feature"] or f"line {line}",
            kind=Kind(given["kind"].lower()),
            axis=Axis(given["axis"].upper()),
            face=Side(given["face"].lower()),
            drawn_mm=drawn_mm,
            values_mm=tuple(values),
            line=line,
        )


def _exchanged(column: str, given: dict[str, str]) -> str:
    """Return a hint when the cell would do in another column."""
    cell = given[column].lower()
    for other, allowed in _ALLOWED.items():
        if other != column and cell in allowed:
            return f'"{given[column]}" belongs under "{other}": the columns look exchanged'
    return ""


def _unit_mm(notes: dict[str, str], faults: _Faults) -> float:
    """Return the unit of the readings in mm."""
    unit = notes.get("unit", "mm").lower()
    if unit not in _UNITS:
        faults.add(f'unit is "{unit}"; it must be mm or inch', 0)
    return _UNITS.get(unit, 1.0)
