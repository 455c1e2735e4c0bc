"""The dowels that hold the layers of a stack on one another: where they stand, and how they fit.

A hole is made for the largest dowel of its class. A *slip* hole lets it in even where the kerf
is at the limit of its card; a *drive* hole never lets the smallest one fall out. Every layer
above the lowest slips on, so that the stack comes apart again.

Two dowels hold a layer: as far apart as the plate allows, for the turn that a given float
allows shrinks with their distance, and not symmetric about the plate's middle, so that a layer
put on the wrong way round shows at its edges. Each keeps a wall as wide as the sheet is thick
to every cut-out and edge.

How far a layer with two holes can move at a point: each hole can move by f about its dowel. A
point at share t of the way from one dowel to the other moves by f (|1 − t| + |t|) at most, with
t complex for a point off the line between them: the small rigid motions are the affine maps of
the complex plane, and both ends are independent. Along the line the two ends move together,
which is not claimed.

Source: web as wide as the sheet is thick, laser services' design rules; small rigid motion as
an affine map, any text on kinematics.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from jigs.finding import Finding, Severity
from jigs.fits import Limits
from jigs.locating.contacts import FrameSource
from jigs.locating.sources import COVERAGE_WORST
from kerf.contour import Bounds, Point, Region, Transform, Vector
from kerf.tolerance import COINCIDENT_MM, FACET_MM

#: Least diametral clearance that a slip hole leaves, mm: enough for a layer to be lifted off by
#: hand. Source: common practice.
SLIP_MM: Final = 0.02

#: Distance of the dowels' middle from the plate's, mm, that makes a layer turned round show.
KEYED_MM: Final = 3.0

#: Distance between the places that are tried, mm.
_STEP_MM: Final = 2.0

#: At most this many places are compared, pair by pair.
_MOST_PLACES: Final = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class Dowel:
    """A pin through all layers.

    Args:
        name: "P1".
        at: its middle, part coordinates, mm.
        limits: what its diameter may be, mm.
    """

    name: str
    at: Point
    limits: Limits


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One sheet of a stack.

    Args:
        plate: name of its plate.
        role: "base", "wall", "nest" (the one that locates) or "cap".
        low_mm, high_mm: its faces above the stack's underside, mm.
        fit: "slip" or "drive": how the dowels fit in it.
        hole_mm: finished diameter of its dowel holes, mm.
    """

    plate: str
    role: str
    low_mm: float
    high_mm: float
    fit: str
    hole_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """Layers and dowels.

    Args:
        layers: from the lowest up.
        dowels: those that stand; one that would break through a wall is left out.
        dowel_size: what to ask for ("6 mm ISO 8734").
        length_mm: longest dowel that stays below the top, mm.
        float_mm: how far a slip hole can move about its dowel either way, at worst, mm.
        stand_off_mm: by how much the walls above and below the nest stand further back from the
            part than its pocket, so that they never touch it first, mm.
        cap_gap_mm: room between the cap and the layer below it when the part carries the cap;
            None without a cap.
    """

    layers: tuple[Layer, ...]
    dowels: tuple[Dowel, ...]
    dowel_size: str
    length_mm: float
    float_mm: float
    stand_off_mm: float
    cap_gap_mm: float | None

    def layer(self, plate: str) -> Layer:
        """Return the layer of a plate."""
        return next(layer for layer in self.layers if layer.plate == plate)


def slip_hole_mm(pin: Limits, *, u_kerf_mm: float) -> float:
    """Return the hole that the largest dowel enters in the worst kerf, mm.

    A kerf in error by δ makes a hole δ narrower.
    """
    return pin.most_mm + COVERAGE_WORST * u_kerf_mm + SLIP_MM


def drive_hole_mm(pin: Limits, *, u_kerf_mm: float) -> float:
    """Return the hole that still grips the smallest dowel in the worst kerf, mm."""
    return pin.least_mm - COVERAGE_WORST * u_kerf_mm


def slip_float_mm(pin: Limits, *, u_kerf_mm: float) -> float:
    """Return how far a slip hole can move about its dowel either way, at worst, mm."""
    widest = slip_hole_mm(pin, u_kerf_mm=u_kerf_mm) + COVERAGE_WORST * u_kerf_mm
    return (widest - pin.least_mm) / 2


def moved_mm(at: Point, dowels: tuple[Point, Point], float_mm: float) -> float:
    """Return how far a layer that floats on two dowels can move at a point, mm.

    >>> moved_mm(Point(5.0, 0.0), (Point(0.0, 0.0), Point(10.0, 0.0)), 0.1)
    0.1
    >>> round(moved_mm(Point(20.0, 0.0), (Point(0.0, 0.0), Point(10.0, 0.0)), 0.1), 3)
    0.3
    """
    first, second = complex(*dowels[0]), complex(*dowels[1])
    share = (complex(*at) - first) / (second - first)
    return float_mm * (abs(1 - share) + abs(share))


def dowel_frame(dowels: tuple[Point, Point], float_mm: float) -> tuple[FrameSource, ...]:
    """Return what a float on two dowels does to the part, part coordinates.

    Along their line both ends move as one; across it each end moves by itself, which turns
    the layer about the other. Uniform within its limits: u = limit / √3 (JCGM 100, 4.3.7).
    """
    span = math.dist(*dowels)
    along = Vector((dowels[1].x - dowels[0].x) / span, (dowels[1].y - dowels[0].y) / span)
    return (
        FrameSource(name="dowels", limit=float_mm, u=float_mm / math.sqrt(3), shift=along),
        *(
            FrameSource(
                name="dowels",
                limit=float_mm / span,
                u=float_mm / span / math.sqrt(3),
                turn=1.0,
                about=about,
            )
            for about in dowels
        ),
    )


def dowel_places(room: Region, *, keep_mm: float) -> tuple[Point, Point] | None:
    """Return two places as far apart as a plate allows; None when it has no two.

    Args:
        room: the plate with every cut-out in it, sheet coordinates.
        keep_mm: distance of a dowel's middle from every edge and cut-out, mm.
    """
    solid = shapely.Polygon(
        room.outer.facets(FACET_MM), [hole.facets(FACET_MM) for hole in room.holes]
    )
    # A micrometre more: the facets of a round wall lie that far inside it.
    free = solid.buffer(-keep_mm - FACET_MM, quad_segs=16)
    rings = [
        ring
        for part in shapely.get_parts(free)
        if not part.is_empty
        for ring in (part.exterior, *part.interiors)
    ]
    if not rings:
        return None
    at = np.vstack([shapely.get_coordinates(shapely.segmentize(r, _STEP_MM))[:-1] for r in rings])
    # Ends of the longest pair lie on the outer hull; thin what is dense.
    hull = np.unique(np.round(at, 6), axis=0)
    if len(hull) > _MOST_PLACES:
        hull = hull[:: math.ceil(len(hull) / _MOST_PLACES)]
    z = hull[:, 0] + 1j * hull[:, 1]
    apart = np.abs(z[:, None] - z[None, :])
    centre = complex(*room.outer.bounds().centre)
    keyed = np.abs((z[:, None] + z[None, :]) / 2 - centre) >= KEYED_MM
    best = np.where(keyed, apart, 0.0)
    if not best.max() > 2 * keep_mm:
        best = apart
    if not best.max() > 2 * keep_mm:
        return None
    i, j = np.unravel_index(int(np.argmax(np.round(best, 6))), best.shape)
    return Point(*map(float, hull[i])), Point(*map(float, hull[j]))


def check_dowels(
    room: Region,
    dowels: tuple[Dowel, ...],
    *,
    to_sheet: Transform,
    hole_mm: float,
    web_mm: float,
    subject: str,
) -> tuple[tuple[Dowel, ...], tuple[Finding, ...]]:
    """Return the dowels whose holes stay in the plate, and what is wrong with the others.

    Args:
        room: the plate with every layer's cut-outs in it, sheet coordinates.
        dowels: where they are to stand.
        to_sheet: part → sheet.
        hole_mm: diameter of the widest hole, mm.
        web_mm: least wall about it, mm.
        subject: for messages.
    """
    kept, findings = [], []
    for dowel in dowels:
        wall = -room.distance_mm(*to_sheet.point(*dowel.at)) - hole_mm / 2
        if wall > COINCIDENT_MM:
            kept.append(dowel)
        if wall < web_mm - COINCIDENT_MM:
            findings.append(through_wall(dowel, wall_mm=wall, web_mm=web_mm, subject=subject))
    if len(kept) == 2 and math.dist(kept[0].at, kept[1].at) < 2 * hole_mm:
        kept = kept[:1]
        findings.append(
            Finding(
                code="stack-pins-close",
                severity=Severity.FAIL,
                subject=subject,
                message=(
                    f"the dowels stand {math.dist(dowels[0].at, dowels[1].at):.2f} mm apart; they "
                    f"must stand {2 * hole_mm:.2f} mm apart at least"
                ),
                measured=math.dist(dowels[0].at, dowels[1].at),
                limit=2 * hole_mm,
                unit="mm",
                hint="put them at opposite corners, or leave `pin_points` out",
            )
        )
    return tuple(kept), tuple(findings)


def through_wall(dowel: Dowel, *, wall_mm: float, web_mm: float, subject: str) -> Finding:
    """Return the finding for a dowel whose hole breaks through a wall, or nearly."""
    left = f"leaves a wall of {wall_mm:.2f} mm" if wall_mm > 0 else "breaks through a wall"
    out = "" if wall_mm > 0 else ": it is left out of every layer"
    return Finding(
        code="stack-pin-through-wall",
        severity=Severity.FAIL,
        subject=f"{subject}: dowel {dowel.name}",
        message=(
            f"its hole at ({dowel.at.x:.1f}, {dowel.at.y:.1f}) mm of the part {left}{out}; "
            f"{web_mm:.2f} mm are needed, the sheet's thickness"
        ),
        measured=wall_mm,
        limit=web_mm,
        unit="mm",
        hint=(
            f"move it {web_mm - wall_mm:.1f} mm away from the wall, widen the border, take a "
            "thinner pin, or leave `pin_points` out"
        ),
    )


def no_places(border_mm: float, *, keep_mm: float, box: Bounds, subject: str) -> Finding:
    """Return the finding for a plate that has no room for two dowels."""
    return Finding(
        code="stack-pin-through-wall",
        severity=Severity.FAIL,
        subject=f"{subject}: dowels",
        message=(
            f"a plate of {box.width:.1f} × {box.height:.1f} mm with a border of {border_mm:.1f} mm "
            f"has no two places {keep_mm:.1f} mm from every wall: the layers are not pinned"
        ),
        measured=border_mm,
        limit=2 * keep_mm,
        unit="mm",
        hint=f"make the border {math.ceil(2 * keep_mm + 2):d} mm, or take a thinner pin",
    )
