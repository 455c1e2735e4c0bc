"""The stack of a set-up in the record: layers from the lowest up, dowels, play."""

from __future__ import annotations

from typing import Any

from jigs.guides.dowels import Stack


def stack_record(stack: Stack) -> dict[str, Any]:
    """Return a stack as plain values; dowels in part coordinates."""
    return {
        "layers": [
            {
                "plate": layer.plate,
                "role": layer.role,
                "low_mm": layer.low_mm,
                "high_mm": layer.high_mm,
                "fit": layer.fit,
                "hole_mm": layer.hole_mm,
            }
            for layer in stack.layers
        ],
        "dowels": [
            {
                "name": dowel.name,
                "at": list(dowel.at),
                "diameter_mm": [dowel.limits.least_mm, dowel.limits.most_mm],
            }
            for dowel in stack.dowels
        ],
        "dowel_size": stack.dowel_size,
        "dowel_length_mm": stack.length_mm,
        "float_mm": stack.float_mm,
        "stand_off_mm": stack.stand_off_mm,
        "cap_gap_mm": stack.cap_gap_mm,
    }
