"""Random parts in random pockets, and an independent search of the poses they can take.

The search knows nothing of the exact gaps: it draws poses, asks shapely on fine facets
whether the part lies in the pocket, and narrows its drawing round the best ones.
"""

from __future__ import annotations

import math

import numpy as np
import shapely

from kerf.boolean import union
from kerf.contour import Contour, Region
from kerf.offset import offset

#: Chord error of the facets the search sees, mm.
FACETS_MM = 2e-4


def polygon(region: Region, chord_error_mm: float = FACETS_MM) -> shapely.Polygon:
    """Return a region on fine facets."""
    return shapely.Polygon(
        region.outer.facets(chord_error_mm), [h.facets(chord_error_mm) for h in region.holes]
    )


def random_outline(rng: np.random.Generator) -> Region:
    """Return a simple outline of 3 to 9 edges, convex or concave, of lines or with arcs."""
    while True:
        count = int(rng.integers(3, 10))
        angle = np.sort(rng.uniform(0, 2 * math.pi, count))
        if np.diff(np.append(angle, angle[0] + 2 * math.pi)).min() < 0.25:
            continue
        low = rng.choice((0.9, 0.6, 0.35))
        radius = 30 * rng.uniform(low, 1.0, count)
        stretch = rng.uniform(0.4, 1.0)
        bulge = rng.uniform(-0.35, 0.5, count) * (rng.random(count) < rng.choice((0.0, 0.3, 0.7)))
        rows = np.column_stack((radius * np.cos(angle), stretch * radius * np.sin(angle), bulge))
        loop = Contour.of(rows)
        shape = shapely.Polygon(loop.facets(0.01))
        if not shape.is_valid or shape.area < 300:
            continue
        if shape.buffer(-2.5).geom_type != "Polygon" or shape.buffer(-2.5).is_empty:
            continue
        region = Region(outer=loop)
        if rng.random() < 0.4:
            opened = offset(region, -2.0).regions
            if len(opened) != 1:
                continue
            rounded = offset(opened[0], 2.0).regions
            if len(rounded) != 1:
                continue
            region = rounded[0]
        return region


def random_pocket(part: Region, clearance_mm: float, rng: np.random.Generator) -> Region:
    """Return the part's outline grown by the clearance, with notches and corner reliefs."""
    grown = offset(part, clearance_mm).regions[0]
    cuts = []
    for edge in part.outer.edges():
        if edge.length_mm > 8 and rng.random() < 0.3:
            at = edge.point_at(rng.uniform(0.3, 0.7))
            cuts.append(Region(outer=Contour.circle(at.x, at.y, rng.uniform(1.5, 3.0))))
        if rng.random() < 0.2:
            cuts.append(Region(outer=Contour.circle(edge.start.x, edge.start.y, 1.5)))
    (void,) = union((grown, *cuts))
    return void


class Search:
    """The poses of a part in a pocket, found by asking shapely."""

    def __init__(self, part: Region, void: Region, tolerance_mm: float) -> None:
        centre = part.bounds().centre
        self.points = part.outer.facets(FACETS_MM) - np.array(centre)
        self.void = shapely.affinity.translate(polygon(void), -centre.x, -centre.y)
        self.void = self.void.buffer(tolerance_mm)
        shapely.prepare(self.void)

    def admissible(self, pose: np.ndarray) -> np.ndarray:
        """Return which poses, rows of x, y, turn, leave the part inside the pocket."""
        cos, sin = np.cos(pose[:, 2:]), np.sin(pose[:, 2:])
        x = pose[:, :1] + cos * self.points[:, 0] - sin * self.points[:, 1]
        y = pose[:, 1:2] + sin * self.points[:, 0] + cos * self.points[:, 1]
        rings = shapely.linearrings(np.stack((x, y), axis=2))
        return shapely.covers(self.void, rings)

    def crowd(self, spread: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        """Return poses spread over the admissible set, drawn from nominal outwards.

        Each pose is moved by the difference of two others, of any size: the crowd takes the
        shape of the set.
        """
        pose = np.zeros((160, 3))
        for turn in range(36):
            if turn < 12:
                step = spread * rng.normal(size=pose.shape) * rng.choice((1, 0.3, 0.1, 0.03))
            else:
                a, b = rng.permutation(len(pose)), rng.permutation(len(pose))
                step = (pose[a] - pose[b]) * rng.uniform(0.1, 1.5, (len(pose), 1))
            trial = pose + step
            good = self.admissible(trial)
            pose[good] = trial[good]
        return pose

    def highest(
        self, goal, crowd: np.ndarray, rng: np.random.Generator
    ) -> tuple[float, np.ndarray]:
        """Return the greatest goal found and its pose, by differential evolution.

        Source: Storn & Price, J. Global Optimization 11 (1997) [from memory].
        """
        pose = crowd.copy()
        value = goal(pose)
        for _ in range(60):
            a, b = rng.permutation(len(pose)), rng.permutation(len(pose))
            best = pose[rng.permutation(np.argsort(-value)[:6])[0]]
            pull = rng.uniform(0, 1, (len(pose), 1)) * (rng.random((len(pose), 1)) < 0.6)
            trial = pose + rng.uniform(0.2, 1.0, (len(pose), 1)) * (pose[a] - pose[b])
            trial += pull * (best - pose)
            ahead = goal(trial)
            (up,) = np.nonzero(ahead > value)
            up = up[self.admissible(trial[up])] if len(up) else up
            pose[up], value[up] = trial[up], ahead[up]
        top = int(np.argmax(value))
        return float(value[top]), pose[top]
