"""Gauges for the radii of an outline: hollows for its rounded corners, noses for its fillets.

A corner's gauge is a straight edge with the arc sunk into it, its chord on the edge: the part's
flanks rise away from the edge on both sides, so that only the arc can touch. A fillet's gauge
is a tongue that ends in the arc and is narrower than the arc's chord allows the flanks to be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from jigs.guides.engraving import Engraving
from jigs.guides.guide import Plate
from jigs.shop import Sheet
from kerf.contour import Contour, Point, Region, Transform, Vertex

#: Arcs that turn less than this tell nothing of their radius, rad.
LEAST_SWEEP_RAD: Final = math.radians(20.0)
#: Greatest chord of a gauge, mm; a longer arc is gauged over less of its sweep.
MOST_CHORD_MM: Final = 30.0
#: Sweep of a gauge at most, rad: beyond it the part does not come in.
MOST_SWEEP_RAD: Final = math.radians(150.0)
#: Plate beside a gauge and under it, length of a tongue, mm.
BESIDE_MM: Final = 8.0
UNDER_MM: Final = 24.0
TONGUE_MM: Final = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Arc:
    """A radius to gauge.

    Args:
        radius_mm: its radius.
        sweep_rad: how much of it the gauge shows.
        is_corner: a rounded corner, whose gauge is hollow; else a fillet.
    """

    radius_mm: float
    sweep_rad: float
    is_corner: bool

    @property
    def chord_mm(self) -> float:
        """Distance between the arc's ends, mm."""
        return 2 * self.radius_mm * math.sin(self.sweep_rad / 2)

    @property
    def rise_mm(self) -> float:
        """Height of the arc over its chord, mm."""
        return self.radius_mm * (1 - math.cos(self.sweep_rad / 2))


def radius_gauges(
    outline: Region, *, name: str, sheet: Sheet, kerf_mm: float, mirror_writing: bool = False
) -> Plate | None:
    """Return the plate of gauges, lower left corner at the origin; None without an arc to gauge.

    Args:
        outline: the part's outline.
        name: of the plate.
        sheet: what it is cut from.
        kerf_mm: a corner's hollow tighter than half of it cannot be cut.
        mirror_writing: whether its letters are read from the other side of the sheet.
    """
    arcs = _arcs(outline, kerf_mm=kerf_mm, wall_mm=sheet.thickness_mm)
    if not arcs:
        return None
    base = UNDER_MM + max((a.rise_mm for a in arcs if a.is_corner), default=0.0)
    rows: list[Vertex] = []
    labels: list[tuple[str, Point]] = []
    spots: list[tuple[str, Point]] = []
    x = BESIDE_MM
    for arc in arcs:
        half = arc.chord_mm / 2
        bulge = math.tan(arc.sweep_rad / 4)
        middle = x + half
        if arc.is_corner:
            rows += [Vertex(x, base, bulge), Vertex(x + 2 * half, base)]
        else:
            top = base + TONGUE_MM
            rows += [
                Vertex(x, base),
                Vertex(x, top, -bulge),
                Vertex(x + 2 * half, top),
                Vertex(x + 2 * half, base),
            ]
        foot = base - (arc.rise_mm if arc.is_corner else 0.0)
        tip = foot if arc.is_corner else base + TONGUE_MM + arc.rise_mm
        labels.append((f"R{arc.radius_mm:g}", Point(middle, foot - 6.0)))
        spots.append((f"R {arc.radius_mm:g} mm", Point(middle, tip)))
        x += 2 * half + BESIDE_MM
    loop = [Vertex(0.0, 0.0), Vertex(0.0, base), *rows, Vertex(x, base), Vertex(x, 0.0)]
    region = Region(outer=Contour(vertices=tuple(loop)))
    marks = Engraving(region, name, mirror_writing=mirror_writing)
    for text, at in labels:
        marks.tell(text, at, heights_mm=(3.0, 2.5, 2.0))
    return Plate(
        name=name,
        region=region,
        strokes=marks.strokes(),
        to_part=Transform(),
        stock=sheet.name,
        thickness_mm=sheet.thickness_mm,
        is_small=True,
        spots=tuple(spots),
    )


def _arcs(outline: Region, *, kerf_mm: float, wall_mm: float) -> list[_Arc]:
    """Return each radius once, corners first, smallest first, with its greatest sweep."""
    found: dict[tuple[bool, float], float] = {}
    for edge in outline.outer.edges():
        if edge.is_line or abs(edge.sweep_rad) < LEAST_SWEEP_RAD:
            continue
        key = (edge.bulge > 0, round(edge.radius_mm, 2))
        found[key] = max(found.get(key, 0.0), abs(edge.sweep_rad))
    arcs = []
    for (is_corner, radius), sweep in sorted(
        found.items(), key=lambda kv: (not kv[0][0], kv[0][1])
    ):
        most = 2 * math.asin(min(1.0, MOST_CHORD_MM / (2 * radius)))
        arc = _Arc(
            radius_mm=radius, sweep_rad=min(sweep, most, MOST_SWEEP_RAD), is_corner=is_corner
        )
        # A hollow tighter than the beam cannot be cut; a tongue thinner than the sheet snaps.
        if (is_corner and radius < kerf_mm) or (not is_corner and arc.chord_mm < wall_mm):
            continue
        arcs.append(arc)
    return arcs
