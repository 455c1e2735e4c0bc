"""Which way the part comes out of its guide, and whether it can wedge on the way.

A guide whose walls go round the part is asked as it is; an open one is asked among its plates,
the plane round them free. Pins in bores let the part off straight only. What lies over the
part, a cap or a vise's jaws, is named: it must be away first.

A slide that can go one way only runs between parallel walls like a drawer: pulled too far
off its middle it wedges, and how far that is follows from its guidance and the friction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide
from jigs.locating.leaving import Slide, greatest_offset_mm, tilt_rad, ways_out
from jigs.locating.within import polygon
from jigs.part import Part
from kerf.boolean import difference, union
from kerf.contour import Contour, Floats, Region
from kerf.tolerance import FREE_WAY_RAD, ROUGH_FACET_MM, TOUCH_FOUL_MM

#: Points of the outline that are asked how near a wall is lie this far apart at most, mm.
_STEP_MM: Final = 1.0
#: An edge of the plane round an open guide keeps this far from where a slide ends, mm.
_BEYOND_MM: Final = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawer:
    """A slide between parallel walls.

    Args:
        guidance_mm: length over which the walls guide it.
        width_mm: of the part across the walls.
        clearance_mm: across both walls.
        friction: assumed.
        offset_mm: how far off its middle it may be pulled before it wedges.
        tilt_rad: how far it tilts first; None where nothing but friction stops it.
    """

    guidance_mm: float
    width_mm: float
    clearance_mm: float
    friction: float
    offset_mm: float
    tilt_rad: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaving:
    """How the part comes out.

    Args:
        over: what must be away before it lifts straight out: "cap", "jaws", or nothing.
        slides: directions in which it slides out, part coordinates; empty where walls or pins
            stand all round.
        distance_mm: how far a slide was followed, mm.
        drawer: of a slide that goes one way only; None when there is none.
        findings: what is to be said of it.
    """

    over: str
    slides: tuple[Slide, ...] = ()
    distance_mm: float = 0.0
    drawer: Drawer | None = None
    findings: tuple[Finding, ...] = ()


def leaving(part: Part, guide: Guide, *, friction: float, subject: str) -> Leaving | None:
    """Return how a part comes out of its guide; None for a guide that holds no part.

    Args:
        part: as seen in the set-up.
        guide: the guide.
        friction: between part and walls, >= 0.
        subject: what the findings are about.
    """
    if guide.pocket is None and not guide.contacts:
        return None
    over = ""
    if guide.stack is not None and guide.stack.cap_gap_mm is not None:
        over = "cap"
    elif guide.jaws is not None:
        over = "jaws"
    if guide.base is not None:
        return Leaving(over=over)
    outline = Region(outer=part.region.outer)
    box = outline.bounds()
    distance = math.hypot(box.width, box.height)
    void = guide.room or _round_plates(outline, guide, distance)
    found = ways_out(outline, void, clearance_mm=guide.clearance_mm, distance_mm=distance)
    slides = tuple(s for s in found.slides if any(s.clear))
    drawer = next(
        (
            d
            for s in slides
            if s.to_rad - s.from_rad <= 2 * FREE_WAY_RAD
            for d in (_drawer(outline, void, s.from_rad, guide.clearance_mm, friction),)
            if d is not None
        ),
        None,
    )
    return Leaving(
        over=over,
        slides=slides,
        distance_mm=distance,
        drawer=drawer,
        findings=_check_drawer(drawer, subject=subject) if drawer is not None else (),
    )


def _round_plates(outline: Region, guide: Guide, distance_mm: float) -> Region:
    """Return the free plane round an open guide's plates, as far as any slide goes."""
    plates = union(
        tuple(
            Region(outer=plate.region.outer).transformed(plate.to_part)
            for plate in guide.plates
            if not plate.is_under
        )
    )
    boxes = [r.bounds() for r in (outline, *plates)]
    by = distance_mm + _BEYOND_MM
    x0, y0 = min(b.x_min for b in boxes) - by, min(b.y_min for b in boxes) - by
    x1, y1 = max(b.x_max for b in boxes) + by, max(b.y_max for b in boxes) + by
    plane = Region(outer=Contour.rectangle(x0, y0, x1 - x0, y1 - y0))
    left = difference(plane, plates)
    inside = shapely.point_on_surface(polygon(outline))
    return next((r for r in left if r.contains(inside.x, inside.y)), left[0])


def _drawer(
    outline: Region, void: Region, along_rad: float, clearance_mm: float, friction: float
) -> Drawer | None:
    """Return the slide between walls on both sides; None where one side is open."""
    points = _points(outline.outer)
    wall = polygon(void).boundary
    near = shapely.distance(shapely.points(points), wall) <= clearance_mm + TOUCH_FOUL_MM
    ux, uy = math.cos(along_rad), math.sin(along_rad)
    along, across = points @ (ux, uy), points @ (-uy, ux)
    middle = (across.min() + across.max()) / 2
    one, other = along[near & (across > middle)], along[near & (across < middle)]
    if not len(one) or not len(other):
        return None
    # Tilted, it bears at the front of one wall and at the back of the other.
    guidance = float(min(one.max() - other.min(), other.max() - one.min()))
    width, gap = float(np.ptp(across)), 2 * clearance_mm
    if guidance <= 0.0 or friction <= 0.0:
        return None
    turns_over = width + gap >= math.hypot(guidance, width)
    return Drawer(
        guidance_mm=guidance,
        width_mm=width,
        clearance_mm=gap,
        friction=friction,
        offset_mm=greatest_offset_mm(guidance_mm=guidance, friction=friction),
        tilt_rad=None
        if turns_over
        else tilt_rad(guidance_mm=guidance, width_mm=width, clearance_mm=gap),
    )


def _points(loop: Contour) -> Floats:
    """Return points of a loop, no two neighbours further apart than a step; shape (n, 2)."""
    ring = shapely.LinearRing(loop.facets(ROUGH_FACET_MM))
    out: Floats = shapely.get_coordinates(shapely.segmentize(ring, _STEP_MM))
    return out


def _check_drawer(drawer: Drawer, *, subject: str) -> tuple[Finding, ...]:
    """Return a warning when pulling a slide by its edge wedges it."""
    half = drawer.width_mm / 2
    if drawer.offset_mm >= half:
        return ()
    return (
        Finding(
            code="slide-wedges",
            severity=Severity.WARN,
            subject=f"{subject}: coming out",
            message=(
                f"guided over {drawer.guidance_mm:.1f} mm, at a friction of "
                f"{drawer.friction:.2f} it wedges when pushed more than "
                f"{drawer.offset_mm:.1f} mm off its middle; its edges lie {half:.1f} mm off"
            ),
            measured=half,
            limit=drawer.offset_mm,
            unit="mm",
            hint="push and pull it near its middle, or lengthen the guiding walls",
        ),
    )
