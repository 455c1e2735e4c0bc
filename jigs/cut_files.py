"""What the laser does for one plate: its cuts begun in scrap, in the order they are burnt.

A cut begins away from every stretch that locates: the faces the machine is zeroed from, the
contacts, and, where the part floats, the whole wall of its pocket, so that pierce and seam lie
on the turn about a corner, in a relief, or on an edge that nothing touches. The way in lies in
scrap and is shorter than half of what stands between two plates on a sheet.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from jigs.guides.guide import Guide, Plate
from kerf import lettering
from kerf.beam import (
    CutPlan,
    KerfCard,
    Operation,
    Stroke,
    beam_paths,
    commanded_strokes,
    drawn_paths,
)
from kerf.contour import Point, Region
from kerf.lead import Stretch, with_lead_in, with_tabs
from kerf.order import ordered
from kerf.writing.statement import statement

#: Free rim of the cut file round the plate, mm: room for the beam and a lead-in.
RIM_MM = 6.0
#: Height of the lettering of the file's statement, and the strip below the plate that holds it.
STATEMENT_MM = 3.0
STRIP_MM = 9.0
#: Way in from the pierce, mm, where half the gap between plates is not less.
LEAD_MM: Final = 2.0
#: Length left uncut by a tab, mm: snaps by hand in 3 to 6 mm acrylic. Source: common practice.
TAB_MM: Final = 0.6
#: Cuts nearer than this heat each other, mm. Source: common practice.
HEAT_MM: Final = 6.0
#: Chord error of the wall of a pocket as stretches to keep off, mm.
_WALL_CHORD_MM: Final = 0.2


def cut_plan(
    plate: Plate, card: KerfCard, *, keep_clear: tuple[Stretch, ...] = (), tabs: int = 0
) -> CutPlan:
    """Return what the laser does for one plate in a file of its own.

    Args:
        plate: in the coordinates of its cut file.
        card: the kerf.
        keep_clear: stretches of its edges that locate.
        tabs: how many uncut places hold the plate in the sheet, off those stretches.
    Raises:
        GeometryError: there is no room for that many tabs.
    """
    width_mm, height_mm = frame_mm(plate)
    plan = CutPlan(
        width_mm=width_mm,
        height_mm=height_mm,
        strokes=commanded_strokes(plate.strokes, card),
        paths=tuple(
            with_tabs(path, count=tabs, width_mm=TAB_MM, keep_clear=keep_clear)
            if tabs and path.operation is Operation.OUTSIDE
            else path
            for path in (
                with_lead_in(path, lead_mm=LEAD_MM, keep_clear=keep_clear)
                for path in beam_paths(plate.region, card, piece=plate.name)
            )
        ),
        kerf=card,
        mirrored=(plate.name,) if plate.is_mirrored else (),
    )
    return _stated(ordered(plan, heat_mm=HEAT_MM), plate.name)


def finished_size_plan(plate: Plate) -> CutPlan:
    """Return the plate at its finished size, for a laser whose software sets the kerf itself."""
    width_mm, height_mm = frame_mm(plate)
    plan = CutPlan(
        width_mm=width_mm,
        height_mm=height_mm,
        strokes=plate.strokes,
        paths=drawn_paths(plate.region, piece=plate.name),
        kerf=None,
        left_to_laser=True,
        mirrored=(plate.name,) if plate.is_mirrored else (),
    )
    return _stated(ordered(plan, heat_mm=HEAT_MM), plate.name)


def locating_stretches(guide: Guide, plate: Plate, outline: Region) -> tuple[Stretch, ...]:
    """Return where no cut of a plate may begin: faces, contacts, and the wall round a part.

    Args:
        guide: whose plate it is.
        plate: in the coordinates of its cut file.
        outline: the part, part coordinates.
    """
    to_sheet = plate.to_part.inverse()
    faces = [Stretch(start=f.start, end=f.end) for f in guide.faces if f.plate == plate.name]
    contacts = []
    for contact in guide.contacts:
        x, y = to_sheet.point(*contact.at)
        for dx, dy in guide.copies:
            at = Point(x + dx, y + dy)
            contacts.append(Stretch(start=at, end=at))
    walls = []
    if guide.pocket is not None:
        points = [to_sheet.point(*p) for p in outline.outer.facets(_WALL_CHORD_MM)]
        walls = [
            Stretch(start=Point(p.x + dx, p.y + dy), end=Point(q.x + dx, q.y + dy))
            for dx, dy in guide.copies
            for p, q in zip(points, [*points[1:], points[0]], strict=True)
        ]
    return (*faces, *contacts, *walls)


def statement_strokes(
    plan: CutPlan, piece: str, *, at: Point, room_mm: float
) -> tuple[Stroke, ...]:
    """Return a file's statement as reference lettering, shrunk to fit."""
    text = statement(plan)
    height = min(STATEMENT_MM, STATEMENT_MM * room_mm / lettering.text_width_mm(text, STATEMENT_MM))
    return tuple(
        Stroke(operation=Operation.REFERENCE, points=points, piece=piece)
        for points in lettering.strokes(text, height_mm=height, at=(at.x, at.y))
    )


def frame_mm(plate: Plate) -> tuple[float, float]:
    """Return width and height of a plate's own file: the plate and its marks with a rim, mm."""
    box = plate.region.bounds()
    drawn = [p for stroke in plate.strokes for p in stroke.points]
    return (
        max([box.x_max, *(p.x for p in drawn)]) + RIM_MM,
        max([box.y_max, *(p.y for p in drawn)]) + RIM_MM,
    )


def _stated(plan: CutPlan, piece: str) -> CutPlan:
    """Return the plan with its statement under the plate."""
    lines = statement_strokes(
        plan, piece, at=Point(RIM_MM, RIM_MM), room_mm=plan.width_mm - 2 * RIM_MM
    )
    return replace(plan, strokes=(*plan.strokes, *lines))
