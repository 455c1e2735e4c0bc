"""What the record keeps of a set-up under the cutter: recipes, holding, access, strength.

Units mm, N, kW, rad. A factor that nothing limits is null: nothing loads the hold there.
Figures are rounded to what they are known to, so that the record reads as it means.
"""

from __future__ import annotations

import math
from typing import Any

from jigs.checks.jaws import Pressing
from jigs.checks.machining import Machining
from jigs.holding.access import Access
from jigs.holding.cutting import CutForces, DrillForces
from jigs.holding.holding import CutHolding, Holding
from jigs.holding.recipe import Recipe
from jigs.holding.strength import Strength


def machining_record(machined: Machining) -> dict[str, Any]:
    """Return the record's entries of a set-up under the cutter, as plain values."""
    holding = machined.holding
    return {
        "recipes": [_recipe(r) for r in machined.recipes],
        "holding": _holding(holding) if holding is not None else None,
        "vise": _vise(machined.held.pressing) if machined.held.pressing is not None else None,
        "access": [_access(a) for a in machined.access],
        "strength": [_strength(s) for s in machined.strength],
    }


def _recipe(asked: Recipe) -> dict[str, Any]:
    cut = asked.cut
    return {
        "cut": cut.name,
        "kind": cut.kind.value,
        "tool_diameter_mm": cut.diameter_mm,
        "flutes": cut.teeth,
        "speed_rpm": round(cut.speed_rpm, 1),
        "feed_mm": cut.feed_mm,
        "feed_mm_min": round(cut.feed_mm_min, 1),
        "depth_mm": cut.depth_mm,
        "width_mm": cut.width_mm,
        "engaged_mm": round(cut.engaged_mm, 4),
        "z_mm": [cut.low_mm, cut.high_mm],
        "surface_m_min": round(asked.surface_m_min, 1),
        "removal_cm3_min": round(asked.removal_cm3_min, 3),
        "power_kw": round(asked.power_kw, 4),
        "torque_nm": round(asked.torque_nm, 4),
        **_forces(asked.forces),
    }


def _forces(forces: CutForces | DrillForces) -> dict[str, Any]:
    """Return the forces holding is judged with, N."""
    if isinstance(forces, CutForces):
        return {
            "peak_n": round(forces.peak_n, 1),
            "mean_n": round(forces.mean_n, 1),
            "side_n": round(forces.side_n, 1),
            "lift_n": round(forces.lift_n, 1),
            "press_n": round(forces.press_n, 1),
        }
    return {"press_n": round(forces.thrust_n, 1), "lift_n": round(forces.lift_n, 1)}


def _holding(holding: Holding) -> dict[str, Any]:
    worst = holding.worst
    return {
        "by": holding.by,
        "force_n": round(worst.force_n, 1),
        "capacity_n": _finite(holding.capacity_n, 1),
        "factor": _finite(worst.factor, 3),
        "limit": holding.limit,
        "proven": holding.proven,
        "assumption": holding.said,
        "cuts": [_cut(cut) for cut in holding.cuts],
    }


def _vise(made: Pressing) -> dict[str, Any]:
    """Return what the vise does to the part; lift is the shop's own figure where it has one."""
    squeezed, lift, lifts = made.squeezed, made.lift, made.lifts_mm
    return {
        "pressure_mpa": round(made.pressure_mpa, 2),
        "shortens_mm": round(squeezed.shortens_mm, 5) if squeezed is not None else None,
        "bows_mm": round(squeezed.bows_mm, 5) if squeezed is not None else None,
        "buckles_n": round(squeezed.buckles_n) if squeezed is not None else None,
        "lifts_mm": round(lifts, 4) if lifts is not None else None,
        "lift_measured": made.measured_mm is not None,
        "jaw_rises_mm": round(lift.rises_mm, 4) if lift is not None else None,
        "jaw_tilt_rad": round(lift.tilt_rad, 7) if lift is not None else None,
        "uplift_n": round(lift.uplift_n, 1) if lift is not None else None,
        "assumed": list(made.assumed),
    }


def _cut(cut: CutHolding) -> dict[str, Any]:
    return {
        "cut": cut.cut,
        "factor": _finite(cut.factor, 3),
        "way": cut.way,
        "tool_at": [round(v, 3) for v in cut.at],
        "gives_at": [round(v, 3) for v in cut.gives] if cut.gives is not None else None,
        "force_n": round(cut.force_n, 1),
    }


def _access(item: Access) -> dict[str, Any]:
    return {
        "cut": item.cut,
        "against": item.against,
        "what": item.what,
        "ok": item.ok,
        "gap_mm": _finite(item.gap_mm, 3),
        "above_mm": round(item.above_mm, 3),
        "clash_mm2": round(sum(region.area_mm2 for region in item.clash), 3),
    }


def _strength(item: Strength) -> dict[str, Any]:
    return {
        "place": item.place,
        "stress_mpa": round(item.stress_mpa, 2),
        "factor": round(item.factor, 2),
        "moves_mm": round(item.moves_mm, 4),
    }


def _finite(value: float, places: int) -> float | None:
    return round(value, places) if math.isfinite(value) else None
