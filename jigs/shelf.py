"""The shelf: which guides there are, where they lie, who has them, and what was measured.

A SQLite file beside the shop file. Every change is one transaction, so a crash leaves the
register as it was before or as it is after; so is the step from an older register to this
one, which adds tables and touches no row. Dates are given by whoever calls: this module reads
no clock.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from kerf.errors import InputError

FILE = "shelf.sqlite"

#: What a register of this program holds; kept in the file as SQLite's user_version.
VERSION: Final = 1

#: From nothing, or from version 0 (guides and events alone), to this version, whole or not at all.
_SCHEMA: Final = f"""
BEGIN IMMEDIATE;
CREATE TABLE IF NOT EXISTS guide (
    id TEXT PRIMARY KEY, job TEXT NOT NULL, revision TEXT NOT NULL, setup TEXT NOT NULL,
    kind TEXT NOT NULL, slot TEXT NOT NULL, record_sha256 TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS event (
    number INTEGER PRIMARY KEY, guide TEXT NOT NULL REFERENCES guide (id),
    what TEXT NOT NULL CHECK (what IN ('added', 'out', 'back', 'measured')),
    day TEXT NOT NULL, who TEXT NOT NULL, note TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS reading (
    event INTEGER NOT NULL REFERENCES event (number), size TEXT NOT NULL,
    nominal_mm REAL NOT NULL, measured_mm REAL NOT NULL, u_mm REAL NOT NULL,
    within INTEGER NOT NULL, PRIMARY KEY (event, size));
PRAGMA user_version = {VERSION};
COMMIT;
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One size of a guide as it was measured.

    Args:
        size: name of the check size.
        nominal_mm, measured_mm, u_mm: finished size, mean reading and its standard
            uncertainty, mm.
        within: whether it lay within the check's limits.
    """

    size: str
    nominal_mm: float
    measured_mm: float
    u_mm: float
    within: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """What happened to a guide.

    Args:
        day: year-month-day.
        what: "added", "out", "back" or "measured".
        who, note: as given.
        readings: of a measuring.
    """

    day: str
    what: str
    who: str
    note: str
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One guide on the shelf.

    Args:
        id: guide ID, as engraved.
        job, revision, setup, kind: what it is for.
        slot: where it lies.
        record_sha256: hash of the record it was made with.
        is_out: somebody has it.
        uses: how often it went out.
        last: the last event, as "day what who".
        measured: day of the last measuring; empty when there was none.
    """

    id: str
    job: str
    revision: str
    setup: str
    kind: str
    slot: str
    record_sha256: str
    is_out: bool = False
    uses: int = 0
    last: str = ""
    measured: str = ""


@contextmanager
def _register(folder: Path) -> Iterator[sqlite3.Connection]:
    """Open the register; the block is one transaction."""
    path = folder / FILE
    try:
        with closing(sqlite3.connect(path)) as connection:
            (version,) = connection.execute("PRAGMA user_version").fetchone()
            if version > VERSION:
                raise InputError(
                    f"the register is of version {version}; this program knows {VERSION}",
                    where=str(path),
                    hint="use the newer program that wrote it",
                )
            if version < VERSION:
                connection.executescript(_SCHEMA)
            connection.execute("PRAGMA foreign_keys = ON")
            with connection:
                yield connection
    except sqlite3.Error as fault:
        raise InputError(
            f"the register cannot be used: {fault}",
            where=str(path),
            hint="if the file is damaged, move it away and add the guides again",
        ) from fault


def add_guide(folder: Path, entry: Entry, *, day: str, who: str, note: str = "") -> None:
    """Put a guide on the shelf.

    Args:
        folder: the shop file's folder.
        entry: the guide; its ID must be new, its slot free.
        day: date, year-month-day.
        who: who put it there.
    Raises:
        InputError: the ID is on the shelf already, or the slot is taken.
    """
    with _register(folder) as connection:
        if connection.execute("SELECT 1 FROM guide WHERE id = ?", (entry.id,)).fetchone():
            raise InputError(
                f'guide "{entry.id}" is on the shelf already',
                hint="take it off first, or give the new one another ID",
            )
        taken = connection.execute("SELECT id FROM guide WHERE slot = ?", (entry.slot,)).fetchone()
        if taken:
            raise InputError(
                f'slot "{entry.slot}" holds guide "{taken[0]}"', hint="choose another slot"
            )
        connection.execute(
            "INSERT INTO guide VALUES (?, ?, ?, ?, ?, ?, ?)",
            (
                entry.id,
                entry.job,
                entry.revision,
                entry.setup,
                entry.kind,
                entry.slot,
                entry.record_sha256,
            ),
        )
        _note(connection, entry.id, "added", day, who, note)


def take_out(folder: Path, id: str, *, day: str, who: str, note: str = "") -> None:
    """Note that a guide is taken to a machine.

    Raises:
        InputError: no such guide, or somebody has it.
    """
    with _register(folder) as connection:
        entry = _entry(connection, id)
        if entry.is_out:
            raise InputError(f'guide "{id}" is out: {entry.last}', hint="bring it back first")
        _note(connection, id, "out", day, who, note)


def bring_back(folder: Path, id: str, *, day: str, who: str, note: str = "") -> None:
    """Note that a guide lies in its slot again.

    Raises:
        InputError: no such guide, or it is not out.
    """
    with _register(folder) as connection:
        if not _entry(connection, id).is_out:
            raise InputError(f'guide "{id}" is on the shelf, not out')
        _note(connection, id, "back", day, who, note)


def note_readings(
    folder: Path, id: str, readings: tuple[Reading, ...], *, day: str, who: str, note: str = ""
) -> bool:
    """Keep what was measured of a guide; return whether it is on the shelf at all.

    Args:
        folder: the shop file's folder.
        id: guide ID.
        readings: one for each size.
        day, who, note: of the measuring.
    """
    if not (folder / FILE).exists():
        return False
    with _register(folder) as connection:
        if not connection.execute("SELECT 1 FROM guide WHERE id = ?", (id,)).fetchone():
            return False
        number = _note(connection, id, "measured", day, who, note)
        connection.executemany(
            "INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?)",
            [
                (number, r.size, r.nominal_mm, r.measured_mm, r.u_mm, int(r.within))
                for r in readings
            ],
        )
    return True


def history(folder: Path, id: str) -> tuple[Entry, tuple[Event, ...]]:
    """Return a guide and all that happened to it, oldest first.

    Raises:
        InputError: no such guide.
    """
    if not (folder / FILE).exists():
        raise InputError(f'guide "{id}" is not on the shelf', hint="the shelf is empty")
    with _register(folder) as connection:
        entry = _entry(connection, id)
        events = connection.execute(
            "SELECT number, day, what, who, note FROM event WHERE guide = ? ORDER BY number", (id,)
        ).fetchall()
        return entry, tuple(
            Event(day=day, what=what, who=who, note=note, readings=_readings(connection, number))
            for number, day, what, who, note in events
        )


def _readings(connection: sqlite3.Connection, event: int) -> tuple[Reading, ...]:
    """Return the readings of one measuring, as they were given."""
    rows = connection.execute(
        "SELECT size, nominal_mm, measured_mm, u_mm, within FROM reading WHERE event = ? "
        "ORDER BY rowid",
        (event,),
    )
    return tuple(
        Reading(size=size, nominal_mm=nominal, measured_mm=got, u_mm=u, within=bool(within))
        for size, nominal, got, u, within in rows
    )


def guides(folder: Path) -> tuple[Entry, ...]:
    """Return every guide on the shelf, by slot; none when there is no register yet."""
    if not (folder / FILE).exists():
        return ()
    with _register(folder) as connection:
        ids = [row[0] for row in connection.execute("SELECT id FROM guide ORDER BY slot, id")]
        return tuple(_entry(connection, id) for id in ids)


def _note(connection: sqlite3.Connection, id: str, what: str, day: str, who: str, note: str) -> int:
    """Add an event and return its number."""
    done = connection.execute(
        "INSERT INTO event (guide, what, day, who, note) VALUES (?, ?, ?, ?, ?)",
        (id, what, day, who, note),
    )
    assert done.lastrowid is not None
    return done.lastrowid


def _entry(connection: sqlite3.Connection, id: str) -> Entry:
    """Return one guide with what its events say.

    Raises:
        InputError: no such guide; the message lists those there are.
    """
    row = connection.execute("SELECT * FROM guide WHERE id = ?", (id,)).fetchone()
    if row is None:
        known = [r[0] for r in connection.execute("SELECT id FROM guide ORDER BY id")]
        raise InputError(
            f'guide "{id}" is not on the shelf',
            hint=f"there are {', '.join(known)}" if known else "the shelf is empty",
        )
    events = connection.execute(
        "SELECT what, day, who, note FROM event WHERE guide = ? ORDER BY number", (id,)
    ).fetchall()
    moves = [e for e in events if e[0] in ("out", "back")]
    return Entry(
        id=row[0],
        job=row[1],
        revision=row[2],
        setup=row[3],
        kind=row[4],
        slot=row[5],
        record_sha256=row[6],
        is_out=bool(moves) and moves[-1][0] == "out",
        uses=sum(e[0] == "out" for e in events),
        last=" ".join(part for part in (events[-1][1], events[-1][0], events[-1][2]) if part),
        measured=next((e[1] for e in reversed(events) if e[0] == "measured"), ""),
    )
