"""Random parts whose symmetry is known because it was built in."""

from __future__ import annotations

import math

import numpy as np
import shapely

from kerf.contour import Contour, Region
from kerf.offset import offset


def part_of_symmetry(rng: np.random.Generator, order: int, mirrored: bool) -> Region | None:
    """Return an outline of exactly the cyclic group of an order, or its dihedral group.

    One sector is drawn at random and repeated; mirrored, half of it is drawn and reflected.
    None where the draw is not a simple outline, or is close to a higher symmetry.
    """
    count = int(rng.integers(2, 5)) if order > 1 else int(rng.integers(5, 9))
    sector = 2 * math.pi / order
    low = 0.55
    if mirrored:
        angle = np.sort(rng.uniform(0.04, 0.46, count)) * sector
        radius = 30 * rng.uniform(low, 1.0, count)
        angle = np.concatenate((angle, sector - angle[::-1]))
        radius = np.concatenate((radius, radius[::-1]))
        half = rng.uniform(-0.25, 0.35, count) * (rng.random(count) < 0.4)
        # The edge that leaves point k mirrors the one that arrives at its image.
        bulge = np.concatenate((half[:-1], [half[-1]], half[:-1][::-1], [0.0]))
    else:
        angle = np.sort(rng.uniform(0.0, 1.0, count)) * sector
        radius = 30 * rng.uniform(low, 1.0, count)
        bulge = rng.uniform(-0.25, 0.35, count) * (rng.random(count) < 0.4)
    if np.diff(np.append(angle, angle[0] + sector)).min() < 0.12:
        return None
    turn = rng.uniform(0, 2 * math.pi) + np.repeat(np.arange(order) * sector, len(angle))
    angle, radius, bulge = (np.tile(column, order) for column in (angle, radius, bulge))
    x, y = radius * np.cos(angle + turn), radius * np.sin(angle + turn)
    loop = Contour.of(np.column_stack((x, y, bulge)))
    shape = shapely.Polygon(loop.facets(0.01))
    thin = shape.buffer(-3.0)
    if not shape.is_valid or thin.geom_type != "Polygon" or thin.is_empty:
        return None
    region = Region(outer=loop)
    if rng.random() < 0.3:
        inner = offset(region, -1.5).regions
        outer = offset(inner[0], 1.5).regions if len(inner) == 1 else ()
        if len(outer) != 1:
            return None
        region = outer[0]
    return region


def least_overlap_mm(part: Region, void: Region, turn: float, flipped: bool) -> float:
    """Return how far the part, so turned, stands out of the free space at its best shift.

    Hausdorff-like: the deepest point outside, least over shifts by repeated halving.
    """
    room = shapely.Polygon(void.outer.facets(0.01))
    centre = part.bounds().centre
    points = part.outer.facets(0.05) - np.array(centre)
    if flipped:
        points[:, 0] = -points[:, 0]
    cos, sin = math.cos(turn), math.sin(turn)
    points = points @ np.array(((cos, sin), (-sin, cos)))
    shapely.prepare(room)

    def worst(shift: np.ndarray) -> float:
        placed = points + shift + np.array(centre)
        return float(shapely.distance(shapely.points(placed), room).max())

    middle = np.array(shapely.bounds(room)).reshape(2, 2).mean(axis=0) - centre
    middle = middle - (points.max(axis=0) + points.min(axis=0)) / 2
    best, step = worst(middle), 4.0
    while step > 0.01:
        around = [
            middle + step * np.array((math.cos(a), math.sin(a))) for a in np.arange(8) * math.pi / 4
        ]
        values = [worst(shift) for shift in around]
        k = int(np.argmin(values))
        if values[k] < best:
            best, middle = values[k], around[k]
        else:
            step /= 2
    return best
