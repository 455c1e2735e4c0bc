"""Whether the guide survives: walls bent by the push, plastic crushed, corners cracked, pins torn.

The wall behind a contact is taken as a beam as long as the plate is along it, carried at its
ends, pushed in the middle: a plate that is clamped or taped to the bed bears more. A plate
bolted to the table is carried by the bolts on either side of the push. Where the part bulges,
contact is a line (Hertz), where it is straight the push is spread over the pad. A sharp inside
corner left by the beam has half a kerf for a radius; acrylic starts its cracks there, so the
bending stress at a pad's foot counts with Inglis' concentration.

Sources: simply supported beam, central load, and Hertz line contact, *Roark's Formulas for
Stress and Strain*, tables 8.1 and 14.1; concentration 1 + 2 √(a/ρ), Inglis 1913; bearing
stress F / (d t), any text on mechanics of materials; factors asked of plastics, common
practice.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from jigs.finding import Finding, Severity
from kerf.contour import Edge, Point, Region, Vector
from kerf.errors import GeometryError
from kerf.materials import Material

#: Least factor of a plastic guide's strength over a stress: brittle, notched, aged.
LEAST_FACTOR: Final = 2.0
#: A wall may give this much under the push before it is worth a word, mm: a guide is clamped or
#: taped to its bed, which carries it better than its ends do. Source: common practice.
LEAST_STIFF_MM: Final = 0.5
#: Poisson's ratio of plastics and metals alike, near enough for contact stress.
_POISSON: Final = 0.35
#: Greatest pressure of a line contact at which the softer body first yields, in its strength.
#: Source: Johnson, *Contact Mechanics*, 6.1.
_LINE_YIELDS: Final = 1.67


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """One place of a guide under load.

    Args:
        place: "contact X1: wall", "pin P1: bearing".
        stress_mpa: at the worst point, MPa.
        factor: strength over stress.
        moves_mm: how far it gives, mm; 0 where it is not asked.
        is_told: whether it has a finding of its own elsewhere.
    """

    place: str
    stress_mpa: float
    factor: float
    moves_mm: float = 0.0
    is_told: bool = False


def beam_stress_mpa(*, force_n: float, span_mm: float, depth_mm: float, width_mm: float) -> float:
    """Return the bending stress of a beam on two supports, loaded in the middle, MPa.

    6 (F L / 4) / (b h²). Args are above 0: the depth lies along the force.
    """
    _positive(force_n, span_mm, depth_mm, width_mm)
    return 1.5 * force_n * span_mm / (width_mm * depth_mm**2)


def beam_sag_mm(
    *, force_n: float, span_mm: float, depth_mm: float, width_mm: float, modulus_mpa: float
) -> float:
    """Return how far the same beam gives in the middle, mm: F L³ / (48 E I)."""
    _positive(force_n, span_mm, depth_mm, width_mm, modulus_mpa)
    return force_n * span_mm**3 / (4 * modulus_mpa * width_mm * depth_mm**3)


def hertz_line_mpa(
    *, force_n: float, length_mm: float, radius_mm: float, modulus_mpa: float, other_mpa: float
) -> float:
    """Return the greatest pressure of a cylinder on a flat, MPa: √(F E* / (π L R))."""
    _positive(force_n, length_mm, radius_mm, modulus_mpa, other_mpa)
    shared = 1 / ((1 - _POISSON**2) * (1 / modulus_mpa + 1 / other_mpa))
    return math.sqrt(force_n * shared / (math.pi * length_mm * radius_mm))


def notch_factor(*, depth_mm: float, radius_mm: float) -> float:
    """Return how much a notch raises the stress beside it: 1 + 2 √(a/ρ)."""
    _positive(depth_mm, radius_mm)
    return 1 + 2 * math.sqrt(depth_mm / radius_mm)


def bearing_mpa(*, force_n: float, diameter_mm: float, thickness_mm: float) -> float:
    """Return the bearing stress of a pin in a sheet, MPa: F / (d t)."""
    _positive(force_n, diameter_mm, thickness_mm)
    return force_n / (diameter_mm * thickness_mm)


def _positive(*values: float) -> None:
    if not all(0 < v < math.inf for v in values):
        raise GeometryError("forces, sizes and moduli of a strength check must be above 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """A contact of the part on a plate.

    Args:
        name: of the contact.
        at: where the part touches, sheet coordinates, mm.
        normal: unit, into the part.
        part_radius_mm: of the part's edge there, positive where it bulges; 0 for a straight.
        pad_mm: width of what it rests on, mm.
        step_mm: how far the pad stands out of its wall, mm; 0 for none.
        is_backed: whether the plate stands on something behind it, so that nothing bends.
    """

    name: str
    at: Point
    normal: Vector
    part_radius_mm: float
    pad_mm: float
    step_mm: float
    is_backed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """The plate that is pushed.

    Args:
        region: finished size, sheet coordinates, mm.
        thickness_mm: of the sheet, mm.
        touched_mm: height over which part and plate touch, mm.
        material: of the sheet; its stiffness and strength are known.
        corner_mm: radius of the beam's sharpest inside corner, mm: half a kerf.
        bolts: where it is bolted to the table, sheet coordinates, mm.
    """

    region: Region
    thickness_mm: float
    touched_mm: float
    material: Material
    corner_mm: float
    bolts: tuple[Point, ...] = ()

    def bolted_mm(self, rest: Rest) -> tuple[float, float]:
        """Return how far the nearest bolt stands on either side of a push, along the wall, mm.

        First against, then along the normal turned left; infinite on a side without one.
        """
        along = [
            (bolt.y - rest.at.y) * rest.normal.x - (bolt.x - rest.at.x) * rest.normal.y
            for bolt in self.bolts
        ]
        return (
            min((-a for a in along if a <= 0.0), default=math.inf),
            min((a for a in along if a >= 0.0), default=math.inf),
        )


def rest_strength(
    body: Body, rest: Rest, *, push_n: float, part_modulus_mpa: float
) -> tuple[Strength, ...]:
    """Return how a plate bears the whole push at one contact: wall, then surface.

    Args:
        body: the plate.
        rest: the contact.
        push_n: force of the part on the contact, N, > 0.
        part_modulus_mpa: Young's modulus of the part, MPa.
    Raises:
        GeometryError: the material's figures are not known, or a size is not above 0.
    """
    stiffness, limit = body.material.modulus_mpa, body.material.strength_mpa
    if stiffness is None or limit is None:
        raise GeometryError(f"no strength is kept for {body.material.name}")
    found = []
    wall = wall_behind_mm(body.region, rest.at, rest.normal)
    if wall > 0 and not rest.is_backed:
        span = _span_mm(body, rest)
        stress = beam_stress_mpa(
            force_n=push_n, span_mm=span, depth_mm=wall, width_mm=body.thickness_mm
        )
        if rest.step_mm > 0:
            stress *= notch_factor(depth_mm=rest.step_mm, radius_mm=body.corner_mm)
        moves = beam_sag_mm(
            force_n=push_n,
            span_mm=span,
            depth_mm=wall,
            width_mm=body.thickness_mm,
            modulus_mpa=stiffness.low,
        )
        found.append(
            Strength(
                place=f"contact {rest.name}: wall",
                stress_mpa=stress,
                factor=limit.low / stress,
                moves_mm=moves,
            )
        )
    if rest.part_radius_mm > 0:
        pressure, bears = (
            hertz_line_mpa(
                force_n=push_n,
                length_mm=body.touched_mm,
                radius_mm=rest.part_radius_mm,
                modulus_mpa=stiffness.high,
                other_mpa=part_modulus_mpa,
            ),
            _LINE_YIELDS * limit.low,
        )
    else:
        bears = limit.low
        pressure = bearing_mpa(
            force_n=push_n, diameter_mm=rest.pad_mm, thickness_mm=body.touched_mm
        )
    found.append(
        Strength(
            place=f"contact {rest.name}: surface", stress_mpa=pressure, factor=bears / pressure
        )
    )
    return tuple(found)


def _span_mm(body: Body, rest: Rest) -> float:
    """Return the span of the beam that a wall is taken as, mm.

    Between its bolts where it has them on both sides. A wall that reaches out over its last bolt
    by c is bent by F c, like a beam of 4 c in its middle, and gives no more than that.
    """
    box, n = body.region.bounds(), rest.normal
    whole = abs(n.y) * box.width + abs(n.x) * box.height
    near, far = sorted(body.bolted_mm(rest))
    if math.isinf(near):
        return whole
    span = 4 * near if math.isinf(far) else near + far
    return min(max(span, rest.pad_mm), whole)


def wall_behind_mm(region: Region, at: Point, normal: Vector) -> float:
    """Return how much plate stands behind a contact, mm; 0 when there is none.

    Args:
        region: the plate.
        at: a point on, or a hair in front of, its edge.
        normal: unit, out of the plate.
    """
    box = region.bounds()
    reach = math.hypot(box.width, box.height)
    # The contact may stand a clearance off the wall: the first material met counts.
    steps = sorted(
        t
        for loop in region.loops()
        for edge in loop.edges()
        for t in _crossings(edge, at, normal, reach)
    )
    inside = [
        (a, b)
        for a, b in itertools.pairwise(steps)
        if b - a > 1e-6
        and region.contains(at.x - normal.x * (a + b) / 2, at.y - normal.y * (a + b) / 2)
    ]
    return inside[0][1] - inside[0][0] if inside else 0.0


def _crossings(edge: Edge, at: Point, normal: Vector, reach_mm: float) -> list[float]:
    """Return how far behind a point the ray against a normal meets an edge, mm."""
    start, end = edge.start, edge.end
    dx, dy = -normal.x, -normal.y
    if edge.is_line:
        ex, ey = end.x - start.x, end.y - start.y
        cross = dx * ey - dy * ex
        if cross == 0.0:
            return []
        wx, wy = start.x - at.x, start.y - at.y
        t, s = (wx * ey - wy * ex) / cross, (wx * dy - wy * dx) / cross
        return [t] if -1e-3 <= t <= reach_mm and -1e-9 <= s <= 1 + 1e-9 else []
    c, r = edge.centre, edge.radius_mm
    wx, wy = at.x - c.x, at.y - c.y
    half, rest = wx * dx + wy * dy, wx * wx + wy * wy - r * r
    root = half * half - rest
    if root < 0:
        return []
    return [
        t
        for t in (-half - math.sqrt(root), -half + math.sqrt(root))
        if -1e-3 <= t <= reach_mm and edge.covers_angle(math.atan2(wy + t * dy, wx + t * dx))
    ]


def check_strength(found: Sequence[Strength], *, subject: str) -> list[Finding]:
    """Return a finding for each place that is weak, and for the one that gives most."""
    findings = []
    for item in found:
        if item.factor < LEAST_FACTOR and not item.is_told:
            findings.append(
                Finding(
                    code="guide-weak",
                    severity=Severity.FAIL if item.factor < 1.0 else Severity.WARN,
                    subject=f"{subject}: {item.place}",
                    message=(
                        f"the sheet bears {item.factor:.1f} times the stress of "
                        f"{item.stress_mpa:.0f} MPa there; at least {LEAST_FACTOR:.0f} is asked"
                    ),
                    measured=item.factor,
                    limit=LEAST_FACTOR,
                    hint="widen the wall or the pad, push less, or round the corner",
                )
            )
    worst = max(found, key=lambda item: item.moves_mm, default=None)
    if worst is not None and worst.moves_mm > LEAST_STIFF_MM:
        findings.append(
            Finding(
                code="guide-gives",
                severity=Severity.NOTE,
                subject=f"{subject}: {worst.place}",
                message=(
                    f"the wall gives {worst.moves_mm:.3f} mm under the push where nothing but its "
                    "ends carries it"
                ),
                measured=worst.moves_mm,
                limit=LEAST_STIFF_MM,
                unit="mm",
                hint="clamp or tape the guide to the bed near its contacts",
            )
        )
    return findings
