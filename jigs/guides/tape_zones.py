"""Where tape and glue go on a plate, where hard stops stand, and what hangs over its edge.

Tape lies under material that the plate carries, back from every edge of the part, off bores, off
pins and stops by the setback that keeps glue from creeping to them, and off whatever a cutter
passes through (a cutter that meets tape winds it up, and glue under a breakthrough holds
nothing). Everything is exact, arcs kept: it is scored on the sheet and its area carries load.

Hard stops stand where three of them span the widest triangle under the part, clear of its bores,
edges and of what is cut through.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import Final

import numpy as np

from kerf.boolean import difference, intersection
from kerf.contour import Contour, Point, Region
from kerf.measure import distances_mm
from kerf.offset import offset

#: Patches below this hold nothing and are not laid, mm². Source: common practice.
LEAST_PATCH_MM2: Final = 50.0
#: What a run-out is given on every side, mm. Source: common practice.
RUN_OUT_MM: Final = 1.0
#: What a stop keeps from an edge of the part besides its own radius, mm.
STOP_EDGE_MM: Final = 0.5
#: Places along the longer side of the part where a stop is tried.
_STOP_PLACES: Final = 24
#: Sagitta of the facets from which a reach is measured, mm: it is told to a tenth.
_REACH_CHORD_MM: Final = 0.02
#: Places kept for the search of three: those furthest from the middle.
_STOPS_TRIED: Final = 40


def tape_zones(
    part: Region,
    plate: Region,
    *,
    margin_mm: float,
    setback_mm: float,
    keep_off: Sequence[tuple[Point, float]],
    run_outs: Iterable[Region],
) -> tuple[Region, ...]:
    """Return where tape is laid, largest first; empty when no patch is left.

    Args:
        part: as it lies on the plate, its holes in it.
        plate: the plate.
        margin_mm: back from every edge of the part, mm.
        setback_mm: back from pins and stops, mm.
        keep_off: (centre, diameter in mm) of pins and stops.
        run_outs: what cutters pass through.
    """
    borne = intersection(part, plate)
    back = tuple(r for piece in borne for r in _grown(piece, -margin_mm))
    discs = [Region(outer=Contour.circle(*at, size / 2 + setback_mm)) for at, size in keep_off]
    gone = [r for swept in run_outs for r in _grown(swept, RUN_OUT_MM)]
    for taken in (*discs, *gone):
        back = tuple(left for piece in back for left in difference(piece, (taken,)))
    kept = (piece for piece in back if piece.area_mm2 >= LEAST_PATCH_MM2)
    return tuple(sorted(kept, key=lambda piece: -piece.area_mm2))


def overhangs(part: Region, plate: Region) -> tuple[Region, ...]:
    """Return what of the part lies beyond the plate; empty when the plate carries all of it."""
    box, on = part.bounds(), plate.bounds()
    if (
        on.x_min <= box.x_min
        and box.x_max <= on.x_max
        and on.y_min <= box.y_min
        and box.y_max <= on.y_max
    ):
        return ()
    return difference(part, (plate,))


def stop_places(
    part: Region, plate: Region, *, diameter_mm: float, keep_off: Iterable[Region]
) -> tuple[Point, ...]:
    """Return three places for hard stops; none when no three span a triangle.

    Args:
        part: as it lies.
        plate: the plate.
        diameter_mm: of a stop, mm.
        keep_off: pins, and what cutters pass through.
    """
    box = part.bounds()
    need = diameter_mm / 2 + STOP_EDGE_MM
    pitch = max(box.width, box.height) / _STOP_PLACES
    xs = np.arange(box.x_min + pitch / 2, box.x_max, pitch)
    ys = np.arange(box.y_min + pitch / 2, box.y_max, pitch)
    grid = np.array([(x, y) for y in ys for x in xs])
    for region in (part, plate):
        if len(grid):
            grid = grid[distances_mm(region, grid) <= -need]
    for region in keep_off:
        if len(grid):
            grid = grid[distances_mm(region, grid) >= need]
    if len(grid) < 3:
        return ()
    middle = grid.mean(axis=0)
    far = np.argsort(-np.round(np.hypot(*(grid - middle).T), 6), kind="stable")[:_STOPS_TRIED]
    triples = np.array(list(combinations(sorted(far.tolist()), 3)))
    a, b, c = (grid[triples[:, k]] for k in range(3))
    area = np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    best = int(np.round(area, 6).argmax())
    if area[best] < (2 * diameter_mm) ** 2:
        return ()
    return tuple(Point(float(x), float(y)) for x, y in grid[triples[best]])


def _grown(region: Region, by_mm: float) -> tuple[Region, ...]:
    return (region,) if by_mm == 0.0 else offset(region, by_mm).regions


def reach_mm(overhang: Region, plate: Region) -> float:
    """Return how far an overhang reaches beyond the plate, mm."""
    return float(distances_mm(plate, overhang.outer.facets(_REACH_CHORD_MM)).max())
