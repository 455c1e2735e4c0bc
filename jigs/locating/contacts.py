"""Where part meets locator: contacts in the plane of the sheet, and supports under the part."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from kerf.contour import Point, Vector


class ContactKind(StrEnum):
    """What the part rests against."""

    WALL = "wall"  #: a cut wall of the guide, a jaw or a stop
    PIN = "pin"  #: a round pin in a bore
    RELIEVED_PIN = "relieved pin"  #: a pin relieved along one direction, in a bore
    SUPPORT = "support"  #: a point under the part (Z)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One cause of variation along a contact's normal.

    Args:
        name: what it is ("kerf", "part edge", "pin fit", "temperature").
        limit_mm: greatest ± it moves the contact along the normal, mm, >= 0.
        u_mm: its standard uncertainty, mm, >= 0.
    """

    name: str
    limit_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """One place where the part touches a locator.

    Args:
        name: engraved or printed name ("X1").
        at: position, mm, part coordinates.
        normal: unit normal at the contact, into the part.
        kind: what the part rests against.
        on: name of the face, jaw or pin it touches.
        sources: what makes it vary.
        radius_mm: radius of curvature of the part's edge there, mm; positive where the part
            bulges toward the locator, negative where it is hollow, 0 for a straight edge.
    """

    name: str
    at: Point
    normal: Vector
    kind: ContactKind
    on: str
    sources: tuple[Source, ...] = ()
    radius_mm: float = 0.0
