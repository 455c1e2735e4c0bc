"""What a set-up sheet is headed with and the program cannot work out: the shop's own names.

Machine, program, storage slot and drawing datums of a set-up; revision of the sheets and log of
their changes. What the job does not say stays a line to fill in by hand.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from typing import Final

from jigs.table import Table

#: A datum letter, or two letters for one datum set up from two ("A-B"); I, O and Q are not used.
#: Source: ASME Y14.5 on datum feature symbols, from memory.
_LETTER: Final = re.compile(r"[A-HJ-NPR-Z]{1,2}(-[A-HJ-NPR-Z]{1,2})?")

_AXES: Final = ("X", "Y", "Z")


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One line of the sheets' change log.

    Args:
        day: date, year-month-day.
        what: what was changed and why.
        by: who changed it; empty for a line to sign.
    """

    day: str
    what: str
    by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobHeading:
    """What heads every sheet of a job; empty where the job does not say.

    Args:
        sheet_revision: of the set-up sheets, which may change while the part's does not.
        supersedes: the sheet revision that is void from now on.
        changes: the log so far, oldest first.
    """

    sheet_revision: str = ""
    supersedes: str = ""
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupHeading:
    """What heads the sheet of one set-up; empty where the job does not say.

    Args:
        machine: what it runs on.
        program: name or number of the program at the control.
        slot: where the guide is stored.
        letters: machine axis and the letter of the drawing's datum that it is set from.
    """

    machine: str = ""
    program: str = ""
    slot: str = ""
    letters: tuple[tuple[str, str], ...] = ()

    def letter(self, axis: str) -> str:
        """Return the drawing's datum of an axis; empty when the job does not say."""
        return dict(self.letters).get(axis, "")


def guide_id(job_number: str, setup: str) -> str:
    """Return the ID of a guide on the shelf: job number and set-up."""
    return f"{job_number}-{setup}"


def read_job_heading(head: Table) -> JobHeading:
    """Read ``sheet_revision``, ``supersedes`` and [[job.change]]; faults are noted."""
    revision, supersedes = head.text("sheet_revision", ""), head.text("supersedes", "")
    if supersedes and not revision:
        head.fault(
            "supersedes",
            f'sheet "{supersedes}" is superseded, but not by which',
            "give sheet_revision too",
        )
    elif supersedes and supersedes == revision:
        head.fault("supersedes", f'sheet "{supersedes}" supersedes itself', "name the one before")
    return JobHeading(
        sheet_revision=revision,
        supersedes=supersedes,
        changes=tuple(_change(row) for row in head.tables("change")),
    )


def read_setup_heading(row: Table, *, sets_zero: bool) -> SetupHeading:
    """Read ``machine``, ``program``, ``slot`` and ``drawing_datums`` of a set-up.

    Args:
        row: the set-up's table.
        sets_zero: whether its guide sets axes; one that does not has no drawing datums.
    """
    heading = SetupHeading(
        machine=row.text("machine", ""),
        program=row.text("program", ""),
        slot=row.text("slot", ""),
        letters=_letters(row),
    )
    if heading.letters and not sets_zero:
        row.fault("drawing_datums", "this guide sets no axis, so no datum is taken from it")
    return heading


def _letters(row: Table) -> tuple[tuple[str, str], ...]:
    """Return the datum letters by axis, X first."""
    table = row.table("drawing_datums")
    if table is None:
        return ()
    found = []
    for axis in _AXES:
        letter = table.text(axis, "")
        if letter and not _LETTER.fullmatch(letter):
            table.fault(
                axis,
                f'datum "{letter}" is no datum letter',
                'a capital letter but I, O or Q, two ("AB"), or a pair ("A-B")',
            )
        elif letter:
            found.append((axis, letter))
    table.finish()
    return tuple(found)


def _change(row: Table) -> Change:
    """Return one line of the log."""
    given = row.raw("date")
    day = given.isoformat() if type(given) is datetime.date else given
    try:
        if not isinstance(day, str):
            raise ValueError
        datetime.date.fromisoformat(day)
    except ValueError:
        row.fault(
            "date",
            "a change needs its date" if given is None else f"date is {given!r}; it is no date",
            "write it as year-month-day",
        )
        day = ""
    change = Change(day=day, what=row.text("what"), by=row.text("by", ""))
    row.finish()
    return change
