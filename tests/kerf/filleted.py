"""Random regions as machinists draw them: filleted outlines with holes, slots and windows.

One seed gives one region and five distances, always the same. Radii come from a short list
and half of the distances from the region's own radii, so that features close exactly, arcs
shrink to a point and edges meet in tangents far more often than chance would have it.
"""

from __future__ import annotations

import math

import numpy as np
import shapely

from kerf.contour import Contour, Region
from kerf.offset import Offset
from kerf.proof import faceted

RADII = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0, 8.0)


def filleted(points: list[complex], radii: list[float]) -> Contour | None:
    """Return the polygon with its corners rounded, or None where a fillet finds no room."""
    n = len(points)
    rows: list[tuple[float, float, float]] = []
    used = [0.0] * n
    corners = []
    for k, (p, r) in enumerate(zip(points, radii, strict=True)):
        u, v = p - points[k - 1], points[(k + 1) % n] - p
        turn = math.atan2((u.conjugate() * v).imag, (u.conjugate() * v).real)
        back = r * math.tan(abs(turn) / 2)
        used[k - 1] += back
        used[k] += back
        corners.append((p, u / abs(u), v / abs(v), turn, back))
    for k in range(n):
        if used[k] > abs(points[(k + 1) % n] - points[k]) - 1e-3:
            return None
    for p, u, v, turn, back in corners:
        if back == 0.0:
            rows.append((p.real, p.imag, 0.0))
        else:
            a, b = p - back * u, p + back * v
            rows += [(a.real, a.imag, math.tan(turn / 4)), (b.real, b.imag, 0.0)]
    return Contour.of(rows)


def _outline(rng: np.random.Generator, size: float, corners: int) -> Contour:
    while True:
        if rng.random() < 0.3:
            # On a grid: right angles, collinear runs, edges that face each other.
            w, h = (rng.integers(4, 12, size=2) * size / 8).tolist()
            a, b = w * rng.integers(1, 4) / 4, h * rng.integers(1, 4) / 4
            points = [0j, w + 0j, w + 1j * b, a + 1j * b, a + 1j * h, 1j * h]
            points = [z - (w + 1j * h) / 2 for z in points]
        else:
            angle = np.sort(rng.uniform(0, 2 * math.pi, corners))
            if np.diff(angle, append=angle[0] + 2 * math.pi).max() > 2.5:
                continue
            z = rng.uniform(0.35, 1.0, corners) * size * np.exp(1j * angle)
            points = [complex(p) for p in z]
        radii = rng.choice((0.0, *RADII), len(points)).tolist()
        loop = filleted(points, radii)
        if loop is not None and shapely.Polygon(loop.facets()).is_valid:
            return loop


def _hole(rng: np.random.Generator, x: float, y: float) -> Contour:
    kind = rng.integers(3)
    r = float(rng.choice(RADII))
    if kind == 0:
        return Contour.circle(x, y, r)
    if kind == 1:
        along = complex(np.exp(1j * float(rng.choice((0, math.pi / 2, rng.uniform(0, 6.28))))))
        half, across = along * float(rng.choice((2.0, 5.0, 8.0))), 1j * along * r
        z = complex(x, y)
        ends = (z - half - across, z + half - across, z + half + across, z - half + across)
        return Contour.of((p.real, p.imag, float(k % 2)) for k, p in enumerate(ends))
    shape = _outline(rng, float(rng.uniform(3, 15)), 5)
    return Contour.of((vx + x, vy + y, b) for vx, vy, b in shape.vertices)


def region(seed: int) -> Region:
    """Return the seed's region."""
    rng = np.random.default_rng(seed)
    outer = _outline(rng, float(rng.uniform(15, 60)), int(rng.integers(4, 14)))
    holes: list[Contour] = []
    for _ in range(int(rng.integers(0, 7))):
        box = outer.bounds()
        x, y = rng.uniform(box.x_min, box.x_max), rng.uniform(box.y_min, box.y_max)
        if rng.random() < 0.5:
            x, y = round(x), round(y)
        hole = _hole(rng, float(x), float(y))
        trial = Region(outer=outer, holes=(*holes, hole))
        room = shapely.Polygon(outer.facets(), [h.facets() for h in holes]).buffer(-0.05)
        if shapely.Polygon(hole.facets()).within(room) and faceted(trial, 1e-3).is_valid:
            holes.append(hole)
    return Region(outer=outer, holes=tuple(holes))


def as_written(source: Region, seed: int, decimals: int) -> Region:
    """Return the region turned at random and rounded as a drawing writes it.

    Edges drawn tangent no longer are: they meet in turns of a millionth of a radian.

    Args:
        source: what was drawn.
        seed: of the turn.
        decimals: of coordinates, mm; a bulge is written with one more.
    """
    turn = float(np.random.default_rng((seed, 2)).uniform(0, 2 * math.pi))
    c, s = math.cos(turn), math.sin(turn)

    def written(loop: Contour) -> Contour:
        return Contour.of(
            (
                round(c * v.x - s * v.y, decimals),
                round(s * v.x + c * v.y, decimals),
                round(v.bulge, decimals + 1),
            )
            for v in loop.vertices
        )

    return Region(outer=written(source.outer), holes=tuple(written(h) for h in source.holes))


def distances(seed: int) -> list[float]:
    """Return the seed's five distances, mm."""
    rng = np.random.default_rng((seed, 1))
    out = []
    for _ in range(5):
        d = float(rng.choice(RADII) if rng.random() < 0.5 else 10 ** rng.uniform(-2, 1.2))
        out.append(d if rng.random() < 0.5 else -d)
    return out


def stands_at(source: Region, d: float, result: Offset) -> bool:
    """Return whether all loops of an offset stand |d| from the source on the right side.

    Measured from the contours' own edges, one by one: nothing is shared with the proof.
    The deviation allowed is 1e-9 mm per 100 mm of size.
    """
    box = source.bounds()
    allowed = 1e-11 * max(box.width, box.height, 100.0)
    for loop in (loop for r in result.regions for loop in r.loops()):
        for edge in loop.edges():
            for t in (0.0, 0.37, 0.81):
                p = edge.point_at(t)
                away = source.distance_mm(p.x, p.y)
                if abs(abs(away) - abs(d)) > allowed or away * d < 0:
                    return False
    return True
