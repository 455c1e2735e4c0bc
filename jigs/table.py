"""A TOML table read once, key by key, with every fault collected under its key path.

A reader asks for the keys it knows (`length_mm`, `text`, `choice` …); a wrong value is
noted with its path and a remedy, and the default stands in so that reading goes on.
``finish`` adds a fault for each key nobody asked for, with the nearest known one, and
``Faults.raise_if_any`` reports all faults of a file in one run.

Lengths: a bare number is in the file's ``units``; a string such as "0.250 in",
"1/4 in" or "6 mm" carries its own. Angles are degrees in files, radians once read.
"""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar

from kerf.contour import Point
from kerf.errors import GeometryError, InputError, InputErrors
from kerf.lettering import check_characters
from kerf.writing.disk import read_text

T = TypeVar("T")

UNIT_MM = {"mm": 1.0, "inch": 25.4}
_SUFFIX_MM = {"mm": 1.0, "in": 25.4, "inch": 25.4, '"': 25.4}
_LENGTH = re.compile(r'^\s*([-+]?\d*\.?\d+(?:e[-+]?\d+)?)(?:\s*/\s*(\d+))?\s*(mm|inch|in|")\s*$')

_AMOUNT = re.compile(r"^\s*([-+]?\d*\.?\d+(?:e[-+]?\d+)?)\s*(\S+(?: \S+)*)\s*$")


class Faults:
    """The faults found so far in one file."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self._found: list[InputError] = []

    def add(self, what: str, path: str, hint: str = "") -> None:
        """Note a fault at a key path."""
        self._found.append(InputError(what, where=f"{self.file.name}: {path}", hint=hint))

    def raise_if_any(self) -> None:
        """Raise all faults together.

        Raises:
            InputErrors: there is at least one.
        """
        if self._found:
            raise InputErrors(tuple(self._found))


class Table:
    """One table of a TOML file, with its place in the file."""

    def __init__(
        self, values: dict[str, Any], *, path: str, faults: Faults, unit_mm: float = 1.0
    ) -> None:
        self._values = values
        self._asked: set[str] = set()
        self.path = path
        self.faults = faults
        self.unit_mm = unit_mm

    def where(self, key: str) -> str:
        """Return the path of a key."""
        return f"{self.path}.{key}" if self.path else key

    def fault(self, key: str, what: str, hint: str = "") -> None:
        """Note a fault of a key."""
        self.faults.add(what, self.where(key), hint)

    def has(self, key: str) -> bool:
        """Return whether the key is given."""
        self._asked.add(key)
        return key in self._values

    def raw(self, key: str) -> Any:
        """Return the key's value as TOML gave it; None when absent."""
        self._asked.add(key)
        return self._values.get(key)

    def text(self, key: str, default: str | None = None) -> str:
        """Return a string; without a default the key is required."""
        value = self._get(key, default)
        if isinstance(value, str):
            if value.strip() or default == "":
                return value
            self.fault(key, f"{key} is empty", "give it a name")
        elif value is not None:
            self.fault(key, f"{key} is {_shown(value)}; it must be text in quotes")
        return default or ""

    def engraved(self, key: str, default: str | None = None) -> str:
        """Return a string that will be burnt on plastic: every character must have a letter."""
        value = self.text(key, default)
        try:
            check_characters(value)
        except InputError as fault:
            self.fault(key, fault.what, fault.hint)
        return value

    def choice(self, key: str, options: tuple[str, ...], default: str | None = None) -> str:
        """Return one of the options; a wrong one is answered with the nearest."""
        value = self._get(key, default)
        if value in options:
            return str(value)
        if value is not None:
            near = difflib.get_close_matches(str(value), options, n=1)
            listed = ", ".join(f'"{option}"' for option in options)
            self.fault(
                key,
                f"{key} is {_shown(value)}; it must be one of {listed}",
                f'did you mean "{near[0]}"?' if near else "",
            )
        return default if default is not None else options[0]

    def flag(self, key: str, default: bool) -> bool:
        """Return true or false."""
        value = self._get(key, default)
        if isinstance(value, bool):
            return value
        self.fault(key, f"{key} is {_shown(value)}; it must be true or false")
        return default

    def whole(self, key: str, default: int | None = None, *, least: int = 0) -> int:
        """Return a whole number of at least ``least``."""
        value = self._get(key, default)
        if isinstance(value, int) and not isinstance(value, bool) and value >= least:
            return value
        if value is not None:
            self.fault(key, f"{key} is {_shown(value)}; it must be a whole number from {least} up")
        return default if default is not None else least

    def number(
        self,
        key: str,
        default: float | None = None,
        *,
        least: float = -math.inf,
        above: float = -math.inf,
        most: float = math.inf,
    ) -> float:
        """Return a bare number within its limits (no unit)."""
        value = self._get(key, default)
        if value is None:
            return 1.0
        if key not in self._values:
            return float(value)
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.fault(key, f"{key} is {_shown(value)}; it must be a number")
            return default if default is not None else 1.0
        return self._within(key, float(value), default, "", least=least, above=above, most=most)

    def amount(
        self,
        key: str,
        units: dict[str, float],
        default: float | None = None,
        *,
        least: float = -math.inf,
        above: float = -math.inf,
        most: float = math.inf,
    ) -> float:
        """Return a quantity that is no length, in the first of ``units``.

        Args:
            key: the key.
            units: suffix → factor to the first one's unit; a bare number is in the first.
            default: when the key is absent; without it the key is required.
            least, above, most: limits in the first unit.
        """
        value = self._get(key, default)
        if value is None:
            return 1.0
        if key not in self._values:
            return float(value)
        known, first = " or ".join(units), next(iter(units))
        match = _AMOUNT.match(value) if isinstance(value, str) else None
        if match is not None and match[2] in units:
            value = float(match[1]) * units[match[2]]
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.fault(
                key,
                f"{key} is {_shown(value)}; it must be a number of {first}",
                f"or a text with its unit, {known}",
            )
            return default if default is not None else 1.0
        return self._within(
            key, float(value), default, f" {first}", least=least, above=above, most=most
        )

    def angle_rad(self, key: str, default_deg: float) -> float:
        """Return an angle given in degrees, as radians."""
        return math.radians(self.number(key, default_deg))

    def length_mm(
        self,
        key: str,
        default_mm: float | None = None,
        *,
        least: float = -math.inf,
        above: float = -math.inf,
        most: float = math.inf,
    ) -> float:
        """Return a length, mm, within its limits (mm)."""
        value = self._get(key, default_mm)
        if value is None:
            return 1.0
        if key not in self._values:
            return float(value)
        length = self._length(self.where(key), key, value)
        if length is None:
            return default_mm if default_mm is not None else 1.0
        return self._within(key, length, default_mm, " mm", least=least, above=above, most=most)

    def point_mm(self, key: str, default: Point | None = None) -> Point:
        """Return [x, y], mm."""
        values = self.lengths_mm(key, 2, None if default is None else tuple(default))
        return Point(values[0], values[1])

    def lengths_mm(
        self, key: str, count: int, default: tuple[float, ...] | None = None
    ) -> tuple[float, ...]:
        """Return a list of ``count`` lengths, mm."""
        value = self._get(key, default)
        if value is None:
            return (0.0,) * count
        if key not in self._values and default is not None:
            return default
        if not isinstance(value, list) or len(value) != count:
            self.fault(key, f"{key} is {_shown(value)}; it must be a list of {count} lengths")
            return default or (0.0,) * count
        out = [self._length(f"{self.where(key)}[{i}]", key, v) for i, v in enumerate(value)]
        return tuple(v if v is not None else 0.0 for v in out)

    def points_mm(self, key: str) -> tuple[Point, ...]:
        """Return a list of [x, y], mm; faults are noted and their points left out."""
        value = self.raw(key)
        if not isinstance(value, list) or not all(
            isinstance(p, list) and len(p) == 2 for p in value
        ):
            self.fault(key, f"{key} is {_shown(value)}; it must be a list of [x, y]")
            return ()
        rows = [
            [self._length(f"{self.where(key)}[{i}][{j}]", key, v) for j, v in enumerate(p)]
            for i, p in enumerate(value)
        ]
        return tuple(Point(x, y) for x, y in rows if x is not None and y is not None)

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of strings (a single string counts as a list of one); empty when absent."""
        value = self.raw(key)
        if value is None:
            return ()
        items = value if isinstance(value, list) else [value]
        if not all(isinstance(item, str) for item in items):
            self.fault(key, f"{key} is {_shown(value)}; it must be text or a list of texts")
            return ()
        return tuple(items)

    def table(self, key: str, *, required: bool = False) -> Table | None:
        """Return a sub-table, or None when absent."""
        value = self._get(key, None, required=required)
        if value is None:
            return None
        if not isinstance(value, dict):
            self.fault(key, f"{key} must be a table ([{self.where(key)}])")
            return None
        return Table(value, path=self.where(key), faults=self.faults, unit_mm=self.unit_mm)

    def tables(self, key: str) -> Iterator[Table]:
        """Yield the tables of an array of tables; none when absent."""
        value = self.raw(key)
        if value is None:
            return
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.fault(key, f"{key} must be an array of tables ([[{self.where(key)}]])")
            return
        for i, item in enumerate(value):
            yield Table(
                item, path=f"{self.where(key)}[{i}]", faults=self.faults, unit_mm=self.unit_mm
            )

    def length_of(self, key: str, value: Any, label: str) -> float | None:
        """Return one length from inside a list value, mm, or None with a fault noted."""
        return self._length(f"{self.where(key)}{label}", key, value)

    def build(self, key: str, make: Callable[[], T]) -> T | None:
        """Return what ``make`` builds; its refusal becomes a fault of this key."""
        try:
            return make()
        except (GeometryError, InputError) as fault:
            self.fault(key, fault.what, fault.hint)
            return None

    def finish(self) -> None:
        """Add a fault for each key nobody asked for, with the nearest known one."""
        for key in self._values:
            if key not in self._asked:
                near = difflib.get_close_matches(key, sorted(self._asked), n=1)
                hint = (
                    f'did you mean "{near[0]}"?'
                    if near
                    else f"known here: {', '.join(sorted(self._asked))}"
                )
                self.fault(key, f'unknown key "{key}"', hint)

    def _get(self, key: str, default: Any, *, required: bool = True) -> Any:
        self._asked.add(key)
        if key in self._values:
            return self._values[key]
        if default is None and required:
            self.fault(key, f'"{key}" is missing', f"add {key} = … here")
        return default

    def _length(self, where: str, key: str, value: Any) -> float | None:
        if isinstance(value, bool) or not isinstance(value, (int, float, str)):
            self.faults.add(f"{key} is {_shown(value)}; it must be a length", where)
            return None
        if isinstance(value, str):
            match = _LENGTH.match(value.lower())
            if not match or match[2] == "0":
                self.faults.add(
                    f"{key} is {_shown(value)}, which is no length",
                    where,
                    'write a number, or a number with its unit: "6 mm", "0.250 in"',
                )
                return None
            length = float(match[1]) / float(match[2] or 1) * _SUFFIX_MM[match[3]]
        else:
            length = float(value) * self.unit_mm
        if not math.isfinite(length):
            self.faults.add(f"{key} is {_shown(value)}; it must be finite", where)
            return None
        return length

    def _within(
        self,
        key: str,
        value: float,
        default: float | None,
        unit: str,
        *,
        least: float,
        above: float,
        most: float,
    ) -> float:
        if not math.isfinite(value):
            self.fault(key, f"{key} must be a finite number")
        elif value <= above:
            self.fault(key, f"{key} is {value:.6g}{unit}; it must be above {above:.6g}{unit}")
        elif value < least:
            self.fault(key, f"{key} is {value:.6g}{unit}; it must be at least {least:.6g}{unit}")
        elif value > most:
            self.fault(key, f"{key} is {value:.6g}{unit}; it must be at most {most:.6g}{unit}")
        else:
            return value
        return default if default is not None else 1.0


def read_table(path: Path, *, what: str) -> Table:
    """Read a TOML file of ours: syntax, ``schema`` and ``units`` checked.

    Args:
        path: the file.
        what: what it is, for messages ("job file").
    Raises:
        InputError: missing, a folder, not UTF-8, not TOML (with line and column), or a
            schema this program does not know.
    """
    text = read_text(path, what=what)
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise InputError(f"the {what} is not valid TOML: {fault}", where=str(path)) from None
    faults = Faults(path)
    table = Table(values, path="", faults=faults)
    schema = table.raw("schema")
    if schema != 1:
        raise InputError(
            f"schema is {_shown(schema)}; this program reads schema 1"
            if schema is not None
            else f"the {what} does not say its schema",
            where=f"{path.name}: schema",
            hint="write schema = 1 as the first line",
        )
    table.unit_mm = UNIT_MM[table.choice("units", ("mm", "inch"))]
    return table


def _shown(value: Any) -> str:
    """Return a value as it is quoted in a message, cut short when long."""
    text = f'"{value}"' if isinstance(value, str) else repr(value)
    if isinstance(value, bool):
        text = str(value).lower()
    return text if len(text) <= 60 else text[:57] + "…"
