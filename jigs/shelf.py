"""The shelf: which guides there are, where they lie, who has them, and what was measured.

A SQLite file beside the shop file. Every change is one transaction, so a crash leaves the
register as it was before or as it is after. Dates are given by whoever calls: this module
reads no clock.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from kerf.errors import InputError

FILE = "shelf.sqlite"

_SCHEMA = """
CREATE TABLE IF NOT EXISTS guide (
    id TEXT PRIMARY KEY, job TEXT NOT NULL, revision TEXT NOT NULL, setup TEXT NOT NULL,
    kind TEXT NOT NULL, slot TEXT NOT NULL, record_sha256 TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS event (
    number INTEGER PRIMARY KEY, guide TEXT NOT NULL REFERENCES guide (id),
    what TEXT NOT NULL CHECK (what IN ('added', 'out', 'back', 'measured')),
    day TEXT NOT NULL, who TEXT NOT NULL, note TEXT NOT NULL);
"""


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


def guide_id(job_number: str, setup: str) -> str:
    """Return the ID of a guide: job number and set-up."""
    return f"{job_number}-{setup}"


@contextmanager
def _register(folder: Path) -> Iterator[sqlite3.Connection]:
    """Open the register; the block is one transaction."""
    path = folder / FILE
    try:
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA foreign_keys = ON")
            connection.executescript(_SCHEMA)
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


def guides(folder: Path) -> tuple[Entry, ...]:
    """Return every guide on the shelf, by slot; none when there is no register yet."""
    if not (folder / FILE).exists():
        return ()
    with _register(folder) as connection:
        ids = [row[0] for row in connection.execute("SELECT id FROM guide ORDER BY slot, id")]
        return tuple(_entry(connection, id) for id in ids)


def _note(
    connection: sqlite3.Connection, id: str, what: str, day: str, who: str, note: str
) -> None:
    connection.execute(
        "INSERT INTO event (guide, what, day, who, note) VALUES (?, ?, ?, ?, ?)",
        (id, what, day, who, note),
    )


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
    )
