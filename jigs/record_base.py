"""The machined plate of a set-up in the record, and the blank that several parts come from."""

from __future__ import annotations

from typing import Any

from jigs.blank import Blank
from jigs.fits import Limits
from jigs.guides.machined import MachinedPlate, PlateHole
from jigs.locating.pin_places import PinPlace


def base_record(base: MachinedPlate) -> dict[str, Any]:
    """Return a machined plate as plain values; places are counted from its datum edges."""
    return {
        "width_mm": base.width_mm,
        "height_mm": base.height_mm,
        "thickness_mm": base.thickness_mm,
        "material": base.material,
        "to_part": [list(row) for row in base.to_part.rows()],
        "pins": [
            _pin(place, length)
            for place, length in zip(base.places, base.pin_lengths_mm, strict=True)
        ],
        "holes": [_hole(hole) for hole in base.holes],
        "tape": {
            "name": base.tape_name,
            "area_mm2": base.tape_area_mm2,
            "setback_mm": base.setback_mm,
            "zones": [[[list(v) for v in loop.vertices] for loop in z.loops()] for z in base.tape],
        },
        "stops": [
            {
                "name": stop.name,
                "at": list(stop.at),
                "diameter_mm": stop.diameter_mm,
                "height_mm": stop.height_mm,
            }
            for stop in base.stops
        ],
        "overhangs": [[list(v) for v in region.outer.vertices] for region in base.overhangs],
        "heights": [
            {"name": layer.name, "thickness_mm": layer.thickness_mm, "u_mm": layer.u_mm}
            for layer in base.layers
        ],
        "top_mm": base.top_mm,
        "top_u_mm": base.top_u_mm,
        "slack": None
        if base.slack_mm is None
        else {"x_mm": base.slack_mm[0], "y_mm": base.slack_mm[1], "turn_rad": base.slack_rad},
    }


def blank_record(blank: Blank) -> dict[str, Any]:
    """Return a blank as plain values; places are part coordinates of the first copy."""
    return {
        "box": list(blank.box),
        "copies": [list(by) for by in blank.copies],
        "pitch_mm": blank.pitch_mm,
        "along": blank.asked.along,
        "saw_mm": blank.asked.saw_mm,
        "saw_at_mm": list(blank.saw_at_mm),
        "clean_up_mm": blank.asked.clean_up_mm,
        "left_over_mm": list(blank.left_over_mm),
    }


def _pin(place: PinPlace, length_mm: float) -> dict[str, Any]:
    fit = place.fit
    return {
        "name": place.name,
        "role": place.role.value,
        "pin": place.pin.name,
        "made_to": place.pin.made_to,
        "nominal_mm": place.pin.nominal_mm,
        "limits_mm": _limits(place.pin.limits),
        "length_mm": length_mm,
        "at_part": list(place.at),
        "bore": place.bore.name if place.bore is not None else None,
        "bore_limits_mm": _limits(fit.bore) if fit is not None else None,
        "clearance_mm": [fit.least_mm, fit.most_mm] if fit is not None else None,
        "relief": list(place.relief) if place.relief is not None else None,
    }


def _hole(hole: PlateHole) -> dict[str, Any]:
    return {
        "name": hole.name,
        "at": list(hole.at),
        "limits_mm": _limits(hole.limits),
        "depth_mm": hole.depth_mm,
        "through": hole.is_through,
        "pilot_mm": hole.pilot_mm,
        "steps": [
            {
                "work": step.work,
                "tool": step.tool,
                "diameter_mm": step.diameter_mm,
                "limits_mm": _limits(step.limits),
                "speed_rpm": step.speed_rpm,
                "feed_mm_rev": step.feed_mm_rev,
                "feed_mm_min": step.feed_mm_min,
            }
            for step in hole.steps
        ],
    }


def _limits(limits: Limits) -> list[float]:
    return [limits.least_mm, limits.most_mm]
