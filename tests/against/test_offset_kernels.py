"""Our offsets against four independent ones on the same regions.

Source: Open CASCADE Technology (BRepOffsetAPI_MakeOffset, arcs kept), cavaliercontours (arcs
kept, single loops), GEOS through shapely and Clipper2 through pyclipr (facets). Versions are
pinned by the project's test extra and its lock file.
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator

import numpy as np
import pytest
import shapely
from filleted import distances, region
from kernel_offset import Verdict, clipped_area, kernel_verdict

from kerf.contour import Contour, Region
from kerf.offset import Joint, offset
from kerf.proof import faceted


def cases(first: int, count: int) -> list[tuple[int, Region, float]]:
    return [(s, region(s), d) for s in range(first, first + count) for d in distances(s)]


@pytest.mark.parametrize("first", [0, 20, 40])
def test_the_kernel_gives_the_same_loops_and_entities(first) -> None:
    """Areas, loops, and numbers of lines and arcs; where it differs, fine facets side with us."""
    verdicts = Counter(
        kernel_verdict(source, d, offset(source, d)) for _, source, d in cases(first, 20)
    )
    assert verdicts[Verdict.OURS_WRONG] == 0
    assert verdicts[Verdict.SAME] >= 95


def _half_turns(loop: Contour) -> Iterator[tuple[float, float, float]]:
    """Yield the loop's vertices, arcs beyond half a turn as two: it refuses longer ones."""
    for edge in loop.edges():
        if abs(edge.bulge) > 1:
            half = math.tan(edge.sweep_rad / 8)
            yield (*edge.start, half)
            yield (*edge.point_at(0.5), half)
        else:
            yield (*edge.start, edge.bulge)


#: Reads (distance, rows) lines and prints the areas of the offset's loops, a line for each.
_CHILD = """
import json, sys
from cavaliercontours.cavaliercontours import Polyline
for line in sys.stdin:
    distance, rows = json.loads(line)
    loops = Polyline(list(zip(*rows)), True).parallel_offset(-distance, True)
    print(json.dumps([loop.get_area() for loop in loops]), flush=True)
"""


def _areas_by_cavaliercontours(
    asked: list[tuple[float, list[tuple[float, float, float]]]],
) -> list[list[float] | None]:
    """Return the areas of each offset's loops, None where an assertion ended the library.

    It runs in a process of its own, started again after the case that ended it.
    """
    answers: list[list[float] | None] = []
    while len(answers) < len(asked):
        lines = "".join(json.dumps(case) + "\n" for case in asked[len(answers) :])
        child = subprocess.run(
            [sys.executable, "-c", _CHILD], input=lines, capture_output=True, text=True, check=False
        )
        answers += [json.loads(line) for line in child.stdout.splitlines()]
        if child.returncode != 0:
            answers.append(None)
    return answers


def test_single_loops_against_cavaliercontours() -> None:
    """Same number of loops and same areas, grown and shrunk, arcs kept by both."""
    chosen = [(Region(outer=source.outer), d) for _, source, d in cases(100, 60)]
    asked = [(d, list(_half_turns(source.outer))) for source, d in chosen]
    answered, differing = 0, []
    for (source, d), areas in zip(chosen, _areas_by_cavaliercontours(asked), strict=True):
        if areas is None:
            continue
        answered += 1
        # It keeps the films of no area that closing gaps leave.
        theirs = sorted(area for area in areas if abs(area) > 1e-6)
        ours = sorted(c.signed_area_mm2 for r in offset(source, d).regions for c in r.loops())
        if ours != pytest.approx(theirs, rel=1e-9, abs=1e-6):
            differing.append((source, d, ours, theirs))
    assert answered >= 0.9 * len(chosen)
    assert differing == []


def test_facets_by_clipper() -> None:
    """Clipper2 on facets of 1 µm agrees in area to within its facets."""
    for seed, source, d in cases(200, 12):
        result = offset(source, d).regions
        length = source.length_mm + sum(r.length_mm for r in result)
        area = sum(r.area_mm2 for r in result)
        assert area == pytest.approx(clipped_area(source, d, 1e-3), abs=2e-3 * length), seed


def outlines(count: int) -> Iterator[Region]:
    """Yield straight, mostly hollow outlines."""
    rng = np.random.default_rng(5)
    while count:
        angle = np.sort(rng.uniform(0, 2 * math.pi, int(rng.integers(4, 12))))
        if np.diff(angle, append=angle[0] + 2 * math.pi).max() < 2.5:
            z = rng.uniform(8, 20, len(angle)) * np.exp(1j * angle)
            yield Region(outer=Contour.of((p.real, p.imag) for p in z))
            count -= 1


@pytest.mark.parametrize("d", [0.7, -0.7, 2.5, -2.5])
def test_mitres_by_geos(d) -> None:
    """Mitres of straight outlines agree with GEOS; its limit is set out of reach."""
    for source in outlines(25):
        theirs = shapely.buffer(faceted(source, 1e-3), d, join_style="mitre", mitre_limit=1000.0)
        ours = offset(source, d, joint=Joint.MITRE, limit=1000.0).regions
        assert sum(r.area_mm2 for r in ours) == pytest.approx(theirs.area, rel=1e-9, abs=1e-7)


@pytest.mark.parametrize("d", [0.7, 2.5])
def test_bevels_by_geos(d) -> None:
    """Bevels of convex straight outlines agree with GEOS."""
    for source in outlines(25):
        hull = shapely.convex_hull(faceted(source, 1e-3))
        convex = Region(outer=Contour.of(np.asarray(hull.exterior.coords)[-2::-1].tolist()))
        theirs = shapely.buffer(hull, d, join_style="bevel")
        ours = offset(convex, d, joint=Joint.BEVEL).regions
        assert sum(r.area_mm2 for r in ours) == pytest.approx(theirs.area, rel=1e-12)
