"""Which loop lies in which: parts and their holes, by depth.

Before loops are nested each must be sound. A loop drawn twice, exactly or with
less than half a kerf between, counts once; two loops that run a little further apart all the
way (a thread's two diameters, a doubled line) are a fault, because only one can be cut and
nobody said which. A loop that crosses or
touches itself, two loops that cross, and a loop that encloses nothing are faults with their
place. Shapely finds the places on facets of a micrometre.

A loop at even depth is the outline of a part, one at odd depth a hole in it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kerf.contour import Contour, Floats, Point, Region, facet_points
from kerf.errors import InputError
from kerf.reading.chain import Loop, circle_of
from kerf.reading.drawing import (
    FAULTS_LISTED,
    Fault,
    FaultKind,
    Healed,
    Healing,
    Origin,
    place_text,
)
from kerf.reading.near import near_pairs
from kerf.tolerance import FACET_MM, GAP_LARGEST_MM, LOOP_PAIRS_LARGEST, SLIVER_MM

Shapes = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nested:
    """Regions, largest first, the layer of each outer loop, and what was found on the way."""

    regions: tuple[Region, ...]
    layer_of: tuple[str, ...]
    healed: tuple[Healed, ...]
    faults: tuple[Fault, ...]


def nested(loops: Sequence[Loop]) -> Nested:
    """Return the regions that loops enclose: even depth is material, odd depth is a hole.

    Raises:
        InputError: the loops are too tangled to be outlines.
    """
    import shapely

    if not loops:
        return Nested(regions=(), layer_of=(), healed=(), faults=())
    shapes = polygons_of([loop.contour for loop in loops], FACET_MM)
    sound, faults = _sound(loops, shapes)
    loops, shapes = [loops[i] for i in sound], shapes[sound]
    area = np.asarray(shapely.area(shapes))
    first, healed, doubled = _drawn_once(loops, shapes, area)
    loops, shapes, area = [loops[i] for i in first], shapes[first], area[first]
    faults += doubled + _crossings(loops, shapes)
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
) -> tuple[list[int], list[Healed], list[Fault]]:
    """Return the indices of loops to keep, the loops that repeat another, and near copies."""
    import shapely

    gone: set[int] = set()
    healed: list[Healed] = []
    faults: list[Fault] = []

    def drop(b: int, apart_mm: float) -> None:
        gone.add(b)
        middle = loops[b].contour.bounds().centre
        healed.append(
            Healed(kind=Healing.DUPLICATE, at=middle, origin=loops[b].origin, amount_mm=apart_mm)
        )

    seen: dict[object, int] = {}
    for i, loop in enumerate(loops):
        if seen.setdefault(loop.contour.vertices, i) != i:
            drop(i, 0.0)
    rest = np.array([i for i in range(len(loops)) if i not in gone], dtype=np.int64)
    if len(rest) < 2:
        return rest.tolist(), healed, faults
    # The boxes of copies have all four sides near each other.
    boxes: Floats = shapely.bounds(shapes[rest])
    alike = near_pairs(boxes[:, :2], math.sqrt(2) * GAP_LARGEST_MM)
    alike = alike[np.abs(boxes[alike[:, 0]] - boxes[alike[:, 1]]).max(axis=1) <= GAP_LARGEST_MM]
    length = shapely.length(shapes)
    for a, b in sorted(map(tuple, np.sort(rest[alike], axis=1).tolist())):
        if a in gone or b in gone or len(faults) == FAULTS_LISTED:
            continue
        apart = _apart_mm(loops[a].contour, loops[b].contour, shapes[a], shapes[b])
        # Two parts as small as their distance are no copies of each other.
        if apart > GAP_LARGEST_MM or apart * length[a] > min(area[a], area[b]):
            continue
        if apart <= SLIVER_MM:
            drop(b, apart)
            continue
        at = Point(*loops[b].contour.vertices[0][:2])
        faults.append(
            _fault(
                FaultKind.OVERLAPPING,
                at,
                loops[b].origin,
                f"this outline runs within {apart:.4g} mm of that of {loops[a].origin} all round, "
                f"as at {place_text(at)}: only one of them can be cut",
                "choose one `layer`, or delete the outline that is not cut",
            )
        )
    return [i for i in range(len(loops)) if i not in gone], healed, faults


def _apart_mm(one: Contour, other: Contour, shape: Any, other_shape: Any) -> float:
    """Return how far two loops part at most, mm."""
    import shapely

    a, b = circle_of(one), circle_of(other)
    if a is not None and b is not None:
        return math.dist(a[0], b[0]) + abs(a[1] - b[1])
    return float(shapely.hausdorff_distance(shape.exterior, other_shape.exterior))


def _crossings(loops: Sequence[Loop], shapes: Shapes) -> list[Fault]:
    """Return a fault for each pair of loops that cross each other, up to the first twenty."""
    import shapely

    rings = shapely.get_exterior_ring(shapes)
    tree = shapely.STRtree(rings)
    # Boxes that meet by the hundred thousand belong to a scribble; comparing takes 10 µs each.
    if len(tree.query(rings)[0]) > LOOP_PAIRS_LARGEST:
        raise InputError(
            f"the drawing is too tangled: {len(loops)} outlines lie in and over one another",
            hint="leave out the layers that hold hatching or shading",
        )
    faults: list[Fault] = []
    for i in range(len(rings)):
        for j in sorted(tree.query(rings[i], predicate="intersects").tolist()):
            if j <= i:
                continue
            shared = shapely.area(shapely.intersection(shapes[i], shapes[j]))
            smaller = min(shapely.area(shapes[i]), shapely.area(shapes[j]))
            # Facets of touching arcs may cross by a micrometre along their length.
            slack = 4 * FACET_MM * min(shapely.length(shapes[i]), shapely.length(shapes[j]))
            if shared <= slack or smaller - shared <= slack:
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
            if len(faults) == FAULTS_LISTED:
                return faults
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
