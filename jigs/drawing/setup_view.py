"""The picture of a set-up: plate and part as they stand in the machine, and where zero is.

The paper is the plane of the sheet seen so that the machine's axes run right and up. For XY
that is from above, Z toward the reader; for XZ from the front, Y away; for YZ from the +X
side, X toward the reader: right-handed each time. The picture is drawn at the largest scale
that fits its frame; letters keep their size.

Everything it says is in words and numbers that also stand in the datum table, so that the
two can be compared.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import shapely

from jigs import quantity
from jigs.drawing.board import Board
from jigs.drawing.dimensions import dimension
from jigs.drawing.labels import datum_flag, label
from jigs.drawing.scene import (
    CHAIN,
    FACE,
    HATCH,
    LETTER,
    LETTER_BOLD,
    PART,
    PLATE,
    Area,
    Figure,
    Ink,
    Pen,
    around,
    circle,
    polyline,
)
from jigs.drawing.symbols import (
    TRIAD_MM,
    contact_sign,
    finder_sign,
    target_sign,
    triad,
    wall_sign,
    zero_axes,
    zero_sign,
)
from jigs.guides.guide import Datum, Face, Plane
from kerf.contour import Bounds, Point, Region, Transform, Vector

#: Distance between hatch lines of the plate, mm on paper.
HATCH_PITCH_MM = 2.4

#: Times a figure is laid out anew at another scale before the last one stands.
_FITS = 5


#: The normal of a point that is not a contact.
_NOWHERE = Vector(0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A named point of the figure, sheet coordinates.

    Args:
        name: what is written.
        at: where, mm.
        normal: for a contact, the unit normal into the part; zero for a feature.
    """

    name: str
    at: Point
    normal: Vector = _NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A jaw, stop or rail, as a line that something rests against.

    Args:
        name: what is written ("fixed jaw"); empty when another stop says it.
        start, end: ends of the line, sheet coordinates, mm.
        normal: unit normal from it toward what it stops.
    """

    name: str
    start: Point
    end: Point
    normal: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """A round window on a small feature.

    Args:
        letter: its name.
        at: centre, sheet coordinates, mm.
        radius_mm: of the window, mm.
    """

    letter: str
    at: Point
    radius_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupView:
    """What the picture of a set-up shows, in sheet coordinates of its first plate, mm.

    Args:
        title: one line.
        plane: how the sheet stands.
        plates: finished sizes, the first on top.
        part: the part's outline where it lies.
        zero: program zero; None for a guide that sets none.
        work_offset: "G54" ….
        faces: faces that set an axis.
        datums: how X, Y and Z are set.
        contacts, features: named points, each with its sign.
        names: places that bear a name alone.
        stops: jaws and stops.
        flip_axis: direction of the axis the part was turned over about; none when it was not.
        details: windows on small features.
        copies: shift of each further part, mm.
        units: "mm" or "inch".
    """

    title: str
    plane: Plane
    plates: tuple[Region, ...]
    part: Region
    zero: Point | None
    work_offset: str
    faces: tuple[Face, ...]
    datums: tuple[Datum, ...]
    contacts: tuple[Spot, ...] = ()
    features: tuple[Spot, ...] = ()
    names: tuple[Spot, ...] = ()
    stops: tuple[Stop, ...] = ()
    flip_axis: Vector | None = None
    details: tuple[Detail, ...] = ()
    copies: tuple[Vector, ...] = ()
    units: str = "mm"


def setup_figure(view: SetupView, *, width_mm: float = 180.0, height_mm: float = 150.0) -> Figure:
    """Return the picture of a set-up, no larger than the frame.

    Args:
        view: what it shows.
        width_mm, height_mm: the frame on paper.
    """
    return fitted(
        lambda board: _draw_setup(board, view),
        model=around(tuple(region.bounds() for region in (*view.plates, view.part))),
        width_mm=width_mm,
        height_mm=height_mm,
        name="setup",
        title=view.title,
    )


def fitted(
    draw: Callable[[Board], None],
    *,
    model: Bounds,
    width_mm: float,
    height_mm: float,
    name: str,
    title: str,
) -> Figure:
    """Return the figure laid out at the largest scale that fits its frame.

    Letters do not scale, so the scale is found by laying out anew; a figure whose letters
    alone overflow the frame is returned at the smallest scale tried, whole.
    """
    scale = 0.8 * min(width_mm / model.width, height_mm / model.height)
    best: Figure | None = None
    for _ in range(_FITS):
        board = Board(Transform.scaling(scale))
        draw(board)
        figure = board.finished(name=name, title=title)
        fits = figure.width_mm <= width_mm and figure.height_mm <= height_mm
        if fits and (
            best is None or best.width_mm * best.height_mm <= figure.width_mm * figure.height_mm
        ):
            best = figure
        # What does not scale: the letters and signs round the model.
        around_w = figure.width_mm - scale * model.width
        around_h = figure.height_mm - scale * model.height
        wanted = min(
            max(width_mm - around_w, 0.2 * width_mm) / model.width,
            max(height_mm - around_h, 0.2 * height_mm) / model.height,
        )
        if fits and wanted < 1.03 * scale:
            break
        scale = 0.995 * wanted if not fits or wanted > scale else scale
    return best if best is not None else figure


def _draw_setup(board: Board, view: SetupView) -> None:
    """Draw the whole picture: model, signs, dimensions, flags, labels, axes."""
    _draw_model(board, view)
    zero = board.at(view.zero) if view.zero is not None else None
    across, up, _ = view.plane.axes
    for stop in view.stops:
        wall_sign(board, board.at(stop.start), board.at(stop.end), stop.normal)
    tails = [
        (face, datum, finder_sign(board, _touch_point(board, face, zero), face.normal))
        for face, datum in _touched(view)
    ]
    for spot in view.contacts:
        contact_sign(board, board.at(spot.at), spot.normal)
    for spot in view.features:
        target_sign(board, board.at(spot.at))
    if zero is not None:
        zero_sign(board, zero)
    for detail in view.details:
        board.draw(circle(board.at(detail.at), detail.radius_mm * board.scale, pen=_WINDOW))
    if zero is not None:
        zero_axes(board, zero, board.extent, (across, up))
    if view.flip_axis is not None:
        board.draw_soft(polyline(*(board.at(p) for p in _flip_ends(board, view)), pen=_FLIP))
    board.close_model()
    notes = _notes(board, view, tails)
    for note in notes:
        board.reserve(note.at)
    for face, datum, _ in tails:
        _face_dimension(board, view, face, datum)
    for face in view.faces:
        datum_flag(board, face.name, face.start, face.end, face.normal)
    for note in notes:
        label(board, note.lines, note.at, toward=note.toward, pen=note.pen, near_mm=note.near_mm)
    if zero is not None:
        _place_triad(board, view.plane)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Note:
    """A label to be set: its lines, its target in model coordinates, and how."""

    lines: tuple[str, ...]
    at: Point
    toward: Vector
    pen: Pen = LETTER
    near_mm: float = 4.0


def _notes(
    board: Board, view: SetupView, tails: list[tuple[Face, Datum, Point]]
) -> tuple[_Note, ...]:
    """Return every label of the picture, the weightiest first."""
    across, up, _ = view.plane.axes
    notes = []
    if view.zero is not None:
        notes.append(
            _Note(
                lines=(f"PROGRAM ZERO {view.work_offset}", f"{across}0 {up}0"),
                at=view.zero,
                toward=Vector(0.8, 0.6),
                pen=_ZERO_LETTER,
                near_mm=7.0,
            )
        )
    back = board.to_paper.inverse()
    # The finder that comes from above first: beside it stand the axis and the other's words.
    for face, datum, tail in sorted(tails, key=lambda row: -row[0].normal.y):
        n = face.normal
        notes.append(
            _Note(
                lines=_touch_lines(view, face, datum),
                at=back.point(*tail),
                toward=Vector(n.x + 0.3 * n.y, n.y + 0.3 * n.x),
            )
        )
    for spot in (*view.contacts, *view.features, *view.names):
        toward = Vector(-spot.normal.x + 0.1, -spot.normal.y + 0.3)
        notes.append(_Note(lines=(spot.name,), at=spot.at, toward=toward, near_mm=5.0))
    centre = view.part.bounds().centre
    for number, by in enumerate(view.copies, 2):
        at = Point(centre.x + by.x, centre.y + by.y)
        notes.append(_Note(lines=(f"copy {number}",), at=at, toward=Vector(0.3, 1.0)))
    for stop in (s for s in view.stops if s.name):
        middle = Point((stop.start.x + stop.end.x) / 2, (stop.start.y + stop.end.y) / 2)
        toward = Vector(-stop.normal.x, -stop.normal.y + 0.2)
        notes.append(_Note(lines=(stop.name,), at=middle, toward=toward))
    for detail in view.details:
        top = Point(detail.at.x, detail.at.y + detail.radius_mm)
        notes.append(
            _Note(
                lines=(f"DETAIL {detail.letter}",),
                at=top,
                toward=Vector(0.5, 0.8),
                pen=LETTER_BOLD,
            )
        )
    if view.flip_axis is not None:
        notes.append(
            _Note(
                lines=("part turned over", "about this axis"),
                at=_flip_ends(board, view)[0],
                toward=Vector(0.6, 0.8),
            )
        )
    return tuple(notes)


_ZERO_LETTER = Pen(width_mm=LETTER_BOLD.width_mm, ink=Ink.ACCENT)
_WINDOW = Pen(width_mm=0.3)
_FLIP = Pen(width_mm=0.3, dash=CHAIN.dash)


def _draw_model(board: Board, view: SetupView) -> None:
    """Draw plates, part and faces; hatch what is seen of the plates."""
    plates = [board.area(region, pen=PLATE) for region in view.plates]
    part = board.area(view.part, pen=PART, fill=Ink.PALE)
    more = [
        board.area(view.part.transformed(Transform.translation(*by)), pen=PART, fill=Ink.PALE)
        for by in view.copies
    ]
    lying = shapely.union_all([polygon(area) for area in (part, *more)])
    seen = shapely.union_all([polygon(area) for area in plates]).difference(lying)
    board.hatch(seen, pitch_mm=HATCH_PITCH_MM, angle_rad=math.pi / 4, pen=HATCH)
    for face in view.faces:
        board.draw(polyline(board.at(face.start), board.at(face.end), pen=FACE))


def polygon(area: Area) -> shapely.Polygon:
    """Return an area of the figure as a polygon."""
    region = area.region
    return shapely.Polygon(
        region.outer.facets(0.02), [hole.facets(0.02) for hole in region.holes]
    ).buffer(0)


def _touched(view: SetupView) -> list[tuple[Face, Datum]]:
    """Return the faces that set an axis of the plane, each with its datum."""
    by_name = {face.name: face for face in view.faces}
    pairs = []
    for datum in view.datums:
        face = by_name.get(datum.face.removeprefix("face "))
        if face is not None and datum.axis in view.plane.axes[:2]:
            pairs.append((face, datum))
    return pairs


def _touch_point(board: Board, face: Face, zero: Point | None) -> Point:
    """Return where the finder is drawn on a face, paper.

    Off the middle, so that its words find room beside the plate's corner, and off the zero
    line that crosses the face.
    """
    a, b = sorted((board.at(face.start), board.at(face.end)), key=lambda p: (p.y, p.x))
    points = [Point(a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)) for t in (0.3, 0.7, 0.5)]
    n = face.normal
    if zero is None:
        return points[0]
    return next(
        (p for p in points if abs((p.x - zero.x) * n.y - (p.y - zero.y) * n.x) > 8.0), points[0]
    )


def _face_dimension(board: Board, view: SetupView, face: Face, datum: Datum) -> None:
    """Dimension a face from program zero along its axis, on the side with more room."""
    origin = view.zero
    assert origin is not None  # a face that sets an axis is measured from zero
    level = datum.axis == view.plane.axes[0]
    offset = quantity.bare_length(datum.offset_mm, view.units, signed=True)
    near = min(
        (face.start, face.end),
        key=lambda p: abs((p.y - origin.y) if level else (p.x - origin.x)),
    )
    # The line lies off the other face's side, where the finder's label does not stand.
    others = [f for f in view.faces if f is not face]
    taken = others[0].normal if others else Vector(0.0, 0.0)
    if level:
        away = Vector(0.0, -1.0) if taken.y >= 0 else Vector(0.0, 1.0)
    else:
        away = Vector(1.0, 0.0) if taken.x <= 0 else Vector(-1.0, 0.0)
    dimension(
        board,
        near,
        origin,
        f"{datum.axis} {offset.replace('-', quantity.MINUS)}",
        away=away,
        ink=Ink.ACCENT,
        bold=True,
    )


def _touch_lines(view: SetupView, face: Face, datum: Datum) -> tuple[str, ...]:
    """Return what stands at the finder: the side, the face's place, the reading at touch."""
    said = quantity.length_text(datum.reading_mm, view.units, signed=True)
    first = f"touch {face.name} from {datum.side}"
    if datum.tip_radius_mm > 0:
        tip = quantity.length_text(2 * datum.tip_radius_mm, view.units)
        return (first, f"set {datum.axis} to {said}", f"tip Ø{tip}")
    return (first, f"set {datum.axis} to {said}")


def _flip_ends(board: Board, view: SetupView) -> tuple[Point, Point]:
    """Return the ends of the axis the part was turned over about, through its middle."""
    assert view.flip_axis is not None
    box, u = view.part.bounds(), view.flip_axis
    reach = 0.5 * (abs(u.x) * box.width + abs(u.y) * box.height) + 6.0 / board.scale
    c = box.centre
    return (
        Point(c.x + reach * u.x, c.y + reach * u.y),
        Point(c.x - reach * u.x, c.y - reach * u.y),
    )


def _place_triad(board: Board, plane: Plane) -> None:
    """Draw the axes in the first free corner, else under the figure."""
    box = board.extent
    side = TRIAD_MM
    spots = [
        Point(x, y) for y in (box.y_min, box.y_max - side) for x in (box.x_min, box.x_max - side)
    ]
    spots += [Point(box.x_min, box.y_min + step * (box.height - side) / 8) for step in range(1, 8)]
    for corner in spots:
        square = Bounds(corner.x, corner.y, corner.x + side, corner.y + side)
        if board.free(square, over_soft=False):
            break
    else:
        corner = Point(box.x_min, box.y_min - side - 2.0)
    triad(board, corner, plane.axes, toward=plane is not Plane.XZ)
