"""Time, error and entities of our offset beside others on the same contours, in one run.

Beside ours stand shapely on facets of 1 µm, Clipper2 on the same facets, the OpenCASCADE kernel
and cavaliercontours (single loops only). Then how time grows from 100 to 100,000 segments.

Run: ``python tests/bench/bench_offset.py [greatest number of segments]``.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyclipr
import shapely
from cavaliercontours.cavaliercontours import Polyline

from kerf.contour import Contour, Region
from kerf.offset import offset
from kerf.proof import faceted

sys.path.insert(0, str(Path(__file__).parents[1] / "kerf"))
from filleted import filleted, region
from kernel_offset import carriers_of, entities, kernel_offset, kernel_shape

KERNEL_LIMIT = 5_000  #: segments beyond which the kernel would take minutes


def milliseconds(work: Callable[[], object]) -> float:
    """Return the least time of a few runs, ms."""
    best, spent, runs = math.inf, 0.0, 0
    while runs < 2 or (spent < 0.6 and runs < 40):
        start = time.perf_counter()
        work()
        took = time.perf_counter() - start
        best, spent, runs = min(best, took), spent + took, runs + 1
    return best * 1e3


def cog(segments: int) -> Region:
    """Return a cog of about so many edges: teeth 4 mm apart, all corners filleted."""
    teeth = max(3, segments // 8)
    rim = teeth * 4.0 / (2 * math.pi) + 2.0
    points, radii = [], []
    for tooth in range(teeth):
        for share, r in ((0.05, rim), (0.45, rim), (0.55, rim - 2.0), (0.95, rim - 2.0)):
            angle = 2 * math.pi * (tooth + share) / teeth
            points.append(complex(r * math.cos(angle), r * math.sin(angle)))
            radii.append(0.2 + 0.1 * (tooth % 3))
    loop = filleted(points, radii)
    assert loop is not None
    return Region(outer=loop)


def plate(segments: int) -> Region:
    """Return a plate with slots in rows, about so many edges."""
    rows = max(1, round(math.sqrt(segments / 4)))
    holes = tuple(
        Contour.of(((x - 2, y - 1.5), (x + 2, y - 1.5, 1), (x + 2, y + 1.5), (x - 2, y + 1.5, 1)))
        for x in range(10, 10 * rows + 1, 10)
        for y in range(10, 10 * rows + 1, 10)
    )
    return Region(outer=Contour.rectangle(0, 0, 10 * rows + 10, 10 * rows + 10), holes=holes)


def by_shapely(source: Region, d: float) -> shapely.Geometry:
    quarter = math.ceil(math.pi / 4 / math.acos(1 - 1e-3 / abs(d)))
    polygon = shapely.Polygon(source.outer.facets(1e-3), [h.facets(1e-3) for h in source.holes])
    return shapely.buffer(polygon, d, quad_segs=quarter)


def by_clipper(source: Region, d: float) -> list[np.ndarray]:
    polygon = faceted(source, 1e-3)
    engine = pyclipr.ClipperOffset()
    engine.scaleFactor, engine.arcTolerance = 10_000, 10
    paths = [np.asarray(ring.coords)[:-1] for ring in (polygon.exterior, *polygon.interiors)]
    engine.addPaths(paths, pyclipr.JoinType.Round, pyclipr.EndType.Polygon)
    return engine.execute(d)


def deviation(source: Region, d: float, points: list[tuple[float, float]]) -> float:
    """Return the greatest deviation of points of a result from |d|, mm (at most 200 looked at)."""
    step = max(1, len(points) // 200)
    return max(abs(abs(source.distance_mm(x, y)) - abs(d)) for x, y in points[::step])


def middles(loops: list[np.ndarray]) -> list[tuple[float, float]]:
    """Return the middles of a result's facets, where it deviates most."""
    return [tuple(p) for loop in loops for p in (loop + np.roll(loop, -1, axis=0)) / 2]


def compare(name: str, source: Region, d: float) -> None:
    """Print a row for each library."""
    edges = sum(len(c.vertices) for c in source.loops())
    print(f"\n{name}: {edges} edges, {len(source.holes)} holes, {d:+g} mm")
    print(f"{'':24}{'ms':>9}{'deviation mm':>15}{'entities':>10}")

    def row(label: str, ms: float, error: float | None, count: int | None) -> None:
        shown = "" if error is None else f"{error:.1e}"
        print(f"{label:24}{ms:9.2f}{shown:>15}{'' if count is None else count:>10}")

    result = offset(source, d)
    ours = [c for r in result.regions for c in r.loops()]
    points = [e.point_at(t) for c in ours for e in c.edges() for t in (0.0, 0.4)]
    row(
        "ours, proven",
        milliseconds(lambda: offset(source, d)),
        deviation(source, d, points),
        sum(entities(carriers_of(c)) for c in ours),
    )
    figure = by_shapely(source, d)
    rings = [np.asarray(r.coords)[:-1] for r in shapely.get_rings(shapely.get_parts(figure))]
    row(
        "shapely, 1 µm facets",
        milliseconds(lambda: by_shapely(source, d)),
        deviation(source, d, middles(rings)),
        sum(map(len, rings)),
    )
    paths = [np.asarray(p) for p in by_clipper(source, d)]
    row(
        "Clipper2, 1 µm facets",
        milliseconds(lambda: by_clipper(source, d)),
        deviation(source, d, middles(paths)),
        sum(map(len, paths)),
    )
    if edges <= KERNEL_LIMIT:
        theirs = kernel_offset(source, d)
        count = None if theirs is None else sum(entities(c.carriers) for c in theirs)
        row("OpenCASCADE", milliseconds(lambda: kernel_shape(source, d)), None, count)
    if not source.holes:
        columns = source.outer.array().T
        line = Polyline(columns.tolist(), True)
        loops = line.parallel_offset(-d, True)
        row(
            "cavaliercontours",
            milliseconds(lambda: line.parallel_offset(-d, True)),
            None,
            sum(c.vertex_count() for c in loops),
        )


def growth(name: str, make: Callable[[int], Region], d: float, greatest: int) -> None:
    """Print how our time grows with the number of segments."""
    print(f"\n{name}, {d:+g} mm: time as segments grow")
    seen: list[tuple[int, float]] = []
    for wanted in (100, 1_000, 10_000, 100_000):
        if wanted > greatest:
            break
        source = make(wanted)
        count = sum(len(c.vertices) for c in source.loops())
        seen.append((count, milliseconds(lambda s=source: offset(s, d))))
        print(f"{count:9d} segments {seen[-1][1]:10.1f} ms")
    if len(seen) > 2:
        (n0, t0), (n1, t1) = seen[1], seen[-1]
        print(f"exponent from {n0} to {n1}: {math.log(t1 / t0) / math.log(n1 / n0):.2f}")


def main() -> None:
    """Print all tables."""
    greatest = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    fifty = next(
        r for r in map(region, range(1000)) if 48 <= sum(len(c.vertices) for c in r.loops()) <= 52
    )
    for d in (0.1, -0.1, 1.0, -1.0):
        compare("a part of fifty edges", fifty, d)
    compare("cog", cog(50), 0.1)
    compare("cog", cog(2_000), 0.15)
    compare("plate", plate(2_000), -0.15)
    growth("cog", cog, 0.15, greatest)
    growth("plate", plate, -0.15, greatest)


if __name__ == "__main__":
    main()
