"""Whether the cutter and its holder reach where they must without touching.

Everything that stands about is a solid of one outline between two heights: guide plates, pins,
jaws, straps. What a cut sweeps, from its lowest height up, must not meet one; above a guide it
must clear it by a hand's sureness, and beside it leave room for chips. Heights run from the
part's lower face, as it lies in the set-up.

Where a plate may be cut away, the relief is what the cutter sweeps with its room round it; it
is refused where it would take a contact, a face that sets zero, or cut the plate in two.

Sources: clearances of 1 mm above and 2 mm of chip room beside a guide, common practice; the
figures overlaid are exact (arcs kept).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from jigs.finding import Finding, Severity
from jigs.holding.toolpath import ToolPath
from kerf.boolean import difference, intersection
from kerf.contour import Contour, Point, Region, Vector
from kerf.measure import region_gap
from kerf.offset import offset
from kerf.proof import faceted
from kerf.tolerance import CLASH_DUST_MM2, ROUGH_FACET_MM

#: Names of the jaws, as printed.
JAWS: Final = ("the fixed jaw", "the moving jaw")
#: How deep a jaw is, from its face, mm. Source: common practice.
JAW_MM: Final = 25.0
#: Least height between a cutter and what it passes over, mm.
ABOVE_MM: Final = 1.0
#: Least room for chips between a cutter and a wall beside it, mm.
CHIP_ROOM_MM: Final = 2.0
#: What is outside the part by less is not outside, mm.
_SLIVER_MM: Final = 3 * ROUGH_FACET_MM
#: Relief stands off what the cutter sweeps by this, mm.
RELIEF_MM: Final = 2.0
#: A relief stays this far from a contact, mm: half a pad and a sound corner.
CONTACT_KEEP_MM: Final = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """Something that stands about the part.

    Args:
        name: as printed ('plate "op20"', "the fixed jaw", "pin P1").
        shape: seen from above, set-up coordinates, mm.
        bottom_mm, top_mm: heights from the part's lower face, mm.
    """

    name: str
    shape: Region
    bottom_mm: float
    top_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """How near one cut comes to one obstacle.

    Args:
        cut: its name; empty for a jaw that closes.
        against: the obstacle's.
        what: "tool", "holder", or the jaw.
        clash: where they meet, seen from above; empty when they do not.
        gap_mm: least distance seen from above, mm.
        above_mm: height of the cutter over the obstacle, mm; negative when it is below its top.
            For a jaw, the height they share.
        room_mm: least distance to what of the cutter is outside the part, mm: where chips must
            go; infinite when all of it is inside.
    """

    cut: str
    against: str
    what: str
    clash: tuple[Region, ...]
    gap_mm: float
    above_mm: float
    room_mm: float = math.inf

    @property
    def ok(self) -> bool:
        """Whether they do not meet."""
        return not self.clash

    @property
    def at(self) -> Point:
        """A point well inside the largest overlap; there is one."""
        largest = max(self.clash, key=lambda region: region.area_mm2)
        inside = faceted(largest, ROUGH_FACET_MM).representative_point()
        return Point(inside.x, inside.y)


def access(
    path: ToolPath, obstacle: Obstacle, *, part: BaseGeometry | None = None
) -> tuple[Access, ...]:
    """Return how near a cut's tool, and its holder when it is known, come to an obstacle.

    Args:
        path: the cut.
        obstacle: what stands there.
        part: as it lies, seen from above; None leaves room for chips out.
    """
    looks = [("tool", path.swept, path.low_mm)]
    if path.cut.holder_mm > path.cut.diameter_mm and path.cut.reach_mm > 0:
        grown = (path.cut.holder_mm - path.cut.diameter_mm) / 2
        shapes = tuple(r for swept in path.swept for r in offset(swept, grown).regions)
        looks.append(("holder", shapes, path.low_mm + path.cut.reach_mm))
    found = []
    for what, shapes, low in looks:
        gap = min((region_gap(s, obstacle.shape).distance_mm for s in shapes), default=math.inf)
        meets = gap == 0.0 and low < obstacle.top_mm
        clash = tuple(
            part
            for shape in (shapes if meets else ())
            for part in intersection(shape, obstacle.shape)
            if part.area_mm2 > CLASH_DUST_MM2
        )
        found.append(
            Access(
                cut=path.cut.name,
                against=obstacle.name,
                what=what,
                clash=clash,
                gap_mm=gap,
                above_mm=low - obstacle.top_mm,
                room_mm=room_mm(shapes, obstacle.shape, part) if part is not None else math.inf,
            )
        )
    return tuple(found)


def room_mm(shapes: Sequence[Region], other: Region, part: BaseGeometry) -> float:
    """Return how far from something the cutter is where it is outside the part, mm.

    Infinite when it is nowhere outside.
    """
    outside = shapely.union_all([faceted(s, ROUGH_FACET_MM) for s in shapes]).difference(part)
    outside = outside.buffer(-_SLIVER_MM)  # facets leave slivers along the part's own edge
    if outside.is_empty:
        return math.inf
    return max(0.0, float(outside.distance(faceted(other, ROUGH_FACET_MM))) - _SLIVER_MM)


def holder_on_part(path: ToolPath, part: Region, *, height_mm: float) -> Access | None:
    """Return how the holder stands to the part beside the cut; None when no holder is given.

    The holder comes down to its reach above the lowest height; what it covers beyond the
    cutter must be below that.
    """
    cut = path.cut
    if not (cut.reach_mm > 0 and cut.holder_mm > cut.diameter_mm):
        return None
    low = path.low_mm + cut.reach_mm
    clash: tuple[Region, ...] = ()
    if low < height_mm:
        grown = (cut.holder_mm - cut.diameter_mm) / 2
        clash = tuple(
            left
            for swept in path.swept
            for wide in offset(swept, grown).regions
            for rim in difference(wide, (swept,))
            for left in intersection(rim, part)
            if left.area_mm2 > CLASH_DUST_MM2
        )
    return Access(
        cut=cut.name,
        against="the part",
        what="holder",
        clash=clash,
        gap_mm=0.0 if clash else math.inf,
        above_mm=low - height_mm,
    )


def check_access(found: Sequence[Access], *, subject: str) -> list[Finding]:
    """Return a failed check for each clash, and a warning where room is short."""
    findings = []
    for item in found:
        where = f'{subject}: cut "{item.cut}"'
        if not item.cut:
            findings.append(_squeezed(item, subject))
        elif item.clash:
            box = max(item.clash, key=lambda region: region.area_mm2).bounds()
            hint = _around(item.against) if item.what == "tool" else _HOLDER
            findings.append(
                Finding(
                    code=f"clash-{item.what}",
                    severity=Severity.FAIL,
                    subject=where,
                    message=(
                        f"the {item.what} meets {item.against} over {box.width:.1f} × "
                        f"{box.height:.1f} mm about ({item.at.x:.1f}, {item.at.y:.1f}) mm "
                        f"of the set-up, {-item.above_mm:.2f} mm below its top"
                    ),
                    measured=item.above_mm,
                    limit=ABOVE_MM,
                    unit="mm",
                    hint=hint,
                )
            )
        elif item.gap_mm == 0.0 and item.above_mm < ABOVE_MM:
            findings.append(
                Finding(
                    code="close-above",
                    severity=Severity.WARN,
                    subject=where,
                    message=(
                        f"the {item.what} passes {item.above_mm:.2f} mm above {item.against}; "
                        f"at least {ABOVE_MM:.1f} mm is sure"
                    ),
                    measured=item.above_mm,
                    limit=ABOVE_MM,
                    unit="mm",
                    hint="raise the cut, or lower what stands there",
                )
            )
        elif item.above_mm < 0 and item.room_mm < CHIP_ROOM_MM:
            findings.append(
                Finding(
                    code="chip-room",
                    severity=Severity.WARN,
                    subject=where,
                    message=(
                        f"only {item.room_mm:.2f} mm between the {item.what} and {item.against}: "
                        "chips pack there and press the part off its contacts"
                    ),
                    measured=item.room_mm,
                    limit=CHIP_ROOM_MM,
                    unit="mm",
                    hint=f"{_around(item.against)}; blow chips out between passes",
                )
            )
    return findings


def _squeezed(item: Access, subject: str) -> Finding:
    """Return the failed check for a jaw that closes on a plate."""
    return Finding(
        code="guide-squeezed",
        severity=Severity.FAIL,
        subject=subject,
        message=(
            f"{item.what} closes on {item.against} about ({item.at.x:.1f}, {item.at.y:.1f}) mm "
            f"of the set-up, over {item.above_mm:.1f} mm of height: the vise grips the guide, "
            "not the part"
        ),
        measured=item.above_mm,
        limit=0.0,
        unit="mm",
        hint="let the jaws close where no plate stands, or hold the part another way",
    )


_HOLDER: Final = "let the tool stick out further, or take a slimmer holder"
#: What to do about what a tool meets, by the first word that its name holds.
_AROUND: Final = (
    ("ledge", "cut the step's ledge narrower there, or stop the cut above it"),
    ("floor", "stop the cut higher, or stand the part on higher parallels"),
    ("jaw", "grip lower (higher parallels, a taller foot), or keep the cut away from the jaws"),
    ("clamp", "move the clamp off the path"),
    ("pin", "take a shorter pin, or raise the cut"),
    ("part", "set the parts further apart"),
)


def _around(against: str) -> str:
    """Return what to do about something that the tool meets."""
    return next(
        (hint for word, hint in _AROUND if word in against and "plate" not in against),
        "raise the cut, turn the part, or move the contacts: relief cuts a corner guide or a fence "
        "away, but not at a contact or a face that sets zero",
    )


def relieved(
    plate: Region,
    path: ToolPath,
    *,
    contacts: Sequence[Point],
    faces: Sequence[tuple[Point, Point]],
) -> Region | None:
    """Return a plate with room cut into it for a cut; None where it must not be.

    Args:
        plate: set-up coordinates.
        path: the cut.
        contacts: where the part rests on this plate.
        faces: ends of the plate's faces that set zero.
    Raises:
        GeometryError: the relief could not be worked out.
    """
    rooms = tuple(r for swept in path.swept for r in offset(swept, RELIEF_MM).regions)
    for room in rooms:
        if any(room.distance_mm(*at) < CONTACT_KEEP_MM for at in contacts):
            return None
        for a, b in faces:
            strip = strip_before(a, b, _outward(a, b), 0.5)
            if region_gap(room, strip).distance_mm == 0.0:
                return None
    left = difference(plate, rooms)
    return left[0] if len(left) == 1 else None


def _outward(a: Point, b: Point) -> Vector:
    """Return the unit normal to the right of a → b: out of material on the left."""
    size = math.dist(a, b)
    return Vector((b.y - a.y) / size, -(b.x - a.x) / size)


def strip_before(a: Point, b: Point, normal: Vector, width_mm: float) -> Region:
    """Return the rectangle in front of an edge."""
    dx, dy = normal.x * width_mm, normal.y * width_mm
    return Region(outer=Contour.of((a, b, (b.x + dx, b.y + dy), (a.x + dx, a.y + dy))))
