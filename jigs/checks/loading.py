"""Can the part go in the wrong way round, and what would stop it.

Asked of every guide whose walls go round the part. A placement that lays the part, bores and
all, exactly on itself is no wrong way: nobody could tell. The same outline turned over is
told as a note, because only a mark on the part tells its faces apart.
"""

from __future__ import annotations

from dataclasses import dataclass

from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide
from jigs.locating.floating import Floating
from jigs.locating.loading import WrongWay, wrong_ways
from jigs.locating.stops import Stop, check_loading, fouling_stop
from jigs.locating.within import polygon
from jigs.part import Part
from kerf.contour import Region

#: Placements that foul by less than this are told as near misses, mm: a part edge's burr and a
#: firm push go in further than the drawing says. Source: common practice.
NEAR_MM = 0.3

#: A part that covers itself but for this share of its area lies on itself.
SAME_SHARE = 1e-5


@dataclass(frozen=True, slots=True, kw_only=True)
class Loading:
    """How the part can be loaded.

    Args:
        ways: wrong placements that fit, and near misses.
        stop: the disc that blocks every wrong way; None when none is needed or none serves.
        findings: what is to be said of it.
    """

    ways: tuple[WrongWay, ...] = ()
    stop: Stop | None = None
    findings: tuple[Finding, ...] = ()


def loading(part: Part, guide: Guide, floats: Floating | None, *, subject: str) -> Loading:
    """Return the wrong ways into a guide that has walls round the part.

    Args:
        part: the part.
        guide: the guide; without ``room`` nothing is asked.
        floats: how the part floats, for how far it can travel.
        subject: what the findings are about.
    """
    if guide.room is None:
        return Loading()
    outline = Region(outer=part.region.outer)
    found = wrong_ways(outline, guide.room, margin_mm=NEAR_MM)
    told = tuple(way for way in found if not _is_same(way, part.region))
    travel = guide.clearance_mm
    if floats is not None:
        travel = max(
            [
                travel,
                *(
                    f.magnitude_mm
                    for f in floats.widest.most.features
                    if f.magnitude_mm is not None
                ),
            ]
        )
    stop = fouling_stop(outline, guide.room, told, travel_mm=travel) if told else None
    findings = list(check_loading(told, stop, subject=subject, margin_mm=NEAR_MM))
    if any(way.flipped and way.fits for way in found if way not in told):
        findings.append(
            Finding(
                code="loads-either-face-up",
                severity=Severity.NOTE,
                subject=subject,
                message="the part goes in with either face up: its outline is the same turned over",
                hint="mark the upper face of the part",
            )
        )
    return Loading(ways=told, stop=stop, findings=tuple(findings))


def _is_same(way: WrongWay, region: Region) -> bool:
    """Return whether a placement lays the part, bores and all, on itself."""
    if way.turn_rad is None or not way.fits:
        return False
    here, there = polygon(region), polygon(way.placed(region))
    return bool(here.symmetric_difference(there).area <= _allowed(region, way))


def _allowed(region: Region, way: WrongWay) -> float:
    """Return the area two placements may differ by: rounding, and the shift of the way, mm²."""
    return SAME_SHARE * region.area_mm2 + (abs(way.x_mm) + abs(way.y_mm)) * region.length_mm
