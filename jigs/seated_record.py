"""Closure, seating, clamping and the ways out, and the layout that was passed over, as the
record keeps them: mm, rad and N, places and directions in part coordinates."""

from __future__ import annotations

import math
from typing import Any

from jigs.checks.comes_out import Leaving
from jigs.checks.seated import Clamping, Seated
from jigs.locating.choose import Choice


def seated_record(seated: Seated) -> dict[str, Any]:
    """Return how a part sits, as plain values."""
    closure = seated.closure
    return {
        "closure": None if closure is None else closure.closure.value,
        "free_motion": "" if closure is None else closure.motion,
        "wedges_by_friction": seated.wedges,
        "friction": seated.friction,
        "rests_on": [list(names) for names in seated.rests_on],
        "turn_to_edge": seated.turn,
        "places": [
            {
                "from": _place(p.start),
                "to": _place(p.end),
                "from_mm": round(p.start_mm, 6),
                "to_mm": round(p.end_mm, 6),
            }
            for p in seated.places
        ],
        "places_friction": seated.places_friction,
        "places_share": round(seated.share, 6),
        "clamp": _clamp(seated.clamping) if seated.clamping is not None else None,
        "comes_out": _leaving(seated.leaving) if seated.leaving is not None else None,
    }


def choice_record(choice: Choice | None) -> dict[str, Any] | None:
    """Return the best layout on other faces and what it would cost; None without one."""
    if choice is None or not choice.runner_up:
        return None
    return {
        "contacts": [
            {"name": c.name, "at": _place(c.at), "normal": _place(c.normal)}
            for c in choice.runner_up
        ],
        "worst_mm": round(choice.runner_up_worst_mm, 9),
        "chosen_worst_mm": round(choice.worst_mm, 9),
        "loss_mm": round(choice.loss_mm, 9),
        "other_faces": choice.other_faces,
        "places_offered": choice.candidates,
    }


def _clamp(clamping: Clamping) -> dict[str, Any]:
    forces = clamping.forces
    return {
        "at": _place(clamping.push.at),
        "along": _place(clamping.push.along),
        "given": clamping.is_given,
        "force_n": clamping.force_n,
        "friction": clamping.friction,
        "seats": clamping.seats,
        "sure": clamping.is_sure,
        "in_cut": clamping.in_cut,
        "seats_up_to_friction": clamping.reserve,
        "reactions_n": {name: round(value, 6) for name, value in clamping.reactions_n},
        "aimed_within_rad": round(clamping.aim_rad, 9),
        "least_reactions_n": {name: round(value, 6) for name, value in clamping.least_n} or None,
        "directions_rad": [round(a, 9) for a in clamping.directions_rad]
        if clamping.directions_rad is not None
        else None,
        "side_load_n": round(clamping.load_n, 6),
        "least_force_n": _number(forces.least_n) if forces is not None else None,
        "most_force_n": _number(forces.most_n) if forces is not None else None,
        "contact_bears_n": _number(clamping.bears_n),
    }


def _leaving(out: Leaving) -> dict[str, Any]:
    drawer = out.drawer
    return {
        "lifts_straight_out": True,
        "away_first": out.over,
        "slides": [
            {
                "from_rad": round(s.from_rad, 9),
                "to_rad": round(s.to_rad, 9),
                "clear": list(s.clear),
            }
            for s in out.slides
        ],
        "slid_mm": round(out.distance_mm, 6),
        "wedging": None
        if drawer is None
        else {
            "guidance_mm": round(drawer.guidance_mm, 6),
            "width_mm": round(drawer.width_mm, 6),
            "clearance_mm": round(drawer.clearance_mm, 6),
            "friction": drawer.friction,
            "greatest_offset_mm": round(drawer.offset_mm, 6),
            "tilt_rad": None if drawer.tilt_rad is None else round(drawer.tilt_rad, 9),
        },
    }


def _place(values: tuple[float, float]) -> list[float]:
    """Return a point or direction to a nanometre, without a negative zero."""
    return [round(v, 6) + 0.0 for v in values]


def _number(value: float) -> float | None:
    """Return a force to a micronewton; None for one without limit."""
    return round(value, 6) if math.isfinite(value) else None
