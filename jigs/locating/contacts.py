"""Where part meets locator: contacts in the plane of the sheet, and supports under the part.

A contact is a point of the part's edge, the unit normal there *into* the part, and what makes
it vary. The locator stands on the other side of the edge, at ``-normal``, and can only push
along ``normal``; a pin in a bore holds both ways. Two curvatures matter beyond first order:
the part's edge (``radius_mm``) and the locator's nose (``locator_radius_mm``).

A variation is a ``Source``: how far one cause moves the contact along its normal. Causes that
act on several contacts at once are *tied*: one kerf moves every wall of a sheet together
(``Tie.TOGETHER``, fully correlated), and the float of a round pin lies within a circle, not a
square (``Tie.ROUND``). Taking tied causes as independent would overstate the worst case and
misstate the rest. Source: JCGM 100:2008, 5.2.2 (correlated input quantities).

A cause that moves the whole guide under the spindle (picking up a face, tramming, growth of
the part) is a ``FrameSource``.

Refused: normals that are not unit vectors, negative limits, clearances and radii, a pin that
does not enter its bore, a hollow edge tighter than the locator that should sit in it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kerf.contour import Contour, Edge, Point, Region, Vector
from kerf.errors import GeometryError
from kerf.tolerance import CONTACT_ON_EDGE_MM, UNIT_VECTOR

ORIGIN: Final = Point(0.0, 0.0)
NOWHERE: Final = Vector(0.0, 0.0)


class ContactKind(StrEnum):
    """What the part rests against."""

    WALL = "wall"  #: a cut wall of the guide, a jaw or a stop
    PIN = "pin"  #: a round pin in a bore
    RELIEVED_PIN = "relieved pin"  #: a pin relieved along one direction, in a bore
    SUPPORT = "support"  #: a point under the part (Z)


class Tie(StrEnum):
    """How a source moves with the other sources of its group."""

    ALONE = "alone"  #: independent of everything
    TOGETHER = "together"  #: one cause: the whole group moves at once, each by its own sign
    ROUND = "round"  #: the group's movements lie within a circle (float of a round pin)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One cause of variation along a contact's normal.

    Args:
        name: what it is ("kerf", "part edge", "pin fit", "temperature").
        limit_mm: greatest ± it moves the contact along the normal, mm, >= 0.
        u_mm: its standard uncertainty, mm, >= 0.
        tie: how it moves with the other sources of ``group``.
        group: identity of the shared cause; empty when the source stands alone.
        sign: +1 or -1: which way this contact moves when the shared cause is positive.
    """

    name: str
    limit_mm: float
    u_mm: float
    tie: Tie = Tie.ALONE
    group: str = ""
    sign: int = 1

    def __post_init__(self) -> None:
        if not (0 <= self.limit_mm < math.inf and 0 <= self.u_mm < math.inf):
            raise GeometryError(
                f'source "{self.name}": limit and uncertainty must be 0 mm or more, '
                f"not {self.limit_mm:.4g} and {self.u_mm:.4g} mm"
            )
        if (self.tie is Tie.ALONE) != (self.group == ""):
            raise GeometryError(f'source "{self.name}": a tie and its group go together')
        if self.sign not in (1, -1):
            raise GeometryError(f'source "{self.name}": the sign is +1 or -1')


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameSource:
    """A cause that moves the whole guide, or the part in it, under the spindle.

    A unit of the cause moves the point f by ``shift + turn · z×(f − about) + stretch (f − about)``.

    Args:
        name: what it is ("pick-up", "tram", "temperature").
        limit: greatest ± of the cause: mm for a shift, rad for a turn, 1 for a stretch, >= 0.
        u: its standard uncertainty, same unit, >= 0.
        shift: movement per unit, part coordinates.
        turn: 1 when the cause is a turn, counter-clockwise, else 0.
        stretch: 1 when the cause is a growth, else 0.
        about: the point that stays, mm.
        group: identity of a cause shared with contacts' sources (``Tie.TOGETHER``); else empty.
    """

    name: str
    limit: float
    u: float
    shift: Vector = NOWHERE
    turn: float = 0.0
    stretch: float = 0.0
    about: Point = ORIGIN
    group: str = ""

    def __post_init__(self) -> None:
        if not (0 <= self.limit < math.inf and 0 <= self.u < math.inf):
            raise GeometryError(f'source "{self.name}": limit and uncertainty must be 0 or more')

    def moves(self, at: Point) -> Vector:
        """Return how a unit of the cause moves the point ``at``."""
        dx, dy = at.x - self.about.x, at.y - self.about.y
        return Vector(
            self.shift.x - self.turn * dy + self.stretch * dx,
            self.shift.y + self.turn * dx + self.stretch * dy,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """One place where the part touches a locator.

    Args:
        name: engraved or printed name ("X1").
        at: position, mm, part coordinates; the bore's centre for a pin.
        normal: unit normal at the contact, into the part; ignored for a support, whose
            normal is +Z.
        kind: what the part rests against.
        on: name of the face, jaw or pin it touches.
        sources: what makes it vary.
        radius_mm: radius of curvature of the part's edge there, mm; positive where the part
            bulges toward the locator, negative where it is hollow, 0 for a straight edge.
        z_mm: height at which it touches, mm.
        locator_radius_mm: radius of the locator's nose, mm; 0 for a point, infinite for a flat
            wall against a bulging edge.
    """

    name: str
    at: Point
    normal: Vector
    kind: ContactKind
    on: str
    sources: tuple[Source, ...] = ()
    radius_mm: float = 0.0
    z_mm: float = 0.0
    locator_radius_mm: float = 0.0

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, (*self.at, *self.normal, self.radius_mm, self.z_mm))):
            raise GeometryError(f'contact "{self.name}" has a number that is not finite')
        size = math.hypot(*self.normal)
        if self.kind is not ContactKind.SUPPORT and abs(size - 1) > UNIT_VECTOR:
            raise GeometryError(
                f'contact "{self.name}": the normal must be a unit vector, its length is {size:.6g}'
            )
        if not self.locator_radius_mm >= 0:
            raise GeometryError(f'contact "{self.name}": a locator\'s radius is 0 mm or more')
        if self.radius_mm < 0 and self.locator_radius_mm >= -self.radius_mm:
            raise GeometryError(
                f'contact "{self.name}": a locator of radius {self.locator_radius_mm:.4g} mm does '
                f"not fit into a hollow of radius {-self.radius_mm:.4g} mm"
            )

    @property
    def limit_mm(self) -> float:
        """Greatest ± along the normal when every source is at its limit, mm."""
        return sum(source.limit_mm for source in self.sources)

    @property
    def holds_both_ways(self) -> bool:
        """Whether the locator pulls as well as pushes: a pin in a bore."""
        return self.kind in (ContactKind.PIN, ContactKind.RELIEVED_PIN)


def part_radius_mm(edge: Edge) -> float:
    """Return the edge's radius in the sign of ``Contact.radius_mm``, mm; 0 for a line."""
    if edge.is_line:
        return 0.0
    return math.copysign(edge.radius_mm, edge.bulge)


def contact_at_length(
    loop: Contour,
    s_mm: float,
    *,
    name: str,
    on: str,
    sources: tuple[Source, ...] = (),
    z_mm: float = 0.0,
    locator_radius_mm: float = 0.0,
) -> Contact:
    """Return the contact on a loop of a region at length s_mm from its first vertex.

    Args:
        loop: outer loop or hole of a ``Region`` (material to the left), mm.
        s_mm: length along the loop, mm; counted round the ring.
        name, on, sources, z_mm, locator_radius_mm: see ``Contact``.
    """
    index, t = loop.locate(s_mm)
    return _wall_on(loop.edge(index), t, name, on, sources, z_mm, locator_radius_mm)


def contact_at_point(
    region: Region,
    at: Point,
    *,
    name: str,
    on: str,
    sources: tuple[Source, ...] = (),
    z_mm: float = 0.0,
    locator_radius_mm: float = 0.0,
) -> Contact:
    """Return the contact at a point of the part's edge, snapped onto it.

    Args:
        region: the part.
        at: a point on its edge, mm.
        name, on, sources, z_mm, locator_radius_mm: see ``Contact``.
    Raises:
        GeometryError: the point lies off the edge by more than ``CONTACT_ON_EDGE_MM``.
    """
    loop, (index, point, distance) = min(
        ((loop, loop.nearest(at.x, at.y)) for loop in region.loops()), key=lambda pair: pair[1][2]
    )
    if distance > CONTACT_ON_EDGE_MM:
        raise GeometryError(
            f'contact "{name}" at ({at.x:.4g}, {at.y:.4g}) is {distance:.3f} mm off the outline',
            hint=f"the nearest point of the edge is ({point.x:.4f}, {point.y:.4f})",
        )
    edge = loop.edge(index)
    t = share_along(edge, point)
    return _wall_on(edge, t, name, on, sources, z_mm, locator_radius_mm)


def _wall_on(
    edge: Edge,
    t: float,
    name: str,
    on: str,
    sources: tuple[Source, ...],
    z_mm: float,
    locator_radius_mm: float,
) -> Contact:
    """Return the wall contact at share t of an edge."""
    return Contact(
        name=name,
        at=edge.point_at(t),
        normal=edge.normal_at(t),
        kind=ContactKind.WALL,
        on=on,
        sources=sources,
        radius_mm=part_radius_mm(edge),
        z_mm=z_mm,
        locator_radius_mm=locator_radius_mm,
    )


def bore_contacts(
    name: str,
    centre: Point,
    *,
    bore_diameter_mm: float,
    pin_diameter_mm: float,
    bore_tolerance_mm: float = 0.0,
    pin_tolerance_mm: float = 0.0,
    relief: Vector | None = None,
    on: str = "",
    sources: tuple[Source, ...] = (),
    z_mm: float = 0.0,
) -> tuple[Contact, ...]:
    """Return the contacts of a pin in a bore: two for a round pin, one for a relieved one.

    The float is half the greatest diametral clearance, within a circle for a round pin and
    across the relief for a relieved one.

    Args:
        name: stem of the contacts' names.
        centre: centre of the bore, part coordinates, mm.
        bore_diameter_mm, pin_diameter_mm: nominal sizes, mm.
        bore_tolerance_mm, pin_tolerance_mm: ± on each diameter, mm, >= 0.
        relief: unit direction along which the pin is relieved; none for a round pin.
        on: name of the pin; ``name`` when empty.
        sources: further variation of the pin's place, the same along each normal.
        z_mm: height of the contact, mm.
    Raises:
        GeometryError: the largest pin does not enter the smallest bore.
    Source: clearance as for clearance fits, ISO 286-1 (greatest clearance = largest bore less
        smallest pin).
    """
    least = (bore_diameter_mm - bore_tolerance_mm) - (pin_diameter_mm + pin_tolerance_mm)
    if not (least >= 0 and bore_tolerance_mm >= 0 and pin_tolerance_mm >= 0):
        raise GeometryError(
            f'pin "{name}": the largest pin is {pin_diameter_mm + pin_tolerance_mm:.4f} mm and the '
            f"smallest bore {bore_diameter_mm - bore_tolerance_mm:.4f} mm: "
            f"a clearance of {least:.4f} mm",
            hint="take a smaller pin; the clearance must be 0 or more",
        )
    most = (bore_diameter_mm + bore_tolerance_mm) - (pin_diameter_mm - pin_tolerance_mm)
    round_pin = relief is None
    # Uniform over a disc of radius r has standard deviation r/2 along any axis; uniform over
    # ±r has r/√3 (JCGM 100:2008, 4.3.7).
    fit = Source(
        name="pin fit",
        limit_mm=most / 2,
        u_mm=most / 4 if round_pin else most / 2 / math.sqrt(3),
        tie=Tie.ROUND if round_pin else Tie.ALONE,
        group=f"float of {name}" if round_pin else "",
    )
    if relief is None:
        normals = {f"{name}x": Vector(1.0, 0.0), f"{name}y": Vector(0.0, 1.0)}
    else:
        normals = {name: Vector(-relief.y, relief.x)}
    return tuple(
        Contact(
            name=label,
            at=centre,
            normal=normal,
            kind=ContactKind.PIN if round_pin else ContactKind.RELIEVED_PIN,
            on=on or name,
            sources=(fit, *sources),
            z_mm=z_mm,
        )
        for label, normal in normals.items()
    )


def support_contact(
    name: str, at: Point, *, on: str, sources: tuple[Source, ...] = (), z_mm: float = 0.0
) -> Contact:
    """Return a support under the part at ``at``, its top at height z_mm."""
    return Contact(
        name=name,
        at=at,
        normal=Vector(0.0, 0.0),
        kind=ContactKind.SUPPORT,
        on=on,
        sources=sources,
        z_mm=z_mm,
    )


def share_along(edge: Edge, point: Point) -> float:
    """Return the share of the edge's length at which ``point``, on the edge, lies."""
    if edge.is_line:
        dx, dy = edge.end.x - edge.start.x, edge.end.y - edge.start.y
        t = ((point.x - edge.start.x) * dx + (point.y - edge.start.y) * dy) / (dx * dx + dy * dy)
    else:
        c = edge.centre
        a = math.atan2(edge.start.y - c.y, edge.start.x - c.x)
        b = math.atan2(point.y - c.y, point.x - c.x)
        turn = (b - a) % math.tau if edge.bulge > 0 else (a - b) % math.tau
        t = turn / abs(edge.sweep_rad)
        if t > 1.0:  # a hair before the start reads as nearly a full turn
            t = 0.0 if math.tau - turn < turn - abs(edge.sweep_rad) else 1.0
    return min(1.0, max(0.0, t))
