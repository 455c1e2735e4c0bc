"""What a cut leaves without support: overhangs, floors, walls, and pieces that come free.

The part as seen from above is followed cut by cut. What an earlier set-up cut away from
beneath is a hollow: whatever stands over it hangs free, and a fly cutter or a large insert
that meets it bends it down, springs up and digs in. What is cut right through is gone; a
piece that this parts from the rest comes loose under a turning tool unless something holds it.
A floor or wall left thin bends away from the edge and chatters, or tears.

Outlines here are faceted (10 µm): the questions are of millimetres.

Sources: cantilever δ = F a³ / (3 E I) and clamped round plate δ = F a² / (16 π D), *Roark's
Formulas for Stress and Strain*, tables 8.1 and 11.2; a wall up to 8 times as high as it is
thick in aluminium, common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from jigs.finding import Finding, Severity
from jigs.holding.cut import ToolKind
from jigs.holding.cutting import milling_forces
from jigs.holding.materials import WorkMaterial
from jigs.holding.toolpath import ToolPath
from kerf.contour import Point, Region
from kerf.proof import faceted
from kerf.tolerance import COINCIDENT_MM, PIECE_DUST_MM2, ROUGH_FACET_MM

#: A milling tool this wide or wider counts as one with large inserts, mm. Source: common practice.
LARGE_TOOL_MM: Final = 25.0
#: An overhang a cut bends by less than this is stiff, mm: a tenth of a usual finishing allowance.
STIFF_MM: Final = 0.02
#: Greatest height of a wall per thickness.
SLENDER: Final = 8.0
_POISSON: Final = 0.33


@dataclass(frozen=True, slots=True, kw_only=True)
class Hollow:
    """Where nothing stands beneath the part: an earlier cut took it, or the plate ends.

    Args:
        swept: where, set-up coordinates.
        depth_mm: how much of the part is gone there, from its lower face, mm.
        left_by: set-up and cut, or what ends there, for messages.
        is_cut: whether a cut left it, so that another order would avoid it.
    """

    swept: tuple[Region, ...]
    depth_mm: float
    left_by: str
    is_cut: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece that a cut parts from the rest.

    Args:
        cut: the cut that frees it.
        at: a point on it, set-up coordinates, mm.
        width_mm, height_mm: its box, mm.
        held: whether a clamp or tape still holds it.
    """

    cut: str
    at: Point
    width_mm: float
    height_mm: float
    held: bool


def plan_view(regions: Sequence[Region]) -> BaseGeometry:
    """Return regions as one faceted figure."""
    return shapely.union_all([faceted(region, ROUGH_FACET_MM) for region in regions])


def loose_pieces(
    blank: Region, paths: Sequence[ToolPath], *, held_at: BaseGeometry | None
) -> tuple[Piece, ...]:
    """Return the pieces that cuts part from the largest one, in order.

    Args:
        blank: what lies there before the first cut, set-up coordinates.
        paths: the cuts, in order.
        held_at: where tape or clamps hold; None when nothing is known to.
    """
    left: BaseGeometry = faceted(blank, ROUGH_FACET_MM)
    count, pieces = 1, []
    for path in paths:
        if path.low_mm > COINCIDENT_MM:
            continue
        left = left.difference(plan_view(path.swept))
        parts = sorted(
            (part for part in shapely.get_parts(left) if part.area > PIECE_DUST_MM2),
            key=lambda part: (-part.area, *part.bounds),
        )
        for part in parts[1:] if len(parts) > count else ():
            at = part.representative_point()
            x0, y0, x1, y1 = part.bounds
            pieces.append(
                Piece(
                    cut=path.cut.name,
                    at=Point(at.x, at.y),
                    width_mm=x1 - x0,
                    height_mm=y1 - y0,
                    held=held_at is not None and bool(part.intersects(held_at)),
                )
            )
        # Freed pieces are counted once: they lie there, or have been taken away.
        left, count = (parts[0] if parts else left), 1
    return tuple(pieces)


def check_pieces(pieces: Sequence[Piece], *, subject: str) -> list[Finding]:
    """Return a warning for each piece that comes free."""
    return [
        Finding(
            code="piece-held" if piece.held else "piece-free",
            severity=Severity.NOTE if piece.held else Severity.WARN,
            subject=f'{subject}: cut "{piece.cut}"',
            message=(
                f"a piece of {piece.width_mm:.1f} × {piece.height_mm:.1f} mm at "
                f"({piece.at.x:.1f}, {piece.at.y:.1f}) mm of the set-up is parted from the rest"
                + (" and hangs on its own hold" if piece.held else " and comes free in the cut")
            ),
            measured=piece.width_mm,
            unit="mm",
            hint=""
            if piece.held
            else "leave a skin of 0.2 mm or tabs to break out, tape or clamp it, or mill it away",
        )
        for piece in pieces
    ]


def check_overhang(
    part: Region,
    paths: Sequence[ToolPath],
    hollows: Sequence[Hollow],
    *,
    material: WorkMaterial | None,
    subject: str,
) -> list[Finding]:
    """Return a finding where a wide cutter meets material with nothing beneath it.

    Args:
        part: as it lies.
        paths: the cuts of this set-up.
        hollows: what earlier set-ups took away from beneath.
        material: of the part; None leaves the bending out and warns all the same.
        subject: for messages.
    """
    findings = []
    whole = faceted(part, ROUGH_FACET_MM)
    for hollow in hollows:
        beneath = plan_view(hollow.swept)
        hanging = whole.intersection(beneath)
        ground = whole.difference(beneath)
        for path in paths:
            wide = path.cut.kind is ToolKind.FLY_CUTTER or path.cut.diameter_mm >= LARGE_TOOL_MM
            meets = hanging.intersection(plan_view(path.swept)) if wide else None
            if meets is None or meets.area < PIECE_DUST_MM2:
                continue
            thick = path.low_mm - hollow.depth_mm
            reach = _reach_mm(meets, ground)
            bends = _bends_mm(path, thick, reach, material)
            findings.append(_overhang_finding(path, hollow, thick, reach, bends, subject))
    return findings


def _reach_mm(meets: BaseGeometry, ground: BaseGeometry) -> float:
    """Return how far what is met lies from what stands on the bed, mm."""
    points = shapely.points(shapely.get_coordinates(meets))
    return float(shapely.distance(points, ground).max()) if not ground.is_empty else math.inf


def _bends_mm(
    path: ToolPath, thick_mm: float, reach_mm: float, material: WorkMaterial | None
) -> float:
    """Return how far the cut bends an overhang down, mm: a cantilever twice as wide as long."""
    if thick_mm <= 0.0 or not math.isfinite(reach_mm):
        return math.inf
    if material is None:
        return math.nan
    forces = milling_forces(path.cut.engagement, material)
    force = max(forces.press_n, forces.lift_n, 0.1 * forces.peak_n)
    inertia = max(path.cut.diameter_mm, 2 * reach_mm) * thick_mm**3 / 12
    return force * reach_mm**3 / (3 * material.modulus_mpa * inertia)


def _overhang_finding(
    path: ToolPath, hollow: Hollow, thick_mm: float, reach_mm: float, bends_mm: float, subject: str
) -> Finding:
    stiff = bends_mm <= STIFF_MM
    gone = thick_mm <= 0.0
    what = "a fly cutter" if path.cut.kind is ToolKind.FLY_CUTTER else "a wide cutter"
    message = f"{what} meets an overhang of {reach_mm:.1f} mm that {hollow.left_by} left beneath"
    if gone:
        message += ", and cuts into the hollow"
    elif math.isfinite(bends_mm):
        message += f"; {thick_mm:.2f} mm are left there and bend by {bends_mm:.3f} mm"
    else:
        message += f"; {thick_mm:.2f} mm are left there"
    return Finding(
        code="overhang",
        severity=Severity.WARN if stiff or math.isnan(bends_mm) else Severity.FAIL,
        subject=f'{subject}: cut "{path.cut.name}"',
        message=message,
        measured=bends_mm if math.isfinite(bends_mm) else reach_mm,
        limit=STIFF_MM if math.isfinite(bends_mm) else 0.0,
        unit="mm",
        hint=(
            f'make "{path.cut.name}" first, while {hollow.left_by} has not been cut; or support '
            if hollow.is_cut
            else "take a larger plate, or support "
        )
        + "the overhang with a packing of its height",
    )


def check_thin(
    part: Region,
    paths: Sequence[ToolPath],
    hollows: Sequence[Hollow],
    *,
    material: WorkMaterial | None,
    subject: str,
) -> list[Finding]:
    """Return a warning for each floor and wall that a cut leaves thin."""
    findings = []
    whole = faceted(part, ROUGH_FACET_MM)
    for path in paths:
        swept = plan_view(path.swept)
        for hollow in hollows:
            over = swept.intersection(whole).intersection(plan_view(hollow.swept))
            thick = path.low_mm - hollow.depth_mm
            if over.area > PIECE_DUST_MM2 and thick > 0:
                findings += _thin_floor(path, thick, over, material, subject)
        wall = _thin_wall(whole, swept, path)
        if wall is not None:
            findings.append(_wall_finding(path, wall, subject))
    return findings


def _thin_floor(
    path: ToolPath,
    thick_mm: float,
    over: BaseGeometry,
    material: WorkMaterial | None,
    subject: str,
) -> list[Finding]:
    """Return a warning when a floor over a hollow bends under the cut."""
    if material is None or path.cut.kind is ToolKind.DRILL:
        return []
    radius = max(
        shapely.length(shapely.maximum_inscribed_circle(part)) for part in shapely.get_parts(over)
    )
    stiffness = material.modulus_mpa * thick_mm**3 / (12 * (1 - _POISSON**2))
    forces = milling_forces(path.cut.engagement, material)
    force = max(forces.press_n, forces.lift_n, 0.1 * forces.peak_n)
    bends = force * float(radius) ** 2 / (16 * math.pi * stiffness)
    if bends <= STIFF_MM:
        return []
    return [
        Finding(
            code="floor-thin",
            severity=Severity.WARN,
            subject=f'{subject}: cut "{path.cut.name}"',
            message=(
                f"the floor left over a hollow is {thick_mm:.2f} mm thick and bends by "
                f"{bends:.3f} mm under the cut"
            ),
            measured=bends,
            limit=STIFF_MM,
            unit="mm",
            hint="cut this side first, take a lighter last pass, or support the floor",
        )
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wall:
    """A thin wall beside a cut."""

    width_mm: float
    at: Point


def _thin_wall(whole: BaseGeometry, swept: BaseGeometry, path: ToolPath) -> _Wall | None:
    """Return the thinnest wall beside a cut when it is too slender for its height.

    What an opening by the least width takes away from what is left, but did not take before
    the cut, is a wall; halving finds its width.
    """
    height = path.high_mm - path.low_mm
    least = height / SLENDER
    left = whole.difference(swept)
    near = swept.buffer(least)

    def lost(width: float) -> BaseGeometry:
        half = width / 2
        # Rounded corners lose slivers too: only what a hair more opening would not keep counts.
        gone = left.difference(left.buffer(-half).buffer(half * 1.2 + 1e-3))
        before = whole.difference(whole.buffer(-half).buffer(half * 1.2 + 1e-3))
        return gone.difference(before).intersection(near)

    found = lost(least)
    if found.area < 0.01:
        return None
    low, high = 0.0, least
    for _ in range(12):
        middle = (low + high) / 2
        if lost(middle).area > 0.001:
            high = middle
        else:
            low = middle
    at = max(shapely.get_parts(found), key=lambda part: part.area).representative_point()
    return _Wall(width_mm=high, at=Point(at.x, at.y))


def _wall_finding(path: ToolPath, wall: _Wall, subject: str) -> Finding:
    height = path.high_mm - path.low_mm
    return Finding(
        code="wall-thin",
        severity=Severity.WARN,
        subject=f'{subject}: cut "{path.cut.name}"',
        message=(
            f"the cut leaves a wall {wall.width_mm:.2f} mm thick and {height:.1f} mm high at "
            f"({wall.at.x:.1f}, {wall.at.y:.1f}) mm of the set-up; it bends away from the cutter"
        ),
        measured=wall.width_mm,
        limit=height / SLENDER,
        unit="mm",
        hint="take both sides down in steps together, or fill the hollow before the second side",
    )
