"""A plate that is machined, not laser-cut: its pins, holes, tape, stops and heights.

Places on the plate are counted from its own datum edges: x from the left one, y from the lower
one, as it lies in the machine. The sheet of the same size that is laid on it, edges flush,
has its lower left corner at the same zero.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from jigs.drilling import Step
from jigs.fits import Limits
from jigs.locating.pin_places import PinPlace
from kerf.contour import Point, Region, Transform


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateHole:
    """A hole of the plate that a pin stands in.

    Args:
        name: of the pin in it.
        at: from the datum edges, mm.
        limits: what its diameter may be, mm.
        depth_mm: of the finished hole, mm.
        is_through: whether it goes through the plate.
        steps: how it is made, in order.
        pilot_mm: hole of the sheet laid over it, mm: the first drill goes through it.
    """

    name: str
    at: Point
    limits: Limits
    depth_mm: float
    is_through: bool
    steps: tuple[Step, ...]
    pilot_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A hard stop under the part, outside the glue.

    Args:
        name: "Z1".
        at: from the datum edges, mm.
        diameter_mm, height_mm: mm.
    """

    name: str
    at: Point
    diameter_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One thickness of what stands on the bed.

    Args:
        name: "plate", "tape", "stops", "part".
        thickness_mm, u_mm: and its standard uncertainty, mm.
    """

    name: str
    thickness_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MachinedPlate:
    """The plate and all that stands on it.

    Args:
        width_mm, height_mm: along x and y, mm.
        thickness_mm: decked, mm.
        material: of the plate.
        to_part: plate → part coordinates.
        places: the pins.
        pin_lengths_mm: least length of each pin, in the same order, mm.
        holes: the holes they stand in, in the same order.
        tape_name: tape of the shop; empty when none is laid.
        tape: where it is laid, plate coordinates.
        setback_mm: distance that glue and solvent keep from acrylic, pins and stops, mm.
        stops: hard stops; none when the part rests on the tape or on the plate.
        overhangs: what of the part lies beyond the plate, plate coordinates.
        layers: from the plate's underside to the part's upper face.
        slack_mm: how far the part can shift on its pins along the drawing's x and y, mm, when the
            pins are smallest and the bores largest; None where pins alone do not bound it.
        slack_rad: how far it can turn, either way; None likewise.
    """

    width_mm: float
    height_mm: float
    thickness_mm: float
    material: str
    to_part: Transform
    places: tuple[PinPlace, ...]
    pin_lengths_mm: tuple[float, ...]
    holes: tuple[PlateHole, ...]
    tape_name: str
    tape: tuple[Region, ...]
    setback_mm: float
    stops: tuple[Stop, ...]
    overhangs: tuple[Region, ...]
    layers: tuple[Layer, ...]
    slack_mm: tuple[float, float] | None
    slack_rad: float | None

    @property
    def tape_area_mm2(self) -> float:
        """Area of tape, mm²."""
        return sum(region.area_mm2 for region in self.tape)

    @property
    def top_mm(self) -> float:
        """Height of the part's upper face above the plate's underside, mm."""
        return sum(layer.thickness_mm for layer in self.layers)

    @property
    def top_u_mm(self) -> float:
        """Standard uncertainty of ``top_mm``: the layers' in quadrature (JCGM 100, 5.1.2), mm."""
        return math.sqrt(sum(layer.u_mm**2 for layer in self.layers))

    @property
    def top_above_deck_mm(self) -> float:
        """Height of the part's upper face above the plate's decked face, mm."""
        return sum(layer.thickness_mm for layer in self.layers[1:])

    @property
    def top_above_deck_u_mm(self) -> float:
        """Standard uncertainty of ``top_above_deck_mm``, mm."""
        return math.sqrt(sum(layer.u_mm**2 for layer in self.layers[1:]))
