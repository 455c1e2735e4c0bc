"""Whether the finder comes to each face that sets zero.

The strip in front of a face, as wide as the tip, must be free of all that stands higher than
the face's lower edge, for the finder comes from above; the face must be tall enough for the tip.
Where the shop says how far the tip reaches below its body and how thick that is, the body must
find room somewhere along the face as well.

Source: least height of a face, common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import shapely

from jigs.finding import Finding, Severity
from jigs.holding.access import Obstacle, strip_before
from kerf.boolean import intersection
from kerf.contour import Point, Vector
from kerf.measure import region_gap
from kerf.proof import faceted
from kerf.tolerance import CLASH_DUST_MM2, COINCIDENT_MM, ROUGH_FACET_MM

#: A face is tall enough for a finder from here, mm. Source: common practice.
FACE_LEAST_MM: Final = 2.0
#: Length of a face that a finder needs, in tip diameters.
_TIPS: Final = 1.0


def check_reach(
    name: str,
    start: Point,
    end: Point,
    normal: Vector,
    *,
    tip_mm: float,
    low_mm: float,
    tall_mm: float,
    others: Sequence[Obstacle],
    subject: str,
) -> list[Finding]:
    """Return what keeps a finder's tip from a face that sets zero.

    Args:
        name: of the face.
        start, end: its ends, mm.
        normal: unit, out of the plate.
        tip_mm: diameter of the finder's tip, mm; 0 for a face that nothing touches.
        low_mm, tall_mm: height of the face's lower edge, and from there to its upper one, mm.
        others: what stands about; what stays below the face does not count.
        subject: for messages.
    """
    findings = []
    length = math.dist(start, end)
    where = f"{subject}: face {name}"
    if length < _TIPS * tip_mm or tall_mm < FACE_LEAST_MM:
        findings.append(
            Finding(
                code="face-small",
                severity=Severity.FAIL,
                subject=where,
                message=(
                    f"the face is {length:.1f} mm long and {tall_mm:.1f} mm tall; a tip of "
                    f"{tip_mm:.1f} mm needs {_TIPS * tip_mm:.1f} mm and {FACE_LEAST_MM:.1f} mm"
                ),
                measured=min(length, tall_mm),
                limit=FACE_LEAST_MM if tall_mm < FACE_LEAST_MM else _TIPS * tip_mm,
                unit="mm",
                hint="take a smaller tip, a thicker sheet, or a longer face",
            )
        )
    if tip_mm > 0 and length > 0:
        out = 1e-3  # a hair off the face, so that its own plate does not count
        a = Point(start.x + normal.x * out, start.y + normal.y * out)
        b = Point(end.x + normal.x * out, end.y + normal.y * out)
        front = strip_before(a, b, normal, tip_mm)
        for other in others:
            if other.top_mm <= low_mm + COINCIDENT_MM:
                continue
            near = region_gap(front, other.shape).distance_mm == 0.0
            if near and any(
                part.area_mm2 > CLASH_DUST_MM2 for part in intersection(front, other.shape)
            ):
                findings.append(
                    Finding(
                        code="face-blocked",
                        severity=Severity.FAIL,
                        subject=where,
                        message=(
                            f"{other.name} stands in front of the face within {tip_mm:.1f} mm, "
                            "where the finder comes to it"
                        ),
                        measured=0.0,
                        limit=tip_mm,
                        unit="mm",
                        hint="take a smaller tip, or move the face or what stands before it",
                    )
                )
    return findings


def check_finder_body(
    name: str,
    face: tuple[Point, Point, Vector],
    *,
    finder_mm: tuple[float, float, float],
    middle_mm: float,
    others: Sequence[Obstacle],
    subject: str,
) -> list[Finding]:
    """Return a failed check when a finder's body meets something all along a face.

    Args:
        name: of the face.
        face: its ends, mm, and the unit normal out of the plate.
        finder_mm: diameter of the tip, how far it reaches below the body, and the body's
            diameter, mm; reach and body 0 where the shop does not say, and nothing is looked at.
        middle_mm: height at which the tip touches, mm.
        others: what stands about.
        subject: for messages.
    """
    (start, end, normal), (tip, reach, body) = face, finder_mm
    length = math.dist(start, end)
    tall = [item for item in others if item.top_mm > middle_mm + reach]
    if not (reach > 0.0 and body > 0.0 and tall) or length <= tip:
        return []
    axis = [
        (
            start.x + (end.x - start.x) * share + normal.x * tip / 2,
            start.y + (end.y - start.y) * share + normal.y * tip / 2,
        )
        for share in (tip / 2 / length, 1.0 - tip / 2 / length)
    ]
    near = [faceted(item.shape, ROUGH_FACET_MM).buffer(body / 2) for item in tall]
    if shapely.LineString(axis).difference(shapely.union_all(near)).length > COINCIDENT_MM:
        return []
    highest = max(tall, key=lambda item: item.top_mm)
    need = highest.top_mm - middle_mm
    return [
        Finding(
            code="finder-short",
            severity=Severity.FAIL,
            subject=f"{subject}: face {name}",
            message=(
                f"the finder reaches {reach:.1f} mm below its body of {body:.1f} mm, which meets "
                f"{highest.name} before the tip is at the face; {need:.1f} mm are needed"
            ),
            measured=reach,
            limit=need,
            unit="mm",
            hint="take a longer or slimmer finder, or a face further from what stands there",
        )
    ]
