"""A fouling stop: a disc in the free space that keeps the part out the wrong way round.

The disc must lie clear of the part in its right place, wherever its slack lets it sit, and
stand in the part by a margin in every wrong placement that fits, wherever that one's slack
lets it sit. Both are offsets by a radius of shapes already known, so the places that serve
are found whole, by shapely on fine facets, and the one deepest inside them is proposed. Where
a wrong placement covers nothing that the right one leaves free by more than the slack, as
with a symmetrical outline, no disc can tell them apart and none is proposed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely

from jigs.finding import Finding, Severity
from jigs.locating.loading import WrongWay
from jigs.locating.within import polygon
from kerf.contour import Contour, Point, Region
from kerf.errors import GeometryError
from kerf.tolerance import FACET_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A disc that blocks every wrong way.

    Args:
        at: its middle, part coordinates, mm.
        radius_mm: its radius.
        on_wall: whether it reaches the wall, so that it can be cut with it as a bump; else it
            is a pin.
        spare_mm: how far it may stand from ``at`` in any direction and still serve.
    """

    at: Point
    radius_mm: float
    on_wall: bool
    spare_mm: float

    def outline(self) -> Contour:
        """Return the disc."""
        return Contour.circle(self.at.x, self.at.y, self.radius_mm)


def fouling_stop(
    part: Region,
    pocket_void: Region,
    ways: tuple[WrongWay, ...],
    *,
    travel_mm: float,
    radius_mm: float = 2.0,
    margin_mm: float = 0.5,
) -> Stop | None:
    """Return a disc that no wrong way gets past and the right one never touches.

    Args:
        part: outline and bores, at the nominal pose.
        pocket_void: free space in part coordinates.
        ways: from ``wrong_ways``; those that do not fit need no stop.
        travel_mm: greatest displacement of any point of the part within its slack, >= 0.
        radius_mm: of the disc, > 0.
        margin_mm: least gap to the right placement and least overlap with each wrong one,
            > 0.
    Returns:
        the stop with the most room to spare, on the wall where there is one; None where no
        disc of this radius serves, or where no wrong way fits.
    Raises:
        GeometryError: a length out of its range.
    """
    if not (travel_mm >= 0.0 and radius_mm > 0.0 and margin_mm > 0.0):
        raise GeometryError("a fouling stop needs a radius and margin above 0 mm and a travel >= 0")
    fitting = [way for way in ways if way.fits]
    bite = radius_mm - margin_mm - travel_mm
    if not fitting or bite <= 0.0 or any(way.turn_rad is None for way in fitting):
        return None
    void = polygon(pocket_void)
    places = shapely.difference(void, _grown(part, radius_mm + margin_mm + travel_mm))
    for way in fitting:
        places = shapely.intersection(places, _grown(way.placed(part), bite))
    # A bump grows out of the wall: its middle stands at most half its radius off it.
    beside = shapely.buffer(void.boundary, radius_mm / 2)
    for allowed, on_wall in ((shapely.intersection(places, beside), True), (places, False)):
        circle = _inmost(allowed)
        if circle is not None:
            (x, y), spare = circle
            return Stop(at=Point(x, y), radius_mm=radius_mm, on_wall=on_wall, spare_mm=spare)
    return None


def _grown(region: Region, distance_mm: float) -> shapely.Geometry:
    """Return a region grown by a distance on fine facets."""
    quarter = max(8, round((distance_mm / FACET_MM) ** 0.5 / 2))
    return shapely.buffer(polygon(region), distance_mm, quad_segs=quarter)


def _inmost(places: shapely.Geometry) -> tuple[tuple[float, float], float] | None:
    """Return the point deepest inside an area and its depth, None where it has no inside."""
    best: tuple[tuple[float, float], float] | None = None
    for piece in shapely.get_parts(places):
        if piece.geom_type != "Polygon" or piece.area <= FACET_MM:
            continue
        spoke = shapely.maximum_inscribed_circle(piece, tolerance=0.01)
        depth = float(spoke.length)
        if depth > 10 * FACET_MM and (best is None or depth > best[1]):
            x, y = spoke.coords[0]
            best = ((float(x), float(y)), depth)
    return best


def check_loading(
    ways: tuple[WrongWay, ...], stop: Stop | None, *, subject: str, margin_mm: float
) -> tuple[Finding, ...]:
    """Return what is to be said about wrong ways.

    Args:
        ways: from ``wrong_ways``.
        stop: from ``fouling_stop``.
        subject: the guide, in the reader's words.
        margin_mm: the margin the near misses were listed under.
    """
    findings: list[Finding] = []
    fitting = [way for way in ways if way.fits]
    near = [way for way in ways if not way.fits]
    if any(way.turn_rad is None for way in fitting):
        findings.append(
            Finding(
                code="turn-free",
                severity=Severity.WARN,
                subject=subject,
                message="the part goes in at any turn: its outline is round to this guide",
                hint="mark the part and the guide, or hold the turn by a bore or a flat",
            )
        )
    elif fitting:
        way = fitting[0]
        first = _told(way)
        helps = (
            f"a stop of radius {stop.radius_mm:.3g} mm at ({stop.at.x:.2f}, {stop.at.y:.2f}) mm "
            "would block every wrong way"
            if stop is not None
            else "no stop beside the part can tell the ways apart: mark part and guide"
        )
        findings.append(
            Finding(
                code="loads-wrong",
                severity=Severity.WARN,
                subject=subject,
                message=f"the part also goes in wrongly: {first}"
                + (f", and {len(fitting) - 1} more ways" if len(fitting) > 1 else ""),
                measured=float(len(fitting)),
                limit=0.0,
                hint=helps,
            )
        )
    if near:
        least = min(near, key=lambda way: way.overlap_mm)
        findings.append(
            Finding(
                code="loads-nearly-wrong",
                severity=Severity.NOTE,
                subject=subject,
                message=(
                    f"{_told(least)}, the part fouls by no more than {least.overlap_mm:.3f} mm; "
                    f"ways that foul by less than {margin_mm:.2f} mm: {len(near)}"
                ),
                measured=least.overlap_mm,
                limit=margin_mm,
                unit="mm",
                hint="a burr or a worn wall may let it in: mark part and guide",
            )
        )
    return tuple(findings)


def _told(way: WrongWay) -> str:
    """Return a placement in words, its turn in degrees."""
    degrees = math.degrees(way.turn_rad or 0.0)
    turned = f"turned by {degrees:.1f}°" if abs(degrees) >= 0.05 else ""
    over = "turned over" if way.flipped else ""
    return " and ".join(part for part in (over, turned) if part)
