"""Several parts from one blank: how large it must be, where each part lies, where it is sawn.

The blank has the part's own coordinates: the first part lies in it as drawn, each further one a
pitch further along one axis. Between two parts the saw takes its width, and on either side
stands what is left to clean up; the same is left round the outside. What a job says of the part
(its critical features, its cuts) is said once and holds for every copy.

Refused: a blank or bar too small for what is asked, a pitch at which parts or saw meet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from jigs.holding.cut import Bore, Cut
from jigs.part import Part
from jigs.table import Table
from kerf.contour import Bounds, Contour, Point, Region
from kerf.errors import InputError

#: Names of copies, in order.
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True, kw_only=True)
class BlankAsked:
    """What a job asks of a blank.

    Args:
        copies: parts from one blank, 2 to 26.
        along: "x" or "y": the axis along which they follow one another.
        saw_mm: what the saw takes, mm.
        clean_up_mm: left on every side to be machined away, mm.
        pitch_mm: from part to part; None for the least there is, mm.
        size_mm: of the blank at hand; None for the least there is, mm.
        key_path: where it stands in the job file.
    """

    copies: int
    along: str
    saw_mm: float
    clean_up_mm: float
    pitch_mm: float | None
    size_mm: tuple[float, float] | None
    key_path: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """A blank worked out.

    Args:
        asked: what was asked.
        box: of the blank, part coordinates of the first copy, mm.
        pitch_mm: from copy to copy, mm.
        copies: shift of each copy, mm.
        saw_at_mm: middle of each saw cut along ``asked.along``, mm.
        left_over_mm: what the blank at hand has beyond the least one, along x and y, mm.
    """

    asked: BlankAsked
    box: Bounds
    pitch_mm: float
    copies: tuple[Point, ...]
    saw_at_mm: tuple[float, ...]
    left_over_mm: tuple[float, float]


def read_blank(table: Table) -> BlankAsked:
    """Read the ``blank`` table of a view, noting faults."""
    copies = table.whole("copies", 2, least=2)
    if copies > len(LETTERS):
        table.fault("copies", f"{copies} copies are asked for; at most {len(LETTERS)} have names")
        copies = len(LETTERS)
    size = table.lengths_mm("size", 2) if table.has("size") else None
    asked = BlankAsked(
        copies=copies,
        along=table.choice("along", ("x", "y"), "y"),
        saw_mm=table.length_mm("saw", 2.0, least=0.0),
        clean_up_mm=table.length_mm("clean_up", 1.5, least=0.0),
        pitch_mm=table.length_mm("pitch", above=0.0) if table.has("pitch") else None,
        size_mm=(size[0], size[1]) if size is not None else None,
        key_path=f"{table.faults.file.name}: {table.path}",
    )
    table.finish()
    return asked


def blank_for(region: Region, asked: BlankAsked) -> Blank:
    """Return the blank for copies of an outline.

    Raises:
        InputError: the pitch is too small, or the blank at hand is.
    """
    part = region.bounds()
    by_x = asked.along == "x"
    long = part.width if by_x else part.height
    least_pitch = long + asked.saw_mm + 2 * asked.clean_up_mm
    pitch = least_pitch if asked.pitch_mm is None else asked.pitch_mm
    if pitch < least_pitch - 1e-9:
        raise InputError(
            f"at a pitch of {pitch:.2f} mm no room is left for the saw and to clean up: the part "
            f"is {long:.2f} mm along {asked.along}, so {least_pitch:.2f} mm are needed",
            where=asked.key_path + ".pitch",
            hint="widen the pitch, or lessen saw or clean_up",
        )
    reach, edge = (asked.copies - 1) * pitch, asked.clean_up_mm
    need = (
        part.width + 2 * edge + (reach if by_x else 0.0),
        part.height + 2 * edge + (0.0 if by_x else reach),
    )
    size = asked.size_mm or need
    for axis, has, wants in zip("xy", size, need, strict=True):
        if has < wants - 1e-9:
            raise InputError(
                f"a blank of {size[0]:.2f} × {size[1]:.2f} mm is too small for {asked.copies} "
                f"parts: along {axis} {wants:.2f} mm are needed",
                where=asked.key_path + ".size",
                hint="take a larger blank, fewer copies, the other axis, or less to clean up",
            )
    x0, y0 = part.x_min - edge, part.y_min - edge
    shifts = [i * pitch for i in range(asked.copies)]
    middle = (part.x_max if by_x else part.y_max) + (pitch - long) / 2
    return Blank(
        asked=asked,
        box=Bounds(x0, y0, x0 + size[0], y0 + size[1]),
        pitch_mm=pitch,
        copies=tuple(Point(s, 0.0) if by_x else Point(0.0, s) for s in shifts),
        saw_at_mm=tuple(middle + s for s in shifts[:-1]),
        left_over_mm=(size[0] - need[0], size[1] - need[1]),
    )


def blank_part(
    part: Part, blank: Blank, *, height_mm: float, edge_tolerance_mm: float, material: str
) -> Part:
    """Return the blank as a part: its rectangle, and every copy's critical features."""
    box = blank.box
    critical = tuple(
        replace(c, name=f"{c.name} {letter}", at=Point(c.at.x + by.x, c.at.y + by.y), pair="")
        for letter, by in zip(LETTERS, blank.copies, strict=False)
        for c in part.critical
    )
    return Part(
        name=f"{part.name}, blank for {blank.asked.copies}",
        region=Region(outer=Contour.rectangle(box.x_min, box.y_min, box.width, box.height)),
        height_mm=height_mm,
        material=material,
        edge_tolerance_mm=edge_tolerance_mm,
        critical=critical,
    )


def repeated_cuts(cuts: Sequence[Cut], blank: Blank) -> tuple[Cut, ...]:
    """Return the cuts of one part at every copy; one round the outline is the blank's alone."""
    out: list[Cut] = []
    for cut in cuts:
        if cut.outline:
            out.append(cut)
            continue
        for letter, by in zip(LETTERS, blank.copies, strict=False):
            bore = cut.bore
            out.append(
                replace(
                    cut,
                    name=f"{cut.name} {letter}",
                    points=tuple(Point(p.x + by.x, p.y + by.y) for p in cut.points),
                    bore=None
                    if bore is None
                    else Bore(
                        at=Point(bore.at.x + by.x, bore.at.y + by.y),
                        diameter_mm=bore.diameter_mm,
                    ),
                )
            )
    return tuple(out)
