"""The process that runs the dense library, so that its end is not ours: JSON in, JSON out."""

from __future__ import annotations

import json
import sys


def main() -> None:
    """Read what is asked on standard input, pack it, and answer on standard output."""
    import spyrrow

    asked = json.load(sys.stdin)
    items = [
        spyrrow.Item(str(i), [tuple(p) for p in item["shape"]], 1, item["turns"])
        for i, item in enumerate(asked["items"])
    ]
    solution = spyrrow.StripPackingInstance("pieces", asked["height"], items).solve(
        spyrrow.StripPackingConfig(
            early_termination=True,
            total_computation_time=asked["seconds"],
            min_items_separation=asked["gap"] or None,
            seed=asked["seed"],
        )
    )
    json.dump(
        {
            "placed": [
                {
                    "item": int(p.id),
                    "turn": p.rotation,
                    "x": p.translation[0],
                    "y": p.translation[1],
                }
                for p in solution.placed_items
            ]
        },
        sys.stdout,
    )


if __name__ == "__main__":
    main()
