"""``record.json``: what a job was made from and what came out, for the repeat a year later.

Units in the record are mm, rad and N. Keys are stable; more may be added.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from jigs.burning import burning
from jigs.cautions import setup_cautions
from jigs.checks.loading import Loading
from jigs.finding import Finding
from jigs.flip import turned_record
from jigs.guides.guide import Datum, Plate
from jigs.locating.slack import SlackOutcome
from jigs.machining_record import machining_record
from jigs.plan import Plan, PlannedSetup
from jigs.record_base import base_record, blank_record
from jigs.record_stack import stack_record
from jigs.seated_record import choice_record, seated_record
from jigs.version import VERSION
from kerf.beam import CutPlan, Operation

SCHEMA = 1


def record_bytes(plan: Plan) -> bytes:
    """Return the record of a plan as UTF-8 JSON, the same bytes for the same plan."""
    text = json.dumps(record(plan), indent=1, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode()


def record(plan: Plan) -> dict[str, Any]:
    """Return the record of a plan as plain values."""
    job = plan.job
    return {
        "schema": SCHEMA,
        "program": {"name": "jigs", "version": VERSION},
        "job": {
            "number": job.number,
            "name": job.name,
            "revision": job.revision,
            "quantity": job.quantity,
            "note": job.note,
            "units_read": job.units,
            "sheet_revision": job.heading.sheet_revision,
            "supersedes": job.heading.supersedes,
            "changes": [
                {"date": change.day, "what": change.what, "by": change.by}
                for change in job.heading.changes
            ],
        },
        "inputs": [{"file": path.name, "sha256": _sha256(path)} for path in job.inputs],
        "healed": list(job.healed),
        "findings": [_finding(f) for f in plan.findings],
        "setups": [_setup(planned, plan) for planned in plan.setups],
        "pairs": [
            {
                "features": [p.first, p.second],
                "worst_mm": p.worst_mm,
                "rss_mm": p.rss_mm,
                "tolerance_mm": p.tolerance_mm,
                "limit_mm": p.limit_mm,
                "ok": p.ok,
            }
            for p in plan.pairs
        ],
    }


def _setup(planned: PlannedSetup, plan: Plan) -> dict[str, Any]:
    spent = burning(planned, plan.job.shop)
    shared = dict(plan.cut_in)
    guide = planned.burnt
    return {
        "name": planned.setup.name,
        "guide": guide.kind,
        "plane": guide.plane.value,
        "work_offset": planned.setup.work_offset,
        "machine": planned.setup.machine(plan.job.shop.mills),
        "program": planned.setup.heading.program,
        "slot": planned.setup.heading.slot,
        "drawing_datums": dict(planned.setup.heading.letters),
        "clearance_mm": guide.clearance_mm,
        "lean": _lean(planned),
        "zero_mm": list(planned.setup.zero_mm),
        "plates": [
            _plate(plate, cut, shared.get(plate.name) or plan.job.shop.output.stem(plate.name))
            for plate, cut in zip(guide.plates, planned.cuts, strict=True)
        ],
        "faces": [
            {
                "name": face.name,
                "plate": face.plate,
                "start": list(face.start),
                "end": list(face.end),
                "normal": list(face.normal),
            }
            for face in guide.faces
        ],
        "datums": {datum.axis: _datum(datum) for datum in guide.datums},
        "checks": [
            {
                "name": check.name,
                "nominal_mm": check.nominal_mm,
                "plus_minus_mm": check.plus_minus_mm,
                "start": list(check.start),
                "end": list(check.end),
            }
            for check in guide.checks
        ],
        "locating": _locating(planned),
        "second_best": choice_record(guide.choice),
        "seating": seated_record(planned.seated) if planned.seated is not None else None,
        "loading": _loading(planned.loading),
        **machining_record(planned.machined),
        "cautions": list(setup_cautions(planned)),
        "time_s": _rounded(spent.time_s),
        "sheet_share": _rounded(spent.sheet_share),
        "cost": _rounded(spent.cost),
        "blank": blank_record(planned.setup.blank) if planned.setup.blank is not None else None,
        "base": base_record(guide.base) if guide.base is not None else None,
        "copies": [list(shift) for shift in guide.copies],
        "turned": turned_record(planned.turned) if planned.turned is not None else None,
        "stack": stack_record(guide.stack) if guide.stack is not None else None,
        "proof": [
            {
                "plate": p.plate,
                "least_gap_mm": _rounded(p.least_gap_mm),
                "wall_gap_mm": _rounded(p.wall_gap_mm),
                "greatest_gap_mm": _rounded(p.greatest_gap_mm),
                "contact_gaps_mm": {name: round(gap, 6) for name, gap in p.contact_gaps_mm},
                "offset_errors_mm": {face: round(e, 6) for face, e in p.offset_errors_mm},
                "hole_errors_mm": {name: round(e, 6) for name, e in p.hole_errors_mm},
            }
            for p in planned.proofs
        ]
        or None,
    }


def _rounded(value: float | None) -> float | None:
    """Return a length of the proof to a nanometre; None as it is."""
    return None if value is None else round(value, 6)


def _loading(loads: Loading) -> dict[str, Any]:
    stop = loads.stop
    return {
        "wrong_ways": [
            {
                "turn_rad": way.turn_rad,
                "flipped": way.flipped,
                "overlap_mm": way.overlap_mm,
                "fits": way.fits,
            }
            for way in loads.ways
        ],
        "stop": None if stop is None else {"at": list(stop.at), "radius_mm": stop.radius_mm},
    }


def _locating(planned: PlannedSetup) -> dict[str, Any] | None:
    """Return how the part is located; None for a guide that holds no part."""
    floats, report = planned.floating, planned.locating
    if floats is None and report is None:
        return None
    slack = floats.widest if floats is not None else None
    if floats is not None:
        determined = floats.widest.outcome is SlackOutcome.HELD
        free = [] if determined else [floats.widest.outcome.value]
    else:
        assert report is not None
        determined, free = report.determined, list(report.free)
    return {
        "way": "floats in a pocket" if floats is not None else "rests on contacts",
        "determined": determined,
        "free": free,
        "contacts": [
            {"name": c.name, "at": list(c.at), "normal": list(c.normal), "on": c.on}
            for c in planned.guide.contacts
        ],
        "critical": [
            {
                "name": c.name,
                "worst_mm": c.worst_mm,
                "worst_x_mm": c.worst_x_mm,
                "worst_y_mm": c.worst_y_mm,
                "rss_mm": c.rss_mm,
                "tolerance_mm": c.tolerance_mm,
                "limit_mm": c.limit_mm,
                "ok": c.ok,
                "shares": dict(c.shares),
            }
            for c in planned.critical
        ],
        "on_supports": [
            {
                "name": h.name,
                "worst_mm": h.worst_mm,
                "rss_mm": h.rss_mm,
                "aside_mm": h.aside_mm,
                "tilt_rad": h.tilt_rad,
            }
            for h in (report.heights if report is not None else ())
        ],
        "least_clearance_mm": floats.least_clearance_mm if floats is not None else None,
        "slack": None
        if slack is None
        else {
            "x_mm": slack.x_mm,
            "y_mm": slack.y_mm,
            "turn_rad": slack.turn_rad,
            "at_most": None
            if slack.bound is None
            else {
                "x_mm": slack.bound.x_mm,
                "y_mm": slack.bound.y_mm,
                "turn_rad": slack.bound.turn_rad,
            },
            "bound": slack.bound_outcome.value,
        },
    }


def _plate(plate: Plate, cut: CutPlan, stem: str) -> dict[str, Any]:
    card = cut.kerf
    assert card is not None  # a guide is always compensated
    layers = {operation.value: 0 for operation in Operation}
    for operation in (*(p.operation for p in cut.paths), *(s.operation for s in cut.strokes)):
        layers[operation.value] += 1
    return {
        "name": plate.name,
        "dxf": f"{stem}.dxf",
        "svg": f"{stem}.svg",
        "layers": layers,
        "stock": plate.stock,
        "thickness_mm": plate.thickness_mm,
        "kerf": {
            "card": card.name,
            "used_mm": card.kerf_mm,
            "u_mm": card.u_mm,
            "entry_mm": card.entry_mm,
            "exit_mm": card.exit_mm,
        },
        "finished": [[list(v) for v in loop.vertices] for loop in plate.region.loops()],
        "is_mirrored": plate.is_mirrored,
        "to_part": [list(row) for row in plate.to_part.rows()],
    }


def _lean(planned: PlannedSetup) -> dict[str, Any]:
    """Return what the guide does about the lean; what no card tells is null."""
    lean = planned.lean
    return {
        "use": planned.setup.lean.value,
        "up": planned.setup.lean.up.value,
        "proud": lean.proud.value if lean is not None else None,
        "standoff_mm": lean.standoff_mm if lean is not None else None,
        "angle_rad": lean.angle_rad if lean is not None else None,
    }


def _datum(datum: Datum) -> dict[str, Any]:
    return {
        "face": datum.face,
        "set_by": datum.set_by.value,
        "side": datum.side,
        "offset_mm": datum.offset_mm,
        "u_mm": datum.u_mm,
        "pick_up": datum.pick_up,
        "finder": datum.finder,
        "tip_radius_mm": datum.tip_radius_mm,
        "reading_mm": datum.reading_mm,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "subject": finding.subject,
        "message": finding.message,
        "measured": finding.measured,
        "limit": finding.limit,
        "unit": finding.unit,
        "hint": finding.hint,
    }


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
