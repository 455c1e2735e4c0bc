"""The test piece from which kerf, lean and scale are measured.

One small plate stepped like a stair, so that its three lengths along X and along Y all start
from the same corner; closed windows of three sizes; a slot open to each far edge, with a web
between it and the edge (the near wall) and a passage through that web for the depth rod (the
far wall); a round hole; beside it a disc, and a ladder of holes for each pin the shop wants to
fit. Near shrinks by one kerf, far does not change: kerf and scale part.

All lines are cut exactly as drawn, kerf left out on purpose, and the plate says so. Every size
is listed with where it is taken, so that the form, the picture and the fit speak of the same
features. Webs are no thinner than the sheet, so the piece grows with thickness.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from kerf import lettering
from kerf.beam import CutPlan, Operation, Stroke, drawn_paths
from kerf.contour import Contour, Point, Region, Transform
from kerf.errors import InputError
from kerf.lead import Stretch, with_lead_in
from kerf.lettering import Anchor
from kerf.readings import LADDER_STEP_MM, Axis, Kind, Side

#: Free rim round and between the pieces of the coupon, mm.
RIM_MM: Final = 5.0
#: Holes of a ladder: four steps either side of the expected kerf.
LADDER_HOLES: Final = 9
#: Width of the open slot (a calliper's jaw goes in) and of the passage for the depth rod, mm.
SLOT_MM: Final = 6.0
PASSAGE_MM: Final = 4.0
#: Round hole and disc, mm.
ROUND_MM: Final = 12.0
#: Least cell of the stair, mm: holds the largest window a calliper's inside jaws like.
LEAST_CELL_MM: Final = 20.0
_LEAST_WEB_MM: Final = 3.0
_NEAR_MM: Final = 5.0
_LEAD_MM: Final = 1.5
_BOTH: Final = (Side.ENTRY, Side.EXIT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """One size to measure.

    Args:
        feature: its name on the form and in the picture ("X60").
        kind, axis: what it spans, and along which axis of the laser.
        drawn_mm: as drawn, mm.
        start, end: its ends, coordinates of the cut file, mm.
        faces: the faces at which it is measured.
    """

    feature: str
    kind: Kind
    axis: Axis
    drawn_mm: float
    start: Point
    end: Point
    faces: tuple[Side, ...] = (Side.EXIT,)

    @property
    def where(self) -> str:
        """Where the calliper goes, in words."""
        return _WHERE[self.kind].format(axis=self.axis.value)


_WHERE: Final[dict[Kind, str]] = {
    Kind.OUTSIDE: "outside jaws, edge to edge along {axis}",
    Kind.GAP: "inside jaws, across the open slot along {axis}",
    Kind.NEAR: "outside jaws on the web: far edge to near wall of the slot, along {axis}",
    Kind.FAR: "depth rod through the passage: far edge to far wall of the slot, along {axis}",
    Kind.SLOT: "inside jaws, across the window along {axis}",
    Kind.WEB: "outside jaws on the web: edge to near wall of the window, along {axis}",
    Kind.HOLE: "inside jaws, across the round hole along {axis}",
    Kind.PLUG: "outside jaws, across the disc along {axis} (see its arrow)",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """The holes for one pin.

    Args:
        pin_mm: diameter of the pin, mm.
        holes_mm: diameters as drawn, smallest first, mm.
        at: centres, coordinates of the cut file, mm.
    """

    pin_mm: float
    holes_mm: tuple[float, ...]
    at: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Coupon:
    """The test piece: what to cut and what to measure.

    Args:
        span_mm: longest outside size, mm.
        plan: the cut file; its kerf is None, for lines are cut as drawn.
        regions: the pieces as drawn, coordinates of the cut file, mm.
        sizes: what to measure.
        ladders: one a pin.
    """

    span_mm: float
    plan: CutPlan
    regions: tuple[tuple[str, Region], ...]
    sizes: tuple[Size, ...]
    ladders: tuple[Ladder, ...]


def coupon(
    *,
    thickness_mm: float,
    span_mm: float | None = None,
    pins_mm: tuple[float, ...] = (),
    expected_kerf_mm: float = 0.2,
    marks: tuple[str, ...] = (),
) -> Coupon:
    """Return the coupon for a sheet.

    Args:
        thickness_mm: of the sheet, mm, > 0.
        span_mm: longest outside size, mm; None for the smallest that serves. A longer one
            tells the scale better.
        pins_mm: pins to make fit ladders for, mm.
        expected_kerf_mm: kerf about which the ladders are centred, mm.
        marks: up to two short lines engraved on the plate (sheet, laser).
    Raises:
        InputError: a size that makes no coupon, or a mark that cannot be engraved.
    """
    if not 0.0 < thickness_mm <= 30.0:
        raise InputError(
            f"sheet thickness is {thickness_mm:.4g} mm; a coupon is made for 0 to 30 mm"
        )
    if not 0.0 < expected_kerf_mm <= 1.0:
        raise InputError(
            f"expected kerf is {expected_kerf_mm:.4g} mm; it must lie within 0 to 1 mm"
        )
    web = max(_LEAST_WEB_MM, thickness_mm)
    near = max(_NEAR_MM, thickness_mm)
    least = max(LEAST_CELL_MM, 2 * web + 10.0, 2 * web + near + SLOT_MM, ROUND_MM + 2 * web)
    least = math.ceil(least)
    cell = float(least) if span_mm is None else span_mm / 3
    if cell < least:
        raise InputError(
            f"a span of {span_mm:.4g} mm is too short for a sheet of {thickness_mm:.4g} mm: "
            f"its webs would be thinner than the sheet",
            hint=f"give {3 * least:.0f} mm or more, or leave it out",
        )
    plate, plate_sizes, plate_marks = _plate(cell, web, near)
    disc_at = Point(2.5 * cell + 2, 2.5 * cell + 2)
    disc = Region(outer=Contour.circle(disc_at.x, disc_at.y, ROUND_MM / 2))
    sizes = [*plate_sizes, *_round_sizes(disc_at, Kind.PLUG, "P")]
    text = [*plate_marks, *_engraved(marks[:2], cell, 1.5 * cell - _window_c(cell) / 2)]
    ladders, ladder, ladder_text = _ladders(pins_mm, expected_kerf_mm, web)
    low = Transform.translation(RIM_MM, RIM_MM)
    rise = RIM_MM if ladder is None else 2 * RIM_MM + ladder.bounds().height
    up = Transform.translation(RIM_MM, rise)
    pieces = [("plate", plate, text, up), ("disc", disc, _disc_marks(disc_at), up)]
    if ladder is not None:
        pieces.append(("ladder", ladder, ladder_text, low))
    regions = tuple((name, region.transformed(by)) for name, region, _, by in pieces)
    box = [region.bounds() for _, region in regions]
    placed = tuple(replace(s, start=up.point(*s.start), end=up.point(*s.end)) for s in sizes)
    clear = tuple(Stretch(start=p, end=p) for s in placed for p in (s.start, s.end))
    plan = CutPlan(
        width_mm=max(b.x_max for b in box) + RIM_MM,
        height_mm=max(b.y_max for b in box) + RIM_MM,
        strokes=tuple(
            Stroke(operation=Operation.ENGRAVE, points=points, piece=name)
            for name, _, lines, by in pieces
            for points in (_moved(line, by) for line in lines)
        ),
        paths=tuple(
            with_lead_in(path, lead_mm=_LEAD_MM, keep_clear=clear)
            for name, region in regions
            for path in drawn_paths(region, piece=name)
        ),
        kerf=None,
    )
    return Coupon(
        span_mm=3 * cell,
        plan=plan,
        regions=regions,
        sizes=placed,
        ladders=tuple(replace(x, at=_moved(x.at, low)) for x in ladders),
    )


_Marks = list[tuple[Point, ...]]


def _plate(c: float, web: float, near: float) -> tuple[Region, list[Size], _Marks]:
    """Return the stepped plate, its sizes and its letters; c is the cell, mm."""
    m, half, passage = c / 2, c / 2 - web, PASSAGE_MM / 2
    edge, wall, far = 3 * c, 3 * c - near, 3 * c - near - SLOT_MM
    # Right edge upward round the open slot; the top edge is the same with x and y exchanged.
    slot = [
        (edge, m - passage),
        (wall, m - passage),
        (wall, m - half),
        (far, m - half),
        (far, m + half),
        (wall, m + half),
        (wall, m + passage),
        (edge, m + passage),
    ]
    outline = [
        (0.0, 0.0),
        (edge, 0.0),
        *slot,
        (edge, c),
        (2 * c, c),
        (2 * c, 2 * c),
        (c, 2 * c),
        (c, edge),
        *((y, x) for x, y in reversed(slot)),
        (0.0, edge),
    ]
    a, w = c - 2 * web, _window_c(c)
    b = min(c / 2, a - 2.0)
    windows = (
        ("A", web, web, a),
        ("B", 1.5 * c - b / 2, m - b / 2, b),
        ("C", m - w / 2, 1.5 * c - w / 2, w),
    )
    round_at = Point(1.5 * c, 1.5 * c)
    region = Region(
        outer=Contour.of(outline),
        holes=(
            *(Contour.rectangle(x, y, size, size) for _, x, y, size in windows),
            Contour.circle(round_at.x, round_at.y, ROUND_MM / 2),
        ),
    )
    sizes: list[Size] = []
    middle = (2 * c + far) / 2
    for length, level in ((3 * c, web / 2), (2 * c, 2 * c - web / 2), (c, middle)):
        sizes += _both_axes(
            f"{{axis}}{length:g}", Kind.OUTSIDE, (0.0, level), (length, level), _BOTH
        )
    for letter, x, y, size in windows:
        for axis in Axis:
            ends = (
                (Point(x, y + 0.3 * size), Point(x + size, y + 0.3 * size))
                if axis is Axis.X
                else (Point(x + 0.7 * size, y), Point(x + 0.7 * size, y + size))
            )
            sizes.append(
                Size(
                    feature=f"{letter}{axis.value}",
                    kind=Kind.SLOT,
                    axis=axis,
                    drawn_mm=size,
                    start=ends[0],
                    end=ends[1],
                    faces=_BOTH,
                )
            )
    low = m - (passage + half) / 2
    sizes += _both_axes("N{axis}", Kind.NEAR, (wall, 2 * m - low), (edge, 2 * m - low))
    sizes += _both_axes("F{axis}", Kind.FAR, (far, m), (edge, m))
    sizes += _both_axes("G{axis}", Kind.GAP, (far, low), (wall, low))
    sizes += _both_axes("W{axis}", Kind.WEB, (0.0, web + a / 4), (web, web + a / 4))
    sizes += _round_sizes(round_at, Kind.HOLE, "H")
    return region, sizes, _letters(windows, c, far)


def _window_c(c: float) -> float:
    """Return the size of the smallest window, mm: a calliper's inside jaws still go in."""
    return max(7.0, 0.35 * c)


def _both_axes(
    name: str,
    kind: Kind,
    start: tuple[float, float],
    end: tuple[float, float],
    faces: tuple[Side, ...] = (Side.EXIT,),
) -> list[Size]:
    """Return a size along X and its mirror image along Y (the plate is its own mirror image)."""
    return [
        Size(
            feature=name.format(axis=axis.value),
            kind=kind,
            axis=axis,
            drawn_mm=round(end[0] - start[0], 9),
            start=Point(*(start if axis is Axis.X else start[::-1])),
            end=Point(*(end if axis is Axis.X else end[::-1])),
            faces=faces,
        )
        for axis in Axis
    ]


def _round_sizes(at: Point, kind: Kind, letter: str) -> list[Size]:
    """Return the diameter along X and along Y."""
    r = ROUND_MM / 2
    return [
        Size(
            feature=f"{letter}{axis.value}",
            kind=kind,
            axis=axis,
            drawn_mm=ROUND_MM,
            start=Point(at.x - r * ux, at.y - r * uy),
            end=Point(at.x + r * ux, at.y + r * uy),
        )
        for axis, ux, uy in ((Axis.X, 1, 0), (Axis.Y, 0, 1))
    ]


def _letters(windows: tuple[tuple[str, float, float, float], ...], c: float, far: float) -> _Marks:
    """Return the plate's own lettering: what it is, its way up, its axes, its windows."""
    marks: _Marks = []
    # The strip between the first and the second row of cells is free from A to the step.
    a_right = windows[0][1] + windows[0][3]
    marks += lettering.strokes(
        "KERF NOT APPLIED",
        height_mm=_fitting("KERF NOT APPLIED", 2 * c - a_right - 3.0),
        at=((a_right + 2 * c) / 2, c),
        anchor=Anchor.MIDDLE,
    )
    marks += lettering.strokes(
        "THIS SIDE UP",
        height_mm=_fitting("THIS SIDE UP", c - 4.0),
        at=(c, 1.5 * c + 0.5),
        angle_rad=math.pi / 2,
        anchor=Anchor.MIDDLE,
    )
    left = (2 * c + far) / 2
    for angle, at, text in ((0.0, (left, c / 2), "X"), (math.pi / 2, (c / 2, left), "Y")):
        ux, uy = math.cos(angle), math.sin(angle)
        head = (at[0] + 2.5 * ux, at[1] + 2.5 * uy)
        tail = (at[0] - 2.5 * ux, at[1] - 2.5 * uy)
        marks += lettering.arrow(tail, head, head_mm=1.5)
        marks += lettering.strokes(
            text, height_mm=2.5, at=(at[0] + 3.0 * uy, at[1] + 3.0 * ux), anchor=Anchor.MIDDLE
        )
    # Over the first window stands what the piece is; its letter stands beside it.
    letter, x, y, size = windows[0]
    marks += lettering.strokes(
        letter, height_mm=2.0, at=(x + size + 2.2, y + size / 2), anchor=Anchor.MIDDLE
    )
    for letter, x, y, size in windows[1:]:
        marks += lettering.strokes(
            letter, height_mm=2.0, at=(x + size / 2, y + size + 1.0), anchor=Anchor.CENTRE
        )
    return marks


def _disc_marks(at: Point) -> _Marks:
    """Return the arrow that keeps the disc's X known once it is loose."""
    return [
        *lettering.arrow((at.x - 3.0, at.y - 1.5), (at.x + 3.0, at.y - 1.5), head_mm=1.5),
        *lettering.strokes("X", height_mm=2.5, at=(at.x, at.y + 1.5), anchor=Anchor.MIDDLE),
    ]


def _engraved(lines: tuple[str, ...], c: float, window_low: float) -> _Marks:
    """Return the shop's own lines, one under the other below the window of the second row."""
    marks: _Marks = []
    for i, line in enumerate(line for line in lines if line.strip()):
        marks += lettering.strokes(
            line,
            height_mm=min(2.0, _fitting(line, c - 4.5)),
            at=(1.5, window_low - 3.2 - 3.0 * i),
        )
    return marks


def _fitting(text: str, room_mm: float) -> float:
    """Return the letter height at which the text fills the room, 2.5 mm at most."""
    return min(2.5, 2.5 * room_mm / lettering.text_width_mm(text, 2.5))


def _ladders(
    pins_mm: tuple[float, ...], expected_kerf_mm: float, web: float
) -> tuple[list[Ladder], Region | None, _Marks]:
    """Return the fit ladders, one row a pin, the piece that holds them, and its letters."""
    ladders: list[Ladder] = []
    marks: _Marks = []
    holes: list[Contour] = []
    y = web
    width = 0.0
    for pin in pins_mm:
        if not 1.0 <= pin <= 25.0:
            raise InputError(
                f"pin of {pin:.4g} mm: ladders are made for pins from 1 to 25 mm",
                hint="give the diameter in millimetres",
            )
        middle = pin - expected_kerf_mm
        steps = range(-(LADDER_HOLES // 2), LADDER_HOLES // 2 + 1)
        drawn = tuple(round(middle + LADDER_STEP_MM * k, 4) for k in steps)
        pitch = pin + max(web, 3.0)
        centre_y = y + 4.0 + pin / 2
        at = tuple(Point(web + pin / 2 + pitch * i, centre_y) for i in range(LADDER_HOLES))
        for i, (point, diameter) in enumerate(zip(at, drawn, strict=True), start=1):
            holes.append(Contour.circle(point.x, point.y, diameter / 2))
            marks += lettering.strokes(
                str(i), height_mm=2.0, at=(point.x, y + 1.0), anchor=Anchor.CENTRE
            )
        label = f"Ø{pin:g}"
        end = at[-1].x + pin / 2 + 2.0
        marks += lettering.strokes(
            label, height_mm=2.5, at=(end, centre_y), anchor=Anchor.MIDDLE_LEFT
        )
        width = max(width, end + lettering.text_width_mm(label, 2.5) + web)
        ladders.append(Ladder(pin_mm=pin, holes_mm=drawn, at=at))
        y = centre_y + pin / 2 + web
    if not ladders:
        return [], None, []
    outer = Contour.rectangle(0.0, 0.0, width, y)
    return ladders, Region(outer=outer, holes=tuple(holes)), marks


def _moved(points: tuple[Point, ...], by: Transform) -> tuple[Point, ...]:
    return tuple(by.point(*p) for p in points)
