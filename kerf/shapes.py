"""Parametric outlines: the shapes a machinist names instead of drawing.

Every shape is a ``Region`` with its arcs exact, lower left of its box at (0, 0) unless the
function says otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from kerf.contour import Contour, Point, Region, Transform, Vertex
from kerf.errors import GeometryError


def _positive(**lengths_mm: float) -> None:
    for name, value in lengths_mm.items():
        if not (math.isfinite(value) and value > 0):
            raise GeometryError(f"{name.removesuffix('_mm')} must be above 0 mm, not {value:.6g}")


def rectangle(*, width_mm: float, height_mm: float) -> Region:
    """Return a rectangle with sharp corners."""
    _positive(width_mm=width_mm, height_mm=height_mm)
    return Region(outer=Contour.rectangle(0.0, 0.0, width_mm, height_mm))


def rounded_rectangle(*, width_mm: float, height_mm: float, radius_mm: float) -> Region:
    """Return a rectangle with all corners rounded.

    Raises:
        GeometryError: the radius is more than half of a side.
    """
    _positive(width_mm=width_mm, height_mm=height_mm, radius_mm=radius_mm)
    corners = ((0.0, 0.0), (width_mm, 0.0), (width_mm, height_mm), (0.0, height_mm))
    return filleted([Point(*c) for c in corners], [radius_mm] * 4)


def circle(*, diameter_mm: float) -> Region:
    """Return a disc with its centre at (0, 0)."""
    _positive(diameter_mm=diameter_mm)
    return Region(outer=Contour.circle(0.0, 0.0, diameter_mm / 2))


def regular_polygon(*, sides: int, across_flats_mm: float, radius_mm: float = 0.0) -> Region:
    """Return a regular polygon about (0, 0), one flat at the bottom.

    Args:
        sides: 3 or more.
        across_flats_mm: diameter of the circle its flats touch.
        radius_mm: corner radius, 0 for sharp.
    """
    _positive(across_flats_mm=across_flats_mm)
    if sides < 3:
        raise GeometryError(f"a polygon needs 3 sides or more, not {sides}")
    reach = across_flats_mm / 2 / math.cos(math.pi / sides)
    turn = -math.pi / 2 - math.pi / sides
    points = [
        Point(
            reach * math.cos(turn + 2 * math.pi * i / sides),
            reach * math.sin(turn + 2 * math.pi * i / sides),
        )
        for i in range(sides)
    ]
    return filleted(points, [radius_mm] * sides)


def slot(*, length_mm: float, width_mm: float) -> Region:
    """Return a slot (stadium) lying along x; length is overall.

    Raises:
        GeometryError: it is no longer than wide.
    """
    _positive(length_mm=length_mm, width_mm=width_mm)
    if not length_mm > width_mm:
        raise GeometryError(
            f"a slot must be longer than wide: length {length_mm:.6g}, width {width_mm:.6g} mm",
            hint="use a circle, or swap length and width",
        )
    r = width_mm / 2
    return Region(
        outer=Contour(
            vertices=(
                Vertex(r, 0.0),
                Vertex(length_mm - r, 0.0, 1.0),
                Vertex(length_mm - r, width_mm),
                Vertex(r, width_mm, 1.0),
            )
        )
    )


def ell(*, width_mm: float, height_mm: float, leg_mm: float, radius_mm: float = 0.0) -> Region:
    """Return an L with both legs ``leg_mm`` wide; every corner of the given radius."""
    _positive(width_mm=width_mm, height_mm=height_mm, leg_mm=leg_mm)
    if leg_mm >= min(width_mm, height_mm):
        raise GeometryError("the legs of an L must be narrower than its sides")
    w, h, t = width_mm, height_mm, leg_mm
    corners = ((0.0, 0.0), (w, 0.0), (w, t), (t, t), (t, h), (0.0, h))
    return filleted([Point(*c) for c in corners], [radius_mm] * 6)


def tee(*, width_mm: float, height_mm: float, leg_mm: float, radius_mm: float = 0.0) -> Region:
    """Return a T: bar on top, stem in the middle, both ``leg_mm`` wide."""
    _positive(width_mm=width_mm, height_mm=height_mm, leg_mm=leg_mm)
    if leg_mm >= min(width_mm, height_mm):
        raise GeometryError("the bar and stem of a T must be narrower than its sides")
    w, h, t = width_mm, height_mm, leg_mm
    a, b = (w - t) / 2, (w + t) / 2
    corners = (
        (a, 0.0), (b, 0.0), (b, h - t), (w, h - t), (w, h), (0.0, h), (0.0, h - t), (a, h - t),
    )  # fmt: skip
    return filleted([Point(*c) for c in corners], [radius_mm] * 8)


def dee(*, diameter_mm: float, flat_mm: float) -> Region:
    """Return a D: a disc about (0, 0) with one flat on the right.

    Args:
        flat_mm: distance from the centre to the flat, mm, less than the radius.
    """
    _positive(diameter_mm=diameter_mm)
    r = diameter_mm / 2
    if not -r < flat_mm < r:
        raise GeometryError(f"the flat must lie within the radius of {r:.6g} mm")
    half = math.sqrt(r * r - flat_mm * flat_mm)
    sweep = 2 * math.pi - 2 * math.acos(flat_mm / r)
    middle = Vertex(-r, 0.0, math.tan(sweep / 8))
    return Region(
        outer=Contour(
            vertices=(
                Vertex(flat_mm, -half, 0.0),
                Vertex(flat_mm, half, math.tan(sweep / 8)),
                middle,
            )
        )
    )


def kidney(*, pitch_radius_mm: float, width_mm: float, sweep_rad: float) -> Region:
    """Return a curved slot about (0, 0), symmetric about the +x axis.

    Args:
        pitch_radius_mm: radius of its centre line.
        width_mm: its width, less than twice the pitch radius.
        sweep_rad: angle between its end centres, 0 … 2π so that the ends do not meet.
    """
    _positive(pitch_radius_mm=pitch_radius_mm, width_mm=width_mm)
    r = width_mm / 2
    if r >= pitch_radius_mm:
        raise GeometryError("a kidney must be narrower than twice its pitch radius")
    gap = 2 * pitch_radius_mm * math.sin((2 * math.pi - sweep_rad) / 2)
    if not 0 < sweep_rad < 2 * math.pi or (sweep_rad > math.pi and gap <= width_mm):
        raise GeometryError("the ends of the kidney meet: make its sweep smaller")
    a = sweep_rad / 2
    outer, inner = pitch_radius_mm + r, pitch_radius_mm - r
    # Two arcs a side, so that a sweep over half a turn keeps a bulge of good size.
    b = math.tan(a / 4)
    cos, sin = math.cos(a), math.sin(a)
    return Region(
        outer=Contour(
            vertices=(
                Vertex(outer * cos, -outer * sin, b),
                Vertex(outer, 0.0, b),
                Vertex(outer * cos, outer * sin, 1.0),
                Vertex(inner * cos, inner * sin, -b),
                Vertex(inner, 0.0, -b),
                Vertex(inner * cos, -inner * sin, 1.0),
            )
        )
    )


def flange(
    *,
    diameter_mm: float,
    bore_mm: float,
    bolt_circle_mm: float,
    bolts: int,
    bolt_hole_mm: float,
) -> Region:
    """Return a round flange about (0, 0) with a bore (0 for none) and a bolt circle.

    Raises:
        GeometryError: holes meet each other, the bore or the rim.
    """
    _positive(diameter_mm=diameter_mm, bolt_circle_mm=bolt_circle_mm, bolt_hole_mm=bolt_hole_mm)
    r, hole = bolt_circle_mm / 2, bolt_hole_mm / 2
    if bolts < 1:
        raise GeometryError(f"a bolt circle needs 1 bolt or more, not {bolts}")
    if r + hole >= diameter_mm / 2 or r - hole <= bore_mm / 2:
        raise GeometryError("the bolt holes break out of the flange: check the bolt circle")
    if bolts > 1 and 2 * r * math.sin(math.pi / bolts) <= 2 * hole:
        raise GeometryError("the bolt holes meet each other: fewer, or smaller")
    holes = [
        Contour.circle(
            r * math.cos(2 * math.pi * i / bolts), r * math.sin(2 * math.pi * i / bolts), hole
        )
        for i in range(bolts)
    ]
    if bore_mm > 0:
        holes.insert(0, Contour.circle(0.0, 0.0, bore_mm / 2))
    return Region(outer=Contour.circle(0.0, 0.0, diameter_mm / 2), holes=tuple(holes))


def filleted(points: Sequence[Point], radii_mm: Sequence[float]) -> Region:
    """Return the polygon through ``points`` with each corner rounded to its radius.

    A fillet of radius r in a corner that turns by a uses r·tan(a/2) of each side.

    Args:
        points: three or more, in order round the outline, mm.
        radii_mm: one for each point, 0 for a sharp corner.
    Raises:
        GeometryError: too few points, a doubled point, a spike, a negative radius, fillets
            that need more than a side, or an outline that crosses itself.
    """
    n = len(points)
    if n < 3:
        raise GeometryError(f"an outline needs 3 points or more, not {n}")
    if len(radii_mm) != n:
        raise GeometryError("give one radius for each point")
    for i in range(n):
        if points[i] == points[(i + 1) % n]:
            raise GeometryError(f"points {i} and {(i + 1) % n} are the same")
    if Contour.of(points).signed_area_mm2 < 0:
        points, radii_mm = list(points)[::-1], list(radii_mm)[::-1]
    used = [0.0] * n
    turns = [0.0] * n
    for i, r in enumerate(radii_mm):
        if r < 0 or not math.isfinite(r):
            raise GeometryError(f"the radius of point {i} must be 0 mm or more, not {r:.6g}")
        a, b, c = points[i - 1], points[i], points[(i + 1) % n]
        turn = math.atan2(c.y - b.y, c.x - b.x) - math.atan2(b.y - a.y, b.x - a.x)
        turns[i] = math.remainder(turn, 2 * math.pi)
        if abs(abs(turns[i]) - math.pi) < 1e-9:
            raise GeometryError(f"point {i} is the tip of a spike with no width")
        used[i] = r * abs(math.tan(turns[i] / 2))
    vertices: list[Vertex] = []
    for i in range(n):
        b, c = points[i], points[(i + 1) % n]
        side = math.dist(b, c)
        spare = side - used[i] - used[(i + 1) % n]
        if spare < -1e-9 * side:
            raise GeometryError(
                f"the radii of points {i} and {(i + 1) % n} need {side - spare:.4g} mm "
                f"of a side of {side:.4g} mm",
                hint="make the radii smaller",
            )
    for i, r in enumerate(radii_mm):
        a, b, c = points[i - 1], points[i], points[(i + 1) % n]
        if r == 0 or turns[i] == 0:
            vertices.append(Vertex(b.x, b.y))
            continue
        before, after = math.dist(a, b), math.dist(b, c)
        start = Vertex(
            b.x + (a.x - b.x) * used[i] / before,
            b.y + (a.y - b.y) * used[i] / before,
            math.tan(turns[i] / 4),
        )
        end = Vertex(b.x + (c.x - b.x) * used[i] / after, b.y + (c.y - b.y) * used[i] / after)
        vertices += [start, end]
    # Fillets that use a whole side leave two vertices on one spot: keep the later one.
    kept = [
        v
        for v, w in zip(vertices, vertices[1:] + vertices[:1], strict=True)
        if math.hypot(v.x - w.x, v.y - w.y) > 1e-9
    ]
    contour = Contour(vertices=tuple(kept))
    check_simple(contour)
    return Region(outer=contour)


def check_simple(contour: Contour) -> None:
    """Refuse a loop that crosses itself, naming the place.

    Raises:
        GeometryError: it crosses or touches itself.
    """
    import shapely
    from shapely.validation import explain_validity

    polygon = shapely.Polygon(contour.facets())
    if not polygon.is_valid:
        raise GeometryError(
            f"the outline crosses itself ({explain_validity(polygon)})",
            hint="put the points in order round the outline",
        )


def centred(region: Region) -> Region:
    """Return the region moved so that its box is centred on (0, 0)."""
    centre = region.bounds().centre
    return region.transformed(Transform.translation(-centre.x, -centre.y))
