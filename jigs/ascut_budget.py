"""The location error of a guide as it came off the laser, and what the record keeps of it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from jigs.ascut import AsCut
from jigs.guides.resting import face_frame
from jigs.job import Job
from jigs.locating.error import CriticalError
from jigs.locating.floating import floating
from jigs.locating.report import locating_report
from jigs.plan import PlannedSetup
from kerf.offset import offset


def as_cut_critical(job: Job, planned: PlannedSetup, cut: AsCut) -> tuple[CriticalError, ...]:
    """Return the location error of each critical feature with the walls where they are.

    A part that floats gets the pocket it really has; one that rests on contacts gets what is
    left of the kerf's uncertainty. The pick-up of the faces is counted as before.
    """
    guide = planned.guide
    # What is left unknown of the cut, as a kerf: both sides of a cut move by half of it.
    card = replace(planned.card, u_mm=2 * cut.proud_u_mm)
    finder = job.shop.finder(planned.setup.finder, where=planned.setup.key_path + ".finder")
    frame = tuple(
        source
        for plate in guide.plates
        for source in face_frame(
            tuple(face.normal for face in guide.faces if face.plate == plate.name),
            to_part=plate.to_part,
            finder=finder,
            card=card,
        )
    )
    if guide.pocket is None:
        return locating_report(planned.part, cut.contacts, frame=frame).critical
    grown = offset(guide.pocket, -cut.proud_mm)
    return floating(
        planned.part,
        grown.regions[0] if grown.regions else guide.pocket,
        clearance_mm=max(0.0, cut.clearance_mm[0]),
        u_kerf_mm=card.u_mm,
        subject=f'{guide.kind} "{planned.setup.name}"',
        frame=frame,
    ).critical


def as_cut_record(
    cut: AsCut,
    critical: tuple[CriticalError, ...],
    readings_mm: dict[str, tuple[float, ...]],
    *,
    measured_on: str,
    measured_by: str,
    instrument_u_mm: float,
) -> dict[str, Any]:
    """Return what the record keeps of one measuring of the real guide (mm)."""
    return {
        "measured_on": measured_on,
        "measured_by": measured_by,
        "instrument_u_mm": instrument_u_mm,
        "readings_mm": {name: list(values) for name, values in readings_mm.items()},
        "checks": [
            {
                "name": one.check.name,
                "nominal_mm": one.check.nominal_mm,
                "measured_mm": one.measured_mm,
                "fitted_mm": one.fitted_mm,
                "u_mm": one.u_mm,
                "within": one.is_within,
            }
            for one in cut.checked
        ],
        "proud_mm": cut.proud_mm,
        "proud_u_mm": cut.proud_u_mm,
        "kerf_mm": cut.kerf_mm,
        "clearance_mm": list(cut.clearance_mm),
        "clearance_u_mm": cut.clearance_u_mm,
        "datums": {
            offset_.axis: {
                "face": offset_.face,
                "was_mm": offset_.was_mm,
                "offset_mm": offset_.now_mm,
                "u_mm": offset_.u_mm,
                "reading_mm": offset_.reading_mm,
            }
            for offset_ in cut.offsets
        },
        "critical": [
            {
                "name": one.name,
                "worst_mm": one.worst_mm,
                "rss_mm": one.rss_mm,
                "limit_mm": one.limit_mm,
                "ok": one.ok,
            }
            for one in critical
        ],
        "serves": cut.serves.value,
        "advice": cut.advice,
    }
