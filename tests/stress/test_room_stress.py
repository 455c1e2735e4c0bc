"""Random parts in random pockets: the room of each against shifts tried one by one.

A third of the pockets are the part grown by a clearance, a third the same with mitred corners,
a third are strangers. Source: shapely.contains on facets of 10 nm; for a grown part, the disc
of the clearance, every shift of which must fit.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import shapely.affinity

from kerf.contour import Contour, Region
from kerf.erosion import erosion
from kerf.offset import Joint, offset
from kerf.pieces import Pieces

ROOMS, BLOCK = 1500, 50


def star(rng: np.random.Generator, count: int, low: float, high: float) -> Region:
    """Return a star-shaped loop of lines and arcs that does not cross itself."""
    while True:
        angle = np.sort(rng.uniform(0, 2 * np.pi, count))
        radius = rng.uniform(low, high, count)
        bulge = rng.uniform(-0.3, 0.3, count)
        loop = Contour.of(zip(radius * np.cos(angle), radius * np.sin(angle), bulge, strict=True))
        leave, arrive = Pieces.of_loops((loop,), 0j)[0].tangents()
        # Arcs that leave a corner almost side by side can cross where no facet shows it.
        blunt = np.abs(np.angle(leave * np.conj(np.roll(arrive, 1)))).max() < 2.9
        if blunt and shapely.Polygon(loop.facets(1e-5)).is_valid:
            return Region(outer=loop)


def polygon(region: Region) -> shapely.Polygon:
    return shapely.Polygon(region.outer.facets(1e-5), [h.facets(1e-5) for h in region.holes])


@pytest.mark.parametrize("first", range(0, ROOMS, BLOCK))
def test_block(first) -> None:
    wrong = []
    for seed in range(first, first + BLOCK):
        rng = np.random.default_rng(70_000 + seed)
        part = star(rng, int(rng.integers(4, 16)), 8, 40)
        clearance = float(rng.choice([0.02, 0.05, 0.1, 0.3, 1.0]))
        reach = 2 * clearance
        if seed % 3 == 0:
            pocket = offset(part, clearance).regions[0]
        elif seed % 3 == 1:
            pocket = offset(part, clearance, joint=Joint.MITRE).regions[0]
        else:
            pocket, reach = star(rng, int(rng.integers(5, 20)), 25, 60), 40.0
        rooms = erosion(pocket, part)
        if seed % 3 == 0:  # a mitre past its limit is bevelled, nearer than the clearance
            area = sum(room.area_mm2 for room in rooms)
            if area < math.pi * clearance**2 * (1 - 1e-6):
                wrong.append((seed, area))
        outer, inner = polygon(pocket), polygon(part)
        for x, y in rng.uniform(-reach, reach, (40, 2)).tolist():
            border = min((abs(room.distance_mm(x, y)) for room in rooms), default=1.0)
            fits = outer.contains(shapely.affinity.translate(inner, x, y))
            if border > 1e-3 and fits != any(room.contains(x, y) for room in rooms):
                wrong.append((seed, x, y))
    assert not wrong
