"""Reading 20,000 loose lines and arcs against the library's bare parse of the same file.

    python tests/bench/bench_reading.py

Prints the processor time of each and their ratio; the promise is a ratio of 2 at most.
"""

from __future__ import annotations

import gc
import math
import random
import sys
import tempfile
import time
from pathlib import Path

import ezdxf

from kerf.reading import survey_drawing

PARTS, SIDES, RADIUS, CUT = 1250, 8, 15.0, 3.0
MOST = 2.0


def write_loose(path: Path) -> int:
    """Write octagons with rounded corners, each edge by itself, in random order."""
    doc = ezdxf.new("R2010", units=4)
    space = doc.modelspace()
    edges: list[tuple[tuple[float, float], tuple[float, float], bool]] = []
    for part in range(PARTS):
        x, y = (part % 50) * 40.0, (part // 50) * 40.0
        corners = [
            (
                x + RADIUS * math.cos(2 * math.pi * i / SIDES),
                y + RADIUS * math.sin(2 * math.pi * i / SIDES),
            )
            for i in range(SIDES)
        ]
        for i, p in enumerate(corners):
            before, after = corners[i - 1], corners[(i + 1) % SIDES]
            side = math.dist(p, after)
            a, b, c = (
                (q[0] + (r[0] - q[0]) * CUT / side, q[1] + (r[1] - q[1]) * CUT / side)
                for q, r in ((p, before), (p, after), (after, p))
            )
            edges += [(a, b, True), (b, c, False)]
    rng = random.Random(1)
    rng.shuffle(edges)
    bulge = math.tan(math.pi / 4 / 4)
    for a, b, curved in edges:
        if curved:
            centre, start, end, radius = ezdxf.math.bulge_to_arc(a, b, bulge)
            space.add_arc(centre, radius, math.degrees(start), math.degrees(end))
        else:
            space.add_line(*((a, b) if rng.random() < 0.5 else (b, a)))
    doc.saveas(path)
    return len(edges)


def seconds(work) -> float:  # type: ignore[no-untyped-def]
    """Return the processor time of one call, the garbage of others collected before."""
    gc.collect()
    began = time.process_time()
    work()
    return time.process_time() - began


def main() -> int:
    """Print the ratio; exit 1 when it is above the promise."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "loose.dxf"
        count = write_loose(path)
        drawing = survey_drawing(path)
        assert len(drawing.regions) == PARTS
        assert not drawing.faults
        parse = min(seconds(lambda: ezdxf.readfile(path)) for _ in range(3))
        read = min(seconds(lambda: survey_drawing(path)) for _ in range(3))
    print(f"{count} edges: parse {parse:.2f} s, read {read:.2f} s, ratio {read / parse:.2f}")
    return int(read / parse > MOST)


if __name__ == "__main__":
    sys.exit(main())
