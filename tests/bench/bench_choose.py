"""How long the proven choice of contacts takes, against weighing every triple.

Run: ``python tests/bench/bench_choose.py [--brute-large]``. Brute force is the vectorised
objective over all triples, in one pass, without bounds; for 1,000 candidates (166 million
triples) it is run only when asked and otherwise estimated from 300. Each line also checks that
both give the same optimum.
"""

from __future__ import annotations

import math
import sys
import time
from dataclasses import replace

import numpy as np

from jigs.locating.candidates import Candidate, candidates
from jigs.locating.choose import _faces, _field, choose_contacts
from jigs.locating.field import Field, objective
from jigs.locating.sources import edge_source, kerf_source
from jigs.part import Critical, Part
from kerf.contour import Contour, Point, Region

SOURCES = (kerf_source(u_kerf_mm=0.01, sheet="bench"), edge_source(edge_tolerance_mm=0.02))


def shapes() -> dict[str, Region]:
    """Return four outlines: straight, with round ends, concave, and of forty arcs."""
    angle = np.linspace(0, math.tau, 41)[:-1]
    radius = 50 + 8 * np.cos(3 * angle) + 5 * np.sin(5 * angle)
    blob = zip(radius * np.cos(angle), radius * np.sin(angle), strict=True)
    return {
        "plate": Region(outer=Contour.rectangle(0, 0, 100, 60)),
        "lever": Region(
            outer=Contour.of(
                ((0, -20), (60, -12), (120, -10, 0.9), (120, 10), (60, 14), (0, 20, 1.0))
            )
        ),
        "ell": Region(outer=Contour.of(((0, 0), (120, 0), (120, 30), (40, 30), (40, 90), (0, 90)))),
        "forty arcs": Region(outer=Contour.of([(x, y, 0.1) for x, y in blob])),
    }


def offered(region: Region, count: int) -> tuple[Candidate, ...]:
    """Return ``count`` places, or as near below it as the outline's edges allow."""
    pitch = region.outer.length_mm / count
    while True:
        found = candidates(region, pitch_mm=pitch, corner_mm=1, nose_mm=1)
        if len(found) <= count:
            return found
        pitch *= 1.003


def brute(field: Field) -> tuple[float, int]:
    """Weigh every triple, one first index at a time."""
    n = len(field.moments)
    j, k = np.triu_indices(n, 1)
    best, weighed = math.inf, 0
    for i in range(n - 2):
        later = j > i
        triples = np.column_stack((np.full(int(later.sum()), i), j[later], k[later]))
        weighed += len(triples)
        for part in np.array_split(triples, max(1, len(triples) // 32768)):
            best = min(best, float(objective(field, part).min()))
    return best, weighed


def main() -> None:
    """Print one line for each shape and number of candidates."""
    large = "--brute-large" in sys.argv
    for name, region in shapes().items():
        box = region.bounds()
        critical = tuple(
            Critical(
                name=f"F{n}",
                at=Point(box.x_min + u * box.width, box.y_min + v * box.height),
                tolerance_mm=0.1,
            )
            for n, (u, v) in enumerate(((0.2, 0.3), (0.9, 0.8), (0.5, 0.5)))
        )
        part = Part(
            name=name,
            region=region,
            height_mm=10,
            material="",
            edge_tolerance_mm=0.02,
            critical=critical,
        )
        a_triple_s = 0.0
        for count in (300, 1000):
            places = offered(region, count)
            start = time.perf_counter()
            found = choose_contacts(part, candidates=places, sources=SOURCES, spacing_mm=5)
            took = time.perf_counter() - start
            n = len(places)
            if count == 300 or large:
                contacts = [replace(c.contact, sources=SOURCES) for c in places]
                field = _field(part, critical, contacts, _faces(places, 0), n, (), 5, True)
                start = time.perf_counter()
                value, weighed = brute(field)
                every = time.perf_counter() - start
                a_triple_s = every / weighed
                assert abs(value - found.worst_share) <= 1e-9 * value
                how = "measured"
            else:
                every, how = a_triple_s * math.comb(n, 3), "estimated"
            print(
                f"{name:10s} {n:5d} candidates: best and second proven in {took:6.2f} s; "
                f"every triple {every:7.1f} s ({how}), ratio {every / took:6.0f}; "
                f"worst {found.worst_mm:.4f} mm, other faces +{found.loss_mm:.4f} mm"
            )


if __name__ == "__main__":
    main()
