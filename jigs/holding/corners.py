"""Where a plate would crack: every inside corner, under the push of every contact.

A sharp inside corner left by the beam has half a kerf for a radius; a drawn fillet has its own.
At each of them the wall behind is cut, in thought, along the push: what is cut is a section of
that depth, bent by the moment that reaches it.

- Where the section parts the plate in two (the arm of a corner guide, the wall of a standing
  one, a rail's end), the smaller piece is a cantilever: moment = push × distance along the wall.
  Where the larger piece is pushed, what holds the plate is taken to be spread over all of it:
  the smaller holds back its share of the push, at its own middle.
- Where it does not (a pocket all round), the wall is a beam between the pocket's other walls.
  It is neither free nor built in at its ends, so the larger of both moments is taken at every
  place: simply carried F b x / L, and built in, which is worst at the ends, F a b² / L².
- A plate that is bolted to the table is such a beam between the bolts on either side of the
  push; beyond its last bolt it is a cantilever from there.

The push also shears the section; F / (t d) is added to the bending, on the safe side. Bending is
raised by the concentration of the corner. In an angle of two legs it grows as radius to the
power −0.4555, as at a right angle in any elastic body; its size was found by finite elements,
and taken 1 to 6 % high. It is half as much again as that of a bar between two shoulders, which
handbooks tabulate. A shallow step (the foot of a pad) cannot raise the stress further than a
notch of its depth does.

Source: built-in beam, *Roark's Formulas for Stress and Strain*, table 8.1; power at a right
angle, Williams 1952; its size, scikit-fem (``tests/against/test_corner_strength.py``); notch,
Inglis 1913.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from shapely import LineString
from shapely.geometry import Polygon
from shapely.ops import split

from jigs.finding import Finding, Severity
from jigs.holding.strength import LEAST_FACTOR, Body, Rest, notch_factor, wall_behind_mm
from kerf.contour import Contour, Edge, Point, Region, Vector
from kerf.proof import faceted
from kerf.tolerance import COINCIDENT_MM, ROUGH_FACET_MM

#: A loop that turns into the plate by less than this, rad, is no corner: 20°.
_CORNER_RAD: Final = math.radians(20.0)
#: Concentration of an angle: 0.99 (depth / radius) ^ 0.4555.
_ANGLE: Final = 0.99
_WILLIAMS: Final = 0.4555
#: Corners further in front of a wall than this belong to another wall, mm: a pad and a relief.
_FRONT_MM: Final = 4.0
#: The void of a corner faces the push within this.
_FACES: Final = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class InsideCorner:
    """A place where the outline turns into the plate.

    Args:
        at: its deepest point, sheet coordinates, mm.
        void: unit, out of the plate, halfway between its two sides.
        radius_mm: of its fillet, mm; 0 where it is drawn sharp.
        rise_mm: of the step whose foot it is, mm: the shorter of its two sides.
    """

    at: Point
    void: Vector
    radius_mm: float
    rise_mm: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Crack:
    """An inside corner under the push of one contact.

    Args:
        corner: where.
        contact: whose push is worst there.
        radius_mm: of the corner as cut, mm.
        depth_mm: of the wall there, along the push, mm.
        stress_mpa: at the corner, concentration and all, MPa.
        factor: the sheet's strength over it.
        asks_mm: radius that brings the factor to what is asked, mm; 0 where it is reached,
            None where no radius does.
    """

    corner: InsideCorner
    contact: str
    radius_mm: float
    depth_mm: float
    stress_mpa: float
    factor: float
    asks_mm: float | None


def fillet_factor(*, radius_mm: float, depth_mm: float, rise_mm: float = math.inf) -> float:
    """Return how much an inside corner raises the bending stress of a wall.

    Args:
        radius_mm: of the corner, mm, > 0.
        depth_mm: of the wall, mm, > 0.
        rise_mm: of the step whose foot the corner is, mm.

    >>> round(fillet_factor(radius_mm=1.0, depth_mm=10.0), 2)
    2.83
    """
    angle = max(float(_ANGLE * (depth_mm / radius_mm) ** _WILLIAMS), 1.0)
    if math.isinf(rise_mm):
        return angle
    return min(angle, notch_factor(depth_mm=rise_mm, radius_mm=radius_mm))


def inside_corners(region: Region) -> tuple[InsideCorner, ...]:
    """Return every place where the outline of a plate turns into it, sharp or rounded."""
    return tuple(corner for loop in region.loops() for corner in _of_loop(loop))


def _of_loop(loop: Contour) -> list[InsideCorner]:
    """Return the inside corners of one loop; material lies left of travel."""
    edges = [edge for edge in loop.edges() if math.dist(edge.start, edge.end) > COINCIDENT_MM]
    found = []
    for before, edge in zip([edges[-1], *edges[:-1]], edges, strict=True):
        into, out = _heading(before, 1.0), _heading(edge, 0.0)
        turn = math.remainder(out - into, math.tau)
        if turn < -_CORNER_RAD:
            # To the right of travel, halfway between both headings, lies the void.
            middle = into + turn / 2 - math.pi / 2
            void = Vector(math.cos(middle), math.sin(middle))
            rise = (
                min(math.dist(side.start, side.end) for side in (before, edge) if side.is_line)
                if before.is_line or edge.is_line
                else math.inf
            )
            found.append(InsideCorner(at=edge.start, void=void, radius_mm=0.0, rise_mm=rise))
        if edge.is_line or edge.bulge > 0:
            continue
        sweep = 4 * math.atan(abs(edge.bulge))
        if sweep > _CORNER_RAD:
            middle = out - sweep / 2 - math.pi / 2
            void = Vector(math.cos(middle), math.sin(middle))
            c, r = edge.centre, edge.radius_mm
            at = Point(c.x - r * void.x, c.y - r * void.y)
            found.append(InsideCorner(at=at, void=void, radius_mm=r))
    return found


def _heading(edge: Edge, share: float) -> float:
    """Return the direction of travel at the start (0) or the end (1) of an edge, rad."""
    chord = math.atan2(edge.end.y - edge.start.y, edge.end.x - edge.start.x)
    half = 2 * math.atan(edge.bulge)
    return chord + (half if share else -half)


def cracks(body: Body, rests: tuple[Rest, ...], *, push_n: float) -> tuple[Crack, ...]:
    """Return every inside corner that a push bends, the worst push for each, weakest first.

    Args:
        body: the plate; its material's strength is known.
        rests: the contacts on it.
        push_n: force of the part on each contact in turn, N, > 0.
    """
    limit = body.material.strength_mpa
    assert limit is not None
    figure = faceted(body.region, ROUGH_FACET_MM)
    worst: dict[InsideCorner, Crack] = {}
    for corner in inside_corners(body.region):
        radius = max(corner.radius_mm, body.corner_mm)
        for rest in rests:
            loaded = _section(body, figure, corner, rest)
            if loaded is None:
                continue
            depth, arm = loaded
            plain = 6 * push_n * arm / (body.thickness_mm * depth**2)
            shear = push_n / (body.thickness_mm * depth)
            raised = fillet_factor(radius_mm=radius, depth_mm=depth, rise_mm=corner.rise_mm)
            stress = plain * raised + shear
            if corner in worst and worst[corner].stress_mpa >= stress:
                continue
            worst[corner] = Crack(
                corner=corner,
                contact=rest.name,
                radius_mm=radius,
                depth_mm=depth,
                stress_mpa=stress,
                factor=limit.low / stress,
                asks_mm=_asked_mm(plain, shear, limit.low / LEAST_FACTOR, radius, depth)
                if limit.low / stress < LEAST_FACTOR
                else 0.0,
            )
    return tuple(sorted(worst.values(), key=lambda crack: crack.factor))


def _section(
    body: Body, figure: Polygon, corner: InsideCorner, rest: Rest
) -> tuple[float, float] | None:
    """Return depth of the wall at a corner and the arm of the push's moment there, mm.

    None where the push does not bend that corner.
    """
    region, n, at = body.region, rest.normal, corner.at
    ahead = (at.x - rest.at.x) * n.x + (at.y - rest.at.y) * n.y
    if ahead > _FRONT_MM or corner.void.x * n.x + corner.void.y * n.y < _FACES:
        return None
    hair = Point(at.x + 1e-4 * corner.void.x, at.y + 1e-4 * corner.void.y)
    depth = wall_behind_mm(region, hair, n)
    if depth <= COINCIDENT_MM:
        return None
    along = Vector(-n.y, n.x)
    offset = (at.x - rest.at.x) * along.x + (at.y - rest.at.y) * along.y
    left, right = body.bolted_mm(rest)
    if min(left, right) < math.inf:
        if not -left <= offset <= right:
            return None
        if max(left, right) == math.inf:  # nothing bends what reaches out past the push
            return (depth, abs(offset)) if (offset < 0) == (right == math.inf) else None
        near, other = (right, left) if offset >= 0 else (left, right)
        return depth, _beam_arm_mm(near, other, near - abs(offset))
    past = 0.05  # the cut begins in the void and ends past the far side
    line = LineString(
        [
            (at.x + past * corner.void.x, at.y + past * corner.void.y),
            at,
            (at.x - (depth + past) * n.x, at.y - (depth + past) * n.y),
        ]
    )
    pieces = [piece for piece in split(figure, line).geoms if piece.area > COINCIDENT_MM]
    if len(pieces) > 1:
        probe = LineString(
            [(rest.at.x + n.x, rest.at.y + n.y), (rest.at.x - 5 * n.x, rest.at.y - 5 * n.y)]
        )
        pushed = max(pieces, key=lambda piece: piece.intersection(probe).length)
        other_piece = max((p for p in pieces if p is not pushed), key=lambda p: p.area)
        if pushed.area <= other_piece.area:
            return depth, abs(offset)
        share = other_piece.area / (pushed.area + other_piece.area)
        centre = other_piece.centroid
        lever = (centre.x - at.x) * along.x + (centre.y - at.y) * along.y
        return depth, share * abs(lever)
    left, right = (_free_mm(region, rest, along, sign) for sign in (-1.0, 1.0))
    if not -left - _FRONT_MM <= offset <= right + _FRONT_MM:
        return None
    offset = min(max(offset, -left), right)
    near, other = (right, left) if offset >= 0 else (left, right)
    return depth, _beam_arm_mm(near, other, near - abs(offset))


def _beam_arm_mm(near: float, other: float, x: float) -> float:
    """Return moment over push at x from the nearer end of a wall, simply carried or built in.

    Args:
        near, other: from the push to the end on the corner's side and to the other end, mm.
        x: of the corner from its end, mm, up to ``near``.
    """
    span = near + other
    carried = other * x / span
    reaction = other**2 * (3 * near + other) / span**3
    built_in = reaction * x - near * other**2 / span**2
    return max(carried, abs(built_in))


def _free_mm(region: Region, rest: Rest, along: Vector, sign: float) -> float:
    """Return how far the wall runs to one side of a contact, mm: to the next wall, or its end."""
    box, n = region.bounds(), rest.normal
    reach = math.hypot(box.width, box.height)
    x, y = rest.at.x + _FRONT_MM * n.x, rest.at.y + _FRONT_MM * n.y
    figure = faceted(region, ROUGH_FACET_MM)
    ray = LineString([(x, y), (x + sign * along.x * reach, y + sign * along.y * reach)])
    met = ray.intersection(figure)
    if not met.is_empty:
        return max(float(met.distance(ray.interpolate(0.0))), 1.0)
    corners = [(px - rest.at.x) * along.x + (py - rest.at.y) * along.y for px, py in _box(region)]
    return max(*(sign * c for c in corners), 1.0)


def _box(region: Region) -> list[tuple[float, float]]:
    """Return the corners of a region's box."""
    b = region.bounds()
    return [(b.x_min, b.y_min), (b.x_max, b.y_min), (b.x_max, b.y_max), (b.x_min, b.y_max)]


def _asked_mm(
    plain: float, shear: float, allowed: float, radius: float, depth: float
) -> float | None:
    """Return the radius at which the stress is allowed, mm; None where none is."""
    low, high = radius, depth
    if plain * fillet_factor(radius_mm=high, depth_mm=depth) + shear > allowed:
        return None
    for _ in range(40):
        middle = math.sqrt(low * high)
        over = plain * fillet_factor(radius_mm=middle, depth_mm=depth) + shear > allowed
        low, high = (middle, high) if over else (low, middle)
    return high


def check_cracks(found: tuple[Crack, ...], *, push_n: float, subject: str) -> list[Finding]:
    """Return one finding for the weakest inside corner of a plate, when it is too weak."""
    weak = [crack for crack in found if crack.factor < LEAST_FACTOR]
    if not weak:
        return []
    crack = weak[0]
    others = len(weak) - 1
    more = f"; {others} more corner{'s' if others > 1 else ''} of it under that" if others else ""
    if crack.asks_mm is None:
        hint = "widen the wall there or push less: no radius is enough"
    else:
        hint = (
            f"round that corner to {math.ceil(crack.asks_mm * 10) / 10:.1f} mm or more, widen the "
            "wall, or push less; wipe acrylic with nothing but soap and water"
        )
    return [
        Finding(
            code="corner-cracks",
            severity=Severity.FAIL if crack.factor < 1.0 else Severity.WARN,
            subject=subject,
            message=(
                f"a push of {push_n:.0f} N at contact {crack.contact} may start a crack in the "
                f"inside corner at ({crack.corner.at.x:.1f}, {crack.corner.at.y:.1f}) mm of the "
                f"cut file: its radius is {crack.radius_mm:.2f} mm in a wall {crack.depth_mm:.1f} "
                f"mm deep, and the sheet bears {crack.factor:.1f} times the {crack.stress_mpa:.0f} "
                f"MPa there; at least {LEAST_FACTOR:.0f} is asked{more}"
            ),
            measured=crack.factor,
            limit=LEAST_FACTOR,
            hint=hint,
        )
    ]
