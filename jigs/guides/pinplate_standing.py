"""What stands on a pin plate besides its pins' places: stops, heights, and what pins hold.

Stops and pins are the part's neighbours in a set-up: what they do for its height, how far it can
float on its pins at their smallest, and how the pins stand beside tape under a side load.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from jigs.finding import Finding, Severity
from jigs.guides.machined import Layer, MachinedPlate, PlateHole, Stop
from jigs.guides.pinplate_options import PinPlateOptions
from jigs.guides.tape_zones import stop_places
from jigs.holding.bond import HoldingPin
from jigs.holding.means import Tape
from jigs.locating.contacts import Contact, support_contact
from jigs.locating.pin_places import PinPlace
from jigs.locating.slack import Pin as StandingPin
from jigs.locating.slack import SlackOutcome, pin_slack
from jigs.locating.sources import locator_source
from jigs.part import Part
from kerf.contour import Contour, Region, Transform, Vector
from kerf.errors import GeometryError

#: ± of a tape's thickness under a part pressed down: half a thousandth of an inch. Source:
#: common practice of a shop that allows for its tape.
TAPE_PLUS_MINUS_MM: Final = 0.0127
#: ± of the height of hard stops, mm: ground or lapped together. Source: common practice.
STOP_PLUS_MINUS_MM: Final = 0.005


def plate_stops(
    options: PinPlateOptions,
    tape: Tape | None,
    lying: Region,
    plate: Region,
    holes: Sequence[PlateHole],
    run_outs: Sequence[Region],
    part_to_sheet: Transform,
) -> tuple[tuple[Stop, ...], tuple[Finding, ...]]:
    """Return the hard stops, and a finding when there is no room for them."""
    if options.stops == "none":
        return (), ()
    size = options.stop_diameter_mm
    tall = options.stop_height_mm or (tape.thickness_mm if tape is not None else 0.0)
    if tall <= 0.0:
        return (), (
            Finding(
                code="stops-no-height",
                severity=Severity.FAIL,
                subject="hard stops",
                message="stops are asked for, but neither their height nor a tape is given",
                hint="give stop_height, or hold by tape",
            ),
        )
    if options.stops == "given":
        places = tuple(part_to_sheet.point(*p) for p in options.stop_points)
    else:
        pins = [
            Region(outer=Contour.circle(*h.at, h.limits.most_mm / 2 + options.setback_mm))
            for h in holes
        ]
        places = stop_places(lying, plate, diameter_mm=size, keep_off=(*pins, *run_outs))
    if not places:
        return (), (
            Finding(
                code="stops-no-room",
                severity=Severity.FAIL,
                subject="hard stops",
                message=f"no three stops of {size:.1f} mm find room under the part",
                hint="make stop_diameter smaller, or let the part rest on the tape",
            ),
        )
    return tuple(
        Stop(name=f"Z{i}", at=at, diameter_mm=size, height_mm=tall)
        for i, at in enumerate(places, 1)
    ), ()


def stop_contacts(stops: Sequence[Stop], machined: MachinedPlate) -> tuple[Contact, ...]:
    """Return what the stops do for the part."""
    return tuple(
        support_contact(
            stop.name,
            machined.to_part.point(*stop.at),
            on=f"stop {stop.name}",
            sources=(locator_source(tolerance_mm=STOP_PLUS_MINUS_MM, name="stop height"),),
            z_mm=0.0,
        )
        for stop in stops
    )


def z_layers(
    part: Part, options: PinPlateOptions, tape: Tape | None, stops: Sequence[Stop]
) -> tuple[Layer, ...]:
    """Return the thicknesses between the bed and the part's upper face."""
    between: tuple[Layer, ...] = ()
    if stops:
        u_mm = STOP_PLUS_MINUS_MM / math.sqrt(3)
        between = (Layer(name="stops", thickness_mm=stops[0].height_mm, u_mm=u_mm),)
    elif tape is not None:
        u_mm = TAPE_PLUS_MINUS_MM / math.sqrt(3)
        between = (Layer(name="tape", thickness_mm=tape.thickness_mm, u_mm=u_mm),)
    return (
        Layer(name="plate", thickness_mm=options.thickness_mm, u_mm=options.thickness_u_mm),
        *between,
        Layer(
            name="part",
            thickness_mm=part.height_mm,
            u_mm=options.height_tolerance_mm / math.sqrt(3),
        ),
    )


def pin_float(
    part: Part, places: Sequence[PinPlace]
) -> tuple[tuple[float, float] | None, float | None]:
    """Return how far the part can shift and turn, smallest pins in the largest bores.

    Only pins and their bores meet: the part is taken as its box with two bores, which keeps the
    middle of the box, whose travel is told.
    """
    bores = [place.bore for place in places if place.bore is not None]
    if len(bores) < len(places):
        return None, None
    box = part.region.bounds()
    body = Region(
        outer=Contour.rectangle(box.x_min, box.y_min, box.width, box.height),
        holes=tuple(Contour.circle(*bore.at, bore.limits.most_mm / 2) for bore in bores),
    )
    pins = tuple(
        StandingPin(
            at=place.at,
            diameter_mm=place.pin.limits.least_mm,
            relieved_along=place.relief if place.pin.relieved else None,
            land_mm=place.pin.land_mm,
        )
        for place in places
    )
    try:
        found = pin_slack(body, pins, certify=True)
    except GeometryError:
        return None, None
    most = found.most
    if found.outcome is not SlackOutcome.HELD or most.x_mm is None or most.y_mm is None:
        return None, None
    return (most.x_mm, most.y_mm), most.turn_rad


def holding_pins(machined: MachinedPlate, gap_mm: float, reach_mm: float) -> tuple[HoldingPin, ...]:
    """Return the pins in bores as they take side load; one beside an edge only pushes."""
    return tuple(
        HoldingPin(
            name=place.name,
            at=place.at,
            diameter_mm=place.pin.limits.least_mm,
            free_mm=gap_mm + reach_mm / 2,
            gap_mm=place.fit.float_mm,
            along=Vector(-place.relief.y, place.relief.x) if place.relief is not None else None,
            top_mm=reach_mm,
        )
        for place in machined.places
        if place.fit is not None
    )
