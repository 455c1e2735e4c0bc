"""Which loop lies in which: parts and their holes, by depth.

Before loops are nested each must be sound. A loop drawn twice counts once; two loops that
run closer than half a kerf beside each other all the way are one outline drawn twice as well,
unless they differ by more than a gap that would have been closed. A loop that crosses or
touches itself, two loops that cross, and a loop that encloses nothing are faults with their
place. Shapely finds the places on facets of a micrometre.

A loop at even depth is the outline of a part, one at odd depth a hole in it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from kerf.contour import Contour, Floats, Point, Region, facet_points
from kerf.reading.drawing import Fault, FaultKind, Healed, Healing, Origin, place_text
from kerf.tolerance import FACET_MM, GAP_LARGEST_MM, GAP_SHARE, SLIVER_MM

if TYPE_CHECKING:
    from kerf.reading.chain import Loop

Shapes = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nested:
    """Regions, largest first, the layer of each outer loop, and what was found on the way."""

    regions: tuple[Region, ...]
    layer_of: tuple[str, ...]
    healed: tuple[Healed, ...]
    faults: tuple[Fault, ...]


def nested(loops: Sequence[Loop]) -> Nested:
    """Return the regions that loops enclose: even depth is material, odd depth is a hole."""
    import shapely

    if not loops:
        return Nested(regions=(), layer_of=(), healed=(), faults=())
    shapes = polygons_of([loop.contour for loop in loops], FACET_MM)
    sound, faults = _sound(loops, shapes)
    loops, shapes = [loops[i] for i in sound], shapes[sound]
    area = np.asarray(shapely.area(shapes))
    first, healed = _drawn_once(loops, shapes, area)
    loops, shapes, area = [loops[i] for i in first], shapes[first], area[first]
    faults += _crossings(loops, shapes)
    regions = _regions(loops, shapes, area)
    return Nested(
        regions=tuple(region for region, _ in regions),
        layer_of=tuple(layer for _, layer in regions),
        healed=tuple(healed),
        faults=tuple(faults),
    )


def polygons_of(contours: Sequence[Contour], chord_error_mm: float) -> Shapes:
    """Return each loop as a shapely polygon of facets. shape (n,)."""
    import shapely

    rows = [contour.array() for contour in contours]
    counts = np.array([len(ring) for ring in rows])
    last = np.cumsum(counts) - 1
    after = np.arange(1, last[-1] + 2)
    after[last] = last - counts + 1
    joined = np.concatenate(rows)
    points, edge = facet_points(joined, joined[after], chord_error_mm)
    rings = shapely.linearrings(points, indices=np.repeat(np.arange(len(rows)), counts)[edge])
    out: Shapes = np.asarray(shapely.polygons(rings))
    return out


def _sound(loops: Sequence[Loop], shapes: Shapes) -> tuple[list[int], list[Fault]]:
    """Return the indices of loops that enclose something and do not cross themselves."""
    import shapely

    whole = shapely.is_valid(shapes)
    area, length, box = shapely.area(shapes), shapely.length(shapes), shapely.bounds(shapes)
    sound: list[int] = []
    faults: list[Fault] = []
    for i, loop in enumerate(loops):
        centre = Point(float(box[i, 0] + box[i, 2]) / 2, float(box[i, 1] + box[i, 3]) / 2)
        # Twice the area over the length is the width of a long thin loop.
        if whole[i] and 2 * area[i] < SLIVER_MM * length[i]:
            faults.append(
                _fault(
                    FaultKind.FLAT,
                    centre,
                    loop.origin,
                    f"an outline {length[i] / 2:.4g} mm long encloses next to nothing: "
                    f"{area[i]:.3g} mm²",
                    "delete it, or draw it as wide as it is meant to be",
                )
            )
        elif whole[i]:
            sound.append(i)
        else:
            at = _place_of(str(shapely.is_valid_reason(shapes[i])), centre)
            faults.append(
                _fault(
                    FaultKind.CROSSING,
                    at,
                    loop.origin,
                    f"the outline crosses or touches itself at {place_text(at)}",
                    "redraw the outline so that it runs round its part once",
                )
            )
    return sound, faults


def _place_of(reason: str, otherwise: Point) -> Point:
    """Return the coordinates in shapely's reason ("Self-intersection[50 50]")."""
    found = re.search(r"\[(\S+) (\S+)\]", reason)
    return Point(float(found[1]), float(found[2])) if found else otherwise


def _fault(kind: FaultKind, at: Point, origin: Origin, message: str, hint: str) -> Fault:
    """Return a fault at one place."""
    return Fault(kind=kind, at=at, to=at, origin=origin, message=message, hint=hint)


def _drawn_once(
    loops: Sequence[Loop], shapes: Shapes, area: Floats
) -> tuple[list[int], list[Healed]]:
    """Return the indices of loops to keep, and the loops that repeat another."""
    import shapely
    from scipy.spatial import cKDTree

    if not len(shapes):
        return [], []

    boxes: Floats = shapely.bounds(shapes)
    within = max(2 * FACET_MM, min(GAP_SHARE * _extent(boxes), GAP_LARGEST_MM))
    gone: set[int] = set()
    healed = []
    # Boxes as points of four dimensions: copies are neighbours.
    alike = cKDTree(boxes).query_pairs(within, p=math.inf, output_type="ndarray")
    for a, b in sorted(map(tuple, np.sort(alike, axis=1).tolist())):
        if a in gone or b in gone:
            continue
        # Two parts as small as the tolerance are no copies of each other.
        if 2 * within * shapely.length(shapes[a]) > min(area[a], area[b]) * 0.5:
            continue
        apart = float(shapely.hausdorff_distance(shapes[a].exterior, shapes[b].exterior))
        if apart > within:
            continue
        gone.add(b)
        healed.append(
            Healed(
                kind=Healing.DUPLICATE,
                at=loops[b].contour.bounds().centre,
                origin=loops[b].origin,
                amount_mm=apart,
            )
        )
    return [i for i in range(len(loops)) if i not in gone], healed


def _extent(boxes: Floats) -> float:
    """Return the diagonal of the box round boxes, mm. boxes: shape (n, 4), n > 0."""
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return float(np.hypot(*(high - low)))


def _crossings(loops: Sequence[Loop], shapes: Shapes) -> list[Fault]:
    """Return a fault for each pair of loops that cross each other."""
    import shapely

    rings = shapely.get_exterior_ring(shapes)
    tree = shapely.STRtree(rings)
    faults = []
    one, other = tree.query(rings, predicate="intersects")
    for i, j in sorted((int(i), int(j)) for i, j in zip(one, other, strict=True) if i < j):
        shared = shapely.intersection(shapes[i], shapes[j])
        rest = min(shapely.area(shapes[i]), shapely.area(shapes[j])) - shapely.area(shared)
        # Facets of touching arcs may cross by a micrometre along their length.
        slack = 4 * FACET_MM * min(shapely.length(shapes[i]), shapely.length(shapes[j]))
        if shapely.area(shared) <= slack or rest <= slack:
            continue
        meeting = shapely.get_coordinates(shapely.intersection(rings[i], rings[j]))
        at = Point(*map(float, meeting[0]))
        faults.append(
            _fault(
                FaultKind.OVERLAPPING,
                at,
                loops[j].origin,
                f"this outline crosses that of {loops[i].origin} at {place_text(at)}",
                "choose one `layer`, or delete the outline that is not cut",
            )
        )
    return faults


def _regions(loops: Sequence[Loop], shapes: Shapes, area: Floats) -> list[tuple[Region, str]]:
    """Return the regions with the layer of their outer loops, largest first."""
    import shapely

    inside = shapely.point_on_surface(shapes)
    tree = shapely.STRtree(shapes)
    shapely.prepare(shapes)
    inner, outer = tree.query(inside, predicate="within")
    real = area[inner] < area[outer]
    inner, outer = inner[real], outer[real]
    depth = np.bincount(inner, minlength=len(loops))
    # The parent is the smallest loop around.
    parent = np.full(len(loops), -1)
    by = np.lexsort((area[outer], inner))
    nearest, first = np.unique(inner[by], return_index=True)
    parent[nearest] = outer[by][first]
    holes: dict[int, list[int]] = {}
    for i in np.flatnonzero(depth % 2 == 1).tolist():
        holes.setdefault(int(parent[i]), []).append(i)
    # Largest first, then the lower and the one further left.
    boxes = shapely.bounds(shapes)
    outers = np.flatnonzero(depth % 2 == 0)
    ranked = outers[
        np.lexsort((boxes[outers, 0], boxes[outers, 1], -np.round(area[outers], 6)))
    ].tolist()
    return [
        (
            Region(
                outer=loops[i].contour,
                holes=tuple(loops[k].contour for k in holes.get(i, ())),
            ),
            loops[i].origin.layer,
        )
        for i in ranked
    ]
