"""Pins where they stand: in a bore of the part, or beside an edge, and what each does there.

A pin in a bore lets the part move by half its clearance there, and by half the pin's own
clearance in the hole of the plate; a hole of the plate is off its place by what the machine that
bores it repeats. A relieved pin holds across its relief alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from jigs.fits import LARGEST_RUNNING_MM, Limits, running_clearance
from jigs.locating.candidates import candidates
from jigs.locating.choose import choose_contacts
from jigs.locating.contacts import Contact, FrameSource, Source, Tie, bore_contacts
from jigs.locating.sources import edge_source, locator_source
from jigs.part import Part
from jigs.pins import Pin, PinFit, hole_limits
from kerf.contour import Contour, Point, Region, Vector
from kerf.tolerance import ROUND_SHARE

#: Places of an edge offered for a pin beside it.
_EDGE_PLACES = 80
#: Of an edge pin: the size nearest to this is taken, mm. Source: common practice.
EDGE_PIN_MM = 6.0
#: What a pin beside an edge keeps from a corner besides its own radius, mm.
_EDGE_CORNER_MM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PartBore:
    """A round hole of the part that may take a pin.

    Args:
        name: "bore 1" in the order of the drawing.
        at: centre, part coordinates, mm.
        drawn_mm: diameter as drawn, mm.
        limits: what its diameter may be, mm.
    """

    name: str
    at: Point
    drawn_mm: float
    limits: Limits


@dataclass(frozen=True, slots=True, kw_only=True)
class Seating:
    """How the plate holds its pins, and what must be left to the bores.

    Args:
        slip: tolerance class of the holes of pins that are not pressed.
        hole_place_mm: ± of a hole's place in the plate along each axis, mm.
        pitch_mm: ± of the distance between two bores of the part, mm.
        least_mm: least diametral clearance with which the part goes on, mm.
        web_mm: least material between two holes of the plate, mm.
        fit: running fit of ANSI B4.1 whose least clearance is kept too; empty for none.
    """

    slip: str
    hole_place_mm: float
    pitch_mm: float
    least_mm: float
    web_mm: float
    fit: str = ""

    def least_for_mm(self, bore: PartBore) -> float:
        """Return the least diametral clearance of a pin in a bore, mm."""
        if not self.fit or bore.drawn_mm > LARGEST_RUNNING_MM:
            return self.least_mm
        return max(self.least_mm, running_clearance(self.fit, bore.drawn_mm).least_mm)

    @property
    def off_mm(self) -> float:
        """By how much the centres of part and plate may differ along their line, mm."""
        return self.pitch_mm + 2 * self.hole_place_mm


class Role(StrEnum):
    """What a pin is for, in words."""

    ROUND = "round, holds place"
    RELIEVED = "relieved, holds turn"
    SMALL = "round and smaller, holds turn"
    EDGE = "beside an edge, holds turn"


@dataclass(frozen=True, slots=True, kw_only=True)
class PinPlace:
    """A pin where it stands.

    Args:
        name: "P1" is round; "P2" holds the turn.
        role: see ``Role``.
        at: centre, part coordinates, mm.
        pin: the pin.
        bore: the bore it stands in; None beside an edge.
        fit: its clearance there; None beside an edge.
        hole: limits of its hole in the plate, mm.
        relief: unit direction along which it does not locate; None where it holds both.
        contacts: what it does for the part.
    """

    name: str
    role: Role
    at: Point
    pin: Pin
    bore: PartBore | None
    fit: PinFit | None
    hole: Limits
    relief: Vector | None
    contacts: tuple[Contact, ...]


def is_round(hole: Contour) -> bool:
    """Return whether a loop is one whole circle."""
    edges = list(hole.edges())
    if any(edge.is_line for edge in edges):
        return False
    first = edges[0]
    near = ROUND_SHARE * first.radius_mm
    return all(
        math.dist(edge.centre, first.centre) <= near
        and abs(edge.radius_mm - first.radius_mm) <= near
        for edge in edges
    )


def round_holes(region: Region) -> tuple[tuple[Point, float], ...]:
    """Return centre and diameter of every round hole, in the order of the drawing, mm."""
    return tuple(
        (edge.centre, 2 * edge.radius_mm)
        for hole in region.holes
        if is_round(hole)
        for edge in (hole.edge(0),)
    )


def seat_float_mm(pin: Pin, hole: Limits) -> float:
    """Return how far a pin can stand off the middle of its hole in the plate, mm."""
    return max(0.0, hole.most_mm - pin.limits.least_mm) / 2


def bore_place(
    name: str, role: Role, bore: PartBore, fit: PinFit, seating: Seating, relief: Vector | None
) -> PinPlace:
    """Return a pin in a bore with what it does for the part."""
    hole = hole_limits(fit.pin, slip=seating.slip)
    stands = seat_float_mm(fit.pin, hole)
    sources = [locator_source(tolerance_mm=seating.hole_place_mm, name="hole place")]
    if relief is None and stands > 0:
        sources.append(
            Source(
                name="pin in plate",
                limit_mm=stands,
                u_mm=stands / 2,
                tie=Tie.ROUND,
                group=f"seat of {name}",
            )
        )
    elif stands > 0:
        sources.append(locator_source(tolerance_mm=stands, name="pin in plate"))
    if relief is not None:
        sources.append(locator_source(tolerance_mm=seating.pitch_mm, name="bore place"))
    return PinPlace(
        name=name,
        role=role,
        at=bore.at,
        pin=fit.pin,
        bore=bore,
        fit=fit,
        hole=hole,
        relief=relief,
        contacts=bore_contacts(
            name,
            bore.at,
            bore_diameter_mm=bore.limits.middle_mm,
            pin_diameter_mm=fit.pin.limits.middle_mm,
            bore_tolerance_mm=bore.limits.plus_minus_mm,
            pin_tolerance_mm=fit.pin.limits.plus_minus_mm,
            relief=relief,
            on=f"pin {name}",
            sources=tuple(sources),
        ),
    )


def edge_place(
    part: Part, first: PinPlace, stop: Pin, seating: Seating, frame: tuple[FrameSource, ...]
) -> PinPlace | None:
    """Return the best place for a pin beside an edge; None when no edge resists turning."""
    radius = stop.limits.middle_mm / 2
    hole = hole_limits(stop, slip=seating.slip)
    sources = (
        edge_source(edge_tolerance_mm=part.edge_tolerance_mm),
        locator_source(tolerance_mm=seating.hole_place_mm, name="hole place"),
        locator_source(
            tolerance_mm=stop.limits.plus_minus_mm / 2 + seat_float_mm(stop, hole),
            name="pin in plate",
        ),
    )
    outline = Region(outer=part.region.outer)
    offered = tuple(
        place
        for place in candidates(
            outline,
            pitch_mm=outline.outer.length_mm / _EDGE_PLACES,
            corner_mm=radius + _EDGE_CORNER_MM,
            nose_mm=radius,
        )
        # A hollow must be wider than the pin, and the plate needs a web between the holes.
        if not -radius - _EDGE_CORNER_MM < place.contact.radius_mm < 0
        and math.dist(place.contact.at, first.at)
        >= (first.hole.most_mm + hole.most_mm) / 2 + radius + seating.web_mm
    )
    if not offered:
        return None
    choice = choose_contacts(
        part, candidates=offered, sources=sources, spacing_mm=0.0, fixed=first.contacts, frame=frame
    )
    contact = next((c for c in choice.contacts if not c.holds_both_ways), None)
    if contact is None:
        return None
    contact = replace(contact, name="E1", on="pin E1", locator_radius_mm=radius)
    nx, ny = contact.normal
    return PinPlace(
        name="E1",
        role=Role.EDGE,
        at=Point(contact.at.x - radius * nx, contact.at.y - radius * ny),
        pin=stop,
        bore=None,
        fit=None,
        hole=hole,
        relief=None,
        contacts=(contact,),
    )
