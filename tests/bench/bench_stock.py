"""Density of the own placement and of the extra on published sets, beside the published best.

    python tests/bench/bench_stock.py [SET ...]

Sets: shapes0, swim, albano, jakobs1 of ESICUP (EURO working group on cutting and packing), as
JSON of strip height and items, from ``../shared/corpus/nesting``. Published best and mean of 50
runs of 600 s: Gardeyn et al., *An open-source heuristic to reboot 2D nesting research*, arXiv
2509.13329. The own placement is to reach 90 % of the best in 10 s of processor time, the extra
98 % in 60 s on two free cores (it counts its budget by the wall clock).
"""

from __future__ import annotations

import json
import math
import sys
import time
from pathlib import Path

import shapely

from kerf.dense import dense_strip
from kerf.packing import Shapes
from kerf.strip import packed

SETS = Path(__file__).parents[2] / ".." / "shared" / "corpus" / "nesting"
#: Published density, %: best and mean of 50 runs.
PUBLISHED = {
    "shapes0": (69.97, 68.60),
    "swim": (79.83, 78.33),
    "albano": (89.68, 89.46),
    "jakobs1": (89.25, 89.09),
}
OWN_SHARE, DENSE_SHARE, DENSE_S = 0.90, 0.98, 60


def main() -> int:
    """Print the table; return 1 when the own placement falls short."""
    short = 0
    print(f"{'set':8} {'published best/mean':>20} {'own':>7} {'share':>6} {'cpu s':>6} "
          f"{'dense':>7} {'share':>6} {'wall s':>6}")  # fmt: skip
    for name in sys.argv[1:] or PUBLISHED:
        best, mean = PUBLISHED[name]
        path = SETS / f"JeroenGar__sparrow__{name}.json"
        if not path.exists():
            print(f"{name}: set not found")
            continue
        given = json.loads(path.read_text())
        height = given["strip_height"]
        polygons, turns = [], []
        for item in given["items"]:
            for _ in range(item["demand"]):
                polygons.append(shapely.Polygon(item["shape"]["data"]))
                turns.append(tuple(math.radians(a) for a in item["allowed_orientations"]))
        area = sum(p.area for p in polygons)
        start = time.process_time()
        shapes = Shapes()
        pieces = [[shapes.turned(p, a) for a in t] for p, t in zip(polygons, turns, strict=True)]
        own = 100 * area / height / packed(pieces, height_mm=height).length_mm
        own_s = time.process_time() - start
        start = time.perf_counter()
        found = dense_strip(polygons, turns, height_mm=height, seconds=DENSE_S)
        dense = 100 * area / height / found.length_mm
        dense_s = time.perf_counter() - start
        short += own < OWN_SHARE * best
        print(
            f"{name:8} {best:11.2f}/{mean:6.2f} % {own:7.2f} {own / best:6.1%} {own_s:6.1f} "
            f"{dense:7.2f} {dense / best:6.1%} {dense_s:6.1f}"
        )
    print(f"asked: own {OWN_SHARE:.0%} in 10 s, dense {DENSE_SHARE:.0%} in {DENSE_S} s; "
          "source of the published figures: arXiv 2509.13329")  # fmt: skip
    return 1 if short else 0


if __name__ == "__main__":
    sys.exit(main())
