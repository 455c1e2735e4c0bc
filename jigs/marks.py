"""What is burnt on the plastic: face names with arrows, identity, UP, and a bar of known length.

Every mark is placed by search over the free part of the plate: whole inside the finished
region, at least ``MARK_CLEAR_MM`` from any cut and from every mark placed before it. Face
names go first, each beside the middle of its face with an arrow that points at it; then the
way up, the identity lines (one block, or line by line where that finds no room), and the
scale bar. Letters shrink in fixed steps before a mark is given up, and a mark that finds no
room is a finding that names it: nothing is squeezed onto an edge that sets zero.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from jigs.finding import Finding, Severity
from jigs.guides.guide import Face, Plane, Plate
from kerf import lettering
from kerf.beam import Operation, Stroke
from kerf.contour import Contour, Point, Region, Transform
from kerf.lean import LeanUse
from kerf.lettering import Anchor
from kerf.tolerance import FACET_MM, MARK_CLEAR_MM

#: Heights of letters tried, largest first, mm: 4 reads at arm's length, 2 is the least a
#: 0.2 mm beam draws open. Source: common practice.
LETTER_HEIGHTS_MM: Final = (4.0, 3.5, 3.0, 2.5, 2.0)

#: Lengths of the scale bar tried, longest first, mm: the longer it is the more it tells.
SCALE_BARS_MM: Final = (100.0, 50.0, 25.0, 10.0)

#: Line pitch of a block of text, in letter heights.
LINE_PITCH: Final = 1.8

Polylines = tuple[tuple[Point, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """The marks of one plate.

    Args:
        strokes: what to burn, sheet coordinates.
        findings: the marks that found no room.
    """

    strokes: tuple[Stroke, ...]
    findings: tuple[Finding, ...]


def plate_marks(
    *,
    plate: str,
    region: Region,
    plane: Plane,
    faces: tuple[Face, ...],
    lines: tuple[str, ...],
    keep_clear: tuple[Contour, ...] = (),
    taken: tuple[tuple[Point, ...], ...] = (),
    identity_only: bool = False,
    use: LeanUse = LeanUse.ALLOWED,
    mirror_writing: bool = False,
) -> Marks:
    """Return the marks of a plate, placed clear of its cuts and of each other.

    Args:
        plate: its name.
        region: its finished size, sheet coordinates.
        plane: how it stands in the machine; says which way the direction arrow reads.
        faces: the faces to name (those of other plates are passed over).
        lines: identity: job and revision, guide, kerf card, thickness; one string a line.
        keep_clear: outlines no mark may cross, such as the part's on a pin plate.
        taken: what the guide itself engraves; no mark may touch it.
        identity_only: for a small piece: no direction arrow, no scale bar.
        use: whether the plate lies as it was cut or is turned over, which the marks say.
        mirror_writing: for a plate turned over whose marks are read on the face that lies down.
    Raises:
        InputError: a character that cannot be engraved, named.
    """
    space = _Space(region, keep_clear, taken)
    placed: list[Polylines] = []
    findings: list[Finding] = []

    def put(choices: Iterator[Polylines]) -> bool:
        found = next((c for c in choices if space.is_free(c)), None)
        if found is not None:
            space.take(found)
            placed.append(found)
        return found is not None

    def written(marks: list[Polylines]) -> list[Polylines]:
        return [lettering.mirror_written(mark) for mark in marks] if mirror_writing else marks

    def add(what: str, choices: Iterator[Polylines]) -> None:
        if not put(choices):
            findings.append(_no_room(plate, what))

    for face in faces:
        if face.plate == plate:
            add(f"the name and arrow of face {face.name}", _face_choices(face, mirror_writing))
    way = "+Y" if plane is Plane.XY else "UP"
    ups = [lettering.up_mark((0.0, 0.0), height_mm=h, text=way) for h in LETTER_HEIGHTS_MM]
    if not identity_only:
        add(f'the "{way}" arrow', space.choices(written(ups), turn=False))
    told = lines if plane is not Plane.XY else (*lines, _way_up(use, mirror_writing))
    told = tuple(line for line in told if line.strip())
    if told and not put(space.choices(written(_sizes(told)), turn=True)):
        for line in told:
            add(f'"{line}"', space.choices(written(_sizes((line,))), turn=True))
    bars = [lettering.scale_bar((0.0, 0.0), length_mm=s, height_mm=2.5) for s in SCALE_BARS_MM]
    if not identity_only:
        add("the scale bar", space.choices(written(bars), turn=True))
    return Marks(
        strokes=tuple(
            Stroke(operation=Operation.ENGRAVE, points=points, piece=plate)
            for mark in placed
            for points in mark
        ),
        findings=tuple(findings),
    )


def _way_up(use: LeanUse, mirror_writing: bool) -> str:
    """Return what a plate that lies flat says of its faces."""
    if use is LeanUse.ALLOWED:
        return "THIS SIDE UP"
    return "THIS SIDE DOWN" if mirror_writing else "ENGRAVED SIDE DOWN"


def check_marks(plate: Plate) -> tuple[Finding, ...]:
    """Return a finding for every engraved stroke that is off the plate or too near a cut.

    The least distance is ``MARK_CLEAR_MM``; scores and references are not engraving.
    """
    rings = _rings(plate.region)
    body = _polygon(plate.region)
    findings = []
    for stroke in plate.strokes:
        if stroke.operation is not Operation.ENGRAVE:
            continue
        line = shapely.LineString(stroke.points)
        distance = line.distance(rings) if body.contains(line) else 0.0
        if distance < MARK_CLEAR_MM - 2 * FACET_MM:
            findings.append(
                Finding(
                    code="mark-near-cut",
                    severity=Severity.WARN,
                    subject=f'plate "{plate.name}": engraving',
                    message=(
                        f"a mark near ({stroke.points[0].x:.1f}, {stroke.points[0].y:.1f}) mm "
                        f"lies {distance:.2f} mm from a cut; it must keep {MARK_CLEAR_MM:.2f} mm"
                    ),
                    measured=distance,
                    limit=MARK_CLEAR_MM,
                    unit="mm",
                    hint="move the mark inward or make the plate larger",
                )
            )
    return tuple(findings)


def _no_room(plate: str, what: str) -> Finding:
    """Return the finding for a mark that was left off."""
    return Finding(
        code="mark-no-room",
        severity=Severity.WARN,
        subject=f'plate "{plate}": engraving',
        message=f"no room for {what}, {MARK_CLEAR_MM:g} mm clear of every cut: it is left off",
        hint="make the plate larger, or write it on by hand",
    )


def _polygon(region: Region) -> shapely.Polygon:
    """Return the region as a polygon of micrometre facets."""
    return shapely.Polygon(region.outer.facets(), [hole.facets() for hole in region.holes])


def _rings(region: Region) -> BaseGeometry:
    """Return every cut edge of the region as lines."""
    return shapely.MultiLineString(
        [shapely.LinearRing(loop.facets()).coords for loop in region.loops()]
    )


def _moved(mark: Polylines, by: Transform) -> Polylines:
    """Return the polylines after a map, written out because a plate tries hundreds of places."""
    a, b, c, d, e, f = by.a, by.b, by.c, by.d, by.e, by.f
    return tuple(
        tuple(Point(a * x + b * y + c, d * x + e * y + f) for x, y in part) for part in mark
    )


def _box(mark: Polylines) -> tuple[float, float, float, float]:
    """Return the box of the polylines, mm."""
    xs = [p.x for part in mark for p in part]
    ys = [p.y for part in mark for p in part]
    return min(xs), min(ys), max(xs), max(ys)


def _block(lines: tuple[str, ...], height_mm: float) -> Polylines:
    """Return lines of text under each other, the first on top."""
    return tuple(
        part
        for i, line in enumerate(lines)
        for part in lettering.strokes(
            line, height_mm=height_mm, at=(0.0, -i * LINE_PITCH * height_mm)
        )
    )


def _sizes(lines: tuple[str, ...]) -> list[Polylines]:
    """Return the block at every height tried, largest first."""
    return [_block(lines, height) for height in LETTER_HEIGHTS_MM]


def _face_choices(face: Face, mirror_writing: bool) -> Iterator[Polylines]:
    """Yield places for a face's name and arrow: middle first, then along it both ways."""
    ux, uy = face.end.x - face.start.x, face.end.y - face.start.y
    length = math.hypot(ux, uy)
    ux, uy = ux / length, uy / length
    nx, ny = face.normal
    for height in LETTER_HEIGHTS_MM:
        reach = MARK_CLEAR_MM + 0.25
        for step in range(21):
            along = length / 2 + (-1) ** step * ((step + 1) // 2) * length / 22
            foot = Point(face.start.x + along * ux, face.start.y + along * uy)
            tip = (foot.x - reach * nx, foot.y - reach * ny)
            tail = (tip[0] - 1.6 * height * nx, tip[1] - 1.6 * height * ny)
            shaft = lettering.arrow(tail, tip, head_mm=0.7 * height)
            width = lettering.text_width_mm(face.name, height)
            # The name stands upright behind the tail, far enough back to clear it.
            back = (abs(nx) * width + abs(ny) * height) / 2 + 0.5 * height
            at = (tail[0] - back * nx, tail[1] - back * ny)
            name = lettering.strokes(face.name, height_mm=height, at=at, anchor=Anchor.MIDDLE)
            yield (*shaft, *(lettering.mirror_written(name) if mirror_writing else name))


class _Space:
    """The free part of a plate while marks are being placed."""

    def __init__(
        self,
        region: Region,
        keep_clear: tuple[Contour, ...],
        taken: tuple[tuple[Point, ...], ...],
    ) -> None:
        free: BaseGeometry = _polygon(region).buffer(-MARK_CLEAR_MM - FACET_MM, quad_segs=32)
        for loop in keep_clear:
            free = free.difference(shapely.LinearRing(loop.facets()).buffer(MARK_CLEAR_MM))
        if taken:
            lines = shapely.MultiLineString([points for points in taken if len(points) > 1])
            free = free.difference(lines.buffer(MARK_CLEAR_MM))
        self._free = free

    def is_free(self, mark: Polylines) -> bool:
        """Return whether the box of the mark lies whole in the free part."""
        return bool(self._free.contains(shapely.box(*_box(mark))))

    def take(self, mark: Polylines) -> None:
        """Take the mark's box and its margin out of the free part."""
        self._free = self._free.difference(shapely.box(*_box(mark)).buffer(MARK_CLEAR_MM))

    def choices(self, sizes: list[Polylines], *, turn: bool) -> Iterator[Polylines]:
        """Yield the first free place of each size, generous margins and level text first.

        Args:
            sizes: the mark about any origin, best size first.
            turn: whether the mark may also stand on its end.
        """
        if self._free.is_empty:
            return
        x0, y0, x1, y1 = self._free.bounds
        step = max(1.0, max(x1 - x0, y1 - y0) / 80)
        for mark, margin, angle in itertools.product(
            sizes, (2.0, 0.0), (0.0, math.pi / 2) if turn else (0.0,)
        ):
            turned = _moved(mark, Transform.rotation(angle))
            a, b, c, d = _box(turned)
            xs = np.arange(x0 + margin, x1 - margin - (c - a) + step / 2, step)
            ys = np.arange(y0 + margin, y1 - margin - (d - b) + step / 2, step)
            if not (len(xs) and len(ys)):
                continue
            gy, gx = (grid.ravel() for grid in np.meshgrid(ys, xs, indexing="ij"))
            boxes = shapely.box(
                gx - margin, gy - margin, gx + (c - a) + margin, gy + (d - b) + margin
            )
            shapely.prepare(self._free)
            hits = np.flatnonzero(shapely.contains(self._free, boxes))
            if len(hits):
                i = int(hits[0])
                yield _moved(turned, Transform.translation(float(gx[i]) - a, float(gy[i]) - b))
